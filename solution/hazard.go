package solution

import (
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Statement is a hazard or precautionary statement: its code and wording.
type Statement struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// Hazard is what the Globally Harmonized System says of a substance, as
// classified in the European Union (Regulation (EC) No 1272/2008). The sheet
// delivered with the bottle decides.
type Hazard struct {
	Substance   string
	Classes     []string
	Statements  []Statement // H and EUH
	Precautions []Statement // P
	Pictograms  []string    // GHS01 to GHS09
	SignalWord  string      // "Danger", "Warning" or ""
	Basis       Basis
	Source      string
	Note        string
}

var hazards = sync.OnceValue(func() map[string]*Hazard {
	wording := map[string]string{}
	for _, r := range readTable("ghs-statements.csv") {
		wording[r["code"]] = r["text"]
	}
	statements := func(codes []string) []Statement {
		var out []Statement
		for _, c := range codes {
			out = append(out, Statement{c, wording[c]})
		}
		return out
	}
	all := map[string]*Hazard{}
	for _, r := range readTable("hazard-classes.csv") {
		classes := r.list("hazard_classes", ";")
		if slices.Equal(classes, []string{"none"}) {
			classes = nil
		}
		all[r["substance"]] = &Hazard{
			Substance: r["substance"], Classes: classes,
			Statements: statements(r.list("h_codes", " ")), Precautions: statements(r.list("p_codes", " ")),
			Pictograms: r.list("pictograms", " "), SignalWord: r["signal_word"],
			Basis: Basis(r["basis"]), Source: r["source"], Note: r["note"],
		}
	}
	return all
})

// HazardOf is the hazard of a substance, or nil where the table has none: that
// means unknown here, not harmless.
func (s *Substance) HazardOf() *Hazard { return hazards()[s.Hazard] }

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

// Level says how grave it is when two things meet.
type Level string

const (
	Stop Level = "stop" // must not meet
	Warn Level = "warn" // needs care
)

// Conflict is a pair that must not meet, or needs care.
type Conflict struct {
	A, B   string
	Effect string
	Level  Level
	Source string
	Basis  Basis
}

// Sentence says the conflict for a person.
func (c Conflict) Sentence() string {
	verb := "must not meet"
	if c.Level == Warn {
		verb = "need care together"
	}
	return upper(c.A) + " and " + c.B + " " + verb + ": " + c.Effect + "."
}

// upper makes the first letter a capital.
func upper(s string) string {
	if s == "" {
		return s
	}
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToTitle(r)) + s[n:]
}

// Things that are no substances but meet them: vessels, sheets, metal.
var things = map[string][]string{
	"a closed vessel":           {"vessel-closed"},
	"an aluminium vessel":       {"vessel-aluminium"},
	"an acid sheet":             {"object-acid"},
	"lignin-rich paper":         {"object-lignin"},
	"ink that alkali moves":     {"object-sensitive-ink"},
	"iron or copper":            {"metal", "metal-copper"},
	"staples":                   {"metal"},
	"copper":                    {"metal", "metal-copper"},
	"a lignin-rich acid sheet":  {"object-lignin", "object-acid"},
	"an iron or copper vessel":  {"metal", "metal-copper"},
	"a sheet with metal specks": {"metal"},
}

// Things lists the names, besides substances, that Conflicts knows.
func Things() []string {
	var names []string
	for name := range things {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

type met struct {
	name   string
	groups []string
}

func groupsOf(name string) (met, error) {
	if g, ok := things[fold(name)]; ok {
		return met{fold(name), g}, nil
	}
	s, err := Find(name)
	if err != nil {
		return met{}, err
	}
	return met{s.Name, s.Groups}, nil
}

var conflictRows = sync.OnceValue(func() []row {
	groups := map[[2]string]row{}
	for _, r := range readTable("incompatible-groups.csv") {
		groups[[2]string{r["substance"], r["with"]}] = r
	}
	rows := readTable("incompatibilities.csv")
	for _, r := range rows {
		g := groups[[2]string{r["substance"], r["with"]}]
		r["groups"], r["with_groups"] = g["groups"], g["with_groups"]
	}
	return rows
})

// Conflicts finds every pair among names that must not meet or needs care, the
// gravest first. A name is a substance or one of Things. Errors: a name that is
// neither.
func Conflicts(names ...string) ([]Conflict, error) {
	var all []met
	for _, n := range names {
		m, err := groupsOf(n)
		if err != nil {
			return nil, err
		}
		all = append(all, m)
	}
	var out []Conflict
	for i, a := range all {
		for _, b := range all[i+1:] {
			out = append(out, meetings(a, b)...)
		}
	}
	slices.SortStableFunc(out, func(a, b Conflict) int {
		return strings.Compare(string(a.Level), string(b.Level)) // "stop" before "warn"
	})
	return out, nil
}

// meetings finds the rows that speak of a and b, in either order.
func meetings(a, b met) []Conflict {
	var out []Conflict
	share := func(m met, groups []string) bool {
		return slices.ContainsFunc(m.groups, func(g string) bool { return slices.Contains(groups, g) })
	}
	for _, r := range conflictRows() {
		left, right := r.list("groups", " "), r.list("with_groups", " ")
		for _, pair := range [][2]met{{a, b}, {b, a}} {
			if share(pair[0], left) && share(pair[1], right) {
				out = append(
					out,
					Conflict{
						pair[0].name,
						pair[1].name,
						r["effect"],
						Level(r["level"]),
						r["source"],
						Basis(r["basis"]),
					},
				)
				break
			}
		}
	}
	return out
}
