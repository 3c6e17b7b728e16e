package account

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// instrumentFor is the sort of instrument that a quantity is read with.
var instrumentFor = map[string]record.InstrumentSort{
	"surface-ph": record.PHMeter, "extract-ph": record.PHMeter, "bath-ph": record.PHMeter,
	"conductivity": record.ConductivityMeter, "mass": record.Balance,
	"bath-temperature": record.Thermometer, "air-temperature": record.Thermometer, "humidity": record.Hygrometer,
}

// StartReading is what a reading of a quantity begins with: the method and the
// instrument of the last reading of that quantity, else the first instrument of
// its sort, with that instrument's own last check, and a method only where there
// is but one. An uncertainty goes with the quantity and the instrument that it was
// stated for, and with no other.
func StartReading(c *record.Case, st *record.Studio, quantity string, k words.Clock) record.Reading {
	q := record.QuantityOf(quantity)
	b := record.Reading{Quantity: quantity}
	if len(q.Methods) == 1 {
		b.Method = q.Methods[0]
	}
	sort := instrumentFor[quantity]
	var last *record.Reading
	for i := range c.Readings {
		x := &c.Readings[i].Body
		if in := instrumentNamed(st, x.Instrument); x.Quantity == quantity &&
			(in == nil || sort == "" || in.Sort == sort) {
			last = x
		}
	}
	if last != nil {
		b.Method, b.Instrument, b.Uncertainty = last.Method, last.Instrument, last.Uncertainty
	} else if sort != "" {
		i := slices.IndexFunc(st.Instruments, func(in record.Instrument) bool { return in.Sort == sort && !in.Retired })
		if i >= 0 {
			b.Instrument = st.Instruments[i].Name
		}
	}
	b.Checked = LastChecked(st, b.Instrument, k)
	return b
}

func instrumentNamed(st *record.Studio, name string) *record.Instrument {
	for i := range st.Instruments {
		if in := &st.Instruments[i]; name != "" && (in.Name == name || in.ID == name) {
			return in
		}
	}
	return nil
}

// LastChecked says when an instrument of the studio was last checked and against
// what, "" where it never was or is none of the studio's.
func LastChecked(st *record.Studio, instrument string, k words.Clock) string {
	in := instrumentNamed(st, instrument)
	if in == nil {
		return ""
	}
	x := st.LastCheck(in.ID)
	if x == nil {
		return ""
	}
	var buffers []string
	for _, b := range x.Body.Buffers {
		buffers = append(buffers, en.Number(b.NominalPH))
	}
	k.Today = time.Time{} // the record is read on other days
	return plainBlanks(
		words.Joined(
			" ", k.Moment(x.Body.At), words.After("in pH ", en.List(buffers)), words.After("against ", x.Body.Text),
		),
	)
}

// OfSheet says whether a quantity is read on a sheet, and not of a bath or the air.
func OfSheet(quantity string) bool {
	return slices.Contains([]string{
		"surface-ph", "extract-ph", "mass", "thickness", "height", "width", "reserve", "lightness", "b-star",
	}, quantity)
}

// NeedsSheet refuses a reading that means nothing without its sheet: a whole object
// can be weighed and measured, but has no one pH, reserve or colour.
func NeedsSheet(c *record.Case, b *record.Reading) *record.Invalid {
	whole := slices.Contains([]string{"mass", "thickness", "height", "width"}, b.Quantity)
	if !OfSheet(b.Quantity) || whole || c.MakeUp == nil || len(b.Place.Sheets) > 0 {
		return nil
	}
	return &record.Invalid{Field: "sheets", Say: "Say which sheet it was read on."}
}

// SheetsOfRun are the sheets that a run was started on.
func SheetsOfRun(c *record.Case, r *record.Run) []int { return sheetsOf(c, r.Body.Sheets) }

// OnSheet puts a reading during a run on its sheet: the only one of the run, or
// the one that must be named.
func OnSheet(c *record.Case, r *record.Run, b *record.Reading) *record.Invalid {
	if !OfSheet(b.Quantity) || len(b.Place.Sheets) > 0 {
		return nil
	}
	of := SheetsOfRun(c, r)
	if len(of) == 1 {
		b.Place.Sheets = of
		return nil
	}
	return &record.Invalid{
		Field: "sheets",
		Say:   "Say which sheet it was: " + r.Body.OperationName + " is of " + record.SheetNames(of) + ".",
	}
}

// ReadWith says what a number was read with: method, instrument, check,
// uncertainty.
func ReadWith(b *record.Reading) string {
	u := ""
	if b.Uncertainty != nil {
		u = "± " + en.Quantity(*b.Uncertainty, UnitOf(b.Quantity))
	}
	return words.Joined("; ", b.Method, b.Instrument, words.After("checked ", b.Checked), u)
}
