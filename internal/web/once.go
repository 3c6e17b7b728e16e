package web

import (
	"crypto/sha256"
	"strconv"
	"strings"
	"sync"

	"benchleaf/internal/record"
)

// A form can arrive twice: by a double tap, by a browser that sends again, by
// the outbox of a tablet that lost the network before it heard the answer. It
// must be acted on once. Two things see to it.
//
// While the server runs it remembers the keys of the last forms and what came
// of them; the second arrival waits for the first and gets the same answer.
//
// Across a restart the journal itself tells. All that a form brings into the
// record follows from what it holds: the identifiers of new things come from
// its key (Form.ID), times from its fields or from the moment of the press. So
// a form sent again makes bodies that equal, byte for byte, those of entries
// that the same person wrote after the last one that the page knew; see
// Server.written. Nothing has to be stored for it.

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

// do acts on the form with this key unless it was accepted before. act returns
// nil when the form was refused.
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

// has says whether the form with this key was accepted.
func (o *once) has(key string) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	t := o.tries[key]
	return t != nil && t.answer != nil
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

// written says whether these drafts are in their journals already, written by
// the same person after what the drafts knew of. last is the last of their
// entries in the first draft's journal.
func written(logOf func(record.CaseID) ([]record.Line, error), drafts []record.Draft) (first, last int64, err error) {
	for i, d := range drafts {
		log, err := logOf(d.Case)
		if err != nil {
			return 0, 0, err
		}
		from := find(log, d)
		if from == 0 {
			return 0, 0, nil
		}
		if i == 0 {
			first, last = from, from+int64(len(d.Items))-1
		}
	}
	return first, last, nil
}

// find gives the seq of the entry at which the draft's items stand, one after
// the other, or 0.
func find(log []record.Line, d record.Draft) int64 {
	if len(d.Items) == 0 {
		return 0
	}
	for at := max(d.Expect, 0); at+int64(len(d.Items)) <= int64(len(log)); at++ {
		if stands(log[at:], d) {
			return log[at].Seq
		}
	}
	return 0
}

func stands(log []record.Line, d record.Draft) bool {
	for i, it := range d.Items {
		l := log[i]
		kind, version, body, err := record.Encode(it.Body)
		if err != nil || l.Kind != kind || l.Version != version || l.By != d.By || l.Corrects != it.Corrects ||
			string(l.Body) != string(body) {
			return false
		}
	}
	return true
}
