package account

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
)

// readingsAsked are the quantities that an operation asks for, the first first (common
// practice, no source; docs/practice.md, readings).
var readingsAsked = map[string][]string{
	"wash":          {"bath-ph", "conductivity"},
	"float-wash":    {"bath-ph", "conductivity"},
	"rinse":         {"conductivity", "bath-ph"},
	"lime":          {"bath-ph", "bath-alkali"},
	"bicarbonate":   {"bath-ph", "bath-alkali"},
	"reduce":        {"bath-ph", "bath-temperature"},
	"oxidise":       {"bath-ph", "bath-temperature"},
	"chelate":       {"bath-ph", "conductivity"},
	"drain":         {"mass"},
	"dry-absorbent": {"mass", "humidity"},
	"dry-air":       {"mass", "humidity"},
	"flatten":       {"mass", "humidity"},
	"condition":     {"humidity", "mass"},
	"humidify":      {"humidity", "air-temperature"},
}

// ReadingsAsked puts the quantities that can be read during a run into the order in
// which its operation asks for them; asked of them are what it asks for at all.
func ReadingsAsked(operation string, all []string) (list []string, asked int) {
	for _, q := range readingsAsked[operation] {
		if slices.Contains(all, q) {
			list = append(list, q)
		}
	}
	asked = len(list)
	for _, q := range all {
		if !slices.Contains(list, q) {
			list = append(list, q)
		}
	}
	return list, asked
}

// ByDanger are the open runs, the most dangerous first, then by what is due.
func ByDanger(c *record.Case, now time.Time) []*record.Run {
	list := slices.Clone(c.OpenRuns())
	slices.SortStableFunc(list, func(a, b *record.Run) int {
		ua, at := urgencyOfRun(a, now)
		ub, bt := urgencyOfRun(b, now)
		switch {
		case at.IsZero() && bt.IsZero():
			return 0
		case at.IsZero():
			return 1
		case bt.IsZero():
			return -1
		}
		return Order(ua, at, ub, bt)
	})
	return list
}

func urgencyOfRun(r *record.Run, now time.Time) (Urgency, time.Time) {
	at, _ := r.NextDue()
	d := record.Due{At: at, Run: r.Body.ID, Operation: r.Body.Operation}
	return UrgencyOf(&d, now), at
}

// LastDone is the last act of a case: what one press wrote.
type LastDone struct {
	Line
	// Key is that of the form, by which the act can be taken back; empty where it came
	// from no form.
	Key  string
	More int // entries of the same press beside the one that is told
}

// LastActOf is the latest act of a case that still counts; nil where there is none.
func LastActOf(c *record.Case, tell func(*record.Line) Line) *LastDone {
	for i := len(c.Log) - 1; i >= 0; i-- {
		l := &c.Log[i]
		if _, taken := l.Decoded.(record.Withdrawn); taken || !l.Counts() {
			continue
		}
		first := i
		for first > 0 && l.Key != "" && c.Log[first-1].Key == l.Key {
			first--
		}
		for k := first; k < i; k++ { // what was done, and not what was expected of it
			if saysTheAct(c.Log[k].Decoded) {
				return &LastDone{Line: tell(&c.Log[k]), Key: l.Key, More: i - first}
			}
		}
		return &LastDone{Line: tell(l), Key: l.Key, More: i - first}
	}
	return nil
}

// saysTheAct says whether an entry of several tells what the act was.
func saysTheAct(b record.Body) bool {
	switch b.(type) {
	case record.RunStarted, record.Proposal:
		return true
	}
	return false
}

// Waiting are wet sheets that are in no run: out of one and not yet in the next.
type Waiting struct {
	Sheets  []int
	Wetness record.Wetness
	Since   time.Time
	After   string // the operation that they come from
	// Rinse says that a rinse may follow: they come from a bath.
	Rinse bool
}

// WaitingOf groups the wet and damp sheets that lie in no run by the run they left.
func WaitingOf(c *record.Case) []Waiting {
	var list []Waiting
	from := map[string]int{}
	for _, n := range c.WetSheets() {
		w := c.ConditionOf(n)
		if w.Run != "" {
			continue
		}
		key := w.After + string(w.Wetness)
		i, known := from[key]
		if !known {
			i = len(list)
			from[key] = i
			x := Waiting{Wetness: w.Wetness, Since: w.Since}
			if r := c.Run(w.After); r != nil {
				x.After, x.Rinse = r.Body.OperationName, r.Body.Bath != nil
			}
			list = append(list, x)
		}
		list[i].Sheets = append(list[i].Sheets, n)
	}
	return list
}

// TrayNow is a tray with what lies in it, and by whom.
type TrayNow struct {
	Tray, Liquid, Operation string
	Sheets                  string
	By                      string
	Since                   time.Time
	Case                    record.CaseID
	Number                  string // of the case, where it is another one
	Run                     string
}

// TraysNow are the trays that hold sheets of the cases, own first.
func TraysNow(own *record.Case, others []*record.Case) []TrayNow {
	var list []TrayNow
	for _, c := range append([]*record.Case{own}, others...) {
		for _, r := range c.OpenRuns() {
			if r.Body.Bath == nil || r.Body.Bath.Tray == "" {
				continue
			}
			x := TrayNow{
				Tray: TrayAlone(r.Body.Bath.Tray), Liquid: r.Body.Bath.Liquid, Operation: r.Body.OperationName,
				Sheets: record.SheetNames(c.SheetsIn(r)), By: r.By, Since: r.Body.At, Case: c.ID, Run: r.Body.ID,
			}
			if c.ID != own.ID {
				x.Number = c.Number
			}
			list = append(list, x)
		}
	}
	slices.SortStableFunc(list, func(a, b TrayNow) int {
		switch {
		case a.Tray < b.Tray:
			return -1
		case a.Tray > b.Tray:
			return 1
		}
		return 0
	})
	return list
}

// Ready says whether a run that is proposed holds all that its second look needs, so
// that it need not be typed first.
func (p *Proposed) Ready() bool {
	op := treatment.Find(p.Run.Operation)
	if op == nil || len(p.Run.Sheets) == 0 {
		return false
	}
	b := p.Run.Bath
	return !op.Bath || b.VolumeMl > 0 && (p.Bottle != "" || b.Liquid != "" || b.Water != "")
}

// afterBath is what a rinse begins with where none was done yet: the water and the
// volume of the bath that the sheets come from. The tray is another one.
func (p *Proposed) afterBath(c *record.Case, sheets []int) {
	var last *record.Run
	for _, n := range sheets {
		for _, r := range c.RunsOn(n) {
			if r.Body.Bath != nil && (last == nil || r.Body.At.After(last.Body.At)) {
				last = r
			}
		}
	}
	if last == nil {
		return
	}
	p.Run.Bath.VolumeMl, p.Run.Bath.Water = last.Body.Bath.VolumeMl, last.Body.Bath.Water
	if len(last.Body.Bath.Bottles) == 0 && last.Body.Bath.Substance == "" && p.Run.Bath.Water == "" {
		p.Run.Bath.Liquid = last.Body.Bath.Liquid
	}
}

// QuantityShort is a quantity in a word, where the bath or the air that it is read in
// stands beside it.
func QuantityShort(quantity string) string {
	short := map[string]string{
		"bath-ph": "pH", "conductivity": "conductivity", "bath-alkali": "alkali", "bath-temperature": "temperature",
		"humidity":        "humidity",
		"air-temperature": "air",
	}[quantity]
	if short == "" {
		return QuantityName(quantity)
	}
	return short
}
