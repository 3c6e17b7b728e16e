package meter

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"benchleaf/interval"
)

// Nernst is the ideal slope of a pH electrode at t °C, mV per pH: ln(10) R T/F,
// 59.16 mV at 25 °C (CODATA 2018).
func Nernst(t float64) float64 {
	const gas, faraday, zero = 8.314462618, 96485.33212, 273.15
	return math.Ln10 * gas * (t + zero) / faraday * 1000
}

// Point is what the meter showed in one buffer: a pH, or mV.
type Point struct {
	// Buffer is a standard one; or PH is the value printed on the bottle for the
	// temperature.
	Buffer  Buffer          `json:"buffer,omitempty"`
	PH      *interval.Range `json:"ph,omitempty"`
	ShownPH *float64        `json:"shown_ph,omitempty"`
	ShownMV *float64        `json:"shown_mv,omitempty"`
}

// PointFor is a point from the pH that a bottle is named by and the pH shown: a
// standard buffer where the name is one's (4.01, 6.86, 9.18, ...), else the
// value itself, as printed for the temperature.
func PointFor(nominal, shown float64) Point {
	p := Point{ShownPH: &shown}
	if b, ok := BufferNamed(nominal); ok {
		p.Buffer = b
		return p
	}
	r := interval.Exactly(nominal)
	p.PH = &r
	return p
}

// Check is one occasion: two to five buffers, or one, at one temperature.
type Check struct {
	Points []Point   `json:"points"`
	TempC  float64   `json:"temp_c"`
	At     time.Time `json:"at,omitzero"`
	// RepeatPH is how far the display comes back to itself in the same liquid,
	// either way; 0 means 0.02 (common practice).
	RepeatPH float64 `json:"repeat_ph,omitempty"`
}

// Calibration is what a check says of the meter.
//
// pH = intercept + gradient x shown, by least squares through the points; a
// single point gives the offset and takes the slope as ideal, 0.95 to 1.02.
type Calibration struct {
	Check Check `json:"check"`
	// Slope is what the electrode gives of the ideal, 1 being Nernst's; for a
	// meter that shows pH, of what it was last adjusted to.
	Slope float64 `json:"slope"`
	// OffsetPH is what the meter shows above the truth at pH 7. OffsetMV is the
	// mV at pH 7, for a check in mV.
	OffsetPH float64 `json:"offset_ph"`
	OffsetMV float64 `json:"offset_mv,omitempty"`
	// ResidualPH is the largest distance of a point from the line; 0 with two
	// points or one.
	ResidualPH float64  `json:"residual_ph"`
	Verdict    string   `json:"verdict"`
	Warnings   []string `json:"warnings,omitempty"`

	inMV                bool
	gradient, intercept float64
	shown               []float64 // of the points
	truth               []interval.Range
}

// Limits of an electrode, as shares of the ideal slope: good electrodes give 95
// to 102 %, below 85 % or above 105 % something is broken (common practice, and
// makers' guides; no single source).
const (
	slopeGoodLow, slopeGoodHigh = 0.95, 1.02
	slopeLow, slopeHigh         = 0.85, 1.05
	offsetGoodMV                = 30.0 // mV at pH 7 (common practice)
	usualRepeat                 = 0.02 // pH
)

// ErrElectrode: the points cannot come from a working electrode.
var ErrElectrode = errors.New("the electrode or a buffer is not in order")

// Calibrate works a check out. Errors: no point, more than five, a point
// without a value, buffers less than 1 pH apart, a temperature outside 0 to 50
// °C, or ErrElectrode.
func Calibrate(c Check) (Calibration, error) {
	out := Calibration{Check: c}
	if n := len(c.Points); n < 1 || n > 5 {
		return out, fmt.Errorf("a check has one to five buffers, not %d", n)
	}
	if !(c.TempC >= 0 && c.TempC <= 50) {
		return out, fmt.Errorf("the temperature of the buffers must lie between 0 and 50 °C, not at %g °C", c.TempC)
	}
	if !(c.RepeatPH >= 0 && c.RepeatPH <= 1) {
		return out, fmt.Errorf("the repeatability must lie between 0 and 1 pH, not at %g", c.RepeatPH)
	}
	if err := out.takePoints(); err != nil {
		return out, err
	}
	ideal := 1.0
	if out.inMV {
		ideal = -1 / Nernst(c.TempC)
	}
	if len(out.shown) == 1 {
		out.gradient = ideal
		out.intercept = out.truth[0].Best - ideal*out.shown[0]
	} else {
		out.fit()
	}
	if out.gradient == 0 || math.IsInf(out.gradient, 0) || math.IsNaN(out.gradient) {
		return out, fmt.Errorf("%w: it shows the same in all buffers", ErrElectrode)
	}
	out.Slope = ideal / out.gradient
	atSeven := (7 - out.intercept) / out.gradient
	if out.inMV {
		out.OffsetMV = atSeven
		out.OffsetPH = -atSeven / Nernst(c.TempC)
	} else {
		out.OffsetPH = atSeven - 7
	}
	return out, out.judge()
}

// takePoints reads the points and refuses what cannot be used.
func (k *Calibration) takePoints() error {
	for i, p := range k.Check.Points {
		truth, err := p.truth(k.Check.TempC)
		if err != nil {
			return fmt.Errorf("buffer %d: %w", i+1, err)
		}
		for _, t := range k.truth {
			if math.Abs(t.Best-truth.Best) < 1 {
				return fmt.Errorf(
					"buffers %.2f and %.2f are less than 1 pH apart: take two further from each other",
					t.Best,
					truth.Best,
				)
			}
		}
		shown := p.ShownPH
		if p.ShownMV != nil {
			shown = p.ShownMV
		}
		switch {
		case (p.ShownPH == nil) == (p.ShownMV == nil):
			return fmt.Errorf("buffer %d: give what the meter showed, either pH or mV", i+1)
		case i > 0 && k.inMV != (p.ShownMV != nil):
			return errors.New("the check mixes pH and mV: give all points in one of the two")
		case p.ShownPH != nil && !(*shown >= -2 && *shown <= 16):
			return fmt.Errorf("buffer %d: the meter cannot have shown pH %g", i+1, *shown)
		case p.ShownMV != nil && !(math.Abs(*shown) <= 1000):
			return fmt.Errorf("buffer %d: the meter cannot have shown %g mV", i+1, *shown)
		}
		k.inMV = p.ShownMV != nil
		k.shown, k.truth = append(k.shown, *shown), append(k.truth, truth)
	}
	return nil
}

// truth is the pH of the point's buffer.
func (p Point) truth(t float64) (interval.Range, error) {
	if p.PH == nil {
		return p.Buffer.PH(t)
	}
	if p.Buffer != "" {
		return interval.Range{}, errors.New("give either a standard buffer or the pH on its bottle, not both")
	}
	r := *p.PH
	if r.Low == r.High {
		r = interval.Within(r.Best, bufferWithin)
	}
	return r, r.CheckWithin("the buffer's pH", 0, 14, "")
}

// fit is the least-squares line through the points.
func (k *Calibration) fit() {
	mx, my := mean(k.shown), 0.0
	for _, t := range k.truth {
		my += t.Best / float64(len(k.truth))
	}
	var sxx, sxy float64
	for i, x := range k.shown {
		sxx += (x - mx) * (x - mx)
		sxy += (x - mx) * (k.truth[i].Best - my)
	}
	k.gradient = sxy / sxx
	k.intercept = my - k.gradient*mx
	if len(k.shown) > 2 {
		for i, x := range k.shown {
			k.ResidualPH = max(k.ResidualPH, math.Abs(k.intercept+k.gradient*x-k.truth[i].Best))
		}
	}
}

// judge sets the verdict and warnings, and refuses a broken electrode.
func (k *Calibration) judge() error {
	percent := 100 * k.Slope
	if k.Slope < slopeLow || k.Slope > slopeHigh {
		return fmt.Errorf(
			"%w: the slope is %.0f %% of the ideal, outside %.0f to %.0f %%: clean or replace the electrode, take "+
				"fresh buffers, and check again",
			ErrElectrode,
			percent,
			100*slopeLow,
			100*slopeHigh,
		)
	}
	k.Verdict = fmt.Sprintf("Slope %.1f %% of the ideal, offset %+.2f pH.", percent, k.OffsetPH)
	switch {
	case len(k.shown) == 1:
		k.Verdict = fmt.Sprintf("Offset %+.2f pH; the slope was not checked.", k.OffsetPH)
		k.Warnings = append(
			k.Warnings,
			"One buffer checks the offset only: away from it the slope is taken as 95 to 102 %.",
		)
	case k.Slope < slopeGoodLow || k.Slope > slopeGoodHigh:
		k.Warnings = append(
			k.Warnings,
			fmt.Sprintf(
				"The slope of %.0f %% is outside the 95 to 102 %% of a good electrode: clean it soon.",
				percent,
			),
		)
	}
	if k.inMV && math.Abs(k.OffsetMV) > offsetGoodMV {
		k.Warnings = append(
			k.Warnings,
			fmt.Sprintf(
				"The electrode gives %+.0f mV at pH 7; a good one stays within %.0f mV.",
				k.OffsetMV,
				offsetGoodMV,
			),
		)
	}
	if k.ResidualPH > 0.05 {
		k.Warnings = append(
			k.Warnings,
			fmt.Sprintf("The points lie up to %.2f pH off a line: one buffer may be stale.", k.ResidualPH),
		)
	}
	return nil
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

// Use is what a reading is taken of; it decides how well the electrode can
// follow. All figures are common practice after the ranges of the project's
// notes: 0.1 pH at best on paper, spread between sites 0.2 to 0.5.
type Use string

const (
	InBath    Use = "bath"    // a liquid with enough salt to conduct
	InWater   Use = "water"   // nearly pure water: the junction wanders
	OnSurface Use = "surface" // a drop on paper; never quite at rest, one site of many
	InExtract Use = "extract" // a cold extract of little paper in much water
)

// useWithin is the error of the junction and of the sample, pH, either way.
var useWithin = map[Use]float64{InBath: 0.03, InWater: 0.1, OnSurface: 0.2, InExtract: 0.1}

// driftPerDay is how far a meter wanders in a day, pH, either way, where no
// second check says (common practice, no source).
const driftPerDay = 0.03

// Shown is one value read from the meter.
type Shown struct {
	PH    *float64  `json:"ph,omitempty"`
	MV    *float64  `json:"mv,omitempty"`
	TempC float64   `json:"temp_c"`
	At    time.Time `json:"at,omitzero"`
	Use   Use       `json:"use"`
	// Uncompensated says that the meter does not correct for temperature.
	Uncompensated bool `json:"uncompensated,omitempty"`
}

// Reading is a value shown, corrected by a calibration.
type Reading struct {
	PH interval.Range `json:"ph"`
	// CorrectionPH is what was added to the value shown.
	CorrectionPH float64  `json:"correction_ph"`
	Dominant     string   `json:"dominant"`
	Warnings     []string `json:"warnings,omitempty"`
}

// Read corrects a value by the check before it. after, where not nil, is a
// later check: the offset is then taken as having drifted evenly from one to the
// other. Standard uncertainties are added by root of squares (JCGM 100:2008,
// 5.1.2): buffers through the line's weights, repeatability, drift, temperature
// and the junction. Errors: a value of the wrong kind, a use that is not known,
// a time before the check.
func (k Calibration) Read(s Shown, after *Calibration) (Reading, error) {
	if _, ok := useWithin[s.Use]; !ok {
		return Reading{}, fmt.Errorf("the use %q of a reading is not known: use bath, water, surface or extract", s.Use)
	}
	if (s.PH == nil) == (s.MV == nil) || k.inMV != (s.MV != nil) {
		return Reading{}, errors.New("the reading and the check must both be in pH, or both in mV")
	}
	if !(s.TempC >= 0 && s.TempC <= 80) {
		return Reading{}, fmt.Errorf(
			"the temperature of the reading must lie between 0 and 80 °C, not at %g °C",
			s.TempC,
		)
	}
	shown, scale := 0.0, 1.0
	if k.inMV {
		shown = *s.MV
		// The electrode's mV per pH grow with the absolute temperature.
		scale = Nernst(k.Check.TempC) / Nernst(s.TempC)
	} else {
		shown = *s.PH
	}
	limit := 16.0
	if k.inMV {
		limit = 1000
	}
	if !(math.Abs(shown) <= limit) {
		return Reading{}, fmt.Errorf("the meter cannot have shown %g", shown)
	}
	days, drift, driftU, err := k.drift(s.At, after)
	if err != nil {
		return Reading{}, err
	}
	pH := 7 + (k.intercept+k.gradient*shown-7)*scale - drift
	terms := k.terms(s, shown, pH)
	terms = append(terms, term{"the drift since the check", driftU})
	sum := 0.0
	for _, x := range terms {
		sum += x.u * x.u
	}
	largest := slices.MaxFunc(terms, func(a, b term) int {
		switch {
		case a.u < b.u:
			return -1
		case a.u > b.u:
			return 1
		}
		return 0
	})
	r := Reading{PH: interval.FromStandard(pH, math.Sqrt(sum)), Dominant: largest.name}
	if !k.inMV {
		r.CorrectionPH = pH - shown
	}
	r.Warnings = k.doubts(s, pH, days, after != nil)
	return r, nil
}

type term struct {
	name string
	u    float64
}

// rectangular is the standard uncertainty of an error anywhere within d.
func rectangular(d float64) float64 { return d / math.Sqrt(3) }

// terms are the standard uncertainties, in pH, of a corrected value.
func (k Calibration) terms(s Shown, shown, pH float64) []term {
	repeat := k.Check.RepeatPH
	if repeat == 0 {
		repeat = usualRepeat
	}
	repeat = rectangular(repeat)
	buffers, slope := 0.0, 0.0
	if len(k.shown) == 1 {
		buffers = math.Hypot(k.truth[0].Standard(), repeat)
		slope = math.Abs(pH-k.truth[0].Best) * rectangular((slopeGoodHigh-slopeGoodLow)/2)
	} else {
		for i, w := range k.weights(shown) {
			buffers += w * w * (k.truth[i].Standard()*k.truth[i].Standard() + repeat*repeat)
		}
		buffers = math.Sqrt(buffers)
	}
	temperature := 0.0
	if s.Uncompensated && !k.inMV {
		temperature = math.Abs(pH-7) * math.Abs(s.TempC-k.Check.TempC) / (273.15 + k.Check.TempC)
	}
	return []term{
		{"the buffers", buffers},
		{"the slope, not checked", slope},
		{"the repeatability of the meter", repeat},
		{"the temperature, not compensated", temperature},
		{"the junction and the sample", rectangular(useWithin[s.Use])},
		{"the points off a line", k.ResidualPH / 2},
	}
}

// weights are how much each point counts in the line's value at shown.
func (k Calibration) weights(shown float64) []float64 {
	mx, sxx := mean(k.shown), 0.0
	for _, x := range k.shown {
		sxx += (x - mx) * (x - mx)
	}
	w := make([]float64, len(k.shown))
	for i, x := range k.shown {
		w[i] = 1/float64(len(k.shown)) + (shown-mx)*(x-mx)/sxx
	}
	return w
}

// drift is what the meter shows too much at t by then, with its uncertainty.
// Without times nothing is known, and nothing is added.
func (k Calibration) drift(t time.Time, after *Calibration) (days, drift, u float64, err error) {
	if t.IsZero() || k.Check.At.IsZero() {
		return 0, 0, 0, nil
	}
	days = t.Sub(k.Check.At).Hours() / 24
	if days < 0 {
		return 0, 0, 0, errors.New("the reading was taken before the check: use the check before it")
	}
	if after == nil || after.Check.At.IsZero() {
		return days, 0, rectangular(driftPerDay * days), nil
	}
	span := after.Check.At.Sub(k.Check.At).Hours() / 24
	if span <= 0 || days > span {
		return 0, 0, 0, errors.New("the later check must lie after the reading")
	}
	moved := after.OffsetPH - k.OffsetPH
	share := days / span
	// That it drifted evenly is a guess: a quarter of the way either side.
	return days, moved * share, math.Abs(moved) * rectangular(min(0.25, share, 1-share)), nil
}

// doubts are the warnings that go with a reading.
func (k Calibration) doubts(s Shown, pH, days float64, checkedAfter bool) []string {
	out := slices.Clone(k.Warnings)
	low, high := k.truth[0].Best, k.truth[0].Best
	for _, t := range k.truth {
		low, high = min(low, t.Best), max(high, t.Best)
	}
	if pH < low-1 || pH > high+1 {
		out = append(
			out,
			fmt.Sprintf(
				"pH %.1f lies more than 1 pH outside the buffers of %.1f to %.1f: check with one beyond it.",
				pH,
				low,
				high,
			),
		)
	}
	if days > 1 && !checkedAfter {
		out = append(out, fmt.Sprintf("The meter was checked %.0f days before: check it again.", math.Ceil(days)))
	}
	if pH > 12 {
		out = append(
			out,
			"Above pH 12 a glass electrode reads low where there is much sodium, and it ages: rinse it at once.",
		)
	}
	if math.Abs(s.TempC-k.Check.TempC) > 10 {
		out = append(
			out,
			fmt.Sprintf(
				"The reading was taken %.0f °C from the temperature of the buffers.",
				math.Abs(s.TempC-k.Check.TempC),
			),
		)
	}
	return out
}
