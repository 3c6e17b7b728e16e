package chem

import (
	"bytes"
	"embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"
)

//go:embed data/*.csv
var dataFiles embed.FS

// species is one dissolved particle. Its activity is
// K * product(component activity ^ comp) * (water activity ^ water).
type species struct {
	name           string
	z              float64
	comp           [numComponents]int8
	water          int8
	logK           logKForm
	gammaA, gammaB float64 // angstrom, kg/mol
	davies         bool    // no parameters of its own
	fromMemory     bool    // the constant is to be confirmed
}

// phase is a solid or the CO2 gas. At saturation
// product(component activity ^ comp) * (water activity ^ water) = K.
type phase struct {
	name  string
	comp  [numComponents]int8
	water int8
	logK  logKForm
	// comp again, as a list
	n   int
	col [5]Component
	nu  [5]float64
}

// The tables, filled once from data/*.csv.
var (
	allSpecies   []species
	speciesIndex map[string]int
	phases       [numSolids + 1]phase // the solids by bit, then gasPhase
	molarVolume  [numComponents]float64
)

// gasPhase is the index of CO2 gas among the phases.
const gasPhase = numSolids

// maxSpecies bounds the fixed arrays of solvers and states; load checks it.
const maxSpecies = 128

// init fills the tables in the order in which they need each other.
func init() {
	load()
	loadMobilities()
	loadSolutes()
	loadAnalysisIons()
}

// load builds the tables. A fault in the embedded files is a fault of the
// build, so it panics.
func load() {
	constants := append(readTable("extra-constants.csv"), readTable("species-constants-databases.csv")...)
	speciesIndex = map[string]int{}
	for c := range components {
		m := components[c].master
		sp := species{name: m, z: charge(m)}
		sp.comp[c] = 1
		sp.setGamma(firstRow(constants, m+" = "+m))
		addSpecies(sp)
	}
	carbonate, acid := readTable("carbonate-constants-temperature.csv"), readTable("acid-constants.csv")
	for _, choice := range readTable("model.csv") {
		var row map[string]string
		var logK logKForm
		switch choice["table"] {
		case "species", "extra":
			row = chosenRow(constants, choice["reaction"], choice["database"])
			if choice["form"] == "vanthoff" {
				row["A1"] = ""
			}
			logK = formOf(row)
		case "carbonate":
			row = chosenRow(carbonate, choice["reaction"], "")
			logK = formOf(row)
		case "acid":
			row, logK = acidForm(acid, choice["key"])
		}
		if choice["kind"] == "species" {
			addReaction(choice["reaction"], logK, row)
		} else {
			addPhase(choice["kind"], choice["name"], choice["reaction"], logK)
		}
	}
	if len(allSpecies) > maxSpecies {
		panic("chem: more species than maxSpecies")
	}
	for i, p := range phases {
		if p.name == "" {
			panic("chem: data/model.csv names no constants for " + append(solidNames[:], "CO2")[i])
		}
	}
	for _, r := range readTable("partial-volumes.csv") {
		c, ok := componentNamed(r["component"])
		if !ok {
			panic("chem: partial-volumes.csv: unknown component " + r["component"])
		}
		molarVolume[c] = number(r["volume_cm3_per_mol"]) / 1000
	}
}

func componentNamed(name string) (Component, bool) {
	for c := range components {
		if components[c].name == name {
			return Component(c), true
		}
	}
	return 0, false
}

// readTable reads one of the embedded tables into rows by column name.
func readTable(name string) []map[string]string {
	raw, err := dataFiles.ReadFile("data/" + name)
	if err != nil {
		panic("chem: " + err.Error())
	}
	rows, err := parseTable(raw)
	if err != nil {
		panic("chem: " + name + ": " + err.Error())
	}
	return rows
}

// parseTable reads comma-separated rows below a header line; lines that start
// with # are remarks.
func parseTable(raw []byte) ([]map[string]string, error) {
	r := csv.NewReader(bytes.NewReader(raw))
	r.Comment = '#'
	recs, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	var rows []map[string]string
	for _, rec := range recs[1:] {
		row := make(map[string]string, len(rec))
		for i, v := range rec {
			row[recs[0][i]] = v
		}
		rows = append(rows, row)
	}
	return rows, nil
}

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(fmt.Sprintf("chem: %q is no number", s))
	}
	return v
}

func firstRow(rows []map[string]string, reaction string) map[string]string {
	for _, r := range rows {
		if r["reaction"] == reaction {
			return r
		}
	}
	return nil
}

func chosenRow(rows []map[string]string, reaction, database string) map[string]string {
	for _, r := range rows {
		if r["reaction"] == reaction && (database == "" || r["database"] == database) {
			return r
		}
	}
	panic(fmt.Sprintf("chem: data/model.csv asks for %q of %q, which no table has", reaction, database))
}

// formOf is a row's log K(T): its analytic form when it has one, else
// van 't Hoff, else (no enthalpy known) constant.
func formOf(r map[string]string) logKForm {
	if r["A1"] != "" {
		var f logKForm
		for i := range f {
			if v := r["A"+strconv.Itoa(i+1)]; v != "" {
				f[i] = number(v)
			}
		}
		return f
	}
	dh := 0.0
	if v := r["delta_h_kJ_per_mol"]; v != "" {
		dh = number(v)
	}
	return vantHoff(number(r["logK_25"]), dh)
}

// acidForm sums the association constants of the steps named in key
// ("oxalic acid/2 + oxalic acid/1"); the row is that of the first.
func acidForm(rows []map[string]string, key string) (map[string]string, logKForm) {
	var first map[string]string
	var f logKForm
	for _, part := range strings.Split(key, " + ") {
		acid, step, _ := strings.Cut(part, "/")
		found := false
		for _, r := range rows {
			if r["acid"] == acid && r["step"] == step {
				dh := 0.0
				if v := r["delta_h_kJ_per_mol"]; v != "" {
					dh = number(v)
				}
				f = f.add(1, vantHoff(number(r["pKa"]), -dh))
				if found = true; first == nil {
					first = r
				}
			}
		}
		if !found {
			panic("chem: acid-constants.csv has no " + part)
		}
	}
	return first, f
}

// setGamma takes the ion-size parameters of a row. A charged species with
// size 0 is one whose database gives none: Davies.
func (s *species) setGamma(r map[string]string) {
	s.davies = true
	if r == nil {
		return
	}
	if r["gamma_a"] == "" {
		return
	}
	a, b := number(r["gamma_a"]), 0.0
	if v := r["gamma_b"]; v != "" {
		b = number(v)
	}
	if s.z != 0 && a == 0 || a == 0 && b == 0 {
		return
	}
	s.gammaA, s.gammaB, s.davies = a, b, false
}

func addSpecies(s species) {
	speciesIndex[s.name] = len(allSpecies)
	allSpecies = append(allSpecies, s)
}

// addReaction adds the species that a reaction makes from those known.
func addReaction(reaction string, logK logKForm, row map[string]string) {
	left, right := sides(reaction)
	var made string
	var factor float64
	sp := species{logK: logK, fromMemory: row["basis"] == "memory"}
	comp := map[Component]float64{}
	water := 0.0
	take := func(t term, sign float64) {
		if t.name == "H2O" {
			water += sign * t.factor
			return
		}
		k, known := speciesIndex[t.name]
		if !known {
			if made != "" {
				panic("chem: two unknown species in " + reaction)
			}
			made, factor = t.name, -sign*t.factor
			return
		}
		for c, v := range allSpecies[k].comp {
			comp[Component(c)] += sign * t.factor * float64(v)
		}
		water += sign * t.factor * float64(allSpecies[k].water)
		sp.logK = sp.logK.add(sign*t.factor, allSpecies[k].logK)
	}
	for _, t := range left {
		take(t, 1)
	}
	for _, t := range right {
		take(t, -1)
	}
	if made == "" || factor != 1 {
		panic("chem: no new species in " + reaction)
	}
	sp.name, sp.z = made, charge(made)
	z := 0.0
	for c, v := range comp {
		sp.comp[c] = small(v)
		z += v * allSpecies[c].z
	}
	sp.water = small(water)
	if math.Abs(z-sp.z) > 1e-9 {
		panic("chem: charge does not balance in " + reaction)
	}
	sp.setGamma(row)
	addSpecies(sp)
}

// addPhase adds a solid or the gas: the first term on the left of its
// reaction is the phase itself.
func addPhase(kind, name, reaction string, logK logKForm) {
	left, right := sides(reaction)
	p := phase{name: name, logK: logK}
	var comp [numComponents]float64
	water := 0.0
	take := func(t term, sign float64) {
		if t.name == "H2O" {
			water += sign * t.factor
			return
		}
		k, known := speciesIndex[t.name]
		if !known {
			panic("chem: unknown species in " + reaction)
		}
		for c, v := range allSpecies[k].comp {
			comp[c] += sign * t.factor * float64(v)
		}
		water += sign * t.factor * float64(allSpecies[k].water)
		// the product's own constant moves to the other side
		p.logK = p.logK.add(-sign*t.factor, allSpecies[k].logK)
	}
	for _, t := range left[1:] {
		take(t, -1)
	}
	for _, t := range right {
		take(t, 1)
	}
	for c, v := range comp {
		p.comp[c] = small(v)
	}
	p.water = small(water)
	for c, v := range p.comp {
		if v != 0 {
			p.col[p.n], p.nu[p.n] = Component(c), float64(v)
			p.n++
		}
	}
	if kind == "gas" {
		phases[gasPhase] = p
		return
	}
	for i, n := range solidNames {
		if n == name {
			phases[i] = p
			return
		}
	}
	panic("chem: data/model.csv: no such solid " + name)
}

func small(v float64) int8 {
	if v != math.Trunc(v) || math.Abs(v) > 100 {
		panic("chem: a stoichiometric number that is no small integer")
	}
	return int8(v)
}

// term is a species with its factor in a reaction.
type term struct {
	factor float64
	name   string
}

// sides parses "2 A + B = 1.000C": factors may stand off or be joined.
func sides(reaction string) (left, right []term) {
	l, r, ok := strings.Cut(reaction, " = ")
	if !ok {
		panic("chem: no reaction: " + reaction)
	}
	return terms(l), terms(r)
}

func terms(s string) []term {
	var out []term
	for _, f := range strings.Split(s, " + ") {
		f = strings.TrimSpace(f)
		n := 0
		for n < len(f) && (f[n] >= '0' && f[n] <= '9' || f[n] == '.') {
			n++
		}
		t := term{1, strings.TrimSpace(f[n:])}
		if n > 0 {
			t.factor = number(f[:n])
		}
		out = append(out, t)
	}
	return out
}

// charge reads the charge at the end of a name: Ca+2, OH-, CaCO3.
func charge(name string) float64 {
	i := strings.LastIndexAny(name, "+-")
	if i < 0 {
		return 0
	}
	v := 1.0
	if i+1 < len(name) {
		v = number(name[i+1:])
	}
	if name[i] == '-' {
		v = -v
	}
	return v
}
