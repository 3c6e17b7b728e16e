package account

import (
	"testing"
	"time"
)

// A night in which the clocks are moved is as long as it is: minutes are counted by the
// clock that runs on, and times shown by the one on the wall.
func TestADayCountsRealMinutesWhenClocksAreMoved(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip(err)
	}
	for _, x := range []struct {
		name  string
		from  time.Time
		until string
	}{
		{"forward", time.Date(2026, 3, 28, 23, 0, 0, 0, zone), "06:00"}, // 6 h later it is 6 o'clock, not 5
		{"back", time.Date(2026, 10, 24, 23, 0, 0, 0, zone), "04:00"},
	} {
		a := DayAsked{From: x.from}
		end := a.at(360)
		if got := end.In(zone).Format("15:04"); got != x.until {
			t.Errorf("%s: six hours after 23:00 it is %s, want %s", x.name, got, x.until)
		}
		if got := a.minute(end); got != 360 {
			t.Errorf("%s: %d minutes, want 360", x.name, got)
		}
	}
}
