package chem

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"
)

// ErrFormula: a substance that is not known here.
var ErrFormula = errors.New("is not a substance known here")

// Solute is a substance that can be weighed or measured out.
type Solute struct {
	name    string
	molar   float64 // g/mol, water of crystallisation included
	comp    [numComponents]float64
	water   float64 // mol of water that come with a mol, beyond the masters
	volume  float64 // litres per mol, its water not counted
	hydrate int
}

// Name is the substance as it was named.
func (s Solute) Name() string { return s.name }

// MolarMass in g/mol, with the water of crystallisation that the name has.
func (s Solute) MolarMass() float64 { return s.molar }

// Gives is the amount of a component in a mol of the substance.
func (s Solute) Gives(c Component) float64 { return s.comp[c] }

var (
	atomicWeight = map[string]float64{}
	soluteByKey  = map[string]*Solute{} // by elements in order, without water of crystallisation
	soluteByName = map[string]*Solute{} // by further names, lower case
	soluteNames  []string               // as written in the table
)

// ionAtoms are the elements of the masters that are written as words.
var ionAtoms = map[string]string{
	"Acetate-": "C2H3O2", "Formate-": "CHO2", "Oxalate-2": "C2O4", "Citrate-3": "C6H5O7",
	"Phthalate-2": "C8H4O4", "Edta-4": "C10H12N2O8", "Carboxyl-": "",
}

func loadSolutes() {
	for _, r := range readTable("atomic-weights.csv") {
		atomicWeight[r["element"]] = number(r["weight_g_per_mol"])
	}
	for c := range components {
		componentMass[c] = massOf(masterAtoms(components[c].master)) / 1000
	}
	for _, r := range readTable("solutes.csv") {
		atoms, _, err := parseFormula(r["formula"])
		if err != nil {
			panic("chem: solutes.csv: " + err.Error())
		}
		s := &Solute{name: r["formula"], molar: massOf(atoms)}
		for _, t := range terms(strings.ReplaceAll(r["gives"], " - ", " + -")) {
			s.give(t)
		}
		for c := range s.comp {
			s.volume += s.comp[c] * molarVolume[c]
		}
		key := keyOf(atoms)
		if other, ok := soluteByKey[key]; ok {
			panic("chem: solutes.csv: " + s.name + " and " + other.name + " have the same elements")
		}
		soluteByKey[key] = s
		soluteNames = append(soluteNames, s.name)
		for _, n := range strings.Split(r["other names"], ";") {
			soluteByName[strings.ToLower(n)] = s
			soluteNames = append(soluteNames, n)
		}
	}
}

// componentMass in kg/mol.
var componentMass [numComponents]float64

// masterAtoms counts the atoms of a master.
func masterAtoms(name string) map[string]int {
	f, word := ionAtoms[name]
	if !word {
		f = name
		if i := strings.LastIndexAny(name, "+-"); i > 0 {
			f = name[:i]
		}
	}
	atoms, _, err := parseFormula(f)
	if err != nil && f != "" {
		panic("chem: no atoms for " + name)
	}
	return atoms
}

// give adds a term of what the substance gives.
func (s *Solute) give(t term) {
	factor := t.factor
	name := t.name
	if strings.HasPrefix(name, "-") {
		m := terms(name[1:])[0]
		factor, name = -m.factor, m.name
	}
	if name == "H2O" {
		s.water += factor
		return
	}
	k, ok := speciesIndex[name]
	if !ok {
		panic("chem: solutes.csv: no species " + name)
	}
	for c, v := range allSpecies[k].comp {
		s.comp[c] += factor * float64(v)
	}
	s.water += factor * float64(allSpecies[k].water)
}

// ParseSolute finds a substance by its formula, or by the plain name of a
// common one. Water of crystallisation follows a dot: Na2B4O7.10H2O. The error
// wraps ErrFormula and offers the nearest names.
func ParseSolute(name string) (Solute, error) {
	trimmed := strings.TrimSpace(name)
	if s, ok := soluteByName[strings.ToLower(trimmed)]; ok {
		found := *s
		found.name = trimmed
		return found, nil
	}
	atoms, hydrate, err := parseFormula(trimmed)
	if err == nil {
		if s, ok := soluteByKey[keyOf(atoms)]; ok {
			found := *s
			found.name = trimmed
			found.hydrate = hydrate
			found.molar += float64(hydrate) * massOf(map[string]int{"H": 2, "O": 1})
			found.water += float64(hydrate)
			return found, nil
		}
	}
	return Solute{}, fmt.Errorf(
		"%q %w: did you mean %s?",
		clip(trimmed),
		ErrFormula,
		strings.Join(nearest(trimmed, 3), ", "),
	)
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}

// plain maps the lowered digits of printed formulas to plain ones, and the
// raised dot to a full stop.
var plain = strings.NewReplacer(
	"₀",
	"0",
	"₁",
	"1",
	"₂",
	"2",
	"₃",
	"3",
	"₄",
	"4",
	"₅",
	"5",
	"₆",
	"6",
	"₇",
	"7",
	"₈",
	"8",
	"₉",
	"9",
	"·",
	".",
	"•",
	".",
	"*",
	".",
	":",
	".",
	"[",
	"(",
	"]",
	")",
	" ",
	"",
)

var errNoFormula = errors.New("not a formula")

// parseFormula counts the atoms of a formula; parts after dots that are water
// are counted apart.
func parseFormula(s string) (atoms map[string]int, hydrate int, err error) {
	s = plain.Replace(s)
	if s == "" || len(s) > 60 {
		return nil, 0, errNoFormula
	}
	atoms = map[string]int{}
	for i, part := range strings.Split(s, ".") {
		n, used := leadingInt(part)
		if used == 0 {
			n = 1
		}
		body := part[used:]
		if i > 0 && body == "H2O" {
			hydrate += n
			continue
		}
		rest, counted, perr := parseGroup(body, 0)
		if perr != nil || rest != "" {
			return nil, 0, errNoFormula
		}
		for e, k := range counted {
			atoms[e] += n * k
		}
	}
	if len(atoms) == 0 || hydrate > 100 {
		return nil, 0, errNoFormula
	}
	return atoms, hydrate, nil
}

// parseGroup reads atoms and brackets until the end or a closing bracket.
func parseGroup(s string, depth int) (rest string, atoms map[string]int, err error) {
	atoms = map[string]int{}
	for s != "" && s[0] != ')' {
		var got map[string]int
		switch {
		case s[0] == '(':
			if depth > 3 {
				return "", nil, errNoFormula
			}
			if s, got, err = parseGroup(s[1:], depth+1); err != nil {
				return "", nil, err
			}
			if s == "" {
				return "", nil, errNoFormula
			}
			s = s[1:]
		case s[0] >= 'A' && s[0] <= 'Z':
			n := 1
			for n < len(s) && n < 2 && s[n] >= 'a' && s[n] <= 'z' {
				n++
			}
			if _, known := atomicWeight[s[:n]]; !known {
				return "", nil, errNoFormula
			}
			got = map[string]int{s[:n]: 1}
			s = s[n:]
		default:
			return "", nil, errNoFormula
		}
		n, used := leadingInt(s)
		if used == 0 {
			n = 1
		}
		s = s[used:]
		for e, k := range got {
			atoms[e] += n * k
		}
	}
	if depth == 0 && s != "" {
		return "", nil, errNoFormula
	}
	return s, atoms, nil
}

// leadingInt reads up to three digits.
func leadingInt(s string) (n, used int) {
	for used < len(s) && used < 3 && s[used] >= '0' && s[used] <= '9' {
		n = 10*n + int(s[used]-'0')
		used++
	}
	return n, used
}

func massOf(atoms map[string]int) float64 {
	m := 0.0
	for e, n := range atoms {
		m += float64(n) * atomicWeight[e]
	}
	return m
}

// keyOf writes atoms in order of element.
func keyOf(atoms map[string]int) string {
	var parts []string
	for e, n := range atoms {
		if n != 0 {
			parts = append(parts, fmt.Sprintf("%s%d", e, n))
		}
	}
	sort.Strings(parts)
	return strings.Join(parts, " ")
}

// nearest lists the known names that differ least from s.
func nearest(s string, most int) []string {
	type candidate struct {
		name     string
		distance int
	}
	var all []candidate
	seen := map[string]bool{}
	if r := []rune(s); len(r) > 60 {
		s = string(r[:60])
	}
	for _, n := range soluteNames {
		if !seen[n] {
			seen[n] = true
			all = append(all, candidate{n, editDistance(strings.ToLower(s), strings.ToLower(n))})
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].distance < all[j].distance })
	var out []string
	for _, c := range all[:most] {
		out = append(out, c.name)
	}
	return out
}

// editDistance is Levenshtein's.
func editDistance(a, b string) int {
	ra, rb := []rune(a), []rune(b)
	row := make([]int, len(rb)+1)
	for j := range row {
		row[j] = j
	}
	for i := range ra {
		diag := row[0]
		row[0] = i + 1
		for j := range rb {
			cost := 1
			if ra[i] == rb[j] {
				cost = 0
			}
			diag, row[j+1] = row[j+1], min(diag+cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(rb)]
}

// Unit is how an amount is measured.
type Unit string

// The units. Those per litre are per litre of the solution that is made, at
// its temperature; those per kg are per kilogram of the water that the
// substance is put into.
const (
	GramPerLitre      Unit = "g/L"
	MilligramPerLitre Unit = "mg/L"
	MolPerLitre       Unit = "mol/L"
	MillimolPerLitre  Unit = "mmol/L"
	GramPerKg         Unit = "g/kg"
	MolPerKg          Unit = "mol/kg"
)

// units lists them, as an error offers them.
var units = []Unit{GramPerLitre, MilligramPerLitre, MolPerLitre, MillimolPerLitre, GramPerKg, MolPerKg}

// ParseUnit finds a unit, whether l or L is written. The error wraps ErrUnit.
func ParseUnit(s string) (Unit, error) {
	for _, u := range units {
		if strings.EqualFold(strings.TrimSpace(s), string(u)) {
			return u, nil
		}
	}
	return "", fmt.Errorf("%q %w: g/L, mg/L, mol/L, mmol/L, g/kg or mol/kg would be right", clip(s), ErrUnit)
}

// ErrUnit: a unit not listed above.
var ErrUnit = errors.New("is no unit known here")

// ErrAmount: a negative amount, or no number.
var ErrAmount = errors.New("is no amount")

// Measure is an amount of a substance.
type Measure struct {
	Solute Solute
	Amount float64
	Unit   Unit
}

// mol is the amount in mol, and whether it is per litre.
func (m Measure) mol() (mol float64, perLitre bool, err error) {
	if math.IsNaN(m.Amount) || math.IsInf(m.Amount, 0) || m.Amount < 0 {
		return 0, false, fmt.Errorf(
			"%g %s of %s %w: 0 or more would be right",
			m.Amount,
			m.Unit,
			m.Solute.name,
			ErrAmount,
		)
	}
	switch m.Unit {
	case GramPerLitre:
		return m.Amount / m.Solute.molar, true, nil
	case MilligramPerLitre:
		return m.Amount / m.Solute.molar / 1000, true, nil
	case MolPerLitre:
		return m.Amount, true, nil
	case MillimolPerLitre:
		return m.Amount / 1000, true, nil
	case GramPerKg:
		return m.Amount / m.Solute.molar, false, nil
	case MolPerKg:
		return m.Amount, false, nil
	}
	_, err = ParseUnit(string(m.Unit))
	if err == nil {
		err = fmt.Errorf("%q %w as it is written: ParseUnit reads it", m.Unit, ErrUnit)
	}
	return 0, false, err
}
