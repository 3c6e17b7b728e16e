package paper

import "benchleaf/interval"

// Taken is a value that a calculation takes without a measurement, with what is known
// of it: Basis is "read", "memory", "common practice", "estimate" or "computed".
type Taken struct {
	Name   string         `json:"name"`
	Range  interval.Range `json:"range"`
	Unit   string         `json:"unit"`
	Basis  string         `json:"basis"`
	Source string         `json:"source"`
}

// taken is a typical value of a class as a Taken.
func (t Typical) taken(name string) Taken { return Taken{name, t.Range, t.Unit, t.Basis, t.Source} }

// FilmTaken is the film of resting liquid at the face of a sheet in a bath, m scaled
// to µm, with the range that the calculation gives it.
func FilmTaken(m Motion) Taken {
	um := Bath{Motion: m}.filmM() * 1e6
	return Taken{
		"Resting film", interval.Range{Low: 0.4 * um, Best: um, High: 2.5 * um}, "µm", "memory",
		"diffusion layers of stirred and of resting water",
	}
}

// takenInAir are the values of drying in air that nobody measured on this sheet.
func (k known) takenInAir(s Sheet, held Held, in []interval.Input, weighed, rate bool) []Taken {
	var list []Taken
	if s.PickUpGPerG == nil && !weighed {
		name, q := "Water at the start, drained", qDrained
		if held == Blotted {
			name, q = "Water at the start, blotted", qBlotted
		}
		list = append(list, typicals()[k.class][q].taken(name))
	}
	list = append(list, Taken{
		"Critical moisture, where drying slows", in[dCritical].Range, "g/g", "memory", "drying literature",
	})
	if !rate {
		list = append(list, Taken{
			"Drying rate over the computed one", in[dFactor].Range, "", "common practice",
			"none: weigh the sheet twice to know it",
		})
	}
	return append(list, takenWindow(held == Blotted)...)
}

// takenWindow are the ends of the mending window.
func takenWindow(blotted bool) (list []Taken) {
	if !blotted {
		list = []Taken{{"Gloss gone", GlossGone, "g/g", "common practice", "none"}}
	}
	return append(list, Taken{
		"Shrinkage begins", ShrinkageOnset, "g/g", "read",
		"Sugarman and Vitale, JAIC 31-2, 1992, abstract; upper end for groundwood from memory",
	})
}
