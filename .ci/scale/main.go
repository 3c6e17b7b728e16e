// Command scale fills a data folder as large as one machine is meant to carry, with
// invented entries, and says how fast the program is on it. It is no command of the
// program: run it as
//
//	go run ./.ci/scale                  10,000 cases, 200,000 photographs, 5 million entries
//	go run ./.ci/scale -part 10         a tenth of that
//	go run ./.ci/scale -dir FOLDER      keep the folder, or go on with one that is there
package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/internal/web"
)

const (
	casesMost   = 10_000
	photosEach  = 20
	entriesEach = 500
)

var ctx = context.Background()

func main() {
	part := flag.Int("part", 1, "divide the number of cases by this")
	dir := flag.String("dir", "", "the data folder; empty: a temporary one")
	flag.Parse()
	if err := run(casesMost / *part, *dir); err != nil {
		log.Fatal(err)
	}
}

func run(cases int, dir string) error {
	if dir == "" {
		temp, err := os.MkdirTemp("", "benchleaf-scale-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(temp)
		dir = filepath.Join(temp, "data")
	}
	ids, err := fill(dir, cases)
	if err != nil {
		return err
	}
	var s *store.Store
	begun := now()
	if s, err = store.Open(dir); err != nil {
		return err
	}
	defer s.Close()
	say("start", since(begun))
	if err := pages(s, ids); err != nil {
		return err
	}
	return backups(s, ids, dir+"-backup")
}

// spent is time on the clock and of the processors, which tells more where others
// work beside.
type spent struct{ wall, cpu time.Duration }

func now() spent { return spent{time.Duration(time.Now().UnixNano()), processors()} }

func since(a spent) spent {
	b := now()
	return spent{b.wall - a.wall, b.cpu - a.cpu}
}

func say(what string, d spent) {
	fmt.Printf("%-40s %10.1f ms, %10.1f ms of the processors\n", what, d.wall.Seconds()*1000, d.cpu.Seconds()*1000)
}

// fill makes what is missing of the folder and returns its cases.
func fill(dir string, cases int) (ids []record.CaseID, err error) {
	s, err := store.Open(dir)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	list, err := s.List(ctx, store.Filter{})
	if err != nil {
		return nil, err
	}
	for _, x := range list {
		ids = append(ids, x.ID)
	}
	begun := time.Now()
	var mu sync.Mutex
	var failed error
	var wg sync.WaitGroup
	next := make(chan int)
	for range 4 { // so that the store commits several at once
		wg.Go(func() {
			for n := range next {
				id, err := fillCase(s, dir, n)
				mu.Lock()
				ids = append(ids, id)
				if err != nil && failed == nil {
					failed = err
				}
				mu.Unlock()
			}
		})
	}
	for n := len(list); n < cases; n++ {
		next <- n
	}
	close(next)
	wg.Wait()
	fmt.Printf("%d cases, %d entries, %d photographs; filled in %.0f s\n", len(ids), len(ids)*entriesEach,
		len(ids)*photosEach, time.Since(begun).Seconds())
	return ids, failed
}

// fillCase appends one case, in four acts, as the store seals it.
func fillCase(s *store.Store, dir string, n int) (record.CaseID, error) {
	id := record.NewCaseID(time.Now())
	bodies := []record.Body{
		record.Opened{Number: fmt.Sprintf("2026-%05d", n), Title: fmt.Sprintf("An invented monthly, number %d", n)},
		record.MakeUp{InnerSheets: 9, Cover: "separate", Binding: "saddle", FirstPage: 1},
	}
	for k := range photosEach {
		h, err := photograph(dir, fmt.Sprintf("an invented photograph, %d of case %d", k, n))
		if err != nil {
			return id, err
		}
		bodies = append(bodies, record.Photo{Hash: h, Bytes: 100, Format: "jpeg", WidthPx: 10, HeightPx: 10,
			Stage: "before", Light: "normal"})
	}
	for k := 0; len(bodies) < entriesEach; k++ {
		if k%2 == 0 {
			bodies = append(bodies, record.Note{Nature: "observed", Text: fmt.Sprintf("an invented line, number %d", k)})
			continue
		}
		bodies = append(bodies, record.Reading{Quantity: "surface-ph", Value: 5 + float64(k%20)/10, Method: "flat electrode",
			Stage: "before", Place: record.Place{Sheets: []int{k % 10}}})
	}
	for seq := 0; seq < len(bodies); seq += entriesEach / 4 {
		d := record.Draft{Case: id, Expect: int64(seq), By: "KM", Zone: "UTC"}
		for _, b := range bodies[seq:min(seq+entriesEach/4, len(bodies))] {
			d.Items = append(d.Items, record.Item{Body: b})
		}
		if _, err := s.Append(ctx, d); err != nil {
			return id, err
		}
	}
	return id, nil
}

// photograph writes a file where the store has it, without waiting for the disk.
func photograph(dir, text string) (record.Hash, error) {
	h := record.Hash(sha256.Sum256([]byte(text)))
	to := filepath.Join(dir, "photographs", h.String()[:2], h.String())
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return h, err
	}
	return h, os.WriteFile(to, []byte(text), 0o400)
}

// pages asks for pages of cases that nobody looked at before, and again.
func pages(s *store.Store, ids []record.CaseID) error {
	server, err := web.New(web.Config{Store: s, Version: "scale"})
	if err != nil {
		return err
	}
	defer server.Close()
	ask := func(path string) (spent, error) {
		r := httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil)
		r.RemoteAddr = "127.0.0.1:1"
		w := httptest.NewRecorder()
		begun := now()
		server.Handler().ServeHTTP(w, r)
		if w.Code != http.StatusOK {
			return spent{}, fmt.Errorf("%s: status %d", path, w.Code)
		}
		return since(begun), nil
	}
	const times = 40
	for _, page := range []string{"/", "/?find=number+77", "bench", "results", "log"} {
		var first, again []spent
		for i := range times {
			path := page
			if page[0] != '/' {
				path = "/cases/" + string(ids[i*len(ids)/times]) + "/" + page
			}
			for _, list := range []*[]spent{&first, &again} {
				d, err := ask(path)
				if err != nil {
					return err
				}
				*list = append(*list, d)
			}
		}
		say("page "+page+", median", median(first))
		say("page "+page+", median when asked again", median(again))
	}
	return nil
}

// median is that of either, on its own.
func median(list []spent) (m spent) {
	slices.SortFunc(list, func(a, b spent) int { return cmp.Compare(a.wall, b.wall) })
	m.wall = list[len(list)/2].wall
	slices.SortFunc(list, func(a, b spent) int { return cmp.Compare(a.cpu, b.cpu) })
	m.cpu = list[len(list)/2].cpu
	return m
}

// backups keeps everything, then one case more, then nothing new.
func backups(s *store.Store, ids []record.CaseID, to string) error {
	defer os.RemoveAll(to)
	for _, what := range []string{"first", "with one entry more", "with nothing new"} {
		if what == "with one entry more" {
			c, err := s.Case(ctx, ids[0])
			if err != nil {
				return err
			}
			_, err = s.Append(ctx, record.Draft{Case: ids[0], Expect: c.LastSeq, By: "KM", Zone: "UTC",
				Items: []record.Item{{Body: record.Note{Nature: "observed", Text: "one more"}}}})
			if err != nil {
				return err
			}
		}
		begun := now()
		k, err := s.BackupInto(ctx, to, store.Protection{})
		if err != nil {
			return err
		}
		say("backup, "+what, since(begun))
		fmt.Printf("%40s %d entries, %d files, %d bytes\n", "", k.Entries, k.Files, k.Bytes)
	}
	return nil
}
