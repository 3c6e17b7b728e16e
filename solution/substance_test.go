package solution

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Abridged standard atomic weights, IUPAC 2021 (Prohaska et al., Pure Appl.
// Chem. 94, 573, 2022); basis: memory.
var atomicWeight = map[string]float64{
	"H": 1.0080, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "Mg": 24.305,
	"P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078, "I": 126.90,
}

// weigh adds up a formula: elements, counts, brackets, and parts after a point.
func weigh(t *testing.T, formula string) float64 {
	sum := 0.0
	for part := range strings.SplitSeq(formula, ".") {
		n := 0
		for n < len(part) && part[n] >= '0' && part[n] <= '9' {
			n++
		}
		times := 1.0
		if n > 0 {
			times, _ = strconv.ParseFloat(part[:n], 64)
		}
		w, rest := group(t, part[n:])
		if rest != "" {
			t.Fatalf("formula %q: %q is left over", formula, rest)
		}
		sum += times * w
	}
	return sum
}

func group(t *testing.T, s string) (sum float64, rest string) {
	for s != "" && s[0] != ')' {
		var w float64
		if s[0] == '(' {
			w, s = group(t, s[1:])
			s = strings.TrimPrefix(s, ")")
		} else {
			n := 1
			for n < len(s) && s[n] >= 'a' && s[n] <= 'z' {
				n++
			}
			var ok bool
			if w, ok = atomicWeight[s[:n]]; !ok {
				t.Fatalf("no atomic weight for %q", s[:n])
			}
			s = s[n:]
		}
		n := 0
		for n < len(s) && s[n] >= '0' && s[n] <= '9' {
			n++
		}
		if n > 0 {
			k, _ := strconv.ParseFloat(s[:n], 64)
			w *= k
		}
		sum, s = sum+w, s[n:]
	}
	return sum, s
}

func TestMolarMassesFollowFromTheFormulas(t *testing.T) {
	n := 0
	for _, s := range Substances() {
		if s.Formula == "" {
			if s.MolarMass != 0 {
				t.Errorf("%s has a molar mass and no formula", s.Name)
			}
			continue
		}
		n++
		if want := weigh(t, s.Formula); math.Abs(float64(s.MolarMass)-want) > 0.006 {
			t.Errorf("%s %s: the table has %.3f g/mol, the formula gives %.3f", s.Name, s.Formula, s.MolarMass, want)
		}
	}
	if n < 40 {
		t.Errorf("only %d substances with a formula", n)
	}
}

func TestTablesReferToEachOther(t *testing.T) {
	groups := map[string]bool{}
	for _, s := range Substances() {
		if s.Of != "" {
			if _, err := Find(s.Of); err != nil {
				t.Errorf("%s stands for %q: %v", s.Name, s.Of, err)
			}
			if s.MolarMass != 0 && s.Units == 0 {
				t.Errorf("%s stands for %q without a number of units", s.Name, s.Of)
			}
		}
		switch s.State {
		case Solid, Liquid, Solution, Dissolved:
		default:
			t.Errorf("%s has the unknown state %q", s.Name, s.State)
		}
		if s.State == Liquid && s.Density == 0 {
			t.Errorf("%s is a liquid without a density", s.Name)
		}
		if s.Density != 0 && s.Source == "" {
			t.Errorf("%s has a density without a source", s.Name)
		}
		if s.State == Solution && s.Supplied.IsZero() {
			t.Errorf("%s is bought as a solution of no strength", s.Name)
		}
	}
	for _, s := range slices.Concat(Substances(), reagents().all) {
		for _, g := range s.Groups {
			groups[g] = true
		}
	}
	for _, table := range []string{"handling.csv", "shelf-life.csv"} {
		for _, r := range readTable(table) {
			name, isGroup := strings.CutPrefix(r["substance"], "*")
			if isGroup && name != "" && !groups[name] {
				t.Errorf("%s speaks of the group %q, which no substance has", table, name)
			}
			if !isGroup {
				if _, err := Find(name); err != nil {
					t.Errorf("%s: %v", table, err)
				}
			}
			if r["basis"] == "" {
				t.Errorf("%s: the row for %s has no basis", table, r["substance"])
			}
		}
	}
	classes := map[string]bool{"none": true}
	for _, c := range hazardClasses() {
		classes[c.name] = true
		for _, code := range append(c.precautions, c.code) {
			if statements()[code] == "" {
				t.Errorf("%s: the statement %s has no wording", c.name, code)
			}
		}
	}
	for name, rows := range hazardRows() {
		for _, r := range rows {
			if !classes[r["class"]] || r["basis"] == "" || r["source"] == "" {
				t.Errorf("%s: the row of the class %q is not whole", name, r["class"])
			}
		}
	}
	for _, s := range Substances() {
		if s.Hazard != "" && hazardRows()[s.Hazard] == nil {
			t.Errorf("%s: the table of hazards has no %q", s.Name, s.Hazard)
		}
	}
	for _, m := range meetingRows() {
		if len(m.groups) == 0 || len(m.with) == 0 || m.effect == "" || m.source == "" && m.level != None {
			t.Errorf("the row %s is not whole", m.code)
		}
	}
}

func TestFind(t *testing.T) {
	for given, want := range map[string]string{
		"Ca(OH)2": "calcium hydroxide", "lime water": "calcium hydroxide", "CALCIUM  hydroxide": "calcium hydroxide",
		"NaBH4": "sodium borohydride", "NaBH₄": "sodium borohydride", "Na2B4O7·10H2O": "borax", "NH3": "ammonia",
		"ammonia 25 percent": "ammonia solution 25 %", "alcohol": "ethanol",
	} {
		s, err := Find(given)
		if err != nil {
			t.Errorf("%q: %v", given, err)
		} else if s.Name != want {
			t.Errorf("%q: got %s, want %s", given, s.Name, want)
		}
	}
	_, err := Find("sodium borohydrid")
	if err == nil || !strings.Contains(err.Error(), "sodium borohydride") {
		t.Errorf("a misspelt name: got %v, want the nearest named", err)
	}
	if _, err := Find(""); err == nil {
		t.Error("an empty name was accepted")
	}
}

func TestAtomsAndWhatAlkaliDriesTo(t *testing.T) {
	for _, row := range []struct {
		name, element string
		want          float64
		dries         Base
	}{
		{"borax", "B", 4, "sodium"}, {"borax", "H", 20, "sodium"}, {"borax", "Na", 2, "sodium"},
		{"sodium borohydride", "Na", 1, "sodium"},
		{"calcium hydroxide", "O", 2, "calcium"}, {"basic magnesium carbonate", "Mg", 5, "magnesium"},
		{"basic magnesium carbonate", "C", 4, "magnesium"},
		{"trisodium citrate dihydrate", "Na", 3, ""}, {"trisodium citrate dihydrate", "N", 0, ""},
		{"ammonia", "N", 1, ""},
		{"methyl cellulose", "C", 0, ""}, {"acetic acid", "C", 2, ""}, {"calcium chloride", "Ca", 1, ""},
	} {
		s := find(t, row.name)
		if got := s.Atoms(row.element); got != row.want {
			t.Errorf("%s in %s: got %g, want %g", row.element, row.name, got, row.want)
		}
		if got := s.Base; got != row.dries {
			t.Errorf("%s dries to %q, want %q", row.name, got, row.dries)
		}
	}
}

// The alkali of a table row follows from its ions where the substance is one of
// a strong base, or of carbonate: 2 for calcium and magnesium, 1 for sodium.
func TestAlkaliFollowsFromTheFormula(t *testing.T) {
	for _, s := range Substances() {
		if s.AlkaliEqPerMol <= 0 || s.Base == NoBase || s.Is(Hydride) {
			continue
		}
		if want := 2*s.Atoms("Ca") + 2*s.Atoms("Mg") + s.Atoms("Na") + s.Atoms("K"); s.AlkaliEqPerMol != want {
			t.Errorf("%s: the table has %g mol of acid for each mol, its ions make %g", s.Name, s.AlkaliEqPerMol, want)
		}
	}
}

// The columns of base and anion follow from the formula.
func TestBaseAndAnionFollowFromTheFormula(t *testing.T) {
	for _, s := range Substances() {
		if s.AlkaliEqPerMol <= 0 {
			if s.Base != NoBase || s.Anion != "" {
				t.Errorf("%s has no alkali, and the table has %q and %q", s.Name, s.Base, s.Anion)
			}
			continue
		}
		base := NoBase
		for _, x := range []struct {
			element string
			base    Base
		}{{"Ca", Calcium}, {"Mg", Magnesium}, {"Na", Sodium}, {"K", Sodium}} {
			if s.Atoms(x.element) > 0 {
				base = x.base
			}
		}
		var anion Anion
		for _, x := range []struct {
			part  string
			anion Anion
		}{{"BO2", Borate}, {"B4O7", Borate}, {"BH4", Borohydride}, {"HCO3", Bicarbonate}, {"CO3", Carbonate}} {
			if anion == "" && strings.Contains(s.Formula, x.part) {
				anion = x.anion
			}
		}
		if anion == "" {
			anion = Hydroxide // of calcium oxide and ammonia too, once in water
		}
		if s.Base != base || s.Anion != anion {
			t.Errorf("%s: the table has %q and %q, its formula %q and %q", s.Name, s.Base, s.Anion, base, anion)
		}
	}
}
