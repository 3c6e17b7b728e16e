package account

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/record"
)

func photographed(list ...string) *record.Case {
	c := &record.Case{}
	for i, s := range list {
		f := strings.Split(s, " ") // stage, sheets, face, light
		p := record.Photo{
			Hash: record.Hash{byte(i + 1)}, Stage: record.Stage(f[0]), Light: record.Light(f[3]),
			Place: record.Place{Face: record.Face(f[2])},
		}
		for _, n := range f[1] {
			if n != '-' {
				p.Place.Sheets = append(p.Place.Sheets, int(n-'0'))
			}
		}
		p.Place.Face = record.Face(strings.Trim(string(p.Place.Face), "-"))
		c.Photos = append(c.Photos, record.Stamped[record.Photo]{Body: p})
	}
	return c
}

// Each photograph is named by its place in the list, from 1.
func pairsText(list []PhotoPair) string {
	var out []string
	for _, x := range list {
		s := fmt.Sprint(x.Before.Body.Hash[0])
		if x.After != nil {
			s += fmt.Sprint(">", x.After.Body.Hash[0])
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

func TestPhotoPairs(t *testing.T) {
	for _, x := range []struct {
		name, all, faces string
		photos           []string
	}{
		{"alone", "1", "1", []string{"before 1 outer normal"}},
		{"only after", "", "", []string{"after 1 outer normal"}},
		{"the last of the latest stage", "3>5", "3>5", []string{
			"before 1 outer normal", "arrival 1 outer normal", "before 1 outer normal", "during 1 outer normal",
			"after 1 outer normal", "during 1 outer normal",
		}},
		{"during, where there is none after", "1>2", "1>2", []string{
			"arrival 2 inner normal", "during 2 inner normal",
		}},
		{"another face, light or sheet", "1 2 3", "1 3", []string{
			"before 1 outer normal", "before 1 outer raking", "before 2 outer normal", "after 1 inner normal",
			"after 2 outer raking", "after 12 outer normal",
		}},
		{"sheets in any order", "1>2", "", []string{"before 12 outer normal", "after 21 outer normal"}},
		{"no face, no laying on each other", "1>2", "", []string{"before 1 - normal", "after 1 - normal"}},
		{"the whole object first, pairs of faces before single ones", "4 1 2>3", "2>3 1", []string{
			"before 1 outer normal", "before 2 outer normal", "after 2 outer normal", "before - - normal",
		}},
	} {
		c := photographed(x.photos...)
		if got := pairsText(PhotoPairs(c)); got != x.all {
			t.Errorf("%s: pairs %q, want %q", x.name, got, x.all)
		}
		if got := pairsText(FacePairs(c)); got != x.faces {
			t.Errorf("%s: faces %q, want %q", x.name, got, x.faces)
		}
	}
}

// What was outlined is measured again on the photograph that it was outlined on.
func TestPhotoWithAreasStaysBefore(t *testing.T) {
	c := photographed("before 1 outer normal", "before 1 outer normal", "after 1 outer normal")
	c.Areas = []record.Area{{Stamped: record.Stamped[record.AreaOutlined]{
		Body: record.AreaOutlined{Photo: c.Photos[0].Body.Hash},
	}}}
	if got := pairsText(FacePairs(c)); got != "1>3" {
		t.Errorf("pairs %q, want the outlined one before", got)
	}
}

// To put a sheet back in order and to house it is no treatment of what a
// photograph shows; a bath after it is. The log says the same as every caption.
func TestStageOfAPhotographIsSetBackByTreatmentAlone(t *testing.T) {
	photo := record.Photo{
		Hash: record.Hash{1}, Stage: record.StageAfter, Light: record.LightNormal,
		Place: record.Place{Sheets: []int{1}, Face: "outer"},
	}
	const during, after = "during treatment", "after treatment"
	for slug, want := range map[string]string{"house": after, "reassemble": after, "wash": during, "flatten": during} {
		c := &record.Case{Photos: []record.Stamped[record.Photo]{{Stamp: record.Stamp{Time: evening}, Body: photo}}}
		r := record.Run{Stamped: record.Stamped[record.RunStarted]{Body: record.RunStarted{
			ID: record.NewID(evening), Operation: slug, Sheets: []int{1}, At: evening.Add(time.Hour),
		}}}
		c.Runs = []record.Run{r}
		if got := StageWords(c, &c.Photos[0]); got != want {
			t.Errorf("photograph before %s: %s, want %s", slug, got, want)
		}
		if got := Said(c, photo); !strings.Contains(got, want) {
			t.Errorf("photograph before %s in the log: %s", slug, got)
		}
	}
}
