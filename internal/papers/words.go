package papers

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// nbsp keeps a number and its unit on one line.
const nbsp = "\u00a0"

// number writes v with up to four decimals, none of them idle.
func number(v float64) string {
	s := strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
	if v != 0 && s == "0" {
		s = strconv.FormatFloat(v, 'g', 3, 64)
	}
	return strings.Replace(s, "-", "−", 1)
}

func quantity(v float64, unit string) string {
	if unit == "" {
		return number(v)
	}
	return number(v) + nbsp + unit
}

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
	if r.Low == r.High {
		return quantity(r.Best, unit)
	}
	// Two figures of the width say all that a range of this kind knows.
	round := func(v float64) float64 { return v }
	if width := r.High - r.Low; width > 0 {
		step := math.Pow(10, math.Floor(math.Log10(width))-1)
		round = func(v float64) float64 { return math.Round(v/step) * step }
	}
	return fmt.Sprintf("%s (%s to %s)", quantity(round(r.Best), unit), number(round(r.Low)), number(round(r.High)))
}

// list writes "a, b and c".
func list(parts []string) string {
	parts = filled(parts)
	switch n := len(parts); n {
	case 0:
		return ""
	case 1:
		return parts[0]
	default:
		return strings.Join(parts[:n-1], ", ") + " and " + parts[n-1]
	}
}

// joined writes the parts that are not empty, one after the other.
func joined(sep string, parts ...string) string { return strings.Join(filled(parts), sep) }

func filled(parts []string) []string {
	var out []string
	for _, p := range parts {
		if strings.TrimSpace(p) != "" {
			out = append(out, p)
		}
	}
	return out
}

// upper makes the first letter a capital.
func upper(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// sentence makes s begin with a capital and end with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if !strings.ContainsAny(s[len(s)-1:], ".!?:") {
		s += "."
	}
	return upper(s)
}

// prefixed writes words before s, or nothing when s is empty.
func prefixed(before, s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return before + s
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1" + nbsp + one
	}
	return strconv.Itoa(n) + nbsp + many
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

// lasted writes the time between two moments.
func lasted(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 60:
		return fmt.Sprintf("%d"+nbsp+"min", m)
	case m < 48*60:
		if m%60 == 0 {
			return fmt.Sprintf("%d"+nbsp+"h", m/60)
		}
		return fmt.Sprintf("%d"+nbsp+"h %d"+nbsp+"min", m/60, m%60)
	}
	return plural((m+12*60)/(24*60), "day", "days")
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
	return words.English.Amount(words.Money{Minor: minor, Currency: currency})
}

// money writes an amount with its currency.
func money(minor int64, currency string) string {
	return words.English.Money(words.Money{Minor: minor, Currency: currency})
}
