package web

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"
)

// serving answers on a real listener until the test ends.
func serving(t *testing.T, s *Server) (addr string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx, ln) }()
	t.Cleanup(func() {
		http.DefaultClient.CloseIdleConnections()
		stop()
		if err := <-ended; err != nil {
			t.Errorf("Serve ended with %v", err)
		}
	})
	return ln.Addr().String()
}

// A form of a hundred megabytes gets its sentence: a browser that is cut off shows
// none.
func TestAFormThatIsTooLargeIsTold(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	at := serving(t, s)
	for _, path := range []string{casePath(id, "note"), "/writer", "/pair", "/studio/charts"} {
		kind := "application/x-www-form-urlencoded"
		body := io.MultiReader(strings.NewReader("text="), io.LimitReader(zeros{}, 100<<20))
		if path == "/studio/charts" {
			kind = "multipart/form-data; boundary=x"
			body = io.MultiReader(strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\n"),
				io.LimitReader(zeros{}, 100<<20))
		}
		r, err := http.NewRequestWithContext(t.Context(), "POST", "http://"+at+path, body)
		if err != nil {
			t.Fatal(err)
		}
		r.ContentLength = -1
		r.Header.Set("Content-Type", kind)
		res, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Errorf("%s: %v, want an answer", path, err)
			continue
		}
		page, err := io.ReadAll(res.Body)
		res.Body.Close()
		if err != nil || res.StatusCode != http.StatusRequestEntityTooLarge ||
			!strings.Contains(string(page), "larger than this page takes, which is ") {
			t.Errorf("%s: status %d, %v", path, res.StatusCode, err)
		}
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// Uploads whose sender has gone end; one that comes slowly is taken.
func TestStalledUploadsEnd(t *testing.T) {
	s, _ := newServer(t)
	s.pace = pace{stall: time.Second, grace: 20 * time.Second, rate: 4096}
	id := openCase(t, s)
	at := serving(t, s)
	head := func(length int) string {
		return fmt.Sprintf("POST %s HTTP/1.1\r\nHost: %s\r\nAccept: text/html\r\nContent-Type: multipart/form-data; "+
			"boundary=x\r\nContent-Length: %d\r\n\r\n", casePath(id, "photos"), at, length)
	}
	part := "--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\n"
	var wg sync.WaitGroup
	for range 100 {
		c, err := net.Dial("tcp", at)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		if _, err := io.WriteString(c, head(1<<20)+part+"begun"); err != nil {
			t.Fatal(err)
		}
		wg.Go(func() {
			// Whatever it says, it must end.
			if err := c.SetReadDeadline(time.Now().Add(40 * time.Second)); err != nil {
				t.Error(err)
			}
			if _, err := io.Copy(io.Discard, c); err != nil {
				t.Errorf("a stalled upload stays open: %v", err)
			}
		})
	}
	wg.Wait()

	body := part + string(aJPEG(t, 300, 200)) + "\r\n--x\r\nContent-Disposition: form-data; name=\"by\"\r\n\r\nKM\r\n" +
		"--x\r\nContent-Disposition: form-data; name=\"seq\"\r\n\r\n1\r\n" +
		"--x\r\nContent-Disposition: form-data; name=\"stage\"\r\n\r\narrival\r\n" +
		"--x\r\nContent-Disposition: form-data; name=\"light\"\r\n\r\nnormal\r\n--x--\r\n"
	c, err := net.Dial("tcp", at)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, head(len(body))); err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(body); i += len(body)/12 + 1 {
		time.Sleep(100 * time.Millisecond)
		if _, err := io.WriteString(c, body[i:min(len(body), i+len(body)/12+1)]); err != nil {
			t.Fatalf("a slow upload is cut off: %v", err)
		}
	}
	answer := make([]byte, 200)
	if n, err := c.Read(answer); err != nil || !strings.Contains(string(answer[:n]), "303 See Other") {
		t.Errorf("a slow upload: %q, %v", answer[:n], err)
	}
}

// A rate below the least ends an upload that never quite stalls.
func TestAnUploadThatTricklesEnds(t *testing.T) {
	s, _ := newServer(t)
	s.pace = pace{stall: time.Second, grace: time.Second, rate: 1 << 20}
	id := openCase(t, s)
	at := serving(t, s)
	body, write := io.Pipe()
	defer write.Close()
	go func() {
		io.WriteString(write, "--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\n")
		for {
			if _, err := write.Write([]byte{'a'}); err != nil {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
	}()
	ctx, cancel := context.WithTimeout(t.Context(), 40*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, "POST", "http://"+at+casePath(id, "photos"), body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
	res, err := http.DefaultClient.Do(r)
	if err == nil {
		res.Body.Close()
	}
	if ctx.Err() != nil {
		t.Error("it was still taken after 40 s")
	}
}

// Forms of many parts, of parts with long names, and of forms within forms are
// refused, or read as the plain values that they are.
func TestFormsOfManyPartsAndForms(t *testing.T) {
	s, _ := newServer(t)
	id := openCase(t, s)
	send := func(fill func(*multipart.Writer)) *http.Request {
		var body bytes.Buffer
		m := multipart.NewWriter(&body)
		fill(m)
		m.Close()
		r := request("POST", casePath(id, "photos"), nil, header("Content-Type", m.FormDataContentType()),
			header("Sec-Fetch-Site", "same-origin"))
		r.Body = io.NopCloser(&body)
		return r
	}
	for name, tc := range map[string]struct {
		fill func(*multipart.Writer)
		want int
	}{
		"fifty thousand parts of nothing": {func(m *multipart.Writer) {
			for range 50_000 {
				m.WriteField("a", "")
			}
		}, http.StatusRequestEntityTooLarge},
		"long names": {func(m *multipart.Writer) {
			for range 200 {
				m.WriteField(strings.Repeat("n", 8000), "")
			}
		}, http.StatusRequestEntityTooLarge},
		"a form in a form in a form": {func(m *multipart.Writer) {
			inner := "--y\r\nContent-Disposition: form-data; name=\"by\"\r\n\r\nXX\r\n--y--\r\n"
			for range 500 {
				inner = "--y\r\nContent-Type: multipart/mixed; boundary=y\r\n\r\n" + inner + "\r\n--y--\r\n"
			}
			w, err := m.CreatePart(map[string][]string{
				"Content-Disposition": {`form-data; name="deep"`}, "Content-Type": {"multipart/mixed; boundary=y"},
			})
			if err != nil {
				t.Fatal(err)
			}
			io.WriteString(w, inner)
		}, http.StatusUnprocessableEntity},
		"forty-one photographs": {func(m *multipart.Writer) {
			for i := range maxPhotos + 1 {
				w, err := m.CreateFormFile("photo", fmt.Sprint(i, ".txt"))
				if err != nil {
					t.Fatal(err)
				}
				io.WriteString(w, "no picture")
			}
		}, http.StatusUnprocessableEntity},
	} {
		w := answerTo(s, send(tc.fill))
		if w.Code != tc.want {
			t.Errorf("%s: status %d, want %d", name, w.Code, tc.want)
		}
	}
	c, err := s.store.Case(t.Context(), id)
	if err != nil || c.LastSeq != 1 {
		t.Errorf("the journal has %d entries, %v", c.LastSeq, err)
	}
}
