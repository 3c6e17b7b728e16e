package record

import "testing"

// Worked by hand. 1.005 h at 1.00 are 1.005, in float64 arithmetic 1.00499...;
// 0.1 h at 0.25 are 0.025. Halves of a minor unit go up.
func TestSumsOfMoneyAreExact(t *testing.T) {
	price := func(rate int64, tax float64, hours ...float64) Price {
		p, o := Proposal{Currency: "EUR", RateMinor: rate, TaxPercent: tax}, Option{}
		for _, h := range hours {
			o.Operations = append(o.Operations, Planned{Operation: "wash", Hours: h})
		}
		return p.Price(o)
	}
	if got := price(100, 0, 1.005).WorkMinor; got != 101 {
		t.Errorf("1.005 h at 1.00 are %d, want 101", got)
	}
	if got := price(25, 0, 0.1).WorkMinor; got != 3 {
		t.Errorf("0.1 h at 0.25 are %d, want 3", got)
	}
	if got := price(1000, 0, 0.1, 0.2, 0.3, 0.15).WorkMinor; got != 750 {
		t.Errorf("0.75 h at 10.00 are %d, want 750", got)
	}
	if got := price(100, 8.1, 10.5).TaxMinor; got != 85 { // 10.50 × 8.1 % = 0.8505
		t.Errorf("8.1 %% of 10.50 are %d, want 85", got)
	}
}
