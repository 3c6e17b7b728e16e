package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Uncertainty is what ± means wherever the program writes it.
const Uncertainty = "A value after ± is the uncertainty that was stated for the reading, or the root of the sum of " +
	"both squares for a difference: the true value lies within it about 95 times of 100. Ranges in brackets are " +
	"computed: eight times of ten the value lies in them (10 to 90 %)."

// QuantityName names a quantity of a reading.
func QuantityName(quantity string) string {
	if q := record.QuantityOf(quantity); q != nil {
		return q.Words
	}
	return quantity
}

// UnitOf is the unit of a quantity of a reading, empty where it has none.
func UnitOf(quantity string) string {
	if q := record.QuantityOf(quantity); q != nil {
		return q.Unit
	}
	return ""
}

// Value writes what was read, with its stated uncertainty and its unit.
func Value(b *record.Reading) string {
	return en.Figure(words.Figure{Value: b.Value, Unit: UnitOf(b.Quantity), Uncertainty: b.Uncertainty})
}

// DE00 writes a colour difference whose record keeps one standard deviation.
func DE00(v, sd float64) string { return en.PlusMinus(v, 2*sd, "ΔE00") }

// twice makes of one standard deviation what ± means.
func twice(sd *float64) *float64 {
	if sd == nil {
		return nil
	}
	u := 2 * *sd
	return &u
}
