package papers

import (
	"fmt"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// Proposal sets one version of the proposal of a case: what was found, the
// options with their operations, hours and prices, risks and alternatives, and
// a place to consent. Version 0 is the latest.
//
// Errors: a version that the case does not have; a size of paper that is not
// known.
func Proposal(c *record.Case, st *record.Studio, version int, o Options) ([]byte, error) {
	if version == 0 {
		version = len(c.Proposals)
	}
	if len(c.Proposals) == 0 {
		return nil, fmt.Errorf("case %s has no proposal yet", c.Number)
	}
	if version < 1 || version > len(c.Proposals) {
		return nil, fmt.Errorf(
			"case %s has no version %d of its proposal: it has %s",
			c.Number,
			version,
			plural(len(c.Proposals), "version", "versions"),
		)
	}
	p := c.Proposals[version-1]
	if o.Date.IsZero() {
		o.Date = p.Time
	}
	m, err := newMaker(c, st, o)
	if err != nil {
		return nil, err
	}
	b := p.Body
	m.opening(fmt.Sprintf("Proposal for treatment, version %d", version), m.about()...)
	owner := ""
	if c.Ownership != nil {
		owner = c.Ownership.Owner
	}
	list := []fact{
		say("Case", c.Number),
		say("For", owner),
		say("Date", m.k.Day(m.o.Date)),
		say("Valid until", m.k.Day(m.o.Date.AddDate(0, 0, b.ValidDays))),
		say("Prepared by", m.person(p.By)),
		say("Studio", m.studioName()),
	}
	if d := m.st.Details; d != nil {
		list = append(list, say("", joined("\n", d.Address, d.Contact)))
	}
	m.facts(append(list, say("Changed", prefixed("from the version before: ", b.Changed)))...)

	m.section("What was found")
	if b.Summary != "" {
		m.para(span{b.Summary, body})
	}
	if w := c.Ownership; w != nil && w.Wishes != "" {
		m.facts(say("You asked", quoted(w.Wishes)), say("To be kept", w.Keep))
	}
	m.found()

	for _, option := range b.Options {
		m.option(b, option)
	}
	if len(b.Options) > 1 {
		m.comparePrices(b)
	}
	m.section("Risks, and what cannot be undone")
	m.para(span{b.Risks, body})
	m.section("What else could be done")
	m.para(span{b.Alternatives, body})
	m.terms(b)
	m.consentBlock(b)
	return m.finish()
}

// found sums up damages, tests and readings in one table each, short.
func (m *maker) found() {
	g := grid("No.|Kind|Place|Extent|Severity")
	for _, d := range account.Damages(m.c) {
		g.row(fmt.Sprint(d.No), d.Name, d.Place, d.Extent, d.Severity)
	}
	m.grid("Damage", g)
	m.totals()
	g = grid("Test|Place|Liquid|Result")
	for i := range m.c.Tests {
		t := &m.c.Tests[i]
		g.row(joined(": ", record.Words(t.Body.Sort), t.Body.Colour), t.Body.Place.String(),
			joined(", ", record.Words(t.Body.Liquid), t.Body.Strength), record.Words(t.Result()))
	}
	m.grid("Tests, with the worst result of all readings", g)
	g = grid("Quantity|Place|>Value|Method, remarks")
	for i := range m.c.Readings {
		x := &m.c.Readings[i]
		if account.BeforeTreatment(x.Body.Stage) {
			g.row(account.QuantityName(x.Body.Quantity), x.Body.Place.String(), account.Value(&x.Body),
				joined("\n", append([]string{x.Body.Method}, account.Texts(account.Remarks(m.st, x))...)...))
		}
	}
	m.grid("Readings", g)
	if len(g.rows) > 0 {
		m.sayUncertainty("")
	}
}

func (m *maker) option(b record.Proposal, o record.Option) {
	begins := len(m.items)
	m.section("Option " + o.Name + ": " + o.Title)
	g := grid("Operation|Sheets|How and why|>Hours|>Materials " + b.Currency)
	for _, p := range o.Operations {
		materials := ""
		if p.MaterialsMinor > 0 {
			materials = amount(p.MaterialsMinor, b.Currency)
		}
		g.row(strong(upper(treatment.Name(p.Operation))), record.SheetNames(p.Sheets), joined("\n", p.Detail, p.Why),
			number(p.Hours), materials)
	}
	m.gridOr(g, "This option has no operations.")
	m.facts(say("Expected", o.Expect))
	m.sums(account.PriceLines(&b, &o))
	// A short option stands on one page; of a longer one what is expected stands
	// with its price.
	const short = 8 // operations
	for i := range m.items[begins : len(m.items)-1] {
		if len(o.Operations) <= short || begins+i == len(m.items)-2 && o.Expect != "" {
			m.items[begins+i].keep = true
		}
	}
}

// sums sets lines of money under each other at the right.
func (m *maker) sums(lines []account.SumLine) {
	rows := make([][]cell, len(lines))
	for i, l := range lines {
		st := fine
		if l.Total {
			st = &style{smallBold, 10, 13, ink}
		}
		rows[i] = []cell{{{l.Text, st}}, {{en.Money(l.Amount), st}}}
	}
	m.add(table{t: m.t, whole: true, cols: []column{{align: right}, {align: right, fixed: 96}}, cells: rows,
		look: tableLook{head: head, gutter: 11, padTop: 1.6, padFoot: 1.6, rule: rule}}, 5, 8, false)
}

func (m *maker) comparePrices(b record.Proposal) {
	m.section("The options side by side")
	g := grid("Option|What|>Hours|>Total with tax")
	for _, o := range b.Options {
		g.row(strong(o.Name), o.Title, number(o.Hours()), strong(money(b.Price(o).TotalMinor, b.Currency)))
	}
	m.grid("", g)
}

func (m *maker) terms(b record.Proposal) {
	m.section("Terms")
	value := ""
	if w := m.c.Ownership; w != nil && w.ValueMinor > 0 {
		value = money(w.ValueMinor, w.Currency)
	}
	m.facts(
		say(
			"Validity",
			fmt.Sprintf(
				"%s from the date of this paper, to %s.",
				plural(b.ValidDays, "day", "days"),
				m.k.Day(m.o.Date.AddDate(0, 0, b.ValidDays)),
			),
		),
		say("Agreed value", value),
		say(
			"Change of scope",
			"If the work shows that something else is needed, it is proposed anew, with its price, before it is done.",
		),
		say("Your record", "You receive a report of all that was done, with photographs, materials and readings."),
	)
}

// consentBlock is the place to answer, with the options to mark.
func (m *maker) consentBlock(b record.Proposal) {
	begins := len(m.items)
	m.section("Consent")
	m.para(
		span{
			fmt.Sprintf(
				"I have read version %d of this proposal for case %s, with its risks and the alternative of doing "+
					"nothing, and I may decide about the object.",
				b.Version,
				m.c.Number,
			),
			body,
		},
	)
	var rows [][]cell
	for _, o := range b.Options {
		rows = append(
			rows,
			[]cell{
				nil,
				{
					{
						"I consent to option " + o.Name + ": " + o.Title + ", " + money(
							b.Price(o).TotalMinor,
							b.Currency,
						),
						body,
					},
				},
			},
		)
	}
	rows = append(rows, []cell{nil, {{"I do not wish the object to be treated.", body}}})
	for _, r := range rows {
		m.add(
			tick{
				table{
					t:     m.t,
					cols:  []column{{fixed: axis - 12}, {fixed: m.size.measure() - axis}},
					cells: [][]cell{r},
					look:  tableLook{gutter: 12, padTop: 2, padFoot: 2, labels: true},
				},
			},
			2,
			2,
			true,
		)
	}
	m.facts(say("Not wanted", "…………………………………………………………………………"))
	// What is signed stands on the page of the signature.
	for i := range m.items[begins:] {
		m.items[begins+i].keep = true
	}
	m.signature("Name and signature of the owner, or of who may consent for the owner", "Place and date")
}

// tick is a line with a box to mark before it.
type tick struct{ table }

func (k tick) set(w, h float64, fresh bool) ([]placed, float64, block) {
	done, used, rest := k.table.set(w, h, fresh)
	if len(done) == 0 {
		return nil, 0, k
	}
	return append(done, placed{Draw: artifact(drawTick)}), used, rest
}
