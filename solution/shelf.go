package solution

import (
	"fmt"
	"math"
	"time"

	"benchleaf/interval"
)

// Stock is what stands in one bottle.
type Stock struct {
	Bottle    string
	Substance string
	Ml        Millilitres // of a liquid
	G         Grams       // of a solid
	MadeAt    time.Time
	ExpiresAt time.Time // zero: no date
}

// Take counts a recipe's draws down from the stocks of the same bottle, or,
// where a draw names none, of the same substance, and returns what is then
// left. A stock that a draw does not speak of stays as it is; water is not
// counted. Errors: a stock that does not hold enough.
func Take(stocks []Stock, draws []Draw) ([]Stock, error) {
	left := append([]Stock(nil), stocks...)
	for _, d := range draws {
		i := drawnFrom(left, d)
		if i < 0 {
			continue
		}
		s := &left[i]
		if d.Ml > s.Ml+1e-9 || d.G > s.G+1e-9 {
			have := s.Ml.Text()
			need := d.Ml.Text()
			if d.G > 0 {
				have, need = fmt.Sprintf("%g g", float64(s.G)), fmt.Sprintf("%g g", float64(d.G))
			}
			return nil, fmt.Errorf("the bottle %s holds %s, and the recipe takes %s", s.Bottle, have, need)
		}
		s.Ml, s.G = Millilitres(math.Max(0, float64(s.Ml-d.Ml))), Grams(math.Max(0, float64(s.G-d.G)))
	}
	return left, nil
}

// drawnFrom is the stock that a draw means, or -1.
func drawnFrom(stocks []Stock, d Draw) int {
	for i, s := range stocks {
		if d.Bottle != "" && s.Bottle == d.Bottle ||
			d.Bottle == "" && d.Substance != "water" && s.Substance == d.Substance {
			return i
		}
	}
	return -1
}

// Times is how often the recipe can be made from the stocks; 0 when not once,
// and -1 when none of them is drawn from.
func Times(stocks []Stock, draws []Draw) int {
	times := -1
	for _, d := range draws {
		i := drawnFrom(stocks, d)
		if i < 0 {
			continue
		}
		n := math.Inf(1)
		if d.Ml > 0 {
			n = float64(stocks[i].Ml / d.Ml)
		}
		if d.G > 0 {
			n = math.Min(n, float64(stocks[i].G/d.G))
		}
		if k := int(math.Min(n+1e-9, 1e6)); times < 0 || k < times {
			times = k
		}
	}
	return times
}

// Due says of a bottle how it stands with its date at now: "", or a sentence
// for the day on which it must be looked at.
func (s Stock) Due(now time.Time) string {
	switch {
	case s.ExpiresAt.IsZero():
		return ""
	case now.After(s.ExpiresAt):
		return fmt.Sprintf(
			"%s is past its date of %s: check it, or throw it away by local rules.",
			upper(s.Bottle),
			s.ExpiresAt.Format(time.DateOnly),
		)
	case s.ExpiresAt.Sub(now) < 72*time.Hour:
		return fmt.Sprintf("%s is good until %s.", upper(s.Bottle), s.ExpiresAt.Format("2006-01-02 15:04"))
	}
	return ""
}

// HydrideLeft is the share of a borohydride bath's strength that is left after a
// time at pH and t, 2^(-minutes/half-life); its range takes the half-life as
// good to a factor of two either way (estimate: the law is from memory, and
// acid, metal or a sheet shorten it). Errors: those of HydrideHalfLife, or a
// time below 0.
func HydrideLeft(pH float64, t Celsius, after Minutes) (interval.Range, error) {
	half, err := HydrideHalfLife(pH, t)
	if err != nil {
		return interval.Range{}, err
	}
	if !(after >= 0) {
		return interval.Range{}, fmt.Errorf(
			"the time since the bath was made must be 0 or more, not %g min",
			float64(after),
		)
	}
	left := func(half float64) float64 { return math.Exp2(-float64(after) / half) }
	h := float64(half)
	return interval.Range{Low: left(h / 2), Best: left(h), High: left(2 * h)}, nil
}
