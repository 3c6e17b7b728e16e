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
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
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
	case "made read-only":
		writeMadeReadOnly()
	case "fixed":
		lookFixed(os.Getenv("BENCHLEAF_TEST_DIR"))
	case "open":
		_, err := Open(os.Getenv("BENCHLEAF_TEST_DIR"))
		fmt.Println(errors.As(err, new(*InUse)), err)
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
				drafts := []record.Draft{draft(id, 1, body)}
				if i%4 == 1 { // one act in two cases
					other := list[r.IntN(len(list))].ID
					shared := record.Note{Nature: "observed", Text: "both " + text}
					drafts = []record.Draft{draft(id, 1, shared), draft(other, 1, shared)}
				}
				entries, err := s.Append(ctx, drafts...)
				if err != nil {
					say("ERROR %v", err)
					return
				}
				for _, e := range entries {
					say("ENTRY %s %d %s", e.Case, e.Seq, e.Hash)
				}
			}
		})
	}
	wg.Wait()
}

// kills is how often the bench is killed here: of 30 in an ordinary run, or of as many
// as BENCHLEAF_CRASH_KILLS says, two in three; the others are killed over HTTP, in
// cmd/benchleaf.
func kills(t *testing.T) int {
	n, err := strconv.Atoi(os.Getenv("BENCHLEAF_CRASH_KILLS"))
	if err != nil {
		n = 30
	}
	return n - n/3
}

// livesEach is how many lives one data folder sees: what is verified after each kill
// stays small.
const livesEach = 20

// No acknowledged entry or photograph is lost when the process is killed at a
// random moment, and what is left verifies clean, every time.
func TestKillLosesNothingAcknowledged(t *testing.T) {
	r := rand.New(rand.NewPCG(1, uint64(time.Now().UnixNano())))
	entries, photos := 0, 0
	var dir string
	for k := range kills(t) {
		if k%livesEach == 0 {
			dir = t.TempDir()
			s := mustOpen(t, dir)
			for i := range 3 {
				id := record.NewCaseID(time.Now())
				mustAppend(t, s, draft(id, 0, record.Opened{Number: strconv.Itoa(i), Title: "Demo"}))
			}
			s.Close()
		}
		lines := killedRun(t, dir, time.Duration(r.IntN(60_000))*time.Microsecond)
		e, p := wantAcknowledged(t, dir, lines, k)
		entries, photos = entries+e, photos+p
	}
	t.Logf("%d kills: %d acknowledged entries and %d photographs, all there", kills(t), entries, photos)
	if entries < kills(t) || photos < kills(t)/3 {
		t.Errorf("only %d entries and %d photographs were acknowledged: the test proves nothing", entries, photos)
	}
}

// wantAcknowledged wants all that the bench said before kill k, in a folder that is
// whole.
func wantAcknowledged(t *testing.T, dir string, lines []string, k int) (entries, photos int) {
	t.Helper()
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
			if got, err := hashFile(ctx, s.photoPath(h)); err != nil || got != h {
				t.Fatalf("kill %d: the acknowledged photograph %s is lost or broken: %v", k, h, err)
			}
			photos++
		default:
			t.Fatalf("kill %d: the bench said %q", k, line)
		}
	}
	mustBeClean(t, s)
	wantBothOrNone(t, s)
	if left, _ := os.ReadDir(dir + "/" + tempDir); len(left) != 0 {
		t.Fatalf("kill %d: %d half-written files stayed", k, len(left))
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return entries, photos
}

// wantBothOrNone looks for acts in two cases of which one half is there.
func wantBothOrNone(t *testing.T, s *Store) {
	t.Helper()
	list, err := s.List(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	halves := map[string]int{}
	for _, sum := range list {
		c, err := s.Case(ctx, sum.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range c.Notes {
			if strings.HasPrefix(n.Body.Text, "both ") {
				halves[n.Body.Text]++
			}
		}
	}
	for text, n := range halves {
		if n != 2 {
			t.Fatalf("of the act %q in two cases, %d halves are there", text, n)
		}
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
// as it does a full disk, and says what it was told; then with room again.
func fillDisk(dir string) {
	s, err := Open(dir)
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	defer s.Close()
	list, err := s.List(ctx, Filter{})
	if err != nil {
		fmt.Println("ERROR", err)
		return
	}
	var old syscall.Rlimit
	err = syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old)
	// Room for the database as it is and little more. The runtime ignores the
	// signal that comes with the error.
	limit := syscall.Rlimit{Cur: 200 << 10, Max: old.Max}
	if err = errors.Join(err, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit)); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	_, err = s.PutPhoto(ctx, io.LimitReader(zeros{}, 1<<20), 2<<20)
	fmt.Println("PHOTO", errors.Is(err, ErrNoSpace), err)
	err = s.PutDerived(
		record.Hash{1},
		"320.jpg",
		func(w io.Writer) error { _, err := io.CopyN(w, zeros{}, 1<<20); return err },
	)
	fmt.Println("DERIVED", errors.Is(err, ErrNoSpace), err)
	err = s.Backup(ctx, filepath.Join(dir, "backup.zip"))
	fmt.Println("BACKUP", errors.Is(err, ErrNoSpace), err)
	append := func() error {
		_, err := s.Append(ctx, draft(list[0].ID, 1, note(strings.Repeat("x", 19000))))
		return err
	}
	var acknowledged atomic.Int64
	var full atomic.Bool
	full.Store(true)
	var wg sync.WaitGroup
	for range 8 { // together, so that some fail in one transaction with others
		wg.Go(func() {
			for range 50 {
				if err := append(); err == nil {
					acknowledged.Add(1)
				} else if !errors.Is(err, ErrNoSpace) {
					fmt.Println("ERROR", err)
					full.Store(false)
				}
			}
		})
	}
	wg.Wait()
	fmt.Println("APPEND", full.Load(), acknowledged.Load())
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		fmt.Println("ERROR", err)
		return
	}
	fmt.Println("ROOM", append() == nil)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestFullDiskLosesNothingAndSaysSo(t *testing.T) {
	for range flips(t, 2) {
		fullDisk(t)
	}
}

func fullDisk(t *testing.T) {
	dir := t.TempDir()
	s := mustOpen(t, dir)
	id := record.NewCaseID(time.Now())
	mustAppend(t, s, draft(id, 0, record.Opened{Number: "1", Title: "Demo"}))
	for _, c := range "ab" { // together more than the limit that a backup meets
		mustAppend(t, s, draft(id, 1, photoOf(mustPut(t, s, strings.Repeat(string(c), 150<<10)))))
	}
	s.Close()
	out, err := child("full", dir).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	lines := strings.Split(string(out), "\n")
	want := []string{"PHOTO true ", "DERIVED true ", "BACKUP true ", "APPEND true ", "ROOM true"}
	for i := range want {
		if i >= len(lines) || !strings.HasPrefix(lines[i], want[i]) {
			t.Fatalf("the bench said:\n%s\nwant that the disk is full, and then that there is room: %q", out, want)
		}
	}
	var acknowledged int
	if _, err := fmt.Sscanf(lines[3], "APPEND true %d", &acknowledged); err != nil || acknowledged == 0 ||
		acknowledged == 400 {
		t.Fatalf("%q: %v; want some entries before the disk was full, and not all", lines[3], err)
	}
	s = mustOpen(t, dir)
	defer s.Close()
	c, err := s.Case(ctx, id)
	if err != nil || len(c.Notes) != acknowledged+1 {
		t.Errorf("%d notes, %v; want the %d that were acknowledged and the one after", len(c.Notes), err, acknowledged)
	}
	if r := mustBeClean(t, s); r.Photographs != 2 {
		t.Errorf("%d photographs, want the 2 that were there before", r.Photographs)
	}
	for _, at := range []string{dir + "/" + tempDir + "/*", dir + "/backup.zip*"} {
		if left, _ := filepath.Glob(at); len(left) != 0 {
			t.Errorf("half-written files stayed: %q", left)
		}
	}
}

// Another process is told who has the folder; one that was killed has nothing.
func TestOtherProcessIsToldWhoHasTheFolder(t *testing.T) {
	s := opened(t)
	out, err := child("open", s.dir).Output()
	host, _ := os.Hostname()
	if err != nil || !strings.HasPrefix(string(out), "true ") ||
		!strings.Contains(string(out), fmt.Sprintf("process %d on %s", os.Getpid(), host)) {
		t.Errorf("%v: the other process said %q", err, out)
	}
	s.Close()
	if out, err := child("open", s.dir).Output(); err != nil || !strings.HasPrefix(string(out), "false <nil>") {
		t.Errorf("%v: with the folder free, the other process said %q", err, out)
	}
}
