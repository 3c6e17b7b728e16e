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

// undo withdraws the entries of the act before. They stay in the log, struck
// through.
func (s *Server) undo(w http.ResponseWriter, r *http.Request) error {
	f, err := s.sent(w, r, "undo")
	if err != nil {
		return err
	}
	id, err := record.ParseCaseID(f.Line("case"))
	if err != nil {
		return store.ErrNotFound
	}
	first, last := f.Whole("first", "the entry"), f.Whole("last", "the entry")
	const most = 100 // entries of one act
	if first < 1 || last < first || last-first >= most {
		return record.Invalidf("", "These entries cannot be undone in one go: withdraw them in the log.")
	}
	var list []record.Item
	for seq := first; seq <= last; seq++ {
		list = append(list, record.Item{Body: record.Withdrawn{Reason: undone}, Corrects: int64(seq)})
	}
	slices.Reverse(list)
	log, err := s.logOf(r, id)
	if err != nil {
		return err
	}
	// What others wrote since does not matter to taking back one's own entry.
	f.Seq = int64(len(log))
	for seq := first; seq <= last && seq <= len(log); seq++ {
		if log[seq-1].WithdrawnBy != 0 {
			return record.Invalidf("", "This has been undone already.")
		}
	}
	said := "Undone. Entry " + strconv.Itoa(first) + " stays in the log, struck through."
	if last > first {
		said = "Undone. Entries " + strconv.Itoa(
			first,
		) + " to " + strconv.Itoa(
			last,
		) + " stay in the log, struck through."
	}
	return s.save(
		w,
		r,
		f,
		Saving{Case: id, Items: list, To: backOf(f.Line("back")), Said: said, Final: true},
		func(w http.ResponseWriter, r *http.Request) error {
			f := refusedOf(r.Context()).form
			if f.Clash != nil {
				return record.Invalidf("", "Somebody wrote at the same moment. Press Undo once more.")
			}
			return f.Refused[0]
		},
	)
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
