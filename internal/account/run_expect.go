package account

import (
	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// RunExpect is what a bath is expected to leave in its first sheet.
type RunExpect struct {
	Reserve          Fact
	RestsOn, Assumed []string
	Dominant         string
}

// ExpectRun computes what a planned bath leaves, for baths that are to leave a
// reserve; nil for others, and where too little is known.
func ExpectRun(c *record.Case, p *RunPlan) *RunExpect {
	b := p.Run.Bath
	if b == nil || !LeavesReserve(&p.Run) || len(p.Run.Sheets) == 0 {
		return nil
	}
	together := len(p.Run.Sheets)
	for _, x := range b.With {
		together += len(x.Sheets)
	}
	out, ok, err := treatment.Expect(c, p.Run.Sheets[0], b, together)
	if !ok || err != nil {
		return nil
	}
	r := out.ReservePercentChalk.Range
	return &RunExpect{
		Reserve: Fact{
			Name: "Alkaline reserve once dry", Figure: &words.Figure{Value: r.Best, Unit: "% CaCO₃", Range: &r},
			Basis: Computed, Limit: out.Limit,
		},
		RestsOn: out.RestsOn, Assumed: out.Assumed, Dominant: out.Dominant,
	}
}

// Best and Span write the reserve and its range.
func (x *RunExpect) Best() string { return en.Best(*x.Reserve.Figure.Range, x.Reserve.Figure.Unit) }
func (x *RunExpect) Span() string { return en.Span(*x.Reserve.Figure.Range) }
