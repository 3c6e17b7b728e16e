package web

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
)

// boundedPrint fails when what papers show of a comparison is of another size or
// kind than they are made for.
func boundedPrint(t *testing.T, p *account.ComparedPictures) {
	t.Helper()
	if p == nil {
		t.Fatal("nothing is kept for papers")
	}
	jpegConfig := func(b []byte) (image.Config, error) { return jpeg.DecodeConfig(bytes.NewReader(b)) }
	ratio := float64(p.Frame.Dx()) / float64(p.Frame.Dy())
	total := 0
	for name, x := range map[string]struct {
		data   []byte
		config func([]byte) (image.Config, error)
		long   int
	}{
		"before": {p.Before, jpegConfig, 800},
		"after":  {p.After, jpegConfig, 800},
		"map":    {p.Map, func(b []byte) (image.Config, error) { return png.DecodeConfig(bytes.NewReader(b)) }, 600},
	} {
		total += len(x.data)
		cfg, err := x.config(x.data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if long := max(cfg.Width, cfg.Height); long > x.long || long < x.long/2 {
			t.Errorf(
				"%s is %d by %d pixels, want at most %d and not much less along the longer side",
				name,
				cfg.Width,
				cfg.Height,
				x.long,
			)
		}
		if got := float64(cfg.Width) / float64(cfg.Height); got < 0.99*ratio || got > 1.01*ratio {
			t.Errorf(
				"%s is %d by %d pixels, and its frame %v: it would be stretched",
				name,
				cfg.Width,
				cfg.Height,
				p.Frame,
			)
		}
	}
	// 18 faces, of 32 pages and a cover, and half a megabyte for each ten pages.
	if most := 450 << 10; total > most {
		t.Errorf("one face takes %d kB of a paper, want at most %d", total>>10, most>>10)
	}
}

func TestWhatWasComparedStandsInTheReport(t *testing.T) {
	comparesPictures(t)
	s, _ := newServer(t)
	id, of := aPair(t, s)
	s.bring(t, id, of)
	c, _ := s.store.Case(t.Context(), id)
	write(t, s, id, s.pictures.Numbers(of).Body(c, of))
	c, _ = s.store.Case(t.Context(), id)
	kept, err := s.pictures.Prints(t.Context(), c).Comparison(&c.Compared[0])
	if err != nil {
		t.Fatal(err)
	}
	boundedPrint(t, kept)
	report := func() []byte {
		t.Helper()
		w := answerTo(s, request("GET", casePath(id, "report.pdf"), nil))
		if w.Code != http.StatusOK || !bytes.HasPrefix(w.Body.Bytes(), []byte("%PDF-")) {
			t.Fatalf("the report answers %d: %.200s", w.Code, w.Body)
		}
		return w.Body.Bytes()
	}
	drawing := func() string {
		t.Helper()
		return see(t, answerTo(s, request("GET", casePath(id, "papers"), nil))).text(".next .why")
	}
	first := report()
	if !bytes.Contains(first, kept.Before) || !bytes.Contains(first, kept.After) {
		t.Error("the report does not hold the two pictures that were laid on each other")
	}
	if got := drawing(); strings.Contains(got, "being drawn") {
		t.Errorf("the pictures are there, and the page says %q", got)
	}

	// Without the cache they are drawn again: the page begins it, the report waits.
	if err := os.RemoveAll(filepath.Join(s.store.Dir(), "cache")); err != nil {
		t.Fatal(err)
	}
	release := s.pictures.Hold() // another picture has the turn
	if got := drawing(); !strings.Contains(got, "The pictures of one comparison are being drawn for it") {
		t.Errorf("the cache is gone, and the page says %q", got)
	}
	release()
	if again := report(); !bytes.Equal(again, first) {
		t.Error("after the cache was deleted, the same record gave another report")
	}

	// Where nothing can be kept, the report only takes longer.
	cache := filepath.Join(s.store.Dir(), "cache")
	if err := os.RemoveAll(cache); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(cache, []byte("a file stands in its place"), 0o600); err != nil {
		t.Fatal(err)
	}
	if again := report(); !bytes.Equal(again, first) {
		t.Error("without a cache, the same record gave another report")
	}
	if err := os.Remove(cache); err != nil {
		t.Fatal(err)
	}

	// A colour that is set later is no part of what was recorded.
	colour := record.PhotoColour{
		Method:    "grey-card",
		Lightness: 50,
		Corners:   [4][2]float64{{1, 1}, {9, 1}, {9, 9}, {1, 9}},
		Fit:       "grey card",
		Exponent:  1,
		Coefficients: [3][]float64{
			{0.9, 0, 0},
			{0, 0.9, 0},
			{0, 0, 0.9},
		},
		Profile:       "sRGB",
		ErrorDE00:     1,
		ErrorHighDE00: 2,
	}
	for _, h := range []record.Hash{of.Before, of.After} {
		colour.Photo = h
		write(t, s, id, colour)
	}
	c, _ = s.store.Case(t.Context(), id)
	if then, err := pictures.Recorded(c, &c.Compared[0]); err != nil || then != of {
		t.Errorf("the recorded pair is %+v, %v; want %+v", then, err, of)
	}
	// Recorded by another colour than the record can tell of: nothing fits it.
	other := c.Compared[0]
	other.Body.Colour = "before set by a grey card of L* 50, after by a grey card of L* 50"
	if _, err := s.pictures.Prints(t.Context(), c).Comparison(&other); err == nil ||
		!strings.Contains(err.Error(), "withdrawn or corrected") {
		t.Errorf("a comparison by a colour that is gone gives %v", err)
	}
	// An earlier form of the measurement is told.
	earlier := c.Compared[0]
	earlier.Body.Method = "compare 0"
	if p, err := s.pictures.Prints(t.Context(), c).Comparison(&earlier); err != nil ||
		!strings.Contains(p.Note, "compare 0") {
		t.Errorf("a comparison by an earlier form gives %v, %v", p, err)
	}
	outside := pictures.New(s.store)
	defer outside.Close()
	p, err := outside.Prints(t.Context(), c).Comparison(&c.Compared[0])
	if err != nil || !bytes.Equal(p.Map, kept.Map) {
		t.Errorf("outside of the server the pictures are others: %v", err)
	}
}
