package account

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/schedule"
)

// DayAsked is what a person says of a day at the bench: who and what is there, from when to
// when, and which sheets.
type DayAsked struct {
	Studio      *record.Studio
	Cases       []SheetsOf
	From, Until time.Time
	People      []string
	Trays       int
	Presses     int
	Away        []record.DaySpan
	Now         words.Clock
}

// Day is a day worked out.
type Day struct {
	Asked DayAsked
	Tasks []DayTask
	// Held of a hundred sampled days keep every limit; Spoiler is what broke the others most
	// often, and Ends when nine of ten that held were over.
	HeldPct  float64
	Spoilers []string
	Ends     time.Time
	Bound    time.Time // before which all cannot be done
	// Waits are sheets for which there is no room, and why; Night what is left for the
	// night or the morning.
	Waits []Sentence
	Night []DayTask
	// RestsOn says where the times come from.
	RestsOn []string
}

// DayTask is one piece of work of a day.
type DayTask struct {
	record.DayTask
	Name             string
	Start, End, Last time.Time
	Hands            bool
	Was              time.Time // in the plan before, where it moved
	Done, Running    bool
	spread           *interval.Range
	uses             [3]int
	window           [2]interval.Range
}

// Codes of what a day says.
const (
	NoRoom    Code = "no-room-today"
	NotOnPlan Code = "nothing-agreed"
)

// Resources of a day, by index.
const (
	byHand = iota
	byTray
	byPress
)

// handMinutes are how long a person is busy with one sheet at a step: 10 % point, best, 90 %
// point (common practice, no source), until the studio's own log says more.
var handMinutes = map[string]interval.Range{
	"in": {Low: 1, Best: 2, High: 4}, "out": {Low: 1, Best: 1.5, High: 3}, "mend": {Low: 7, Best: 12, High: 20},
	"press": {Low: 2, Best: 3, High: 5}, "change": {Low: 2, Best: 3, High: 5}, "work": {Low: 8, Best: 15, High: 25},
}

// Minutes within which what follows must begin, and the times of drying (common practice, no
// source).
const (
	atOnceMin   = 1
	bathOverMin = 10
	onSupport   = 8
	underPress  = 60
	mostOpen    = 45 // that a sheet lies open where its window is not known
)

var changesMin = [][2]int{{8, 20}, {35, 75}}

const mostOwnTimes = 5 // from so many logged times on the studio's own count

// PlanDay works out a day: what fits into it, when each task begins, and how late it may. It
// is chosen so that it holds in nine of ten sampled days.
func PlanDay(ctx context.Context, a DayAsked) (*Day, []*record.Invalid) {
	if refused := a.check(); len(refused) > 0 {
		return nil, refused
	}
	d := &Day{Asked: a}
	b := &dayBuilder{day: d, own: ownTimes(a)}
	var batches [][]DayTask
	for _, x := range a.Cases {
		batches = append(batches, b.batches(x)...)
	}
	if len(batches) == 0 {
		return nil, []*record.Invalid{{Field: "sheets", Say: "The agreed plans hold nothing more for these sheets that a " +
			"day could be made of: choose others, or get consent to more."}}
	}
	// What does not fit waits: the last batches first.
	for n := len(batches); n > 0; n-- {
		tasks := slices.Concat(batches[:n]...)
		share, done := context.WithTimeout(ctx, 900*time.Millisecond)
		p := b.problem(tasks)
		best, heard, err := schedule.Hold(share, p, schedule.Options{Seed: 1})
		done()
		if err != nil {
			return nil, []*record.Invalid{{Say: en.Sentence(en.Upper(err.Error()))}}
		}
		if !best.Feasible {
			t := batches[n-1][0]
			d.Waits = append(d.Waits, Sentence{NoRoom, en.Upper(record.SheetNames(t.Sheets)) + words.After(" of ", t.Number) +
				" waits: with it the work does not end by " + a.Now.At(a.Until) + "."})
			continue
		}
		d.take(tasks, p, best, heard)
		b.says()
		return d, nil
	}
	return nil, []*record.Invalid{{Field: "until", Say: "This day cannot be done: not even " +
		record.SheetNames(batches[0][0].Sheets) + " is dry and pressed by " + a.Now.At(a.Until) +
		". Give it more time, more " +
		"hands, trays or presses, or fewer steps."}}
}

func (a *DayAsked) check() (list []*record.Invalid) {
	refuse := func(is bool, field, format string, args ...any) {
		if is {
			list = append(list, &record.Invalid{Field: field, Say: fmt.Sprintf(format, args...)})
		}
	}
	length := a.Until.Sub(a.From)
	refuse(a.From.IsZero() || a.Until.IsZero(), "until", "Please enter from when to when.")
	refuse(!a.From.IsZero() && !a.Until.IsZero() && length <= 0, "until",
		"The day ends (%s) before it begins (%s).", a.Now.At(a.Until), a.Now.At(a.From))
	refuse(length > 24*time.Hour, "until", "A day of more than 24 hours cannot be planned: plan the next one by itself.")
	refuse(len(a.People) == 0, "people", "Nobody is there: at least one person is needed.")
	refuse(a.Trays < 1, "trays", "There is no tray: at least one is needed for a bath.")
	refuse(a.Presses < 1, "presses", "There is no press, and no board with a weight: at least one is needed to dry under "+
		"restraint.")
	refuse(len(a.Cases) == 0, "sheets", "No sheet is chosen: at least one is needed.")
	for _, x := range a.Away {
		refuse(!x.Until.After(x.From), "away", "A break ends (%s) before it begins (%s).", a.Now.At(x.Until),
			a.Now.At(x.From))
	}
	return list
}

// minute is a time as minutes after the day's beginning, by the clock that runs on when the
// hands of a wall clock are moved.
func (a *DayAsked) minute(t time.Time) int { return int(math.Round(t.Sub(a.From).Minutes())) }

type dayBuilder struct {
	day   *Day
	own   map[string]interval.Range
	count int
}

// batches are the sheets of one case that go through the day together, with their tasks in
// order: those of one paper with the same operations before them, as many as the chosen bath
// takes.
func (b *dayBuilder) batches(x SheetsOf) (list [][]DayTask) {
	groups := map[string][]int{}
	var order []string
	for _, n := range x.Sheets {
		var slugs []string
		for _, o := range treatment.Coming(x.Case, n) {
			slugs = append(slugs, o.Slug)
		}
		if st := x.Case.StockOf(n); st != nil {
			slugs = append(slugs, "\x00"+st.Name)
		}
		key := strings.Join(slugs, " ")
		if len(treatment.Coming(x.Case, n)) == 0 {
			b.day.Waits = append(b.day.Waits, Sentence{NotOnPlan, en.Upper(record.SheetName(n)) +
				words.After(" of ", x.Case.Number) +
				": the agreed plan holds nothing more for it."})
			continue
		}
		if _, has := groups[key]; !has {
			order = append(order, key)
		}
		groups[key] = append(groups[key], n)
	}
	for _, key := range order {
		together := 1
		for _, o := range treatment.Coming(x.Case, groups[key][0]) {
			if p := x.Case.PlanOf(groups[key][0], o.Slug); p != nil && o.Bath {
				together = max(together, p.Body.Together)
			}
		}
		for sheets := range slices.Chunk(groups[key], together) {
			list = append(list, b.batch(x.Case, slices.Clone(sheets)))
		}
	}
	return list
}

// batch lays out the tasks of some sheets.
func (b *dayBuilder) batch(c *record.Case, sheets []int) (list []DayTask) {
	b.count++
	add := func(o *treatment.Operation, step string, on []int, minutes *interval.Range, fixed float64, uses ...int) {
		t := DayTask{DayTask: record.DayTask{
			Case: c.ID, Number: c.Number, Sheets: on, Operation: o.Slug, Step: step, Batch: b.count, Minutes: fixed,
		}, Name: o.Name}
		if minutes != nil {
			r := minutes.Scale(float64(max(1, len(on))))
			t.spread, t.Minutes = &r, r.Best
		}
		for _, k := range uses {
			t.uses[k] = 1
			t.Hands = t.Hands || k == byHand
		}
		list = append(list, t)
	}
	for _, o := range treatment.Coming(c, sheets[0]) {
		switch {
		case o.Bath:
			baths, minutes := 1, bathMinutes(c, o, sheets[0])
			if p, number, ok := treatment.PlannedBath(c, o.Slug, sheets); ok {
				baths = max(1, p.Body.Baths-number+1)
			}
			for range baths {
				add(o, "in", sheets, b.hand("in", o), 0, byHand, byTray)
				add(o, "bath", sheets, nil, minutes, byTray)
				add(o, "out", sheets, b.hand("out", o), 0, byHand, byTray)
			}
		case o.Slug == "mend-damp":
			for _, n := range sheets {
				add(o, "mend", []int{n}, b.hand("mend", o), 0, byHand)
				t := &list[len(list)-1]
				if from, until, ok := treatment.MendWindowPlanned(c, n); ok {
					t.window = [2]interval.Range{from, until}
				}
			}
		case o.Slug == "dry-absorbent":
			add(o, "press", sheets, b.hand("press", o), 0, byHand)
			add(o, "under", sheets, nil, underPress, byPress)
			for i := range changesMin {
				add(o, fmt.Sprint("change ", i+1), sheets, b.hand("change", o), 0, byHand)
			}
		case o.Makes == record.Dry && o.Rank < 45:
			add(o, "work", sheets, b.hand("work", o), 0, byHand)
		}
	}
	return list
}

// hand is how long a person is busy at a step with one sheet: by the studio's own log where
// that has enough.
func (b *dayBuilder) hand(step string, o *treatment.Operation) *interval.Range {
	if r, ok := b.own[step+" "+o.Slug]; ok {
		return &r
	}
	r := handMinutes[step]
	return &r
}

// bathMinutes is how long a sheet lies in a bath: as chosen for it, as the last such bath
// was planned, or twenty minutes (common practice, no source).
func bathMinutes(c *record.Case, o *treatment.Operation, sheet int) float64 {
	if p := c.PlanOf(sheet, o.Slug); p != nil {
		return p.Body.Minutes
	}
	for _, r := range slices.Backward(c.Runs) {
		if r.Body.Operation == o.Slug && r.Body.PlannedMin > 0 {
			return r.Body.PlannedMin
		}
	}
	if o.Slug == "reduce" || o.Slug == "rinse" {
		return 10
	}
	return 20
}

// ownTimes are the times by hand that the studio logged: runs of mending and of dry work,
// each divided by its sheets.
func ownTimes(a DayAsked) map[string]interval.Range {
	logged := map[string][]float64{}
	for _, x := range a.Cases {
		for i := range x.Case.Runs {
			r := &x.Case.Runs[i]
			o := treatment.Find(r.Body.Operation)
			if o == nil || o.Bath || o.Drying || r.Open() || len(r.Body.Sheets) == 0 {
				continue
			}
			step := "work"
			if o.Slug == "mend-damp" {
				step = "mend"
			}
			min := r.Ended().Sub(r.Body.At).Minutes() / float64(len(r.Body.Sheets))
			logged[step+" "+o.Slug] = append(logged[step+" "+o.Slug], min)
		}
	}
	own := map[string]interval.Range{}
	for key, v := range logged {
		if len(v) < mostOwnTimes {
			continue
		}
		slices.Sort(v)
		at := func(q float64) float64 { return v[int(q*float64(len(v)-1)+0.5)] }
		own[key] = interval.Range{Low: at(0.1), Best: at(0.5), High: at(0.9)}
	}
	return own
}

// problem is the day as a problem of the scheduler, in minutes.
func (b *dayBuilder) problem(tasks []DayTask) *schedule.Problem {
	a := &b.day.Asked
	p := &schedule.Problem{Resources: []schedule.Resource{
		{ID: "hands", Capacity: len(a.People)}, {ID: "trays", Capacity: a.Trays}, {ID: "presses", Capacity: a.Presses},
	}}
	until := a.minute(a.Until)
	for _, x := range a.Away {
		from, to := max(0, a.minute(x.From)), min(until, a.minute(x.Until))
		if from < to {
			p.Resources[byHand].Away = append(p.Resources[byHand].Away, schedule.Span{From: from, To: to})
		}
	}
	for i := range tasks {
		t := &tasks[i]
		p.Tasks = append(p.Tasks, schedule.Task{
			ID: t.Title(), Duration: int(math.Ceil(t.Minutes)), Spread: t.spread, Deadline: until, Due: schedule.NoLimit,
			Uses: t.uses[:],
		})
	}
	for from := 0; from < len(tasks); {
		to := from
		for to < len(tasks) && tasks[to].Batch == tasks[from].Batch {
			to++
		}
		tie(p, tasks, from, to)
		from = to
	}
	return p
}

// tie adds the lags of one batch: what must follow what, and how soon.
func tie(p *schedule.Problem, tasks []DayTask, from, to int) {
	least := func(a, b, min int, spread *interval.Range) {
		p.Lags = append(p.Lags, schedule.Lag{
			From: a, To: b, Min: p.Tasks[a].Duration + min, Ends: schedule.EndOfFrom, Spread: spread,
		})
	}
	most := func(a, b, max int, spread *interval.Range) {
		p.Lags = append(p.Lags, schedule.Lag{
			From: b, To: a, Min: -p.Tasks[a].Duration - max, Ends: schedule.EndOfTo, Spread: spread,
		})
	}
	wet, out, pressed := -1, -1, -1
	var mends []int
	for i := from; i < to; i++ {
		t := &tasks[i]
		soon := bathOverMin
		if o := treatment.Find(t.Operation); o != nil && o.ThenAtOnce != "" {
			soon = atOnceMin
		}
		switch {
		case t.Step == "in" && out >= 0:
			least(out, i, 0, nil)
			if before := treatment.Find(tasks[out].Operation); before != nil && before.ThenAtOnce != "" {
				most(out, i, atOnceMin, nil)
			} else {
				most(out, i, onSupport, nil)
			}
		case t.Step == "bath", t.Step == "under":
			least(i-1, i, 0, nil)
			most(i-1, i, 0, nil)
		case t.Step == "out":
			least(i-1, i, 0, nil)
			most(i-1, i, soon, nil)
			out = i
		case t.Step == "mend" && out >= 0:
			open, close := t.window[0], t.window[1]
			if close.High > 0 {
				least(out, i, int(math.Ceil(open.Best)), &open)
				most(out, i, int(close.Best), &close)
			} else {
				least(out, i, 0, nil)
				most(out, i, mostOpen, nil)
			}
			mends = append(mends, i)
		case t.Step == "press":
			for _, m := range mends {
				least(m, i, 0, nil)
			}
			if len(mends) == 0 && out >= 0 {
				least(out, i, 0, nil)
				most(out, i, mostOpen, nil)
			}
			pressed = i
		case strings.HasPrefix(t.Step, "change ") && pressed >= 0:
			w := changesMin[int(t.Step[len(t.Step)-1]-'1')]
			least(pressed, i, w[0], nil)
			most(pressed, i, w[1], nil)
		case i > from:
			least(i-1, i, 0, nil)
		}
		if t.Step == "in" && wet < 0 {
			wet = i
			if i > from {
				least(i-1, i, 0, nil)
			}
		}
	}
	if wet >= 0 {
		end := max(wet, out, pressed)
		p.Wet = append(p.Wet, schedule.Stretch{From: wet, To: end})
	}
}

// take puts a schedule into the day.
func (d *Day) take(tasks []DayTask, p *schedule.Problem, best schedule.Answer, heard schedule.Rehearsal) {
	planned := best.Planned
	if planned == nil {
		planned = p
	}
	a := &d.Asked
	last := planned.Latest(best.Starts, a.minute(a.Until))
	for i := range tasks {
		t := &tasks[i]
		t.StartMin, t.Minutes, t.LastMin = float64(best.Starts[i]), float64(planned.Tasks[i].Duration), float64(last[i])
		t.Start, t.Last = a.at(t.StartMin), a.at(t.LastMin)
		t.End = a.at(t.StartMin + t.Minutes)
	}
	d.HeldPct = 100 * heard.Share()
	for _, x := range heard.Spoilers[:min(3, len(heard.Spoilers))] {
		say := p.Tasks[x.From].ID
		if x.To != x.From {
			say = p.Tasks[x.To].ID + ", then " + say
		}
		d.Spoilers = append(d.Spoilers, fmt.Sprintf("%s (%.0f of %d)", say, float64(x.Days), heard.Of))
	}
	if n := len(heard.Ends); n > 0 {
		d.Ends = a.at(float64(heard.Ends[(n-1)*9/10]))
	}
	d.Bound = a.at(float64(best.LowerBound))
	d.Tasks = tasks
	assign(a, tasks)
	for i := range tasks {
		t := tasks[i]
		if t.Step == fmt.Sprint("change ", len(changesMin)) {
			t.Step, t.Hands = "night", true
			t.Start = t.End.Add(3 * time.Hour)
			d.Night = append(d.Night, t)
		}
	}
}

func (a *DayAsked) at(min float64) time.Time {
	return a.From.Add(time.Duration(min * float64(time.Minute)))
}

// assign gives each task its person, tray and press by number, in order of time.
func assign(a *DayAsked, tasks []DayTask) {
	order := make([]int, len(tasks))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(x, y int) int { return tasks[x].Start.Compare(tasks[y].Start) })
	free := [3][]time.Time{make([]time.Time, len(a.People)), make([]time.Time, a.Trays), make([]time.Time, a.Presses)}
	tray := map[int]int{} // by batch: it stays in its tray from in to out
	for _, i := range order {
		t := &tasks[i]
		for k := range free {
			if t.uses[k] == 0 {
				continue
			}
			n := slices.IndexFunc(free[k], func(x time.Time) bool { return !x.After(t.Start) })
			if was, ok := tray[t.Batch]; ok && k == byTray && t.Step != "in" {
				n = was
			}
			n = max(n, 0)
			free[k][n] = t.End
			switch k {
			case byHand:
				t.Who = a.People[n]
			case byTray:
				t.Tray = n + 1
				tray[t.Batch] = n
			case byPress:
				t.Press = n + 1
			}
		}
	}
}

func (b *dayBuilder) says() {
	d := b.day
	d.RestsOn = append(d.RestsOn,
		"Times by hand: common practice, no source, where the studio has logged fewer than "+fmt.Sprint(mostOwnTimes)+
			" of a step; times in baths as chosen for the sheets, or as such a bath was last planned.",
		"The window of mending is computed from each sheet’s paper; where its paper is not described, "+
			fmt.Sprint(mostOpen)+" min are taken (common practice, no source).")
	for key := range b.own {
		d.RestsOn = append(d.RestsOn, "From the studio’s own log: "+key+".")
	}
	slices.Sort(d.RestsOn[2:])
}

// Title names a task: what, of which sheets.
func (t *DayTask) Title() string {
	name := t.Name
	if name == "" {
		name = treatment.Name(t.Operation)
	}
	on := record.SheetNames(t.Sheets)
	switch {
	case t.Step == "in":
		name += ", in"
	case t.Step == "out":
		name += ", out"
	case t.Step == "press":
		name = "into the absorbents"
	case t.Step == "under":
		name = "under the press"
	case strings.HasPrefix(t.Step, "change "):
		name = "absorbents, " + t.Step
	case t.Step == "night":
		name = "absorbents overnight"
	}
	return words.Joined(": ", name, words.Joined(", ", t.Number, on))
}

// Plan is the day as an entry: somebody lays it down.
func (d *Day) Plan(id, because string) record.DayPlan {
	a := &d.Asked
	p := record.DayPlan{
		ID: id, From: a.From, Until: a.Until, People: a.People, Trays: a.Trays, Presses: a.Presses, Away: a.Away,
		HeldPct: d.HeldPct, Because: because,
	}
	if len(d.Spoilers) > 0 {
		p.Spoiler = d.Spoilers[0]
	}
	for _, t := range d.Tasks {
		p.Tasks = append(p.Tasks, t.DayTask)
	}
	return p
}

// HeldText is in how many of a hundred days it holds, whole.
func (d *Day) HeldText() string { return fmt.Sprintf("%.0f", math.Floor(d.HeldPct)) }
