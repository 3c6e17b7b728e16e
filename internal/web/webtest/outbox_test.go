package webtest

import (
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// newCase opens a case and gives its ID.
func (b *bench) newCase() record.CaseID {
	b.t.Helper()
	id := record.NewCaseID(time.Now())
	b.write(id, record.Opened{Number: "31-07", Title: "The Windlass Monthly, no. 31"})
	return id
}

// notes are the texts written down in a case.
func (b *bench) notes(id record.CaseID) []string {
	b.t.Helper()
	c, err := b.store.Case(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	var list []string
	for _, n := range c.Notes {
		list = append(list, n.Body.Text)
	}
	return list
}

// writeDown writes an observation, without waiting for what comes of it.
func (p *tab) writeDown(text string) {
	p.t.Helper()
	if !eval[bool](p, `!!__find.field("Text")`) {
		p.touch("Write down")
	}
	p.choose("This was", "observed")
	p.fill("Text", text)
	p.touch("Write it down")
}

func same(t *testing.T, got []string, want ...string) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("written down is %q, want %q", got, want)
	}
	for i := range got {
		if got[i] != want[i] {
			t.Fatalf("written down is %q, want %q", got, want)
		}
	}
}

// TestTheBenchLosesItsNetwork logs while the server is away: nothing is lost,
// and all arrives once and in order.
func TestTheBenchLosesItsNetwork(t *testing.T) {
	b := newBench(t)
	id := b.newCase()
	p := b.open(tablet, "/")
	p.initially("delete Navigator.prototype.serviceWorker") // as at an address without a trusted certificate
	p.goTo("/cases/" + string(id) + "/examination")
	p.allow("ERR_CONNECTION_REFUSED|ERR_CONNECTION_RESET|ERR_EMPTY_RESPONSE|ERR_INCOMPLETE")
	p.as("KM")

	b.stop()
	p.writeDown("A tide line over the tail of sheets 1 to 6.")
	p.see("1 waiting to be sent")
	p.see("A tide line over the tail")
	p.see("this address has no trusted certificate")
	p.writeDown("Foxing on the inside of the cover.")
	p.see("2 waiting to be sent")
	p.axe()
	p.screen("outbox-waiting")

	// A link would lead to the browser's error page: the bench stays.
	p.touch("Make-up")
	p.see("this page stays, so that you can go on logging")

	b.start()
	p.see("Sent: 2 entries that waited")
	same(t, b.notes(id), "A tide line over the tail of sheets 1 to 6.", "Foxing on the inside of the cover.")
	p.press("Show the page as it is now")
	p.see("Foxing on the inside of the cover.")

	// With the network, the form goes at once.
	p.writeDown("Tape on the centre spread.")
	p.see("Tape on the centre spread.")
	p.see("Undo")
	same(
		t,
		b.notes(id),
		"A tide line over the tail of sheets 1 to 6.",
		"Foxing on the inside of the cover.",
		"Tape on the centre spread.",
	)
}

// TestTheAnswerIsLost lets the server write and its answer go astray: what is
// sent again is not written again.
func TestTheAnswerIsLost(t *testing.T) {
	var lose atomic.Bool
	b := newBenchWith(t, func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.Method == http.MethodPost && lose.Load() {
				next.ServeHTTP(httptest.NewRecorder(), r)
				panic(http.ErrAbortHandler)
			}
			next.ServeHTTP(w, r)
		})
	})
	id := b.newCase()
	p := b.open(tablet, "/cases/"+string(id)+"/examination")
	p.allow("ERR_EMPTY_RESPONSE|ERR_CONNECTION|ERR_INCOMPLETE")
	p.as("KM")
	lose.Store(true)
	p.writeDown("Heard once.") // a browser may send again by itself, too
	p.see("1 waiting to be sent")
	same(t, b.notes(id), "Heard once.")
	lose.Store(false)
	p.see("Sent: 1 entry that waited")
	same(t, b.notes(id), "Heard once.")

	// The same again, and the server restarts before it is sent again.
	p.press("Show the page as it is now")
	lose.Store(true)
	p.writeDown("Heard once more.")
	p.see("1 waiting to be sent")
	same(t, b.notes(id), "Heard once.", "Heard once more.")
	b.stop()
	lose.Store(false)
	b.start()
	p.see("Sent: 1 entry that waited")
	same(t, b.notes(id), "Heard once.", "Heard once more.")
}

// TestWhatTheOutboxCannotSend shows a person what the server refused, and lets
// it be mended.
func TestWhatTheOutboxCannotSend(t *testing.T) {
	b := newBench(t)
	id := b.newCase()
	p := b.open(phone, "/cases/"+string(id)+"/examination")
	p.allow("ERR_CONNECTION|ERR_INCOMPLETE|status of 4")
	p.as("KM")
	b.stop()
	p.writeDown("")
	p.see("1 waiting to be sent")
	b.start()
	p.see("1 not taken")
	p.see("Please enter")
	p.axe()
	p.press("Look at it")
	p.see("Not saved yet")
	p.fill("Text", "Mended.")
	p.press("Write it down")
	p.see("Mended.")
	same(t, b.notes(id), "Mended.")
	p.until("nothing waits any more", `!document.querySelector(".outbox")`)
}
