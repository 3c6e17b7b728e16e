package web

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// fillBench opens n cases, the last thirty of them in treatment at most.
func fillBench(tb testing.TB, s *Server, n int) {
	tb.Helper()
	var drafts []record.Draft
	now := s.now()
	for i := range n {
		at := now.Add(-time.Duration(n-i) * time.Hour)
		bodies := []record.Body{
			record.Opened{Number: fmt.Sprintf("31-%04d", i), Title: fmt.Sprintf("The Windlass Monthly, no. %d", i)},
			record.Ownership{Owner: fmt.Sprintf("Owner %d", i%50)},
			record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1},
		}
		if n-i <= 30 && i%3 == 0 {
			bodies = append(
				bodies,
				record.RunStarted{
					ID:            record.NewID(at),
					Operation:     "lime-bath",
					OperationName: "lime bath",
					Sheets:        []int{1, 2},
					At:            now.Add(-10 * time.Minute),
					PlannedMin:    float64(20 + i%30),
					Makes:         record.Wet,
				},
			)
		}
		drafts = append(
			drafts,
			record.Draft{Case: record.NewCaseID(at), By: "KM", Zone: "UTC", Items: items(bodies...)},
		)
	}
	if _, err := s.store.Append(tb.Context(), drafts...); err != nil {
		tb.Fatal(err)
	}
}

func TestHomePagesThroughManyCases(t *testing.T) {
	s, _ := newServer(t)
	fillBench(t, s, homeMost+5)
	seen := map[string]bool{}
	for path, pages := "/", 0; path != ""; pages++ {
		if pages > 3 {
			t.Fatal("the list does not end")
		}
		p := homePage{Page: s.page(request("GET", path, nil), "Today")}
		if err := s.homeCases(request("GET", path, nil), &p); err != nil {
			t.Fatal(err)
		}
		for _, c := range p.Cases {
			seen[c.Number] = true
		}
		path = p.Earlier
	}
	if len(seen) != homeMost+5 {
		t.Errorf("%d cases were listed, want all %d", len(seen), homeMost+5)
	}
}

func TestHomeShowsTheCodeToTheBenchMachineAlone(t *testing.T) {
	s, _ := newServer(t)
	s.beyond = []string{"http://192.0.2.7:8080"}
	if body := answerTo(s, request("GET", "/", nil)).Body.String(); !containsAll(
		body,
		s.PairingCode(),
		"http://192.0.2.7:8080",
	) {
		t.Error("the bench machine's own page does not show the address and the code")
	}
	w := enterCode(s, phoneAddr, s.PairingCode())
	phone := answerTo(s, request("GET", "/", nil, from(phoneAddr), cookies(w.Result().Cookies())))
	if phone.Code != http.StatusOK || containsAll(phone.Body.String(), s.PairingCode()) {
		t.Errorf("a paired phone: status %d; it must not be shown the code", phone.Code)
	}
}

func TestNothingBeyondLoopbackNoCodeOnTheHomePage(t *testing.T) {
	s, _ := newServer(t)
	if containsAll(answerTo(s, request("GET", "/", nil)).Body.String(), s.PairingCode()) {
		t.Error("the code is shown where no device can use it")
	}
}

func BenchmarkHome(b *testing.B) {
	for _, n := range []int{30, 1000, 10000} {
		b.Run(fmt.Sprintf("cases=%d", n), func(b *testing.B) {
			s := benchServer(b)
			fillBench(b, s, n)
			r := request("GET", "/", nil)
			for b.Loop() {
				if w := answerTo(s, r); w.Code != http.StatusOK {
					b.Fatal(w.Code)
				}
			}
		})
	}
}

// BenchmarkNew is what the server adds to the start of the program.
func BenchmarkNew(b *testing.B) {
	s := benchServer(b)
	for b.Loop() {
		if _, err := New(Config{Store: s.store, Log: s.log}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestBusyListFollowsEveryWrite reads the list before and after writes that
// change what is wet, in a case that is not the latest.
func TestBusyListFollowsEveryWrite(t *testing.T) {
	s, clock := newServer(t)
	fillBench(t, s, 3)
	wet := func() int {
		list, err := s.busy(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, c := range list {
			n += len(c.Wet)
		}
		return n
	}
	if n := wet(); n != 2 {
		t.Fatalf("%d sheets are wet, want 2", n)
	}
	open := false
	list, err := s.store.List(t.Context(), store.Filter{Closed: &open, Busy: true})
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	clock.forward(time.Minute)
	end := record.RunEnded{
		Run:     list[0].Wet[0].Run,
		Sheets:  []int{1},
		At:      clock.now(),
		Outcome: "done",
		Leaves:  record.Dry,
	}
	if _, err := s.store.Append(t.Context(), record.Draft{Case: list[0].ID, Expect: list[0].LastSeq, By: "KM", Zone: "UTC", Items: items(end)}); err != nil {
		t.Fatal(err)
	}
	if n := wet(); n != 1 {
		t.Errorf("after one sheet was taken out %d are wet, want 1", n)
	}
	openCase(t, s)
	if n := wet(); n != 1 {
		t.Errorf("after another case was opened %d are wet, want 1", n)
	}
}
