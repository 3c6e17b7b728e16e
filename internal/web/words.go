package web

import (
	"cmp"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// en is the language of the pages; the names below are its ways of writing.
const en = words.English

var (
	fig        = en.Number
	upperFirst = en.Upper
	plural     = en.Plural
	clip       = words.Clip
	after      = words.After
	orElse     = cmp.Or[string]
)

// span writes the ends of a range, or nothing where there is none.
func span(r *record.Range) string {
	if r == nil {
		return ""
	}
	return en.Span(*r)
}

// amount writes minor units of a currency as a number alone.
func amount(minor int64, currency string) string {
	return en.Amount(words.Money{Minor: minor, Currency: currency})
}

// money writes minor units of a currency: 12345 EUR is "EUR 123.45".
func money(minor int64, currency string) string {
	return en.Money(words.Money{Minor: minor, Currency: currency})
}
