package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

// stainsName is what the cache keeps of the stains found on a photograph; raise
// it when package photo would find others.
const stainsName = "stains-2.json"

func stainsKey(h record.Hash) string { return "stains/" + h.String() }

// beginStains looks for stains on a photograph in the background. What is found
// is proposed, not recorded.
func (s *Server) beginStains(h record.Hash) *derivation {
	d := s.deriver
	return d.begin(stainsKey(h), d.slow, func(ctx context.Context, x *derivation) error {
		x.tell(0, "reading the photograph")
		img, err := d.decode(h)
		if err != nil {
			return err
		}
		found, err := photo.FindStains(
			ctx,
			img,
			photo.StainOptions{Progress: func(share float64, doing string) { x.tell(0.1+0.9*share, doing) }},
		)
		if err != nil {
			return err
		}
		found.Mask = nil // as large as the picture, and outlines say the same
		raw, err := json.Marshal(found)
		if err != nil {
			return fmt.Errorf("write the stains found: %w", err)
		}
		return d.store.PutDerived(h, stainsName, func(w io.Writer) error {
			_, err := w.Write(raw)
			return err
		})
	})
}

// found are the stains that were found on a photograph; nil when none were
// looked for.
func (s *Server) found(h record.Hash) *photo.Stains {
	f, err := s.store.OpenDerived(h, stainsName)
	if err != nil {
		return nil
	}
	defer f.Close()
	var x photo.Stains
	if json.NewDecoder(f).Decode(&x) != nil {
		return nil
	}
	return &x
}

// mostProposed is how many proposals are listed, the largest first: more are
// not looked at one by one.
const mostProposed = 60

// areasKeep records the proposals that were ticked, each with its look.
func (s *Server) areasKeep(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	f, err := s.sent(w, r, "found")
	if err != nil {
		return err
	}
	of, err := picturesOf(c, f.values)
	if err != nil {
		return err
	}
	found := s.found(of.Before)
	if found == nil {
		return record.Invalidf("keep", "The proposals are no longer there: look for stains once more.")
	}
	sv := Saving{Case: c.ID, To: facePath(c, of) + "#areas"}
	for i, v := range f.List("keep") {
		n, err := strconv.Atoi(v)
		if err != nil || n < 0 || n >= len(found.Regions) {
			f.Refuse("keep", "There is no proposal %q.", clip(v))
			break
		}
		look := f.Line("look-" + strconv.Itoa(n))
		b := record.AreaOutlined{
			ID:        f.ID(i),
			Photo:     of.Before,
			Place:     c.PhotoByHash(of.Before).Body.Place,
			Look:      record.AreaLook(look),
			FoundBy:   "measured",
			OutlinePx: ringsOf(found.Regions[n].Outline),
		}
		out := hundredths(found.Regions[n].MeanDE00)
		b.StandsOutDE00 = &out
		// The paper round it was read when it was found; that of the after
		// picture is read when the area is looked at.
		list, err := s.areaItems(r.Context(), c, f, of, b, false)
		if err != nil {
			f.Refuse("keep", "%s", areaSentence(err))
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
func (s *Server) resultsAgain(of facePictures) caseHandler {
	return func(w http.ResponseWriter, r *http.Request, c *record.Case) error {
		q := r.URL.Query()
		for k, v := range of.query() {
			q[k] = v
		}
		r = r.Clone(r.Context())
		r.URL.RawQuery = q.Encode()
		return s.results(w, r, c)
	}
}
