package webtest

import (
	"testing"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// TestTour opens every screen on the demonstration, on tablet and phone: no
// axe violation, nothing too small to touch, nothing wider than the screen, no
// error on the console.
func TestTour(t *testing.T) {
	b := newBench(t)
	if err := demo.Fill(t.Context(), b.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	var windlass, closed record.CaseID
	list, err := b.store.List(t.Context(), store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range list {
		switch {
		case c.Closed:
			closed = c.ID
		case len(c.Wet) > 0:
			windlass = c.ID
		}
	}
	if windlass == "" || closed == "" {
		t.Fatalf("the demonstration has no case in treatment (%q) or none that is closed (%q)", windlass, closed)
	}
	paths := map[string]string{"home": "/", "home-closed": "/?show=closed", "new-case": "/cases/new"}
	for _, place := range []string{"examination", "make-up", "condition", "tests", "proposal", "bench", "results", "papers", "log", "photos", "photos/new"} {
		name := map[string]string{"photos/new": "photo-new"}[place]
		if name == "" {
			name = place
		}
		paths[name] = "/cases/" + string(windlass) + "/" + place
	}
	paths["closed-papers"] = "/cases/" + string(closed) + "/papers"
	paths["closed-results"] = "/cases/" + string(closed) + "/results"
	paths["solutions"], paths["studio"] = "/solutions", "/studio"
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.as("KM")
		for name, path := range paths {
			t.Run(s.name+"/"+name, func(t *testing.T) {
				p.t = t
				p.goTo(path)
				p.axe()
				p.shot("tour-" + name)
			})
			p.t = b.t
		}
	}
}
