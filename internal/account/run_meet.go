package account

import (
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/solution"
)

// Gates and codes of what a bath meets.
const (
	MustNotMix   Code = "must-not-mix"
	NeedsCare    Code = "needs-care"
	OpenTogether Code = "open-together"
	TooStrong    Code = "too-strong"
	NotInTable   Code = "not-in-table"

	gateNotMix    = "what must not mix"
	gateTooStrong = "strength"
)

// inBath is what a bath is of, where its liquid says it; the strongest that the
// substance comes in where no strength is known.
func inBath(b *record.Bath) (Thing, bool) {
	if b == nil {
		return Thing{}, false
	}
	name := b.Substance
	if name == "" {
		name, _, _ = strings.Cut(b.Liquid, ",")
		name, _, _ = strings.Cut(name, " and ")
		name = strings.TrimSuffix(strings.TrimSpace(name), " in water")
	}
	t := Thing{Name: name}
	if !t.Known() {
		return Thing{}, false
	}
	if b.StrengthGL != nil && b.StrengthGL.Best > 0 {
		t.Strength = solution.Strength{Value: b.StrengthGL.Best, Unit: solution.GramL}
	}
	return t, true
}

// trayMetals are words in a tray's name that say what it is of.
var trayMetals = [][2]string{
	{"alumin", "an aluminium vessel"}, {"galvan", "a galvanised vessel"}, {"zinc", "a galvanised vessel"},
	{"copper", "a copper or brass vessel"}, {"brass", "a copper or brass vessel"}, {"iron", "an iron vessel"},
}

// meet asks what the bath meets: the paper, what the sheets and the tray held
// last, the tray itself, and what stands open beside it. What must not meet is a
// gate, what needs care a remark.
func (p *RunPlan) meet(a *RunAsked, all []SheetsOf) {
	bath, ok := inBath(p.Run.Bath)
	if !ok {
		if b := p.Run.Bath; b != nil && b.Substance != "" {
			p.Remarks = append(p.Remarks, Sentence{NotInTable, en.Upper(b.Substance) + " is not in the table of what must " +
				"not mix, so nothing is said of what it meets: its data sheet does, section 10."})
		}
		return
	}
	if err := solution.CheckBath(bath); err != nil {
		p.stop(a, a.Case, gateTooStrong, TooStrong, en.Sentence(en.Upper(err.Error())))
	}
	p.meetAll(a, all, bath)
	if b := a.Studio.Bottle(a.Bottle); b != nil { // what it was made in comes along
		for _, in := range InBottle(b)[1:] {
			p.meetAll(a, all, in)
		}
	}
}

// meetAll asks what one thing of the bath meets.
func (p *RunPlan) meetAll(a *RunAsked, all []SheetsOf, bath Thing) {
	for _, x := range all {
		p.meetSheets(a, x, bath)
	}
	for _, m := range trayMetals {
		if strings.Contains(strings.ToLower(p.Run.Bath.Tray), m[0]) {
			p.found(a, a.Case, bath, Thing{Name: m[1]}, "")
		}
	}
	if _, last, until, of := p.inTray(a); last != nil && !emptied(of, last) {
		if held, ok := inBath(last.Body.Bath); ok {
			p.foundStop(a, a.Case, bath, held, en.Upper(p.Run.Bath.Tray)+" held "+last.Body.Bath.Liquid+" until "+
				a.Now.At(until)+", and no waste of it is recorded.")
		}
	}
	p.openBeside(a, bath)
}

// meetSheets asks what the bath meets in the sheets of one case.
func (p *RunPlan) meetSheets(a *RunAsked, x SheetsOf, bath Thing) {
	asked := map[string]bool{}
	once := func(key string, ask func()) {
		if !asked[key] {
			asked[key] = true
			ask()
		}
	}
	for _, n := range x.Sheets {
		if why := treatment.Lignin(x.Case, n); why != "" && !p.hasGate(x.Case, "lignin") {
			once("lignin", func() {
				p.found(a, x.Case, bath, Thing{Name: solution.LigninPaper}, record.SheetNames([]int{n})+": "+why+".")
			})
		}
		last := p.lastBath(x.Case, n)
		if last == nil && !p.hasGate(x.Case, "acid out first") {
			once("acid", func() {
				p.foundStop(a, x.Case, bath, Thing{Name: solution.AcidSheet},
					record.SheetName(n)+" was in no bath yet, by the record.")
			})
		}
		if last == nil {
			continue
		}
		if held, ok := inBath(last.Body.Bath); ok {
			once(last.Body.ID, func() {
				p.foundStop(a, x.Case, bath, held, record.SheetName(n)+" comes from "+last.Body.OperationName+", in "+
					last.Body.Bath.Liquid+", and was not rinsed since.")
			})
		}
	}
}

// lastBath is the last run before this one in which a sheet lay in a liquid.
func (p *RunPlan) lastBath(c *record.Case, sheet int) (last *record.Run) {
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil && r.Body.ID != p.Run.ID && !r.Body.At.After(p.Run.At) {
			last = r
		}
	}
	return last
}

func (p *RunPlan) hasGate(c *record.Case, name string) bool {
	return slices.ContainsFunc(p.Gates, func(g RunGate) bool { return g.Case == c.ID && g.Gate == name })
}

// found adds what happens between the bath and another thing.
func (p *RunPlan) found(a *RunAsked, c *record.Case, bath, other Thing, why string) {
	list, _ := Meetings(bath, other)
	for _, m := range list {
		say := words.Joined(" ", en.Upper(why), m.Say)
		if m.Stop {
			p.stop(a, c, gateNotMix, m.Code, say)
		} else {
			p.Remarks = append(p.Remarks, Sentence{NeedsCare, say})
		}
	}
}

// foundStop is found for what is rinsed down, or not sure: only what must not
// meet counts.
func (p *RunPlan) foundStop(a *RunAsked, c *record.Case, bath, other Thing, why string) {
	if list, _ := Meetings(bath, other); len(list) > 0 && list[0].Stop {
		p.found(a, c, bath, other, why)
	}
}

// stop adds a gate that does not hold; the same finding stands once for a case.
func (p *RunPlan) stop(a *RunAsked, c *record.Case, name string, code Code, say string) {
	g := RunGate{
		Unmet: treatment.Unmet{Gate: name, Stops: true, Say: say}, Case: c.ID, Key: string(c.ID) + "_" + string(code),
	}
	if c.ID != a.Case.ID {
		g.Number = c.Number
	}
	if slices.ContainsFunc(p.Gates, func(x RunGate) bool { return x.Key == g.Key }) {
		return
	}
	g.Reason = a.Reasons[g.Key]
	p.Gates = append(p.Gates, g)
}

// openBeside remarks on baths that stand open at once and must not meet: their
// gas, a splash, the wrong tray.
func (p *RunPlan) openBeside(a *RunAsked, bath Thing) {
	for _, c := range append([]*record.Case{a.Case}, a.Elsewhere...) {
		for _, r := range c.OpenRuns() {
			if p.stillIn(r) != nil || r.Body.Bath == nil || r.Body.Bath.ID == p.Run.Bath.ID {
				continue
			}
			if m := mustNotMeet(bath, r.Body.Bath); m != nil {
				p.Remarks = append(p.Remarks, Sentence{OpenTogether, "Open on the bench at once: " +
					bathOf(c, a.Case, r) + keepApart + m.Say})
			}
		}
	}
}

const keepApart = ". Keep them apart, with their own tools. "

// bathOf names the bath of a run, with its case where that is another one.
func bathOf(c, own *record.Case, r *record.Run) string {
	return caseNumber(c, own) + r.Body.OperationName + words.After(", ", r.Body.Bath.Tray) + ", in " + r.Body.Bath.Liquid
}

// mustNotMeet is why a thing and a bath must not meet, nil where they may.
func mustNotMeet(a Thing, bath *record.Bath) *Meeting {
	b, ok := inBath(bath)
	if !ok {
		return nil
	}
	if list, _ := Meetings(a, b); len(list) > 0 && list[0].Stop {
		return &list[0]
	}
	return nil
}

// OpenNow are the baths of own and other cases that stand open at once and must
// not meet, where one of them is own's.
func OpenNow(own *record.Case, others []*record.Case) []Meeting {
	type open struct {
		c *record.Case
		r *record.Run
	}
	var all []open
	for _, c := range append([]*record.Case{own}, others...) {
		for _, r := range c.OpenRuns() {
			all = append(all, open{c, r})
		}
	}
	var list []Meeting
	for i, x := range all {
		bath, ok := inBath(x.r.Body.Bath)
		if !ok || x.c != own {
			continue
		}
		for _, y := range all[i+1:] {
			if m := mustNotMeet(bath, y.r.Body.Bath); m != nil && y.r.Body.Bath.ID != x.r.Body.Bath.ID {
				m.Say = "Open at once: " + bathOf(x.c, own, x.r) + "; " + bathOf(y.c, own, y.r) + keepApart + m.Say
				list = append(list, *m)
			}
		}
	}
	return list
}
