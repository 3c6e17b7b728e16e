package store

import (
	"benchleaf/internal/record"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"
)

func TestList(t *testing.T) {
	s := opened(t)
	for i, title := range []string{"The Windlass", "Harbour Almanack", "Saltmarsh Reader"} {
		id := record.NewCaseID(time.Now())
		mustAppend(t, s, draft(id, 0, record.Opened{Number: fmt.Sprintf("2026-%03d", i), Title: title}))
		if i == 2 {
			mustAppend(t, s, draft(id, 1, record.Closed{Outcome: "untreated"}))
		}
	}
	closed := true
	for _, c := range []struct {
		f    Filter
		want int
	}{{Filter{}, 3}, {Filter{Text: "HARBOUR 2026"}, 1}, {Filter{Text: "nowhere"}, 0}, {Filter{Closed: &closed}, 1}, {Filter{Limit: 2}, 2}, {Filter{Offset: 2}, 1}, {Filter{Text: "%"}, 0}} {
		got, err := s.List(ctx, c.f)
		if err != nil || len(got) != c.want {
			t.Errorf("%+v: %d cases, %v; want %d", c.f, len(got), err, c.want)
		}
	}
}

func TestReindexMakesTheSameIndex(t *testing.T) {
	s := opened(t)
	id := newCase(t, s)
	mustAppend(t, s, draft(id, 2, note("x")))
	if _, err := s.write.Exec("UPDATE cases SET summary = '{}'"); err != nil {
		t.Fatal(err)
	}
	r, err := s.Verify(ctx)
	if err != nil || r.Clean() {
		t.Fatalf("the false index went unseen: %v %v", r, err)
	}
	if err := s.Reindex(ctx); err != nil {
		t.Fatal(err)
	}
	mustBeClean(t, s)
}

// An index of another form is made anew at the start; a journal that cannot be
// read does not keep the others closed.
func TestIndexOfAnotherFormIsMadeAnew(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	newCase(t, s)
	bad := newCase(t, s)
	for _, q := range []string{
		"DROP TRIGGER entries_stay_as_written",
		"UPDATE entries SET version = 'never' WHERE case_id = '" + string(bad) + "'",
		"UPDATE cases SET words = ''",
		"UPDATE index_form SET form = 0",
	} {
		if _, err := s.write.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	s = mustOpen(t, dir)
	defer s.Close()
	if list, err := s.List(ctx, Filter{Text: "demo"}); err != nil || len(list) != 1 {
		t.Errorf("%d cases found by the new index, %v; want the readable one", len(list), err)
	}
	r, err := s.Verify(ctx)
	if err != nil || !strings.Contains(strings.Join(r.Problems, " "), string(bad)) {
		t.Errorf("%v, %v; want the unreadable case named", r, err)
	}
	if err := s.Reindex(ctx); err == nil || !strings.Contains(err.Error(), string(bad)) {
		t.Errorf("got %v, want the unreadable case named", err)
	}
}

// When this fails, record.Summary has changed: raise indexForm, so that data
// folders get a new index, and put the new shape here.
func TestIndexFormFollowsTheSummary(t *testing.T) {
	const form, want = 3, "Summary{id CaseID; number string; title string; owner string; state string; opened Time; " +
		"updated Time; last_seq int64; closed bool; sheets int; wet []WetSheet{sheet int; wetness Wetness; since " +
		"Time; run string; doing string; }; due []Due{at Time; what string; sheets []int; run string; " +
		"operation string; who string; }; waits []string; cover Hash; expected int; words string; }"
	if got := shape(reflect.TypeFor[record.Summary]()); got != want || indexForm != form {
		t.Errorf("form %d has the shape\n%s\nwant form %d\n%s", indexForm, got, form, want)
	}
}

// shape writes a type with the JSON names of its fields.
func shape(t reflect.Type) string {
	switch {
	case t.Kind() == reflect.Slice:
		return "[]" + shape(t.Elem())
	case t.Kind() != reflect.Struct || t == reflect.TypeFor[time.Time]():
		return t.Name()
	}
	var b strings.Builder
	b.WriteString(t.Name() + "{")
	for i := range t.NumField() {
		name, _, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		b.WriteString(name + " " + shape(t.Field(i).Type) + "; ")
	}
	return b.String() + "}"
}
