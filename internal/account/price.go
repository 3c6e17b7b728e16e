package account

import (
	"fmt"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// SumLine is one line of a sum of money; Total says that it is what the others
// come to.
type SumLine struct {
	Text   string
	Amount words.Money
	Total  bool
}

// sum are lines of money of one currency.
type sum struct {
	currency string
	lines    []SumLine
}

func (s *sum) add(text string, minor int64) {
	s.lines = append(s.lines, SumLine{Text: text, Amount: words.Money{Minor: minor, Currency: s.currency}})
}

// total ends a sum.
func (s *sum) total(text string, minor int64) []SumLine {
	s.add(text, minor)
	s.lines[len(s.lines)-1].Total = true
	return s.lines
}

func taxText(percent float64) string { return "Tax, " + en.Quantity(percent, "%") }

func minimumText(p *record.Proposal) string {
	return "Up to the minimum fee of " + en.Money(words.Money{Minor: p.MinimumMinor, Currency: p.Currency})
}

// PriceLines write out how the price of an option comes about.
func PriceLines(p *record.Proposal, o *record.Option) []SumLine {
	price, s := p.Price(*o), sum{currency: p.Currency}
	rate := en.Money(words.Money{Minor: p.RateMinor, Currency: p.Currency})
	s.add("Work, "+en.Quantity(o.Hours(), "h")+" at "+rate, price.WorkMinor)
	if price.MaterialsMinor > 0 {
		s.add("Materials", price.MaterialsMinor)
	}
	if more := price.NetMinor - price.WorkMinor - price.MaterialsMinor; more > 0 {
		s.add(minimumText(p), more)
	}
	if p.TaxPercent > 0 {
		s.add("Net", price.NetMinor)
		s.add(taxText(p.TaxPercent), price.TaxMinor)
	}
	return s.total("Total", price.TotalMinor)
}

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
func (b Bill) TaxMinor() int64 { return words.Part(b.NetMinor(), b.TaxPercent, 100) }

// DueMinor is what is left to pay.
func (b Bill) DueMinor() int64 { return b.NetMinor() + b.TaxMinor() - b.PaidMinor }

// Sum writes out how what is left to pay comes about.
func (b Bill) Sum() []SumLine {
	s := sum{currency: b.Currency}
	s.add("Net", b.NetMinor())
	if b.TaxPercent > 0 {
		s.add(taxText(b.TaxPercent), b.TaxMinor())
	}
	if b.PaidMinor != 0 {
		s.add("Total", b.NetMinor()+b.TaxMinor())
		s.add("Paid before", -b.PaidMinor)
	}
	return s.total("To pay", b.DueMinor())
}

// BillFor makes the bill of the option that was agreed: the work of each
// operation at the agreed rate, its materials, and the minimum fee where it
// counts. Its net sum is that of record.Proposal.Price. Error: nothing was agreed.
func BillFor(c *record.Case) (Bill, error) {
	consent, option := c.Consented()
	if consent == nil || option == nil {
		return Bill{}, fmt.Errorf("case %s has no consented option to bill", c.Number)
	}
	p := &c.Proposals[consent.Version-1].Body
	b := Bill{Number: c.Number, Currency: p.Currency, TaxPercent: p.TaxPercent}
	price := p.Price(*option)
	left := price.WorkMinor
	last := 0 // of those with work
	for i, op := range option.Operations {
		if op.Hours > 0 {
			last = i
		}
	}
	for i, op := range option.Operations {
		// What rounding each line leaves over falls on the last one with work, so
		// that the lines add up to the agreed price.
		work := min(p.WorkMinor(op.Hours), left)
		if i == last {
			work = left
		}
		left -= work
		b.Lines = append(b.Lines, BillLine{
			Text:  en.Upper(treatment.Name(op.Operation)) + ", " + record.SheetNames(op.Sheets),
			Hours: op.Hours, AmountMinor: work,
		})
	}
	if price.MaterialsMinor > 0 {
		b.Lines = append(b.Lines, BillLine{Text: "Materials", AmountMinor: price.MaterialsMinor})
	}
	if more := price.NetMinor - price.WorkMinor - price.MaterialsMinor; more > 0 {
		b.Lines = append(b.Lines, BillLine{Text: minimumText(p), AmountMinor: more})
	}
	return b, nil
}
