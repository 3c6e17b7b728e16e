package photo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"

	"benchleaf/colour"
)

// CompareOptions are the choices of Compare; the zero value is good.
type CompareOptions struct {
	Align AlignOptions
	// BeforeInfo and AfterInfo are what the files' headers say. With them,
	// Compare warns of profiles that could not be used and of printing colours.
	BeforeInfo, AfterInfo *Info
	// BeforeColour and AfterColour are the corrections by chart, grey card or
	// white paper that the pictures were given (Image.Correct), from which the
	// uncertainty of colours follows; nil where a picture is as the camera made
	// it. Compare corrects nothing itself.
	BeforeColour, AfterColour *colour.Correction
}

// Stats are the median, mean, 5th and 95th percentile of a quantity over the
// cells that were compared.
type Stats struct{ Median, Mean, P05, P95 float64 }

// Comparison is what changed on a face from one photograph to another. All of
// it is measured on cells: squares of CellPx pixels of the before picture, each
// the mean of its light in either picture. A Comparison may be read by several
// goroutines at once.
type Comparison struct {
	Alignment *Alignment
	// Compared is false when the pictures do not show the same face, or hardly
	// anything of it can be compared. Everything below but Warnings and the two
	// Quality is zero then.
	Compared bool
	// CellPx is the side of a cell in pixels of the before picture, 1 or more.
	CellPx float64
	// ComparedShare is the share of the before sheet that was compared: seen in
	// both pictures, overexposed in neither. ClippedShare is the share lost to
	// glare or overexposure in either.
	ComparedShare, ClippedShare float64

	// DE00 is the colour difference as the two pictures show it, TrendRemoved
	// what is left when the part that changes slowly over the sheet, the even
	// part included, is taken out: light, exposure, white balance, and what the
	// treatment did to all of the paper alike. The first holds all the change
	// and all the light, the second only what is local.
	DE00, TrendRemoved Stats
	// DL and DB are after less before in L* and b*: above zero means lighter and
	// yellower.
	DL, DB                         Stats
	TrendRemovedDL, TrendRemovedDB Stats
	// Light is the slow part.
	Light LightChange

	// PaperBefore is the commonest colour of the paper that is bare in both
	// pictures, PaperAfter the commonest after of the same places.
	PaperBefore, PaperAfter PaperReading
	// PaperDE00 is the difference of the two, PaperDE00SD its standard
	// uncertainty, PaperRestsOn a sentence that says what dominates it.
	PaperDE00, PaperDE00SD float64
	PaperRestsOn           string
	// PrintRatio is how dark print is against its paper after, over the same
	// before: 1 when it kept its strength. 0 when there is no print to tell by.
	PrintRatio float64

	// Warnings are what a person should look at before trusting the numbers,
	// the gravest first.
	Warnings []Warning
	// Before and After are what the pictures are good for.
	Before, After Quality

	// SofterBefore is the variance of blur, in cells squared, that the before
	// picture was given so that print is as soft in both; below zero the after
	// picture got it.
	SofterBefore float64

	grid *changeGrid
	mm   float64 // mm per pixel of the before picture, 0 when unknown
	full struct{ before, after *Image }
}

// LightChange is the slow part of the difference of two pictures: a quadratic
// surface of the ratio of light, after over before, fitted to bare paper so that
// stains do not pull it (Tukey's biweight). Whether lamp, camera or paper
// changed, it cannot tell.
type LightChange struct {
	// Stops is the even change of light in factors of two.
	Stops float64
	// Warmer is how much red gained on blue, in stops.
	Warmer float64
	// Unevenness is by how much the change varies over the sheet, in stops from
	// its 5th to its 95th percentile.
	Unevenness float64
}

// cellsLong is the number of cells along the longer side: print is still clear,
// and the noise of single pixels is averaged.
const cellsLong = 1200

// Compare lays the after picture on the before picture and measures what
// changed. Places outside the overlap, off the sheet or overexposed count for
// nothing. Pictures of different faces give a Comparison whose Alignment says
// so. The error is that of Align: a context that ended, a picture without
// pixels.
func Compare(ctx context.Context, before, after *Image, opt CompareOptions) (*Comparison, error) {
	c := &Comparison{mm: opt.Align.MMPerPx}
	c.full.before, c.full.after = before, after
	report := opt.Align.Progress
	if report != nil {
		opt.Align.Progress = func(share float64, doing string) { report(0.7*share, doing) }
	}
	for _, m := range []*Image{before, after} {
		if m == nil || m.W <= 0 || m.H <= 0 || len(m.Pix) < 4*m.W*m.H {
			return nil, errors.New("a picture to be compared has no pixels")
		}
	}
	// Each of the three has stretches that keep one processor busy.
	var wg sync.WaitGroup
	wg.Go(func() { c.Before = Measure(before) })
	wg.Go(func() { c.After = Measure(after) })
	var err error
	c.Alignment, err = Align(ctx, before, after, opt.Align)
	wg.Wait()
	if err != nil {
		return nil, err
	}
	step := func(share float64, doing string) error {
		if report != nil {
			report(share, doing)
		}
		return ctx.Err()
	}
	if c.Alignment.Verdict != Different {
		if err := step(0.75, "comparing colours"); err != nil {
			return nil, err
		}
		c.measure(opt)
		if err := step(0.9, "looking for lost ink and new lines"); err != nil {
			return nil, err
		}
		if c.Compared {
			c.warnOfChange()
		}
	}
	c.warnOfPictures(opt)
	return c, nil
}

// measure fills in the numbers.
func (c *Comparison) measure(opt CompareOptions) {
	g := newChangeGrid(c)
	sheet, clipped := g.shares()
	if sheet == 0 {
		return
	}
	n := g.ok.count()
	c.CellPx = g.cell
	c.ComparedShare, c.ClippedShare = float64(n)/float64(sheet), float64(clipped)/float64(sheet)
	if n < 400 {
		return
	}
	c.Compared = true
	c.grid = g
	c.SofterBefore = g.matchBlur()
	g.view()
	g.fitTrend()
	c.Light = g.light()
	g.compare()
	var wg sync.WaitGroup
	wg.Go(func() { c.readPaper(opt) })
	for _, s := range []struct {
		to *Stats
		of func() Stats
	}{
		{&c.DE00, func() Stats { return g.stats(g.de) }},
		{&c.TrendRemoved, func() Stats { return g.stats(g.deFlat) }},
		{&c.DL, func() Stats { return g.labStats(g.labAfter, 0) }},
		{&c.TrendRemovedDL, func() Stats { return g.labStats(g.labFlat, 0) }},
		{&c.DB, func() Stats { return g.labStats(g.labAfter, 2) }},
		{&c.TrendRemovedDB, func() Stats { return g.labStats(g.labFlat, 2) }},
	} {
		wg.Go(func() { *s.to = s.of() })
	}
	wg.Wait()
}

// readPaper reads the paper of both pictures where it is bare in both.
func (c *Comparison) readPaper(opt CompareOptions) {
	g := c.grid
	bare := g.barePaper()
	c.PaperBefore = g.paperReading(g.labBefore, bare)
	if c.PaperBefore.Share == 0 {
		return
	}
	// After is read in the same places, so that light that falls otherwise does
	// not make another part of the sheet the commonest.
	c.PaperAfter = g.paperReading(g.labAfter, g.like(c.PaperBefore.Lab, bare))
	ls, as, bs, _ := sampleOn(g.labAfter, bare)
	c.PaperAfter.Spread = spreadOf(ls, as, bs)
	c.PaperDE00 = colour.DE2000(c.PaperBefore.Lab, c.PaperAfter.Lab)
	// What the sheet's parts differ by, slow and fast, against its middle.
	light, local := g.unevenDE(bare)
	knownB, knownA := colourError(opt.BeforeColour), colourError(opt.AfterColour)
	known := math.Hypot(knownB, knownA)
	c.PaperDE00SD = math.Sqrt(light*light + local*local + known*known + 0.1*0.1)
	switch {
	case opt.BeforeColour == nil || opt.AfterColour == nil:
		c.PaperRestsOn = "No chart or grey card corrects both pictures, so a change of lamp, exposure or white " +
			"balance counts as a change of the paper."
	case known >= light:
		c.PaperRestsOn = "The uncertainty comes mostly from how well the pictures' colours are known."
	default:
		c.PaperRestsOn = "The uncertainty comes mostly from light that fell otherwise over the sheet in the two " +
			"pictures."
	}
}

// colourError is the standard uncertainty in dE00 of a light, dull colour in a
// corrected picture. For a chart it is the median leave-one-out error, as
// papers lie in the middle of the colours a chart holds; the others are our own
// estimates.
func colourError(fix *colour.Correction) float64 {
	switch {
	case fix == nil:
		return 2
	case fix.Kind == colour.GreyCard:
		return 1
	case fix.Kind == colour.WhitePaper:
		return 1.5
	}
	if m := fix.Median(); !math.IsNaN(m) {
		return m / math.Sqrt2
	}
	return 1
}

// PaperSay is one sentence on the paper's change.
func (c *Comparison) PaperSay() string {
	if !c.Compared || c.PaperBefore.Share == 0 {
		return "The paper's colour could not be compared: hardly any bare paper is seen in both pictures."
	}
	dl, db := c.PaperAfter.Lab.L-c.PaperBefore.Lab.L, c.PaperAfter.Lab.B-c.PaperBefore.Lab.B
	return fmt.Sprintf(
		"The paper differs by %.1f dE00 (give or take %.1f): it is %.1f %s and %.1f %s. %s",
		c.PaperDE00,
		c.PaperDE00SD,
		math.Abs(dl),
		either(dl, "lighter", "darker"),
		math.Abs(db),
		either(db, "yellower", "less yellow"),
		c.PaperRestsOn,
	)
}

func either(v float64, above, below string) string {
	if v >= 0 {
		return above
	}
	return below
}
