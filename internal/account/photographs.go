package account

import (
	"cmp"
	"image"
	"slices"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// PhotoPair is what was photographed alike before and after: the same sheets,
// face and light, and where no sheet is named the same place in words.
type PhotoPair struct {
	Place record.Place // of the first of them
	Light record.Light
	// AllBefore are the photographs of arrival and from before treatment,
	// AllAfter those from during and after it, each by stage and then as they
	// came. AllAfter may be empty.
	AllBefore, AllAfter []record.Stamped[record.Photo]
	// Before is the last from before treatment, else of arrival; or the last on
	// which areas were outlined. After is the last from after treatment, else
	// from during it; nil where there is none.
	Before, After *record.Stamped[record.Photo]
}

// PhotoPairs pairs the photographs of a case, those of the whole object first,
// then sheet by sheet and face by face. What was never photographed before
// treatment makes no pair. Screen and papers pair by this rule alone.
func PhotoPairs(c *record.Case) []PhotoPair {
	var list []PhotoPair
	for _, p := range c.Photos {
		i := slices.IndexFunc(list, func(x PhotoPair) bool { return x.shows(&p.Body) })
		if i < 0 {
			i = len(list)
			list = append(list, PhotoPair{Place: p.Body.Place, Light: p.Body.Light})
		}
		if BeforeTreatment(p.Body.Stage) {
			list[i].AllBefore = append(list[i].AllBefore, p)
		} else {
			list[i].AllAfter = append(list[i].AllAfter, p)
		}
	}
	list = slices.DeleteFunc(list, func(x PhotoPair) bool { return len(x.AllBefore) == 0 })
	for i := range list {
		list[i].choose(c)
	}
	slices.SortStableFunc(list, func(a, b PhotoPair) int {
		return cmp.Or(slices.Compare(sorted(a.Place.Sheets), sorted(b.Place.Sheets)),
			cmp.Compare(faceRank(a.Place.Face), faceRank(b.Place.Face)))
	})
	return list
}

// FacePairs are the pairs that show one face of one sheet in normal light, which
// can be laid on each other; those with both photographs come first.
func FacePairs(c *record.Case) []PhotoPair {
	list := slices.DeleteFunc(PhotoPairs(c), func(x PhotoPair) bool {
		return x.Light != record.LightNormal || len(x.Place.Sheets) != 1 || x.Place.Face == ""
	})
	slices.SortStableFunc(list, func(a, b PhotoPair) int {
		return cmp.Compare(boolRank(a.After == nil), boolRank(b.After == nil))
	})
	return list
}

// BeforeTreatment says whether a stage comes before treatment.
func BeforeTreatment(s record.Stage) bool { return s == record.StageArrival || s == record.StageBefore }

func (x *PhotoPair) shows(p *record.Photo) bool {
	sheets := sorted(p.Place.Sheets)
	return x.Light == p.Light && x.Place.Face == p.Place.Face && slices.Equal(sorted(x.Place.Sheets), sheets) &&
		(len(sheets) > 0 || x.Place.Words == p.Place.Words)
}

func (x *PhotoPair) choose(c *record.Case) {
	// What was taken for the colour chart in it counts where there is no other.
	byStage := func(a, b record.Stamped[record.Photo]) int {
		return cmp.Or(cmp.Compare(boolRank(!ForChart(c, a)), boolRank(!ForChart(c, b))),
			cmp.Compare(stageRank(StageOf(c, &a)), stageRank(StageOf(c, &b))))
	}
	slices.SortStableFunc(x.AllBefore, byStage)
	slices.SortStableFunc(x.AllAfter, byStage)
	x.Before = &x.AllBefore[len(x.AllBefore)-1]
	for i := range x.AllBefore {
		h := x.AllBefore[i].Body.Hash
		if slices.ContainsFunc(c.Areas, func(a record.Area) bool { return a.Body.Photo == h }) {
			x.Before = &x.AllBefore[i]
		}
	}
	if n := len(x.AllAfter); n > 0 {
		x.After = &x.AllAfter[n-1]
	}
}

func sorted(sheets []int) []int { return slices.Sorted(slices.Values(sheets)) }

func stageRank(s record.Stage) int {
	return slices.IndexFunc(record.Stages, func(x record.Choice) bool { return x.Value == string(s) })
}

func faceRank(s record.Face) int {
	return slices.IndexFunc(record.Faces, func(x record.Choice) bool { return x.Value == string(s) })
}

func boolRank(b bool) int {
	if b {
		return 1
	}
	return 0
}

// StageNow is the stage to which a photograph taken now belongs: during
// treatment from the first run until nothing is under way or wet, then after.
func StageNow(c *record.Case) record.Stage {
	switch {
	case c.Closed != nil, len(c.Runs) > 0 && len(c.OpenRuns()) == 0 && len(c.WetSheets()) == 0:
		return record.StageAfter
	case len(c.Runs) > 0:
		return record.StageDuring
	case c.MakeUp != nil:
		return record.StageBefore
	}
	return record.StageArrival
}

// ColourOfPair says what set the colour of two photographs that are compared,
// nil for one that is as its camera wrote it. Both are set, or none counts.
func ColourOfPair(before, after *record.PhotoColour) string {
	if before == nil || after == nil {
		return "as the cameras wrote it"
	}
	return "before set by " + ColourBy(before) + ", after by " + ColourBy(after)
}

// ComparedPictures are the pictures of a face before and after treatment, laid
// on each other, for print: all three show the same Frame of the before
// photograph, so that they are of one scale.
type ComparedPictures struct {
	Before, After []byte // JPEG in sRGB; after as it lies on before
	Map           []byte // PNG, the colour difference with the light evened
	Legend        photo.Legend
	// Frame is in pixels of the before photograph.
	Frame image.Rectangle
	// Places are where warnings of the comparison point to.
	Places []ComparedPlace
	// Note says in what the pictures differ from the recorded numbers, as when
	// the program has since learnt to measure otherwise; empty as a rule.
	Note string
}

// ComparedPlace is a place on the before photograph, in its pixels, that a
// warning speaks of in the words of Say.
type ComparedPlace struct {
	Say     string
	Outline []photo.Point
}

// ForChart says whether a photograph was made for the colour chart in it:
// others have their colour from it.
func ForChart(c *record.Case, p record.Stamped[record.Photo]) bool {
	return slices.ContainsFunc(c.Colours, func(x record.Stamped[record.PhotoColour]) bool {
		return x.Body.From == p.Body.Hash
	})
}

// StageWords names the stage of a photograph, as StageOf tells it.
func StageWords(c *record.Case, p *record.Stamped[record.Photo]) string {
	return record.Words(StageOf(c, p))
}

// StageOf is the stage by which a photograph is called wherever it is shown. What
// was taken as after treatment is called during, as long as a sheet on it is wet,
// in a run, or was treated again since; to put the sheets back in order and to
// house them is no treatment of what the photograph shows.
func StageOf(c *record.Case, p *record.Stamped[record.Photo]) record.Stage {
	if p.Body.Stage != record.StageAfter {
		return p.Body.Stage
	}
	for _, n := range sheetsOf(c, p.Body.Place.Sheets) {
		if c.ConditionOf(n).Wetness != record.Dry {
			return record.StageDuring
		}
		for _, r := range c.RunsOn(n) {
			treats := r.Body.Operation != "reassemble" && r.Body.Operation != "house"
			if treats && (r.Open() || r.Body.At.After(p.Time)) {
				return record.StageDuring
			}
		}
	}
	return record.StageAfter
}

// ColourChange is a change of colour whose standard deviation is sd, both in
// ΔE00.
func ColourChange(name string, v, sd float64) Fact {
	f := Fact{Name: name, Basis: Measured, Text: DE00(v, sd)}
	if !Changed(v, sd) {
		f.RestsOn = "no change found"
	}
	return f
}

// Changed says whether a change of colour was found: one of no more than two standard
// deviations is none that was measured.
func Changed(v, sd float64) bool { return v > 2*sd*(1+within) }
