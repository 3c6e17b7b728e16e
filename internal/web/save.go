package web

import (
	"encoding/base64"
	"encoding/json"
	"errors"
	"net/http"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// Saving is what an act asks of the record.
type Saving struct {
	// Case is the journal that Items go into; its page's seq comes with the
	// form.
	Case  record.CaseID
	Items []record.Item
	// Also are drafts for other journals (Key, By and Zone are filled in), written
	// all together or not at all.
	Also []record.Draft
	// To is where the browser goes on, Said what it says there.
	To   string
	Said string
	// Final leaves out the offer to undo, for what an entry cannot take back.
	Final bool
}

// items makes the items of a saving from bodies that correct nothing.
func items(bodies ...record.Body) []record.Item {
	list := make([]record.Item, len(bodies))
	for i, b := range bodies {
		list[i] = record.Item{Body: b}
	}
	return list
}

// save writes what a form brought and sends the browser on. When the form or
// the record refuses, the page is shown again with what was typed and the
// sentences at their fields; when others wrote meanwhile, with their entries.
func (s *Server) save(w http.ResponseWriter, r *http.Request, f *Form, sv Saving, page handler) error {
	s.validate(f, sv)
	if len(f.Refused) > 0 {
		return again(w, r, f, errRefused, page)
	}
	a, err := s.once.do(f.sum(), func() (*answer, error) { return s.append(r, f, sv) })
	if err != nil {
		return s.refuse(w, r, f, err, page)
	}
	s.rememberWriter(w, f.By)
	setFlash(w, a.flash)
	return goOn(w, r, a)
}

// validate gathers all that can be said before the store is asked, so that a
// person sees every refusal at once.
func (s *Server) validate(f *Form, sv Saving) {
	if f.By == "" {
		f.Refuse("by", "Who is writing? Enter your initials.")
	} else if !initials(f.By) {
		f.Refuse("by", notInitials)
	}
	check := func(items []record.Item) {
		for _, it := range items {
			if list, ok := record.Refusals(record.Validate(it.Body)); ok {
				f.take(list)
			}
		}
	}
	check(sv.Items)
	for _, d := range sv.Also {
		check(d.Items)
	}
}

func (s *Server) append(r *http.Request, f *Form, sv Saving) (*answer, error) {
	var drafts []record.Draft
	if len(sv.Items) > 0 {
		drafts = append(drafts, record.Draft{Case: sv.Case, Expect: f.Seq, Items: sv.Items})
	}
	drafts = append(drafts, sv.Also...)
	if len(drafts) == 0 {
		return nil, record.Invalidf("", "There is nothing to write.")
	}
	if err := s.mayTakeBack(r, drafts); err != nil {
		return nil, err
	}
	for i := range drafts {
		drafts[i].Key, drafts[i].By, drafts[i].Zone = f.Key, f.By, s.zoneName()
	}
	entries, err := s.store.Append(r.Context(), drafts...)
	if err != nil {
		return nil, err
	}
	s.news.tell()
	first, last := ours(entries, drafts[0].Case)
	a := &answer{to: sv.To, flash: Flash{Said: sv.Said}, first: first, last: last}
	if !sv.Final {
		a.flash.Undo = f.Key
	}
	return a, nil
}

// mayTakeBack refuses what takes back where backups go, or whether they are encrypted,
// from another device than the bench machine: that is chosen there alone.
func (s *Server) mayTakeBack(r *http.Request, drafts []record.Draft) error {
	if fromHere(r) {
		return nil
	}
	for _, d := range drafts {
		for _, it := range d.Items {
			if d.Case != record.StudioID || it.Corrects == 0 {
				continue
			}
			st, err := s.store.Studio(r.Context())
			if err != nil {
				return err
			}
			// Also by taking back what took it back.
			for seq := it.Corrects; seq > 0 && seq <= int64(len(st.Log)); seq = st.Log[seq-1].Entry.Corrects {
				if st.Log[seq-1].Entry.Kind == (record.BackupPlan{}).Kind() {
					return errOnlyHere()
				}
			}
		}
	}
	return nil
}

// zoneName is the bench's zone for the record: its IANA name, or its offset at
// this moment where the system does not tell the name.
func (s *Server) zoneName() string {
	if name := s.zone.String(); name != "Local" {
		return name
	}
	return s.now().In(s.zone).Format("-07:00")
}

// logOf is the journal of a case or of the studio; empty when there is none.
func (s *Server) logOf(r *http.Request, id record.CaseID) ([]record.Line, error) {
	if id == record.StudioID {
		st, err := s.store.Studio(r.Context())
		if err != nil {
			return nil, err
		}
		return st.Log, nil
	}
	c, err := s.store.Case(r.Context(), id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return c.Log, nil
}

// ours are the first and last seq of the entries in one journal.
func ours(entries []record.Entry, id record.CaseID) (first, last int64) {
	for _, e := range entries {
		if e.Case != id {
			continue
		}
		if first == 0 {
			first = e.Seq
		}
		last = e.Seq
	}
	return first, last
}

// refuse shows a form again, or passes on what no form can show.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, f *Form, err error, page handler) error {
	var clash *store.Clash
	if errors.As(err, &clash) {
		list, bad := s.clashOf(r.Context(), clash)
		if bad != nil {
			return bad
		}
		f.Clash = list
		if on := r.PathValue("case"); string(clash.Case) == on || clash.Case == record.StudioID && on == "" {
			// Sent once more, it is sent by one who has seen the others' entries.
			f.Seq = clash.Last
		}
		return again(w, r, f, err, page)
	}
	if errors.As(err, new(*store.Reused)) {
		f.Key = record.NewID(s.now()) // sent once more, it is another form
		f.Refuse("", "%s", err.Error())
		return again(w, r, f, err, page)
	}
	list, ok := record.Refusals(err)
	if !ok || len(list) == 0 {
		return err
	}
	f.take(list)
	return again(w, r, f, err, page)
}

// sentByOutbox says whether the page's own code sent the form, and wants to be
// told where to go instead of being sent there.
func sentByOutbox(r *http.Request) bool { return r.Header.Get("X-Outbox") != "" }

// tellRefused tells the page's own code why a form was not taken.
func tellRefused(w http.ResponseWriter, status int, f *Form) error {
	var say []string
	for _, x := range f.Refused {
		if x.Say != "" {
			say = append(say, x.Say)
		}
	}
	if f.Clash != nil {
		say = append(say, "Others wrote meanwhile: look at it, then send it again.")
	}
	return tell(w, status, map[string]any{"refused": say})
}

func tell(w http.ResponseWriter, status int, v any) error {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	return json.NewEncoder(w).Encode(v)
}

// taken tells a device whether a form with this key was accepted.
func (s *Server) taken(w http.ResponseWriter, r *http.Request) error {
	w.Header().Set("Cache-Control", "no-store")
	is, err := s.store.Written(r.Context(), r.PathValue("key"))
	switch {
	case err != nil:
		return err
	case is:
		w.WriteHeader(http.StatusNoContent)
	default:
		w.WriteHeader(http.StatusNotFound)
	}
	return nil
}

// goOn sends the browser to the page after an act.
func goOn(w http.ResponseWriter, r *http.Request, a *answer) error {
	if !sentByOutbox(r) {
		http.Redirect(w, r, a.to, http.StatusSeeOther)
		return nil
	}
	return tell(w, http.StatusOK, map[string]any{"to": a.to, "said": a.flash.Said, "first": a.first, "last": a.last})
}

// Flash is one line about the act that was just done, shown once. Undo is the key
// of the form whose entries taking the act back withdraws; empty: it cannot be.
type Flash struct {
	Said string `json:"said"`
	Undo string `json:"undo,omitempty"`
}

const flashCookie = "benchleaf_said"

func setFlash(w http.ResponseWriter, f Flash) {
	const most = 400 // characters; a cookie has room for little more
	f.Said = clipTo(f.Said, most)
	raw, err := json.Marshal(f)
	if err != nil {
		return // strings and numbers always marshal
	}
	http.SetCookie(
		w,
		&http.Cookie{
			Name:     flashCookie,
			Value:    base64.RawURLEncoding.EncodeToString(raw),
			Path:     "/",
			MaxAge:   300,
			HttpOnly: true,
			SameSite: http.SameSiteStrictMode,
		},
	)
}

// flashOf reads the flash; one that is not ours is no flash.
func flashOf(r *http.Request) *Flash {
	if r.Header.Get("X-Keep") != "" {
		return nil // for the device to keep, and not for a person to see now
	}
	c, err := r.Cookie(flashCookie)
	if err != nil {
		return nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil {
		return nil
	}
	f := &Flash{}
	if json.Unmarshal(raw, f) != nil || strings.TrimSpace(f.Said) == "" {
		return nil
	}
	return f
}

func clearFlash(w http.ResponseWriter) {
	http.SetCookie(
		w,
		&http.Cookie{Name: flashCookie, Path: "/", MaxAge: -1, HttpOnly: true, SameSite: http.SameSiteStrictMode},
	)
}
