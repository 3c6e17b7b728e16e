package account

import (
	"slices"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	"benchleaf/internal/words"
)

// Course is what was expected of a bath over its time, kept before it began, beside
// what has been read of it.
type Course struct {
	Quantity, Name, Unit string
	// Points are the kept values; between two of them the line is straight.
	Points []CoursePoint
	Read   []CourseReading
	// EndMin is the last minute of which something was expected.
	EndMin float64
}

// CoursePoint is what is expected so many minutes after the start.
type CoursePoint struct {
	AtMin float64
	Value record.Range
}

// CourseReading is a reading in the bath. Verdict is how it stands to what was
// expected, empty where it is not held against it.
type CourseReading struct {
	AtMin, Value float64
	Held         bool
	Verdict      string
}

// CourseOf is the course of a run of which something was kept; nil where nothing was.
func CourseOf(c *record.Case, run string) *Course {
	kept, r := c.ExpectedOf(run), c.Run(run)
	if kept == nil || r == nil {
		return nil
	}
	k := &Course{Quantity: "bath-ph", Name: en.Upper(QuantityName("bath-ph"))}
	for _, v := range kept.Body.Values {
		if v.Quantity == k.Quantity && v.Moment == record.InBath && len(k.Points) > 0 &&
			v.AtMin <= k.Points[len(k.Points)-1].AtMin {
			break // another group of sheets in the same bath
		}
		if v.Quantity == k.Quantity && v.Moment == record.InBath {
			k.Points, k.Unit = append(k.Points, CoursePoint{v.AtMin, v.Value}), v.Unit
		}
	}
	if len(k.Points) < 2 {
		return nil
	}
	k.EndMin = k.Points[len(k.Points)-1].AtMin
	verdicts := map[int64]HeldRow{}
	for _, s := range ScoresOf(c) {
		if s.Run.Body.ID == run {
			verdicts[s.Reading.Seq] = s.Row()
		}
	}
	for i := range c.Readings {
		x := &c.Readings[i]
		if x.Body.Run != run || x.Body.Quantity != k.Quantity {
			continue
		}
		k.Read = append(k.Read, CourseReading{
			AtMin: x.Body.At.Sub(r.Body.At).Minutes(), Value: x.Body.Value,
			Held: verdicts[x.Seq].Held, Verdict: verdicts[x.Seq].Verdict,
		})
	}
	return k
}

// At is what is expected so many minutes after the start; ok is false where nothing
// was expected of that time.
func (k *Course) At(min float64) (r record.Range, ok bool) {
	if min < 0 || min > k.EndMin {
		return r, false
	}
	for i := 1; i < len(k.Points); i++ {
		a, b := k.Points[i-1], k.Points[i]
		if min > b.AtMin {
			continue
		}
		w := (min - a.AtMin) / (b.AtMin - a.AtMin)
		mix := func(x, y float64) float64 { return x + w*(y-x) }
		return record.Range{
			Low: mix(a.Value.Low, b.Value.Low), Best: mix(a.Value.Best, b.Value.Best), High: mix(a.Value.High, b.Value.High),
		}, true
	}
	return r, false
}

// Minutely is what is expected at each whole minute, in words, for a screen whose
// clock runs.
func (k *Course) Minutely() []string {
	var list []string
	const most = 240 // minutes: longer baths keep their last words
	for m := 0.0; m <= k.EndMin && m < most; m++ {
		r, _ := k.At(m)
		list = append(list, en.Figure(words.PH(r)))
	}
	return list
}

// BestReading is the reading of a running bath that would tell most of what is not
// known of it, and when.
type BestReading struct {
	Quantity, Name string
	At             time.Time
	Say            string
}

// enoughOfMost is the share of the most that a reading could tell at which it is asked
// for: earlier leaves time to act on it (common practice, no source).
const enoughOfMost = 0.9

// BestReadingOf finds it among what can still be read in an open bath and has not been;
// nil where one would tell no more than is known. What a reading tells is the width of
// the expected range against twice the uncertainty that the usual method knows it to.
func BestReadingOf(c *record.Case, run string) *BestReading {
	kept, r := c.ExpectedOf(run), c.Run(run)
	if kept == nil || r == nil || !r.Open() || r.Body.Bath == nil {
		return nil
	}
	var list []record.ExpectedValue
	for _, v := range kept.Body.Values {
		if v.Moment == record.InBath && v.AtMin > 0 && !slices.ContainsFunc(c.Readings,
			func(x record.Stamped[record.Reading]) bool { return x.Body.Run == run && x.Body.Quantity == v.Quantity }) {
			list = append(list, v)
		}
	}
	gain := func(v *record.ExpectedValue) float64 {
		return (v.Value.High - v.Value.Low) / (2 * treatment.UsualUncertainty(v.Quantity, v.Value.Best))
	}
	most := 1.0
	for i := range list {
		most = max(most, gain(&list[i]))
	}
	for i := range list {
		if v := &list[i]; gain(v) > 1 && gain(v) >= enoughOfMost*most {
			return &BestReading{
				Quantity: v.Quantity, Name: QuantityName(v.Quantity),
				At:  r.Body.At.Add(time.Duration(v.AtMin * float64(time.Minute))),
				Say: "expected " + en.Range(v.Value, v.Unit) + ", the least certain of what can be read",
			}
		}
	}
	return nil
}
