//go:build unix

package store

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"benchleaf/internal/record"
)

// TestMain lets the test binary stand in for a bench that is killed: with
// BENCHLEAF_TEST_CHILD set it writes without end and says on standard output
// what was acknowledged, only after it was.
func TestMain(m *testing.M) {
	switch os.Getenv("BENCHLEAF_TEST_CHILD") {
	case "":
		os.Exit(m.Run())
	case "write":
		writeUntilKilled(os.Getenv("BENCHLEAF_TEST_DIR"))
	case "full":
		fillDisk(os.Getenv("BENCHLEAF_TEST_DIR"))
	}
}

func writeUntilKilled(dir string) {
	s, err := Open(dir)
	if err != nil {
		fmt.Println("ERROR", err)
		os.Exit(1)
	}
	var mu sync.Mutex
	say := func(format string, args ...any) {
		mu.Lock()
		defer mu.Unlock()
		fmt.Fprintf(os.Stdout, format+"\n", args...)
	}
	list, err := s.List(ctx, Filter{})
	if err != nil {
		fmt.Println("ERROR", err)
		os.Exit(1)
	}
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(uint64(os.Getpid()), uint64(w)))
			for i := 0; ; i++ {
				id := list[r.IntN(len(list))].ID
				text := fmt.Sprintf("%d-%d-%d", os.Getpid(), w, i)
				var body record.Body = record.Note{Nature: "observed", Text: text}
				if i%3 == 0 {
					data := strings.Repeat(text, 1+r.IntN(3000))
					p, err := s.PutPhoto(ctx, strings.NewReader(data), 1<<20)
					if err != nil {
						say("ERROR %v", err)
						return
					}
					say("PHOTO %s %d", p.Hash, p.Bytes)
					b := photoOf(p)
					b.Caption = text
					body = b
				}
				e, err := s.Append(ctx, record.Draft{Case: id, Expect: 1, By: "KM", Items: []record.Item{{Body: body}}})
				if err != nil {
					say("ERROR %v", err)
					return
				}
				say("ENTRY %s %d %s", id, e[0].Seq, e[0].Hash)
			}
		})
	}
	wg.Wait()
}

// kills is how often the bench is killed: 30 times in an ordinary run, more
// where BENCHLEAF_CRASH_KILLS says so.
func kills(t *testing.T) int {
	n, err := strconv.Atoi(os.Getenv("BENCHLEAF_CRASH_KILLS"))
	if err != nil {
		return 30
	}
	return n
}

// No acknowledged entry or photograph is lost when the process is killed at a
// random moment, and what is left verifies clean, every time.
func TestKillLosesNothingAcknowledged(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	for i := range 3 {
		id := record.NewCaseID(time.Now())
		mustAppend(t, s, draft(id, 0, record.Opened{Number: strconv.Itoa(i), Title: "Demo"}))
	}
	s.Close()
	r := rand.New(rand.NewPCG(1, uint64(time.Now().UnixNano())))
	entries, photos := 0, 0
	for k := range kills(t) {
		lines := killedRun(t, dir, time.Duration(20+r.IntN(120))*time.Millisecond)
		s := mustOpen(t, dir)
		journals := map[record.CaseID][]record.Entry{}
		for _, line := range lines {
			f := strings.Fields(line)
			switch {
			case len(f) == 4 && f[0] == "ENTRY":
				id := record.CaseID(f[1])
				if journals[id] == nil {
					j, err := s.Journal(ctx, id)
					if err != nil {
						t.Fatal(err)
					}
					journals[id] = j
				}
				seq, _ := strconv.Atoi(f[2])
				if seq > len(journals[id]) || journals[id][seq-1].Hash.String() != f[3] {
					t.Fatalf("kill %d: the acknowledged entry %d of case %s is lost", k, seq, id)
				}
				entries++
			case len(f) == 3 && f[0] == "PHOTO":
				h, err := record.ParseHash(f[1])
				if err != nil {
					t.Fatal(err)
				}
				if got, err := hashFile(s.photoPath(h)); err != nil || got != h {
					t.Fatalf("kill %d: the acknowledged photograph %s is lost or broken: %v", k, h, err)
				}
				photos++
			default:
				t.Fatalf("kill %d: the bench said %q", k, line)
			}
		}
		mustBeClean(t, s)
		if left, _ := os.ReadDir(dir + "/" + tempDir); len(left) != 0 {
			t.Fatalf("kill %d: %d half-written files stayed", k, len(left))
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills: %d acknowledged entries and %d photographs, all there", kills(t), entries, photos)
	if entries < kills(t) || photos < kills(t)/3 {
		t.Errorf("only %d entries and %d photographs were acknowledged: the test proves nothing", entries, photos)
	}
}

// killedRun starts a writing bench, kills it after a while, and returns the
// whole lines that it said.
func killedRun(t *testing.T, dir string, after time.Duration) []string {
	t.Helper()
	c := child("write", dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	var lines []string
	in := bufio.NewReader(out)
	started := make(chan struct{})
	read := make(chan struct{})
	go func() {
		defer close(read)
		for {
			line, err := in.ReadString('\n')
			if err != nil {
				return // a line cut off by the kill was not said
			}
			lines = append(lines, strings.TrimSpace(line))
			if len(lines) == 1 {
				close(started)
			}
		}
	}()
	select {
	case <-started:
	case <-read:
	case <-time.After(20 * time.Second):
		t.Error("the bench said nothing for 20 s")
	}
	time.Sleep(after)
	if err := c.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Fatal(err)
	}
	<-read
	_ = c.Wait() // killed, as it was meant to be
	return lines
}

func child(what, dir string) *exec.Cmd {
	c := exec.Command(os.Args[0])
	c.Env = append(os.Environ(), "BENCHLEAF_TEST_CHILD="+what, "BENCHLEAF_TEST_DIR="+dir)
	c.Stderr = os.Stderr
	return c
}

// fillDisk works under a limit on the size of files, which the system reports
// as it does a full disk, and says what it was told.
func fillDisk(dir string) {
	s, err := Open(dir)
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	list, err := s.List(ctx, Filter{})
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	// Room for the database as it is and little more. The runtime ignores the
	// signal that comes with the error.
	limit := syscall.Rlimit{Cur: 200 << 10, Max: 200 << 10}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	_, err = s.PutPhoto(ctx, io.LimitReader(zeros{}, 1<<20), 2<<20)
	fmt.Println("PHOTO", errors.Is(err, ErrNoSpace), err)
	big := strings.Repeat("x", 19000)
	acknowledged := 0
	for range 200 {
		if _, err = s.Append(ctx, record.Draft{Case: list[0].ID, Expect: 1, By: "KM", Items: []record.Item{{Body: note(big)}}}); err != nil {
			break
		}
		acknowledged++
	}
	fmt.Println("APPEND", errors.Is(err, ErrNoSpace), acknowledged, err)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestFullDiskLosesNothingAndSaysSo(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := record.NewCaseID(time.Now())
	mustAppend(t, s, draft(id, 0, record.Opened{Number: "1", Title: "Demo"}))
	s.Close()
	out, err := child("full", dir).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	lines := strings.Split(string(out), "\n")
	var acknowledged int
	if len(lines) < 2 || !strings.HasPrefix(lines[0], "PHOTO true ") || !strings.HasPrefix(lines[1], "APPEND true ") {
		t.Fatalf("the bench said:\n%s\nwant that the disk is full, twice", out)
	}
	if _, err := fmt.Sscanf(lines[1], "APPEND true %d", &acknowledged); err != nil || acknowledged == 0 {
		t.Fatalf("%q: %v; want some entries before the disk was full", lines[1], err)
	}
	s = mustOpen(t, dir)
	defer s.Close()
	c, err := s.Case(ctx, id)
	if err != nil || len(c.Notes) != acknowledged {
		t.Errorf("%d notes, %v; want the %d that were acknowledged", len(c.Notes), err, acknowledged)
	}
	if r := mustBeClean(t, s); r.Photographs != 0 {
		t.Errorf("%d photographs stayed of one that did not fit", r.Photographs)
	}
	if left, _ := os.ReadDir(dir + "/" + tempDir); len(left) != 0 {
		t.Errorf("%d half-written files stayed", len(left))
	}
}
