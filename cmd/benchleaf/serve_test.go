package main

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/store"
)

// running is the program in this process, started as from the command line.
type running struct {
	url    string
	stop   context.CancelFunc
	status chan int
	more   chan string // what it wrote to standard output after the first line
	stderr bytes.Buffer
}

// start runs the program and waits until it says where it listens.
func start(t *testing.T, args ...string) *running {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	read, write := io.Pipe()
	r := &running{stop: stop, status: make(chan int, 1), more: make(chan string, 1)}
	m := &Main{Stdin: strings.NewReader(""), Stdout: write, Stderr: &r.stderr}
	go func() {
		status := m.Do(ctx, args)
		write.Close()
		r.status <- status
	}()
	t.Cleanup(stop)
	out := bufio.NewReader(read)
	line, err := out.ReadString('\n')
	if err != nil {
		t.Fatalf("it ended before it was ready, status %d: %s", <-r.status, r.stderr.String())
	}
	url, ok := strings.CutPrefix(line, "listening on ")
	if !ok {
		t.Fatalf("the first line is %q, want listening on http://…", line)
	}
	r.url = strings.TrimSpace(url)
	go func() {
		rest, _ := io.ReadAll(out)
		r.more <- string(rest)
	}()
	return r
}

// end interrupts the program and checks that it ends well.
func (r *running) end(t *testing.T) {
	t.Helper()
	r.stop()
	select {
	case status := <-r.status:
		if status != 0 {
			t.Errorf("interrupted, it ended with status %d: %s", status, r.stderr.String())
		}
	case <-time.After(30 * time.Second):
		t.Fatal("interrupted, it did not end within 30 s")
	}
	if more := <-r.more; more != "" {
		t.Errorf("after the line that it is ready it wrote %q", more)
	}
}

func get(t *testing.T, url string) (status int, body string) {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(b)
}

func TestServe(t *testing.T) {
	dir := t.TempDir()
	r := start(t, "--data", dir, "--listen", "127.0.0.1:0", "--no-browser")
	if status, body := get(t, r.url); status != http.StatusOK || !strings.Contains(body, "<html") {
		t.Errorf("the home page answers %d with %d bytes", status, len(body))
	}

	// A second program shows the one that is open, and does not get the folder;
	// without the file that says who has it, it says why.
	status, stdout, stderr := do(t, "", "--data", dir, "--listen", "127.0.0.1:0", "--no-browser")
	if status != 0 || !strings.Contains(stdout, r.url) || stderr != "" {
		t.Errorf("a second program on the folder: status %d, %q, %q; want 0 and %s", status, stdout, stderr, r.url)
	}
	if err := os.Remove(filepath.Join(dir, "open-by.json")); err == nil {
		status, _, stderr = do(t, "", "--data", dir, "--listen", "127.0.0.1:0", "--no-browser")
		if status != 1 || !strings.Contains(stderr, dir+" is open in another benchleaf") {
			t.Errorf("with the file removed: status %d, %q; want 1 and the folder's name", status, stderr)
		}
	}

	r.end(t)
	// The folder is free again.
	st, err := store.Open(dir)
	if err != nil {
		t.Fatalf("after the end: %v", err)
	}
	if err := st.Close(); err != nil {
		t.Error(err)
	}
}

func TestDemo(t *testing.T) {
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	r := start(t, "demo", "--no-browser")
	if status, body := get(t, r.url); status != http.StatusOK || !strings.Contains(body, "(demo)") {
		t.Errorf("the home page answers %d and shows the demonstration: %t", status, strings.Contains(body, "(demo)"))
	}
	left := func() int {
		t.Helper()
		list, err := os.ReadDir(temp)
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	if left() != 1 {
		t.Errorf("%d things in the temporary folder while the demonstration runs, want its folder alone", left())
	}
	r.end(t)
	if left() != 0 {
		t.Errorf("%d things stay in the temporary folder", left())
	}

	status, _, stderr := do(t, "", "demo", "--data", temp)
	if status != 2 || !strings.Contains(stderr, "keeps nothing") {
		t.Errorf("demo --data: status %d, %q; want 2 and a sentence why", status, stderr)
	}
}

func TestBeyondLoopback(t *testing.T) {
	for _, tc := range []struct {
		listen string
		want   bool
	}{{"127.0.0.1:0", false}, {"[::1]:0", false}, {"0.0.0.0:0", true}} {
		ln, err := listening{Listen: tc.listen}.open("")
		if err != nil {
			t.Logf("%s: %v", tc.listen, err) // a machine without IPv6
			continue
		}
		list := beyondLoopback(ln)
		ln.Close()
		for _, url := range list {
			if strings.Contains(url, "127.0.0.1") || !strings.HasPrefix(url, "http://") {
				t.Errorf("%s: %s is no address for another device", tc.listen, url)
			}
		}
		if !tc.want && len(list) > 0 {
			t.Errorf("%s: reachable at %v, want nowhere beyond this machine", tc.listen, list)
		}
	}
}
