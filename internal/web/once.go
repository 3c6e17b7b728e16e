package web

import (
	"crypto/sha256"
	"maps"
	"strconv"
	"strings"
	"sync"
)

// A form can arrive twice: by a double tap, by a browser that sends again, by
// the outbox of a tablet that lost the network before it heard the answer. It
// must be acted on once. Two things see to it.
//
// The store writes what comes with a form's key once, and answers a repeat with
// the entries of then, also across a restart; the same key with other content it
// refuses. For a repeat to be the same, all that a form brings into the record
// follows from what it holds: the identifiers of new things come from its key
// (Form.ID), times from its fields or from the moment of the press.
//
// While the server runs it remembers besides what came of the last forms: the
// second arrival of one waits for the first and gets the same answer, also where
// the record has changed what a form would bring now.

// once remembers the answers to the last forms.
type once struct {
	mu    sync.Mutex
	tries map[string]*try
	order []string
}

// try is one form under way or answered.
type try struct {
	done   chan struct{}
	answer *answer // nil: it was refused, and may be sent again
}

// answer is what came of a form that was accepted.
type answer struct {
	to    string // where the browser goes on
	flash Flash
	first int64 // the first and last new entry
	last  int64
}

// remembered is how many forms are remembered: days of work.
const remembered = 4096

func newOnce() *once { return &once{tries: map[string]*try{}} }

// do acts on a form, named by what it holds (Form.sum), unless it was accepted
// before. act returns nil when the form was refused.
func (o *once) do(key string, act func() (*answer, error)) (*answer, error) {
	for {
		o.mu.Lock()
		t := o.tries[key]
		if t == nil {
			t = &try{done: make(chan struct{})}
			o.tries[key] = t
			o.mu.Unlock()
			return o.first(key, t, act)
		}
		o.mu.Unlock()
		<-t.done
		if t.answer != nil {
			return t.answer, nil
		}
	}
}

func (o *once) first(key string, t *try, act func() (*answer, error)) (a *answer, err error) {
	defer func() {
		o.mu.Lock()
		defer o.mu.Unlock()
		t.answer = a
		if a == nil {
			delete(o.tries, key) // also when act panicked
		} else {
			o.order = append(o.order, key)
			if len(o.order) > remembered {
				delete(o.tries, o.order[0])
				o.order = o.order[1:]
			}
		}
		close(t.done)
	}()
	return act()
}

// sum is the SHA-256 of all that the form holds but the moment of the press,
// which is another at each tap.
func (f *Form) sum() string {
	rest := maps.Clone(f.values)
	rest.Del("pressed")
	h := sha256.Sum256([]byte(f.Key + "\n" + rest.Encode()))
	return string(h[:])
}

// idAlphabet is that of record.IsID.
const idAlphabet = "0123456789abcdefghjkmnpqrstvwxyz"

// idFrom makes the nth identifier that follows from a form's key. The key's
// first nine characters are its time, which identifiers keep, so that those
// made later sort later; the rest is drawn from a hash.
func idFrom(key string, n int) string {
	sum := sha256.Sum256([]byte(key + "/" + strconv.Itoa(n)))
	var b strings.Builder
	b.WriteString(key[:9])
	for i := range 7 {
		b.WriteByte(idAlphabet[sum[i]&31])
	}
	return b.String()
}
