package papers

import (
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// en is the language of the papers; the names below are its ways of writing.
const (
	en   = words.English
	nbsp = words.NBSP
)

var (
	number   = en.Number
	quantity = en.Quantity
	list     = en.List
	upper    = en.Upper
	sentence = en.Sentence
	plural   = en.Plural
	lasted   = en.Lasted
	joined   = words.Joined
	prefixed = words.After
)

// asFine writes a value with at least the decimals of its uncertainty: 12.0 ± 0.1.
func asFine(value, uncertainty string) string {
	_, want, _ := strings.Cut(uncertainty, ".")
	whole, have, _ := strings.Cut(value, ".")
	if len(have) >= len(want) || strings.ContainsAny(value+uncertainty, "e") {
		return value
	}
	return whole + "." + have + strings.Repeat("0", len(want)-len(have))
}

func maybe(v *float64, unit string) string {
	if v == nil {
		return ""
	}
	return quantity(*v, unit)
}

// rangeText writes a best value with its 10 to 90 % range.
func rangeText(r *record.Range, unit string) string {
	if r == nil {
		return ""
	}
	return en.Range(*r, unit)
}

// clock writes times in the zone of the paper.
type clock struct{ zone *time.Location }

func (k clock) day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.zone).Format("2" + nbsp + "January 2006")
}

func (k clock) time(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.zone).Format("15:04")
}

// short is a day as tables write it.
func (k clock) short(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(k.zone).Format("2" + nbsp + "Jan" + nbsp + "2006")
}

// shortMoment is a moment as tables write it.
func (k clock) shortMoment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return k.short(t) + ", " + k.time(t)
}

func (k clock) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return k.day(t) + ", " + k.time(t)
}

// or is t, or the time of the entry when the body gives none.
func or(t, entry time.Time) time.Time {
	if t.IsZero() {
		return entry
	}
	return t
}

// zoneOf finds the zone that the journal's last entry was written in; an
// unknown name gives UTC.
func zoneOf(j *record.Journal) *time.Location {
	if n := len(j.Log); n > 0 {
		name := j.Log[n-1].Zone
		if loc, err := time.LoadLocation(name); err == nil && name != "" && name != "Local" {
			return loc
		}
		if t, err := time.Parse("-07:00", name); err == nil {
			return t.Location()
		}
	}
	return time.UTC
}

// amount writes minor units as a number with the currency's decimals.
func amount(minor int64, currency string) string {
	return en.Amount(words.Money{Minor: minor, Currency: currency})
}

// money writes an amount with its currency.
func money(minor int64, currency string) string {
	return en.Money(words.Money{Minor: minor, Currency: currency})
}
