package webtest

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"benchleaf/internal/trust"
	"benchleaf/internal/web"
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

// TestTheDoorAndTheDevices looks at what a device sees before it trusts the bench,
// and at the list of devices on the bench machine.
func TestTheDoorAndTheDevices(t *testing.T) {
	var outside atomic.Bool
	b := newBenchAs(t, func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if outside.Load() {
				r.RemoteAddr = "192.0.2.20:40000"
			}
			next.ServeHTTP(w, r)
		})
	}, func(cfg *web.Config) {
		a, err := trust.Open(cfg.Store.Dir(), time.Now, func() []string { return nil })
		if err != nil {
			t.Fatal(err)
		}
		cfg.Authority, cfg.Beyond = a, []string{"http://192.168.7.7:7411"}
	})
	paired := `[{"token_sha256":"` + strings.Repeat("ab", 32) + `","paired":"` + time.Now().UTC().Format(time.RFC3339) +
		`","agent":"Mozilla/5.0 (iPad; CPU OS 26_0 like Mac OS X)","name":"iPad"}]`
	b.stop()
	if err := os.WriteFile(filepath.Join(b.dir, "devices.json"), []byte(paired), 0o600); err != nil {
		t.Fatal(err)
	}
	b.start()
	for _, size := range []size{tablet, phone} {
		outside.Store(true)
		p := b.open(size, "/")
		p.see("Install the bench’s certificate")
		p.clean()
		p.screen("door-" + size.name)
		outside.Store(false)
		p.goTo("/studio/devices")
		p.see("last seen")
		p.clean()
		p.screen("devices-" + size.name)
		p.goTo("/")
		p.see("Fingerprint")
		p.clean()
	}
	p := b.open(tablet, "/studio/devices")
	p.press("Unpair iPad")
	p.see("No device is paired")
}
