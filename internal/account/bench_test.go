package account

import (
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

func TestReadingsStandAsTheOperationAsks(t *testing.T) {
	all := []string{"bath-ph", "conductivity", "bath-alkali", "mass"}
	for operation, want := range map[string]string{"rinse": "conductivity", "wash": "bath-ph", "lime": "bath-ph"} {
		list, asked := ReadingsAsked(operation, all)
		if list[0] != want || asked != 2 || len(list) != len(all) {
			t.Errorf("%s asks for %v, the first %d, want %s first and all of them", operation, list, asked, want)
		}
	}
	if _, asked := ReadingsAsked("wash", []string{"humidity"}); asked != 0 {
		t.Errorf("a wash asks for %d readings of the air, want none", asked)
	}
}

func TestACourseIsStraightBetweenItsPoints(t *testing.T) {
	k := &Course{EndMin: 20, Points: []CoursePoint{
		{0, record.Range{Low: 7, Best: 8, High: 9}}, {10, record.Range{Low: 6, Best: 7, High: 8}},
		{20, record.Range{Low: 5, Best: 7, High: 8}},
	}}
	for min, want := range map[float64]record.Range{
		0: {Low: 7, Best: 8, High: 9}, 5: {Low: 6.5, Best: 7.5, High: 8.5}, 10: {Low: 6, Best: 7, High: 8},
		20: {Low: 5, Best: 7, High: 8},
	} {
		if got, ok := k.At(min); !ok || got != want {
			t.Errorf("after %g min it expects %+v (%v), want %+v", min, got, ok, want)
		}
	}
	for _, min := range []float64{-1, 20.5} {
		if _, ok := k.At(min); ok {
			t.Errorf("something is expected after %g min", min)
		}
	}
	if n := len(k.Minutely()); n != 21 {
		t.Errorf("%d minutes are told, want 21", n)
	}
}

// Summer time ended on 25 October 2026 at 01:00 UTC (Directive 2000/84/EC): a bath over
// that hour lasts as long as it lasts, and a day is named once it is another one.
func TestABathOverTheEndOfSummerTime(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	start := time.Date(2026, 10, 25, 2, 50, 0, 0, berlin) // in summer time still
	if _, off := start.Zone(); off == 3600 {
		start = start.Add(-time.Hour)
	}
	r := &record.Run{Stamped: record.Stamped[record.RunStarted]{Body: record.RunStarted{At: start, PlannedMin: 20}}}
	due, _ := r.NextDue()
	if got := due.Sub(start); got != 20*time.Minute {
		t.Errorf("it is due after %v, want 20 minutes", got)
	}
	k := words.Clock{Zone: berlin, Today: start.Add(-4 * time.Hour)} // the evening before
	if got := k.At(due); got != "25\u00a0October, 02:10" {
		t.Errorf("the end is told as %q, want its day and the wall's time", got)
	}
}
