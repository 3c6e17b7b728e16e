package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesPhotos(mux *http.ServeMux) {
	mux.Handle("GET /photos/{hash}/{size}", s.do(s.photoServe))
	mux.Handle("GET /cases/{case}/photos", s.doCase(s.photosPage))
	mux.Handle("GET /cases/{case}/photos/new", s.doCase(s.photoNew))
	mux.Handle("POST /cases/{case}/photos", s.doCase(s.photoSave))
}

// photoServe sends a photograph: a screen size, or the original as it came.
func (s *Server) photoServe(w http.ResponseWriter, r *http.Request) error {
	h, err := record.ParseHash(r.PathValue("hash"))
	if err != nil {
		return store.ErrNotFound
	}
	// What a hash names never changes.
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("ETag", `"`+h.String()+"/"+r.PathValue("size")+`"`)
	if r.PathValue("size") == "original" {
		f, err := s.store.OpenPhoto(h)
		if err != nil {
			return err
		}
		defer f.Close()
		// Whatever the file holds, a browser is to save it and not to run it.
		w.Header().Set("Content-Type", "application/octet-stream")
		w.Header().Set("Content-Disposition", `attachment; filename="`+s.originalName(r, h)+`"`)
		info, err := f.Stat()
		if err != nil {
			return err
		}
		http.ServeContent(w, r, "", info.ModTime(), f)
		return nil
	}
	f, err := s.pictures.Open(r.Context(), h, r.PathValue("size"))
	if err != nil {
		w.Header().Del("Cache-Control")
		return err
	}
	defer f.Close()
	w.Header().Set("Content-Type", "image/jpeg")
	http.ServeContent(w, r, "", s.started, f)
	return nil
}

// originalName is a safe name for a saved original.
func (s *Server) originalName(r *http.Request, h record.Hash) string {
	ext := "bin"
	switch f := r.URL.Query().Get("format"); f {
	case "jpeg", "png", "tiff", "heic":
		ext = f
	}
	return "photograph-" + h.Short() + "." + ext
}

// photosPage shows every photograph of a case, by place and stage.
type photosPage struct {
	Page
	Groups []photoGroup
	Empty  Empty
}

type photoGroup struct {
	Name   string
	Thumbs []Thumb
}

var photosView = declare[photosPage]("photos")

func (s *Server) photosPage(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	p := photosPage{Page: s.casePage(r, c, "results"), Groups: groupPhotos(c, c.Photos)}
	p.Title = "Photographs"
	p.Empty = Empty{
		Title: "No photographs yet",
		Text:  "Four of the object as it arrived are a good beginning: both outsides, the worst place, the staples.",
		Act:   "Add photographs",
		Href:  casePath(c.ID, "photos/new"),
	}
	return photosView.show(s, w, r, p)
}

// groupPhotos puts photographs under their sheets, the whole object first.
func groupPhotos(c *record.Case, photos []record.Stamped[record.Photo]) []photoGroup {
	var groups []photoGroup
	keys := []int{-1}
	keys = append(keys, c.Sheets()...)
	for _, n := range keys {
		g := photoGroup{Name: "The whole object"}
		if n >= 0 {
			g.Name = upperFirst(record.SheetName(n))
		}
		for _, p := range photos {
			on := p.Body.Place.Sheets
			if n < 0 && len(on) == 0 || n >= 0 && slices.Contains(on, n) {
				t := thumbOf(c, &p)
				t.Href = photoPath(c, p.Body.Hash)
				if set := c.ColourOf(p.Body.Hash); set != nil {
					t.Note = strings.TrimPrefix(t.Note+"; colour set by "+account.ColourBy(&set.Body), "; ")
				}
				g.Thumbs = append(g.Thumbs, t)
			}
		}
		if len(g.Thumbs) > 0 {
			groups = append(groups, g)
		}
	}
	return groups
}

func thumbOf(c *record.Case, p *record.Stamped[record.Photo]) Thumb {
	b := &p.Body
	name := account.StageWords(c, p)
	if b.Place.Face != "" {
		name += ", " + record.WordsOf(record.Faces, b.Place.Face)
	}
	if b.Light != record.LightNormal {
		name += ", " + record.WordsOf(record.Lights, b.Light)
	}
	alt := b.Caption
	if alt == "" {
		alt = b.Place.String() + ", " + name
	}
	return Thumb{
		Href: "/photos/" + b.Hash.String() + "/large",
		Src:  "/photos/" + b.Hash.String() + "/small",
		Alt:  alt,
		Name: upperFirst(name),
		Note: b.Caption,
	}
}

// photoNewPage takes photographs from a camera or from files.
type photoNewPage struct {
	Page
	Form   *Form
	Sheets []int
	Run    string
}

var photoNewView = declare[photoNewPage]("photo_new")

// lightBefore is the light of the case's last photograph, which the next one is
// mostly taken in; the form shows it.
func lightBefore(c *record.Case) string {
	if n := len(c.Photos); n > 0 {
		return string(c.Photos[n-1].Body.Light)
	}
	return ""
}

func (s *Server) photoNew(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	q := r.URL.Query()
	fill := map[string]string{
		"stage": string(account.StageNow(c)),
		"light": lightBefore(c),
		"face":  q.Get("face"),
		"run":   q.Get("run"),
		"back":  q.Get("back"),
	}
	if n, err := strconv.Atoi(q.Get("sheet")); err == nil {
		fill["sheets"] = strconv.Itoa(n)
	}
	if st := q.Get("stage"); st != "" {
		fill["stage"] = st
	}
	p := photoNewPage{
		Page:   s.casePage(r, c, ""),
		Form:   s.form(r, "photo", c.LastSeq, fill),
		Sheets: c.Sheets(),
		Run:    q.Get("run"),
	}
	p.Title = "Add photographs"
	return photoNewView.show(s, w, r, p)
}
