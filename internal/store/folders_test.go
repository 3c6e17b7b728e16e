package store

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"benchleaf/condition"
	"benchleaf/internal/record"
)

// Data folders of earlier versions lie in testdata/folders, each under the
// commit that wrote it, beside what that commit itself read in it (told, run by
// that commit). They are the demonstration's cases and one more with the kinds
// of entry that the demonstration lacks. Each release adds its own.
func TestFoldersOfEarlierVersionsReadTheSame(t *testing.T) {
	folders, err := filepath.Glob("testdata/folders/*.json")
	if err != nil || len(folders) == 0 {
		t.Fatalf("no folders of earlier versions: %v", err)
	}
	for _, want := range folders {
		t.Run(filepath.Base(want), func(t *testing.T) {
			s := openCopy(t, strings.TrimSuffix(want, ".json"))
			report, err := s.Verify(ctx)
			if err != nil || !report.Clean() {
				t.Fatalf("it does not verify: %v %+v", err, report)
			}
			tellsTheSame(t, s, want)
			keepsEveryField(t, s)
		})
	}
}

// openCopy opens a copy of a kept folder, as a person would who has updated.
func openCopy(t *testing.T, folder string) *Store {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(folder)); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func tellsTheSame(t *testing.T, s *Store, file string) {
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]any
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	got := map[string]any{}
	list, err := s.List(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range list {
		c, err := s.Case(ctx, x.ID)
		if err != nil {
			t.Fatal(err)
		}
		got[string(x.ID)] = told(c)
	}
	st, err := s.Studio(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var bottles []string
	for i := range st.Bottles {
		b := &st.Bottles[i]
		bottles = append(bottles, fmt.Sprintf("%s %g mL left of %g", b.Body.Name, b.LeftMl, b.Body.VolumeMl))
	}
	got["studio"] = map[string]any{
		"entries": st.LastSeq, "hash": st.LastHash.String(), "bottles": bottles,
		"waters": len(st.Waters), "people": len(st.People),
	}
	again, err := record.Marshal(got) // plain JSON types on both sides
	if err != nil {
		t.Fatal(err)
	}
	clear(got)
	if err := json.Unmarshal(again, &got); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("it reads otherwise than its own version read it (-then +now):\n%s", d)
	}
}

// keepsEveryField compares each entry's body as written with what this version
// understands of it: no member may be lost.
func keepsEveryField(t *testing.T, s *Store) {
	list, err := s.List(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	ids := []record.CaseID{record.StudioID}
	for _, x := range list {
		ids = append(ids, x.ID)
	}
	for _, id := range ids {
		entries, err := s.Journal(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			b, err := record.Decode(e.Kind, e.Version, e.Body)
			if err != nil || b == nil {
				t.Errorf("entry %d of %s, %s: it is not read: %v", e.Seq, id, e.Kind, err)
				continue
			}
			raw, err := record.Marshal(b)
			if err != nil {
				t.Fatal(err)
			}
			if o, is := b.(record.Ownership); is && o.Currency == "JPY" {
				// 512fb51 wrote 120 yen as 12000 hundredths.
				if o.ValueMinor != 120 {
					t.Errorf("entry %d of %s: %d yen, want 120", e.Seq, id, o.ValueMinor)
				}
				continue
			}
			if x, is := b.(record.SheetState); is && e.Version == 1 {
				// One state for all, of which 512fb51 has "loose" and "married".
				loose, married := x.Hold == record.HoldLoose, x.Married == record.LeafBoth
				if strings.Contains(string(e.Body), `"loose"`) != loose || strings.Contains(string(e.Body), `"married"`) != married {
					t.Errorf("entry %d of %s: %s reads as %+v", e.Seq, id, e.Body, x)
				}
				continue
			}
			if lost := missing(e.Body, raw); len(lost) > 0 && !onePoint(b, e.Body, lost) {
				t.Errorf("entry %d of %s, %s: %v is lost or changed", e.Seq, id, e.Kind, lost)
			}
		}
	}
}

// onePoint says whether all that is lost of an entry is the one point of a damage
// that 512fb51 wrote as x_mm and y_mm, and the damage has it as a shape.
func onePoint(b record.Body, old json.RawMessage, lost []string) bool {
	d, is := b.(record.Damage)
	var at struct {
		XMm float64 `json:"x_mm"`
		YMm float64 `json:"y_mm"`
	}
	if !is || len(lost) != 2 || json.Unmarshal(old, &at) != nil {
		return false
	}
	want := []condition.Shape{{Form: condition.Spot, Points: []condition.Point{{XMm: at.XMm, YMm: at.YMm}}}}
	return cmp.Equal(want, d.Shapes)
}

// missing names the members of the JSON object old that new lacks or has with
// another value.
func missing(old, new json.RawMessage) []string {
	var a, b map[string]any
	if json.Unmarshal(old, &a) != nil || json.Unmarshal(new, &b) != nil {
		return []string{"the whole body"}
	}
	var lost []string
	for k, v := range a {
		if !cmp.Equal(v, b[k]) {
			lost = append(lost, fmt.Sprintf("%s (%v, now %v)", k, v, b[k]))
		}
	}
	return lost
}

// told is what a stranger would read of a journal: plain values, no types of
// this program, so that two versions can be compared.
func told(c *record.Case) map[string]any {
	var readings, runs, prices []string
	for _, x := range c.Readings {
		u := "not stated"
		if x.Body.Uncertainty != nil {
			u = fmt.Sprint(*x.Body.Uncertainty)
		}
		readings = append(readings, fmt.Sprintf("%d %s %g ± %s %v %s", x.Seq, x.Body.Quantity, x.Body.Value, u,
			x.Body.Place.Sheets, x.Body.Stage))
	}
	for i := range c.Runs {
		r := &c.Runs[i]
		runs = append(runs, fmt.Sprintf("%d %s %v open %v from %s to %s",
			r.Seq, r.Body.Operation, r.Body.Sheets, r.Open(),
			r.Body.At.UTC().Format("15:04:05"), r.Ended().UTC().Format("15:04:05")))
	}
	for _, p := range c.Proposals {
		for _, o := range p.Body.Options {
			prices = append(prices, fmt.Sprintf("%d%s %d %s",
				p.Body.Version, o.Name, p.Body.Price(o).TotalMinor, p.Body.Currency))
		}
	}
	wet := map[string]string{}
	for _, n := range c.Sheets() {
		wet[fmt.Sprint(n)] = string(c.ConditionOf(n).Wetness)
	}
	return map[string]any{
		"number": c.Number, "title": c.Title, "entries": c.LastSeq, "hash": c.LastHash.String(),
		"problems": len(c.Problems),
		"closed":   c.Closed != nil, "readings": readings, "runs": runs, "prices": prices, "wet": wet,
		"damages": len(c.Damages), "mends": len(c.Mends), "tests": len(c.Tests),
		"parts": len(c.Parts), "staples_in": c.StaplesIn(),
		"photographs": len(c.Photos), "areas": len(c.Areas), "consents": len(c.Consents), "unanswered": c.Unanswered(),
	}
}
