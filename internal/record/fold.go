package record

import (
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"
)

// Line is one entry as the log shows it.
type Line struct {
	*Entry
	// Decoded is nil for a kind that this program does not know and for a body
	// that cannot be read.
	Decoded Body
	// CorrectedBy and WithdrawnBy are seqs of later entries that took this
	// one's place or voided it, 0 when there are none.
	CorrectedBy, WithdrawnBy int64

	problem string
}

// Counts says whether the line's own body has its effect on the case.
func (l *Line) Counts() bool { return l.CorrectedBy == 0 && l.WithdrawnBy == 0 }

// Stamp says which entry an effect comes from.
type Stamp struct {
	// Seq, Time and By are those of the first entry, also where a correction
	// has taken its place.
	Seq  int64
	Time time.Time
	By   string
	// Corrected is the seq of the correction that counts, 0 when there is none.
	Corrected int64
}

// notAfter refuses a time that lies after the writing, a clock's error apart.
func (s Stamp) notAfter(t time.Time) error {
	if t.After(s.Time.Add(10 * time.Minute)) {
		return Invalidf("at", "%s lies in the future.", t.Format("2 January 2006, 15:04"))
	}
	return nil
}

// Stamped is a body with the entry it comes from.
type Stamped[T any] struct {
	Stamp
	Body T
}

// Problem is a rule that an entry breaks against the journal around it.
type Problem struct {
	Seq   int64
	Field string
	Say   string
}

// Journal is what the folds of a case and of the studio share.
type Journal struct {
	ID       CaseID
	LastSeq  int64
	LastHash Hash
	Updated  time.Time
	// Log holds every entry, corrected and withdrawn ones too.
	Log      []Line
	Problems []Problem
	// Broken is set where the entries are not a whole journal: it is shown, and
	// takes no more entries.
	Broken *Break
}

type caseBody interface {
	Body
	apply(*Case, Stamp) error
}

type studioBody interface {
	Body
	applyStudio(*Studio, Stamp) error
}

// Fold turns a journal into its case, which keeps pointing at entries. It is
// pure and total: entries that
// cannot be read or break a rule become Problems, unknown kinds stay in Log.
// Entries must be in order of seq; Broken says where they are not whole.
func Fold(entries []Entry) *Case {
	broken := CheckChain(entries)
	if broken != nil {
		entries = inPlace(entries)
	}
	c := foldCase(decodeAll(entries))
	c.Broken = broken
	return c
}

// FoldStudio turns the studio's journal into the studio.
func FoldStudio(entries []Entry) *Studio {
	broken := CheckChain(entries)
	if broken != nil {
		entries = inPlace(entries)
	}
	st := foldStudio(decodeAll(entries))
	st.Broken = broken
	return st
}

// inPlace makes a journal with gaps one in which each entry has the place that
// its seq says, so that it can still be shown: an entry of no known kind stands
// where one is missing, and one whose seq cannot be its own is left out.
func inPlace(entries []Entry) []Entry {
	most := int64(2*len(entries) + 1000)
	var all []Entry
	for _, e := range entries {
		if e.Seq < 1 || e.Seq > most {
			continue
		}
		for n := int64(len(all)) + 1; n < e.Seq; n++ {
			all = append(all, Entry{Case: e.Case, Seq: n, Kind: "missing", Body: []byte("{}")})
		}
		all = append(all, e)
	}
	return all
}

// decodeAll reads the bodies, on all cores when there are many.
func decodeAll(entries []Entry) []Line {
	lines := make([]Line, len(entries))
	const chunk = 4096
	if len(entries) <= chunk {
		decodeSome(entries, lines)
		return lines
	}
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := 0; i < len(entries); i += chunk {
		end := min(i+chunk, len(entries))
		slots <- struct{}{}
		wg.Go(func() {
			decodeSome(entries[i:end], lines[i:end])
			<-slots
		})
	}
	wg.Wait()
	return lines
}

func decodeSome(entries []Entry, lines []Line) {
	for i := range entries {
		l := &lines[i]
		l.Entry = &entries[i]
		var err error
		if l.Decoded, err = Decode(l.Kind, l.Version, l.Body); err != nil {
			l.Decoded, l.problem = nil, fmt.Sprintf("Entry %d (%s) cannot be read: %v.", l.Seq, l.Kind, err)
		}
	}
}

// effect is a body that counts, with the stamp of the entry it stands for.
type effect struct {
	stamp Stamp
	body  Body
}

// journal fills what both folds share, and returns the bodies that count, in
// the order of the entries that they stand for.
func (j *Journal) resolve(lines []Line) []effect {
	j.Log = lines
	if n := len(lines); n > 0 {
		last := &lines[n-1]
		j.ID, j.LastSeq, j.LastHash, j.Updated = last.Case, last.Seq, last.Hash, last.Time
	}
	at := func(seq int64) *Line {
		if seq < 1 || seq > int64(len(lines)) {
			return nil
		}
		return &lines[seq-1]
	}
	for i := range lines {
		lines[i].CorrectedBy, lines[i].WithdrawnBy = 0, 0
		if lines[i].problem != "" {
			j.Problems = append(j.Problems, Problem{Seq: lines[i].Seq, Say: lines[i].problem})
		}
	}
	// Backwards, so that a withdrawal that is itself withdrawn has no effect.
	for i := len(lines) - 1; i >= 0; i-- {
		l := &lines[i]
		if _, is := l.Decoded.(Withdrawn); !is || l.WithdrawnBy != 0 {
			continue
		}
		if t := at(l.Corrects); t != nil && t.Seq < l.Seq {
			t.WithdrawnBy = l.Seq
		} else {
			j.Problems = append(j.Problems, Problem{Seq: l.Seq, Say: fmt.Sprintf("Entry %d withdraws entry %d, "+
				"which does not come before it.", l.Seq, l.Corrects)})
		}
	}
	// The last correction that stands takes the place of the entry at its root.
	standing := map[int64]*Line{}
	for i := range lines {
		l := &lines[i]
		if _, is := l.Decoded.(Withdrawn); is || l.Corrects == 0 || l.WithdrawnBy != 0 {
			continue
		}
		root := l
		for root.Corrects != 0 {
			t := at(root.Corrects)
			if t == nil || t.Seq >= root.Seq || t.Kind != l.Kind {
				j.Problems = append(
					j.Problems,
					Problem{
						Seq: l.Seq,
						Say: fmt.Sprintf(
							"Entry %d corrects entry %d, which is not an earlier entry of the same kind.", l.Seq,
							root.Corrects,
						),
					},
				)
				root = nil
				break
			}
			root = t
		}
		if root == nil || root.WithdrawnBy != 0 {
			continue
		}
		if before := standing[root.Seq]; before != nil {
			before.CorrectedBy = l.Seq
		}
		root.CorrectedBy = l.Seq
		standing[root.Seq] = l
	}
	effects := make([]effect, 0, len(lines))
	for i := range lines {
		l := &lines[i]
		if l.Corrects != 0 || l.WithdrawnBy != 0 || l.Decoded == nil {
			continue
		}
		e := effect{Stamp{Seq: l.Seq, Time: l.Time, By: l.By}, l.Decoded}
		if c := standing[l.Seq]; c != nil {
			e.body, e.stamp.Corrected = c.Decoded, c.Seq
			// What a correction says may have happened up to its own writing.
			e.stamp.Time = c.Time
		}
		if e.body != nil {
			effects = append(effects, e)
		}
	}
	return effects
}

func (j *Journal) problem(s Stamp, err error) {
	if err == nil {
		return
	}
	p := Problem{Seq: s.Seq, Say: err.Error()}
	if list, ok := Refusals(err); ok && len(list) > 0 {
		p.Field = list[0].Field
	}
	j.Problems = append(j.Problems, p)
}

func foldCase(lines []Line) *Case {
	return foldEffects(lines, func(effect) bool { return true })
}

// foldEffects folds those effects that count.
func foldEffects(lines []Line, counts func(effect) bool) *Case {
	c := &Case{SheetStates: map[int]Stamped[SheetState]{}, wet: map[int]Condition{}}
	effects := c.resolve(lines)
	c.moveSheets(effects)
	c.numberPositions()
	c.reserve(effects)
	c.numberDamages()
	for _, e := range effects {
		if !counts(e) {
			continue
		}
		b, ok := e.body.(caseBody)
		if !ok {
			c.problem(
				e.stamp,
				Invalidf("", "Entry %d (%s) does not belong in the journal of a case.", e.stamp.Seq, e.body.Kind()),
			)
			continue
		}
		if e.stamp.Seq > 1 && c.Opened.IsZero() {
			c.problem(e.stamp, Invalidf("", "The case was never opened."))
		}
		c.problem(e.stamp, b.apply(c, e.stamp))
	}
	return c
}

// reserve makes room for the kinds that grow long, since a list that grows by
// doubling is copied as often as it doubles.
func (c *Case) reserve(effects []effect) {
	n := map[Kind]int{}
	for i := range effects {
		n[effects[i].body.Kind()]++
	}
	c.Notes = make([]Stamped[Note], 0, n[Note{}.Kind()])
	c.Readings = make([]Stamped[Reading], 0, n[Reading{}.Kind()])
	c.Photos = make([]Stamped[Photo], 0, n[Photo{}.Kind()])
	c.Damages = make([]FoundDamage, 0, n[Damage{}.Kind()])
	c.Runs = make([]Run, 0, n[RunStarted{}.Kind()])
}

func foldStudio(lines []Line) *Studio {
	st := &Studio{}
	for _, e := range st.resolve(lines) {
		b, ok := e.body.(studioBody)
		if !ok {
			st.problem(
				e.stamp,
				Invalidf("", "Entry %d (%s) does not belong in the studio's journal.", e.stamp.Seq, e.body.Kind()),
			)
			continue
		}
		st.problem(e.stamp, b.applyStudio(st, e.stamp))
	}
	if st.ID == "" {
		st.ID = StudioID
	}
	return st
}

// Writing says who appends, when, where, and with which form.
type Writing struct {
	Time time.Time
	By   string
	Zone string
	Key  string // of the form, or empty
}

// Append is the case with items at the end of its journal, and the entries that
// they become; c itself stays as it was. Each body must be valid in itself, and
// the fold with them must show no problem that was not there before; otherwise
// the error holds Invalid errors.
func (c *Case) Append(w Writing, items []Item) (*Case, []Entry, error) {
	if c.Closed != nil && len(items) > 0 && !reopens(items) {
		return nil, nil, Invalidf(
			"", "Case %s is closed: reopen it, with a reason, before anything is added.", c.Number,
		)
	}
	lines, entries, err := c.written(w, items)
	if err != nil {
		return nil, nil, err
	}
	next := foldCase(lines)
	return next, entries, first(newProblem(c.Problems, next.Problems), c.notTwice(next, items))
}

// reopens says whether the first item lets a closed case change: reopening it,
// or noting that a paper went out.
func reopens(items []Item) bool {
	switch items[0].Body.(type) {
	case Reopened, PaperIssued, Withdrawn, Custody:
		return true
	}
	return false
}

// Append is Case.Append for the studio's journal.
func (st *Studio) Append(w Writing, items []Item) (*Studio, []Entry, error) {
	lines, entries, err := st.written(w, items)
	if err != nil {
		return nil, nil, err
	}
	next := foldStudio(lines)
	return next, entries, first(newProblem(st.Problems, next.Problems), st.notOverdrawn(next, items))
}

// written is the log with items at its end, as sealed entries. Their bodies are
// read back from what is kept, so that the fold is that of a journal just opened.
func (j *Journal) written(w Writing, items []Item) ([]Line, []Entry, error) {
	if len(items) == 0 {
		return nil, nil, Invalidf("", "There is nothing to write.")
	}
	entries := make([]Entry, len(items))
	prev := j.LastHash
	for i, it := range items {
		if err := Validate(it.Body); err != nil {
			return nil, nil, err
		}
		if _, is := it.Body.(Withdrawn); is && it.Corrects == 0 {
			return nil, nil, Invalidf("", "Say which entry is withdrawn.")
		}
		if it.Corrects < 0 || it.Corrects > j.LastSeq {
			return nil, nil, Invalidf("", "There is no entry %d to correct.", it.Corrects)
		}
		kind, version, raw, err := Encode(it.Body)
		if err != nil {
			return nil, nil, err
		}
		entries[i] = Entry{
			Case: j.ID, Seq: j.LastSeq + int64(i) + 1, Time: w.Time, Zone: w.Zone, By: w.By,
			Kind: kind, Version: version, Corrects: it.Corrects, Key: w.Key, Body: raw,
		}
		if err := entries[i].Seal(prev); err != nil {
			return nil, nil, err
		}
		prev = entries[i].Hash
	}
	return append(slices.Clip(j.Log), decodeAll(entries)...), entries, nil
}

// newProblem is the first of now that was not in before.
func newProblem(before, now []Problem) error {
	old := map[Problem]bool{}
	for _, p := range before {
		old[p] = true
	}
	for _, p := range now {
		if !old[p] {
			return &Invalid{Field: p.Field, Say: p.Say}
		}
	}
	return nil
}

// first is the first error of list, or nil.
func first(list ...error) error {
	for _, err := range list {
		if err != nil {
			return err
		}
	}
	return nil
}
