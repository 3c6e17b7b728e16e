package web

import (
	"net/http"
	"slices"
	"strconv"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/words"
)

func (s *Server) routesPhoto(mux *http.ServeMux) {
	mux.Handle("GET /cases/{case}/photos/{hash}", s.doCase(s.photoPage))
	mux.Handle("GET /cases/{case}/photos/{hash}/corrected/{key}", s.doCase(s.photoCorrected))
	mux.Handle("GET /cases/{case}/photos/{hash}/chart", s.doCase(s.chartPage))
	mux.Handle("POST /cases/{case}/photos/{hash}/chart", s.doCase(s.chartSave))
}

// photoPage shows one photograph, and what sets its colour.
type photoPage struct {
	Page
	Photo  record.Stamped[record.Photo]
	Name   string
	Facts  []Fact
	Path   string // of this page
	Colour *colourState
}

// colourState is what a person is told of a photograph's colour.
type colourState struct {
	Entry     int64
	By        string // "the chart “…”"
	Knows     string
	Error     string // "0.9"
	ErrorHigh string
	Measured  bool // the errors were measured in the photograph
	Rests     string
	From      string // address of the photograph that was read, when it is another
	Corrected string // address of the corrected picture
}

var photoView = declare[photoPage]("photo")

// photoOf is the photograph that the address names, as the case has it.
func photoOf(r *http.Request, c *record.Case) (*record.Stamped[record.Photo], error) {
	h, err := record.ParseHash(r.PathValue("hash"))
	if err != nil {
		return nil, store.ErrNotFound
	}
	i := slices.IndexFunc(c.Photos, func(p record.Stamped[record.Photo]) bool { return p.Body.Hash == h })
	if i < 0 {
		return nil, store.ErrNotFound
	}
	return &c.Photos[i], nil
}

func photoPath(c *record.Case, h record.Hash) string { return casePath(c.ID, "photos/"+h.String()) }

func (s *Server) photoPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	t := thumbOf(c, x)
	p := photoPage{
		Page:  s.casePage(r, c, "results"),
		Photo: *x,
		Name:  t.Alt,
		Path:  photoPath(c, x.Body.Hash),
		Facts: s.photoFacts(&x.Body),
	}
	p.Title = t.Name
	if set := c.ColourOf(x.Body.Hash); set != nil {
		p.Colour = stateOf(c, set)
	}
	return photoView.show(s, w, r, p)
}

func (s *Server) photoFacts(b *record.Photo) []Fact {
	list := []Fact{
		{Name: "Shows", Value: upperFirst(b.Place.String())},
		{Name: "Light", Value: record.WordsOf(record.Lights, b.Light)},
	}
	if !b.Taken.IsZero() {
		taken := words.Clock{Language: words.English, Zone: s.zone}.Moment(b.Taken)
		list = append(list, Fact{Name: "Taken", Value: taken, Basis: "by the camera’s own clock"})
	}
	size := strconv.Itoa(b.WidthPx) + " × " + strconv.Itoa(b.HeightPx)
	list = append(list, Fact{Name: "Size", Value: size, Unit: "px"})
	if b.FileName != "" {
		list = append(list, Fact{Name: "File", Value: b.FileName})
	}
	if b.Credit != "" {
		list = append(list, Fact{Name: "Credit", Value: b.Credit})
	}
	return list
}

func stateOf(c *record.Case, set *record.Stamped[record.PhotoColour]) *colourState {
	b := &set.Body
	st := &colourState{
		Entry: set.Seq, By: account.ColourBy(b), Error: errorText(b.ErrorDE00), ErrorHigh: errorText(b.ErrorHighDE00),
		Measured: b.Method == "chart", Corrected: photoPath(c, b.Photo) + "/corrected/" + pictures.ColourKey(b),
	}
	if !b.From.IsZero() {
		st.From = photoPath(c, b.From)
	}
	switch b.Method {
	case "chart":
		st.Rests = plural(b.Used, "patch", "patches") + " by a " + b.Fit
		if b.LeftOut > 0 {
			st.Rests += "; " + strconv.Itoa(b.LeftOut) + " left out, over- or underexposed"
		}
		st.Rests += ". Values: " + b.ChartSource + "."
	case "grey-card":
		st.Knows = greyKnows
	default:
		st.Knows = whiteKnows
	}
	return st
}

// What the fallbacks cannot know, in a person's words.
const (
	greyKnows = "One grey sets exposure and balance; colours stay as the camera renders them. Changes of paper and " +
		"browns between two photographs set so hold to about 1 ΔE00; a colour by itself does not (common practice, " +
		"no source)."
	whiteKnows = "The paper’s own hue is not known and passes into every colour; brighteners make it bluer than it " +
		"looks. Compare only photographs that show the same piece of paper (common practice, no source)."
)

func errorText(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// photoCorrected sends a photograph with its colour set, for the screen.
func (s *Server) photoCorrected(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	x, err := photoOf(r, c)
	if err != nil {
		return err
	}
	set := c.ColourOf(x.Body.Hash)
	if set == nil || pictures.ColourKey(&set.Body) != r.PathValue("key") {
		return store.ErrNotFound
	}
	f, err := s.pictures.Corrected(r.Context(), &set.Body)
	if err != nil {
		return err
	}
	defer f.Close()
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("Content-Type", "image/jpeg")
	http.ServeContent(w, r, "", s.started, f)
	return nil
}
