package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"
)

//go:embed assets
var assetFiles embed.FS

// assets are the files that pages load: named after their content, so that a
// browser may keep them for ever.
type assets struct {
	manifest map[string]string // plain name to the name with its hash
	files    map[string]asset
}

type asset struct {
	content []byte
	gzipped []byte // nil where it would not be smaller
	kind    string
	etag    string
}

// assetKinds are all the types of file that the assets folder may hold.
var assetKinds = map[string]string{
	".js":    "text/javascript; charset=utf-8",
	".css":   "text/css; charset=utf-8",
	".woff2": "font/woff2",
	".svg":   "image/svg+xml",
	".png":   "image/png",
}

func loadAssets() (*assets, error) {
	a := &assets{files: map[string]asset{}}
	folder := mustSub(assetFiles, "assets")
	list, err := fs.ReadFile(folder, "manifest.json")
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(list, &a.manifest); err != nil {
		return nil, fmt.Errorf("manifest.json: %w", err)
	}
	for _, name := range a.manifest {
		content, err := fs.ReadFile(folder, name)
		if err != nil {
			return nil, err
		}
		kind := assetKinds[path.Ext(name)]
		if kind == "" {
			return nil, fmt.Errorf("%s is of no type that is served", name)
		}
		sum := sha256.Sum256(content)
		f := asset{content: content, kind: kind, etag: `"` + hex.EncodeToString(sum[:8]) + `"`}
		if strings.HasPrefix(kind, "text/") || kind == "image/svg+xml" {
			f.gzipped = gzipped(content)
		}
		a.files[name] = f
	}
	return a, nil
}

func gzipped(content []byte) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is a valid one
	w.Write(content)                                      // a buffer never refuses
	w.Close()
	if b.Len() >= len(content) {
		return nil
	}
	return b.Bytes()
}

// url is the address of an asset by its plain name.
func (a *assets) url(name string) (string, error) {
	hashed, ok := a.manifest[name]
	if !ok {
		return "", fmt.Errorf("there is no asset %q", name)
	}
	return "/assets/" + hashed, nil
}

func (s *Server) routesAssets(mux *http.ServeMux) {
	mux.HandleFunc("GET /assets/{name}", s.assets.serve)
	mux.HandleFunc("GET /sw.js", s.assets.serveWorker)
	mux.Handle("GET /alone", s.do(s.alonePage))
}

// serveWorker gives the service worker under the one name that browsers ask for again.
func (a *assets) serveWorker(w http.ResponseWriter, r *http.Request) {
	f := a.files[a.manifest["sw.js"]]
	w.Header().Set("Content-Type", f.kind)
	w.Header().Set("Cache-Control", "no-cache")
	w.Write(f.content)
}

// alonePage is what a device shows without the network in the place of a page that it
// has not kept.
type alonePage struct{ Page }

var aloneView = declare[alonePage]("alone")

func (s *Server) alonePage(w http.ResponseWriter, r *http.Request) error {
	p := alonePage{s.page(r, "This page is not on this device")}
	p.Running = nil // those of another time
	return aloneView.show(s, w, r, p)
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request) {
	f, ok := a.files[r.PathValue("name")]
	if !ok {
		http.Error(w, "There is no such file. Load the page again.", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", f.kind)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("ETag", f.etag)
	if f.gzipped != nil {
		h.Set("Vary", "Accept-Encoding")
	}
	if strings.Contains(r.Header.Get("If-None-Match"), f.etag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	content := f.content
	if f.gzipped != nil && strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		content = f.gzipped
	}
	h.Set("Content-Length", strconv.Itoa(len(content)))
	w.Write(content)
}
