package treatment

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// Window is the time in which a mend dries as one with its sheet: after no
// liquid stands on the sheet any more, before it begins to shrink.
type Window struct {
	Out time.Time // when the sheet came out of its last bath
	// From and Until are minutes after Out.
	From, Until interval.Range
	// RestsOn says what was taken of sheet and air.
	RestsOn string
}

// MendWindow reckons the window of a sheet that lies open on its support since
// it came out of its last bath. ok is false when it is still in a bath, dry,
// between absorbents, or when its paper is not described.
func MendWindow(c *record.Case, sheet int) (w Window, ok bool) {
	stock := c.StockOf(sheet)
	now := c.ConditionOf(sheet)
	if stock == nil || now.Wetness == record.Dry {
		return w, false
	}
	if r := c.Run(now.Run); r != nil && (r.Body.Bath != nil || isDrying(r)) {
		return w, false
	}
	air := paper.Air{TemperatureC: interval.Range{Low: 18, Best: 20, High: 23}, HumidityPercent: interval.Range{Low: 35, Best: 48, High: 60}, SpeedMS: interval.Range{Low: 0.05, Best: 0.1, High: 0.2}}
	w.RestsOn = "lying open on its support, in still room air of about 20 °C and 48 %"
	for _, r := range c.RunsOn(sheet) {
		if isDrying(r) {
			return w, false // it has been between absorbents
		}
		if r.Body.Bath != nil {
			w.Out = leftAt(r, sheet)
		}
		if t, h := r.Body.TempC, r.Body.HumidityPct; t != nil && h != nil {
			air.TemperatureC, air.HumidityPercent = interval.Within(*t, 1), interval.Within(*h, 5)
			w.RestsOn = "lying open on its support, in still air as read at the last run"
		}
	}
	if w.Out.IsZero() {
		return w, false
	}
	d, err := paper.DryInAir(paperSheet(stock), paper.Drained, air, true, nil, paper.Options{Seed: 1, Samples: 100})
	if err != nil {
		return w, false
	}
	w.From, w.Until = d.MendFromMin.Range, d.MendUntilMin.Range
	return w, true
}

func isDrying(r *record.Run) bool {
	o := Find(r.Body.Operation)
	return o != nil && o.Drying
}

// leftAt is when a sheet left a run, zero while it is in it.
func leftAt(r *record.Run, sheet int) time.Time {
	for _, e := range slices.Backward(r.Ends) {
		if len(e.Body.Sheets) == 0 || slices.Contains(e.Body.Sheets, sheet) {
			return e.Body.At
		}
	}
	return time.Time{}
}
