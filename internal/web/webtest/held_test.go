package webtest

import (
	"context"
	"testing"
	"time"

	"benchleaf/internal/demo"
)

// The demonstration's practice sheets: what held, what is on offer, and where it goes.
func TestExpectedAndReadOnAllSizes(t *testing.T) {
	b := newBench(t)
	if err := demo.Fill(context.Background(), b.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/studio")
		p.as("KM")
		p.press("Expected and read")
		p.see("96 readings count")
		p.see("every reading invented")
		p.see("too narrow")
		p.see("too wide")
		p.clean()
		p.shot("held")
		p.touch("Take it as the studio’s own")
		p.see("Evidence, saved with it")
		p.touch("24 runs")
		p.clean()
		p.shot("held-offer")
		p.press("2026-019, lime bath of sheet 1")
	}
}
