package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// stainedSheet writes a PNG of cream paper with a brown disc of the radius given
// in pixels in its middle, and a little grain.
func stainedSheet(t *testing.T, radius float64) string {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 400, 500))
	for y := range 500 {
		for x := range 400 {
			c := color.RGBA{232, 224, 204, 255}
			if math.Hypot(float64(x)-200, float64(y)-250) < radius {
				c = color.RGBA{205, 178, 132, 255}
			}
			grain := uint8((x*7919 + y*104729 + x*y*31) % 5)
			m.SetRGBA(x, y, color.RGBA{c.R - grain, c.G - grain, c.B - grain, 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "sheet.png")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// A disc of known area: pi r^2 pixels, at a known scale.
func TestStainsCommand(t *testing.T) {
	const radius = 50
	dir := filepath.Join(t.TempDir(), "out")
	status, out, errs := do(t, "", "stains", stainedSheet(t, radius), "--json", "--mm-per-px", "0.2", "--out", dir)
	if status != 0 || errs != "" {
		t.Fatalf("status %d, %s", status, errs)
	}
	var got struct {
		Regions []struct {
			Kind     string
			AreaPx   float64 `json:"area_px"`
			AreaMM2  float64 `json:"area_mm2"`
			BBox     [4]int
			MeanDE00 float64 `json:"mean_de00"`
		}
		StainedFraction float64 `json:"stained_fraction"`
		Mask            string
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Regions) != 1 {
		t.Fatalf("%d regions, want 1: %s", len(got.Regions), out)
	}
	r, area := got.Regions[0], math.Pi*radius*radius
	if r.Kind != "stain" || math.Abs(r.AreaPx-area) > 0.05*area || math.Abs(r.AreaMM2-r.AreaPx*0.04) > 1e-6*area {
		t.Errorf(
			"%s of %.0f px, %.1f mm2; want a stain of %.0f px, %.1f mm2",
			r.Kind,
			r.AreaPx,
			r.AreaMM2,
			area,
			area*0.04,
		)
	}
	if r.BBox[2] < 96 || r.BBox[2] > 106 || r.BBox[0] < 146 || r.BBox[0] > 153 {
		t.Errorf("box %v, want about [150 200 100 100]", r.BBox)
	}
	if r.MeanDE00 < 12 || r.MeanDE00 > 22 {
		t.Errorf("mean dE00 %.1f", r.MeanDE00)
	}
	f, err := os.Open(filepath.Join(dir, got.Mask))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	mask, err := png.Decode(f)
	if err != nil || mask.Bounds() != image.Rect(0, 0, 400, 500) {
		t.Fatalf("mask %v, %v", mask.Bounds(), err)
	}
	n := 0
	for _, v := range mask.(*image.Gray).Pix {
		if v == 255 {
			n++
		} else if v != 0 {
			t.Fatalf("mask value %d, want 0 or 255", v)
		}
	}
	if float64(n) != r.AreaPx {
		t.Errorf("the mask holds %d pixels, the region %.0f", n, r.AreaPx)
	}
}

func TestStainsWithoutScaleAndFolder(t *testing.T) {
	path := stainedSheet(t, 40)
	status, out, _ := do(t, "", "stains", path, "--json")
	if status != 0 || !strings.Contains(out, `"area_mm2": null`) || !strings.Contains(out, `"mask": null`) {
		t.Errorf("status %d: %s", status, out)
	}
	status, out, _ = do(t, "", "stains", path)
	if status != 0 || !strings.Contains(out, "1 region on") || !strings.Contains(out, "mean ΔE00") {
		t.Errorf("status %d: %s", status, out)
	}
}

func TestStainsRefusals(t *testing.T) {
	write := func(name string, m image.Image) string {
		var b bytes.Buffer
		if err := png.Encode(&b, m); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	text := filepath.Join(t.TempDir(), "notes.txt")
	os.WriteFile(text, []byte("no picture"), 0o600)
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"stains", write("one.png", image.NewGray(image.Rect(0, 0, 1, 1)))}, 1, "too small"},
		{[]string{"stains", write("blank.png", image.NewGray(image.Rect(0, 0, 300, 300)))}, 1, "blank"},
		{[]string{"stains", text}, 1, "notes.txt"},
		{[]string{"stains", filepath.Join(t.TempDir(), "none.jpg")}, 1, "cannot be read"},
		{[]string{"stains", text, "--mm-per-px", "-1"}, 2, "--mm-per-px"},
		{[]string{"stains", text, "--mm-per-px", "NaN"}, 2, "--mm-per-px"},
		{[]string{"stains"}, 2, "<photo>"},
	} {
		status, _, errs := do(t, "", c.args...)
		if status != c.status || !strings.Contains(errs, c.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%v: status %d, %q; want %d and %q in one line", c.args[1:], status, errs, c.status, c.says)
		}
	}
}
