package record

import (
	"encoding/json"
	"reflect"
	"slices"
	"time"

	"benchleaf/makeup"
)

// MakeUp is the nest of sheets as the object should have it, or the stack of its
// single leaves. The latest counts.
type MakeUp struct {
	// InnerSheets counts folded sheets, in a stack single leaves.
	InnerSheets int        `json:"inner_sheets" say:"the inner sheets" in:"1..200"`
	Cover       CoverState `json:"cover" say:"the cover"`
	// Build is how the sheets hang together; empty: folded sheets in one another.
	Build   LeafBuild `json:"build,omitempty" say:"the build" label:"The sheets are"`
	Binding Binding   `json:"binding,omitempty" say:"the binding" label:"Held by"`
	// Trim says how the fore-edges lie; empty: not looked at.
	Trim Trim `json:"trim,omitempty" say:"the fore-edges" label:"Fore-edges"`
	// FirstPage is the position number of the first inner page's printed
	// number; 1 unless the publisher counted otherwise.
	FirstPage int `json:"first_page" say:"the number of the first inner page" in:"-1000..10000"`
	// Printed lists pages whose printed number is not their position.
	Printed []PrintedPage `json:"printed,omitempty" say:"the printed numbers" label:"Pages printed with another number"`
	// Inserts are things bound or laid in that are not part of the nest.
	Inserts []Insert `json:"inserts,omitempty" say:"the inserts"`
	Note    string   `json:"note,omitempty" say:"the note" as:"text"`
	// Added are sheets of this make-up that the former one lacked, Gone those of the
	// former that this one lacks: what was recorded moves with the sheets between.
	// Stay says that what was recorded keeps its number instead.
	Added []int `json:"added,omitempty" say:"the sheets that were not counted before" label:"Sheets not counted before"`
	Gone  []int `json:"gone,omitempty" say:"the sheets counted too many" label:"Numbers counted too many"`
	Stay  bool  `json:"stay,omitempty" say:"what is recorded keeps its sheet numbers"`
}

// PrintedPage is a page whose printed number differs: empty when unnumbered.
type PrintedPage struct {
	Position int    `json:"position" say:"the position"`
	Printed  string `json:"printed" say:"the printed number" need:"no"`
}

// Insert stands after a page position.
type Insert struct {
	AfterPage int    `json:"after_page" say:"the page before"`
	What      string `json:"what" form:"inserts" say:"what is inserted"`
	// Leaves is how many it has; 0: not counted.
	Leaves int `json:"leaves,omitempty" say:"the leaves of the insert" in:"0..100"`
}

func (MakeUp) Kind() Kind { return "make-up" }

func (b MakeUp) rules(k *check) {
	m := b.Science()
	fields := []struct {
		name string
		part makeup.MakeUp
	}{
		{"inner_sheets", makeup.MakeUp{Inner: m.Inner, Cover: m.Cover, Build: m.Build}},
		{"printed", makeup.MakeUp{Inner: m.Inner, Cover: m.Cover, Build: m.Build, Printed: m.Printed}},
		{"inserts", makeup.MakeUp{Inner: m.Inner, Cover: m.Cover, Build: m.Build, Inserts: m.Inserts}},
	}
	for _, f := range fields {
		if err := f.part.Validate(); err != nil {
			for _, e := range parted(err) {
				k.refuse(f.name, "%s.", upper(e.Error()))
			}
			if f.name == "inner_sheets" {
				return
			}
		}
	}
}

// parted are the errors that were joined to one.
func parted(err error) []error {
	if j, is := err.(interface{ Unwrap() []error }); is {
		return j.Unwrap()
	}
	return []error{err}
}

// Science is the make-up as package makeup computes with it, before anything was
// found of its sheets. A cover that is missing is one all the same.
func (b MakeUp) Science() makeup.MakeUp {
	m := makeup.MakeUp{Inner: b.InnerSheets, Cover: makeup.SeparateCover, FirstNumber: b.FirstPage}
	if b.Cover == CoverSelf {
		m.Cover = makeup.SelfCover
	}
	if b.Build == BuildStack {
		m.Build = makeup.Stack
	}
	for _, x := range b.Printed {
		m.Printed = append(m.Printed, makeup.Printed{Position: x.Position, Number: x.Printed})
	}
	for _, x := range b.Inserts {
		m.Inserts = append(m.Inserts, makeup.Insert{AfterPosition: x.AfterPage, Leaves: max(x.Leaves, 1), What: x.What})
	}
	return m
}

func (b MakeUp) apply(c *Case, s Stamp) error {
	err := b.countsOn(c)
	c.MakeUp = &Stamped[MakeUp]{s, b}
	// Entries that came before named sheets of the former make-up.
	for _, n := range c.named {
		if err := c.haveSheets([]int{n}); err != nil {
			return Invalidf(
				"inner_sheets",
				"The record already names %s, which this make-up does not have.",
				SheetName(n),
			)
		}
	}
	return err
}

// countsOn asks which sheets came or went where the count changes after inner
// sheets were named: a tear on sheet 4 stays on its paper, whatever that is called.
func (b MakeUp) countsOn(c *Case) error {
	if c.MakeUp == nil || b.Stay || !c.NamesSheets() {
		return nil
	}
	before, now := listSheets(&c.MakeUp.Body), listSheets(&b)
	if len(b.Added)+len(b.Gone) == 0 && len(before) != len(now) {
		return Invalidf("added", "The record names sheets by their number, and the count changes from %d to %d: "+
			"say which sheets were not counted before, or which were counted too many, so that what is recorded "+
			"moves with its sheet; or that it keeps its numbers.", len(before), len(now))
	}
	return nil
}

func listSheets(b *MakeUp) []int {
	var list []int
	if b.Cover != CoverSelf {
		list = append(list, 0)
	}
	for n := 1; n <= b.InnerSheets; n++ {
		list = append(list, n)
	}
	return list
}

// movesFrom says how the sheets of a former make-up are called in b, nil where
// nothing moves. An error says why the sheets that came and went do not fit.
func (b *MakeUp) movesFrom(former *MakeUp) (map[int]int, error) {
	before, now := listSheets(former), listSheets(b)
	if b.Stay || slices.Equal(before, now) && len(b.Added)+len(b.Gone) == 0 ||
		len(before) != len(now) && len(b.Added)+len(b.Gone) == 0 {
		return nil, nil
	}
	for _, x := range []struct {
		field string
		list  []int
		of    []int
	}{{"gone", b.Gone, before}, {"added", b.Added, now}} {
		for _, n := range x.list {
			if !slices.Contains(x.of, n) {
				return nil, Invalidf(x.field, "There is no %s among those counted: %s.", SheetName(n), SheetNames(x.of))
			}
		}
	}
	kept := without(before, b.Gone)
	are := without(now, b.Added)
	if len(kept) != len(are) {
		return nil, Invalidf("added", "%d sheets before without %d, and %d now without %d, are not the same number of "+
			"sheets: say all that were not counted before, and all that were counted too many.",
			len(before), len(b.Gone), len(now), len(b.Added))
	}
	moves := map[int]int{}
	for i, n := range kept {
		moves[n] = are[i]
	}
	for _, n := range b.Gone {
		moves[n] = -1
	}
	return moves, nil
}

func without(all, some []int) []int {
	return slices.DeleteFunc(slices.Clone(all), func(n int) bool { return slices.Contains(some, n) })
}

// stayed is version 2 of a make-up of version 1, which let what was recorded keep
// its sheet numbers whenever the count changed.
func stayed(raw json.RawMessage) (json.RawMessage, error) {
	var b MakeUp
	if err := json.Unmarshal(raw, &b); err != nil {
		return nil, err
	}
	b.Stay = true
	return Marshal(b)
}

// moveSheets gives what was recorded before a sheet was found or taken out of the
// count the number that its sheet has now; make-ups before are those of today.
// What cannot move stays, and is a problem of the make-up that asked for it.
func (c *Case) moveSheets(effects []effect) {
	former := -1
	for i := range effects {
		b, is := effects[i].body.(MakeUp)
		if !is {
			continue
		}
		if former >= 0 {
			before := effects[former].body.(MakeUp)
			moves, err := b.movesFrom(&before)
			if err == nil && moves != nil {
				err = moveAll(effects[:i], moves, b)
			}
			c.problem(effects[i].stamp, err)
		}
		former = i
	}
}

func moveAll(effects []effect, moves map[int]int, now MakeUp) error {
	lost := -1
	to := func(n int) int {
		m, known := moves[n]
		if !known {
			return n
		}
		if m < 0 {
			lost = n
			return n
		}
		return m
	}
	moved := make([]Body, len(effects))
	for i := range effects {
		moved[i] = movedBody(effects[i].body, to)
	}
	if lost >= 0 {
		return Invalidf("gone", "The record names %s, so it was there: withdraw what was recorded of it, or say which "+
			"other number was counted too many.", SheetName(lost))
	}
	now.Added, now.Gone, now.Stay = nil, nil, true
	for i := range effects {
		if _, is := moved[i].(MakeUp); is {
			moved[i] = now
		}
		effects[i].body = moved[i]
	}
	return nil
}

// movedBody is a copy of b with each sheet that it names under its new number.
func movedBody(b Body, to func(int) int) Body {
	if _, is := b.(MakeUp); is {
		return b
	}
	v := reflect.New(reflect.TypeOf(b)).Elem()
	v.Set(reflect.ValueOf(b))
	moveFields(v, tables[v.Type()], to)
	return v.Interface().(Body)
}

func moveFields(v reflect.Value, table []Field, to func(int) int) {
	for i := range table {
		f, x := &table[i], v.FieldByIndex(table[i].Index)
		switch f.Sort {
		case AsSheet:
			x.SetInt(int64(to(int(x.Int()))))
		case AsSheets:
			list := slices.Clone(x.Interface().([]int))
			for j := range list {
				list[j] = to(list[j])
			}
			x.Set(reflect.ValueOf(list))
		case AsPart:
			moveParts(x, f.inner, to)
		}
	}
}

// moveParts moves within a struct, or within copies of what is pointed to or listed.
func moveParts(x reflect.Value, table []Field, to func(int) int) {
	switch x.Kind() {
	case reflect.Struct:
		if x.Type() != reflect.TypeFor[Sharing]() { // those are sheets of another case
			moveFields(x, table, to)
		}
	case reflect.Pointer:
		if !x.IsNil() {
			p := reflect.New(x.Type().Elem())
			p.Elem().Set(x.Elem())
			moveParts(p.Elem(), table, to)
			x.Set(p)
		}
	case reflect.Slice:
		list := reflect.MakeSlice(x.Type(), x.Len(), x.Len())
		reflect.Copy(list, x)
		for i := range list.Len() {
			moveParts(list.Index(i), table, to)
		}
		if x.Len() > 0 {
			x.Set(list)
		}
	}
}

// SheetState says how one sheet was found; several things can be true at once.
// The latest counts.
type SheetState struct {
	Sheet int       `json:"sheet" say:"the sheet" as:"sheet"`
	Hold  SheetHold `json:"hold,omitempty" say:"how it is held" label:"Held"`
	// HoldLeaf is the leaf that Hold is said of, where only one is meant.
	HoldLeaf Leaf `json:"hold_leaf,omitempty" say:"which leaf is meant" label:"Which leaf, where they have parted"`
	Split    bool `json:"split,omitempty" say:"the fold has parted: two single leaves"`
	Missing  Leaf `json:"missing,omitempty" say:"what is missing" label:"Missing"`
	Married  Leaf `json:"married,omitempty" say:"what comes from another copy" label:"From another copy"`
	// Basis is what the judgement "from another copy" rests on.
	Basis string `json:"basis,omitempty" say:"the basis" label:"Judged by"`
}

func (SheetState) Kind() Kind { return "sheet-state" }

// Science is the state as package makeup knows it.
func (b SheetState) Science() makeup.State {
	return makeup.State{
		Sheet: makeup.Sheet(b.Sheet), Missing: b.Missing.science(), Split: b.Split, Hold: b.Hold.science(),
		HoldLeaf: b.HoldLeaf.science(), Married: b.Married.science(), Basis: b.Basis,
	}
}

func (b SheetState) rules(k *check) {
	if b.Hold == "" && b.Missing == "" && b.Married == "" && !b.Split {
		k.refuse("hold", "Say how the sheet was found: how it is held, what is missing, or what comes from another copy.")
	}
	nest := makeup.MakeUp{Inner: MaxSheets, Cover: makeup.SeparateCover, States: []makeup.State{b.Science()}}
	if err := nest.Validate(); err != nil {
		for _, e := range parted(err) {
			field := "hold"
			if b.Married != "" && b.Basis == "" {
				field = "basis"
			}
			k.refuse(field, "%s.", upper(e.Error()))
		}
	}
}

func (b SheetState) apply(c *Case, s Stamp) error {
	c.SheetStates[b.Sheet] = Stamped[SheetState]{s, b}
	return c.haveSheets([]int{b.Sheet})
}

// oneState is version 2 of a sheet's state of version 1, which had one state for
// all: "loose", "married".
func oneState(raw json.RawMessage) (json.RawMessage, error) {
	var old struct {
		Sheet int    `json:"sheet"`
		State string `json:"state"`
		Leaf  Leaf   `json:"leaf"`
		Basis string `json:"basis"`
	}
	if err := json.Unmarshal(raw, &old); err != nil {
		return nil, err
	}
	b := SheetState{Sheet: old.Sheet, Basis: old.Basis}
	switch old.State {
	case "present":
		b.Hold = HoldFirm
	case "loose":
		b.Hold, b.HoldLeaf = HoldLoose, old.Leaf
	case "part-loose":
		b.Hold, b.HoldLeaf = HoldByOne, old.Leaf
	case "split":
		b.Split = true
	case "half":
		b.Missing = old.Leaf
	case "missing":
		b.Missing = LeafBoth
	case "married":
		b.Married = old.Leaf
		if b.Married == "" {
			b.Married = LeafBoth
		}
	}
	return Marshal(b)
}

// MakeUpFound is the make-up with how each sheet was found, as package makeup
// computes with it; nil before it was recorded.
func (c *Case) MakeUpFound() *makeup.MakeUp {
	if c.MakeUp == nil {
		return nil
	}
	m := c.MakeUp.Body.Science()
	for _, n := range c.Sheets() {
		st, known := c.SheetStates[n]
		one := st.Body.Science()
		if n == 0 && c.MakeUp.Body.Cover == CoverMissing {
			one, known = makeup.State{Sheet: 0, Missing: makeup.BothLeaves}, true
		}
		if m.Single(makeup.Sheet(n)) && one.Missing != makeup.NoLeaf {
			one.Missing = makeup.BothLeaves // its one leaf is the whole of it
		}
		if known {
			m.States = append(m.States, one)
		}
	}
	return &m
}

// Collation compares what is there with what should be there. What was found leaf
// by leaf stands in Found; what that means is worked out from it.
type Collation struct {
	When          CollationTime `json:"when" form:"collation_when" say:"when it was collated" label:"When"`
	At            time.Time     `json:"at,omitzero" say:"the time" as:"moment"`
	SheetsCounted int           `json:"sheets_counted" say:"the sheets counted" in:"0..201"`
	InOrder       bool          `json:"in_order" say:"whether they are in order" as:"yesno" label:"In order"`
	CreepMm       *float64      `json:"creep_mm,omitempty" say:"the creep" in:"0..50 mm"`
	Findings      string        `json:"findings,omitempty" say:"the findings" as:"text"`
	// Found is what turned up, leaf after leaf or sheet after sheet; empty where it
	// was only counted.
	Found []FoundLeaf `json:"found,omitempty" say:"what was found"`
}

// FoundLeaf is one thing that turned up as the object was gone through: a leaf or a
// whole sheet of the make-up, or something else.
type FoundLeaf struct {
	// Sheet is the sheet, where it belongs to the make-up.
	Sheet int `json:"sheet" say:"the sheet" as:"sheet"`
	// Leaf is the leaf; both: the whole sheet lies apart.
	Leaf Leaf `json:"leaf,omitempty" say:"the leaf"`
	// Other says what it is, where it does not belong to the make-up.
	Other string `json:"other,omitempty" say:"what else was found"`
}

func (Collation) Kind() Kind { return "collation" }

func (b Collation) apply(c *Case, s Stamp) error {
	c.Collations = append(c.Collations, Stamped[Collation]{s, b})
	for _, x := range b.Found {
		if x.Other == "" {
			if err := c.haveSheets([]int{x.Sheet}); err != nil {
				return err
			}
		}
	}
	return s.notAfter(b.At)
}
