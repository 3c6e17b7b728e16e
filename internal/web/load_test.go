package web

import (
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// TestMixedLoad lets people, devices and photographs meet: pages, notes, uploads,
// and devices that are paired, named and taken out, from eight sides at once. Under
// the race detector it finds what shares memory without leave. BENCHLEAF_REQUESTS
// says how many (.ci/long).
func TestMixedLoad(t *testing.T) {
	requests := 2000
	if n, err := strconv.Atoi(os.Getenv("BENCHLEAF_REQUESTS")); err == nil {
		requests = n
	}
	s, _ := doorServer(t)
	// Codes are typed one after the other here: what slows them is tested elsewhere.
	var tick atomic.Int64
	start := s.now()
	s.pairing.now = func() time.Time { return start.Add(time.Duration(tick.Add(1)) * between) }
	id := openCase(t, s)
	file := aJPEG(t, 60, 40)
	pages := []string{
		"/", casePath(id, ""), casePath(id, "bench"), casePath(id, "log"), casePath(id, "photos"), "/clock", "/studio",
		"/studio/devices", "/solutions", "/pair", casePath(id, "papers"), casePath(id, "condition"),
	}
	var notes, uploads, odd, broken atomic.Int64
	// What a device has under way when it is taken out is broken off, and may have
	// been written down.
	answer := func(r *http.Request) (code int) {
		defer func() {
			if p := recover(); p != nil {
				if p != http.ErrAbortHandler {
					t.Errorf("panic: %v", p)
				}
				broken.Add(1)
				code = 0
			}
		}()
		return answerTo(s, r).Code
	}
	var wg sync.WaitGroup
	for worker := range 8 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(uint64(worker), 1))
			var device []*http.Cookie
			for i := range requests / 8 {
				from := []func(*http.Request){from("127.0.0.1:1")}
				if device != nil && r.IntN(2) == 0 {
					from = []func(*http.Request){func(q *http.Request) { q.RemoteAddr = phoneAddr }, overTLS, cookies(device)}
				}
				code, seq := 0, "1"
				if c, err := s.store.Case(t.Context(), id); err == nil { // who is second is refused
					seq = strconv.FormatInt(c.LastSeq, 10)
				}
				switch n := r.IntN(100); {
				case n < 78:
					code = answer(request("GET", pages[r.IntN(len(pages))], nil, from...))
				case n < 90:
					form := url.Values{
						"text": {fmt.Sprintf("worker %d, note %d", worker, i)}, "by": {"KM"}, "seq": {seq},
						"key": {record.NewID(s.now())}, "nature": {"observed"},
					}
					code = answer(request("POST", casePath(id, "note"), form, from...))
					if code == http.StatusSeeOther {
						notes.Add(1)
					}
				case n < 93:
					data := append(append([]byte{}, file...), byte(worker), byte(i), byte(i>>8))
					code = sendPhotos(t, s, id, map[string]string{"seq": seq}, map[string][]byte{"a.jpg": data}).Code
					if code == http.StatusSeeOther {
						uploads.Add(1)
					}
				case n < 96:
					w := answerTo(s, request("POST", "/pair", url.Values{"code": {s.PairingCode()}}, overTLS,
						func(q *http.Request) { q.RemoteAddr = fmt.Sprintf("192.0.2.%d:1", worker+1) }))
					if w.Code == http.StatusSeeOther {
						device = w.Result().Cookies()
					}
				default:
					if list := s.pairing.list(); len(list) > 0 {
						form := url.Values{"device": {list[r.IntN(len(list))].ID()}, "name": {"tablet"}}
						act := []string{"unpair", "name"}[r.IntN(2)]
						code = answerTo(s, request("POST", "/studio/devices/"+act, form)).Code
					}
				}
				if code >= 500 {
					odd.Add(1)
				}
			}
		})
	}
	wg.Wait()
	c, err := s.store.Case(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d requests: %d notes, %d photographs, %d devices left", requests, notes.Load(), uploads.Load(),
		len(s.pairing.list()))
	if odd.Load() > 0 {
		t.Errorf("%d requests failed inside", odd.Load())
	}
	more := c.LastSeq - (1 + notes.Load() + uploads.Load())
	if notes.Load() == 0 || uploads.Load() == 0 || len(c.Photos) != int(uploads.Load()) ||
		more < 0 || more > broken.Load() {
		t.Errorf("%d entries and %d photographs in the journal; %d notes and %d photographs were acknowledged, %d "+
			"requests were broken off", c.LastSeq, len(c.Photos), notes.Load(), uploads.Load(), broken.Load())
	}
}
