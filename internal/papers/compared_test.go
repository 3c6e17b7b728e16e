package papers

import (
	"errors"
	"fmt"
	"image"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// Every picture of a report has a text for those who cannot see it, the three of
// a comparison among them.
func TestPicturesHaveTexts(t *testing.T) {
	c := richCase(t)
	pdf := report(t, c, Options{Pictures: drawn{t}, Compared: drawn{t}})
	alts := figures(t, pdf)
	for _, want := range []string{
		"Photograph of sheet 2, outer face before treatment, with the areas that were measured",
		"Photograph of sheet 2, outer face after treatment, laid on the one before, with the areas that were measured",
		"Map of the change of sheet 2, outer face: colour difference, ΔE00, light evened, from as before at the " +
			"dark end, 0, to changed at the light end, 4 and more. Median 1.2.",
	} {
		if !slices.Contains(alts, want) {
			t.Errorf("no figure says %q", want)
		}
	}
	for _, alt := range alts {
		if strings.TrimSpace(alt) == "" {
			t.Error("a figure has no text")
		}
	}
	// arrival, staple, before, after, map; the nest, the map of staples and that of the findings
	if len(alts) != 8 {
		t.Errorf("%d figures, want 8: %q", len(alts), alts)
	}
	// The map is kept as a palette, which is a third of true colour.
	if list := poppler(t, "pdfimages", pdf, "-list", "FILE"); !strings.Contains(list, "300   100  index") {
		t.Errorf("the map is not among the pictures as a palette:\n%s", list)
	}
	if len(pdf) > 400<<10 {
		t.Errorf("the report takes %d kB", len(pdf)>>10)
	}
}

type comparisons func(*record.Stamped[record.FaceCompared]) (*ComparedPictures, error)

func (f comparisons) Comparison(x *record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
	return f(x)
}

func TestAComparisonWithoutItsPicturesKeepsItsNumbers(t *testing.T) {
	c := richCase(t)
	for name, x := range map[string]struct {
		compared Comparisons
		says     string
	}{
		"made without": {nil, "are not shown: this paper was made without them."},
		"gone": {comparisons(func(*record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
			return nil, errors.New("a photograph is lost")
		}), "are not shown: a photograph is lost."},
		"damaged files": {comparisons(func(*record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
			return &ComparedPictures{Before: []byte("no"), After: nil, Map: []byte("PNG"), Frame: image.Rect(0, 0, 40, 30)}, nil
		}), "The picture is not shown, since it is damaged: it is no PNG of a map."},
	} {
		t.Run(name, func(t *testing.T) {
			pdf := report(t, c, Options{Pictures: drawn{t}, Compared: x.compared})
			sound(t, pdf)
			got := wordsOf(t, pdf)
			for _, want := range []string{x.says, "3.1 ± 1.6 ΔE00", "are gone or much paler", "1520 ± 60 mm² 5.8, " +
				"after 1.4 5.2 ± 0.8 ΔE00"} {
				if !strings.Contains(got, want) {
					t.Errorf("the report does not say %q", want)
				}
			}
			if name != "damaged files" && strings.Contains(got, "utlined on the map") {
				t.Error("the report speaks of places on a map that it does not show")
			}
		})
	}
}

// facesCase is a case of 32 pages and a cover, every face compared, with an area on
// each and warnings on every third.
func facesCase(t testing.TB) *record.Case {
	j := simple(t, 8)
	var bodies []record.Body
	for n := range 9 {
		for k, face := range []string{"outer", "inner"} {
			before, after := hashOf(0), hashOf(0)
			before[1], after[1] = byte(1+4*n+2*k), byte(2+4*n+2*k)
			place := record.Place{Sheets: []int{n}, Face: record.Face(face)}
			for stage, h := range map[string]record.Hash{"before": before, "after": after} {
				bodies = append(
					bodies,
					record.Photo{
						Hash:     h,
						Bytes:    1,
						Format:   "jpeg",
						WidthPx:  800,
						HeightPx: 600,
						Stage:    record.Stage(stage),
						Light:    "normal",
						Place:    place,
					},
				)
			}
			// Maps have no order, journals have.
			if b := bodies[len(bodies)-2:]; b[0].(record.Photo).Stage == "after" {
				b[0], b[1] = b[1], b[0]
			}
			c := record.FaceCompared{
				Before:               before,
				After:                after,
				Place:                place,
				PaperDE00:            f(3.1),
				PaperDE00Uncertainty: f(0.8),
				DE00:                 3.4,
				DE00Trend:            1.2,
				ResidualPx:           0.07,
				ComparedPercent:      98.5,
				Colour:               "as the cameras wrote it",
				Method:               "compare 1",
			}
			if n%3 == 0 {
				c.Warnings = []string{
					lostPrint,
					"The after picture is blurred: its sharpest edges spread over 2.4 pixels, where 1 is sharp.",
				}
			}
			bodies = append(
				bodies,
				c,
				record.AreaOutlined{
					ID:          record.NewID(j.now.Add(time.Duration(len(bodies)) * time.Second)),
					Photo:       before,
					Place:       place,
					Look:        "tideline",
					FoundBy:     "drawn",
					OutlinePx:   []record.Ring{{{10, 10}, {200, 10}, {200, 60}}},
					FacePercent: f(2.1),
				},
			)
		}
	}
	j.many(bodies)
	c := record.Fold(j.entries)
	if len(c.Compared) != 18 || len(c.Problems) > 0 {
		t.Fatalf("%d faces, problems %v", len(c.Compared), c.Problems)
	}
	return c
}

// eighteen hands out one pair of the size of a print for every face.
func eighteen(t testing.TB) Options {
	pair, err := drawn{t}.Comparison(nil)
	if err != nil {
		t.Fatal(err)
	}
	pair.Before, pair.After, pair.Frame = pageJPEG(800, 617, 180), pageJPEG(800, 617, 215), image.Rect(0, 0, 800, 617)
	return Options{
		Pictures: countless{pair.Before},
		Compared: comparisons(
			func(*record.Stamped[record.FaceCompared]) (*ComparedPictures, error) { return pair, nil },
		),
	}
}

func TestReportOfACaseComparedFaceByFace(t *testing.T) {
	c, o := facesCase(t), eighteen(t)
	o.Size = "Letter"
	sound(t, report(t, c, o))
	o.Size = "A4"
	pdf := report(t, c, o)
	sound(t, pdf)
	if n := len(figures(t, pdf)); n != 3*18+1 {
		t.Errorf("%d figures, want three for each of 18 faces, and the nest", n)
	}
	for i, p := range pages(t, pdf) {
		if text := runningHead.ReplaceAllString(p, ""); len(text) < 60 {
			t.Errorf("page %d is all but empty: %q", i+1, p)
		}
	}
	got := wordsOf(t, pdf)
	if n := strings.Count(got, "The bare paper is"); n != 18 {
		t.Errorf("%d of 18 faces say what became of the paper", n)
	}
}

// More is said of a face than a page holds, and its pictures show no part of it.
func TestAFaceOfManyAreas(t *testing.T) {
	j := simple(t, 1)
	place := record.Place{Sheets: []int{1}, Face: "outer"}
	bodies := []record.Body{
		record.Photo{
			Hash:     hashOf(1),
			Bytes:    1,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "before",
			Light:    "normal",
			Place:    place,
		},
		record.Photo{
			Hash:     hashOf(2),
			Bytes:    1,
			Format:   "jpeg",
			WidthPx:  600,
			HeightPx: 400,
			Stage:    "after",
			Light:    "normal",
			Place:    place,
		},
		record.FaceCompared{
			Before:   hashOf(1),
			After:    hashOf(2),
			Place:    place,
			Colour:   strings.Repeat("by a chart of a long name ", 9),
			Warnings: []string{strings.Repeat("Word ", 900)},
			Method:   "compare 1",
		},
	}
	for i := range 120 {
		bodies = append(
			bodies,
			record.AreaOutlined{
				ID:        record.NewID(j.now.Add(time.Duration(i) * time.Second)),
				Photo:     hashOf(1),
				Place:     place,
				Look:      "foxing",
				FoundBy:   "measured",
				Name:      fmt.Sprintf("<%03d>", i),
				OutlinePx: []record.Ring{{{0, 0}, {599, 0}, {599, 399}}, {{5, 5}, {9, 5}, {9, 9}}},
			},
		)
	}
	j.many(bodies)
	for name, frame := range map[string]image.Rectangle{"a frame": image.Rect(0, 200, 600, 400), "no frame": {}, "a frame beside the areas": image.Rect(9000, 9000, 9600, 9400), "a sliver": image.Rect(0, 0, 2, 4000)} {
		t.Run(name, func(t *testing.T) {
			pdf := report(
				t,
				record.Fold(j.entries),
				Options{
					Pictures: drawn{t},
					Compared: comparisons(func(x *record.Stamped[record.FaceCompared]) (*ComparedPictures, error) {
						pair, err := drawn{t}.Comparison(x)
						pair.Frame = frame
						return pair, err
					}),
				},
			)
			sound(t, pdf)
			got := wordsOf(t, pdf)
			for i := range 120 {
				if want := fmt.Sprintf("<%03d>", i); strings.Count(got, want) != 1 {
					t.Errorf("area %s stands %d times in the report", want, strings.Count(got, want))
				}
			}
		})
	}
}

// runningHead is the head and the foot of a page as its text begins.
var runningHead = regexp.MustCompile(`^.*?page \d+ of \d+( From a journal of .*?carries the seal \S+)?`)

func BenchmarkReport18Faces(b *testing.B) {
	c, o := facesCase(b), eighteen(b)
	st, _, _ := testStudio(b)
	for b.Loop() {
		pdf, err := Report(c, st, o)
		if err != nil {
			b.Fatal(err)
		}
		b.SetBytes(int64(len(pdf)))
	}
}

func TestPaperChanged(t *testing.T) {
	for _, x := range []struct {
		name string
		b    record.FaceCompared
		want string
	}{
		{"lighter", record.FaceCompared{PaperDE00: f(3.1), PaperDE00Uncertainty: f(0.7), PaperBeforeLab: [3]float64{78, 2, 20}, PaperAfterLab: [3]float64{81, 2, 16}}, "The bare paper is 3.0 lighter and 4.0 less yellow than before: 3.1 ± 1.4\u00a0ΔE00."},
		{"darker", record.FaceCompared{PaperDE00: f(2), PaperDE00Uncertainty: f(1), PaperBeforeLab: [3]float64{78, 2, 20}, PaperAfterLab: [3]float64{77.5, 2, 22}}, "The bare paper is 0.5 darker and 2.0 yellower than before: 2.0 ± 2.0\u00a0ΔE00."},
		{"within the uncertainty", record.FaceCompared{PaperDE00: f(3.1), PaperDE00Uncertainty: f(1.6)}, "No change of the bare paper was measured: 3.1 ± 3.2\u00a0ΔE00 is within what two such photographs of one sheet may differ by."},
		{"no paper", record.FaceCompared{}, "Hardly any bare paper is seen in both photographs, so the colour of " +
			"the paper could not be compared."},
	} {
		if got := paperChanged(&x.b); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}

func TestWarningsAreCountedAndPlaced(t *testing.T) {
	ring := []photo.Point{{X: 1, Y: 1}, {X: 5, Y: 1}, {X: 5, Y: 5}}
	list := countedWarnings(
		[]string{"ink", "ink", "blur", "line"},
		[]ComparedPlace{
			{Say: "ink", Outline: ring},
			{Say: "line", Outline: ring},
			{Say: "ink", Outline: ring},
			{Say: "ink", Outline: ring[:2]},
			{Say: "other", Outline: ring},
		},
	)
	if len(list) != 3 || list[0].first != 1 || len(list[0].outlines) != 2 || list[1].say != "blur" ||
		len(list[1].outlines) != 0 ||
		list[2].first != 3 ||
		len(list[2].outlines) != 1 {
		t.Errorf("counted as %+v", list)
	}
}

func TestAdoptedValuesSayWhenALaterOneCounts(t *testing.T) {
	j := newJournal(t, record.NewCaseID(evening))
	j.add(
		record.Opened{Number: "1", Title: "x"},
		record.MakeUp{InnerSheets: 4, Cover: "self", Binding: "loose", FirstPage: 1},
	)
	n := j.write(
		record.Reading{
			Quantity: "mass",
			Value:    14,
			Method:   "balance",
			Stage:    "during",
			Place:    record.Place{Sheets: []int{1}},
		},
		0,
	)
	adopt := func(best float64, sheets ...int) {
		j.add(
			record.ValueAdopted{
				Quantity:  "pick-up",
				Unit:      "g/g",
				Value:     record.Range{Low: best - 0.1, Best: best, High: best + 0.1},
				FromSheet: 1,
				Readings:  []int64{n},
				Sheets:    sheets,
				Reason:    "one stock",
			},
		)
	}
	adopt(2, 2, 3, 4)
	adopt(2.4, 3, 4)
	got := wordsOf(t, report(t, record.Fold(j.entries), Options{}))
	for _, want := range []string{
		"How much liquid the paper holds was estimated from readings on sheet 1: 2.0 g/g (1.9 to 2.1), without allowing " +
			"for how sheets of one paper differ. Sheets 2 to 4 were from then on planned with that, in place of what is " +
			"usual for such paper. Why: One stock.",
		"sheets 2 to 4 now replaced for sheets 3 and 4", "2.4 g/g (2.3 to 2.5)",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the report does not say %q: %s", want, got)
		}
	}
}

func TestLetters(t *testing.T) {
	for n, want := range map[int]string{0: "A", 25: "Z", 26: "AA", 51: "AZ", 52: "BA", 701: "ZZ"} {
		if got := letter(n); got != want {
			t.Errorf("letter %d is %q, want %q", n, got, want)
		}
	}
}
