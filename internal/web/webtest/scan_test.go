package webtest

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// pictureOf takes a picture of what a page shows, larger than it and on a grey bench, as
// a phone has it.
func (p *tab) pictureOf(selector string) string {
	p.t.Helper()
	raw, err := chromedp.Run(p.ctx, chromedp.Screenshot(chromedp.CSS(selector)))
	if err != nil {
		p.t.Fatal(err)
	}
	label, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		p.t.Fatal(err)
	}
	const scale = 3
	size := label.Bounds().Size().Mul(scale)
	bench := image.NewRGBA(image.Rect(0, 0, size.X+500, size.Y+700))
	draw.Draw(bench, bench.Bounds(), image.NewUniform(color.Gray{110}), image.Point{}, draw.Src)
	for y := range size.Y {
		for x := range size.X {
			bench.Set(200+x+y/14, 260+y-x/18, label.At(label.Bounds().Min.X+x/scale, label.Bounds().Min.Y+y/scale)) // aslant
		}
	}
	path := filepath.Join(p.t.TempDir(), "label.png")
	f, err := os.Create(path)
	if err != nil {
		p.t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, bench); err != nil {
		p.t.Fatal(err)
	}
	return path
}

// A tray and a sheet are scanned from pictures of their printed labels, and lead to a
// start with both filled in; a foreign code is told as one.
func TestScannedLabels(t *testing.T) {
	b, _, _, base := onTime(t)
	p := b.open(phone, "/")
	p.as("KM")
	p.goTo(base + "/labels")
	p.axe()
	p.screen("labels")
	nth := func(name string) string {
		return ".code-label:nth-child(" + eval[string](p, `String(Array.from(document.querySelectorAll(".code-label"))
			.findIndex((e) => e.querySelector("b").textContent === `+quote(name)+`) + 1)`) + ")"
	}
	tray, sheet := p.pictureOf(nth("Tray C")), p.pictureOf(nth("Sheet 8"))

	p.goTo("/scan")
	p.axe()
	p.run("window.__before = true")
	p.upload("Picture of a label", tray)
	p.until("the tray is read", "!window.__before")
	p.settle()
	p.see("Tray C")
	p.run("window.__before = true")
	p.upload("Picture of a label", sheet)
	p.until("the sheet is read", "!window.__before")
	p.settle()
	p.see("sheet 8")
	p.axe()
	p.screen("scanned")
	p.press("Start washing")
	if got := eval[string](p, `document.querySelector("[name=tray]").value`); got != "tray C" {
		t.Errorf("the run begins in %q, want tray C", got)
	}
	if !eval[bool](p, `document.querySelector("[name=sheets][value='8']").checked`) {
		t.Error("sheet 8 is not ticked")
	}

	p.allow("status of 422")
	p.goTo("/scan?code=https%3A%2F%2Fexample.org%2Fx")
	p.see("This code is none of this bench")
	p.see("Scan a label that was printed here")
}
