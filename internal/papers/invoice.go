package papers

import (
	"fmt"
	"strconv"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Bill is what an invoice asks for. Amounts are in minor units of Currency.
type Bill struct {
	// Number is the studio's own invoice number.
	Number   string
	Currency string
	Lines    []BillLine
	// TaxPercent of the sum of the lines; 0: no tax is charged.
	TaxPercent float64
	// TaxNote says why no tax is charged, or names the tax number.
	TaxNote string
	// PaidMinor was paid before, as a deposit or for the examination.
	PaidMinor int64
	// PayBy is when payment is due; zero leaves it out.
	PayBy time.Time
	// PayTo says how to pay: account, name, reference.
	PayTo string
	Note  string
}

// BillLine is one line of a bill. Hours of 0 are not shown.
type BillLine struct {
	Text        string
	Hours       float64
	AmountMinor int64
}

// NetMinor is the sum of the lines.
func (b Bill) NetMinor() int64 {
	var n int64
	for _, l := range b.Lines {
		n += l.AmountMinor
	}
	return n
}

// TaxMinor is the tax on the net sum, halves of a minor unit rounded away from
// zero.
func (b Bill) TaxMinor() int64 {
	return words.Part(b.NetMinor(), b.TaxPercent, 100)
}

// DueMinor is what is left to pay.
func (b Bill) DueMinor() int64 { return b.NetMinor() + b.TaxMinor() - b.PaidMinor }

// BillFor makes the bill of the option that was agreed: the work of each
// operation at the agreed rate, its materials, and the minimum fee where it
// counts. Its net sum is that of record.Proposal.Price.
func BillFor(c *record.Case, o Options) (Bill, error) {
	consent, option := c.Consented()
	if consent == nil || option == nil {
		return Bill{}, fmt.Errorf("case %s has no consented option to bill", c.Number)
	}
	p := c.Proposals[consent.Version-1].Body
	b := Bill{Number: c.Number, Currency: p.Currency, TaxPercent: p.TaxPercent}
	price := p.Price(*option)
	left := price.WorkMinor
	for i, op := range option.Operations {
		// What rounding each line leaves over falls on the last one, so that
		// the lines add up to the agreed price.
		work := min(p.WorkMinor(op.Hours), left)
		if i == len(option.Operations)-1 {
			work = left
		}
		left -= work
		b.Lines = append(
			b.Lines,
			BillLine{
				Text:        upper(treatment.Name(op.Operation)) + ", " + record.SheetNames(op.Sheets),
				Hours:       op.Hours,
				AmountMinor: work,
			},
		)
	}
	if price.MaterialsMinor > 0 {
		b.Lines = append(b.Lines, BillLine{Text: "Materials", AmountMinor: price.MaterialsMinor})
	}
	if more := price.NetMinor - price.WorkMinor - price.MaterialsMinor; more > 0 {
		b.Lines = append(
			b.Lines,
			BillLine{Text: "Up to the minimum fee of " + money(p.MinimumMinor, p.Currency), AmountMinor: more},
		)
	}
	return b, nil
}

// Invoice sets a bill for the work of a case.
//
// Errors: a bill without lines or currency; a size of paper that is not known.
func Invoice(c *record.Case, st *record.Studio, b Bill, o Options) ([]byte, error) {
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
	lines := []sumLine{{"Net", b.NetMinor(), false}}
	if b.TaxPercent > 0 {
		lines = append(
			lines,
			sumLine{"Tax, " + strconv.FormatFloat(b.TaxPercent, 'f', -1, 64) + nbsp + "%", b.TaxMinor(), false},
		)
	}
	if b.PaidMinor != 0 {
		lines = append(
			lines,
			sumLine{"Total", b.NetMinor() + b.TaxMinor(), false},
			sumLine{"Paid before", -b.PaidMinor, false},
		)
	}
	m.sums(b.Currency, append(lines, sumLine{"To pay", b.DueMinor(), true}))
	m.facts(
		say("Payment", joined(" ", sentence(prefixed("due by ", m.k.Day(b.PayBy))), b.PayTo)),
		say("Tax", b.TaxNote),
		say("Note", b.Note),
	)
	return m.finish()
}
