package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

const (
	// pairedFor is how long a device that nobody uses stays paired.
	pairedFor = 400 * 24 * time.Hour
	// seenEvery is how often it is written down that a device was seen.
	seenEvery = 15 * time.Minute
	// mostDevices bounds the list.
	mostDevices = 100
)

// device is one that was paired. Its token is kept by the device alone; here
// only a hash of it is.
type device struct {
	Token  string    `json:"token_sha256"`
	Paired time.Time `json:"paired"`
	Agent  string    `json:"agent,omitempty"`
	Name   string    `json:"name,omitempty"`
	Seen   time.Time `json:"seen,omitzero"`

	under map[*http.Request]context.CancelCauseFunc // its requests under way
}

// ID names the device in addresses: it tells nothing of the token.
func (d *device) ID() string { return d.Token[:min(16, len(d.Token))] }

// last is when the device was last heard of.
func (d *device) last() time.Time {
	if d.Seen.After(d.Paired) {
		return d.Seen
	}
	return d.Paired
}

// add makes a device and gives its token. The caller holds mu.
func (p *pairing) add(agent string, now time.Time) (token string, err error) {
	p.forget(now)
	if len(p.devices) >= mostDevices {
		return "", fmt.Errorf("%d devices are paired, which is the most: unpair one on the bench machine", mostDevices)
	}
	raw := make([]byte, 32)
	rand.Read(raw) // documented never to return an error
	token = base64.RawURLEncoding.EncodeToString(raw)
	now = now.UTC().Truncate(time.Second)
	d := &device{Token: tokenHash(token), Paired: now, Seen: now, Agent: clipTo(agent, 200), Name: kindOf(agent)}
	p.devices[d.Token] = d
	if err := p.save(); err != nil {
		delete(p.devices, d.Token)
		return "", err
	}
	return token, nil
}

// forget drops the devices that were not seen for so long that their own cookie
// is gone. The caller holds mu.
func (p *pairing) forget(now time.Time) {
	for k, d := range p.devices {
		if now.Sub(d.last()) > pairedFor {
			delete(p.devices, k)
		}
	}
}

// errUnpaired ends the requests of a device that is unpaired.
var errUnpaired = errors.New("the device was unpaired")

var errNoDevice = errors.New("this device is not among the paired ones any more")

// unpair lets a device in no more, and ends what it has under way but for the
// request that asks for it.
func (p *pairing) unpair(id string, but *http.Request) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	d := p.find(id)
	if d == nil {
		return errNoDevice
	}
	delete(p.devices, d.Token)
	for r, stop := range d.under {
		if r != but {
			stop(errUnpaired)
		}
	}
	return p.save()
}

// rename gives a device a name by which a person knows it.
func (p *pairing) rename(id, name string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	d := p.find(id)
	if d == nil {
		return errNoDevice
	}
	d.Name = clipTo(strings.Join(strings.Fields(name), " "), 60)
	return p.save()
}

// find is the device of an ID, or nil. The caller holds mu.
func (p *pairing) find(id string) *device {
	for _, d := range p.devices {
		if d.ID() == id {
			return d
		}
	}
	return nil
}

// list is a copy of what is known of the devices, who was last seen first.
func (p *pairing) list() []device {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.forget(p.now())
	var list []device
	for _, d := range p.devices {
		list = append(list, device{Token: d.Token, Paired: d.Paired, Agent: d.Agent, Name: d.Name, Seen: d.Seen})
	}
	slices.SortFunc(list, func(a, b device) int {
		if c := b.last().Compare(a.last()); c != 0 {
			return c
		}
		return strings.Compare(a.Token, b.Token)
	})
	return list
}

// deviceOf is the paired device that a request comes from, or nil.
func (p *pairing) deviceOf(r *http.Request) *device {
	c, err := r.Cookie(deviceCookie)
	if err != nil {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	d := p.devices[tokenHash(c.Value)]
	if d == nil || p.now().Sub(d.last()) > pairedFor {
		return nil
	}
	return d
}

// serve answers a device, until it is unpaired.
func (p *pairing) serve(d *device, next http.Handler, w http.ResponseWriter, r *http.Request) {
	ctx, stop := context.WithCancelCause(r.Context())
	defer stop(nil)
	r = r.WithContext(ctx)
	p.mu.Lock()
	if p.devices[d.Token] == nil {
		stop(errUnpaired) // between the look at its cookie and here
	}
	if d.under == nil {
		d.under = map[*http.Request]context.CancelCauseFunc{}
	}
	d.under[r] = stop
	d.Seen = p.now().UTC().Truncate(time.Second)
	var failed error
	if p.now().Sub(p.saved).Abs() > seenEvery {
		failed = p.save()
	}
	p.mu.Unlock()
	defer func() {
		p.mu.Lock()
		delete(d.under, r)
		p.mu.Unlock()
		if errors.Is(context.Cause(ctx), errUnpaired) {
			// Half an answer must not look like a whole one.
			panic(http.ErrAbortHandler)
		}
	}()
	if failed != nil && p.failed != nil {
		p.failed(failed) // when it was seen is not worth a request
	}
	next.ServeHTTP(w, r)
}

// save writes the list of devices whole or not at all. The caller holds mu.
func (p *pairing) save() error {
	list := make([]*device, 0, len(p.devices))
	for _, d := range p.devices {
		list = append(list, d)
	}
	slices.SortFunc(list, func(a, b *device) int { return a.Paired.Compare(b.Paired) })
	raw, err := json.MarshalIndent(list, "", "  ")
	if err != nil {
		return err
	}
	p.saved = p.now()
	f, err := os.CreateTemp(filepath.Dir(p.file), "devices-*")
	if err != nil {
		return fmt.Errorf("keep the paired devices: %w", err)
	}
	defer os.Remove(f.Name()) // nothing is there after the renaming
	_, err = f.Write(append(raw, '\n'))
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), p.file)
	}
	if err != nil {
		return fmt.Errorf("keep the paired devices: %w", err)
	}
	return nil
}

func tokenHash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

func clipTo(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most])
	}
	return s
}

// kindOf names a device by what its browser says of it, until a person does.
func kindOf(agent string) string {
	for _, k := range []struct{ part, name string }{
		{"iPad", "iPad"}, {"iPhone", "iPhone"}, {"Android", "Android device"}, {"CrOS", "Chromebook"},
		{"Macintosh", "Mac or iPad"}, {"Windows", "Windows machine"}, {"Linux", "Linux machine"},
	} {
		if strings.Contains(agent, k.part) {
			return k.name
		}
	}
	return "Device"
}
