package papers

import (
	"fmt"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
)

// Invoice sets a bill for the work of a case.
//
// Errors: a bill without lines or currency; a size of paper that is not known.
func Invoice(c *record.Case, st *record.Studio, b account.Bill, o Options) ([]byte, error) {
	switch {
	case len(b.Lines) == 0:
		return nil, fmt.Errorf("the bill of case %s has no lines: there is nothing to ask payment for", c.Number)
	case b.Currency == "":
		return nil, fmt.Errorf(
			"the bill of case %s names no currency: three capital letters of ISO 4217 are expected, as in EUR",
			c.Number,
		)
	}
	m, err := newMaker(c, st, o)
	if err != nil {
		return nil, err
	}
	m.opening("Invoice "+b.Number, m.about()...)
	owner, contact := "", ""
	if w := c.Ownership; w != nil {
		owner, contact = w.Owner, w.Contact
	}
	facts := []fact{
		say("Invoice", b.Number),
		say("Case", c.Number),
		say("Date", m.k.Day(m.o.Date)),
		say("To", joined("\n", owner, contact)),
		say("From", m.studioName()),
	}
	if d := m.st.Details; d != nil {
		facts = append(facts, say("", joined("\n", d.Address, d.Contact)))
	}
	if consent, _ := c.Consented(); consent != nil {
		facts = append(
			facts,
			say("Agreed", fmt.Sprintf("option %s of version %d of the proposal", consent.Option, consent.Version)),
		)
	}
	m.facts(facts...)

	g := grid("What|>Hours|>Amount " + b.Currency)
	g.cols[1].fixed, g.cols[2].fixed = 50, 96
	for _, l := range b.Lines {
		hours := ""
		if l.Hours != 0 {
			hours = number(l.Hours)
		}
		g.row(l.Text, hours, amount(l.AmountMinor, b.Currency))
	}
	m.section("Work and materials")
	m.grid("", g)
	m.sums(b.Sum())
	m.facts(
		say("Payment", joined(" ", sentence(prefixed("due by ", m.k.Day(b.PayBy))), b.PayTo)),
		say("Tax", b.TaxNote),
		say("Note", b.Note),
	)
	return m.finish()
}
