package treatment

import (
	"fmt"
	"math"

	"benchleaf/internal/record"
	"benchleaf/paper"
)

// spreadQuantity are package paper's names for the quantities of record.
// AdoptedQuantities between sheets.
var spreadQuantity = map[string]string{
	"fixed-acid": "fixed_acid", "soluble-acid": "soluble_acid", "acid": "acid", "pick-up": "drained", "mass": "mass",
	"drying-rate": "drying_rate",
}

// leastSheets is from how many of the paper's own sheets its spread is taken too.
const leastSheets = 3

// forLike works out what the offer is for sheets of the paper that were not read.
func (o *Offer) forLike(c *record.Case, sheet int, of TakenSheet) {
	s, _ := paper.SpreadOf(of.Class, spreadQuantity[o.Quantity])
	o.Spread, o.SpreadBasis = s.Share, s.Basis
	if s.Basis == "memory" {
		o.SpreadBasis = "estimate, from memory, no source"
	}
	if n, seen := spreadSeen(c, sheet, o.Quantity); n >= leastSheets {
		o.Spread = s.WithSheets(n, seen)
		o.SpreadBasis = fmt.Sprintf("from readings of %d sheets of this paper, and an estimate from memory", n)
	}
	before := o.Was
	if o.Quantity == "mass" && of.paperMass != nil { // its own weighing says nothing of others
		before = *of.paperMass
	}
	o.Like = paper.Like(o.Value, before, o.Spread)
}

// spreadSeen is the standard deviation of a quantity between the sheets of a paper that
// were read, as a share of their mean, and how many they are.
func spreadSeen(c *record.Case, sheet int, quantity string) (n int, share float64) {
	stock := c.StockOf(sheet)
	of := map[int]float64{}
	for _, a := range c.Adopted {
		if a.Body.Quantity == quantity && c.StockOf(a.Body.FromSheet) == stock && a.Body.Spread == "" {
			of[a.Body.FromSheet] = a.Body.Value.Best
		}
	}
	if quantity == "mass" {
		for _, m := range c.Sheets() {
			if w, ok := weighedDry(c, m); ok && c.StockOf(m) == stock {
				of[m] = w.Body.Value
			}
		}
	}
	if len(of) < 2 {
		return len(of), 0
	}
	var sum, square float64
	for _, v := range of {
		sum += v
	}
	mean := sum / float64(len(of))
	for _, v := range of {
		square += (v - mean) * (v - mean)
	}
	return len(of), math.Sqrt(square/float64(len(of)-1)) / mean
}
