package webtest

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/photo"
)

// A face photographed twice by program: a printed leaf (catalogue leaf of photo/testdata) on a grey
// table, seen by two homographies that are known exactly. Before, a brown stain
// lies on it; after, it is gone and all of the paper is a little lighter.
const pairW, pairH = 1500, 1150

var (
	stainAt  = [2]float64{0.42, 0.55} // of the sheet
	stainOut = [2]float64{0.07, 0.10}
)

// leafSize is the size that the sheet is said to have, of the leaf's own
// proportions.
const leafWidthMm = 340.0

type shot struct {
	leaf    image.Image
	corners [4][2]float64 // of the sheet in the picture, from the upper left round
	stained bool
	gain    float64
}

// at gives place u, v of the sheet for a pixel, by the inverse of the
// homography of the unit square (Heckbert, Fundamentals of texture mapping,
// 1989, section 2.2.3), by Newton's steps.
func (s shot) at(x, y float64) (u, v float64) {
	c := s.corners
	dx1, dx2, dx3 := c[1][0]-c[2][0], c[3][0]-c[2][0], c[0][0]-c[1][0]+c[2][0]-c[3][0]
	dy1, dy2, dy3 := c[1][1]-c[2][1], c[3][1]-c[2][1], c[0][1]-c[1][1]+c[2][1]-c[3][1]
	det := dx1*dy2 - dx2*dy1
	g, h := (dx3*dy2-dx2*dy3)/det, (dx1*dy3-dx3*dy1)/det
	a, b := c[1][0]-c[0][0]+g*c[1][0], c[3][0]-c[0][0]+h*c[3][0]
	d, e := c[1][1]-c[0][1]+g*c[1][1], c[3][1]-c[0][1]+h*c[3][1]
	// x (g u + h v + 1) = a u + b v + c0, and the same of y.
	p, q := a-g*x, b-h*x
	r, t := d-g*y, e-h*y
	fx, fy := x-c[0][0], y-c[0][1]
	n := p*t - q*r
	return (fx*t - q*fy) / n, (p*fy - fx*r) / n
}

func (s shot) jpeg(t *testing.T) []byte {
	t.Helper()
	out := image.NewRGBA(image.Rect(0, 0, pairW, pairH))
	b := s.leaf.Bounds()
	for y := range pairH {
		for x := range pairW {
			u, v := s.at(float64(x), float64(y))
			px := color.RGBA{70, 71, 70, 255}
			if u > 0 && v > 0 && u < 1 && v < 1 {
				px = s.sample(u*float64(b.Dx()), v*float64(b.Dy()))
				px = s.change(px, u, v)
			}
			out.SetRGBA(x, y, px)
		}
	}
	var w bytes.Buffer
	if err := jpeg.Encode(&w, out, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	return w.Bytes()
}

func (s shot) change(c color.RGBA, u, v float64) color.RGBA {
	k := [3]float64{s.gain, s.gain, s.gain}
	du, dv := (u-stainAt[0])/stainOut[0], (v-stainAt[1])/stainOut[1]
	if s.stained && du*du+dv*dv < 1 {
		k[0], k[1], k[2] = 0.86*k[0], 0.74*k[1], 0.58*k[2]
	}
	mul := func(v uint8, k float64) uint8 { return uint8(math.Min(250, float64(v)*k)) }
	return color.RGBA{mul(c.R, k[0]), mul(c.G, k[1]), mul(c.B, k[2]), 255}
}

func (s shot) sample(x, y float64) color.RGBA {
	b := s.leaf.Bounds()
	x0, y0 := int(x), int(y)
	fx, fy := x-float64(x0), y-float64(y0)
	var sum [3]float64
	for j := range 2 {
		for i := range 2 {
			w := math.Abs(1-float64(i)-fx) * math.Abs(1-float64(j)-fy)
			r, g, bl, _ := s.leaf.At(min(b.Max.X-1, b.Min.X+x0+i), min(b.Max.Y-1, b.Min.Y+y0+j)).RGBA()
			sum[0], sum[1], sum[2] = sum[0]+w*float64(r>>8), sum[1]+w*float64(g>>8), sum[2]+w*float64(bl>>8)
		}
	}
	return color.RGBA{uint8(sum[0]), uint8(sum[1]), uint8(sum[2]), 255}
}

// facePair writes a case with a face photographed before and after.
func (b *bench) facePair() (id record.CaseID, before, after []byte) {
	b.t.Helper()
	raw, err := os.ReadFile(photograph(b.t, "lapide.052.100.jpg"))
	if err != nil {
		b.t.Fatal(err)
	}
	leaf, err := jpeg.Decode(bytes.NewReader(raw))
	if err != nil {
		b.t.Fatal(err)
	}
	// The leaf is cut to the proportions of an opened sheet.
	size := leaf.Bounds()
	height := size.Dx() * 3 / 4
	top := (size.Dy() - height) / 2
	leaf = leaf.(interface {
		SubImage(image.Rectangle) image.Image
	}).SubImage(image.Rect(0, top, size.Dx(), top+height))
	before = shot{leaf, [4][2]float64{{110, 90}, {1385, 104}, {1392, 1050}, {104, 1060}}, true, 1}.jpeg(b.t)
	after = shot{leaf, [4][2]float64{{130, 70}, {1400, 118}, {1376, 1066}, {96, 1022}}, false, 1.04}.jpeg(b.t)
	id = record.NewCaseID(time.Now())
	b.write(
		id,
		record.Opened{Number: "1", Title: "Leaf"},
		record.MakeUp{InnerSheets: 1, Cover: "self", Binding: "loose", FirstPage: 1},
		record.Stock{
			ID:            record.NewID(time.Now()),
			Name:          "leaf",
			Class:         "rag",
			Sheets:        []int{1},
			WidthMm:       leafWidthMm,
			HeightMm:      leafWidthMm * 0.75,
			GrammageGM2:   80,
			GrammageBasis: "class",
			Grain:         "parallel",
		},
	)
	for i, data := range [][]byte{before, after} {
		p, err := b.store.PutPhoto(b.t.Context(), bytes.NewReader(data), int64(len(data)))
		if err != nil {
			b.t.Fatal(err)
		}
		b.write(
			id,
			record.Photo{
				Hash:     p.Hash,
				Bytes:    p.Bytes,
				Format:   "jpeg",
				WidthPx:  pairW,
				HeightPx: pairH,
				Stage:    []record.Stage{"before", "after"}[i],
				Light:    "normal",
				Place:    record.Place{Sheets: []int{1}, Face: "outer"},
			},
		)
	}
	return id, before, after
}

func decoded(t *testing.T, data []byte) *photo.Image {
	t.Helper()
	m, _, err := photo.Decode(bytes.NewReader(data), photo.DefaultLimits)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// place gives where a pixel of the before picture lies on the screen.
func (p *tab) place(x, y float64) (sx, sy float64) {
	p.t.Helper()
	at := eval[[]float64](p, fmt.Sprintf(`(() => {
		const g = document.querySelector(".viewer-shapes g"), r = document.querySelector(".viewer-shapes").getBoundingClientRect();
		const m = g.transform.baseVal.consolidate().matrix;
		return [r.left + m.e + %g * m.a, r.top + m.f + %g * m.d] })()`, x, y))
	return at[0], at[1]
}

// drawn is the colour of the viewer's canvas at a pixel of the before picture.
func (p *tab) drawn(x, y float64) [3]float64 {
	p.t.Helper()
	sx, sy := p.place(x, y)
	v := eval[[]float64](p, fmt.Sprintf(`(() => {
		const c = document.querySelector(".viewer-view canvas"), r = c.getBoundingClientRect();
		const d = c.getContext("2d").getImageData((%g - r.left) * c.width / r.width, (%g - r.top) * c.height / r.height, 3, 3).data;
		let s = [0, 0, 0];
		for (let i = 0; i < d.length; i += 4) for (let k = 0; k < 3; k++) s[k] += d[i + k] / 9;
		return s })()`, sx, sy))
	return [3]float64{v[0], v[1], v[2]}
}

func far(a, b [3]float64) float64 {
	return math.Max(math.Abs(a[0]-b[0]), math.Max(math.Abs(a[1]-b[1]), math.Abs(a[2]-b[2])))
}

// stainPx is the middle of the stain in the before picture.
func stainPx() (x, y float64) {
	s := shot{corners: [4][2]float64{{110, 90}, {1385, 104}, {1392, 1050}, {104, 1060}}}
	x, y = 700, 600
	for range 50 { // the inverse of at, step by step
		u, v := s.at(x, y)
		x, y = x+(stainAt[0]-u)*1280, y+(stainAt[1]-v)*955
	}
	return x, y
}

// sees waits until the canvas shows what a condition asks for.
func (p *tab) sees(what string, ok func() bool) {
	p.t.Helper()
	for range 800 { // 40 s: machines that test are busy
		if ok() {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.t.Fatalf("%s: waited in vain until %s", p.size.name, what)
}

// rests waits until the picture in the viewer moves no more.
func (p *tab) rests() {
	p.t.Helper()
	last, same := "", 0
	p.sees("the picture is at rest", func() bool {
		now := eval[string](p, `document.querySelector(".viewer-shapes g").getAttribute("transform") ?? ""`)
		if now != "" && now == last {
			same++
		} else {
			last, same = now, 0
		}
		return same >= 8 // 0.4 s
	})
}

func (p *tab) openViewer(id record.CaseID) {
	p.t.Helper()
	p.goTo("/cases/" + string(id) + "/results")
	p.sees("the viewer is there", func() bool {
		ok, err := chromedp.Run(
			p.ctx,
			chromedp.Evaluate[bool](`!!document.querySelector(".viewer.live .viewer-shapes g[transform]")`),
		)
		return err == nil && ok
	})
	p.axe() // before anything is scrolled under the spine
	p.run(`document.querySelector(".viewer-picture").scrollIntoView({block: "center", behavior: "instant"})`)
}

// The picture part of the results: the slider shows one picture or the other,
// the map shows where they differ, an area drawn over the stain reads what
// photo.Compare itself finds under that outline, and is kept.
func TestResultsOfAPair(t *testing.T) {
	b := newBench(t)
	id, before, after := b.facePair()
	p := b.open(tablet, "/")
	p.as("KM")
	p.openViewer(id)
	p.see("The pictures show the same face")
	x, y := stainPx()

	// The whole picture is in sight at first.
	p.rests()
	for _, corner := range [][2]float64{{0, 0}, {pairW, pairH}} {
		sx, sy := p.place(corner[0], corner[1])
		if !eval[bool](
			p,
			fmt.Sprintf(
				`(() => { const r = document.querySelector(".viewer-picture").getBoundingClientRect(); return %g > r.left - 2 && %g < r.right + 2 && %g > r.top - 2 && %g < r.bottom + 2 })()`,
				sx,
				sx,
				sy,
				sy,
			),
		) {
			t.Errorf("corner %v of the picture lies out of sight at %.0f, %.0f", corner, sx, sy)
		}
	}

	// All before, then all after: the stain goes, the paper beside it stays.
	slide := `document.querySelector(".viewer-range input")`
	p.run(slide + ".focus()")
	p.key(kb.End)
	var stained [3]float64
	p.sees("the stain is brown", func() bool { stained = p.drawn(x, y); return stained[0]-stained[2] > 60 })
	p.key(kb.Home)
	p.sees("the stain is gone", func() bool { return far(p.drawn(x, y), stained) > 25 })
	if said := eval[string](p, slide+".getAttribute('aria-valuetext')"); said != "0 % before, 100 % after" {
		t.Errorf("the slider says %q at its beginning", said)
	}
	box := eval[[]float64](
		p,
		`(() => { const r = document.querySelector(".viewer-picture").getBoundingClientRect(); return [r.left, r.top, r.width, r.height] })()`,
	)
	p.do(chromedp.DragAndDropXY(box[0]+1, box[1]+box[3]/2, box[0]+0.8*box[2], box[1]+box[3]/2))
	if got := eval[string](p, slide+".value"); got != "80" && got != "79" && got != "81" {
		t.Errorf("dragged to 80 %% the line stands at %s", got)
	}

	// The map of change: the stain in another colour than the paper round it.
	p.touch("Difference")
	p.sees("the map shows the stain", func() bool { return far(p.drawn(x, y), p.drawn(x, y+200)) > 60 })
	p.see("Colour difference, dE00, light evened")
	p.touch("ΔL*")
	p.see("Lightness, dL*, light evened")
	p.touch("Light evened")
	p.until(
		"the other legend shows",
		`!document.querySelector("[data-legend=dl]").hidden && document.querySelector("[data-legend=dl-even]").hidden`,
	)

	p.touch("Slider")
	p.touch("Draw an area")
	p.run(`document.querySelector(".viewer-picture").scrollIntoView({block: "center", behavior: "instant"})`)
	for _, d := range [][2]float64{{-60, -50}, {60, -50}, {60, 50}, {-60, 50}} {
		sx, sy := p.place(x+d[0], y+d[1])
		p.do(chromedp.MouseClickXY(sx, sy))
	}
	p.touch("Done")
	p.until("the area is read", `document.querySelector("#area-read .answers")`)
	p.sees(
		"the paper round it is read",
		func() bool { return eval[bool](p, `!document.querySelector("#area-read [data-around]")`) },
	)
	p.matches(t, before, after)

	// A handle moves by an arrow key, and the numbers are those of the new outline.
	was := eval[string](p, `document.querySelector("#area-read input[name=outline]").value`)
	p.run(`document.querySelector(".viewer-knob").focus()`)
	p.key(kb.ArrowRight)
	p.until(
		"the new outline is read",
		`document.querySelector("#area-read input[name=outline]") && document.querySelector("#area-read input[name=outline]").value !== `+quote(
			was,
		)+` && !document.querySelector("#area-read.stale")`,
	)
	p.matches(t, before, after)
	p.axe()
	p.shot("results-area")

	p.choose("It looks like", "discolouration")
	p.fill("Name", "stain at the middle")
	p.press("Keep this area")
	p.see("Area kept: discolouration, stain at the middle.")
	c := b.theCase(id)
	if len(c.Areas) != 1 || c.Areas[0].Compared == nil || c.Areas[0].Body.FoundBy != "drawn" ||
		c.Areas[0].Body.AreaMm2 == nil {
		t.Fatalf("the record has areas %+v", c.Areas)
	}
	// 120 by 100 pixels of a sheet that is 340 mm wide in about 1280 pixels.
	want := 120 * 100 * math.Pow(leafWidthMm/1280, 2)
	if got := *c.Areas[0].Body.AreaMm2; math.Abs(got-want) > 0.06*want {
		t.Errorf("the area is %.0f mm², want about %.0f", got, want)
	}
	if x := c.Areas[0].Compared.Body; x.StoodOutDE00 == nil || *x.StoodOutDE00 < 8 || *x.StandsOutDE00 > 4 {
		t.Errorf("the stain stood out and stands out by %v, %v; want much, and little", x.StoodOutDE00, x.StandsOutDE00)
	}
}

// matches compares the numbers on the page with those of photo.Compare for the
// outline that the page would keep.
func (p *tab) matches(t *testing.T, before, after []byte) {
	t.Helper()
	var line []photo.Point
	for corner := range strings.FieldsSeq(eval[string](p, `document.querySelector("#area-read input[name=outline]").value`)) {
		x, y, _ := strings.Cut(corner, ",")
		px, err := strconv.ParseFloat(x, 64)
		py, err2 := strconv.ParseFloat(y, 64)
		if err != nil || err2 != nil {
			t.Fatalf("the outline has a corner %q", corner)
		}
		line = append(line, photo.Point{X: px, Y: py})
	}
	c, err := photo.Compare(context.Background(), decoded(t, before), decoded(t, after), photo.CompareOptions{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := c.Region([][]photo.Point{line})
	if err != nil {
		t.Fatal(err)
	}
	if r.MeanDE00Flat < 8 {
		t.Errorf("the stain's area changed by %.1f dE00 only: the test's own picture is wrong", r.MeanDE00Flat)
	}
	shown := eval[string](p, `document.querySelector("#area-read .answers .value").innerText`)
	if want := account.DE00(r.MeanDE00Flat, r.MeanDE00SD); shown != want {
		t.Errorf("the page says %q, photo.Compare %q", shown, want)
	}
	facts := eval[string](p, `document.querySelector("#area-read .facts").textContent`)
	if want := fmt.Sprintf("L* %.1f, a* %.1f, b* %.1f", r.Before.L, r.Before.A, r.Before.B); !strings.Contains(facts, want) {
		t.Errorf("the colour before, %s, is not in %q", want, facts)
	}
}

// fingers lays fingers on the screen, moves them together through their places
// and lifts them.
func (p *tab) fingers(paths ...[][2]float64) {
	p.t.Helper()
	send := func(kind input.DispatchTouchEventType, step int) {
		params := input.DispatchTouchEventParams{Type: kind, TouchPoints: []*input.TouchPoint{}}
		if step >= 0 {
			for i, path := range paths {
				id := float64(i)
				params.TouchPoints = append(
					params.TouchPoints,
					&input.TouchPoint{X: path[step][0], Y: path[step][1], ID: &id},
				)
			}
		}
		p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := chromedp.Call(ctx, input.DispatchTouchEvent, params)
			return err
		}))
		time.Sleep(16 * time.Millisecond)
	}
	send(input.DispatchTouchEventTypeTouchStart, 0)
	for step := 1; step < len(paths[0]); step++ {
		send(input.DispatchTouchEventTypeTouchMove, step)
	}
	send(input.DispatchTouchEventTypeTouchEnd, -1)
}

// By touch alone: two fingers zoom, one moves the picture, one draws.
func TestResultsByTouch(t *testing.T) {
	b := newBench(t)
	id, before, after := b.facePair()
	p := b.open(phone, "/")
	p.as("KM")
	p.openViewer(id)
	scale := func() float64 {
		return eval[float64](p, `document.querySelector(".viewer-shapes g").transform.baseVal.consolidate().matrix.a`)
	}
	p.rests()
	was := scale()
	x, y := stainPx()
	sx, sy := p.place(x, y-250) // beside the handle of the slider
	var left, right [][2]float64
	for i := range 12 {
		d := 20 + 5*float64(i)
		left, right = append(left, [2]float64{sx - d, sy}), append(right, [2]float64{sx + d, sy})
	}
	p.fingers(left, right)
	p.sees("two fingers have zoomed", func() bool { return scale() > 2*was })
	p.rests()

	p.touch("Draw an area")
	p.run(`document.querySelector(".viewer-picture").scrollIntoView({block: "center", behavior: "instant"})`)
	var round [][2]float64
	for i := range 30 {
		a := 2 * math.Pi * float64(i) / 30
		cx, cy := p.place(x+55*math.Cos(a), y+55*math.Sin(a))
		round = append(round, [2]float64{cx, cy})
	}
	p.fingers(round)
	p.until("the area is read", `document.querySelector("#area-read .answers")`)
	p.matches(t, before, after)
	p.run("scrollTo(0, 0)")
	p.axe()
	p.shot("results-touch")
}

// Stains are proposed, looked at, named and kept; and an area by numbers needs
// no pointer and no script.
func TestResultsStainsAndNumbers(t *testing.T) {
	b := newBench(t)
	id, _, _ := b.facePair()
	p := b.open(phone, "/")
	p.as("KM")
	p.openViewer(id)
	p.press("Find stains on the before picture")
	p.sees("the search is over", func() bool { return eval[bool](p, `!!document.querySelector("#found")`) })
	p.settle()
	p.until("the viewer is there", `document.querySelector(".viewer.live")`)
	p.axe()
	p.shot("results-stains")
	rows := eval[float64](p, `document.querySelectorAll("#found tbody tr").length`)
	if rows < 1 {
		t.Fatal("no stain is proposed where one was painted")
	}
	p.screen("results-found")
	p.run(`document.querySelector("#found input[name=keep]").click()`)
	p.run(`document.querySelector("#found select").value = "foxing"`)
	p.press("Keep what is ticked")
	p.see("1 area kept.")
	c := b.theCase(id)
	if len(c.Areas) != 1 || c.Areas[0].Body.Look != "foxing" || c.Areas[0].Body.FoundBy != "measured" ||
		c.Areas[0].Compared == nil {
		t.Fatalf("the record has %+v", c.Areas)
	}

	p.noScript()
	p.do(chromedp.Navigate(b.url + "/cases/" + string(id) + "/results"))
	p.do(chromedp.Click(chromedp.CSS("#by-numbers summary")))
	for field, v := range map[string]string{"left": "500", "top": "500", "width": "120", "height": "90"} {
		p.do(chromedp.SendKeys(chromedp.CSS("#by-numbers input[name="+field+"]"), v))
	}
	p.do(
		chromedp.Click(chromedp.CSS("#by-numbers button.act")),
		chromedp.WaitVisible(chromedp.CSS("#area-read .answers")),
	)
}

// Pictures of different faces are shown unregistered, and the sentence says why.
func TestResultsOfDifferentFaces(t *testing.T) {
	b := newBench(t)
	id := record.NewCaseID(time.Now())
	b.write(
		id,
		record.Opened{Number: "1", Title: "Leaf"},
		record.MakeUp{InnerSheets: 1, Cover: "self", Binding: "loose", FirstPage: 1},
	)
	for i, name := range []string{"breviar.38.150.jpg", "cat.007.jpg"} {
		data, err := os.ReadFile(photograph(t, name))
		if err != nil {
			t.Fatal(err)
		}
		m := decoded(t, data)
		h, err := b.store.PutPhoto(t.Context(), bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		b.write(
			id,
			record.Photo{
				Hash:     h.Hash,
				Bytes:    h.Bytes,
				Format:   "jpeg",
				WidthPx:  m.W,
				HeightPx: m.H,
				Stage:    []record.Stage{"before", "after"}[i],
				Light:    "normal",
				Place:    record.Place{Sheets: []int{1}, Face: "outer"},
			},
		)
	}
	p := b.open(phone, "/")
	p.as("KM")
	p.openViewer(id)
	p.see("do not show the same face")
	p.see("not laid on each other")
	p.notSee("ΔE00")
	p.touch("Blink")
	p.touch("Stop blinking")
	p.touch("Show the other")
	p.touch("Side by side")
	p.until("two views stand under each other", `document.querySelectorAll(".viewer-view canvas").length === 2`)
	p.run("scrollTo(0, 0)")
	p.axe()
	p.shot("results-different")
}
