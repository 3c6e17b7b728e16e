package webtest

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// Every screen of the demonstration, on a tablet and on a phone: nothing on the
// console, nothing too small to touch, nothing wider than the screen, and no
// violation that axe finds on the tablet.
func TestEveryScreenIsClean(t *testing.T) {
	b := newBench(t)
	if err := demo.Fill(context.Background(), b.store, time.Now()); err != nil {
		t.Fatal(err)
	}
	list, err := b.store.List(context.Background(), store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	pages := map[string]string{
		"home":      "/",
		"intake":    "/cases/new",
		"solutions": "/solutions",
		"mix":       "/solutions/mix",
		"studio":    "/studio",
	}
	for _, c := range list {
		base := "/cases/" + string(c.ID) + "/"
		switch c.State {
		case "in treatment":
			for _, place := range []string{"examination", "make-up", "condition", "tests", "proposal", "proposal/new",
				"bench", "results", "papers", "photos", "photos/new", "log", "mend", "runs/new",
				"runs/new?operation=lime", "withdraw?entry=2", "sheets/8", "sheets/8/tray", "sheets/8/drying",
				"sheets/8/drying?way=absorbents", "sheets/8/ageing", "sheets/8/washing", "sheets/8/humidity",
				"sheets/5/measured", "sheets/1/measured", "sheets/8/measured"} {
				pages["windlass "+place] = base + place
			}
			run := b.theCase(c.ID).OpenRuns()[0].Body.ID
			for _, place := range []string{"", "/end", "/reading", "/absorbent"} {
				pages["windlass run"+place] = base + "runs/" + run + place
			}
			pages["windlass area"] = base + "area?" + b.pairOf(c.ID) + "&left=500&top=500&width=120&height=90"
			pages["windlass cover results"] = base + "results?face=cover%2C+outer+face"
			pages["windlass run check"] = base + "runs/check?operation=reduce&sheets=1&volume_ml=1000&bottle=" + b.freshHydride()
			pages["windlass lime check"] = base + "runs/check?operation=lime&sheets=8&sheets=9&volume_ml=1500&bottle=" + b.bottle(
				"lime water 0.4 g/L",
			)
		case "closed":
			for _, place := range []string{"results", "papers", "bench"} {
				pages["reader "+place] = base + place
			}
		default:
			for _, place := range []string{"examination", "make-up", "condition", "tests", "proposal", "bench", "results", "papers"} {
				pages["almanack "+place] = base + place
			}
		}
	}
	for name, path := range b.chartScreens() {
		pages[name] = path
	}
	for _, s := range []size{tablet, phone} {
		p := b.open(s, "/")
		p.as("KM")
		for name, path := range pages {
			t.Run(s.name+" "+name, func(t *testing.T) {
				q := *p
				q.t = t
				q.goTo(path)
				if strings.HasSuffix(name, "results") {
					// The page loads itself anew when its pictures are compared.
					q.sees("no work is under way", func() bool {
						ok, err := chromedp.Run(
							q.ctx,
							chromedp.Evaluate[bool](
								`document.readyState === "complete" && !!document.querySelector("h1") && !document.querySelector("main .work")`,
							),
						)
						return err == nil && ok
					})
					q.settle()
				}
				q.clean()
				q.shot("screen-" + strings.NewReplacer("/", "-", "?", "-", " ", "-", "=", "-").Replace(name))
			})
		}
	}
}

// pairOf is the first pair of photographs of one face, as it stands in addresses.
func (b *bench) pairOf(id record.CaseID) string {
	b.t.Helper()
	c := b.theCase(id)
	for _, before := range c.Photos {
		for _, after := range c.Photos {
			if before.Body.Stage == "before" && after.Body.Stage != "before" &&
				before.Body.Place.String() == after.Body.Place.String() {
				return "before=" + before.Body.Hash.String() + "&after=" + after.Body.Hash.String()
			}
		}
	}
	b.t.Fatal("no face has both pictures")
	return ""
}

// bottle is the ID of a bottle on the shelf.
func (b *bench) bottle(name string) string {
	b.t.Helper()
	st, err := b.store.Studio(context.Background())
	if err != nil {
		b.t.Fatal(err)
	}
	for _, x := range st.Bottles {
		if x.Body.Name == name {
			return x.Body.ID
		}
	}
	b.t.Fatalf("there is no bottle %q", name)
	return record.NewID(time.Now())
}
