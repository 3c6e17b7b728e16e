package solution

import (
	"fmt"
	"slices"
	"strings"
	"sync"
)

// State is how a substance stands on the shelf.
type State string

const (
	Solid     State = "solid"
	Liquid    State = "liquid"    // a pure liquid
	Solution  State = "solution"  // bought as a solution of the strength Supplied
	Dissolved State = "dissolved" // known only in solution, never as itself
)

// Base is what a substance's alkali dries to in a sheet.
type Base string

const (
	NoBase    Base = ""          // nothing stays: an acid, a neutral salt, ammonia
	Calcium   Base = "calcium"   // its carbonate
	Magnesium Base = "magnesium" // its carbonates
	Sodium    Base = "sodium"    // salts that stay soluble, potassium's too
)

// Anion is what a substance's alkali comes as.
type Anion string

const (
	Hydroxide   Anion = "hydroxide"
	Bicarbonate Anion = "bicarbonate"
	Carbonate   Anion = "carbonate"
	Borohydride Anion = "borohydride"
	Borate      Anion = "borate"
)

// Group is what a substance has in common with others that are handled alike; the
// table of substances has more groups than are named here.
type Group string

const (
	Hydride        Group = "hydride" // gives off hydrogen in water
	Lime           Group = "lime"
	CelluloseEther Group = "cellulose-ether"
	Starch         Group = "starch"
	Alcohol        Group = "alcohol"
	Solvent        Group = "solvent"
)

// Substance is one row of the table of substances.
type Substance struct {
	Name    string
	Formula string // "" for a polymer
	Aliases []string
	State   State
	// MolarMass is 0 for a polymer or mixture without one.
	MolarMass GramsPerMole
	// Of names the substance that a hydrate, or the like, stands for; Units is
	// how many formula units of that one it holds.
	Of    string
	Units float64
	// Density at 20 °C of a pure liquid, or of the solution as supplied; 0 when
	// not known.
	Density GramsPerMillilitre
	// Supplied is the strength of a solution as bought.
	Supplied Strength
	// AlkaliEqPerMol is the acid, in mol, that one mol neutralises in the end;
	// negative for an acid.
	AlkaliEqPerMol float64
	// Base and Anion of that alkali.
	Base   Base
	Anion  Anion
	Groups []string
	Hazard string // its name in the table of hazard classes, or ""
	Source string
	Basis  Basis
	// parent is the substance named by Of, nil where it stands for itself.
	parent *Substance
}

// catalogue is the table of substances with its index by folded name, alias and
// formula: a name goes before another's alias, an earlier row before a later one.
type catalogue struct {
	all    []*Substance
	byName map[string]*Substance
}

var substances = sync.OnceValue(func() catalogue {
	var all []*Substance
	for _, r := range readTable("substances.csv") {
		s := substanceOf(r)
		s.MolarMass, s.Units = GramsPerMole(r.number("molar_mass_g_mol")), r.number("units")
		s.Of, s.AlkaliEqPerMol = r["of"], r.number("alkali_eq_mol")
		s.Base, s.Anion, s.Hazard = Base(r["base"]), Anion(r["anion"]), r["hazard"]
		s.Source, s.Basis = r["source"], Basis(r["basis"])
		all = append(all, s)
	}
	c := indexed(all)
	for _, s := range all {
		if s.parent = c.byName[fold(s.Of)]; s.Of != "" && s.parent == nil {
			panic("substances.csv: " + s.Name + " stands for " + s.Of + ", which is not in it")
		}
	}
	return c
})

// reagents are what a bench or a house may hold besides: known by their groups, for
// what they must not meet.
var reagents = sync.OnceValue(func() catalogue {
	var all []*Substance
	for _, r := range readTable("reagents.csv") {
		s := substanceOf(r)
		all = append(all, s)
		for _, other := range r.list("likewise", ";") {
			like := *s
			like.Name, like.Formula, _ = strings.Cut(other, "=")
			like.Aliases = nil
			all = append(all, &like)
		}
	}
	return indexed(all)
})

// substanceOf reads the columns that both tables have.
func substanceOf(r row) *Substance {
	s := &Substance{
		Name: r["name"], Formula: r["formula"], Aliases: r.list("aliases", ";"), State: State(r["state"]),
		Density: GramsPerMillilitre(r.number("density_g_ml")), Groups: r.list("groups", " "),
	}
	if r["supplied"] != "" {
		var err error
		if s.Supplied, err = ParseStrength(r["supplied"]); err != nil {
			panic(err)
		}
	}
	return s
}

func indexed(all []*Substance) catalogue {
	byName := map[string]*Substance{}
	enter := func(name string, s *Substance) {
		if name = fold(name); name != "" && byName[name] == nil {
			byName[name] = s
		}
	}
	for _, s := range all {
		enter(s.Name, s)
	}
	for _, s := range all {
		enter(s.Formula, s)
		for _, a := range s.Aliases {
			enter(a, s)
		}
	}
	return catalogue{all, byName}
}

// Substances lists all that is known, in the table's order.
func Substances() []*Substance { return slices.Clone(substances().all) }

// Find finds a substance by name, formula or alias, whatever the case. An
// unknown name is refused with the nearest ones.
func Find(name string) (*Substance, error) {
	want := fold(name)
	if want == "" {
		return nil, fmt.Errorf(
			"the substance is missing: give its name or formula, as in \"calcium hydroxide\" or \"Ca(OH)2\"",
		)
	}
	if s := substances().byName[want]; s != nil {
		return s, nil
	}
	if s := reagents().byName[want]; s != nil {
		return nil, fmt.Errorf(
			"%s is known here only for what it must not meet: nothing is made of it or computed from it", s.Name,
		)
	}
	return nil, fmt.Errorf(
		"the substance %q is not in the table; the nearest are %s", name, strings.Join(nearest(want, 3), ", "),
	)
}

// Known finds a substance of the table, or what a bench or a house may hold besides,
// of which the groups alone are known; nil where neither has the name.
func Known(name string) *Substance {
	want := fold(name)
	if s := substances().byName[want]; s != nil {
		return s
	}
	return reagents().byName[want]
}

// fold writes a name so that spellings of the same compare equal.
func fold(s string) string {
	s = strings.Join(strings.Fields(strings.ToLower(s)), " ")
	return folded.Replace(s)
}

var folded = strings.NewReplacer(
	"·", ".", "*", ".", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7", "₈", "8",
	"’", "'", "percent", "%", "sulph", "sulf",
)

// nearest lists the n names closest to want by edit distance.
func nearest(want string, n int) []string {
	type near struct {
		name     string
		distance int
	}
	var all []near
	for _, s := range substances().all {
		best := editDistance(want, fold(s.Name))
		for _, a := range append(s.Aliases, s.Formula) {
			if a != "" {
				best = min(best, editDistance(want, fold(a)))
			}
		}
		all = append(all, near{s.Name, best})
	}
	slices.SortStableFunc(all, func(a, b near) int { return a.distance - b.distance })
	var names []string
	for _, a := range all[:min(n, len(all))] {
		names = append(names, a.name)
	}
	return names
}

// editDistance is Levenshtein's; of a long text only the start counts.
func editDistance(a, b string) int {
	ra, rb := []rune(a), []rune(b)
	ra, rb = ra[:min(len(ra), 60)], rb[:min(len(rb), 60)]
	line := make([]int, len(rb)+1)
	for j := range line {
		line[j] = j
	}
	for i, x := range ra {
		diagonal := line[0]
		line[0] = i + 1
		for j, y := range rb {
			cost := diagonal
			if x != y {
				cost++
			}
			diagonal = line[j+1]
			line[j+1] = min(cost, line[j]+1, line[j+1]+1)
		}
	}
	return line[len(rb)]
}

// Parent is the substance that s stands for: itself, unless it is a hydrate or
// the like.
func (s *Substance) Parent() *Substance {
	if s.parent == nil {
		return s
	}
	return s.parent
}

// gramsPerGramOfParent is the mass of s that holds 1 g of its parent substance:
// 381.37/201.22 for borax standing for sodium tetraborate. It is 1 for a
// substance that stands for itself.
func (s *Substance) gramsPerGramOfParent() float64 {
	if s.Of == "" {
		return 1
	}
	return float64(s.MolarMass) / (s.Units * float64(s.Parent().MolarMass))
}

// Is says whether the substance belongs to a group of the table.
func (s *Substance) Is(g Group) bool { return slices.Contains(s.Groups, string(g)) }

// LeavesReserve says whether a bath of it can leave an alkaline reserve in a sheet.
func (s *Substance) LeavesReserve() bool { return s.Base == Calcium || s.Base == Magnesium }
