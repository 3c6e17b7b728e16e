package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"benchleaf/internal/record"
)

// FuzzForm sends anything to any route that takes a form: it is taken or refused, and
// nothing fails inside.
func FuzzForm(f *testing.F) {
	s, _ := serverOn(f, f.TempDir())
	id := record.NewCaseID(s.now())
	_, err := s.store.Append(f.Context(), record.Draft{Case: id, By: "KM", Zone: "UTC", Items: items(
		record.Opened{Number: "31-07", Title: "The Windlass Monthly"},
		record.MakeUp{InnerSheets: 3, Cover: "separate", Binding: "saddle", FirstPage: 1},
	)})
	if err != nil {
		f.Fatal(err)
	}
	holes := regexp.MustCompile(`\{[^}]*\}`)
	var paths []string
	for _, r := range everyRoute(f) {
		// Not the one by which everything is backed up to wherever the form says.
		if r[0] == http.MethodPost && !strings.HasPrefix(r[1], "/studio/backup") {
			paths = append(paths, holes.ReplaceAllString(strings.ReplaceAll(r[1], "{case}", string(id)), "1"))
		}
	}
	for i := range paths {
		f.Add(i, "by=KM&seq=2&text=a+line&nature=observed&sheets=1&value=7,9&quantity=surface-ph&method=strip&stage=before")
		f.Add(i, "by=KM&seq=9223372036854775807&corrects=-1&at=0001-01-01T00:00&value=1e-320&first=1&last=2&case="+string(id))
	}
	f.Fuzz(func(t *testing.T, n int, body string) {
		r := request("POST", paths[uint(n)%uint(len(paths))], nil,
			header("Content-Type", "application/x-www-form-urlencoded"), header("Sec-Fetch-Site", "same-origin"))
		r.Body, r.ContentLength = http.NoBody, 0
		if body != "" {
			q, err := http.NewRequest("POST", "/", strings.NewReader(body))
			if err != nil {
				t.Fatal(err)
			}
			r.Body, r.ContentLength = q.Body, q.ContentLength
		}
		if w := answerTo(s, r); w.Code >= 500 {
			t.Errorf("%s answers %d to %q", r.URL.Path, w.Code, body)
		}
	})
}
