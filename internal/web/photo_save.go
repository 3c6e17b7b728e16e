package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"
	"unicode"

	"benchleaf/internal/account"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
)

const (
	maxPhotos = 40 // in one form
	// uploadTime is how long it may take to look at what was sent.
	uploadTime = 30 * time.Minute
)

// upload is one photograph that came with a form.
type upload struct {
	*pictures.Upload
	name string
	err  error
}

// photoSave takes photographs: each is streamed to the store, looked at, and
// named by an entry. A file that is no good is refused by name; the others of
// the same form are kept.
func (s *Server) photoSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	s.pacedUpload(w, r)
	limitBody(w, r, maxPhotos*pictures.MaxBytes)
	values, uploads, err := s.receive(r)
	if err != nil {
		return err
	}
	f := s.formOf(r, "photo", values)
	place := record.Place{Sheets: f.Sheets("sheets"), Face: record.Face(f.Line("face")), Words: f.Line("place_words")}
	sv := Saving{Case: c.ID, To: backOr(f, casePath(c.ID, "photos"))}
	for i := range uploads {
		u := &uploads[i]
		if u.err != nil {
			f.Refuse("photo", "%s: %s", u.name, sentenceOf(u.err))
			continue
		}
		b := u.Photo
		values.Add("photo", b.Hash.String()) // other photographs make another form
		b.Stage, b.Light = record.Stage(f.Line("stage")), record.Light(f.Line("light"))
		b.Place, b.Caption, b.Run = place, f.Line("caption"), f.Line("run")
		sv.Items = append(sv.Items, record.Item{Body: b})
	}
	page := s.inCase(s.photoNew)
	switch {
	case len(uploads) == 0:
		f.Refuse("photo", "No photograph is chosen: take one, or choose files.")
		return again(w, r, f, errRefused, page)
	case len(sv.Items) == 0:
		return again(w, r, f, errRefused, page)
	}
	sv.Items, sv.Said = fresh(c, f.Key, sv.Items)
	if len(sv.Items) == 0 {
		f.Refuse("photo", "%s", sv.Said)
		return again(w, r, f, errRefused, page)
	}
	bad := f.Refused
	f.Refused = nil
	if len(bad) > 0 {
		sv.Said += fmt.Sprintf(" Not taken: %s", bad[0].Say)
	}
	if err := s.save(w, r, f, sv, page); err != nil {
		return err
	}
	s.keepNew(r.Context(), c.ID, uploads)
	return nil
}

// keepNew keeps what was made of photographs that the record has taken, and begins
// the comparisons that they make possible.
func (s *Server) keepNew(ctx context.Context, id record.CaseID, uploads []upload) {
	c, err := s.store.Case(ctx, id)
	if err != nil {
		return // pages make what they miss
	}
	taken := map[record.Hash]bool{}
	for _, u := range uploads {
		if u.err != nil || c.PhotoByHash(u.Photo.Hash) == nil {
			continue
		}
		taken[u.Photo.Hash] = true
		if err := s.pictures.Keep(u.Upload); err != nil {
			s.log.Warn("the sizes of a photograph were not kept", "photograph", u.Photo.Hash.Short(), "error", err)
		}
	}
	for _, p := range account.FacePairs(c) {
		if p.After != nil && (taken[p.Before.Body.Hash] || taken[p.After.Body.Hash]) {
			s.pictures.BeginCompare(c, pictures.PairOf(c, p.Before.Body.Hash, p.After.Body.Hash))
		}
	}
}

// fresh leaves out photographs that the case has in the same place already. Those that
// came with this very form stay: it was sent again, and is answered as it was.
func fresh(c *record.Case, key string, list []record.Item) ([]record.Item, string) {
	var out []record.Item
	twice := 0
	for _, it := range list {
		b := it.Body.(record.Photo)
		had := false
		for _, p := range c.Photos {
			had = had || p.Body.Hash == b.Hash && p.Body.Stage == b.Stage && p.Body.Place.String() == b.Place.String() &&
				!slices.ContainsFunc(c.Log, func(l record.Line) bool { return l.Entry.Seq == p.Seq && l.Entry.Key == key })
		}
		for _, o := range out {
			had = had || o.Body.(record.Photo).Hash == b.Hash
		}
		if had {
			twice++
			continue
		}
		out = append(out, it)
	}
	said := plural(len(out), "photograph", "photographs") + " added."
	if twice > 0 {
		said += " " + plural(
			twice,
			"photograph is",
			"photographs are",
		) + " in the record already: the very same file, at the same place and stage."
	}
	return out, strings.TrimPrefix(said, "0 photographs added. ")
}

// receive reads a form with files; each file goes straight to the store.
func (s *Server) receive(r *http.Request) (url.Values, []upload, error) {
	in, err := r.MultipartReader()
	if err != nil {
		return nil, nil, record.Invalidf("photo", "The photographs did not arrive whole: send them again.")
	}
	values := url.Values{}
	var uploads []upload
	var text int64
	for {
		part, err := in.NextPart()
		if errors.Is(err, io.EOF) {
			return values, uploads, nil
		}
		if err != nil {
			return nil, nil, brokenOff(err)
		}
		// A name counts too: thousands of parts without a word are no form either.
		if text += int64(64 + len(part.FormName())); text > maxForm {
			return nil, nil, &http.MaxBytesError{Limit: maxForm}
		}
		if part.FileName() == "" && part.FormName() != "photo" {
			b, err := io.ReadAll(io.LimitReader(part, maxForm-text+1))
			text += int64(len(b))
			if err != nil {
				return nil, nil, brokenOff(err)
			}
			if text > maxForm {
				return nil, nil, &http.MaxBytesError{Limit: maxForm}
			}
			values.Add(part.FormName(), string(b))
			continue
		}
		if part.FileName() == "" {
			continue // a field for files left empty
		}
		if len(uploads) == maxPhotos {
			return nil, nil, record.Invalidf(
				"photo",
				"At most %d photographs fit in one form: send the rest in a second one.",
				maxPhotos,
			)
		}
		u, err := s.receivePhoto(r, part)
		if err != nil {
			return nil, nil, err
		}
		uploads = append(uploads, u)
	}
}

// brokenOff tells a connection that ended from a form that is too large.
func brokenOff(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return err
	}
	return record.Invalidf(
		"photo",
		"The connection ended before everything was here: nothing was saved. Send it again.",
	)
}

// receivePhoto stores one file and looks whether it is a picture. The error is
// for what concerns the whole form; a bad file is in the upload.
func (s *Server) receivePhoto(r *http.Request, part *multipart.Part) (upload, error) {
	u := upload{name: plainName(part.FileName())}
	var err error
	if u.Upload, err = s.pictures.Receive(r.Context(), part, s.now().In(s.zone)); err == nil {
		u.Photo.FileName = u.name
		return u, nil
	}
	if _, refused := record.Refusals(err); refused {
		u.err = err
		// The rest of a file that is too large is passed over.
		_, err = io.Copy(io.Discard, part)
	}
	if err != nil && (u.err != nil || r.Context().Err() != nil || errors.Is(err, io.ErrUnexpectedEOF)) {
		return u, brokenOff(err)
	}
	return u, err
}

// sentenceOf is the sentence for a person in an error about a file.
func sentenceOf(err error) string {
	if list, ok := record.Refusals(err); ok && len(list) > 0 {
		return list[0].Say
	}
	return "It cannot be read as a picture."
}

// plainName is a file's own name without folders and odd characters.
func plainName(s string) string {
	s = path.Base(strings.ReplaceAll(s, `\`, "/"))
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, s)
	return clip(s)
}

// backOr is where a form wants to go back to, or another path.
func backOr(f *Form, otherwise string) string {
	if to := backOf(f.Line("back")); to != "/" {
		return to
	}
	return otherwise
}
