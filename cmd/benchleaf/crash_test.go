//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// TestMain lets the test binary be the program itself, in a process of its own that
// can be killed.
func TestMain(m *testing.M) {
	if os.Getenv("BENCHLEAF_TEST_PROGRAM") != "" {
		main()
	}
	os.Exit(m.Run())
}

// httpKills is how often the program is killed here: one of three, see the crash test
// of internal/store.
func httpKills() int {
	n, err := strconv.Atoi(os.Getenv("BENCHLEAF_CRASH_KILLS"))
	if err != nil {
		n = 30
	}
	return n / 3
}

// act is one form that a person sent.
type act struct {
	path   string
	values url.Values
	photo  []byte // nil: a form without a file
}

// send sends the form once; acknowledged says that the server took it. An error is a
// connection that ended: whether it was taken is not known.
func (a *act) send(c *http.Client, at string) (acknowledged bool, status int, err error) {
	body, kind := strings.NewReader(a.values.Encode()), "application/x-www-form-urlencoded"
	if a.photo != nil {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		for k := range a.values {
			m.WriteField(k, a.values.Get(k))
		}
		w, err := m.CreateFormFile("photo", "a.jpg")
		if err != nil {
			return false, 0, err
		}
		w.Write(a.photo)
		m.Close()
		body, kind = strings.NewReader(b.String()), m.FormDataContentType()
	}
	r, err := http.NewRequest(http.MethodPost, at+a.path, body)
	if err != nil {
		return false, 0, err
	}
	r.Header.Set("Content-Type", kind)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	res, err := c.Do(r)
	if err != nil {
		return false, 0, err
	}
	res.Body.Close()
	return res.StatusCode == http.StatusSeeOther, res.StatusCode, nil
}

// house is one data folder and all that people know they did in it.
type house struct {
	dir string
	ids []record.CaseID

	mu    sync.Mutex
	taken []*act // acknowledged
	open  []*act // sent, and the connection ended: to be sent again with their keys
}

// anAct is what a person does next: a note, a photograph or a new case.
func (h *house) anAct(r *rand.Rand, name string) *act {
	now := time.Now()
	a := &act{values: url.Values{
		"by": {"KM"}, "key": {record.NewID(now)}, "pressed": {now.UTC().Format(time.RFC3339)},
	}}
	on := "/cases/" + string(h.ids[r.IntN(len(h.ids))])
	switch r.IntN(8) {
	case 0:
		a.path = "/cases"
		for k, v := range map[string]string{
			"number": name, "title": "Demo " + name, "owner": "An owner (demo)", "moisture": "dry", "mould": "none",
			"quarantine": "not-needed", "custody_place": "shelf", "currency": "EUR", "reason": "dry and clean",
		} {
			a.values.Set(k, v)
		}
	case 1, 2:
		a.path = on + "/photos"
		for k, v := range map[string]string{"seq": "1", "stage": "before", "light": "normal", "caption": name} {
			a.values.Set(k, v)
		}
		img := image.NewGray(image.Rect(0, 0, 24, 16))
		for i := range img.Pix { // no two are alike
			img.Pix[i] = color.GrayModel.Convert(color.Gray{uint8(r.Uint32())}).(color.Gray).Y
		}
		var b bytes.Buffer
		jpeg.Encode(&b, img, nil)
		a.photo = b.Bytes()
	default:
		a.path = on + "/note"
		for k, v := range map[string]string{"seq": "1", "nature": "observed", "text": name} {
			a.values.Set(k, v)
		}
	}
	return a
}

// life starts the program, sends again what was under way, works from four sides and
// kills it.
func (h *house) life(t *testing.T, n int, after time.Duration) {
	t.Helper()
	c := exec.Command(os.Args[0], "--data", h.dir, "--listen", "127.0.0.1:0", "--no-browser")
	c.Env = append(os.Environ(), "BENCHLEAF_TEST_PROGRAM=1")
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	killed := false
	defer func() {
		if !killed {
			c.Process.Kill()
			c.Wait()
		}
	}()
	line, err := bufio.NewReader(out).ReadString('\n')
	at, ok := strings.CutPrefix(strings.TrimSpace(line), "listening on ")
	if !ok {
		t.Fatalf("life %d: it says %q, %v", n, line, err)
	}
	client := &http.Client{
		Timeout:       30 * time.Second,
		Transport:     &http.Transport{MaxIdleConnsPerHost: 4},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	defer client.CloseIdleConnections()
	again := h.open
	h.open = nil
	for _, a := range again {
		if ok, status, err := a.send(client, at); !ok {
			t.Fatalf("life %d: %s sent again with its key is answered %d, %v", n, a.path, status, err)
		}
		h.taken = append(h.taken, a)
	}
	end := make(chan struct{})
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), uint64(w)))
			for i := 0; ; i++ {
				a := h.anAct(r, fmt.Sprintf("%d-%d-%d", n, w, i))
				ok, status, err := a.send(client, at)
				h.mu.Lock()
				switch {
				case ok:
					h.taken = append(h.taken, a)
				case err != nil:
					h.open = append(h.open, a)
				default:
					t.Errorf("life %d: %s is answered %d", n, a.path, status)
				}
				h.mu.Unlock()
				if !ok {
					return
				}
				select {
				case <-end:
					return
				default:
				}
			}
		})
	}
	time.Sleep(after)
	killed = true
	if err := c.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	close(end)
	wg.Wait()
	c.Wait() // killed, as it was meant to be
}

// wantOnce wants what was acknowledged in the folder once, what is not known at most
// once, and nothing else; and the folder whole.
func (h *house) wantOnce(t *testing.T, n int) {
	t.Helper()
	s, err := store.Open(h.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	// A case that is opened brings several entries, of which this is the first.
	firsts := []record.Kind{record.Opened{}.Kind(), record.Note{}.Kind(), record.Photo{}.Kind()}
	had := map[string]int{} // by key, acts
	for _, id := range h.journals(t, s) {
		j, err := s.Journal(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range j {
			if slices.Contains(firsts, e.Kind) && e.Key != "" {
				had[e.Key]++
			}
		}
	}
	for _, a := range h.taken {
		if k := a.values.Get("key"); had[k] != 1 {
			t.Fatalf("life %d: what was sent to %s and acknowledged is there %d times", n, a.path, had[k])
		}
		delete(had, a.values.Get("key"))
	}
	for _, a := range h.open {
		if k := a.values.Get("key"); had[k] > 1 {
			t.Fatalf("life %d: what was sent to %s is there %d times", n, a.path, had[k])
		}
		delete(had, a.values.Get("key"))
	}
	if len(had) > 0 {
		t.Fatalf("life %d: %d acts are there that nobody did", n, len(had))
	}
	if r, err := s.Verify(t.Context()); err != nil || !r.Clean() {
		t.Fatalf("life %d: the folder is not whole: %v %v", n, r, err)
	}
}

func (h *house) journals(t *testing.T, s *store.Store) (ids []record.CaseID) {
	t.Helper()
	list, err := s.List(t.Context(), store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range list {
		ids = append(ids, x.ID)
	}
	return ids
}

// The program is killed at random moments while people work in browsers, and started
// again: nothing that was acknowledged is lost or doubled, and a form whose answer
// never came is written once when it is sent again.
func TestKillOverHTTPLosesNothingAcknowledged(t *testing.T) {
	const livesEach = 10
	var h *house
	taken, again := 0, 0
	r := rand.New(rand.NewPCG(2, uint64(time.Now().UnixNano())))
	for n := range httpKills() {
		if n%livesEach == 0 {
			if h != nil {
				taken += len(h.taken)
			}
			h = &house{dir: t.TempDir()}
			s, err := store.Open(h.dir)
			if err != nil {
				t.Fatal(err)
			}
			for i := range 3 {
				id := record.NewCaseID(time.Now())
				_, err := s.Append(t.Context(), record.Draft{Case: id, By: "KM", Zone: "UTC", Items: []record.Item{
					{Body: record.Opened{Number: "begun " + strconv.Itoa(i), Title: "Demo"}}}})
				if err != nil {
					t.Fatal(err)
				}
				h.ids = append(h.ids, id)
			}
			s.Close()
		}
		again += len(h.open)
		h.life(t, n, time.Duration(r.IntN(120_000))*time.Microsecond)
		h.wantOnce(t, n)
	}
	taken += len(h.taken)
	t.Logf("%d kills over HTTP: %d acts acknowledged, %d forms sent again", httpKills(), taken, again)
	if taken < httpKills() || again == 0 {
		t.Errorf("only %d acts and %d forms sent again: the test proves nothing", taken, again)
	}
}
