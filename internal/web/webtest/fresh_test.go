package webtest

import (
	"testing"

	"benchleaf/internal/record"
)

// TestTwoDevices shows on one what the other wrote.
func TestTwoDevices(t *testing.T) {
	b := newBench(t)
	id := b.newCase()
	p := b.open(tablet, "/cases/"+string(id)+"/examination")
	b.write(id, record.Note{Text: "Seen from the other side of the bench.", Nature: "observed"})
	p.notSee("Seen from the other side")
	p.see("KM wrote 1 entry since this page came")
	p.axe()
	p.press("Show them")
	p.see("Seen from the other side of the bench.")
}
