package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
)

// runCompare runs the program and returns its exit status and what it wrote.
func runCompare(t testing.TB, args ...string) (status int, out, errs string) {
	t.Helper()
	var o, e bytes.Buffer
	m := &Main{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e}
	status = m.Do(t.Context(), append([]string{"compare"}, args...))
	return status, o.String(), e.String()
}

// A photographed page of the test data, and the same page taken again by
// program: turned, shifted, nearer, in warmer light that falls off to the right.
type comparePair struct {
	dir, before, after string
	turn               f64.Aff3 // before to after pixels
}

func makePair(t testing.TB, pixels float64) comparePair {
	t.Helper()
	page := readPicture(t, "../../photo/testdata/cookbook-page-a.jpg")
	k := math.Sqrt(pixels / float64(page.Bounds().Dx()*page.Bounds().Dy()))
	w, h := int(float64(page.Bounds().Dx())*k), int(float64(page.Bounds().Dy())*k)
	sin, cos := math.Sincos(2.5 * math.Pi / 180)
	const zoom = 1.03
	p := comparePair{dir: t.TempDir()}
	p.turn = f64.Aff3{zoom * cos, -zoom * sin, 0.03 * float64(w), zoom * sin, zoom * cos, -0.02 * float64(h)}
	before, after := image.NewRGBA(image.Rect(0, 0, w, h)), image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(after, after.Rect, image.NewUniform(color.RGBA{60, 50, 45, 255}), image.Point{}, draw.Src)
	// x/image counts from the corners of pixels, we from their middles.
	toAfter := p.turn
	toAfter[2] += 0.5 - 0.5*(toAfter[0]+toAfter[1])
	toAfter[5] += 0.5 - 0.5*(toAfter[3]+toAfter[4])
	draw.CatmullRom.Scale(before, before.Rect, page, page.Bounds(), draw.Src, nil)
	draw.CatmullRom.Transform(after, toAfter, before, before.Rect, draw.Over, nil)
	for y := range h {
		for x := range w {
			i := after.PixOffset(x, y)
			fall := 1 - 0.1*float64(x)/float64(w)
			for c, gain := range [3]float64{1, 0.98, 0.93} {
				after.Pix[i+c] = uint8(float64(after.Pix[i+c])*gain*fall + 0.5)
			}
		}
	}
	p.before, p.after = filepath.Join(p.dir, "before.jpg"), filepath.Join(p.dir, "after.jpg")
	writeJPEG(t, p.before, before, 92)
	writeJPEG(t, p.after, after, 88)
	return p
}

func readPicture(t testing.TB, path string) image.Image {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func writeJPEG(t testing.TB, path string, m image.Image, quality int) {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

func (p *comparePair) mapped(x, y float64) (float64, float64) {
	m := p.turn
	return m[0]*x + m[1]*y + m[2], m[3]*x + m[4]*y + m[5]
}

// The fixed fields of the answer, and what they must say of a pair whose
// geometry is known.
func TestCompareCommand(t *testing.T) {
	p := makePair(t, 0.8e6)
	places := [][2]float64{{150, 250}, {450.5, 520.25}, {800, 400}}
	var csv strings.Builder
	csv.WriteString("x,y\n# the corners of a column\n\n")
	for _, q := range places {
		csv.WriteString(strconv.FormatFloat(q[0], 'g', -1, 64) + "," + strconv.FormatFloat(q[1], 'g', -1, 64) + "\n")
	}
	points := filepath.Join(p.dir, "points.csv")
	if err := os.WriteFile(points, []byte(csv.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(p.dir, "out")
	status, stdout, stderr := runCompare(
		t,
		p.before,
		p.after,
		"--map-points",
		points,
		"--out",
		out,
		"--mm-per-px",
		"0.1",
		"--json",
	)
	if status != 0 || stderr != "" {
		t.Fatalf("status %d: %s", status, stderr)
	}
	var got struct {
		Verdict    string
		Homography []float64
		Residual   *float64                             `json:"residual_px_median"`
		Overlap    float64                              `json:"overlap"`
		DE00       *struct{ Median, Mean, P95 float64 } `json:"de00"`
		Trend      *struct{ Median, Mean, P95 float64 } `json:"trend_removed_de00"`
		Mapped     [][]float64                          `json:"mapped_points"`
		Files      []string
	}
	if err := json.Unmarshal([]byte(stdout), &got); err != nil {
		t.Fatal(err)
	}
	if got.Verdict != "aligned" || len(got.Homography) != 9 || got.Residual == nil || got.DE00 == nil ||
		got.Trend == nil {
		t.Fatalf("answer lacks a field: %s", stdout)
	}
	if *got.Residual > 0.3 || got.Overlap < 0.85 || got.Overlap > 1 {
		t.Errorf("residual %.2f px, overlap %.2f", *got.Residual, got.Overlap)
	}
	if len(got.Mapped) != len(places) {
		t.Fatalf("%d mapped points, want %d", len(got.Mapped), len(places))
	}
	for i, q := range places {
		x, y := p.mapped(q[0], q[1])
		if d := math.Hypot(got.Mapped[i][0]-x, got.Mapped[i][1]-y); d > 0.3 {
			t.Errorf("%v is mapped to %.2f, want %.2f, %.2f", q, got.Mapped[i], x, y)
		}
		h := got.Homography
		k := h[6]*q[0] + h[7]*q[1] + h[8]
		if d := math.Hypot((h[0]*q[0]+h[1]*q[1]+h[2])/k-x, (h[3]*q[0]+h[4]*q[1]+h[5])/k-y); d > 0.6 {
			t.Errorf("the homography misses %v by %.2f px", q, d)
		}
	}
	// The light was changed and nothing else.
	if got.DE00.Median < 2 || got.Trend.Median > 1 || got.Trend.P95 > got.DE00.P95 {
		t.Errorf("dE00 %+v, without trend %+v", *got.DE00, *got.Trend)
	}
	want := []string{
		"after-aligned.jpg",
		"map-de00.png",
		"map-de00-even.png",
		"map-dl.png",
		"map-dl-even.png",
		"map-db.png",
		"map-db-even.png",
		"mask-compared.png",
		"mask-print.png",
		"mask-glare.png",
		"figure.png",
	}
	if len(got.Files) != len(want) {
		t.Errorf("files %v", got.Files)
	}
	for _, name := range want {
		m := readPicture(t, filepath.Join(out, name))
		if m.Bounds().Dx() < 100 {
			t.Errorf("%s is %v", name, m.Bounds())
		}
	}
	aligned := readPicture(t, filepath.Join(out, "after-aligned.jpg")).Bounds()
	if b := readPicture(t, p.before).Bounds(); aligned != b {
		t.Errorf("the aligned picture is %v, the before picture %v", aligned, b)
	}
	if _, prose, _ := runCompare(t, p.before, p.after); !strings.HasPrefix(prose, "aligned: ") ||
		!strings.Contains(prose, "ΔE00, light evened") ||
		!strings.Contains(prose, "The paper differs by") {
		t.Errorf("prose: %s", prose)
	}
}

// Different faces are an answer, not a failure: status 0, the verdict, a
// sentence, and null where a number would mean nothing.
func TestCompareDifferentFaces(t *testing.T) {
	status, out, errs := runCompare(
		t,
		"../../photo/testdata/cat.007.jpg",
		"../../photo/testdata/cavalerie.11.jpg",
		"--json",
	)
	if status != 0 {
		t.Fatalf("status %d: %s", status, errs)
	}
	var got map[string]any
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if got["verdict"] != "different" || got["homography"] != nil || got["de00"] != nil ||
		got["residual_px_median"] != nil {
		t.Errorf("%s", out)
	}
	if say, _ := got["say"].(string); !strings.Contains(say, "do not show the same face") {
		t.Errorf("it says %q", say)
	}
	if points, ok := got["mapped_points"].([]any); !ok || len(points) != 0 {
		t.Errorf("mapped points %v", got["mapped_points"])
	}
}

// What cannot be read is refused with one sentence that names the file.
func TestCompareBadPictures(t *testing.T) {
	dir := t.TempDir()
	good := "../../photo/testdata/cat.007.jpg"
	file := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, path, says string
	}{
		{"missing", filepath.Join(dir, "none.jpg"), "cannot be read"},
		{"folder", dir, "is a folder"},
		{"empty", file("empty.jpg", nil), "0 bytes"},
		{"text", file("text.jpg", []byte("a word about the weather, long enough for a header")), "not a picture"},
		{"broken off", file("half.jpg", whole[:len(whole)/3]), "breaks off"},
		{"20000 by 20000", file("large.png", pngHeaderOf(20000, 20000)), "20000 by 20000 pixels, 400 megapixels; " +
			"pictures up to 120"},
		{"bomb", file("bomb.png", pngHeaderOf(1<<30, 1<<30)), "megapixels"},
	} {
		status, out, errs := runCompare(t, good, c.path)
		if status != 1 || out != "" || !strings.Contains(errs, c.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: status %d, %q, want a sentence with %q", c.name, status, errs, c.says)
		}
	}
}

// pngHeaderOf is a PNG that claims a size and holds nothing.
func pngHeaderOf(w, h int) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		panic(err)
	}
	out := b.Bytes()
	for i := range 4 {
		out[16+i], out[20+i] = byte(w>>(24-8*i)), byte(h>>(24-8*i))
	}
	return out
}

func TestCompareBadUse(t *testing.T) {
	good := "../../photo/testdata/cat.007.jpg"
	points := filepath.Join(t.TempDir(), "points.csv")
	if err := os.WriteFile(points, []byte("x,y\n10,20\n30;40\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		args   []string
		status int
		says   string
	}{
		{"one picture", []string{good}, 2, "after"},
		{"scale", []string{good, good, "--mm-per-px", "-1"}, 2, "mm-per-px"},
		{"both from standard input", []string{"-", "-"}, 2, "standard input"},
		{"bad place", []string{good, good, "--map-points", points}, 1, "line 3"},
		{"no places", []string{good, good, "--map-points", points + "x"}, 1, "cannot be read"},
	} {
		if status, _, errs := runCompare(t, c.args...); status != c.status || !strings.Contains(errs, c.says) {
			t.Errorf("%s: status %d, %q; want %d and %q", c.name, status, errs, c.status, c.says)
		}
	}
}

// Odd pictures that can be read give an answer with a warning, and never a
// failure.
func TestCompareOddPictures(t *testing.T) {
	dir := t.TempDir()
	save := func(name string, m image.Image) string {
		path := filepath.Join(dir, name)
		var b bytes.Buffer
		if err := png.Encode(&b, m); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	page := readPicture(t, "../../photo/testdata/cat.007.jpg")
	b := page.Bounds()
	grey, deep := image.NewGray(b), image.NewRGBA64(b)
	glare := image.NewRGBA(b)
	draw.Draw(grey, b, page, b.Min, draw.Src)
	draw.Draw(deep, b, page, b.Min, draw.Src)
	draw.Draw(glare, b, page, b.Min, draw.Src)
	spot := image.Rect(b.Dx()/3, b.Dy()/3, b.Dx()/2, b.Dy()/2)
	draw.Draw(glare, spot, image.White, image.Point{}, draw.Src)
	soft := image.NewRGBA(b)
	small := image.NewRGBA(image.Rect(0, 0, b.Dx()/9, b.Dy()/9))
	draw.BiLinear.Scale(small, small.Rect, page, b, draw.Src, nil)
	draw.BiLinear.Scale(soft, b, small, small.Rect, draw.Src, nil)
	blank := image.NewRGBA(b)
	draw.Draw(blank, b, image.NewUniform(color.RGBA{220, 210, 190, 255}), image.Point{}, draw.Src)
	first := save("page.png", page)
	for _, c := range []struct {
		name, path, verdict, warns string
	}{
		{"16-bit", save("deep.png", deep), "aligned", ""},
		{"grey", save("grey.png", grey), "aligned", "unknown colour profile"},
		{"glare", save("glare.png", glare), "", "glare"},
		{"blurred", save("soft.png", soft), "", "blur"},
		{"blank", save("blank.png", blank), "different", "blank"},
		{"one pixel", save("one.png", image.NewRGBA(image.Rect(0, 0, 1, 1))), "different", "blank"},
	} {
		status, out, errs := runCompare(t, first, c.path, "--json")
		if status != 0 {
			t.Errorf("%s: status %d, %s", c.name, status, errs)
			continue
		}
		var got struct {
			Verdict  string
			Say      string
			Clipped  float64 `json:"clipped_fraction"`
			Warnings []struct{ Kind, Say string }
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatal(err)
		}
		has := false
		for _, w := range got.Warnings {
			has = has || w.Kind == c.warns
		}
		if c.verdict != "" && got.Verdict != c.verdict || c.warns != "" && !has || got.Say == "" {
			t.Errorf(
				"%s: verdict %q, %q, warnings %+v; want %q with a warning of %q",
				c.name,
				got.Verdict,
				got.Say,
				got.Warnings,
				c.verdict,
				c.warns,
			)
		}
		if c.name == "glare" && math.Abs(got.Clipped-1.0/36) > 0.02 {
			t.Errorf("glare: %.3f of the sheet is left out, want about %.3f", got.Clipped, 1.0/36)
		}
	}
}

// The whole command on a pair of ten-megapixel JPEG: reading, decoding,
// alignment and statistics.
func BenchmarkCompare10MP(b *testing.B) {
	p := makePair(b, 10e6)
	for b.Loop() {
		if status, _, errs := runCompare(b, p.before, p.after, "--json"); status != 0 {
			b.Fatal(errs)
		}
	}
}
