package solution

import (
	"slices"
	"strings"
	"sync"

	"benchleaf/interval"
)

// Statement is a hazard or precautionary statement: its code and wording.
type Statement struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Hazard is what Regulation (EC) No 1272/2008 makes of a substance or a mixture.
// The sheet delivered with the bottle decides.
type Hazard struct {
	Classes     []string
	Statements  []Statement // H and EUH
	Precautions []Statement // P
	Pictograms  []string    // GHS01 to GHS09
	SignalWord  string      // "Danger", "Warning" or ""
	// Basis is Memory where any of its limits is.
	Basis Basis
	// Of says what was classified: "acetic acid at 5.2 % by mass".
	Of string
	// Sources of the limits that decided, each once.
	Sources []string
}

// Ingredient is one substance of a mixture.
type Ingredient struct {
	Substance *Substance
	// Strength in the mixture; zero: the substance as it is supplied.
	Strength Strength
}

// hazardClass is what a class puts on a label.
type hazardClass struct {
	name, code, pictogram, signal string
	precautions, over             []string
}

var hazardClasses = sync.OnceValue(func() []hazardClass {
	var list []hazardClass
	for _, r := range readTable("ghs-classes.csv") {
		list = append(list, hazardClass{
			r["class"], r["code"], r["pictogram"], r["signal"], r.list("p_codes", " "), r.list("over", ";"),
		})
	}
	return list
})

var statements = sync.OnceValue(func() map[string]string {
	all := map[string]string{}
	for _, r := range readTable("ghs-statements.csv") {
		all[r["code"]] = r["text"]
	}
	return all
})

// hazardRows are the rows of the table of hazards, by substance.
var hazardRows = sync.OnceValue(func() map[string][]row {
	all := map[string][]row{}
	for _, r := range readTable("hazard-classes.csv") {
		all[r["substance"]] = append(all[r["substance"]], r)
	}
	return all
})

// HazardOf classifies a mixture, or a substance by itself, by the limits of the
// table: the specific limits of Annex VI where there are, else the general ones of
// Annex I. Several ingredients add up: a class holds where the sum of
// strength / limit reaches 1 (Annex I, 3.2.3.3, 3.3.3.3). Nil where the table
// knows none of them.
func HazardOf(of ...Ingredient) *Hazard {
	sum, from, known := map[string]float64{}, map[string][]row{}, false
	var names []string
	for _, x := range of {
		rows := hazardRows()[x.Substance.Hazard]
		known = known || len(rows) > 0
		percent := x.Substance.percentWW(x.Strength)
		alone := x.Strength.IsZero()
		names = append(names, nameAt(x, percent))
		for _, r := range rows {
			class := r["class"]
			switch limit := r.number("from_percent"); {
			case class == "none":
			case r["state"] == string(Solid):
				if alone && x.Substance.State == Solid {
					sum[class] = 1
					from[class] = append(from[class], r)
				}
			case limit > 0:
				sum[class] += percent / limit
				from[class] = append(from[class], r)
			}
		}
	}
	if !known {
		return nil
	}
	h := &Hazard{Basis: Read, Of: strings.Join(names, " with ")}
	h.label(sum, from)
	return h
}

// Note says what was classified, by what, and what decides.
func (h *Hazard) Note() string {
	basis := ""
	if h.Basis != Read {
		basis = " (limits from memory, not verified)"
	}
	return "Classified as " + h.Of + ", by Regulation (EC) No 1272/2008" + basis + ". The data sheet decides."
}

// nameAt names an ingredient with its strength.
func nameAt(x Ingredient, percent float64) string {
	if x.Strength.IsZero() {
		return x.Substance.Name
	}
	return x.Substance.Parent().Name + " at " + interval.Digits(percent, percent) + " % by mass"
}

// holds is from what sum of strength / limit a class holds; a hair under 1 is
// rounding.
const holds = 1 - 1e-9

// label puts on a label what the classes that hold ask for, in the order of the
// table of classes.
func (h *Hazard) label(sum map[string]float64, from map[string][]row) {
	var in []hazardClass
	left := map[string]bool{}
	for _, c := range hazardClasses() {
		if sum[c.name] >= holds && !left[c.name] {
			in = append(in, c)
			for _, other := range c.over {
				left[other] = true
			}
		}
	}
	for _, c := range in {
		h.Classes = append(h.Classes, c.name)
		h.Statements = with(h.Statements, c.code)
		for _, p := range c.precautions {
			h.Precautions = with(h.Precautions, p)
		}
		if c.pictogram != "" && !slices.Contains(h.Pictograms, c.pictogram) {
			h.Pictograms = append(h.Pictograms, c.pictogram)
		}
		if c.signal == "Danger" || h.SignalWord == "" {
			h.SignalWord = c.signal
		}
		for _, r := range from[c.name] {
			if !slices.Contains(h.Sources, r["source"]) {
				h.Sources = append(h.Sources, r["source"])
			}
			if Basis(r["basis"]) != Read {
				h.Basis = Basis(r["basis"])
			}
		}
	}
	h.Pictograms = precedence(in, h.Pictograms)
}

func with(list []Statement, code string) []Statement {
	x := Statement{code, statements()[code]}
	if slices.Contains(list, x) {
		return list
	}
	return append(list, x)
}

// precedence leaves out the exclamation mark where the skull stands, and where it
// would stand for skin or eyes alone beside the corrosion sign (Article 26).
func precedence(in []hazardClass, signs []string) []string {
	other := slices.ContainsFunc(in, func(c hazardClass) bool {
		return c.pictogram == "GHS07" && !strings.Contains(c.name, "Irrit.")
	})
	if slices.Contains(signs, "GHS06") || slices.Contains(signs, "GHS05") && !other {
		signs = slices.DeleteFunc(signs, func(s string) bool { return s == "GHS07" })
	}
	slices.Sort(signs)
	return signs
}

// notesOf collects the handling sentences of one kind, first those of the
// substance's own name, then those of its groups, each once.
func notesOf(kind string, of ...*Substance) []string {
	var out []string
	for _, s := range of {
		for _, r := range readHandling() {
			if r["kind"] == kind && s.fits(r["substance"]) && !slices.Contains(out, r["text"]) {
				out = append(out, r["text"])
			}
		}
	}
	return out
}

var readHandling = sync.OnceValue(func() []row { return readTable("handling.csv") })

// fits says whether a table's substance column means s: its name, or its
// parent's; a group written with a leading *; or * for any.
func (s *Substance) fits(pattern string) bool {
	group, ok := strings.CutPrefix(pattern, "*")
	switch {
	case ok && group == "":
		return true
	case ok:
		return s.Is(Group(group))
	}
	return pattern == s.Name || pattern == s.Parent().Name
}
