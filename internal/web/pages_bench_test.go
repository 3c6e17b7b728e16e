package web

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// Pages of the demonstration's wet evening among 1,000 cases, at the server.
func BenchmarkCasePages(b *testing.B) {
	s, clock := serverOn(b, b.TempDir())
	clock.t = time.Now()
	if err := demo.Fill(b.Context(), s.store, clock.t); err != nil {
		b.Fatal(err)
	}
	for i := range 997 {
		id := record.NewCaseID(clock.t)
		_, err := s.store.Append(b.Context(), record.Draft{Case: id, By: "KM", Zone: "UTC", Items: items(
			record.Opened{Number: fmt.Sprintf("b-%04d", i), Title: fmt.Sprintf("Monthly no. %d", i)},
			record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1})})
		if err != nil {
			b.Fatal(err)
		}
	}
	list, err := s.store.List(b.Context(), store.Filter{Text: "windlass"})
	if err != nil || len(list) != 1 {
		b.Fatal(len(list), err)
	}
	base := casePath(list[0].ID, "")
	for _, place := range []string{"/examination", "/make-up", "/condition", "/tests", "/proposal", "/bench", "/results", "/papers", "/log", "/sheets/5/measured"} {
		b.Run(strings.TrimPrefix(place, "/"), func(b *testing.B) {
			for b.Loop() {
				if w := answerTo(s, request("GET", base+place, nil)); w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
			}
		})
	}
}
