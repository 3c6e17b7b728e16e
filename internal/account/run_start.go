package account

import (
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Proposed is what a run may begin with: settings of a run before it, of a
// method of the studio, or of the bath that was chosen. It never holds a reading:
// what was read then was not read now.
type Proposed struct {
	Run     record.RunStarted
	Bottle  string
	Planned bool // begins with the bath that was chosen
}

// ProposeRun proposes a run of an operation, like the last one of it in the case.
// Without sheets it takes those whose next step it is; method is one of the
// studio's own, or empty.
func ProposeRun(
	c *record.Case, st *record.Studio, operation string, sheets []int, method string, now time.Time,
) Proposed {
	if len(sheets) == 0 {
		for _, x := range treatment.Next(c) {
			if x.Operation.Slug == operation {
				sheets = x.Sheets
			}
		}
	}
	p := Proposed{Run: record.RunStarted{Operation: operation, Sheets: sheets, Bath: &record.Bath{}}}
	known := false
	for _, r := range slices.Backward(c.Runs) {
		if r.Body.Operation == operation {
			p.like(&r.Body, st, now)
			known = true
			break
		}
	}
	if !known && operation == "rinse" {
		p.afterBath(c, sheets)
	}
	for _, x := range st.Methods {
		if x.ID == method && !x.Retired {
			p.Run.Method, p.Run.Operation, p.Run.PlannedMin, p.Run.DueMin = x.ID, x.Operation, x.PlannedMin, x.DueMin
			p.Run.Bath.Liquid = x.Liquid
		}
	}
	if x, _, ok := treatment.PlannedBath(c, p.Run.Operation, sheets); ok {
		p.chosen(&x.Body, st, now)
	}
	return p
}

func (p *Proposed) like(b *record.RunStarted, st *record.Studio, now time.Time) {
	p.Run.Operation, p.Run.PlannedMin, p.Run.DueMin = b.Operation, b.PlannedMin, b.DueMin
	for _, x := range b.Materials {
		p.Run.Materials = append(p.Run.Materials, record.Material{Name: x.Name})
	}
	x := b.Bath
	if x == nil {
		return
	}
	p.Run.Bath.VolumeMl, p.Run.Bath.Water, p.Run.Bath.Tray = x.VolumeMl, x.Water, TrayAlone(x.Tray)
	if len(x.Bottles) == 0 {
		p.Run.Bath.Liquid = x.Liquid
	} else if s := st.Bottle(x.Bottles[0].Bottle); s != nil && gives(s, x.VolumeMl, now) {
		p.Bottle = s.Body.ID
	}
}

// chosen begins a run with the bath that was chosen: from a bottle of its
// substance and strength where one holds enough, else with the liquid in full.
func (p *Proposed) chosen(b *record.BathPlan, st *record.Studio, now time.Time) {
	p.Planned, p.Bottle = true, ""
	p.Run.PlannedMin, p.Run.Bath.VolumeMl, p.Run.Bath.Liquid = b.Minutes, b.VolumeMl, b.Liquid
	for i := range st.Bottles {
		x := &st.Bottles[i]
		substance, r := treatment.BathStrength(x)
		if b.StrengthGL != nil && r != nil && substance == b.Substance && gives(x, b.VolumeMl, now) &&
			r.Low <= b.StrengthGL.High && r.High >= b.StrengthGL.Low {
			p.Bottle, p.Run.Bath.Liquid = x.Body.ID, ""
			return
		}
	}
}

// gives says whether a bottle can give a volume at a time.
func gives(x *record.ShelfBottle, ml float64, now time.Time) bool {
	return x.Emptied == nil && !x.Expired(now) && x.LeftMl >= ml
}

// ShelfFor lists the bottles that a bath may be filled from, those of an
// operation's substances first, each with what is left in it.
func ShelfFor(st *record.Studio, op *treatment.Operation, k words.Clock) []record.Choice {
	var list, rest []record.Choice
	for i := range st.Bottles {
		b := &st.Bottles[i]
		if b.Emptied != nil || b.Body.VolumeMl == 0 || b.LeftMl <= 0 {
			continue
		}
		say := b.Body.Name
		if r := b.StrengthNow(); r != nil && b.Body.Unit != "pure" {
			say += ", " + en.Range(*r, b.Body.Unit)
		}
		say += ", " + en.Quantity(b.LeftMl, "mL") + " left"
		if b.Clouded() {
			say += ", clouded"
		}
		say += words.After(", ", PastDate(b, k))
		choice := record.Choice{Value: b.Body.ID, Words: say}
		if op != nil && slices.Contains(op.Substances, b.Body.Substance) {
			list = append(list, choice)
		} else {
			rest = append(rest, choice)
		}
	}
	return append(list, rest...)
}

// Minutes writes times after a start: "10, 45, 180".
func Minutes(list []float64) string {
	var parts []string
	for _, v := range list {
		parts = append(parts, en.Number(v))
	}
	return strings.Join(parts, ", ")
}
