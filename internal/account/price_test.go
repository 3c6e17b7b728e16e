package account

import (
	"testing"

	"benchleaf/internal/record"

	"pgregory.net/rapid"
)

// A bill asks for what the proposal said, to the minor unit, however the hours
// round.
func TestBillAddsUpToTheAgreedPrice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := record.Proposal{
			Version:      1,
			Currency:     "EUR",
			RateMinor:    rapid.Int64Range(0, 20000).Draw(t, "rate"),
			MinimumMinor: rapid.Int64Range(0, 50000).Draw(t, "minimum"),
			TaxPercent:   float64(rapid.IntRange(0, 250).Draw(t, "tax")) / 10,
		}
		o := record.Option{Name: "A", Title: "a"}
		for range rapid.IntRange(1, 12).Draw(t, "operations") {
			o.Operations = append(
				o.Operations,
				record.Planned{
					Operation:      "wash",
					Hours:          float64(rapid.IntRange(0, 999).Draw(t, "hours")) / 60,
					MaterialsMinor: rapid.Int64Range(0, 3000).Draw(t, "materials"),
				},
			)
		}
		p.Options = []record.Option{o}
		c := &record.Case{
			Proposals: []record.Stamped[record.Proposal]{{Body: p}},
			Consents: []record.Stamped[record.Consent]{
				{Body: record.Consent{Version: 1, Option: "A", Answer: "given"}},
			},
		}
		b, err := BillFor(c)
		if err != nil {
			t.Fatal(err)
		}
		want := p.Price(o)
		if b.NetMinor() != want.NetMinor || b.TaxMinor() != want.TaxMinor || b.DueMinor() != want.TotalMinor {
			t.Fatalf(
				"the bill asks for %d + %d = %d, the proposal said %+v",
				b.NetMinor(),
				b.TaxMinor(),
				b.DueMinor(),
				want,
			)
		}
		for _, l := range b.Lines {
			if l.AmountMinor < 0 {
				t.Fatalf("the line %+v is negative", l)
			}
		}
	})
}
