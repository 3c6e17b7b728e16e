package account

import (
	"benchleaf/solution"
)

// Meeting is what happens when two things meet: a finding of the table of what
// must not mix.
type Meeting struct {
	// Code is that of the finding, whatever its wording.
	Code Code
	// Stop says that they must not meet.
	Stop         bool
	Say, RestsOn string
}

// Thing is what may meet another: a substance of some strength, a vessel, a sheet.
type Thing = solution.Thing

// Meetings says what happens when things meet, substances and others (Things).
// Errors: a thing that is not known, in a sentence.
func Meetings(things ...Thing) ([]Meeting, error) {
	found, err := solution.ConflictsOf(things...)
	return meetings(found), err
}

func meetings(found []solution.Conflict) []Meeting {
	var list []Meeting
	for _, c := range found {
		list = append(list, Meeting{
			Code(c.Code), c.Level == solution.Stop, c.Sentence(), c.Source + " (" + string(c.Basis) + ")",
		})
	}
	return list
}

// Named are things by their names alone.
func Named(names ...string) []Thing {
	var list []Thing
	for _, n := range names {
		list = append(list, Thing{Name: n})
	}
	return list
}

// Harmless says of each two of some things why nothing dangerous is known of
// them; pairs of which something is known, or nobody looked, are left out.
func Harmless(names ...string) []Sentence {
	var list []Sentence
	for i, a := range names {
		for _, b := range names[i+1:] {
			if why, err := solution.Reviewed(a, b); err == nil && why != "" {
				list = append(list, Sentence{Harmlessly, en.Upper(a) + " with " + b + ": " + why + "."})
			}
		}
	}
	return list
}

// Harmlessly is the code of a pair of which nothing dangerous is known.
const Harmlessly Code = "nothing-known"
