package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesComparison(mux *http.ServeMux) {
	mux.Handle("GET /photos/{hash}/tiles/{tile}", s.do(s.photoTile))
	mux.Handle("GET /compared/{form}/{before}/{after}/{set}/{layer}/{tile}", s.do(s.comparedTile))
	mux.Handle("GET /cases/{case}/comparison", s.doCase(s.comparison))
	mux.Handle("POST /cases/{case}/comparison", s.doCase(s.comparisonAct))
	mux.Handle("POST /cases/{case}/compared", s.doCase(s.comparedSave))
}

// pairQuery is a pair in an address.
func pairQuery(p pictures.Pair) url.Values {
	v := url.Values{"before": {p.Before.String()}}
	if !p.After.IsZero() {
		v.Set("after", p.After.String())
	}
	return v
}

// pairAsked reads the pair that a request names; both must be photographs of the
// case.
func pairAsked(c *record.Case, v url.Values) (pictures.Pair, error) {
	var hashes [2]record.Hash
	for i, name := range []string{"before", "after"} {
		given := v.Get(name)
		if given == "" && name == "after" {
			continue
		}
		h, err := record.ParseHash(given)
		if err != nil || c.PhotoByHash(h) == nil {
			return pictures.Pair{}, store.ErrNotFound
		}
		hashes[i] = h
	}
	return pictures.PairOf(c, hashes[0], hashes[1]), nil
}

// layerTiles is the address of a layer's tiles.
func layerTiles(p pictures.Pair, layer string) string {
	parts := []string{"/compared", pictures.CompareForm, p.Before.String(), p.After.String(), p.Set(), layer, ""}
	return strings.Join(parts, "/")
}

// photoTile sends a tile of a photograph as it was taken.
func (s *Server) photoTile(w http.ResponseWriter, r *http.Request) error {
	h, err := record.ParseHash(r.PathValue("hash"))
	if err != nil {
		return store.ErrNotFound
	}
	return s.tile(w, r, func(level, column, row int) ([]byte, error) { return s.pictures.Tile(h, level, column, row) })
}

// comparedTile sends a tile of the aligned picture or of a map.
func (s *Server) comparedTile(w http.ResponseWriter, r *http.Request) error {
	before, err := record.ParseHash(r.PathValue("before"))
	after, err2 := record.ParseHash(r.PathValue("after"))
	of := pictures.Pair{Before: before, After: after, Colour: pictures.SetOf(r.PathValue("set"))}
	if err != nil || err2 != nil || r.PathValue("form") != pictures.CompareForm || !hexOnly(of.Colour) {
		return store.ErrNotFound
	}
	return s.tile(w, r, func(level, column, row int) ([]byte, error) {
		return s.pictures.LayerTile(of, r.PathValue("layer"), level, column, row)
	})
}

// tile sends a tile. It is made once from what never changes, and its address
// carries the form that it was made in.
func (s *Server) tile(w http.ResponseWriter, r *http.Request, read func(level, column, row int) ([]byte, error)) error {
	level, column, row, ok := parseTile(r.PathValue("tile"))
	if !ok {
		return store.ErrNotFound
	}
	etag := `"` + r.URL.Path + `"`
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	data, err := read(level, column, row)
	if err != nil {
		return err
	}
	w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Header().Set("ETag", etag)
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Content-Length", strconv.Itoa(len(data)))
	if _, err := w.Write(data); err != nil {
		s.log.Debug("a tile was not taken", "path", r.URL.Path, "error", err)
	}
	return nil
}

func hexOnly(s string) bool {
	return len(s) <= 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// parseTile reads "level-column-row".
func parseTile(s string) (level, column, row int, ok bool) {
	parts := strings.Split(s, "-")
	if len(parts) != 3 {
		return 0, 0, 0, false
	}
	var n [3]int
	for i, p := range parts {
		v, err := strconv.ParseUint(p, 10, 16)
		if err != nil {
			return 0, 0, 0, false
		}
		n[i] = int(v)
	}
	return n[0], n[1], n[2], true
}

// comparison tells the page's own code how far a comparison is.
func (s *Server) comparison(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	_, job, err := jobAsked(c, r.URL.Query())
	if err != nil {
		return err
	}
	x, _ := s.pictures.State(job)
	said := map[string]any{"under": x != nil}
	if x != nil {
		share, doing := x.Progress()
		said["share"], said["doing"] = share, upperFirst(doing)
	}
	return tell(w, http.StatusOK, said)
}

// jobAsked is the work that a request speaks of: a comparison, or the stains of
// one picture.
func jobAsked(c *record.Case, v url.Values) (pictures.Pair, pictures.Job, error) {
	of, err := pairAsked(c, v)
	if v.Get("work") == "stains" {
		return of, pictures.StainsJob(of.Before), err
	}
	return of, of.Job(), err
}

// comparisonAct begins a piece of work or stops it.
func (s *Server) comparisonAct(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "comparison")
	if err != nil {
		return err
	}
	of, job, err := jobAsked(c, f.values)
	if err != nil {
		return err
	}
	switch {
	case f.Line("act") == "stop":
		s.pictures.Stop(job)
	case f.Line("work") == "stains":
		s.pictures.BeginStains(of.Before)
	default:
		s.pictures.BeginCompare(c, of)
	}
	http.Redirect(w, r, backOr(f, casePath(c.ID, "results")), http.StatusSeeOther)
	return nil
}

// comparedSave takes the numbers of a comparison into the record.
func (s *Server) comparedSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "compared")
	if err != nil {
		return err
	}
	of, err := pairAsked(c, f.values)
	if err != nil {
		return err
	}
	done := s.pictures.Numbers(of)
	if !done.Laid() {
		return record.Invalidf("", "These two photographs are not compared, so there is nothing to record.")
	}
	b := done.Body(c, of)
	said := "Recorded: what changed on " + b.Place.String() + "."
	sv := Saving{Case: c.ID, Items: items(b), To: facePath(c, of), Said: said}
	return s.save(w, r, f, sv, s.inCase(s.resultsAgain(of)))
}
