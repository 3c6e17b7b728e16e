package pictures

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
	"benchleaf/photo/hostile"
)

// promised is the peak of memory that the program promises, in kB.
const promised = 1 << 20

// peakKB is the most memory that this process ever had resident, where the system
// tells (Linux), else 0.
func peakKB(t *testing.T) int {
	t.Helper()
	raw, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(raw)) {
		if f := strings.Fields(line); f[0] == "VmHWM:" {
			n, err := strconv.Atoi(f[1])
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
	}
	return 0
}

// hostileMaker reads the picture of which hostile ones are made.
func hostileMaker(t *testing.T) *hostile.Maker {
	t.Helper()
	heic, err := os.ReadFile("../../photo/testdata/test8.heic")
	if err != nil {
		t.Fatal(err)
	}
	return hostile.New(heic)
}

// TestHostilePicturesLeaveRoomForOrdinaryOnes sends pictures that unfold into far
// more than they are beside ordinary ones: those are all taken, memory stays within
// what is promised, what is refused gets a sentence and is not kept. A few at first;
// BENCHLEAF_HOSTILE says how many (.ci/long).
func TestHostilePicturesLeaveRoomForOrdinaryOnes(t *testing.T) {
	// The small ones of each kind, but for the slow ones.
	list := []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 10, 13, 14, 15, 17, 25, 28}
	ordinary, side := 4, 1200
	if n, err := strconv.Atoi(os.Getenv("BENCHLEAF_HOSTILE")); err == nil {
		list = nil
		for i := range n {
			list = append(list, i)
		}
		ordinary, side = n/8, 3500
	}
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(MemoryLimit))
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	maker := hostileMaker(t)

	jobs := make(chan hostile.Picture)
	var wg sync.WaitGroup
	var mu sync.Mutex
	taken, refused := map[record.Hash]bool{}, map[string]int{}
	var slowest time.Duration
	for range 4 {
		wg.Go(func() {
			for p := range jobs {
				began := time.Now()
				u, err := m.Receive(t.Context(), bytes.NewReader(p.File), time.Now())
				mu.Lock()
				slowest = max(slowest, time.Since(began))
				list, isRefusal := record.Refusals(err)
				switch {
				case err == nil:
					taken[u.Photo.Hash] = true
				case !isRefusal || len(list) == 0 || !strings.HasSuffix(list[0].Say, "."):
					t.Errorf("%s: %v, want it taken or a sentence", p.Name, err)
				default:
					refused[list[0].Say]++
				}
				mu.Unlock()
			}
		})
	}
	var times []time.Duration
	wg.Go(func() {
		for i := range ordinary {
			file := hostile.Ordinary(side, side*3/4, uint64(i))
			began := time.Now()
			u, err := m.Receive(t.Context(), bytes.NewReader(file), time.Now())
			if err != nil {
				t.Errorf("an ordinary photograph among hostile ones: %v", err)
				continue
			}
			times = append(times, time.Since(began))
			mu.Lock()
			taken[u.Photo.Hash] = true
			mu.Unlock()
		}
	})
	for _, n := range list {
		jobs <- maker.At(n)
	}
	close(jobs)
	wg.Wait()
	r, err := s.Verify(t.Context())
	if err != nil || r.Photographs != len(taken) {
		t.Errorf("%d photographs are kept, %d were taken, %v", r.Photographs, len(taken), err)
	}
	if held := m.rooms.held.Load(); held != 0 {
		t.Errorf("%d bytes of room are not given back", held)
	}
	slices.Sort(times)
	peak := peakKB(t)
	t.Logf("%d hostile, %d refused in %d ways, slowest %v; %d ordinary: median %v, slowest %v; peak %d MB",
		len(list), total(refused), len(refused), slowest, len(times), times[len(times)/2], times[len(times)-1], peak>>10)
	if peak > promised {
		t.Errorf("at its peak the program took %d MB, %d MB are promised", peak>>10, promised>>10)
	}
}

func total(m map[string]int) (n int) {
	for _, k := range m {
		n += k
	}
	return n
}

// TestTooLargeIsRefusedByItsHeader names the pictures that took more than was
// promised, or half a minute: each is refused by its header, in a sentence, or costs
// no more than its room.
func TestTooLargeIsRefusedByItsHeader(t *testing.T) {
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	maker := hostileMaker(t)
	maker.Most = 1 << 20 // nothing is decoded here
	for _, tc := range []struct {
		name string
		file []byte
		says string // "" where it is taken
		most int64  // what it may cost then, in bytes a pixel
	}{
		{"16 bits, 7000 by 7000", maker.PNG(7000, 16, 6, false), "memory", 0},
		{"16 bits in passes, 6000 by 6000", maker.PNG(6000, 16, 2, true), "memory", 0},
		{"8 bits in passes, 9000 by 9000", maker.PNG(9000, 8, 2, true), "memory", 0},
		{"one bit, 10900 by 10900", maker.PNG(10900, 1, 0, false), "", 5},
		{"one bit of a palette, 10900 by 10900", maker.PNG(10900, 1, 3, false), "", 5},
		{"grey, one scan, 10900 by 10900", hostile.GreyJPEG(10900), "", 6},
		{"3000 scans of 7600 by 7600", hostile.Scans(7600, 3000), "too many times", 0},
		{"11 scans of 10900 by 10900", hostile.Scans(10900, 11), "too many times", 0},
		{"11 scans of 3000 by 3000", hostile.Scans(3000, 11), "", 6},
		{"TIFF of one packed strip, 5000 by 5000", maker.TIFF(5000, 5000, 5000, 0, 16), "memory", 0},
		{"TIFF of 8 by 8 pixels, 7000 by 7000", maker.TIFF(7000, 7000, 0, 8, 8), "pieces", 0},
		{"TIFF of 2000 profiles", hostile.TagLoop(2000), "list of tags", 0},
		{"GIF of 3000 frames", hostile.GIF(3000), "GIF", 0},
		{"HEIC of 65025 tiles for 512 by 512", maker.HEIC(255, 255, 512), "pieces", 0},
		{"HEIC of 16 by 16 tiles, 8192 by 8192", maker.HEIC(16, 16, 8192), "pieces", 0},
		{"HEIC of 12 by 12 tiles, 6144 by 6144", maker.HEIC(12, 12, 6144), "memory", 0},
	} {
		p, err := s.PutPhoto(t.Context(), bytes.NewReader(tc.file), MaxBytes)
		if err != nil {
			t.Fatal(err)
		}
		bytes, held, err := m.cost(p.Hash)
		list, _ := record.Refusals(err)
		switch {
		case tc.says == "" && (err != nil || bytes > tc.most*held/4):
			t.Errorf("%s: %v, %d bytes, want it to cost at most %d a pixel", tc.name, err, bytes, tc.most)
		case tc.says != "" && (len(list) == 0 || !strings.Contains(list[0].Say, tc.says)):
			t.Errorf("%s: %v; want a sentence with %q", tc.name, err, tc.says)
		}
	}
}

// An ordinary photograph does not wait for a large one, nor a second one for one
// that its sender has left.
func TestSmallPicturesPassLargeOnes(t *testing.T) {
	s, err := store.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	m := New(s)
	defer m.Close()
	release, err := m.rooms.take(t.Context(), largeRoom)
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	var wg sync.WaitGroup
	for i := range 3 {
		wg.Go(func() {
			if _, err := m.Receive(t.Context(), bytes.NewReader(hostile.Ordinary(300, 200, uint64(i))), time.Now()); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	m.wg.Wait() // a room comes back a moment after its answer
	// Who goes while a picture is decoded is not waited for, and its room comes back.
	begun, leave := make(chan struct{}), make(chan struct{})
	err = m.inRoom(leaving(t, begun), leastRoom, func(begin func() bool) error {
		close(begun)
		<-leave
		if begin() {
			return errors.New("it goes on though nobody waits")
		}
		return nil
	})
	if err == nil {
		t.Error("the sender went, and was answered")
	}
	if held := m.rooms.held.Load(); held != largeRoom+leastRoom {
		t.Errorf("%d bytes are held while it still decodes", held)
	}
	close(leave)
	m.wg.Wait()
	if held := m.rooms.held.Load(); held != largeRoom {
		t.Errorf("%d bytes are held after it has decoded", held)
	}
	if err := m.inRoom(t.Context(), 1, func(func() bool) error { panic("a strange picture") }); err == nil ||
		fmt.Sprint(err) != "panic: a strange picture" {
		t.Errorf("a panic becomes %v", err)
	}
}

// leaving is the context of somebody who goes once begun is closed.
func leaving(t *testing.T, begun <-chan struct{}) context.Context {
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		<-begun
		cancel()
	}()
	return ctx
}
