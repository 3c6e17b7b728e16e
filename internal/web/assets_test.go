package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"testing"
)

func TestAssets(t *testing.T) {
	s, _ := newServer(t)
	for plain, hashed := range s.assets.manifest {
		w := answerTo(s, request("GET", "/assets/"+hashed, nil))
		if w.Code != http.StatusOK {
			t.Errorf("%s: status %d", plain, w.Code)
		}
		if got := w.Header().Get("Cache-Control"); !strings.Contains(got, "immutable") {
			t.Errorf("%s: Cache-Control %q, want immutable", plain, got)
		}
		if w.Header().Get("X-Content-Type-Options") != "nosniff" || w.Header().Get("Content-Type") == "" {
			t.Errorf("%s: headers %v", plain, w.Header())
		}
		again := answerTo(s, request("GET", "/assets/"+hashed, nil, header("If-None-Match", w.Header().Get("ETag"))))
		if again.Code != http.StatusNotModified || again.Body.Len() != 0 {
			t.Errorf(
				"%s: asked again with its ETag: status %d with %d bytes, want 304 with none",
				plain,
				again.Code,
				again.Body.Len(),
			)
		}
		zipped := answerTo(s, request("GET", "/assets/"+hashed, nil, header("Accept-Encoding", "gzip, br")))
		if zipped.Header().Get("Content-Encoding") != "gzip" {
			continue
		}
		r, err := gzip.NewReader(zipped.Body)
		if err != nil {
			t.Fatal(err)
		}
		back, err := io.ReadAll(r)
		if err != nil || !bytes.Equal(back, w.Body.Bytes()) {
			t.Errorf("%s: what was compressed is not what was not (%v)", plain, err)
		}
	}
	for _, name := range []string{"app.js", "manifest.json", "..%2fassets.go", "app-00000000.js"} {
		if w := answerTo(s, request("GET", "/assets/"+name, nil)); w.Code != http.StatusNotFound {
			t.Errorf("%s: status %d, want 404", name, w.Code)
		}
	}
}
