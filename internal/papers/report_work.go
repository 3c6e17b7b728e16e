package papers

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

func (m *maker) agreed() {
	m.section("What was proposed and agreed")
	if len(m.c.Proposals) == 0 {
		m.none("No proposal is recorded.")
	}
	for _, x := range m.c.Proposals {
		var options []string
		for _, o := range x.Body.Options {
			options = append(options, o.Name+": "+o.Title)
		}
		which := map[bool]string{true: "Option ", false: "Options "}[len(options) == 1] + strings.Join(options, "; ")
		m.facts(say(fmt.Sprintf("Version %d", x.Body.Version),
			joined(". ", m.k.Day(x.Time), which, prefixed("Changed: ", x.Body.Changed))))
	}
	for _, x := range m.c.Consents {
		m.consent(x)
	}
	consent, option := m.c.Consented()
	if consent == nil || option == nil {
		if len(m.c.Runs) > 0 {
			m.caution("Consent", "No consent that counts is recorded for the work in this report.")
		}
		return
	}
	g := grid("Operation|Sheets|Detail|Why")
	for _, p := range option.Operations {
		g.row(treatment.Name(p.Operation), record.SheetNames(p.Sheets), p.Detail, p.Why)
	}
	m.sub("The agreed plan: option " + option.Name + ", " + option.Title)
	m.grid("", g)
	if v := m.c.Unanswered(); v > 0 {
		m.para(span{fmt.Sprintf("Version %d of the proposal has not been answered.", v), body})
	}
}

func (m *maker) consent(x record.Stamped[record.Consent]) {
	b := x.Body
	what := fmt.Sprintf("%s to version %d", upper(record.Words(b.Answer)), b.Version) + prefixed(", option ", b.Option)
	later := ""
	if !b.Written() {
		later = "no written confirmation is part of this entry"
	}
	m.facts(
		say("Answer", joined(", ", what, m.k.Day(or(b.At, x.Time)), record.Words(b.Way),
			"entered by "+m.person(x.By))+"."),
		say("Given by", joined(", ", b.Who, b.Standing)), say("Words", quoted(b.Words)), say("Declined", b.Declined),
		say("Note", later),
	)
}

func quoted(s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return "“" + strings.TrimSpace(s) + "”"
}

// event is something done, in time.
type event struct {
	at  time.Time
	seq int64
	set func()
}

func (m *maker) work() {
	m.section("What was done")
	var events []event
	add := func(at time.Time, seq int64, set func()) { events = append(events, event{at, seq, set}) }
	for i := range m.c.Runs {
		r := &m.c.Runs[i]
		add(r.Body.At, r.Seq, func() { m.run(r) })
	}
	for i := range m.c.Mends {
		x := m.c.Mends[i]
		if m.c.Run(x.Body.Run) == nil {
			add(or(x.Body.At, x.Time), x.Seq, func() {
				m.sub("Mend: " + x.Body.Place.String())
				m.facts(m.mendFacts(x)...)
			})
		}
	}
	for i := range m.c.Staples {
		for _, mv := range m.c.Staples[i].Moves {
			at := or(mv.Body.At, mv.Time)
			add(at, mv.Seq, func() {
				m.sub(fmt.Sprintf("Staple %d %s", mv.Body.Number, record.Words(mv.Body.Act)))
				m.facts(say("When", m.k.Moment(at)), say("By", m.person(mv.By)), say("How", mv.Body.How))
			})
		}
	}
	for _, x := range m.c.Incidents {
		add(or(x.Body.At, x.Time), x.Seq, func() { m.incident(x) })
	}
	if len(events) == 0 {
		m.none("No treatment is recorded.")
	} else {
		m.lead(span{"In the order of time. A person is named by initials where space is short; the names stand " +
			"under “Who worked on it”.", bodyMuted})
	}
	slices.SortStableFunc(events, func(a, b event) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.seq, b.seq)) })
	for _, e := range events {
		e.set()
	}
	m.decisions()
	m.learnt()
	m.wastes()
}

func (m *maker) incident(x record.Stamped[record.Incident]) {
	b := x.Body
	told := b.OwnerTold
	if told == "" {
		told = "not recorded"
	}
	m.caution("Accident or loss: "+b.Place.String(), joined(" ", m.k.Moment(or(b.At, x.Time))+".", sentence(b.What),
		prefixed("Done: ", sentence(b.Done)), "The owner was told: "+told+".", "Entered by "+m.person(x.By)+"."))
}

// runTime is when a run was, and how long.
func (m *maker) runTime(r *record.Run) string {
	s := m.k.Moment(r.Body.At)
	if r.Open() {
		return s + ", not ended at the last entry"
	}
	end := r.Ended()
	to := m.k.Time(end)
	if m.k.Day(end) != m.k.Day(r.Body.At) {
		to = m.k.Moment(end)
	}
	return s + " to " + to + " (" + account.Lasted(r) + ")"
}

func (m *maker) run(r *record.Run) {
	b := r.Body
	m.sub(upper(b.OperationName) + ": " + record.SheetNames(b.Sheets))
	list := []fact{say("When", m.runTime(r)), say("By", m.runPeople(r))}
	for _, f := range account.RunFacts(m.st, &b) {
		if f.Name != "Sheets" { // named above
			list = append(list, say(f.Name, f.Value(en)))
		}
	}
	list = append(list, say("Readings", strings.Join(m.runReadings(b.ID), "\n")),
		say("Expected before", strings.Join(account.HeldLines(m.c, b.ID), "\n")))
	var changes []string
	for _, x := range r.Changes {
		after := " (" + lasted(x.Body.At.Sub(b.At)) + " after the start)"
		changes = append(changes, joined("; ", m.k.Moment(x.Body.At)+after, x.Body.What,
			prefixed("took up ", maybe(x.Body.TakenUpG, "g")), x.Body.Seen, x.By))
	}
	list = append(list, say("Absorbents changed", strings.Join(changes, "\n")))
	for _, x := range m.c.Mends {
		if x.Body.Run == b.ID {
			list = append(list, say("Mend", m.mendText(x)))
		}
	}
	for _, x := range m.c.Notes {
		if x.Body.Run == b.ID {
			text := x.Body.Text
			if x.Body.Nature == "owner" {
				text = quoted(text)
			}
			list = append(list, say(upper(record.Words(x.Body.Nature)),
				joined("; ", joined(": ", named(x.Body.Place), text), prefixed("rests on ", x.Body.RestsOn), x.By)))
		}
	}
	for i, x := range r.Ends {
		e := x.Body
		list = append(list, say("Ended", joined("; ", m.k.Moment(e.At)+", "+
			record.SheetNames(account.EndedSheets(m.c, r, i))+": "+record.Words(e.Outcome)+", left "+string(e.Leaves),
			prefixed("end point: ", e.EndPoint), prefixed("seen: ", e.Seen), prefixed("reason: ", e.Reason), x.By)))
	}
	list = append(list, say("Gates passed", strings.Join(account.GatesPassed(&b), "\n")))
	list = append(list, fact{"Cautions shown", []span{{strings.Join(b.Cautions, "\n"), fine}}})
	for _, x := range m.c.Wastes {
		if x.Body.Run == b.ID {
			list = append(list, say("Waste", wasteText(x.Body)))
		}
	}
	m.facts(list...)
}

// named is a place that says more than the run does.
func named(p record.Place) string {
	if len(p.Sheets) == 0 && p.Words == "" {
		return ""
	}
	return p.String()
}

// runPeople names who wrote the start, the ends and the changes of a run.
func (m *maker) runPeople(r *record.Run) string {
	by := []string{r.By}
	for _, e := range r.Ends {
		by = append(by, e.By)
	}
	for _, e := range r.Changes {
		by = append(by, e.By)
	}
	var names []string
	for _, x := range by {
		if p := m.person(x); !slices.Contains(names, p) {
			names = append(names, p)
		}
	}
	return list(names)
}

func (m *maker) runReadings(run string) []string {
	var out []string
	for i := range m.c.Readings {
		x := &m.c.Readings[i]
		if x.Body.Run != run {
			continue
		}
		what := account.QuantityName(x.Body.Quantity) + " " + account.Value(&x.Body)
		remarks := strings.Join(account.Texts(account.Remarks(m.st, x)), " ")
		out = append(out, joined(", ", m.k.Time(or(x.Body.At, x.Time))+" "+what, named(x.Body.Place), x.Body.Method,
			account.NameOf(m.st, x.Body.Instrument), x.Body.Note, x.By, remarks))
	}
	return out
}

func (m *maker) mendText(x record.Stamped[record.Mend]) string {
	b := x.Body
	return joined("; ", m.k.Moment(or(b.At, x.Time)), b.Place.String(), m.mendedDamages(b.Damages), tissue(&b),
		adhesive(&b), mendSize(&b), record.Words(b.State), prefixed("edge ", b.Edge), b.Note, x.By)
}

func (m *maker) mendFacts(x record.Stamped[record.Mend]) []fact {
	b := x.Body
	return []fact{
		say("When", m.k.Moment(or(b.At, x.Time))), say("By", m.person(x.By)), say("Damage", m.mendedDamages(b.Damages)),
		say("Tissue", tissue(&b)), say("Adhesive", adhesive(&b)), say("Size", mendSize(&b)),
		say("Sheet", joined(", ", record.Words(b.State), prefixed("edge ", b.Edge))), say("Note", b.Note),
	}
}

func tissue(b *record.Mend) string { return joined(", ", b.Tissue, maybe(b.TissueGM2, "g/m²")) }
func adhesive(b *record.Mend) string {
	return joined(", ", b.Adhesive, prefixed("lot ", b.AdhesiveLot))
}
func mendSize(b *record.Mend) string {
	return account.Extent(&record.Damage{LengthMm: b.LengthMm, WidthMm: b.WidthMm})
}

func (m *maker) mendedDamages(ids []string) string {
	var parts []string
	for _, d := range account.Damages(m.c) {
		if slices.Contains(ids, d.Body.ID) {
			parts = append(parts, fmt.Sprintf("%s (no. %d)", d.Name, d.No))
		}
	}
	return list(parts)
}

func (m *maker) decisions() {
	g := grid("When|Sheets|Next step|Reason|By")
	for _, x := range m.c.Decisions {
		b := x.Body
		state := ""
		if b.Done {
			state = "settled"
		}
		g.row(m.k.ShortMoment(x.Time), record.SheetNames(b.Sheets), joined("; ", b.Text, prefixed("waits for ", b.Who),
			prefixed("due ", m.k.ShortMoment(b.Due)), state), b.Reason, x.By)
	}
	m.grid("Decisions at the bench", g)
}

func wasteText(w record.Waste) string {
	return joined(", ", w.What, maybe(w.VolumeMl, "mL")) + ": " + w.To
}

func (m *maker) wastes() {
	var facts []fact
	for _, x := range m.c.Wastes {
		if x.Body.Run == "" {
			facts = append(facts, say(m.k.Day(or(x.Body.At, x.Time)), wasteText(x.Body)+"; "+x.By))
		}
	}
	if len(facts) > 0 {
		m.sub("Waste")
		m.facts(facts...)
	}
}

// sheetBySheet repeats the work as each sheet met it.
func (m *maker) sheetBySheet() {
	sheets := m.c.Sheets()
	if len(sheets) == 0 || len(m.c.Runs) == 0 && len(m.c.Mends) == 0 {
		return
	}
	m.annex("Sheet by sheet")
	g := grid("Sheet|What was done, in order of time")
	g.cols[0].fixed = 52
	for _, n := range sheets {
		g.row(strong(upper(record.SheetName(n))), m.stepsOf(n))
	}
	m.grid("", g)
}

// stepsOf is what one sheet met, each day with its line.
func (m *maker) stepsOf(sheet int) cell {
	type step struct {
		at   time.Time
		text string
	}
	var steps []step
	for _, r := range m.c.RunsOn(sheet) {
		what := r.Body.OperationName
		if r.Body.Bath != nil {
			what += " in " + r.Body.Bath.Liquid
		}
		steps = append(steps, step{r.Body.At, joined(", ", m.runSpanOn(r, sheet), what, r.By)})
	}
	for _, x := range m.c.Mends {
		if slices.Contains(x.Body.Place.Sheets, sheet) {
			at := or(x.Body.At, x.Time)
			what := "mended with " + x.Body.Tissue + " and " + x.Body.Adhesive
			steps = append(steps, step{at, joined(", ", m.k.Time(at), what, x.By)})
		}
	}
	if len(steps) == 0 {
		return txt("nothing was done to it")
	}
	slices.SortStableFunc(steps, func(a, b step) int { return a.at.Compare(b.at) })
	var lines cell
	day := ""
	for _, s := range steps {
		if d := m.k.Day(s.at); d != day {
			day = d
			lines = append(lines, span{day + "\n", caption})
		}
		lines = append(lines, span{s.text + "\n", fine})
	}
	lines[len(lines)-1].text = strings.TrimSuffix(lines[len(lines)-1].text, "\n")
	return lines
}

// runSpanOn is the time of day that one sheet was in a run, with the day of its
// end where that is another.
func (m *maker) runSpanOn(r *record.Run, sheet int) string {
	for _, e := range r.Ends {
		if len(e.Body.Sheets) == 0 || slices.Contains(e.Body.Sheets, sheet) {
			s := m.k.Time(r.Body.At) + " to "
			if m.k.Day(e.Body.At) == m.k.Day(r.Body.At) {
				s += m.k.Time(e.Body.At)
			} else {
				s += m.k.ShortMoment(e.Body.At)
			}
			if e.Body.Outcome != record.RunDone {
				s += " (" + record.Words(e.Body.Outcome) + ")"
			}
			return s
		}
	}
	return "since " + m.k.Time(r.Body.At)
}

func (m *maker) addedAndRemoved() {
	m.section("What was added and what was removed")
	g := grid("What|Where|In which work")
	for _, x := range account.Added(m.c) {
		g.row(x.What, x.Where, joined(", ", x.Work, m.k.ShortDay(x.At)))
	}
	if len(g.rows) == 0 {
		m.none("Nothing that stays in or on the object is recorded as added.")
	}
	m.grid("Added, and still in or on the object", g)
	m.placed()
	g = grid("What|From|Label|Where it is now|By")
	for _, x := range account.Removed(m.c, m.k) {
		g.row(x.What, x.Where, x.Label, x.Work, x.By)
	}
	if len(g.rows) == 0 {
		m.none("Nothing is recorded as removed or kept apart.")
	}
	m.grid("Removed or kept apart, and where it is now", g)
}

func (m *maker) departures() {
	m.section("Departures from the plan")
	g := grid("When|Work|What|Reason|By")
	for _, x := range account.Departures(m.c) {
		g.row(m.k.ShortMoment(x.At), x.Work, strong(x.What), x.Why(), x.By)
	}
	none := "None is recorded, and none was found where the agreed plan was compared with what was done."
	if _, option := m.c.Consented(); option == nil {
		none = "None is recorded. No plan was agreed that what was done could be compared with."
	}
	m.gridOr(g, none)
}
