package web

import (
	"context"
	"math"
	"net/http"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
)

// chartPage sets the colour of a photograph by what it shows: four corners on
// the picture, and what lies between them.
type chartPage struct {
	Page
	Photo  record.Stamped[record.Photo]
	Name   string
	Path   string // of the photograph's page
	Ways   []chartWay
	Way    chartWay
	Form   *Form
	Outer  bool // the corners go round a chart of several patches
	Corner [4]chartCorner
	// Radius is that of a handle in the picture's pixels.
	Radius float64
	Said   string // what was found, or not
	Sure   bool   // it was found
	Knows  string // what the way cannot know
	// HasCharts says that the studio has a chart.
	HasCharts bool
	// Likes are photographs of which this one may have the light; only when
	// that way is chosen.
	Likes []record.Choice
}

// chartWay is one thing by which colour may be set.
type chartWay struct {
	// Value is a method of the record, or "chart:" and the studio's chart.
	Value, Name   string
	On            bool
	Rows, Columns int
	chart         *record.ChartFile
}

// chartCorner is one handle.
type chartCorner struct {
	N              int
	X, Y           float64
	Name           string
	FieldX, FieldY string
}

var chartView = declare[chartPage]("photo_chart")

// Method is the way as the record names it.
func (w chartWay) Method() string {
	if w.chart != nil {
		return "chart"
	}
	return w.Value
}

// sameLight is the way that takes the colour over from another photograph.
const sameLight = "same-light"

// chartWays are the studio's charts, then what does without one. The first is
// what counts when nothing was chosen.
func chartWays(c *record.Case, x *record.Stamped[record.Photo], st *record.Studio) []chartWay {
	var list []chartWay
	for i := range st.Charts {
		if x := &st.Charts[i]; !x.Retired {
			list = append(
				list, chartWay{Value: "chart:" + x.ID, Name: x.Name, Rows: x.Rows, Columns: x.Columns, chart: x},
			)
		}
	}
	for _, m := range record.ColourMethods[1:] {
		list = append(list, chartWay{Value: m.Value, Name: upperFirst(m.Words), Rows: 1, Columns: 1})
	}
	if len(likes(c, x)) > 0 {
		list = append(list, chartWay{Value: sameLight, Name: "Same light as another"})
	}
	return list
}

// likes are the other photographs of the case whose colour is set by what they
// show, the latest first.
func likes(c *record.Case, x *record.Stamped[record.Photo]) (list []record.Choice) {
	for i := len(c.Photos) - 1; i >= 0; i-- {
		p := &c.Photos[i]
		set := c.ColourOf(p.Body.Hash)
		if set == nil || !set.Body.From.IsZero() || p.Body.Hash == x.Body.Hash {
			continue
		}
		says := thumbOf(c, p).Alt + ", by " + account.ColourBy(&set.Body)
		list = append(list, record.Choice{Value: p.Body.Hash.String(), Words: says})
	}
	return list
}

// wayOf is the way that a value names, nil when there is none.
func wayOf(list []chartWay, value string) *chartWay {
	for i := range list {
		if list[i].Value == value {
			return &list[i]
		}
	}
	return nil
}

func (s *Server) chartPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	st, err := s.store.Studio(r.Context())
	if err != nil {
		return err
	}
	ways := chartWays(c, x, st)
	set := c.ColourOf(x.Body.Hash)
	way := &ways[0]
	if set != nil {
		if was := wayOf(ways, wayValue(&set.Body)); was != nil {
			way = was
		}
	}
	asked := r.URL.Query().Get("with")
	if back := refusedOf(r.Context()); back != nil {
		asked = back.form.Value("with")
	}
	if named := wayOf(ways, asked); named != nil {
		way = named
	}
	way.On = true
	p := chartPage{
		Page: s.casePage(r, c, "results"), Photo: *x, Name: thumbOf(c, x).Alt, Path: photoPath(c, x.Body.Hash),
		Ways: ways, Way: *way, Outer: way.chart != nil,
	}
	p.Title = "Set the colour"
	fill := fills{"with": way.Value, "lightness": "50"}
	if set != nil {
		fill["corrects"] = strconv.FormatInt(set.Seq, 10)
		fill.plain("lightness", set.Body.Lightness)
	}
	if way.Value == sameLight {
		fill["like"] = likes(c, x)[0].Value
		if set != nil && !set.Body.From.IsZero() {
			fill["like"] = set.Body.From.String()
		}
	} else if err := s.fillCorners(r.Context(), &p, fill, set, way); err != nil {
		return err
	}
	p.Form = s.form(r, "chart", c.LastSeq, fill)
	p.HasCharts = ways[0].chart != nil
	switch way.Value {
	case "grey-card":
		p.Knows = greyKnows
	case "white-paper":
		p.Knows = whiteKnows
	case sameLight:
		p.Likes = likes(c, x)
		p.Knows = "Holds while lamps, distance and the camera’s exposure and balance stay as they were: set them by " +
			"hand. What changed passes into every colour, and nothing here can tell."
	}
	p.Radius = float64(x.Body.WidthPx) / 36
	p.corners()
	return chartView.show(s, w, r, p)
}

// fillCorners puts the handles where they lie at first.
func (s *Server) fillCorners(
	ctx context.Context,
	p *chartPage,
	fill fills,
	set *record.Stamped[record.PhotoColour],
	way *chartWay,
) error {
	quad, said, sure, err := s.startCorners(ctx, &p.Photo, set, way)
	if err != nil {
		return err
	}
	p.Said, p.Sure = said, sure
	if sure {
		fill["found"] = "yes"
	}
	for i, q := range quad {
		fill["x"+strconv.Itoa(i+1)], fill["y"+strconv.Itoa(i+1)] = pixelText(q[0]), pixelText(q[1])
	}
	return nil
}

func pixelText(v float64) string { return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) }

// corners fills the handles from the form: where it was refused, from what was
// typed, as far as that can be read.
func (p *chartPage) corners() {
	names := [4]string{"first patch", "end of the first row", "last patch", "beginning of the last row"}
	if !p.Outer {
		names = [4]string{"upper left", "upper right", "lower right", "lower left"}
	}
	for i := range p.Corner {
		k := strconv.Itoa(i + 1)
		c := chartCorner{N: i + 1, Name: names[i], FieldX: "x" + k, FieldY: "y" + k}
		c.X, c.Y = readPixel(p.Form, c.FieldX), readPixel(p.Form, c.FieldY)
		p.Corner[i] = c
	}
}

func readPixel(f *Form, field string) float64 {
	v, err := parseNumber(f.Line(field))
	if err != nil || math.Abs(v) > 1e6 {
		return 0
	}
	return v
}

// wayValue is the way that an entry was made by.
func wayValue(b *record.PhotoColour) string {
	if !b.From.IsZero() {
		return sameLight
	}
	if b.Method == "chart" {
		return "chart:" + b.Chart
	}
	return string(b.Method)
}

// startCorners are where the handles lie at first: where they lay when the
// colour was set, else where the chart is found, else in the middle.
func (s *Server) startCorners(
	ctx context.Context,
	x *record.Stamped[record.Photo],
	set *record.Stamped[record.PhotoColour],
	way *chartWay,
) (q pictures.Corners, said string, sure bool, err error) {
	if set != nil && wayValue(&set.Body) == way.Value {
		said = "These corners set the colour now; what you save takes their place."
		return set.Body.Corners, said, set.Body.Found, nil
	}
	w, h := float64(x.Body.WidthPx), float64(x.Body.HeightPx)
	if way.chart != nil {
		found, err := s.pictures.FindChart(ctx, &x.Body, way.chart)
		if err != nil {
			return q, "", false, err
		}
		if found != nil {
			return *found, "The chart was found. Look whether the four corners sit on it.", true, nil
		}
		said = "The chart was not found for certain: put the four corners on it by hand, 1 at its first patch."
		return middle(w, h, 0.5, float64(way.Columns)/float64(way.Rows)), said, false, nil
	}
	said = "Put the four corners on the grey card, a little inside its edge."
	if way.Value == "white-paper" {
		said = "Put the four corners on a bare piece of the paper, away from print and stains."
	}
	return middle(w, h, 0.15, 1), said, false, nil
}

// middle is a quadrilateral in the middle of a picture of w by h pixels, a
// share of it wide, of an aspect.
func middle(w, h, share, aspect float64) pictures.Corners {
	half := share / 2 * w
	high := half / aspect
	if most := 0.42 * h; high > most {
		half, high = half*most/high, most
	}
	x, y := w/2, h/2
	return pictures.Corners{{x - half, y - high}, {x + half, y - high}, {x + half, y + high}, {x - half, y + high}}
}

// errNoWay refuses a way that the page does not offer.
var errNoWay = record.Invalidf("with", "Choose what the colour is set by.")

// chosenWay is the way that a form names.
func chosenWay(c *record.Case, x *record.Stamped[record.Photo], st *record.Studio, f *Form) (*chartWay, error) {
	ways := chartWays(c, x, st)
	if way := wayOf(ways, f.Line("with")); way != nil {
		return way, nil
	}
	return nil, errNoWay
}
