package account

import (
	"slices"
	"strings"

	"benchleaf/internal/record"
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

// InBottle is what a bottle holds: its substance, of the strength that counts now,
// and the solvent that it was made in.
func InBottle(b *record.ShelfBottle) []Thing {
	list := []Thing{inBottle(b)}
	if in := solution.Known(b.Body.Water); in != nil && in.Name != "water" {
		list = append(list, Thing{Name: in.Name})
	}
	return list
}

func inBottle(b *record.ShelfBottle) Thing {
	t := Thing{Name: b.Body.Substance}
	r := b.StrengthNow()
	if r == nil || b.Body.Form == record.FormSolid {
		return t
	}
	if s := (solution.Strength{Value: r.Best, Unit: solution.Unit(b.Body.Unit)}); s.Check() == nil {
		t.Strength = s
	}
	return t
}

// meets says what happens when a bottle's content meets others. Errors: a thing
// that is not known, in a sentence.
func meets(b *record.ShelfBottle, others ...Thing) (list []Meeting, err error) {
	for _, t := range InBottle(b) {
		for _, other := range others {
			found, err := Meetings(t, other)
			if err != nil {
				return list, err
			}
			list = append(list, found...)
		}
	}
	return list, nil
}

// Kept says what happens between a bottle's content and the vessel that it is
// kept in. Where no vessel is named, it says what may not be closed at all; of a
// substance that the table does not hold it says nothing.
func Kept(b *record.ShelfBottle) []Meeting {
	if b.Body.Vessel != "" {
		list, _ := meets(b, Thing{Name: b.Body.Vessel})
		return list
	}
	list, _ := meets(b, Thing{Name: solution.ClosedVessel})
	return slices.DeleteFunc(list, func(m Meeting) bool { return !m.Stop })
}

// GoesInto are the names of what something can be drawn into: substances, and the
// other bottles of the shelf.
func GoesInto(st *record.Studio, b *record.ShelfBottle) []string {
	list := SubstanceNames()
	for i := range st.Bottles {
		if x := &st.Bottles[i]; x.Emptied == nil && x.Body.ID != b.Body.ID && !slices.Contains(list, x.Body.Name) {
			list = append(list, x.Body.Name)
		}
	}
	return list
}

// DrawnInto says what happens when what is drawn from a bottle meets what it goes
// into: a substance, or a bottle of the shelf by its name, with all that it holds.
// What must not meet is refused, as is a name that is not known.
func DrawnInto(
	field string, st *record.Studio, b *record.ShelfBottle, into string,
) (care []Meeting, refused []*record.Invalid) {
	var r refusals
	others := []Thing{{Name: into}}
	for i := range st.Bottles {
		x := &st.Bottles[i]
		if x.Emptied == nil && strings.EqualFold(x.Body.Name, into) && !others[0].Known() {
			others = InBottle(x)
		}
	}
	list, err := meets(b, others...)
	if err != nil {
		r.at(field, err)
	}
	for _, m := range list {
		if m.Stop {
			r.say(field, "Refused: %s", m.Say)
		}
	}
	return list, r
}

// KeptIn refuses a vessel that must not hold what is put into it.
func KeptIn(field string, b *record.Bottle) []*record.Invalid {
	var r refusals
	if b.Vessel == "" {
		return nil
	}
	for _, m := range Kept(&record.ShelfBottle{Stamped: record.Stamped[record.Bottle]{Body: *b}}) {
		if m.Stop {
			r.say(field, "Refused: %s", m.Say)
		}
	}
	return r
}

// Vessels are those that a bottle's content may be kept in, as the table of what
// must not mix names them.
func Vessels() []record.Choice {
	var list []record.Choice
	for _, t := range solution.Things() {
		if strings.HasSuffix(t, "vessel") {
			list = append(list, record.Choice{Value: t, Words: t})
		}
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
