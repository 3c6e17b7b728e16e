package record

import (
	"errors"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"benchleaf/colour"
)

// MaxChartBytes is the largest file of a chart's reference values that is kept.
const MaxChartBytes = 512 << 10

// ChartFile is a colour chart that the studio owns, with its reference values
// as the studio has them. A later entry with the same ID takes its place.
type ChartFile struct {
	ID   string `json:"id" form:"chart" say:"the chart" as:"own"`
	Name string `json:"name" form:"chart_name" say:"the name"`
	// Source says whose values they are: the maker's, or a measurement with
	// its date and instrument.
	Source   string `json:"source" form:"chart_source" say:"the source of the values"`
	FileName string `json:"file_name,omitempty" form:"chart_file" say:"the file's name"`
	// Rows and Columns are how the patches lie, the first row first.
	Rows    int `json:"rows" form:"chart_rows" say:"the number of rows" in:"1..100"`
	Columns int `json:"columns" form:"chart_columns" say:"the number of columns" in:"1..100"`
	// Text is the file: CGATS, or CSV with a header line. Values are CIELAB
	// under D50, or XYZ with 100 for white.
	Text    string `json:"text" say:"the file" form:"chart_file" as:"raw"`
	Retired bool   `json:"retired,omitempty" say:"no longer used"`
}

func (ChartFile) Kind() Kind { return "chart" }

func (b ChartFile) rules(k *check) {
	switch {
	case strings.TrimSpace(b.Text) == "":
		k.refuse("chart_file", "The file with the chart's values is missing: choose a CGATS text file or a CSV file.")
	case len(b.Text) > MaxChartBytes:
		k.refuse(
			"chart_file", "The file of the chart's values has %d kB; at most %d kB are kept.", len(b.Text)>>10,
			MaxChartBytes>>10,
		)
	case !utf8.ValidString(b.Text):
		k.refuse("chart_file", "The file of the chart's values is not text.")
	default:
		c, err := colour.ParseChart(strings.NewReader(b.Text))
		if err != nil {
			k.refuse("chart_file", "The chart's values cannot be read: %s", sentence(err))
		} else if n := len(c.Patches); b.Rows > 0 && b.Columns > 0 && b.Rows*b.Columns != n {
			k.refuse("chart_rows", "%d rows of %d make %d patches, and the file has %d.", b.Rows, b.Columns, b.Rows*b.Columns, n)
		}
	}
}

// sentence ends an error as a sentence.
func sentence(err error) string {
	s := err.Error()
	var line *colour.LineError
	if !errors.As(err, &line) || !strings.HasSuffix(s, ".") {
		return s + "."
	}
	return s
}

func (b ChartFile) applyStudio(st *Studio, s Stamp) error {
	st.Charts = put(st.Charts, b, func(c ChartFile) bool { return c.ID == b.ID })
	return nil
}

// Chart reads the values.
func (b *ChartFile) Chart() (*colour.Chart, error) {
	c, err := colour.ParseChart(strings.NewReader(b.Text))
	if err != nil {
		return nil, Invalidf("chart_file", "The chart's values cannot be read: %s", sentence(err))
	}
	if len(c.Patches) != b.Rows*b.Columns {
		return nil, Invalidf(
			"chart_rows", "%d rows of %d make %d patches, and the file has %d.", b.Rows, b.Columns,
			b.Rows*b.Columns, len(c.Patches),
		)
	}
	c.Name, c.Rows, c.Columns = b.Name, b.Rows, b.Columns
	return c, nil
}

// Chart finds a chart of the studio by ID, or nil.
func (st *Studio) Chart(id string) *ChartFile {
	for i := range st.Charts {
		if st.Charts[i].ID == id {
			return &st.Charts[i]
		}
	}
	return nil
}

// PhotoColour sets the colour of one photograph by what it shows: a chart, a
// grey card or a paper taken for white. The latest entry for a photograph
// counts.
type PhotoColour struct {
	Photo  Hash         `json:"photo" say:"the photograph"`
	Method ColourMethod `json:"method" say:"what the colour is set by"`
	// From is the photograph that was read, when it is another one of the same
	// light and camera settings.
	From Hash `json:"from,omitzero" say:"the photograph that was read" form:"like"`
	// Corners go round what was read, clockwise as the chart is read from its
	// first patch, as x and y in pixels of the upright photograph that was read.
	Corners [4][2]float64 `json:"corners_px" say:"the corners" form:"corners" as:"raw"`
	// Found is set when the program found the corners and no hand moved them.
	Found bool `json:"found,omitempty" say:"found by the program"`
	// Chart is the studio's chart; its name and source stand here as they were.
	Chart       string `json:"chart,omitempty" say:"the chart" as:"id"`
	ChartName   string `json:"chart_name,omitempty" say:"the chart's name"`
	ChartSource string `json:"chart_source,omitempty" say:"the source of the chart's values"`
	Rows        int    `json:"rows,omitempty" say:"the rows"`
	Columns     int    `json:"columns,omitempty" say:"the columns"`
	// Lightness is L* of the grey card, as its maker gives it.
	Lightness float64 `json:"lightness,omitempty" say:"the grey card's L*"`
	// Fit, Exponent and Coefficients are the correction, as of package colour.
	Fit          string       `json:"fit" say:"the fit" as:"raw"`
	Exponent     float64      `json:"exponent" say:"the exponent"`
	Coefficients [3][]float64 `json:"coefficients" say:"the coefficients" as:"raw"`
	// Profile names the meaning of the photograph's values that it starts from.
	Profile string `json:"profile" say:"the photograph's profile"`
	// Used patches went into the fit; LeftOut were over- or underexposed.
	Used    int `json:"used" say:"the patches used"`
	LeftOut int `json:"left_out,omitempty" say:"the patches left out"`
	// ErrorDE00 and ErrorHighDE00 say how far colours may be off: for a chart
	// the median and the 95th percentile of its patches when each is left out
	// of the fit, else rules of thumb.
	ErrorDE00     float64 `json:"error_de00" say:"the error" in:"0..100 dE00"`
	ErrorHighDE00 float64 `json:"error_high_de00" say:"the error" in:"0..200 dE00"`
}

func (PhotoColour) Kind() Kind { return "photo-colour" }

func (b PhotoColour) rules(k *check) {
	if b.Photo.IsZero() {
		k.refuse("photo", "The photograph is not named.")
	}
	if b.From == b.Photo && !b.From.IsZero() {
		k.refuse("like", "A photograph cannot have the light of itself: choose another.")
	}
	for _, p := range b.Corners {
		for _, v := range p {
			if math.IsNaN(v) || v < -2 || v > 1e6 {
				k.refuse("corners", "A corner lies at %g, which is not in the photograph.", v)
			}
		}
	}
	switch b.Method {
	case ByChart:
		if b.ChartName == "" {
			k.refuse("chart", "The chart is not chosen.")
		}
		k.number("chart_rows", "the number of rows", float64(b.Rows), 1, 100, "")
		k.number("chart_columns", "the number of columns", float64(b.Columns), 1, 100, "")
	case ByGreyCard:
		k.number("lightness", "the grey card's L*", b.Lightness, 10, 99, "")
	}
	if _, err := b.Correction(); err != nil {
		k.refuse("fit", "%s.", upper(err.Error()))
	}
}

func (b PhotoColour) apply(c *Case, s Stamp) error {
	c.Colours = append(c.Colours, Stamped[PhotoColour]{s, b})
	for _, h := range []Hash{b.Photo, b.From} {
		if !h.IsZero() && !slices.ContainsFunc(c.Photos, func(p Stamped[Photo]) bool { return p.Body.Hash == h }) {
			return Invalidf("photo", "The photograph %s is not in this case.", h.Short())
		}
	}
	return nil
}

// Correction is the correction that was kept. Of a chart's leave-one-out errors it
// has the median and the 95th percentile.
func (b *PhotoColour) Correction() (*colour.Correction, error) {
	c, err := colour.NewCorrection(colour.FitKind(b.Fit), b.Exponent, b.Coefficients)
	if err == nil && b.Method == "chart" {
		c.Kept(b.ErrorDE00, b.ErrorHighDE00)
	}
	return c, err
}

// ColourOf is what sets the colour of a photograph, or nil when nothing does.
//
// To measure in the photograph, decode it and apply the correction:
//
//	if x := c.ColourOf(hash); x != nil {
//		correction, err := x.Body.Correction()
//		…
//		img.Correct(correction) // package photo
//	}
//
// Two photographs may be compared by colour when both are set by a chart. How
// far their colours may be off by themselves is in ErrorDE00; a difference of
// two colours alike, such as of paper before and after, is surer than that.
func (c *Case) ColourOf(photograph Hash) *Stamped[PhotoColour] {
	return c.ColourAt(photograph, math.MaxInt64)
}

// ColourAt is what set the colour of a photograph when the entry seq was
// written: a comparison that was recorded rests on that, not on what came later.
func (c *Case) ColourAt(photograph Hash, seq int64) *Stamped[PhotoColour] {
	for i := len(c.Colours) - 1; i >= 0; i-- {
		if x := &c.Colours[i]; x.Seq < seq && x.Body.Photo == photograph {
			return x
		}
	}
	return nil
}
