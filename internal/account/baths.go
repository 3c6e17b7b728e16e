package account

import (
	"slices"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// NameOf is the studio's name for what an entry writes as one of its
// identifiers: a method, an instrument, a water. Anything else is itself.
func NameOf(st *record.Studio, s string) string {
	if st == nil || !record.IsID(s) {
		return s
	}
	for _, x := range st.Methods {
		if x.ID == s {
			return x.Name
		}
	}
	for _, x := range st.Instruments {
		if x.ID == s {
			return x.Name
		}
	}
	if w := st.Water(s); w != nil {
		return w.Name
	}
	return s
}

// RunFacts are what was set, read and used at the start of a run, as the entry
// that starts it holds them. What it does not hold is left out.
func RunFacts(st *record.Studio, b *record.RunStarted) []Fact {
	var list []Fact
	add := func(name, text string) {
		if text != "" {
			list = append(list, Fact{Name: name, Text: text})
		}
	}
	add("Sheets", record.SheetNames(b.Sheets))
	if b.PlannedMin > 0 {
		add("Planned", en.Quantity(b.PlannedMin, "min"))
	}
	if len(b.DueMin) > 0 {
		due := make([]string, len(b.DueMin))
		for i, v := range b.DueMin {
			due[i] = en.Number(v)
		}
		add("Due after", en.List(due)+words.NBSP+"min"+words.After(": ", b.DueWhat))
	}
	add("Aim", b.Aim)
	add("Method", words.After("the studio’s own: ", NameOf(st, b.Method)))
	if b.Bath != nil {
		bathFacts(st, b.Bath, add)
	}
	var materials []string
	for _, x := range b.Materials {
		materials = append(materials, MaterialText(x))
	}
	add("Materials", strings.Join(materials, "; "))
	add("Room", words.Joined(", ", maybe(b.TempC, "°C"), words.After("relative humidity ", maybe(b.HumidityPct, "%")),
		b.AirFrom))
	add("Not as planned", ownDeparture(b))
	return list
}

// ownDeparture is the reason for departing from the plan that no gate holds
// already: earlier versions wrote the reason at the gate of consent twice.
func ownDeparture(b *record.RunStarted) string {
	s := b.Departure
	for _, o := range b.Overrides {
		s = strings.TrimSpace(strings.TrimSuffix(s, o.Reason))
	}
	return s
}

func bathFacts(st *record.Studio, b *record.Bath, add func(name, text string)) {
	add("Bath", words.Joined("; ", b.Liquid, en.Quantity(b.VolumeMl, "mL"), words.After("in ", b.Tray)))
	strength := ""
	if b.StrengthGL != nil {
		strength = en.Range(*b.StrengthGL, "g/L")
	}
	if !strings.Contains(b.Liquid, b.Substance) || !strings.Contains(b.Liquid, strength) {
		add("Strength", words.Joined(", ", b.Substance, strength))
	}
	var from []string
	for _, d := range b.Bottles {
		ml := ""
		if d.Ml > 0 {
			ml = en.Quantity(d.Ml, "mL")
		}
		from = append(from, words.Joined(", ", d.Name, ml, words.After("lot ", d.Lot)))
	}
	add("Drawn from", strings.Join(from, "\n"))
	add("Water", NameOf(st, b.Water))
	ph := ""
	if b.PH != nil {
		ph = words.Joined(" by ", "pH "+en.Number(*b.PH), b.PHMethod)
	}
	add("At the start", words.Joined(", ", maybe(b.TempC, "°C"), ph,
		words.After("conductivity ", maybe(b.ConductUS, "µS/cm")),
		words.After("calcium ", words.Joined(", ", maybe(b.CalciumMgL, "mg/L"), b.CalciumFrom))))
	add("Not read", notRead(map[string]*float64{"temperature": b.TempC, "pH": b.PH, "conductivity": b.ConductUS}))
	add("Shared with", words.Joined("; ", SharedWith(b), ifShared(b)))
}

// SharedWith names the other cases whose sheets were put into a bath, as known
// when it was started.
func SharedWith(b *record.Bath) string {
	var with []string
	for _, w := range b.With {
		with = append(with, "case "+w.Number+", "+record.SheetNames(w.Sheets))
	}
	return strings.Join(with, "; ")
}

func ifShared(b *record.Bath) string {
	if len(b.With) == 0 {
		return ""
	}
	return "as the bath was started; a reading that was entered there is in that record alone"
}

// notRead lists the readings of a bath that nobody took.
func notRead(of map[string]*float64) string {
	var open []string
	for _, name := range []string{"pH", "temperature", "conductivity"} {
		if of[name] == nil {
			open = append(open, name)
		}
	}
	return words.After("of the bath at the start: ", en.List(open))
}

// GatesPassed says of each gate that a run passed over what it said, and why it was
// passed.
func GatesPassed(b *record.RunStarted) []string {
	var list []string
	for _, o := range b.Overrides {
		list = append(list, words.Joined(" ", en.Upper(o.Gate)+".", en.Sentence(o.Say), "Passed because: "+o.Reason,
			words.After("Agreed by word of mouth by ", o.Who)))
	}
	return list
}

// MaterialText names a material with its strength, amount and lot.
func MaterialText(x record.Material) string {
	stays := ""
	if x.Stays {
		stays = "stays in or on the object"
	}
	return words.Joined(", ", x.Name, x.Strength, x.Amount, words.After("lot ", x.Lot), stays)
}

// EndedSheets lists the sheets that left a run by its i-th ending: those named,
// or all that no ending before it named.
func EndedSheets(c *record.Case, r *record.Run, i int) []int {
	if named := r.Ends[i].Body.Sheets; len(named) > 0 {
		return named
	}
	if i == 0 {
		return r.Body.Sheets
	}
	out := map[int]bool{}
	for _, e := range r.Ends[:i] {
		for _, n := range e.Body.Sheets {
			out[n] = true
		}
	}
	var left []int
	for _, n := range sheetsOf(c, r.Body.Sheets) {
		if !out[n] {
			left = append(left, n)
		}
	}
	return left
}

// InProgress is what is said of work that has not ended.
const InProgress = "in progress, not ended at the last entry"

// SheetsOut lists the sheets that have left a run.
func SheetsOut(c *record.Case, r *record.Run) []int {
	in := c.SheetsIn(r)
	var out []int
	for _, n := range sheetsOf(c, r.Body.Sheets) {
		if !slices.Contains(in, n) {
			out = append(out, n)
		}
	}
	return out
}

// Lasted is how long a run lasted, from its start to the leaving of its last
// sheet; "" while it is open.
func Lasted(r *record.Run) string {
	if r.Open() {
		return ""
	}
	return en.Lasted(r.Ended().Sub(r.Body.At))
}
