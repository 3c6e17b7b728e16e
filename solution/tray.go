package solution

import (
	"fmt"

	"benchleaf/interval"
)

// Tray is a flat vessel, measured inside at the bottom.
type Tray struct {
	Name           string
	LengthMm       Millimetres
	WidthMm        Millimetres
	WallMm         Millimetres // inside height; 0 when not known
	Grooves        int         // grooves in the bottom, below the level that a sheet lies on
	GrooveWidthMm  Millimetres
	GrooveDepthMm  Millimetres
	GrooveLengthMm Millimetres // 0: the tray's width
	DepthWithinMm  Millimetres // how exactly the depth is kept; 0: 1 mm either way
	SheetMarginMm  Millimetres // room to lift a sheet out at each side; 0: 15 mm
}

// TrayFill is the liquid for a tray.
type TrayFill struct {
	VolumeMl interval.Range
	// DeadMl of it stands in the grooves, below the sheet.
	DeadMl   Millilitres
	Warnings []string
}

// Cover is the liquid that covers a sheet of the given size with depth of
// liquid above the tray's bottom, grooves included. sheetGrams is the dry mass
// of all sheets in it at once, 0 when not known: it is set against the 50 to
// 100 mL per g that benches use for a wash (common practice). Errors: a tray or
// depth that is none, a sheet larger than the tray, a depth above its wall.
func (t Tray) Cover(depth, sheetWidth, sheetHeight Millimetres, sheetGrams Grams) (TrayFill, error) {
	if err := t.check(depth); err != nil {
		return TrayFill{}, err
	}
	margin := t.SheetMarginMm
	if margin == 0 {
		margin = 15
	}
	long, short := max(t.LengthMm, t.WidthMm), min(t.LengthMm, t.WidthMm)
	sheetLong, sheetShort := max(sheetWidth, sheetHeight), min(sheetWidth, sheetHeight)
	if sheetLong > long || sheetShort > short {
		return TrayFill{}, fmt.Errorf(
			"a sheet of %g x %g mm does not lie flat in a tray of %g x %g mm",
			float64(sheetWidth),
			float64(sheetHeight),
			float64(t.LengthMm),
			float64(t.WidthMm),
		)
	}
	area := float64(t.LengthMm) * float64(t.WidthMm)
	grooveLength := t.GrooveLengthMm
	if grooveLength == 0 {
		grooveLength = t.WidthMm
	}
	dead := float64(t.Grooves) * float64(t.GrooveWidthMm) * float64(t.GrooveDepthMm) * float64(grooveLength) / 1000
	within := t.DepthWithinMm
	if within == 0 {
		within = 1
	}
	f := TrayFill{
		VolumeMl: interval.Within(area*float64(depth)/1000+dead, area*float64(within)/1000),
		DeadMl:   Millilitres(dead),
	}
	f.VolumeMl.Low = max(f.VolumeMl.Low, 0)
	if sheetLong+2*margin > long || sheetShort+2*margin > short {
		f.Warnings = append(
			f.Warnings,
			fmt.Sprintf(
				"There is less than %g mm of room around the sheet to lift it out with its support.",
				float64(margin),
			),
		)
	}
	if sheetGrams > 0 {
		if ratio := f.VolumeMl.Best / float64(sheetGrams); ratio < 50 {
			f.Warnings = append(
				f.Warnings,
				fmt.Sprintf(
					"That is %.0f mL for each gram of paper; benches use 50 to 100 mL per g for a wash (common "+
						"practice).",
					ratio,
				),
			)
		}
	}
	return f, nil
}

func (t Tray) check(depth Millimetres) error {
	switch {
	case !(t.LengthMm >= 20 && t.LengthMm <= 5000 && t.WidthMm >= 20 && t.WidthMm <= 5000):
		return fmt.Errorf(
			"a tray measures between 20 mm and 5 m inside, not %g x %g mm",
			float64(t.LengthMm),
			float64(t.WidthMm),
		)
	case !(depth > 0 && depth <= 500):
		return fmt.Errorf("the depth of liquid must be above 0 and at most 500 mm, not %g mm", float64(depth))
	case t.WallMm > 0 && depth > t.WallMm:
		return fmt.Errorf("a depth of %g mm runs over the tray's wall of %g mm", float64(depth), float64(t.WallMm))
	case t.Grooves < 0 || t.Grooves > 1000 || !(t.GrooveWidthMm >= 0 && t.GrooveDepthMm >= 0 && t.GrooveLengthMm >= 0):
		return fmt.Errorf("the tray's grooves must have a number, width, depth and length of 0 or more")
	case float64(t.Grooves)*float64(t.GrooveWidthMm)*float64(max(t.GrooveLengthMm,
		0)) > float64(t.LengthMm)*float64(t.WidthMm):
		return fmt.Errorf("the grooves cover more than the tray's bottom")
	case t.GrooveLengthMm == 0 && float64(t.Grooves)*float64(t.GrooveWidthMm) > float64(t.LengthMm):
		return fmt.Errorf(
			"%d grooves of %g mm do not fit on a tray %g mm long",
			t.Grooves,
			float64(t.GrooveWidthMm),
			float64(t.LengthMm),
		)
	}
	return nil
}
