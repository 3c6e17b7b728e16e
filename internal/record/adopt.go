package record

import (
	"slices"
)

// AdoptedQuantity is a property of a sheet that readings on one sheet can give for
// others of its paper, with its unit and the bounds of the computation.
type AdoptedQuantity struct {
	Value, Words, Unit string
	Low, High          float64
}

// AdoptedQuantities that a value can be adopted for. The acid is that of dry paper:
// "acid" stands for the whole where only that is known, the other two for its
// parts. The drying rate is a multiple of what the computation has for the air.
var AdoptedQuantities = []AdoptedQuantity{
	{"fixed-acid", "fixed acid", "mmol/kg", 0, 2000},
	{"soluble-acid", "soluble acid", "mmol/kg", 0, 2000},
	{"acid", "acid in all", "mmol/kg", 0, 2000},
	{"pick-up", "pick-up", "g/g", 0.05, 10},
	{"mass", "mass of the dry sheet in room air", "g", 0.01, 5000},
	{"drying-rate", "drying rate", "times the computed rate", 0.02, 50},
}

// AdoptedQuantityOf finds a quantity by value, or nil.
func AdoptedQuantityOf(value string) *AdoptedQuantity {
	for i := range AdoptedQuantities {
		if AdoptedQuantities[i].Value == value {
			return &AdoptedQuantities[i]
		}
	}
	return nil
}

// ValueAdopted takes what the readings on one sheet say of its paper for other
// sheets. The latest counts for each sheet and quantity; withdrawn, what stood
// before counts again.
type ValueAdopted struct {
	Quantity string `json:"quantity" say:"the quantity" as:"raw"`
	Value    Range  `json:"value" say:"the value"`
	// Unit is that of the quantity, written out for a reader of the journal.
	Unit string `json:"unit" say:"the unit" as:"raw"`
	// Was is the range that the value takes the place of, WasBasis where that
	// came from: "groundwood newsprint (common practice, no source)".
	Was      *Range `json:"was,omitempty" say:"what it was before"`
	WasBasis string `json:"was_basis,omitempty" say:"the basis of what it was before" as:"text"`
	// FromSheet is the sheet that was read; Readings are the seqs of the entries
	// that the value rests on: readings, or starts of runs whose bath was read.
	FromSheet int     `json:"from_sheet" say:"the sheet" as:"sheet"`
	Readings  []int64 `json:"readings" say:"the readings" as:"raw"`
	// Sheets that the value is taken for.
	Sheets []int  `json:"sheets" say:"the sheets"`
	Reason string `json:"reason" say:"the reason" as:"text"`
	// Spread says by how much the range was widened for sheets that were not
	// read, and what that rests on; empty where it was not.
	Spread string `json:"spread,omitempty" say:"the spread between sheets" as:"text"`
}

func (ValueAdopted) Kind() Kind { return "value-adopted" }

func (b ValueAdopted) rules(k *check) {
	q := AdoptedQuantityOf(b.Quantity)
	switch {
	case q == nil:
		k.refuse("quantity", "%q is not a quantity that can be adopted.", clip(b.Quantity))
	case b.Unit != q.Unit:
		k.refuse("unit", "%s is in %s, not in %q.", upper(q.Words), q.Unit, clip(b.Unit))
	default:
		k.maybeRange("value", q.Words, &b.Value, q.Low, q.High, q.Unit)
		k.maybeRange("was", "what it was before", b.Was, q.Low, q.High, q.Unit)
	}
	if len(b.Readings) == 0 {
		k.refuse("readings", "No reading is named: a value is adopted from at least one.")
	}
	for i, n := range b.Readings {
		if n < 1 || slices.Contains(b.Readings[:i], n) {
			k.refuse(
				"readings",
				"Entry %d cannot be named as a reading here: each reading is named once, by its number in the log.",
				n,
			)
		}
	}
}

func (b ValueAdopted) apply(c *Case, s Stamp) error {
	c.Adopted = append(c.Adopted, Stamped[ValueAdopted]{s, b})
	for _, n := range b.Readings {
		if n >= s.Seq || !c.hasReading(n) {
			return Invalidf(
				"readings",
				"The value that entry %d adopts rests on entry %d, which is no reading that counts: withdraw the "+
					"adopted value first.",
				s.Seq,
				n,
			)
		}
	}
	return first(c.haveSheets([]int{b.FromSheet}), c.haveSheets(b.Sheets))
}

// hasReading says whether an entry is a reading, or the start of a run whose bath
// was read.
func (c *Case) hasReading(seq int64) bool {
	return slices.ContainsFunc(c.Readings, func(x Stamped[Reading]) bool { return x.Seq == seq }) ||
		slices.ContainsFunc(
			c.Runs,
			func(r Run) bool { return r.Seq == seq && r.Body.Bath != nil && r.Body.Bath.PH != nil },
		)
}

// AdoptedFor lists the adopted values that count for a sheet: the latest of each
// quantity, in the order of AdoptedQuantities.
func (c *Case) AdoptedFor(sheet int) []Stamped[ValueAdopted] {
	var list []Stamped[ValueAdopted]
	for _, q := range AdoptedQuantities {
		for _, a := range slices.Backward(c.Adopted) {
			if a.Body.Quantity == q.Value && slices.Contains(a.Body.Sheets, sheet) {
				list = append(list, a)
				break
			}
		}
	}
	return list
}
