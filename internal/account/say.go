package account

import (
	"strconv"
	"strings"

	"benchleaf/internal/words"
	"benchleaf/interval"
)

// ranged is a computed fact with its range.
func ranged(code Code, name string, r interval.Range, unit string) Fact {
	return Fact{Code: code, Name: name, Figure: some(words.Ranged(r, unit)), Basis: Computed}
}

// said is a computed fact in words; rests says what it rests on.
func said(code Code, name, text, rests string) Fact {
	return Fact{Code: code, Name: name, Text: text, RestsOn: rests, Basis: Computed}
}

// estimate is a computed number that is known to two figures.
func estimate(code Code, name string, v float64, unit, rests string) Fact {
	return said(code, name, rough(v)+words.NBSP+unit, rests)
}

// some is a pointer to a value.
func some[T any](v T) *T { return &v }

// rough writes two significant figures, for estimates.
func rough(v float64) string {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 2, 64), 64)
	if err != nil {
		return en.Number(v)
	}
	return en.Number(r)
}

// figures4 keeps four significant figures of what goes into the record: what was
// computed does not look more certain than it is.
func figures4(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil || v == float64(int64(v)) {
		return v
	}
	return r
}

// lasting writes a time that is known to a factor: "45 min", "1.5 h".
func lasting(minutes float64) string {
	if minutes < 90 {
		return rough(minutes) + words.NBSP + "min"
	}
	return rough(minutes/60) + words.NBSP + "h"
}

// percent writes a share in two figures, down to what matters.
func percent(share float64) string {
	if share < 1e-4 {
		return "under 0.01" + words.NBSP + "%"
	}
	return rough(100*share) + words.NBSP + "%"
}

// refusal is the sentence of an error of the science, for a person.
func refusal(err error) string { return en.Upper(strings.TrimSuffix(err.Error(), ".")) + "." }

// figures3 keeps three significant figures, as one types a strength.
func figures3(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		return v
	}
	return r
}

func plural(n int, one string) string { return en.Plural(n, one, one+"s") }
