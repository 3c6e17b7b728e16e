package pictures

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo"
)

// A pack gives back every tile that photo.Tiles made, byte for byte, and refuses
// what was cut short.
func TestPackGivesBackEveryTile(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {129, 5}, {512, 512}, {513, 700}, {1500, 40}} {
		m := photo.FromImage(image.NewGray(image.Rectangle{Max: size}))
		for i := range m.Pix {
			if i%4 < 3 {
				m.Pix[i] = uint8(i * 7)
			}
		}
		var pack bytes.Buffer
		if err := writePack(t.Context(), &pack, m); err != nil {
			t.Fatal(err)
		}
		r, n := bytes.NewReader(pack.Bytes()), int64(pack.Len())
		var tiles atomic.Int32 // several goroutines make tiles
		_, err := m.Tiles(t.Context(), func(level, column, row int, jpg []byte) error {
			offset, length, err := packTile(r, n, level, column, row)
			if err != nil || !bytes.Equal(pack.Bytes()[offset:offset+length], jpg) {
				return fmt.Errorf("%v: tile %d-%d-%d: %v", size, level, column, row, err)
			}
			tiles.Add(1)
			return nil
		})
		if err != nil || tiles.Load() == 0 {
			t.Errorf("%v: %d tiles, %v", size, tiles.Load(), err)
		}
		for _, cut := range []int64{0, 4, n - 1, n / 2} {
			if _, _, err := packTile(bytes.NewReader(pack.Bytes()[:cut]), cut, 0, 0, 0); err == nil {
				t.Errorf("%v: a pack cut to %d of %d bytes gives a tile", size, cut, n)
			}
		}
	}
}

func TestCellsRound(t *testing.T) {
	quad := photo.Quad{{X: 100, Y: 50}, {X: 300, Y: 60}, {X: 310, Y: 200}, {X: 90, Y: 190}}
	for _, x := range []struct {
		name  string
		quad  photo.Quad
		cell  float64
		cells image.Point
		want  image.Rectangle
	}{
		{"with a margin", quad, 2, image.Pt(400, 300), image.Rect(43, 23, 157, 102)},
		{"within the map", quad, 2, image.Pt(150, 90), image.Rect(43, 23, 150, 90)},
		{
			"no place of it", photo.Quad{{X: -90, Y: -90}, {X: -50, Y: -90}, {X: -50, Y: -50}, {X: -90, Y: -50}}, 1,
			image.Pt(40, 30), image.Rect(0, 0, 40, 30),
		},
	} {
		if got := cellsRound(x.quad, x.cell, x.cells); got != x.want {
			t.Errorf("%s: %v, want %v", x.name, got, x.want)
		}
	}
}

func TestPrintingColoursAreNotMeasured(t *testing.T) {
	img := photo.FromImage(image.NewRGBA(image.Rect(0, 0, 100, 100)))
	b := record.PhotoColour{Method: record.ByGreyCard, Corners: Corners{{10, 10}, {90, 10}, {90, 90}, {10, 90}}}
	err := readColour(&b, img, &photo.Info{ColourModel: "CMYK", Profile: "sRGB"}, nil)
	if list, ok := record.Refusals(err); !ok || len(list) != 1 || list[0].Field != "corners" {
		t.Errorf("printing colours: %v, want a refusal at the corners", err)
	}
}

// small draws a page of lines of print on a dark ground, 520 by 400 pixels: after
// treatment its paper is lighter and a stain on it weaker.
func small(after bool) *photo.Image {
	m := image.NewRGBA(image.Rect(0, 0, 520, 400))
	seed := uint32(7)
	random := func(n int) int { // Numerical Recipes' quick generator, the same everywhere
		seed = seed*1664525 + 1013904223
		return int(seed>>16) % n
	}
	fill := func(r image.Rectangle, c color.RGBA) { draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src) }
	page := image.Rect(30, 24, 490, 376)
	fill(m.Rect, color.RGBA{58, 60, 66, 255})
	paper, stain := color.RGBA{206, 188, 148, 255}, color.RGBA{164, 122, 70, 255}
	if after {
		paper, stain = color.RGBA{218, 204, 170, 255}, color.RGBA{196, 170, 124, 255}
	}
	fill(page, paper)
	for y := range 400 {
		for x := range 520 {
			if dx, dy := x-360, y-110; dx*dx+2*dy*dy < 45*45 {
				m.SetRGBA(x, y, stain)
			}
		}
	}
	for y := 44; y < 350; y += 13 {
		for x := 52; x < 460; {
			w := 3 + random(11)
			fill(image.Rect(x, y+random(3), x+w, y+4+random(4)), color.RGBA{52, 46, 44, 255})
			x += w + 3 + random(9)
		}
	}
	return photo.FromImage(m)
}

// rounded keeps of numbers what is kept of them: digests do not change with what
// nobody sees.
func rounded(v any) any {
	switch v := v.(type) {
	case float64:
		return fmt.Sprintf("%.2f", Hundredths(v)+0)
	case []any:
		for i := range v {
			v[i] = rounded(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = rounded(v[k])
		}
		delete(v, "method")
	}
	return v
}

func digest(t *testing.T, v any) string {
	t.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	var x any
	if err := json.Unmarshal(raw, &x); err != nil {
		t.Fatal(err)
	}
	if raw, err = json.Marshal(rounded(x)); err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:4])
}

// The form of the cache goes with what package photo measures. Processors other
// than amd64 join multiplication and addition, and their last figures differ.
func TestFormsAreThoseOfWhatPhotoMeasures(t *testing.T) {
	if runtime.GOARCH != "amd64" {
		t.Skip("the digests are those of amd64")
	}
	before, after := small(false), small(true)
	c, err := photo.Compare(t.Context(), before, after, photo.CompareOptions{})
	if err != nil || !c.Compared || c.Alignment.Verdict != photo.Aligned {
		t.Fatalf("the drawings are not compared: %v, %+v", err, c.Alignment)
	}
	n := numbersOf(c)
	var maps []any
	for _, kind := range photo.MapKinds() {
		var values []float64
		for y := 40.0; y < 380; y += 40 {
			for x := 40.0; x < 500; x += 40 {
				v, _ := c.ValueAt(kind, photo.Point{X: x, Y: y})
				values = append(values, v)
			}
		}
		maps = append(maps, kind, Legend(c.Map(kind).Legend), values)
	}
	region, err := c.Region([][]photo.Point{{{X: 330, Y: 90}, {X: 390, Y: 90}, {X: 360, Y: 130}}})
	if err != nil {
		t.Fatal(err)
	}
	found, err := photo.FindStains(t.Context(), before, photo.StainOptions{})
	if err != nil || len(found.Regions) == 0 {
		t.Fatalf("no stain is found: %v", err)
	}
	for name, x := range map[string]struct {
		digest string
		forms  []string
	}{
		"compareForms": {digest(t, []any{n, maps, region}), compareForms},
		"stainForms":   {digest(t, stainsOf(found)), stainForms},
	} {
		if x.digest != x.forms[len(x.forms)-1] {
			t.Errorf("package photo measures otherwise than in form %d: append %q to %s in form.go, "+
				"so that what was kept and recorded is known for another form's", len(x.forms)-1, x.digest, name)
		}
	}
}

// What an earlier form kept, or a damaged file, is made anew.
func TestKeptNumbersOfAnotherFormDoNotCount(t *testing.T) {
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	of := Pair{Before: record.Hash{1}, After: record.Hash{2}}
	for method, want := range map[string]bool{compareMethod: true, "compare 1": false, "": false} {
		if err := m.keepJSON(of.Before, of.pack("numbers"), Numbers{Method: method}); err != nil {
			t.Fatal(err)
		}
		if got := m.Numbers(of) != nil; got != want {
			t.Errorf("numbers of the form %q are taken: %v", method, got)
		}
	}
	if err := m.keep(of.Before, of.pack("numbers"), []byte(`{"method":"comp`)); err != nil || m.Numbers(of) != nil {
		t.Errorf("half a file is taken for numbers, %v", err)
	}
}

func photoFile(t *testing.T) []byte {
	t.Helper()
	sizes, err := small(false).Sizes(520)
	if err != nil {
		t.Fatal(err)
	}
	return sizes[0].JPEG
}

// An upload is decoded once, and of what it was made into nothing is kept before
// an entry names it.
func TestAnUploadIsDecodedOnceAndKeptOnceAccepted(t *testing.T) {
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	u, err := m.Receive(t.Context(), bytes.NewReader(photoFile(t)), time.Now())
	if err != nil || u.Photo.WidthPx != 520 || u.Photo.HeightPx != 400 || u.Photo.Format != "jpeg" {
		t.Fatalf("received: %+v, %v", u, err)
	}
	if _, err := os.Stat(filepath.Join(s.Dir(), "cache")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("something is kept of a photograph that no entry names: %v", err)
	}
	if err := m.Keep(u); err != nil {
		t.Fatal(err)
	}
	// The original is not needed for any size any more.
	if err := s.DropPhoto(t.Context(), store.Photo{Hash: u.Photo.Hash}); err != nil {
		t.Fatal(err)
	}
	for size := range screenSizes {
		f, err := m.Open(t.Context(), u.Photo.Hash, size)
		if err != nil {
			t.Errorf("the size %s is made a second time: %v", size, err)
			continue
		}
		f.Close()
	}
	if _, err := m.Open(t.Context(), u.Photo.Hash, "huge"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a size that there is not: %v", err)
	}
}

// Whoever waits for a turn that is taken goes when their context ends.
func TestWaitingEndsWithItsContext(t *testing.T) {
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	u, err := m.Receive(t.Context(), bytes.NewReader(photoFile(t)), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	small, err := m.rooms.take(t.Context(), smallRoom)
	if err != nil {
		t.Fatal(err)
	}
	release := m.Hold()
	defer func() { small(); release() }()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	c := &record.Case{}
	b := &record.PhotoColour{
		Photo: u.Photo.Hash, Method: record.ByGreyCard, Fit: "grey card", Exponent: 1,
		Coefficients: [3][]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	}
	of := Pair{Before: u.Photo.Hash}
	for name, wait := range map[string]func() error{
		"an upload": func() error {
			_, err := m.Receive(ctx, bytes.NewReader(append(photoFile(t), 0)), time.Now())
			return err
		},
		"a size":       func() error { _, err := m.Open(ctx, u.Photo.Hash, "small"); return err },
		"a print":      func() error { _, err := m.Prints(ctx, c).Picture(u.Photo.Hash); return err },
		"a colour":     func() error { return m.ReadColour(ctx, b, nil) },
		"a correction": func() error { _, err := m.Corrected(ctx, b); return err },
		"tiles":        func() error { return m.beginTiles(u.Photo.Hash).Wait(ctx) },
		"an area": func() error {
			_, err := m.Measure(ctx, c, of, []record.Ring{{{1, 1}, {9, 1}, {9, 9}}}, false)
			return err
		},
	} {
		if err := wait(); !errors.Is(err, context.Canceled) && !errors.Is(err, errInterrupted) {
			t.Errorf("%s: %v, want that waiting ended", name, err)
		}
	}
}
