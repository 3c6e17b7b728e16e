package account

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// Score is a reading held against what was expected of it before its run began.
type Score struct {
	treatment.Pair
	Case          record.CaseID
	Number, Title string // of the case
	// Miss is how many standard deviations, of the expectation and the reading together,
	// the reading lies above what was expected; RawMiss the same of what was computed,
	// where the studio's own range had changed that.
	Miss, RawMiss float64
	// Held says that the reading lies in the range, once that is widened by the
	// reading's own uncertainty.
	Held, RawHeld bool
	Model         string
}

// ScoresOf holds every reading of a case against what was expected of it.
func ScoresOf(c *record.Case) []Score {
	var list []Score
	for _, p := range treatment.Pairs(c) {
		kept := &p.Expected.Body
		s := Score{Pair: p, Case: c.ID, Number: c.Number, Title: c.Title, Model: kept.Model}
		u := p.Uncertainty / 2
		s.Miss, s.Held = miss(p.Value.Value, p.Read, u, kept.Coverage)
		s.RawMiss, s.RawHeld = miss(s.computed(), p.Read, u, kept.Coverage)
		list = append(list, s)
	}
	return list
}

// computed is what the model gave, before the studio's own range.
func (s *Score) computed() record.Range {
	if s.Value.Computed != nil {
		return *s.Value.Computed
	}
	return s.Value.Value
}

// miss is (reading - best) over the root of the sum of the squares of two standard
// deviations: that of the expectation on the side of the reading, which is the half
// width of the range over z, and the reading's own, u. A range is meant to hold what
// is read so often in a hundred; z is the half width of a normal distribution's middle
// with that share (1.2816 for 80).
func miss(r record.Range, read, u, coveragePct float64) (off float64, held bool) {
	z := math.Sqrt2 * math.Erfinv(coveragePct/100)
	sd := math.Hypot(sideOf(r, read)/z, u)
	switch {
	case read == r.Best:
		return 0, true
	case sd == 0:
		return math.Inf(int(math.Copysign(1, read-r.Best))), false
	}
	off = (read - r.Best) / sd
	return off, math.Abs(off) <= z*(1+within)
}

// sideOf is the half width of a range on the side of a value.
func sideOf(r record.Range, v float64) float64 {
	if v < r.Best {
		return r.Best - r.Low
	}
	return r.High - r.Best
}

// What a record of expectations can be found to be.
const (
	TooNarrow Code = "too-narrow"
	TooWide   Code = "too-wide"
	AsStated  Code = "as-stated"
	NotYet    Code = "cannot-tell-yet"
)

// Enough readings, from enough runs, for ranges to be called right or for others to be
// offered in their place (common practice, no source).
const (
	enoughReadings = 20
	enoughRuns     = 10
)

// HeldRule says how a verdict comes about.
const HeldRule = "A reading held when it lies in the range that was kept with the start of its run, once that is " +
	"widened by the reading’s own uncertainty (root of the sum of squares). The interval beside the share is " +
	"Wilson’s, for 95 %. Ranges are too narrow or too wide when it leaves out what they state; as stated when it " +
	"holds that and there are at least 20 readings; else it cannot be told yet. It is looked at anew with every " +
	"reading, so now and then chance alone will speak; and readings of one bath hang together, so the interval is " +
	"rather too short."

// HeldGroup is how often what was expected of a quantity on a class of paper held.
type HeldGroup struct {
	Quantity string
	Moment   record.Moment
	Class    record.PaperClass
	// Name is the quantity with its moment, Paper the class.
	Name, Paper string
	// Held of N readings, from Runs runs, lay in their ranges, which are meant to hold
	// Stated in a hundred; Share is their share with its 95 % interval.
	Held, N, Runs int
	Stated        float64
	Share         record.Range
	// Above of N lay above what was expected; Leans says so where it is more than chance.
	Above int
	Leans string
	// Verdict with its words.
	Verdict Code
	Says    string
	// Scores are all readings that were expected, those that do not count too.
	Scores []Score
	// Own is the studio's range that counts now; the counts are then of what was expected
	// by it. Offer is one that the readings give, nil where they give none.
	Own   *record.Stamped[record.OwnRange]
	Offer *OwnOffer
	// Others says which readings are not counted: by another model, or another range.
	Others string
	Spread *Curve // of the standardised misses; nil without any
}

// Group says where a row stands on a page.
func (k HeldGroup) Group() string {
	return k.Quantity + "-" + string(k.Moment) + "-" + string(k.Class)
}

// HeldAll counts over the readings of all cases, by quantity, moment and class of
// paper, those with the most readings first. Without any it is empty.
func HeldAll(all []Score, st *record.Studio) []HeldGroup {
	at := map[string]int{}
	var list []HeldGroup
	for _, s := range all {
		k := HeldGroup{Quantity: s.Value.Quantity, Moment: s.Value.Moment, Class: s.Value.Class}
		i, known := at[k.Group()]
		if !known {
			i = len(list)
			at[k.Group()] = i
			list = append(list, k)
		}
		list[i].Scores = append(list[i].Scores, s)
	}
	for i := range list {
		list[i].count(st)
	}
	slices.SortStableFunc(list, func(a, b HeldGroup) int {
		return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Name, b.Name), cmp.Compare(a.Paper, b.Paper))
	})
	return list
}

// count fills a row from its scores.
func (k *HeldGroup) count(st *record.Studio) {
	k.Name = en.Upper(QuantityName(k.Quantity)) + ", " + momentKind(k.Quantity, k.Moment)
	k.Paper = record.Words(k.Class)
	k.Stated = 80
	if k.Own = st.OwnRangeFor(k.Quantity, k.Moment, k.Class); k.Own != nil {
		k.Name += ", by the studio’s own range"
	}
	counted, otherModel, otherRange := k.counted()
	runs := map[string]bool{}
	for _, s := range counted {
		k.N++
		runs[s.Run.Body.ID] = true
		if s.Held {
			k.Held++
		}
		if s.Miss > 0 {
			k.Above++
		}
		k.Stated = s.Expected.Body.Coverage
	}
	k.Runs = len(runs)
	k.Share = interval.Proportion(k.Held, k.N)
	k.judge()
	k.Others = othersWords(otherModel, otherRange)
	k.Spread = missPlot(counted, k.Stated)
	if k.N >= enoughReadings && k.Runs >= enoughRuns && (k.Verdict != AsStated || k.Leans != "") {
		k.Offer = k.offer()
	}
}

// counted are the scores of what the present model and the studio's present range
// expected; what others expected says nothing of them.
func (k *HeldGroup) counted() (list []Score, otherModel, otherRange int) {
	own := int64(0)
	if k.Own != nil {
		own = k.Own.Seq
	}
	for _, s := range k.Scores {
		switch {
		case s.Not != "":
		case s.Model != treatment.Model():
			otherModel++
		case s.Value.Own != own:
			otherRange++
		default:
			list = append(list, s)
		}
	}
	return list, otherModel, otherRange
}

func othersWords(model, own int) string {
	var list []string
	if model > 0 {
		list = append(list, en.Plural(model, "reading", "readings")+" against another version of the model")
	}
	if own > 0 {
		list = append(list, en.Plural(own, "reading", "readings")+" against another range of the studio")
	}
	if len(list) == 0 {
		return ""
	}
	return "Not counted: " + en.List(list) + "."
}

// judge finds the verdict.
func (k *HeldGroup) judge() {
	stated := k.Stated / 100
	say := fmt.Sprintf("%d of %d lay in their ranges; %.0f of a hundred should", k.Held, k.N, k.Stated)
	switch {
	case k.N == 0:
		k.Verdict, k.Says = NotYet, "nothing is counted yet"
	case k.Share.High < stated:
		k.Verdict, k.Says = TooNarrow, say+": too many lie outside for chance"
	case k.Share.Low > stated:
		k.Verdict, k.Says = TooWide, say+": more than chance would bring"
	case k.N >= enoughReadings:
		k.Verdict, k.Says = AsStated, say+", and that is within chance"
	default:
		k.Verdict, k.Says = NotYet, say+fmt.Sprintf("; it takes %d readings to call that right", enoughReadings)
	}
	if half := interval.Proportion(k.Above, k.N); half.Low > 0.5 {
		k.Leans = fmt.Sprintf("%d of %d were read higher than expected: the expectation is too low", k.Above, k.N)
	} else if half.High < 0.5 {
		k.Leans = fmt.Sprintf("%d of %d were read lower than expected: the expectation is too high", k.N-k.Above, k.N)
	}
}

// VerdictWords are the verdict in two or three words.
func (k HeldGroup) VerdictWords() string {
	return map[Code]string{
		TooNarrow: "too narrow", TooWide: "too wide", AsStated: "as stated", NotYet: "cannot tell yet",
	}[k.Verdict]
}

// ShareWords are the share in per cent with its interval.
func (k HeldGroup) ShareWords() string {
	if k.N == 0 {
		return ""
	}
	return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*k.Share.Best, 100*k.Share.Low, 100*k.Share.High)
}

// momentKind is a moment without its minutes.
func momentKind(quantity string, m record.Moment) string {
	if quantity == "bath-alkali" {
		return "as the sheets come out"
	}
	return record.Words(m)
}

// OwnOffer is a range of the studio's own that its readings give.
type OwnOffer struct {
	record.OwnRange
	// WouldHold of the readings would have lain in it.
	WouldHold int
	// Example says what it makes of the last expectation.
	Example string
}

// OwnWords say what the range does to what is expected.
func OwnWords(b *record.OwnRange) string {
	s := "half widths times " + en.Number(b.Factor)
	if b.Shift > 0 {
		return s + ", and up by " + en.Number(b.Shift) + " of the upper half width"
	} else if b.Shift < 0 {
		return s + ", and down by " + en.Number(-b.Shift) + " of the lower half width"
	}
	return s
}

// OwnWords say what the studio's own range does, where there is one.
func (k HeldGroup) OwnWords() string {
	if k.Own == nil {
		return ""
	}
	return OwnWords(&k.Own.Body)
}

// Words say what the range on offer would do.
func (o OwnOffer) Words() string { return OwnWords(&o.OwnRange) }

// offer fits factor and shift to what the model alone expected. The shift is the
// median miss in half widths, and none where as many lie above as below, within
// chance. The factor is the smallest with which the stated share of these readings
// would have held.
func (k *HeldGroup) offer() *OwnOffer {
	var of []Score
	above := 0
	for _, s := range k.Scores {
		if s.Not == "" && s.Model == treatment.Model() && sideOf(s.computed(), s.Read) > 0 {
			of = append(of, s)
			if s.RawMiss > 0 {
				above++
			}
		}
	}
	if len(of) < enoughReadings {
		return nil
	}
	o := &OwnOffer{OwnRange: record.OwnRange{
		Quantity: k.Quantity, Moment: k.Moment, Class: k.Class, Factor: 1, Model: treatment.Model(), Readings: len(of),
		Evidence: evidenceOf(of),
	}}
	if half := interval.Proportion(above, len(of)); half.Low > 0.5 || half.High < 0.5 {
		o.Shift = rounded(medianMiss(of), 2)
	}
	o.Factor = min(max(twoFiguresUp(widening(of, &o.OwnRange)), 0.1), 20)
	for _, s := range of {
		if s.RawHeld {
			o.Held++
		}
		if _, held := miss(o.Apply(s.computed()), s.Read, s.Uncertainty/2, s.Expected.Body.Coverage); held {
			o.WouldHold++
		}
	}
	last := of[len(of)-1]
	unit := last.Value.Unit
	o.Example = en.Range(last.computed(), unit) + " becomes " + en.Range(o.Apply(last.computed()), unit)
	return o
}

// twoFiguresUp rounds up, so that what lies on an end stays inside.
func twoFiguresUp(v float64) float64 {
	if v <= 0 {
		return 0
	}
	q := math.Pow(10, 1-math.Floor(math.Log10(v)))
	return math.Ceil(v*q*(1-within)) / q
}

// medianMiss is the median of the misses in half widths of what was computed.
func medianMiss(of []Score) float64 {
	var list []float64
	for _, s := range of {
		r := s.computed()
		list = append(list, (s.Read-r.Best)/sideOf(r, s.Read))
	}
	slices.Sort(list)
	n := len(list)
	return (list[(n-1)/2] + list[n/2]) / 2
}

// widening is the smallest factor with which the stated share of the readings lies in
// the ranges, shifted as b shifts them.
func widening(of []Score, b *record.OwnRange) float64 {
	one := *b
	one.Factor = 1
	var list []float64
	share := 0.0
	for _, s := range of {
		share = s.Expected.Body.Coverage / 100
		z := math.Sqrt2 * math.Erfinv(share)
		r := one.Apply(s.computed())
		d, u := s.Read-r.Best, z*s.Uncertainty/2
		side := sideOf(r, s.Read)
		if side <= 0 { // at the bound of its quantity
			side = sideOf(s.computed(), s.Read)
		}
		list = append(list, math.Sqrt(math.Max(0, d*d-u*u))/side)
	}
	slices.Sort(list)
	return list[min(len(list)-1, int(math.Ceil(share*float64(len(list))))-1)]
}

// evidenceOf names runs and readings, case by case.
func evidenceOf(of []Score) []record.RunsReadings {
	var list []record.RunsReadings
	for _, s := range of {
		i := slices.IndexFunc(list, func(e record.RunsReadings) bool { return e.Case == s.Case })
		if i < 0 {
			i = len(list)
			list = append(list, record.RunsReadings{Case: s.Case, Number: s.Number})
		}
		e := &list[i]
		e.Readings = append(e.Readings, s.Reading.Seq)
		if !slices.Contains(e.Runs, s.Run.Body.ID) {
			e.Runs = append(e.Runs, s.Run.Body.ID)
		}
	}
	return list
}

// widest is how far the plot of the misses reaches, in standard deviations; what lies
// beyond stands in its last heap.
const widest = 4.0

// missPlot draws the misses as heaps of dots, with the span that is meant to hold the
// stated share of them. A heap is a third of that span's half width wide, so that none
// lies across its ends.
func missPlot(of []Score, stated float64) *Curve {
	if len(of) == 0 {
		return nil
	}
	z := math.Sqrt2 * math.Erfinv(stated/100)
	wide := z / 3
	heap := map[float64]int{}
	c := &Curve{
		Name: "spread", XTitle: "standard deviations", YTitle: "readings", X: Axis{From: -widest, To: widest, Each: 1},
		Shade: &Shade{From: -z, To: z, Words: ""},
	}
	most, inside := 4, 0
	for _, s := range of {
		x := (math.Floor(s.Miss/wide) + 0.5) * wide
		x = min(max(x, -8.5*wide), 8.5*wide)
		heap[x]++
		most = max(most, heap[x])
		if s.Held {
			inside++
		}
		c.Marks = append(c.Marks, Mark{X: x, Y: float64(heap[x]), Says: missWords(s.Miss)})
	}
	c.Y = Axis{To: float64(most)}
	c.Says = fmt.Sprintf("How far readings lay from what was expected: %d of %d within the span that %.0f in a hundred "+
		"should lie in, between %.2f and %.2f standard deviations", inside, len(of), stated, -z, z)
	c.Under = fmt.Sprintf("Each dot is a reading: how far above (right) or below (left) what was expected it lay, in "+
		"standard deviations of both together. %.0f of a hundred should lie in the shaded span.", stated)
	return c
}

// missWords says how far a reading lay from what was expected.
func missWords(off float64) string {
	switch {
	case math.IsInf(off, 0):
		return "outside a range without width"
	case off < 0:
		return fmt.Sprintf("%.1f standard deviations below", -off)
	}
	return fmt.Sprintf("%.1f standard deviations above", off)
}

// HeldRow is what was expected of a run beside what was read, for its page and papers.
type HeldRow struct {
	// What is the quantity with moment and sheets, Expected its range as kept, with Own
	// where the studio's range changed it.
	What, Expected, Own string
	// Read is the reading with its uncertainty, "" where nothing was read; Seq its entry.
	Read string
	Seq  int64
	// Verdict is "in the range", "above it", "below it", or why it does not count; Off
	// how far off it lay.
	Verdict, Off string
	Held, Counts bool
	Note         string
}

// HeldOf lists what was expected of a run beside what was read of it, in the order of
// the readings, and then what was not read. Nil where nothing was kept.
func HeldOf(c *record.Case, run string) []HeldRow {
	kept := c.ExpectedOf(run)
	if kept == nil || c.Run(run) == nil {
		return nil
	}
	var list []HeldRow
	type of struct {
		quantity string
		moment   record.Moment
	}
	read := map[of]bool{}
	for _, s := range ScoresOf(c) {
		if s.Run.Body.ID == run {
			read[of{s.Value.Quantity, s.Value.Moment}] = true
			list = append(list, s.Row())
		}
	}
	for _, v := range lastOfEach(kept.Body.Values) {
		if !read[of{v.Quantity, v.Moment}] {
			list = append(list, HeldRow{
				What: en.Upper(expectedName(&v)), Expected: en.Range(v.Value, v.Unit), Own: ownSentence(&v),
			})
		}
	}
	return list
}

// Row is a score for a table.
func (s *Score) Row() HeldRow {
	v := s.Value
	if s.Sheet != treatment.OfBath {
		v.Sheets = []int{s.Sheet}
	}
	r := HeldRow{
		What: en.Upper(expectedName(&v)), Expected: en.Range(v.Value, v.Unit), Own: ownSentence(&v),
		Read: Value(&s.Reading.Body), Seq: s.Reading.Seq, Held: s.Held, Counts: s.Not == "",
		Note: words.Joined(" ", en.Sentence(s.Note), en.Sentence(s.Reading.Body.Note)),
	}
	switch {
	case s.Not != "":
		r.Verdict = "not counted: " + s.Not
	case s.Held:
		r.Verdict, r.Off = "in the range", missWords(s.Miss)
	case s.Miss > 0:
		r.Verdict, r.Off = "above the range", missWords(s.Miss)
	default:
		r.Verdict, r.Off = "below the range", missWords(s.Miss)
	}
	return r
}

// HeldLines are the readings of a run that count, each with what was expected of it,
// for a paper.
func HeldLines(c *record.Case, run string) []string {
	var list []string
	for _, r := range HeldOf(c, run) {
		if r.Counts {
			list = append(list, words.Joined("; ", r.What+": "+r.Expected, r.Own, "read "+r.Read+", "+r.Verdict))
		}
	}
	return list
}

// Gain says what one reading of a run would tell most of, where nothing is read that
// was expected of it; "" where something is, or nothing more can be read. Of what can
// still be read it is the quantity whose range is widest against what its method
// usually knows it to.
func Gain(c *record.Case, run string) string {
	kept, r := c.ExpectedOf(run), c.Run(run)
	if kept == nil || r == nil || slices.ContainsFunc(ScoresOf(c), func(s Score) bool { return s.Run.Body.ID == run }) {
		return ""
	}
	var left []record.ExpectedValue
	for _, v := range lastOfEach(kept.Body.Values) {
		if canStillRead(c, r, &v) {
			left = append(left, v)
		}
	}
	if say := leastKnown(left); say != "" {
		return "Nothing is read of it yet. " + say
	}
	return ""
}

// leastKnown says which value is known least against what its usual method knows it to,
// and how well that would; "" where no reading would tell more.
func leastKnown(all []record.ExpectedValue) (say string) {
	most := 1.0
	for _, v := range all {
		u := treatment.UsualUncertainty(v.Quantity, v.Value.Best)
		if gain := (v.Value.High - v.Value.Low) / (2 * u); gain > most {
			most = gain
			say = "The least certain value is the " + expectedName(&v) + ": " +
				en.Range(v.Value, v.Unit) + ". One reading (" + record.QuantityOf(v.Quantity).Methods[0] +
				") would narrow it to about ± " + en.Quantity(twoFigures(u), v.Unit) + "."
		}
	}
	return say
}

// LastGain is what a reading would tell of the last run of an open case for which
// something was expected, with that run; "" where there is none.
func LastGain(c *record.Case) (run, say string) {
	if c.Closed != nil || len(c.Expected) == 0 {
		return "", ""
	}
	run = c.Expected[len(c.Expected)-1].Body.Run
	return run, Gain(c, run)
}

// canStillRead says whether a value's moment is not past.
func canStillRead(c *record.Case, r *record.Run, v *record.ExpectedValue) bool {
	if v.Moment == record.InBath || len(v.Sheets) == 0 {
		return r.Open()
	}
	for _, n := range v.Sheets {
		for _, later := range c.RunsOn(n) { // another bath makes it another sheet
			if later.Body.Bath != nil && later.Body.At.After(r.Body.At) {
				return false
			}
		}
	}
	if v.Moment == record.OutWet {
		return r.Open()
	}
	return c.Closed == nil
}
