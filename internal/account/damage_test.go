package account

import (
	"strings"
	"testing"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func TestDamageTotalsCountEachSizeWhereItBelongs(t *testing.T) {
	n := func(v float64) *float64 { return &v }
	three := 3
	on := func(sheets ...int) record.Place { return record.Place{Sheets: sheets} }
	c := &record.Case{}
	for _, b := range []record.Damage{
		{Term: "loss", Place: on(4), LengthMm: n(20), WidthMm: n(15)},                 // 300 mm²
		{Term: "loss", Place: on(1, 2), AreaMm2: n(10), LengthMm: n(9)},               // 2 x 10 mm²
		{Term: "tear", Place: on(1), LengthMm: n(12.5), WidthMm: n(1), Count: &three}, // 37.5 mm
		{Term: "staple hole", Place: on(0), Count: &three},
		{Term: "puncture", Place: on(2)},
		{Term: "foxing", Place: on(2), AreaMm2: n(1000)}, // nothing to mend
	} {
		c.Damages = append(c.Damages, record.FoundDamage{Stamped: record.Stamped[record.Damage]{Body: b}})
	}
	var got []string
	for _, f := range DamageTotals(c) {
		got = append(got, f.Name+" "+strings.ReplaceAll(f.Value(words.English), words.NBSP, " "))
	}
	want := "To mend along 37.5 mm; To fill 320 mm²; To mend, by number 4"
	if s := strings.Join(got, "; "); s != want {
		t.Errorf("%s, want %s", s, want)
	}
}
