package words

import (
	"strconv"
	"time"
)

// Clock writes moments in one zone; Today is the day that needs no naming.
type Clock struct {
	Language Language
	Zone     *time.Location
	// Today is any moment of the present day; zero where a page has no present
	// (a paper), and every day is then named.
	Today time.Time
}

// Day writes "14 May 2030".
func (k Clock) Day(t time.Time) string { return k.format(t, "2"+NBSP+"January 2006") }

// ShortDay writes "14 May 2030" with the month cut to three letters.
func (k Clock) ShortDay(t time.Time) string { return k.format(t, "2"+NBSP+"Jan"+NBSP+"2006") }

// Time writes "18:30" whatever the day; only where the day stands beside it.
func (k Clock) Time(t time.Time) string { return k.format(t, "15:04") }

// At writes "18:30" today and "13 May, 18:30" on another day.
func (k Clock) At(t time.Time) string {
	switch {
	case t.IsZero():
		return ""
	case k.sameDay(t):
		return k.Time(t)
	case !k.Today.IsZero() && t.In(k.Zone).Year() == k.Today.In(k.Zone).Year():
		return k.format(t, "2"+NBSP+"January, 15:04")
	}
	return k.Moment(t)
}

// Moment writes the day and the time.
func (k Clock) Moment(t time.Time) string { return Joined(", ", k.Day(t), k.Time(t)) }

// ShortMoment writes the short day and the time.
func (k Clock) ShortMoment(t time.Time) string { return Joined(", ", k.ShortDay(t), k.Time(t)) }

func (k Clock) sameDay(t time.Time) bool {
	if k.Today.IsZero() {
		return false
	}
	y1, m1, d1 := t.In(k.Zone).Date()
	y2, m2, d2 := k.Today.In(k.Zone).Date()
	return y1 == y2 && m1 == m2 && d1 == d2
}

func (k Clock) format(t time.Time, layout string) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.Zone).Format(layout)
}

// Lasted writes a span of time to the minute below two days, and in whole days
// above, rounded to the nearest: 71 h is "3 days".
func (l Language) Lasted(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	if m < 0 {
		return "−" + l.Lasted(-d)
	}
	switch {
	case m < 60:
		return strconv.Itoa(m) + NBSP + "min"
	case m >= 48*60:
		return l.Plural((m+12*60)/(24*60), "day", "days")
	case m%60 == 0:
		return strconv.Itoa(m/60) + NBSP + "h"
	}
	return strconv.Itoa(m/60) + NBSP + "h " + strconv.Itoa(m%60) + NBSP + "min"
}
