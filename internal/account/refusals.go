package account

import (
	"fmt"

	"benchleaf/internal/record"
	"benchleaf/solution"
)

// refusals collects what cannot be of a question, each at its field.
type refusals []*record.Invalid

func (r *refusals) any() bool { return len(*r) > 0 }

// at adds the sentence of an error of the science at a field.
func (r *refusals) at(field string, err error) { r.say(field, "%s", refusal(err)) }

func (r *refusals) say(field, format string, args ...any) {
	*r = append(*r, &record.Invalid{Field: field, Say: fmt.Sprintf(format, args...)})
}

// read reads what a field holds as typed.
func read[T any](r *refusals, field, typed string, parse func(string) (T, error)) T {
	v, err := parse(typed)
	if err != nil {
		r.at(field, err)
	}
	return v
}

func (r *refusals) substance(field, name string) *solution.Substance {
	return read(r, field, name, solution.Find)
}

func (r *refusals) strength(field, typed string) solution.Strength {
	return read(r, field, typed, solution.ParseStrength)
}

func (r *refusals) volume(field, typed string) solution.Millilitres {
	return read(r, field, typed, solution.ParseVolume)
}
