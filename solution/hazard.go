package solution

import (
	"slices"
	"strings"
	"sync"
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
