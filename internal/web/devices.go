package web

import (
	"errors"
	"net/http"
	"time"

	"benchleaf/internal/record"
)

func (s *Server) routesDevices(mux *http.ServeMux) {
	mux.Handle("GET /studio/devices", s.do(s.devicesPage))
	mux.Handle("POST /studio/devices/unpair", s.do(s.deviceUnpair))
	mux.Handle("POST /studio/devices/name", s.do(s.deviceName))
}

// devicesPage lists the devices that may reach the bench.
type devicesPage struct {
	Page
	Here    bool // it is shown on the bench machine, which may do all
	In      *wayIn
	Refusal string
	Devices []deviceRow
}

type deviceRow struct {
	ID, Name, Agent string
	Paired, Seen    time.Time
	This            bool // the device that shows the page
}

var devicesView = declare[devicesPage]("devices")

func (s *Server) devicesPage(w http.ResponseWriter, r *http.Request) error {
	return s.devicesShow(w, r, http.StatusOK, "")
}

func (s *Server) devicesShow(w http.ResponseWriter, r *http.Request, status int, refusal string) error {
	p := devicesPage{Page: s.studioSub(r, "Devices"), Here: fromHere(r), Refusal: refusal}
	p.status = status
	if p.Here {
		p.In = s.wayIn()
	}
	own := s.pairing.deviceOf(r)
	for _, d := range s.pairing.list() {
		p.Devices = append(p.Devices, deviceRow{
			ID: d.ID(), Name: d.Name, Agent: d.Agent, Paired: d.Paired.In(s.zone), Seen: d.last().In(s.zone),
			This: own != nil && own.Token == d.Token,
		})
	}
	return devicesView.show(s, w, r, p)
}

// errNotHere refuses what the bench machine alone may do: a device that was lost
// must not be able to lock the others out.
var errNotHere = record.Invalidf("", "This is done on the bench machine; a device can take out itself alone.")

// deviceUnpair takes a device out.
func (s *Server) deviceUnpair(w http.ResponseWriter, r *http.Request) error {
	return s.onDevice(w, r, "The device is unpaired: it gets nothing any more.", func(id string, r *http.Request) error {
		return s.pairing.unpair(id, r)
	})
}

// deviceName gives a device the name by which people know it.
func (s *Server) deviceName(w http.ResponseWriter, r *http.Request) error {
	return s.onDevice(w, r, "The name is written down.", func(id string, r *http.Request) error {
		return s.pairing.rename(id, r.PostForm.Get("name"))
	})
}

func (s *Server) onDevice(
	w http.ResponseWriter, r *http.Request, said string, act func(id string, r *http.Request) error,
) error {
	if _, err := s.sent(w, r, "device"); err != nil {
		return err
	}
	id := r.PostForm.Get("device")
	own := s.pairing.deviceOf(r)
	if !fromHere(r) && (own == nil || own.ID() != id) {
		return s.devicesShow(w, r, http.StatusForbidden, errNotHere.Error())
	}
	switch err := act(id, r); {
	case errors.Is(err, errNoDevice):
		return s.devicesShow(w, r, http.StatusConflict, upperFirst(err.Error())+".")
	case err != nil:
		return err
	}
	if !fromHere(r) && s.pairing.deviceOf(r) == nil { // it has taken itself out
		http.SetCookie(w, &http.Cookie{Name: deviceCookie, Path: "/", MaxAge: -1})
		http.Redirect(w, r, pairPath, http.StatusSeeOther)
		return nil
	}
	setFlash(w, Flash{Said: said})
	http.Redirect(w, r, "/studio/devices", http.StatusSeeOther)
	return nil
}
