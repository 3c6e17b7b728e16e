package record

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"strings"
	"time"
)

// CaseID names one journal: a case, or the studio's own journal (StudioID).
// It is 16 lower-case letters and digits of Crockford's base 32: 48 bits of
// the creation time in milliseconds, then 32 random bits, so that IDs made
// later sort later.
type CaseID string

// StudioID is the journal of what belongs to no single case: bottles, waters,
// glassware, instruments, people, the studio's own methods.
const StudioID CaseID = "studio"

const (
	idAlphabet = "0123456789abcdefghjkmnpqrstvwxyz"
	idLen      = 16
)

// NewCaseID makes an ID for a case opened at t.
func NewCaseID(t time.Time) CaseID { return CaseID(newID(t)) }

// NewID makes an identifier of the same form for a thing inside a journal: a
// run, a bath, a bottle, a finding, a photograph's mention.
func NewID(t time.Time) string { return newID(t) }

func newID(t time.Time) string {
	var raw [10]byte
	ms := uint64(t.UnixMilli())
	for i := 5; i >= 0; i-- {
		raw[i] = byte(ms)
		ms >>= 8
	}
	rand.Read(raw[6:]) // documented never to return an error
	var out [idLen]byte
	var acc, bits uint
	n := 0
	for _, b := range raw {
		acc = acc<<8 | uint(b)
		bits += 8
		for bits >= 5 {
			bits -= 5
			out[n] = idAlphabet[acc>>bits&31]
			n++
		}
	}
	return string(out[:])
}

// ParseCaseID accepts exactly what NewCaseID makes, and StudioID.
func ParseCaseID(s string) (CaseID, error) {
	if s == string(StudioID) {
		return StudioID, nil
	}
	if !IsID(s) {
		return "", Invalidf(
			"case",
			"%q is not a case identifier: 16 lower-case letters and digits are expected",
			clip(s),
		)
	}
	return CaseID(s), nil
}

// IsID says whether s has the form that NewID makes.
func IsID(s string) bool {
	if len(s) != idLen {
		return false
	}
	for i := range len(s) {
		if strings.IndexByte(idAlphabet, s[i]) < 0 {
			return false
		}
	}
	return true
}

// Hash is a SHA-256 digest. The zero Hash stands before the first entry.
type Hash [sha256.Size]byte

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Short is the first eight hexadecimal digits, for a person to compare.
func (h Hash) Short() string { return h.String()[:8] }

// IsZero says whether h is the zero hash.
func (h Hash) IsZero() bool { return h == Hash{} }

// MarshalText writes the 64 hexadecimal digits.
func (h Hash) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// UnmarshalText accepts exactly 64 lower-case hexadecimal digits.
func (h *Hash) UnmarshalText(text []byte) error {
	p, err := ParseHash(string(text))
	if err == nil {
		*h = p
	}
	return err
}

// ParseHash accepts exactly 64 lower-case hexadecimal digits.
func ParseHash(s string) (Hash, error) {
	var h Hash
	if len(s) != 2*len(h) || strings.ToLower(s) != s {
		return h, fmt.Errorf("%q is not a SHA-256: 64 lower-case hexadecimal digits are expected", clip(s))
	}
	if _, err := hex.Decode(h[:], []byte(s)); err != nil {
		return Hash{}, fmt.Errorf("%q is not a SHA-256: 64 lower-case hexadecimal digits are expected", clip(s))
	}
	return h, nil
}

// Entry is one line of a journal. Entries are never changed or deleted: an
// entry with Corrects set replaces the effect, not the text, of the entry that
// it names, and both are shown.
type Entry struct {
	Case CaseID `json:"case"`
	// Seq counts 1, 2, 3 … within the case.
	Seq int64 `json:"seq"`
	// Time is when the entry was accepted, to the millisecond, in UTC. When
	// the thing itself happened is in the body.
	Time time.Time `json:"time"`
	// Zone is the writer's zone: an IANA name, or an offset such as "+01:00".
	Zone string `json:"zone"`
	// By holds the writer's initials.
	By string `json:"by"`
	// Kind and Version name the type of Body; see Register.
	Kind    Kind `json:"kind"`
	Version int  `json:"version"`
	// Corrects is the Seq of the entry that this one corrects, or 0.
	Corrects int64 `json:"corrects,omitempty"`
	// Key is that of the form that brought the entry, in the form of NewID: what
	// comes with the same key again is the same form. Empty where no form did, and
	// in entries of programs that kept none.
	Key string `json:"key,omitempty"`
	// Body is compact JSON, kept byte for byte.
	Body json.RawMessage `json:"body"`
	// Prev is the Hash of the entry before, zero for the first.
	Prev Hash `json:"prev"`
	Hash Hash `json:"hash"`
}

// Kind names the type of an entry's body.
type Kind string

// Sum computes the hash that an entry must carry: SHA-256 over each field,
// length first, so that no two different entries give the same input. The
// format is described in docs/journal.md.
func (e *Entry) Sum() Hash {
	h := sha256.New()
	label := "benchleaf entry 1"
	if e.Key != "" {
		label = "benchleaf entry 2"
	}
	field(h, []byte(label))
	field(h, []byte(e.Case))
	field(h, fmt.Append(nil, e.Seq))
	field(h, []byte(e.Time.UTC().Format(timeLayout)))
	field(h, []byte(e.Zone))
	field(h, []byte(e.By))
	field(h, []byte(e.Kind))
	field(h, fmt.Append(nil, e.Version))
	field(h, fmt.Append(nil, e.Corrects))
	if e.Key != "" {
		field(h, []byte(e.Key))
	}
	field(h, e.Body)
	field(h, e.Prev[:])
	var sum Hash
	h.Sum(sum[:0])
	return sum
}

const timeLayout = "2006-01-02T15:04:05.000Z"

func field(h hash.Hash, b []byte) {
	var n [8]byte
	l := len(b)
	for i := 7; i >= 0; i-- {
		n[i] = byte(l)
		l >>= 8
	}
	h.Write(n[:])
	h.Write(b)
}

// Seal sets Prev and Hash. The time is cut to the millisecond and the body
// compacted first, since both are part of what is hashed.
func (e *Entry) Seal(prev Hash) error {
	e.Time = e.Time.UTC().Truncate(time.Millisecond)
	var c bytes.Buffer
	if err := json.Compact(&c, e.Body); err != nil {
		return fmt.Errorf("entry %d of case %s: its body is not JSON: %w", e.Seq, e.Case, err)
	}
	e.Body = c.Bytes()
	e.Prev = prev
	e.Hash = e.Sum()
	return nil
}

// Break says where a journal is not whole: the first entry that is wrong, and how.
type Break struct {
	Case CaseID
	Seq  int64  // of the entry, or of the place where it is missing
	Say  string // about the entry, as in "was changed after it was written"
	Lost bool   // what is there is whole, and its end is gone
}

// Error names the journal and the entry.
func (d *Break) Error() string {
	of := "case " + string(d.Case)
	if d.Case == StudioID {
		of = "the studio's journal"
	}
	return fmt.Sprintf("%s: entry %d %s", of, d.Seq, d.Say)
}

// Refusal is why nothing is written to the journal and no paper made of it, and
// what to do.
func (d *Break) Refusal() error {
	if d.Lost {
		return Invalidf("", "The record has lost something (%s). What is left can be read here; nothing is written to it, "+
			"and no paper or export is made of it. Keep this data folder as it is. Put its own files back if they were "+
			"moved, or restore the last backup into a new folder, or import a copy of the case that has more. Where "+
			"nothing has it any more, make a backup of this folder and restore that: it names the loss, and goes on.",
			d.Error())
	}
	return Invalidf("", "The record is damaged (%s). It can be read here; nothing is written to it, and no paper or "+
		"export is made of it. Keep this data folder as it is, and restore the last backup into a new folder.", d.Error())
}

// CheckChain gives nil when entries are a whole journal of one case: seq from 1
// without gaps, each hash right, each Prev the hash before.
func CheckChain(entries []Entry) *Break {
	var prev Hash
	for i := range entries {
		e := &entries[i]
		d := &Break{Case: entries[0].Case, Seq: int64(i) + 1}
		switch {
		case e.Case != d.Case:
			d.Say = fmt.Sprintf("belongs to case %s", e.Case)
		case e.Seq != d.Seq:
			d.Say = fmt.Sprintf("is missing (entry %d stands in its place)", e.Seq)
		case e.Prev != prev:
			d.Say = "does not follow the entry before: the chain is broken"
		case e.Sum() != e.Hash:
			d.Say = fmt.Sprintf("(%s, %s) was changed after it was written: its hash does not match",
				e.Kind, e.Time.Format(time.DateTime))
		default:
			prev = e.Hash
			continue
		}
		return d
	}
	return nil
}

// Marshal writes v as compact JSON without HTML escapes, the form that bodies
// have in a journal.
func Marshal(v any) (json.RawMessage, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// Invalid is an expected refusal: what was wrong, at which field, and what
// would be right, in one sentence for the person who entered it.
type Invalid struct {
	// Field is the name of the form field or JSON member, empty when the
	// refusal concerns the whole.
	Field string
	Say   string
}

func (e *Invalid) Error() string { return e.Say }

// Invalidf makes an Invalid.
func Invalidf(field, format string, args ...any) error {
	return &Invalid{Field: field, Say: fmt.Sprintf(format, args...)}
}

// Refusals flattens err into the refusals it holds (errors.Join is followed).
// ok is false when anything in it is not a refusal.
func Refusals(err error) (list []*Invalid, ok bool) {
	if err == nil {
		return nil, true
	}
	if j, is := err.(interface{ Unwrap() []error }); is {
		for _, e := range j.Unwrap() {
			l, good := Refusals(e)
			if !good {
				return nil, false
			}
			list = append(list, l...)
		}
		return list, true
	}
	var inv *Invalid
	if errors.As(err, &inv) {
		return []*Invalid{inv}, true
	}
	return nil, false
}
