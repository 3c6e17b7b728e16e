package web

import (
	"encoding/json"
	"math"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/demo"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/words"
)

// The demonstration's closed case keeps numbers that the program found on its
// drawings and readings. Here it finds them again. With BENCHLEAF_WRITE_DEMO set
// to a file, they are written there: twice, since the comparison rests on the
// colours of the first time.
func TestDemoReaderHoldsWhatTheProgramFinds(t *testing.T) {
	if testing.Short() {
		t.Skip("it compares photographs, which takes seconds")
	}
	s, clock := serverOn(t, t.TempDir())
	clock.t = time.Now()
	if err := demo.Fill(t.Context(), s.store, clock.t); err != nil {
		t.Fatal(err)
	}
	c := demoCase(t, s, "saltmarsh")
	has := demo.ReaderNumbers{
		ColourBefore: c.Colours[0].Body,
		ColourAfter:  c.Colours[2].Body,
		Face:         c.Compared[0].Body,
		PickUp:       c.Adopted[0].Body,
	}
	for _, a := range c.Areas {
		has.Areas = append(has.Areas, a.Compared.Body)
	}
	finds := demo.ReaderNumbers{
		ColourBefore: fittedAgain(t, s, has.ColourBefore),
		ColourAfter:  fittedAgain(t, s, has.ColourAfter),
		PickUp:       offeredAgain(t, c, has.PickUp),
	}

	of, err := pictures.Recorded(c, &c.Compared[0])
	if err != nil && os.Getenv("BENCHLEAF_WRITE_DEMO") == "" {
		t.Fatal(err)
	}
	if err := s.pictures.BeginCompare(c, of).Wait(t.Context()); err != nil {
		t.Fatal(err)
	}
	done := s.pictures.Numbers(of)
	finds.Face = done.Body(c, of)
	for _, a := range done.Areas {
		finds.Areas = append(finds.Areas, a.Body)
	}
	if to := os.Getenv("BENCHLEAF_WRITE_DEMO"); to != "" {
		raw, err := json.MarshalIndent(finds, "", "\t")
		if err == nil {
			err = os.WriteFile(to, append(raw, '\n'), 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
		return
	}
	print, err := s.pictures.Prints(t.Context(), c).Comparison(&c.Compared[0])
	if err != nil {
		t.Fatal(err)
	}
	boundedPrint(t, print)
	w := answerTo(s, request("GET", casePath(c.ID, "report.pdf"), nil))
	if most := 1500 << 10; w.Code != http.StatusOK || w.Body.Len() > most {
		t.Errorf("its report answers %d with %d kB, want at most %d", w.Code, w.Body.Len()>>10, most>>10)
	}
	near := func(what string, has, finds, within float64) {
		t.Helper()
		if math.Abs(has-finds) > within {
			t.Errorf("%s: the demonstration has %g, the program finds %g", what, has, finds)
		}
	}
	near("patches left out, before", has.ColourBefore.ErrorDE00, finds.ColourBefore.ErrorDE00, 0.1)
	near("patches left out, after", has.ColourAfter.ErrorDE00, finds.ColourAfter.ErrorDE00, 0.1)
	near("paper", *has.Face.PaperDE00, *finds.Face.PaperDE00, 0.2)
	near("whole face", has.Face.DE00Trend, finds.Face.DE00Trend, 0.2)
	near("residual in px", has.Face.ResidualPx, finds.Face.ResidualPx, 0.05)
	if !slices.Equal(has.Face.Warnings, finds.Face.Warnings) || has.Face.Colour != finds.Face.Colour ||
		has.Face.Method != finds.Face.Method {
		t.Errorf("the face: the demonstration has %+v, the program finds %+v", has.Face, finds.Face)
	}
	for i := range has.Areas {
		near("area "+c.Areas[i].Body.Name, has.Areas[i].DE00Trend, finds.Areas[i].DE00Trend, 0.2)
	}
	near("pick-up", has.PickUp.Value.Best, finds.PickUp.Value.Best, 0.01)

	// Known from the drawing: base colours before and after, linear sRGB, which
	// make-believe lamps and exposures do not change once the chart corrects them.
	lab := func(r, g, b float64) colour.Lab { return colour.LinearSRGB().LinearXYZ([3]float64{r, g, b}).Lab() }
	want := colour.DE2000(lab(0.66, 0.55, 0.36), lab(0.71, 0.62, 0.45))
	near("paper against the drawing", *finds.Face.PaperDE00, want, 2**finds.Face.PaperDE00Uncertainty)
}

// fittedAgain reads the chart of a photograph again.
func fittedAgain(t *testing.T, s *Server, b record.PhotoColour) record.PhotoColour {
	t.Helper()
	st, err := s.store.Studio(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	out := record.PhotoColour{Photo: b.Photo, Method: b.Method, Corners: b.Corners}
	if err := s.pictures.ReadColour(t.Context(), &out, st.Chart(b.Chart)); err != nil {
		t.Fatal(err)
	}
	out.Photo, out.Method = record.Hash{}, ""
	out.Corners = [4][2]float64{}
	return out
}

// offeredAgain is what the readings offer for the other sheets, as it would be
// adopted.
func offeredAgain(t *testing.T, c *record.Case, b record.ValueAdopted) record.ValueAdopted {
	t.Helper()
	m, err := account.Compare(t.Context(), c, b.FromSheet, words.Clock{Language: words.English, Zone: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	list := m.Adopt([]string{b.Quantity}, b.Sheets, b.Reason)
	if len(list) != 1 {
		t.Fatalf("the readings do not offer one %s: %+v", b.Quantity, list)
	}
	if !slices.Equal(list[0].Readings, b.Readings) {
		t.Errorf("the offer rests on entries %v, the demonstration says %v", list[0].Readings, b.Readings)
	}
	return list[0]
}

// demoCase finds a case of the demonstration by a word of its title.
func demoCase(t testing.TB, s *Server, word string) *record.Case {
	t.Helper()
	list, err := s.store.List(t.Context(), store.Filter{Text: word})
	if err != nil || len(list) != 1 || !strings.Contains(strings.ToLower(list[0].Title), word) {
		t.Fatalf("%v, %v: want one case of %q", list, err, word)
	}
	c, err := s.store.Case(t.Context(), list[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	return c
}
