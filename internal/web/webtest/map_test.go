package webtest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// mapCase is a case of nine sheets in a cover with a size, nothing drawn yet.
func (b *bench) mapCase() record.CaseID {
	id := record.NewCaseID(time.Now())
	nine := []int{1, 2, 3, 4, 5, 6, 7, 8, 9}
	b.write(id,
		record.Opened{Number: "M-1", Title: "Windlass"},
		record.MakeUp{InnerSheets: 9, Cover: record.CoverSeparate, FirstPage: 1},
		record.Stock{ID: record.NewID(time.Now()), Name: "interior", Class: record.Groundwood, Sheets: nine, WidthMm: 340,
			HeightMm: 262, GrammageGM2: 50, GrammageBasis: record.BasisStated},
		record.MendPlan{Tissue: "kozo", TissueGM2: 5, StripWidthMm: 6, MarginMm: 2, Faces: "one"},
	)
	return id
}

// onFace is where a place of the face, in mm, lies on the screen.
func (p *tab) onFace(xMm, yMm float64) [2]float64 {
	at := eval[[]float64](p, `(() => { const f = document.querySelector(".face.main"), m = f.getScreenCTM();
		const q = new DOMPoint(`+fmt.Sprintf("%g, %g", xMm, yMm)+`).matrixTransform(m); return [q.x, q.y] })()`)
	return [2]float64{at[0], at[1]}
}

// The operators of the keystroke-level model of Card, Moran and Newell
// (Communications of the ACM 23, 1980, 396-410), in seconds, as the table of their
// book of 1983 has them: to prepare in mind, to point, to press or let go.
const mentalS, pointS, pressS = 1.35, 1.10, 0.20

// A tear through three sheets: one stroke, one touch, with severity and cause left
// open. It is then on six faces, in words, in the tissue, in the sketch of a
// proposal, at the bench with its length, and in the list of open questions.
func TestATearIsMappedByTouch(t *testing.T) {
	b := newBench(t)
	id := b.mapCase()
	at := "/cases/" + string(id)
	p := b.open(tablet, "/")
	p.as("KM")
	p.goTo(at + "/map/2-outer")
	p.until("the face can be drawn on", `document.querySelector(".map.live")`)
	p.run(`document.querySelector(".face.main").scrollIntoView({block: "start", behavior: "instant"})`)
	var stroke [][2]float64
	for i := range 15 {
		stroke = append(stroke, p.onFace(339-float64(i)*83/14, 180))
	}
	p.hand.taps = 0
	p.fingers(stroke)
	p.hand.taps++
	p.until("kinds are offered", `document.querySelector(".offer")`)
	if first := eval[string](p, `document.querySelector(".offer b").textContent`); first != "Tear" {
		t.Errorf("a line from an edge is first %q, want a tear", first)
	}
	if behind := eval[string](p, `document.querySelector(".map-behind .drawing").getAttribute("d")`); len(behind) < 5 {
		t.Error("the stroke is not shown on the face behind")
	}
	p.axe()
	p.shot("map-offers")
	p.touch("Tear, 2–4: sheets 2 to 4")
	p.until("it is recorded", `document.querySelector("#on-face .findings .where")`)
	// A stroke is two pointings and two presses, a touch one of each; a thought goes
	// before each of the two.
	seconds := 2*mentalS + 3*pointS + 4*pressS
	if p.hand.taps > 4 || seconds >= 8 {
		t.Errorf("%d touches and %.1f s, want at most 4 and under 8 s", p.hand.taps, seconds)
	}
	t.Logf("%d touches, no field, %.1f s by the keystroke-level model", p.hand.taps, seconds)

	c, err := b.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	d := c.Damages[0].Body
	mm, _ := d.Length()
	if d.Term != "tear" || !d.Through || len(d.Place.Sheets) != 3 || d.Severity != "" || d.CauseIs != "" || mm < 82 || mm > 86 {
		t.Errorf("recorded %+v, %.1f mm", d, mm)
	}
	for _, face := range []string{"2-outer", "2-inner", "3-outer", "3-inner", "4-outer", "4-inner"} {
		if _, _, html := b.get(at + "/map/" + face); !strings.Contains(html, `data-no="1"`) {
			t.Errorf("the tear does not show on %s", face)
		}
	}
	for path, want := range map[string]string{
		"/map/5-outer":                "Nothing is drawn here yet",
		"/condition":                  "pp. 3/4, 5/6, 7/8, from the fore-edge, 82 mm above the tail",
		"/tissue":                     "each sheet counted, on one face",
		"/proposal/new?from=findings": "mends to make 3",
		"/mend?damage=" + d.ID:        `name="length_mm"`,
	} {
		if _, _, html := b.get(at + path); !strings.Contains(html, want) {
			t.Errorf("%s does not say %q", path, want)
		}
	}
	if _, _, html := b.get(at + "/condition"); !strings.Contains(html, "severity not judged") {
		t.Error("what was left open is not listed")
	}

	p.goTo(at + "/findings/" + d.ID)
	p.axe()
	p.goTo(at + "/condition")
	p.axe()
}

// With keys alone a split along the fold is drawn, recorded, and moved by numbers.
func TestTheMapByKeys(t *testing.T) {
	b := newBench(t)
	id := b.mapCase()
	p := b.open(phone, "/")
	p.as("KM")
	p.goTo("/cases/" + string(id) + "/map/3-outer")
	p.until("the face can be drawn on", `document.querySelector(".map.live")`)
	p.run(`document.querySelector(".face.main").focus()`)
	p.key("\r")
	for range 4 {
		p.run(`document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "ArrowDown", bubbles: true}))`)
	}
	p.key("\r")
	p.key("\r")
	p.until("kinds are offered", `document.querySelector(".offer")`)
	if first := eval[string](p, `document.querySelector(".offer b").textContent`); first != "Spine split" {
		t.Errorf("a line along the fold is first %q, want a split", first)
	}
	p.touch("Spine split, sheet 3, both faces")
	p.until("it is recorded", `document.querySelector("#on-face .findings .where")`)
	p.see("along the fold")
	p.axe()
	p.shot("map-phone")
	p.goTo("/cases/" + string(id) + "/condition")
	if tall := eval[float64](p, "document.documentElement.scrollHeight"); tall > 3*844 {
		t.Errorf("the condition page is %.0f px tall on the phone: more than three screens", tall)
	}
}
