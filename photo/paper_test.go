package photo

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"benchleaf/colour"
)

// Paper of a known colour under print, stained and unevenly lit, is read where
// it is commonest and without the print. The colour of sRGB values is that of
// IEC 61966-2-1, by package colour.
func TestPaperColourReadsThePaper(t *testing.T) {
	for k, paper := range [][3]float64{{190, 160, 115}, {238, 236, 230}, {222, 208, 182}}[:sweeps(2, 3)] {
		page := flatPage(700, 900, paper)
		spots(page, uint64(k), 0.6)
		tideLine(page, uint64(k), 0.5)
		m := developed(t, page, changeTake{noise: 2, perfect: true}, rand.New(rand.NewPCG(uint64(k), 1)))
		r, err := PaperColour(m, nil)
		if err != nil {
			t.Fatal(err)
		}
		want := labOf8(paper)
		if d := colour.DE2000(r.Lab, want); d > 0.5 {
			t.Errorf("paper %v is read %.1f, off by %.2f dE00", want, r.Lab, d)
		}
		if d := math.Abs(float64(r.Yellowness - want.Yellowness())); d > 1.5 {
			t.Errorf("yellowness %.1f, want %.1f", r.Yellowness, want.Yellowness())
		}
		if r.Share < 0.1 || r.Share > 0.9 || r.Note != "" {
			t.Errorf("share %.2f, note %q", r.Share, r.Note)
		}
	}
}

func TestPaperColourOnItsGround(t *testing.T) {
	paper := [3]float64{210, 190, 150}
	page := flatPage(800, 800, paper)
	ground := colour.SRGB().Linear(0.3, 0.25, 0.22)
	corners := Quad{{99.5, 149.5}, {699.5, 149.5}, {699.5, 749.5}, {99.5, 749.5}}
	for i := range 800 * 800 {
		if !corners.contains(Point{float64(i % 800), float64(i / 800)}) {
			for c := range 3 {
				page.pix[3*i+c] = float32(ground[c])
			}
		}
	}
	m := developed(t, page, changeTake{noise: 2}, rand.New(rand.NewPCG(1, 1)))
	for name, q := range map[string]*Quad{"found": nil, "given": &corners} {
		r, err := PaperColour(m, q)
		if err != nil {
			t.Fatal(err)
		}
		if d := colour.DE2000(r.Lab, labOf8(paper)); d > 0.5 {
			t.Errorf("corners %s: off by %.2f dE00", name, d)
		}
	}
}

func TestPaperColourSaysWhatLimitsIt(t *testing.T) {
	white := blankPicture(400, 500, color.White)
	r, err := PaperColour(white, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(r.Note, "overexposed") {
		t.Errorf("white paper: %q", r.Note)
	}
	page := flatPage(600, 800, [3]float64{220, 205, 180})
	for i := range page.pix {
		page.pix[i] *= float32(1 - 0.6*float64(i/3%600)/600)
	}
	r, err = PaperColour(developed(t, page, changeTake{}, nil), nil)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(r.Note, "unevenly") {
		t.Errorf("light that falls by 60 %%: %q, spread %.1f", r.Note, r.Spread)
	}
	if _, err := PaperColour(FromImage(image.NewRGBA(image.Rect(0, 0, 10, 10))), nil); err == nil {
		t.Error("the paper of 100 pixels was read")
	}
}
