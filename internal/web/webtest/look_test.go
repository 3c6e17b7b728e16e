package webtest

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/web"
)

// lookPage shows every part that pages are made of, with the scenario's words.
type lookPage struct {
	web.Page
	Started, Soon, Earlier, Past time.Time
	Wrong                        *web.Form
	Quantities, Instruments      []record.Choice
	SheetList                    []int
	Caution                      web.Caution
	Facts                        []web.Fact
	Log                          []account.Line
	Thumbs                       []web.Thumb
	Empty                        web.Empty
}

func lookData(now time.Time) lookPage {
	p := lookPage{
		Page: web.Page{
			Title: "Bench", Section: "cases", Place: "bench", Writer: "KM", Now: now, Version: "test", Back: "/",
			People: []record.Person{
				{Initials: "KM", Name: "Demo conservator"},
				{Initials: "TV", Name: "Demo assistant"},
			},
			Running: []web.Running{
				{Case: "0123456789abcdef", What: "sheet 5: end of lime bath", Due: now.Add(7 * time.Minute)},
			},
			Flash: &web.Flash{
				Said: "Saved: pH of sheet 6 is 7.9.",
				Undo: "0123456789abcdef",
			},
			Case: &web.CaseHead{
				ID:     "0123456789abcdef",
				Number: "31-07",
				Title:  "The Windlass Monthly, no. 31",
				Places: []web.Place{
					{Slug: "examination", Name: "Examination"}, {Slug: "make-up", Name: "Make-up", Note: "10 sheets"},
					{
						Slug: "condition",
						Name: "Condition",
						Note: "14 findings",
					}, {Slug: "tests", Name: "Tests", Note: "2 to read again", Sign: "due"},
					{
						Slug: "proposal",
						Name: "Proposal",
						Note: "agreed",
					}, {Slug: "bench", Name: "Bench", Note: "2 wet, 3 damp", Sign: "wet"},
					{Slug: "results", Name: "Results"}, {Slug: "papers", Name: "Papers"},
				},
			},
		},
		Started: now.Add(-12*time.Minute - 41*time.Second), Soon: now.Add(7*time.Minute + 19*time.Second),
		Earlier: now.Add(-47 * time.Minute), Past: now.Add(-2 * time.Minute),
		Quantities: []record.Choice{
			{Value: "surface-ph", Words: "pH of the surface"},
			{Value: "bath-ph", Words: "pH of the bath"},
			{Value: "conductivity", Words: "Conductivity"},
			{Value: "mass", Words: "Mass"},
		},
		Instruments: []record.Choice{
			{Value: "a", Words: "Flat electrode, meter 1"},
			{Value: "b", Words: "Indicator strips"},
		},
		SheetList: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9},
		Caution: web.Caution{Title: "Hydrogen gas: open tray, fan on, no flame", Points: []string{
			"Weigh the powder dry; put powder into water, never water onto powder.",
			"Goggles and nitrile gloves. No lid on the tray, ever, and none on the spent bath.",
			"No acid, peroxide or metal salt near it.",
		}},
		Facts: []web.Fact{
			{Name: "Size, opened", Value: "340 × 262", Unit: "mm", Basis: "measured on sheet 5"},
			{Name: "Grammage", Value: "50.2", Unit: "g/m²", Range: "49.6 to 50.8", Basis: "sheet 5 weighed, 4.47 g"},
			{
				Name:  "Pick-up",
				Value: "1.6",
				Unit:  "g/g",
				Range: "1.3 to 2.0",
				Basis: "from the class of paper, not measured",
			},
			{
				Name:  "Alkaline reserve expected",
				Value: "0.09",
				Unit:  "% CaCO₃",
				Range: "0.06 to 0.12",
				Basis: "the pick-up limits it, not the strength of the bath",
			},
			{Name: "Grain"},
		},
		Log: []account.Line{
			{
				Seq:     84,
				Written: now.Add(-time.Minute),
				By:      "KM",
				Said:    "Lime bath: pH 12.2 at 18 °C, electrode in the bath",
			},
			{
				Seq:     83,
				Written: now.Add(-5 * time.Minute),
				By:      "TV",
				Said:    "Sheet 3: mended with 5 g/m² tissue, 74 mm",
				Struck:  true,
				Instead: "Sheet 3: mended with 5 g/m² tissue, 84 mm",
				Because: "Corrected by KM at 18:21",
			},
			{
				Seq:     82,
				Written: now.Add(-9 * time.Minute),
				By:      "TV",
				Said:    "Sheet 4 into the press",
				Struck:  true,
				Because: "Withdrawn: undone by the writer right after it was entered.",
			},
		},
		Empty: web.Empty{
			Title: "No photograph after treatment yet",
			Text: "Each treated face belongs here, photographed as it was before: same face, same way up, whole " +
				"sheet in sight.",
			Act:  "Photograph sheet 1",
			Href: "#h-work",
		},
	}
	for _, name := range []string{"Cover, outer face", "Sheet 2, outer face", "Sheet 2, inner face"} {
		p.Thumbs = append(
			p.Thumbs,
			web.Thumb{
				Href: "#h-pics",
				Src:  "/look/before.jpg",
				Alt:  name + ", before",
				Name: name,
				Note: "before, 3 May",
			},
		)
	}
	p.Wrong = &web.Form{Name: "reading", Key: "0123456789abcdef", Seq: 84, By: "KM"}
	p.Wrong.Set("quantity", "surface-ph")
	p.Wrong.Set("sheets", "5")
	p.Wrong.Set("value", "79")
	p.Wrong.Set("temp_c", "21")
	p.Wrong.Set("at", "2031-05-09T18:24")
	p.Wrong.Refuse("value", "The pH cannot be 79: 0 to 14 is possible.")
	p.Wrong.Refuse("method", "Please enter the method.")
	return p
}

// picture draws a page of print with a stain, for the slider.
func picture(stained bool) []byte {
	m := image.NewRGBA(image.Rect(0, 0, 900, 640))
	for y := range 640 {
		for x := range 900 {
			c := color.RGBA{232, 219, 190, 255}
			if stained {
				d := math.Hypot(float64(x)-500, float64(y)-640) - 330 - 14*math.Sin(float64(x)/37)
				c = color.RGBA{222, 203, 165, 255}
				if d < 0 {
					c = color.RGBA{206, 180, 136, 255}
				}
				if math.Abs(d) < 5 {
					c = color.RGBA{160, 122, 76, 255}
				}
			}
			column := (x - 40) % 430
			if x > 40 && x < 860 && column < 390 && y > 60 && y < 590 && y%22 < 9 && (x*7919+y/22*104729)%23 > 4 {
				c = color.RGBA{52, 48, 44, 255}
			}
			m.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	jpeg.Encode(&b, m, &jpeg.Options{Quality: 85}) // a buffer never refuses
	return b.Bytes()
}

// withLook puts the page of all parts beside the server's own pages, behind
// the same protection.
func withLook(t *testing.T, b **bench) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		before, after := picture(true), picture(false)
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			switch r.URL.Path {
			case "/look":
				page, err := (*b).server.Template(os.DirFS("testdata"), "look")
				if err != nil {
					t.Error(err)
					return
				}
				w.Header().Set("Content-Type", "text/html; charset=utf-8")
				w.Header().Set("Content-Security-Policy", "default-src 'self'; img-src 'self' blob: data:")
				if err := page.ExecuteTemplate(w, "layout", lookData(time.Now())); err != nil {
					t.Error(err)
				}
			case "/cases/0123456789abcdef/since/0":
				// The page asks from time to time what others wrote; on a slow machine
				// the test is still open then.
				w.Write([]byte(`{"entries":0,"by":[]}`))
			case "/look/before.jpg":
				w.Write(before)
			case "/look/after.jpg":
				w.Write(after)
			default:
				next.ServeHTTP(w, r)
			}
		})
	}
}

// TestLook shows every part at each size: no axe violation, nothing too small
// to touch, nothing wider than the screen.
func TestLook(t *testing.T) {
	var b *bench
	b = newBenchWith(t, withLook(t, &b))
	for _, s := range []size{tablet, phone, wide} {
		p := b.open(s, "/look")
		p.see("Take sheet 5 out of the lime bath")
		p.clean()
		p.run("scrollTo(0, 0)")
		p.screen("look-top")
		p.shot("look")
	}
}

func TestLookFocusesWhatWasRefused(t *testing.T) {
	var b *bench
	b = newBenchWith(t, withLook(t, &b))
	p := b.open(tablet, "/look")
	if id := eval[string](p, "document.activeElement.id"); id != "reading-refusals" {
		t.Errorf("the focus is on %q, want the summary of refusals", id)
	}
	field := "document.getElementById('reading-value')"
	if eval[string](p, field+".getAttribute('aria-invalid')") != "true" {
		t.Error("the refused field is not marked as invalid")
	}
	described := eval[string](
		p,
		field+".getAttribute('aria-describedby').split(' ').map((id) => "+
			"document.getElementById(id).textContent).join(' ')",
	)
	if want := "The pH cannot be 79"; !strings.Contains(described, want) {
		t.Errorf("the field is described by %q, want the sentence %q in it", described, want)
	}
	p.touch("Please enter the method.")
	if id := eval[string](p, "document.activeElement.id"); id != "reading-method" {
		t.Errorf("the link of the summary leads to %q, want the field", id)
	}
}
