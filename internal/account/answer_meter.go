package account

import (
	"fmt"
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/solution/meter"
)

// MeterCheck is a check of an instrument, judged where it can be.
type MeterCheck struct {
	record.Stamped[record.InstrumentChecked]
	Judged                         bool
	Points                         string // what the buffers read
	Slope, Offset, Residual, Drift string
	OnePoint                       bool
	Warnings                       []string
	Worth                          []Fact // what a reading is worth after it
	Reason                         string // why it cannot be judged

	offsetPH float64
}

// Buffers are those that a meter is checked in, by their pH at 25 °C.
func Buffers() []record.Choice {
	var list []record.Choice
	for _, b := range meter.Buffers() {
		if v, err := b.PH(25); err == nil {
			list = append(list, record.Choice{Value: fmt.Sprintf("%.2f", v.Best), Words: string(b)})
		}
	}
	return list
}

// MeterChecks are the checks of an instrument, newest first, each with its drift
// since the one before.
func MeterChecks(st *record.Studio, id string) []MeterCheck {
	var list []MeterCheck
	last := -1
	for _, c := range st.Checks {
		if c.Body.Instrument != id {
			continue
		}
		x := JudgeCheck(c)
		if last >= 0 && x.Judged {
			x.Drift = signed(x.offsetPH-list[last].offsetPH) + " pH since " + list[last].Body.At.Format("2 January")
		}
		if list = append(list, x); x.Judged {
			last = len(list) - 1
		}
	}
	slices.Reverse(list)
	return list
}

// JudgeCheck says what a check in buffers is worth.
func JudgeCheck(c record.Stamped[record.InstrumentChecked]) MeterCheck {
	x := MeterCheck{Stamped: c}
	if len(c.Body.Buffers) == 0 {
		return x
	}
	k := meter.Check{TempC: orElse(c.Body.TempC, 25), At: c.Body.At}
	var points []string
	for _, b := range c.Body.Buffers {
		k.Points = append(k.Points, meter.PointFor(b.NominalPH, b.ReadPH))
		points = append(points, fmt.Sprintf("%.2f read %.2f", b.NominalPH, b.ReadPH))
	}
	x.Points = strings.Join(points, "; ")
	cal, err := meter.Calibrate(k)
	if err != nil {
		x.Reason = refusal(err)
		return x
	}
	x.Judged, x.Warnings, x.OnePoint, x.offsetPH = true, cal.Warnings, len(k.Points) == 1, cal.OffsetPH
	x.Slope, x.Offset = fmt.Sprintf("%.1f %%", 100*cal.Slope), signed(cal.OffsetPH)
	if x.OnePoint {
		x.Slope = "–"
	}
	if len(k.Points) > 2 {
		x.Residual = fmt.Sprintf("%.2f pH", cal.ResidualPH)
	}
	for _, u := range []struct {
		use   meter.Use
		words string
		shown float64
	}{{meter.InBath, "A bath that shows 8.50", 8.5}, {meter.OnSurface, "A surface that shows 5.00", 5}} {
		reading, err := cal.Read(meter.Shown{PH: &u.shown, TempC: k.TempC, At: c.Body.At, Use: u.use}, nil)
		if err == nil {
			x.Worth = append(x.Worth, Fact{
				Code: "worth", Name: u.words, Basis: Computed, RestsOn: reading.Dominant,
				Figure: some(words.Ranged(reading.PH, "")),
			})
		}
	}
	return x
}

// signed writes a difference of pH with its sign.
func signed(v float64) string {
	s := strings.ReplaceAll(fmt.Sprintf("%+.2f", v), "-", "−")
	if strings.Trim(s, "+−0.") == "" {
		return "0.00"
	}
	return s
}
