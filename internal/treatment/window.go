package treatment

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/interval"
	"benchleaf/paper"
)

// Window is the time in which a mend dries as one with its sheet: it opens when no
// liquid stands on the sheet any more and closes when the sheet begins to shrink.
type Window struct {
	Out time.Time // when the sheet came out of its last bath
	// From and Until are minutes after Out.
	From, Until interval.Range
	// RestsOn says what was taken of sheet and air.
	RestsOn string
}

// MendWindow computes the window of a sheet that lies open on its support since
// it came out of its last bath. ok is false when it is still in a bath, dry,
// between absorbents, or when its paper is not described.
func MendWindow(c *record.Case, sheet int) (w Window, ok bool) {
	of, known := TakenSheetOf(c, sheet)
	now := c.ConditionOf(sheet)
	if !known || now.Wetness == record.Dry {
		return w, false
	}
	if r := c.Run(now.Run); r != nil && (r.Body.Bath != nil || isDrying(r)) {
		return w, false
	}
	out, pressed, air, restsOn := openDrying(c, sheet)
	if out.IsZero() || !pressed.IsZero() {
		return w, false
	}
	if at := c.BlottedSince(sheet, out); !at.IsZero() {
		after := at.Sub(out).Minutes()
		return window(of, out, air, "blotted, then "+restsOn, &after)
	}
	return window(of, out, air, restsOn, nil)
}

// MendWindowBlotted is MendWindow for a sheet that was pressed once between
// absorbents at a time: nothing stands on it any more, and the window opens then.
func MendWindowBlotted(c *record.Case, sheet int, at time.Time) (w Window, ok bool) {
	if w, ok = MendWindow(c, sheet); !ok || at.Before(w.Out) {
		return w, false
	}
	of, _ := TakenSheetOf(c, sheet)
	out, _, air, restsOn := openDrying(c, sheet)
	after := at.Sub(out).Minutes()
	return window(of, out, air, "blotted, then "+restsOn, &after)
}

// MendWindowPlanned is the window of a sheet, in minutes after its last bath, as it will be
// once it comes out to lie open on its support. ok is false where its paper is not
// described.
func MendWindowPlanned(c *record.Case, sheet int) (from, until interval.Range, ok bool) {
	of, known := TakenSheetOf(c, sheet)
	if !known {
		return from, until, false
	}
	_, _, air, restsOn := openDrying(c, sheet)
	w, ok := window(of, time.Time{}, air, restsOn, nil)
	return w.From, w.Until, ok
}

// window is that of a sheet that lies open since out; blotted, after so many minutes,
// unless nil.
func window(of TakenSheet, out time.Time, air paper.Air, restsOn string, blotted *float64) (w Window, ok bool) {
	w.Out, w.RestsOn = out, restsOn
	air.RateFactor = of.RateFactor
	for _, q := range []string{"pick-up", "drying-rate"} {
		if b := of.basis[q]; b.From == FromAdoptions {
			w.RestsOn += "; " + record.AdoptedQuantityOf(q).Words + " " + b.Words
		}
	}
	o := paper.Options{Seed: 1, Samples: 100}
	d, err := paper.Drying{}, error(nil)
	if blotted != nil {
		of.PickUpGPerG = nil // that of the drained sheet
		d, err = paper.DryBlotted(of.Sheet, air, true, *blotted, o)
	} else {
		d, err = paper.DryInAir(of.Sheet, paper.Drained, air, true, nil, o)
	}
	if err != nil {
		return w, false
	}
	w.From, w.Until = d.MendFromMin.Range, d.MendUntilMin.Range
	return w, true
}

// openDrying is when a sheet came out of its last bath to lie open on its support,
// when it went between absorbents after that (zero: not yet), the air, and what was
// taken of it. out is zero when it is still in a bath or was in none.
func openDrying(c *record.Case, sheet int) (out, pressed time.Time, air paper.Air, restsOn string) {
	air = paper.Air{
		TemperatureC: interval.Range{Low: 18, Best: 20, High: 23},
		Humidity:     interval.Range{Low: 0.35, Best: 0.48, High: 0.60},
		SpeedMS:      interval.Range{Low: 0.05, Best: 0.1, High: 0.2},
	}
	restsOn = "lying open on its support, in still room air of about 20 °C and 48 %"
	for _, r := range c.RunsOn(sheet) {
		if r.Body.Bath != nil {
			out, pressed = leftAt(r, sheet), time.Time{}
		} else if isDrying(r) && r.Body.Operation != "dry-air" && pressed.IsZero() {
			pressed = r.Body.At
		}
		if t, h := r.Body.TempC, r.Body.HumidityPct; t != nil && h != nil {
			air.TemperatureC, air.Humidity = interval.Within(*t, 1), interval.Within(*h/100, 0.05)
			restsOn = "lying open on its support, in still air as read at the last run"
		}
	}
	return out, pressed, air, restsOn
}

func isDrying(r *record.Run) bool {
	o := Find(r.Body.Operation)
	return o != nil && o.Drying
}

// leftAt is when a sheet left a run, zero while it is in it.
func leftAt(r *record.Run, sheet int) time.Time {
	for _, e := range r.Ends { // the first that names it: it leaves once
		if len(e.Body.Sheets) == 0 || slices.Contains(e.Body.Sheets, sheet) {
			return e.Body.At
		}
	}
	return time.Time{}
}
