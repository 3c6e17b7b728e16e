package pictures

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"benchleaf/colour"
	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
	"benchleaf/photo"
)

const en = words.English

// Numbers are what is kept of a comparison of two photographs of a face: colours
// in CIELAB under D50, lengths in pixels of the before picture, shares 0 to 1.
type Numbers struct {
	Method string `json:"method"`
	// Verdict is "aligned" where the after picture lies on the before picture; Say
	// tells it, Notes what limits it.
	Verdict string   `json:"verdict"`
	Say     string   `json:"say"`
	Notes   []string `json:"notes,omitempty"`
	// Compared is false where hardly anything of the face can be compared; what
	// follows is zero then, but for Warnings.
	Compared   bool       `json:"compared"`
	Corners    Corners    `json:"corners_px"` // of the sheet
	SidesSeen  [4]bool    `json:"sides_seen"`
	ResidualPx float64    `json:"residual_px"`
	Overlap    float64    `json:"overlap"`
	Share      float64    `json:"compared_share"`
	DE00       Difference `json:"de00"`
	DE00Trend  Difference `json:"de00_trend_removed"`
	// The slow part of the change, in stops.
	Stops      float64 `json:"light_stops"`
	Warmer     float64 `json:"warmer_stops"`
	Unevenness float64 `json:"unevenness_stops"`
	// Paper is nil where hardly any is bare.
	Paper      *Paper       `json:"paper,omitempty"`
	PaperSay   string       `json:"paper_say,omitempty"`
	PrintRatio float64      `json:"print_ratio,omitempty"`
	Warnings   []Warning    `json:"warnings,omitempty"`
	Maps       []Map        `json:"maps,omitempty"`
	Areas      []AreaChange `json:"areas,omitempty"`
}

// Difference is half of a distribution of colour differences, and 95 % of it.
type Difference struct {
	Median float64 `json:"median"`
	P95    float64 `json:"p95"`
}

// Paper is the bare paper of both pictures; SD is one standard deviation.
type Paper struct {
	Before [3]float64 `json:"before_lab"`
	After  [3]float64 `json:"after_lab"`
	DE00   float64    `json:"de00"`
	SD     float64    `json:"de00_sd"`
}

// Warning is what a person should look at before trusting the numbers. Outline
// is nil where there is no one place.
type Warning struct {
	Kind    string        `json:"kind"`
	Say     string        `json:"say"`
	AreaPx  float64       `json:"area_px,omitempty"`
	Outline []record.Ring `json:"outline_px,omitempty"`
}

// Size is about how large the place is, in mm² where there is a scale; "" where
// there is no one place.
func (w *Warning) Size(scale *Scale) string {
	if w.Outline == nil {
		return ""
	}
	if scale == nil {
		return fmt.Sprintf("%.0f px", w.AreaPx)
	}
	return "about " + interval.Rounded(w.AreaPx*scale.MMPerPx*scale.MMPerPx, 3) + words.NBSP + "mm²"
}

// Map is a map of change whose tiles the cache keeps, W by H of its own pixels
// over the before picture.
type Map struct {
	Name   string `json:"name"`
	W      int    `json:"width"`
	H      int    `json:"height"`
	Legend Legend `json:"legend"`
}

// Legend is a photo.Legend as it is kept.
type Legend struct {
	Title     string        `json:"title"`
	Low       float64       `json:"low"`
	High      float64       `json:"high"`
	Diverging bool          `json:"diverging"`
	Ticks     []float64     `json:"ticks"`
	LowSays   string        `json:"low_says"`
	HighSays  string        `json:"high_says"`
	Scale     []color.NRGBA `json:"scale"`
	Source    string        `json:"source"`
}

// Bar is the colour of part i of n of the scale, as "#rrggbb".
func (l *Legend) Bar(i, n int) string {
	x := photo.Legend(*l)
	c := x.At(l.Low + (float64(i)+0.5)/float64(n)*(l.High-l.Low))
	return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
}

// Tick is where tick i lies along the scale, 0 to 1, and its words.
func (l *Legend) Tick(i int) (at float64, says string) {
	x := photo.Legend(*l)
	says = strings.ReplaceAll(x.Tick(l.Ticks[i]), "-", "−")
	if i == len(l.Ticks)-1 {
		says += " and more"
	}
	return (l.Ticks[i] - l.Low) / (l.High - l.Low), says
}

func numbersOf(c *photo.Comparison) Numbers {
	a := c.Alignment
	n := Numbers{
		Method: compareMethod, Verdict: string(a.Verdict), Say: a.Say, Notes: a.Notes, Compared: c.Compared,
		Corners: cornersOf(a.Sheet.Corners), SidesSeen: a.Sheet.Seen, ResidualPx: a.ResidualMedianPx,
		Overlap: a.Overlap, Share: c.ComparedShare,
		DE00:      Difference{c.DE00.Median, c.DE00.P95},
		DE00Trend: Difference{c.TrendRemoved.Median, c.TrendRemoved.P95},
		Stops:     c.Light.Stops, Warmer: c.Light.Warmer, Unevenness: c.Light.Unevenness,
		PaperSay: c.PaperSay(), PrintRatio: c.PrintRatio,
	}
	if c.PaperBefore.Share > 0 {
		n.Paper = &Paper{threeOf(c.PaperBefore.Lab), threeOf(c.PaperAfter.Lab), c.PaperDE00, c.PaperDE00SD}
	}
	for _, w := range c.Warnings {
		x := Warning{Kind: string(w.Kind), Say: w.Say, AreaPx: w.AreaPx}
		if len(w.Outline) > 2 {
			x.Outline = ringsOf([][]photo.Point{w.Outline})
		}
		n.Warnings = append(n.Warnings, x)
	}
	return n
}

// Laid says whether the after picture lies on the before picture; not of nil.
func (n *Numbers) Laid() bool { return n != nil && n.Compared && n.Verdict == string(photo.Aligned) }

// Verdicts says what to make of the two pictures.
func (n *Numbers) Verdicts() string {
	if !n.Laid() && n.Verdict == string(photo.Aligned) {
		return n.Say + " Hardly anything of the face can be compared all the same."
	}
	return n.Say
}

// Scale is that of the before picture of a comparison; see ScaleOn.
func (n *Numbers) Scale(c *record.Case, of Pair) (*Scale, string) {
	return scaleOn(c, of.Before, &photo.Sheet{Corners: quadOf(n.Corners), Seen: n.SidesSeen})
}

// Body is what the record keeps of a comparison that a person takes into it.
func (n *Numbers) Body(c *record.Case, of Pair) record.FaceCompared {
	b := record.FaceCompared{
		Before: of.Before, After: of.After, Place: c.PhotoByHash(of.Before).Body.Place,
		DE00: Hundredths(n.DE00.Median), DE00Trend: Hundredths(n.DE00Trend.Median),
		ResidualPx: Hundredths(n.ResidualPx), ComparedPercent: tenths(100 * n.Share),
		Colour: of.ColourSays(c), Method: n.Method,
	}
	if p := n.Paper; p != nil {
		change, sd := Hundredths(p.DE00), Hundredths(p.SD)
		b.PaperDE00, b.PaperDE00Uncertainty = &change, &sd
		b.PaperBeforeLab, b.PaperAfterLab = kept(p.Before), kept(p.After)
	}
	if scale, _ := n.Scale(c, of); scale != nil {
		mm := math.Round(1000*n.ResidualPx*scale.MMPerPx) / 1000
		b.ResidualMm = &mm
	}
	for _, x := range n.Warnings {
		b.Warnings = append(b.Warnings, x.Say)
	}
	return b
}

// Answers are what a comparison says first.
func (n *Numbers) Answers(c *record.Case, of Pair) []account.Fact {
	var list []account.Fact
	if p := n.Paper; p != nil {
		list = append(list, account.ColourChange("Paper colour changed by", p.DE00, p.SD))
	}
	left := account.Fact{Name: "Left between the pictures", RestsOn: "median; no scale, so not in mm",
		Figure: &words.Figure{Value: Hundredths(n.ResidualPx), Unit: "px"}}
	if scale, _ := n.Scale(c, of); scale != nil {
		left.RestsOn = en.Quantity(math.Round(1000*n.ResidualPx*scale.MMPerPx)/1000, "mm") + ", median"
	}
	return append(list, left, account.Fact{
		Name: "Compared", Figure: &words.Figure{Value: math.Round(100 * n.Share), Unit: "%"},
		RestsOn: "of the sheet; " + en.Quantity(math.Round(100*n.Overlap), "%") + " is in both pictures",
	})
}

// Facts are all other numbers of a comparison.
func (n *Numbers) Facts(c *record.Case, of Pair) []account.Fact {
	below := func(d Difference) string { return fmt.Sprintf("%.1f, 95 %% below %.1f", d.Median, d.P95) }
	list := []account.Fact{{Name: "Colour difference", Text: below(n.DE00Trend) + " ΔE00, median",
		RestsOn: "with the slow trend of the light taken out, and with it what the treatment did to all of the " +
			"paper alike; as photographed " + below(n.DE00)}}
	if p := n.Paper; p != nil {
		list = append(list,
			account.Fact{Name: "Paper before", Text: labWords(p.Before),
				RestsOn: "the commonest colour of bare paper, under D50"},
			account.Fact{Name: "Paper after", Text: labWords(p.After)})
	}
	light := stops(n.Stops, "brighter", "darker") + ", " + stops(n.Warmer, "warmer", "cooler") +
		fmt.Sprintf(", uneven by %.2f stops", n.Unevenness)
	colour := account.Fact{Name: "Colour", Text: of.ColourSays(c)}
	if of.Colour == "" {
		colour.RestsOn = "set the colour of both photographs by a chart or a grey card, and the change of the paper " +
			"can be trusted further"
	}
	list = append(list, account.Fact{Name: "Light", Text: light,
		RestsOn: "the slow part of the change: lamp, camera or paper, it cannot tell which"}, colour)
	if n.PrintRatio > 0 {
		list = append(list, account.Fact{Name: "Print", Figure: &words.Figure{
			Value: math.Round(100 * n.PrintRatio), Unit: "% as dark against its paper as before"}})
	}
	scale, why := n.Scale(c, of)
	if scale == nil {
		return append(list, account.Fact{Name: "Scale", Text: "none", RestsOn: why})
	}
	return append(list, account.Fact{Name: "Scale", RestsOn: "from " + scale.RestsOn,
		Text: fmt.Sprintf("%.3f mm to a pixel ± %.1f %%", scale.MMPerPx, 200*scale.Relative)})
}

func stops(v float64, above, below string) string {
	if v < 0 {
		return fmt.Sprintf("%.2f stops %s", -v, below)
	}
	return fmt.Sprintf("%.2f stops %s", v, above)
}

func tenths(v float64) float64     { return math.Round(10*v) / 10 }
func Hundredths(v float64) float64 { return math.Round(100*v) / 100 }

func threeOf(c colour.Lab) [3]float64 { return [3]float64{c.L, c.A, c.B} }

// kept rounds to what the record keeps.
func kept(c [3]float64) [3]float64 {
	return [3]float64{Hundredths(c[0]), Hundredths(c[1]), Hundredths(c[2])}
}

// labWords writes L*, a* and b*.
func labWords(c [3]float64) string {
	return strings.ReplaceAll(fmt.Sprintf("L* %.1f, a* %.1f, b* %.1f", c[0], c[1], c[2]), "-", "−")
}
