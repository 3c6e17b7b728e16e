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
	ID   string `json:"id"`
	Name string `json:"name"`
	// Source says whose values they are: the maker's, or a measurement with
	// its date and instrument.
	Source   string `json:"source"`
	FileName string `json:"file_name,omitempty"`
	// Rows and Columns are how the patches lie, the first row first.
	Rows    int `json:"rows"`
	Columns int `json:"columns"`
	// Text is the file: CGATS, or CSV with a header line. Values are CIELAB
	// under D50, or XYZ with 100 for white.
	Text    string `json:"text"`
	Retired bool   `json:"retired,omitempty"`
}

func (ChartFile) Kind() Kind { return "chart" }

func (b ChartFile) Validate() error {
	var k check
	k.id("chart", "the chart", b.ID)
	k.line("chart_name", "the name", b.Name)
	k.line("chart_source", "the source of the values", b.Source)
	k.maybeLine("chart_file", "the file's name", b.FileName)
	k.number("chart_rows", "the number of rows", float64(b.Rows), 1, 100, "")
	k.number("chart_columns", "the number of columns", float64(b.Columns), 1, 100, "")
	switch {
	case strings.TrimSpace(b.Text) == "":
		k.refuse("chart_file", "The file with the chart's values is missing: choose a CGATS text file or a CSV file.")
	case len(b.Text) > MaxChartBytes:
		k.refuse(
			"chart_file",
			"The file of the chart's values has %d kB; at most %d kB are kept.",
			len(b.Text)>>10,
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
	return k.err()
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
			"chart_rows",
			"%d rows of %d make %d patches, and the file has %d.",
			b.Rows,
			b.Columns,
			b.Rows*b.Columns,
			len(c.Patches),
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
	Photo  Hash         `json:"photo"`
	Method ColourMethod `json:"method"`
	// From is the photograph that was read, when it is another one of the same
	// light and camera settings.
	From Hash `json:"from,omitzero"`
	// Corners go round what was read, clockwise as the chart is read from its
	// first patch, as x and y in pixels of the upright photograph that was read.
	Corners [4][2]float64 `json:"corners_px"`
	// Found is set when the program found the corners and no hand moved them.
	Found bool `json:"found,omitempty"`
	// Chart is the studio's chart; its name and source stand here as they were.
	Chart       string `json:"chart,omitempty"`
	ChartName   string `json:"chart_name,omitempty"`
	ChartSource string `json:"chart_source,omitempty"`
	Rows        int    `json:"rows,omitempty"`
	Columns     int    `json:"columns,omitempty"`
	// Lightness is L* of the grey card, as its maker gives it.
	Lightness float64 `json:"lightness,omitempty"`
	// Fit, Exponent and Coefficients are the correction, as of package colour.
	Fit          string       `json:"fit"`
	Exponent     float64      `json:"exponent"`
	Coefficients [3][]float64 `json:"coefficients"`
	// Profile names the meaning of the photograph's values that it starts from.
	Profile string `json:"profile"`
	// Used patches went into the fit; LeftOut were over- or underexposed.
	Used    int `json:"used"`
	LeftOut int `json:"left_out,omitempty"`
	// ErrorDE00 and ErrorHighDE00 say how far colours may be off: for a chart
	// the median and the 95th percentile of its patches when each is left out
	// of the fit, else rules of thumb.
	ErrorDE00     float64 `json:"error_de00"`
	ErrorHighDE00 float64 `json:"error_high_de00"`
}

func (PhotoColour) Kind() Kind { return "photo-colour" }

func (b PhotoColour) Validate() error {
	var k check
	if b.Photo.IsZero() {
		k.refuse("photo", "The photograph is not named.")
	}
	if b.From == b.Photo && !b.From.IsZero() {
		k.refuse("like", "A photograph cannot have the light of itself: choose another.")
	}
	k.choice("method", "what the colour is set by", string(b.Method), ColourMethods)
	for _, p := range b.Corners {
		for _, v := range p {
			if math.IsNaN(v) || v < -2 || v > 1e6 {
				k.refuse("corners", "A corner lies at %g, which is not in the photograph.", v)
			}
		}
	}
	k.maybeID("chart", "the chart", b.Chart)
	k.maybeLine("chart_name", "the chart's name", b.ChartName)
	k.maybeLine("chart_source", "the source of the chart's values", b.ChartSource)
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
	k.line("profile", "the photograph's profile", b.Profile)
	k.number("error_de00", "the error", b.ErrorDE00, 0, 100, "dE00")
	k.number("error_high_de00", "the error", b.ErrorHighDE00, 0, 200, "dE00")
	if _, err := b.Correction(); err != nil {
		k.refuse("fit", "%s.", upper(err.Error()))
	}
	return k.err()
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
