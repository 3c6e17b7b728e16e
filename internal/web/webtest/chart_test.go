package webtest

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"benchleaf/colour"
	"benchleaf/internal/record"
)

// chartShot is a photograph of a sheet with a chart beside it, drawn: a little
// dark and warm. The chart's patches are 78 px wide with gaps of 12.
func chartShot(t *testing.T, values string) []byte {
	t.Helper()
	c, err := colour.ParseChart(strings.NewReader(values))
	if err != nil {
		t.Fatal(err)
	}
	m := image.NewRGBA(image.Rect(0, 0, 1600, 1200))
	fill := func(x0, y0, x1, y1 int, x colour.XYZ) {
		r, g, b := colour.SRGB().Device(colour.XYZ{X: 0.84 * x.X, Y: 0.8 * x.Y, Z: 0.68 * x.Z})
		v := color.RGBA{uint8(math.Round(255 * r)), uint8(math.Round(255 * g)), uint8(math.Round(255 * b)), 255}
		for y := y0; y < y1; y++ {
			for x := x0; x < x1; x++ {
				m.SetRGBA(x, y, v)
			}
		}
	}
	fill(0, 0, 1600, 1200, colour.Lab{L: 42, A: 8, B: 18}.XYZ())
	fill(740, 70, 1540, 1130, colour.Lab{L: 82, A: 3, B: 17}.XYZ())
	for line := range 30 {
		for word := range 9 {
			x := 810 + 75*word + 13*(line%3)
			fill(x, 150+31*line, x+52, 158+31*line, colour.Lab{L: 28, A: 1, B: 4}.XYZ())
		}
	}
	fill(70, 300, 670, 720, colour.Lab{L: 14}.XYZ())
	for i, p := range c.Patches {
		x, y := 106+90*(i%6), 336+90*(i/6)
		fill(x, y, x+78, y+78, p.XYZ)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// chartShelf puts a chart into the studio and photographs of it into a new
// case; it gives the photographs' paths.
func (b *bench) chartShelf(n int) []string {
	b.t.Helper()
	values, err := os.ReadFile("../../../colour/testdata/chart24.csv")
	if err != nil {
		b.t.Fatal(err)
	}
	st, err := b.store.Studio(context.Background())
	if err != nil {
		b.t.Fatal(err)
	}
	file := record.ChartFile{
		ID:       record.NewID(time.Now()),
		Name:     "Chart of the studio",
		Source:   "measured by the studio, May 2031",
		FileName: "chart.csv",
		Rows:     4,
		Columns:  6,
		Text:     string(values),
	}
	if _, err := b.store.Append(b.t.Context(), record.Draft{Case: record.StudioID, Expect: st.LastSeq, By: "KM", Zone: "UTC", Items: []record.Item{{Body: file}}}); err != nil {
		b.t.Fatal(err)
	}
	id := record.NewCaseID(time.Now())
	b.write(id, record.Opened{Number: "31-12", Title: "Lantern Weekly, no. 7"})
	var paths []string
	for i := range n {
		// A byte behind the end makes another file of the same picture.
		p, err := b.store.PutPhoto(
			b.t.Context(),
			bytes.NewReader(append(chartShot(b.t, string(values)), byte(i))),
			1<<24,
		)
		if err != nil {
			b.t.Fatal(err)
		}
		b.write(
			id,
			record.Photo{
				Hash:     p.Hash,
				FileName: "sheet-with-chart.jpg",
				Bytes:    p.Bytes,
				Format:   "jpeg",
				WidthPx:  1600,
				HeightPx: 1200,
				Stage:    "before",
				Light:    "normal",
				Caption:  "front, with the chart",
			},
		)
		paths = append(paths, "/cases/"+string(id)+"/photos/"+p.Hash.String())
	}
	return paths
}

// chartScreens are the screens of a photograph and of its colour, set and not.
func (b *bench) chartScreens() map[string]string {
	b.t.Helper()
	paths := b.chartShelf(2)
	p := b.open(tablet, paths[0]+"/chart")
	p.fill("Your initials", "KM")
	p.press("Set the colour")
	p.see("Half of the patches")
	return map[string]string{
		"photo colour set": paths[0], "photo colour corrected": paths[0] + "/chart",
		"photo": paths[1], "photo chart": paths[1] + "/chart", "photo grey card": paths[1] + "/chart?with=grey-card",
		"photo white paper": paths[1] + "/chart?with=white-paper", "photo same light": paths[1] + "/chart?with=same-light", "studio chart": "/studio/charts",
	}
}

// TestCornersUnderTheHand moves corners by mouse, finger and keys, and sets the
// colour.
func TestCornersUnderTheHand(t *testing.T) {
	b := newBench(t)
	paths := b.chartShelf(2)
	for i, s := range []size{tablet, phone} {
		p := b.open(s, paths[i]+"/chart")
		p.see("The chart was found")
		at := func(field string) float64 {
			return eval[float64](p, `Number(document.querySelector("[name=`+field+`]").value)`)
		}
		// Half a gap outside the patches.
		if x, y := at("x1"), at("y1"); math.Abs(x-99.5) > 5 || math.Abs(y-329.5) > 5 {
			t.Errorf("%s: corner 1 is at %g, %g; want 99.5, 329.5", s.name, x, y)
		}
		p.screen("corners-found")
		// Keys.
		p.run(`document.querySelector("[data-corner='2']").focus()`)
		x := at("x2")
		p.key(kb.ArrowRight)
		p.key(kb.ArrowRight)
		if got := at("x2"); got <= x {
			t.Errorf("%s: two arrows took corner 2 from %g to %g", s.name, x, got)
		}
		if found := eval[string](p, `document.querySelector("[name=found]").value`); found != "" {
			t.Errorf("%s: a corner was moved, and still it counts as found", s.name)
		}
		// Mouse: from the handle's middle 40 px to the left and 30 down.
		box := eval[[]float64](p, `(() => { const e = document.querySelector("[data-corner='3'] .dot");
			e.scrollIntoView({block: "center"});
			const r = e.getBoundingClientRect(), o = document.querySelector(".corners-picture svg").getBoundingClientRect();
			return [r.left + r.width / 2, r.top + r.height / 2, 1600 / o.width] })()`)
		x, y := at("x3"), at("y3")
		p.do(chromedp.DragAndDropXY(box[0], box[1], box[0]-40, box[1]+30))
		if dx, dy := at("x3")-x, at("y3")-y; math.Abs(dx+40*box[2]) > 2*box[2] || math.Abs(dy-30*box[2]) > 2*box[2] {
			t.Errorf("%s: dragged by -40, 30 px of %g each, corner 3 moved by %g, %g", s.name, box[2], dx, dy)
		}
		p.screen("corners-moved")
		p.run(`scrollTo(0, 0)`) // what the head of the page covers is not to be judged
		p.clean()
		// Numbers, in pixels.
		p.touch("Corners in pixels")
		p.run(`for (const [n, v] of [["x2", "640"], ["y2", "330"], ["x3", "640"], ["y3", "690"]]) {
			const e = document.querySelector("[name=" + n + "]"); e.value = v; e.dispatchEvent(new Event("input", {bubbles: true})) }`)
		if got := eval[float64](p, `Number(document.querySelector("[data-corner='3'] .dot").getAttribute("cx"))`); got != 640 {
			t.Errorf("%s: the handle stands at %g, not at the number typed", s.name, got)
		}
		if eval[bool](p, `!!document.querySelector("[name=by]:not([type=hidden])")`) {
			p.fill("Your initials", "KM")
		}
		p.press("Set the colour")
		p.see("ΔE00")
		p.shot("photo-colour")
		p.clean()
	}
}
