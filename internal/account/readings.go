package account

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// Uncertainty is what ± means wherever the program writes it.
const Uncertainty = "A value after ± is the uncertainty that was stated for the reading, or the root of the sum of " +
	"both squares for a difference: the true value lies within it about 95 times of 100. Ranges in brackets are " +
	"computed: eight times of ten the value lies in them (10 to 90 %)."

// QuantityName names a quantity of a reading.
func QuantityName(quantity string) string {
	if q := record.QuantityOf(quantity); q != nil {
		return q.Words
	}
	return quantity
}

// UnitOf is the unit of a quantity of a reading, empty where it has none.
func UnitOf(quantity string) string {
	if q := record.QuantityOf(quantity); q != nil {
		return q.Unit
	}
	return ""
}

// Value writes what was read, with its stated uncertainty and its unit. No digit
// that was read is rounded away, and the value has at least the decimals of its
// uncertainty: 12.0 ± 0.1.
func Value(b *record.Reading) string {
	v := strings.Replace(strconv.FormatFloat(b.Value, 'f', decimals(b), 64), "-", "−", 1)
	if b.Uncertainty != nil {
		v += " ± " + strconv.FormatFloat(*b.Uncertainty, 'f', -1, 64)
	}
	return words.Joined(words.NBSP, v, UnitOf(b.Quantity))
}

// DE00 writes a colour difference whose record keeps one standard deviation.
func DE00(v, sd float64) string { return fmt.Sprintf("%.1f ± %.1f", v, 2*sd) + words.NBSP + "ΔE00" }

// twice makes of one standard deviation what ± means.
func twice(sd *float64) *float64 {
	if sd == nil {
		return nil
	}
	u := 2 * *sd
	return &u
}

// What a remark on a reading or on a pair of readings can be.
const (
	PlaceDiffers  Code = "place-differs"
	MethodDiffers Code = "method-differs"
	OutsideCheck  Code = "outside-check"
	NoChange      Code = "no-change"
	NotStated     Code = "uncertainty-not-stated"
)

// Compared is a quantity of the object, read before treatment, after it, or both.
type Compared struct {
	Name          string // "Surface pH"
	Where         string
	Before, After *record.Stamped[record.Reading]
	// Change is the difference with its uncertainty, empty where one is missing.
	Change  string
	Method  string
	Remarks []Sentence
}

// BeforeText and AfterText write what was read, or that nothing was.
func (x *Compared) BeforeText() string { return readOr(x.Before, "not read before") }
func (x *Compared) AfterText() string  { return readOr(x.After, "not read after") }

func readOr(x *record.Stamped[record.Reading], none string) string {
	if x == nil {
		return none
	}
	return Value(&x.Body)
}

// ofLiquid are the quantities of a bath, a water or the air: they say nothing of
// the object and are never paired.
var ofLiquid = []string{
	"bath-ph", "bath-alkali", "conductivity", "bath-temperature", "calcium", "hardness", "air-temperature", "humidity",
}

// CompareReadings sets the readings of the object before treatment beside those
// after it. Readings pair that are of the same quantity on the same sheets, or
// on the whole object; whether a run was open when they were made does not
// matter. Of several, one at the same place by the same method pairs first, then
// one by the same method at another place, then what is left: the last of each
// counts. Where places or methods differ both are named and a remark says so.
// What is left then pairs where one was made on some of the sheets of the other,
// unless it is a mass, which is that of all of them together. Readings made during
// treatment, readings of a bath or the air, other quantities and other sheets do
// not pair. What found no partner is listed by itself. st may be nil: then nothing
// is known of checks.
func CompareReadings(c *record.Case, st *record.Studio) []Compared {
	var groups [][]*record.Stamped[record.Reading]
	at := map[string]int{}
	for i := range c.Readings {
		x := &c.Readings[i]
		if x.Body.Stage == "during" || slices.Contains(ofLiquid, x.Body.Quantity) {
			continue
		}
		key := x.Body.Quantity + " " + record.SheetNames(x.Body.Place.Sheets)
		n, known := at[key]
		if !known {
			n = len(groups)
			at[key] = n
			groups = append(groups, nil)
		}
		groups[n] = append(groups[n], x)
	}
	var list []Compared
	for _, g := range groups {
		list = append(list, pairUp(g, st)...)
	}
	list = pairParts(list, st)
	for i := range list {
		x := &list[i]
		one := x.Before
		if one == nil || x.After != nil && one.Body.Position != x.After.Body.Position {
			one = x.After
		}
		same := x.Before == nil || x.Before.Body.Position == one.Body.Position
		if name := PositionName(c, one.Body.Position); name != "" && same {
			x.Where = en.Upper(name)
		}
	}
	return list
}

// pairParts pairs the single readings of list that share sheets: the one after
// treatment keeps its place, and the one before is listed by itself only for the
// sheets that nobody read again.
func pairParts(list []Compared, st *record.Studio) []Compared {
	again := map[*record.Stamped[record.Reading]][]int{} // sheets of a reading before that were read after
	for i := range list {
		x := &list[i]
		if x.Before != nil || x.After.Body.Quantity == "mass" {
			continue
		}
		of := x.After.Body.Place.Sheets
		for j := range slices.Backward(list) {
			b := list[j].Before
			if b == nil || list[j].After != nil || b.Body.Quantity != x.After.Body.Quantity ||
				!overlaps(b.Body.Place.Sheets, of) {
				continue
			}
			again[b] = append(again[b], of...)
			*x = compared(b, x.After, st)
			x.Where = record.SheetNames(of) + "; before: " + b.Body.Place.String() + "; after: " + x.After.Body.Place.String()
			break
		}
	}
	var kept []Compared
	for _, x := range list {
		if x.After == nil && len(again[x.Before]) > 0 {
			p := x.Before.Body.Place
			p.Sheets = without(p.Sheets, again[x.Before])
			if x.Where = p.String(); len(p.Sheets) == 0 {
				continue
			}
		}
		kept = append(kept, x)
	}
	return kept
}

func without(all, some []int) []int {
	return slices.DeleteFunc(slices.Clone(all), func(n int) bool { return slices.Contains(some, n) })
}

func overlaps(a, b []int) bool {
	return slices.ContainsFunc(a, func(n int) bool { return slices.Contains(b, n) })
}

// pairUp pairs the readings of one quantity on the same sheets.
func pairUp(all []*record.Stamped[record.Reading], st *record.Studio) []Compared {
	type spot struct{ place, method string }
	var spots [2][]spot // before and after, in order
	last := [2]map[spot]*record.Stamped[record.Reading]{{}, {}}
	for _, x := range all {
		side := 0
		if x.Body.Stage == "after" {
			side = 1
		}
		k := spot{readAt(&x.Body), x.Body.Method}
		if last[side][k] == nil {
			spots[side] = append(spots[side], k)
		}
		last[side][k] = x
	}
	partner := map[spot]spot{}
	taken := map[spot]bool{}
	for _, same := range []func(a, b spot) bool{
		func(a, b spot) bool { return a == b },
		func(a, b spot) bool { return a.method == b.method },
		func(a, b spot) bool { return a.place == b.place },
		func(a, b spot) bool { return true },
	} {
		for _, a := range slices.Backward(spots[0]) {
			if _, has := partner[a]; has {
				continue
			}
			for _, b := range slices.Backward(spots[1]) {
				if !taken[b] && same(a, b) {
					partner[a], taken[b] = b, true
					break
				}
			}
		}
	}
	var list []Compared
	for _, a := range spots[0] {
		b, has := partner[a]
		if !has {
			list = append(list, compared(last[0][a], nil, st))
			continue
		}
		list = append(list, compared(last[0][a], last[1][b], st))
	}
	for _, b := range spots[1] {
		if !taken[b] {
			list = append(list, compared(nil, last[1][b], st))
		}
	}
	return list
}

func compared(a, b *record.Stamped[record.Reading], st *record.Studio) Compared {
	one := a
	if one == nil {
		one = b
	}
	x := Compared{
		Name: en.Upper(QuantityName(one.Body.Quantity)), Where: one.Body.Place.String(), Method: one.Body.Method,
		Before: a, After: b,
	}
	for _, r := range []*record.Stamped[record.Reading]{a, b} {
		if r != nil {
			x.Remarks = append(x.Remarks, Remarks(st, r)...)
		}
	}
	if a == nil || b == nil {
		return x
	}
	if from, to := spotOf(a.Body.Place), spotOf(b.Body.Place); readAt(&a.Body) != readAt(&b.Body) {
		x.Where = record.SheetNames(a.Body.Place.Sheets) + "; before: " + orNot(from) + "; after: " + orNot(to)
		x.remark(PlaceDiffers, "Read at two places: some of the difference may lie there.")
	}
	if a.Body.Method != b.Body.Method {
		x.Method = "before: " + a.Body.Method + "; after: " + b.Body.Method
		x.remark(MethodDiffers, "Read in two ways: some of the difference may lie there.")
	}
	x.change(&a.Body, &b.Body)
	return x
}

func (x *Compared) remark(code Code, say string) { x.Remarks = append(x.Remarks, Sentence{code, say}) }

// change writes the difference to the place of the readings. Its uncertainty is
// the root of the sum of the squares of both, as for independent readings (JCGM
// 100:2008, 5.1.2, from memory); a difference within it is no change found,
// which is not the same as none.
func (x *Compared) change(a, b *record.Reading) {
	d := b.Value - a.Value
	sign := ""
	if d > 0 {
		sign = "+"
	}
	places := max(decimals(a), decimals(b))
	unit := UnitOf(a.Quantity)
	if a.Uncertainty == nil || b.Uncertainty == nil {
		x.Change = sign + en.Quantity(rounded(d, places), unit)
		x.remark(NotStated, "An uncertainty is not stated: whether it changed is not shown.")
		return
	}
	u := math.Hypot(*a.Uncertainty, *b.Uncertainty)
	x.Change = sign + en.PlusMinus(rounded(d, places), rounded(u, places), unit)
	if math.Abs(d) <= u*(1+within) {
		x.remark(NoChange, "No change found: the difference is within its uncertainty.")
	}
}

// within is the share by which a difference may pass its bound and still be taken
// as on it: 4.4 - 3.9 is more than 0.5 in binary numbers.
const within = 1e-9

// decimals is to how many places a reading was written.
func decimals(b *record.Reading) int {
	n := 0
	for _, v := range []*float64{&b.Value, b.Uncertainty} {
		if v != nil {
			_, part, _ := strings.Cut(strconv.FormatFloat(*v, 'f', -1, 64), ".")
			n = max(n, len(part))
		}
	}
	return n
}

func rounded(v float64, places int) float64 {
	p := math.Pow(10, float64(places))
	return math.Round(v*p) / p
}

// readAt tells the spots at which readings were made apart: a marked position, else
// the place as it was written.
func readAt(b *record.Reading) string {
	if b.Position != "" {
		return "position " + b.Position
	}
	return spotOf(b.Place)
}

// spotOf is a place without its sheets.
func spotOf(p record.Place) string {
	return words.Joined(", ", record.Words(p.Face), p.Words)
}

func orNot(s string) string {
	if s == "" {
		return "place not said"
	}
	return s
}

// Remarks says what must be known of a reading beside its number: that it lies
// outside what its instrument was last checked with. A meter checked in two
// buffers is known between them (common practice, no source).
func Remarks(st *record.Studio, x *record.Stamped[record.Reading]) []Sentence {
	if st == nil || !strings.HasSuffix(x.Body.Quantity, "-ph") {
		return nil
	}
	when := or(x.Body.At, x.Time)
	for _, in := range st.Instruments {
		if in.ID != x.Body.Instrument && in.Name != x.Body.Instrument {
			continue
		}
		for _, k := range slices.Backward(st.Checks) {
			if k.Body.Instrument != in.ID || k.Body.At.After(when) || len(k.Body.Buffers) < 2 {
				continue
			}
			low, high := math.Inf(1), math.Inf(-1)
			for _, b := range k.Body.Buffers {
				low, high = min(low, b.NominalPH), max(high, b.NominalPH)
			}
			if v := x.Body.Value; v < low || v > high {
				return []Sentence{{OutsideCheck, "pH " + en.Number(v) + " lies outside what the meter was checked " +
					"with, " + en.Number(low) + " to " + en.Number(high) + "."}}
			}
			return nil
		}
	}
	return nil
}

// Texts are the sentences alone.
func Texts(list []Sentence) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = s.Text
	}
	return out
}
