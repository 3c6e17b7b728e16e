package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"
	"unicode"

	"benchleaf/internal/record"
	"benchleaf/photo"
)

const (
	// maxPhotoBytes is the largest photograph taken; a 100-megapixel camera's
	// files are smaller.
	maxPhotoBytes = 300 << 20
	maxPhotos     = 40 // in one form
	// uploadTime is how long a phone on a weak network may take.
	uploadTime = 30 * time.Minute
)

// upload is one photograph that came with a form.
type upload struct {
	name   string
	stored record.Photo
	err    error
}

// photoSave takes photographs: each is streamed to the store, looked at, and
// named by an entry. A file that is no good is refused by name; the others of
// the same form are kept.
func (s *Server) photoSave(w http.ResponseWriter, r *http.Request, c *record.Case) error {
	// The time may not be extendable on a connection that is not a socket.
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(uploadTime))
	r.Body = http.MaxBytesReader(w, r.Body, maxPhotos*maxPhotoBytes)
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
		b := u.stored
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
	sv.Items, sv.Said = fresh(c, sv.Items)
	if len(sv.Items) == 0 {
		f.Refuse("photo", "%s", sv.Said)
		return again(w, r, f, errRefused, page)
	}
	bad := f.Refused
	f.Refused = nil
	if len(bad) > 0 {
		sv.Said += fmt.Sprintf(" Not taken: %s", bad[0].Say)
	}
	for _, it := range sv.Items {
		s.deriver.start(it.Body.(record.Photo).Hash)
	}
	if err := s.save(w, r, f, sv, page); err != nil {
		return err
	}
	s.compareNew(r.Context(), c.ID, sv.Items)
	return nil
}

// fresh leaves out photographs that the case has in the same place already.
func fresh(c *record.Case, list []record.Item) ([]record.Item, string) {
	var out []record.Item
	twice := 0
	for _, it := range list {
		b := it.Body.(record.Photo)
		had := false
		for _, p := range c.Photos {
			had = had || p.Body.Hash == b.Hash && p.Body.Stage == b.Stage && p.Body.Place.String() == b.Place.String()
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
	p, err := s.store.PutPhoto(r.Context(), part, maxPhotoBytes)
	if err != nil {
		if _, ok := record.Refusals(err); ok {
			u.err = err
			// The rest of a file that is too large is passed over.
			if _, err := io.Copy(io.Discard, part); err != nil {
				return u, brokenOff(err)
			}
			return u, nil
		}
		if r.Context().Err() != nil || errors.Is(err, io.ErrUnexpectedEOF) {
			return u, brokenOff(err)
		}
		return u, err
	}
	info, err := s.lookAt(p.Hash)
	if err != nil {
		u.err = err
		return u, s.store.DropPhoto(r.Context(), p)
	}
	u.stored = record.Photo{
		Hash:     p.Hash,
		FileName: u.name,
		Bytes:    p.Bytes,
		Format:   strings.ToLower(info.Format),
		WidthPx:  info.Width,
		HeightPx: info.Height,
	}
	if info.TakenKnown && info.Taken.Year() > 1990 && info.Taken.Before(s.now().Add(48*time.Hour)) {
		u.stored.Taken = info.Taken
		if !info.TakenZoneKnown {
			t := info.Taken
			u.stored.Taken = time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, s.zone)
		}
	}
	return u, nil
}

// lookAt decodes the whole picture, since a header alone does not show that a
// file is cut off.
func (s *Server) lookAt(h record.Hash) (photo.Info, error) {
	f, err := s.store.OpenPhoto(h)
	if err != nil {
		return photo.Info{}, err
	}
	defer f.Close()
	s.deriver.quick <- struct{}{} // one decoded photograph at a time
	defer func() { <-s.deriver.quick }()
	_, info, err := photo.Decode(f, photo.DefaultLimits)
	return info, err
}

// sentenceOf is the sentence for a person in an error about a file.
func sentenceOf(err error) string {
	var p *photo.Problem
	if errors.As(err, &p) {
		return p.Say
	}
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
