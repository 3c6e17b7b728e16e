package record

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"benchleaf/internal/words"
)

// check gathers the refusals of one body, so that a person sees all of them.
type check struct{ errs []error }

func (k *check) err() error { return errors.Join(k.errs...) }

func (k *check) refuse(field, format string, args ...any) {
	k.errs = append(k.errs, Invalidf(field, format, args...))
}

const (
	maxLine = 300
	maxText = 20000
)

// line checks a required one-line text, what names it for the person.
func (k *check) line(field, what, s string) {
	if strings.TrimSpace(s) == "" {
		k.refuse(field, "Please enter %s.", what)
		return
	}
	k.maybeLine(field, what, s)
}

func (k *check) maybeLine(field, what, s string) {
	switch {
	case utf8.RuneCountInString(s) > maxLine:
		k.refuse(
			field,
			"%s has %d characters; at most %d fit on this line.",
			upper(what),
			utf8.RuneCountInString(s),
			maxLine,
		)
	case !utf8.ValidString(s) || strings.ContainsFunc(s, func(r rune) bool { return r < ' ' }):
		k.refuse(field, "%s holds characters that are not text; one line of plain text is expected.", upper(what))
	}
}

func (k *check) text(field, what, s string) {
	switch {
	case utf8.RuneCountInString(s) > maxText:
		k.refuse(
			field,
			"%s has %d characters; at most %d are kept in one entry.",
			upper(what),
			utf8.RuneCountInString(s),
			maxText,
		)
	case !utf8.ValidString(s) || strings.ContainsRune(s, 0):
		k.refuse(field, "%s holds characters that are not text; plain text is expected.", upper(what))
	}
}

func (k *check) needText(field, what, s string) {
	if strings.TrimSpace(s) == "" {
		k.refuse(field, "Please enter %s.", what)
		return
	}
	k.text(field, what, s)
}

// number checks low <= v <= high and that v is a number at all.
func (k *check) number(field, what string, v, low, high float64, unit string) {
	if math.IsNaN(v) || math.IsInf(v, 0) || v < low || v > high {
		k.refuse(
			field,
			"%s cannot be %s: %s to %s is possible.",
			upper(what),
			quantity(v, unit),
			num(low),
			quantity(high, unit),
		)
		return
	}
	const least = 1e-12 // of anything that is weighed, timed or read here, in its unit
	if v != 0 && math.Abs(v) < least {
		k.refuse(field, "%s cannot be %g: that is nearer to 0 than anything can be measured.", upper(what), v)
	}
}

func (k *check) choice(field, what, v string, list []Choice) {
	for _, c := range list {
		if c.Value == v {
			return
		}
	}
	words := make([]string, len(list))
	for i, c := range list {
		words[i] = c.Words
	}
	if v == "" {
		k.refuse(field, "%s is not chosen: one of %s is expected.", upper(what), strings.Join(words, ", "))
		return
	}
	k.refuse(field, "%s cannot be %q: one of %s is expected.", upper(what), clip(v), strings.Join(words, ", "))
}

func (k *check) id(field, what, v string) {
	if !IsID(v) {
		k.refuse(field, "%s %q is not an identifier of this journal.", upper(what), clip(v))
	}
}

// when checks that a time is one in which this work can have happened.
func (k *check) when(field, what string, t time.Time, needed bool) {
	switch y := t.Year(); {
	case t.IsZero() && needed:
		k.refuse(field, "%s is missing: give the time.", upper(what))
	case !t.IsZero() && (y < 1950 || y > 2150):
		k.refuse(field, "%s cannot lie in the year %d.", upper(what), y)
	}
}

func (k *check) sheets(field string, list []int) {
	seen := map[int]bool{}
	for _, s := range list {
		switch {
		case s < 0 || s > MaxSheets:
			k.refuse(field, "There is no sheet %d: 0 is the cover, and inner sheets count from 1 to %d.", s, MaxSheets)
			return
		case seen[s]:
			k.refuse(field, "Sheet %d is named twice.", s)
			return
		}
		seen[s] = true
	}
}

func (k *check) money(field, what string, minor int64, currency string) {
	const most = 1_000_000_000_00
	if minor < 0 || minor > most {
		k.refuse(field, "%s cannot be negative or above %s.", upper(what),
			words.English.Money(words.Money{Minor: most, Currency: currency}))
	}
}

// The ways of writing of the record's own sentences.
var (
	upper    = words.English.Upper
	num      = words.English.Number
	quantity = words.English.Quantity
	clip     = words.Clip
)

// SheetName is what a person calls sheet n.
func SheetName(n int) string {
	if n == 0 {
		return "cover"
	}
	return "sheet " + strconv.Itoa(n)
}

// SheetNames names a set of sheets briefly: "cover, sheets 1 to 3 and 7".
// An empty list is the whole object.
func SheetNames(list []int) string {
	if len(list) == 0 {
		return "whole object"
	}
	s := slices.Clone(list)
	slices.Sort(s)
	var parts []string
	if s[0] == 0 {
		parts = append(parts, "cover")
		s = s[1:]
	}
	if len(s) == 1 {
		parts = append(parts, SheetName(s[0]))
	} else if len(s) > 1 {
		parts = append(parts, "sheets "+spans(s))
	}
	return strings.Join(parts, ", ")
}

// spans writes sorted numbers as "1 to 3, 5 and 7".
func spans(s []int) string {
	var runs []string
	for i := 0; i < len(s); {
		j := i
		for j+1 < len(s) && s[j+1] <= s[j]+1 {
			j++
		}
		switch {
		case j-i >= 2:
			runs = append(runs, strconv.Itoa(s[i])+" to "+strconv.Itoa(s[j]))
			i = j + 1
		default:
			runs = append(runs, strconv.Itoa(s[i]))
			i++
		}
	}
	if len(runs) == 1 {
		return runs[0]
	}
	return strings.Join(runs[:len(runs)-1], ", ") + " and " + runs[len(runs)-1]
}
