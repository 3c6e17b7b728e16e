package papers

import (
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
