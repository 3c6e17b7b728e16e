package web

import (
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

func (s *Server) routesUndo(mux *http.ServeMux) {
	mux.Handle("POST /undo", s.do(s.undo))
	mux.Handle("GET /taken/{key}", s.do(s.taken))
}

// undone is why an entry was withdrawn by the button beside the flash.
const undone = "Undone by the writer right after it was entered."

// undo withdraws all that one act wrote, in every journal. The entries stay in the
// log, struck through.
func (s *Server) undo(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "undo")
	if err != nil {
		return err
	}
	entries, err := s.store.Keyed(r.Context(), f.Line("act"))
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return store.ErrNotFound
	}
	sv := Saving{To: backOf(f.Line("back")), Final: true}
	for _, e := range entries {
		log, err := s.logOf(r, e.Case)
		if err != nil {
			return err
		}
		if e.Seq > int64(len(log)) || log[e.Seq-1].WithdrawnBy != 0 {
			return record.Invalidf("", "This has been undone already.")
		}
		it := record.Item{Body: record.Withdrawn{Reason: undone}, Corrects: e.Seq}
		i := slices.IndexFunc(sv.Also, func(d record.Draft) bool { return d.Case == e.Case })
		if i < 0 {
			// What others wrote since does not matter to taking back one's own entry.
			i, sv.Also = len(sv.Also), append(sv.Also, record.Draft{Case: e.Case, Expect: int64(len(log))})
		}
		sv.Also[i].Items = slices.Insert(sv.Also[i].Items, 0, it)
	}
	sv.Said = "Undone. " + undoneWords(entries) + " in the log, struck through."
	return s.save(w, r, f, sv, func(w http.ResponseWriter, r *http.Request) error {
		f := refusedOf(r.Context()).form
		if f.Clash != nil {
			return record.Invalidf("", "Somebody wrote at the same moment. Press Undo once more.")
		}
		return f.Refused[0]
	})
}

func undoneWords(entries []record.Entry) string {
	if len(entries) == 1 {
		return "Entry " + strconv.FormatInt(entries[0].Seq, 10) + " stays"
	}
	return strconv.Itoa(len(entries)) + " entries stay"
}

// backOf is a path of this server to go back to, or the home page. Browsers take a
// backslash for a slash, drop line ends and tabs, and take two slashes for the name
// of another server; a redirect resolves dots. So what has any of the first is
// refused, and the rest is checked after it was cleaned.
func backOf(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Scheme != "" || u.Host != "" || u.User != nil || !strings.HasPrefix(u.Path, "/") ||
		strings.ContainsFunc(address+u.Path, func(r rune) bool { return r == '\\' || unicode.IsControl(r) }) {
		return "/"
	}
	to := url.URL{Path: path.Clean(u.Path), RawQuery: u.RawQuery, Fragment: u.Fragment}
	return to.String()
}
