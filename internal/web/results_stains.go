package web

import (
	"net/http"
	"strconv"

	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
)

// mostProposed is how many proposals are listed, the largest first: more are
// not looked at one by one.
const mostProposed = 60

// areasKeep records the proposals that were ticked, each with its look.
func (s *Server) areasKeep(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "found")
	if err != nil {
		return err
	}
	of, err := pairAsked(c, f.values)
	if err != nil {
		return err
	}
	stains := s.pictures.Stains(of.Before)
	if stains == nil {
		return record.Invalidf("keep", "The proposals are no longer there: look for stains once more.")
	}
	sv := Saving{Case: c.ID, To: facePath(c, of) + "#areas"}
	for i, v := range f.List("keep") {
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 || n >= len(stains.Found) {
			f.Refuse("keep", "There is no proposal %q.", clip(v))
			break
		}
		out := pictures.Hundredths(stains.Found[n].DE00)
		// The paper round it was read when it was found; that of the after
		// picture is read when the area is looked at.
		list, err := s.areaItems(r.Context(), c, f, of, record.AreaOutlined{
			ID:            f.ID(i),
			Photo:         of.Before,
			Place:         c.PhotoByHash(of.Before).Body.Place,
			Look:          record.AreaLook(f.Line("look-" + strconv.Itoa(n))),
			FoundBy:       record.AreaMeasured,
			OutlinePx:     stains.Found[n].Outline,
			StandsOutDE00: &out,
		}, false)
		if err != nil {
			f.Refuse("keep", "%s", sentenceOf(err))
			break
		}
		sv.Items = append(sv.Items, list...)
		sv.Said = plural(i+1, "area", "areas") + " kept."
	}
	if len(f.List("keep")) == 0 {
		f.Refuse("keep", "Nothing is ticked: tick the proposals that you see on the sheet too.")
	}
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, s.inCase(s.resultsAgain(of)))
	}
	return s.save(w, r, f, sv, s.inCase(s.resultsAgain(of)))
}

// resultsAgain shows the results of a pair to which a form was sent.
func (s *Server) resultsAgain(of pictures.Pair) caseHandler {
	return func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		q := r.URL.Query()
		for k, v := range pairQuery(of) {
			q[k] = v
		}
		r = r.Clone(r.Context())
		r.URL.RawQuery = q.Encode()
		return s.results(w, r, c)
	}
}
