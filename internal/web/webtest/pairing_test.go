package webtest

import (
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// TestPairAPhone brings a phone in from beyond this machine: the code once,
// then the bench.
func TestPairAPhone(t *testing.T) {
	var outside atomic.Bool
	b := newBenchWith(t, func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if outside.Load() {
				r.RemoteAddr = "192.0.2.20:40000"
			}
			next.ServeHTTP(w, r)
		})
	})
	outside.Store(true)
	p := b.open(phone, "/")
	p.allow("status of 422")
	p.see("Pair this device")
	p.axe()
	p.screen("pair")
	wrong := "00000000"
	if strings.ReplaceAll(b.server.PairingCode(), " ", "") == wrong {
		wrong = "00000001"
	}
	p.fill("Code", wrong)
	p.press("Pair this device")
	p.see("This is not the code that the bench machine shows now")
	p.axe()
	p.screen("pair-wrong")
	time.Sleep(600 * time.Millisecond) // two tries in one moment are slowed
	p.fill("Code", b.server.PairingCode())
	p.press("Pair this device")
	p.see("No case yet")
	p.goTo("/pair")
	p.see("No case yet") // it is not asked twice
}
