package web

import (
	"net"
	"net/http"
	"strings"
	"time"

	"rsc.io/qr"
)

// Beyond this machine the bench is reached by https. Plain http at the same port
// gives one page: it hands out the certificate that lets a device trust the
// bench, and leads to the same address by https, where the code is entered.

const certificatePath = "/pair/benchleaf.crt"

func (s *Server) routesDoor(mux *http.ServeMux) {
	mux.Handle("GET "+certificatePath, s.do(s.certificate))
}

// inTheClear says whether a request came over the network unencrypted though
// there is an encrypted way.
func (s *Server) inTheClear(r *http.Request) bool {
	return s.authority != nil && r.TLS == nil && !fromHere(r)
}

// encrypted leads what comes unencrypted to the one page that it gets.
func (s *Server) encrypted(next http.Handler) http.Handler {
	own := s.pairFiles()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asks := r.Method == http.MethodGet || r.Method == http.MethodHead
		if s.inTheClear(r) && !(asks && (own[r.URL.Path] || r.URL.Path == pairPath)) {
			toPairing(w, r, "The bench is reached by https: open its address in a browser, which leads there.")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// certificate gives the authority's certificate for a device to install.
func (s *Server) certificate(w http.ResponseWriter, r *http.Request) error {
	if s.authority == nil {
		http.NotFound(w, r)
		return nil
	}
	h := w.Header()
	h.Set("Content-Type", "application/x-x509-ca-cert") // by which telephones know what it is
	h.Set("Content-Disposition", `inline; filename="benchleaf.crt"`)
	h.Set("Cache-Control", "no-store")
	_, err := w.Write(s.authority.Certificate())
	return err
}

// doorPage is what a device gets before it trusts the bench: first the
// certificate, then the way to the code.
type doorPage struct {
	Page
	Certificate string // its name in the device's lists
	System      string // of the device, by its own word; "" where it is not told
	Secure      string // this address by https
	Name        string // the address by the bench's name, where it has one
}

var doorView = declare[doorPage]("door")

func (s *Server) doorShow(w http.ResponseWriter, r *http.Request) error {
	p := doorPage{
		Page:        Page{Title: "Bring this device in", Bare: true, Now: s.now(), Version: s.version},
		Certificate: s.authority.Name(),
		System:      systemOf(r.UserAgent()),
		Secure:      "https://" + r.Host,
	}
	if p.Name = s.byName(r.Host); p.Name == p.Secure {
		p.Name = ""
	}
	return doorView.show(s, w, r, p)
}

// byName is the bench's address by its name in the network, at the port of host;
// "" where it has no name.
func (s *Server) byName(host string) string {
	if s.named == nil {
		return ""
	}
	name, _ := s.named.Now() // why there is none stands on the bench's own pages
	_, port, err := net.SplitHostPort(host)
	switch {
	case name == "":
		return ""
	case err != nil:
		return "https://" + name
	}
	return "https://" + net.JoinHostPort(name, port)
}

// systemOf is the system whose steps stand open.
func systemOf(agent string) string {
	for _, k := range [][2]string{
		{"iPad", "apple"}, {"iPhone", "apple"}, {"Android", "android"}, {"Macintosh", "mac"}, {"Windows", "windows"},
		{"CrOS", "chrome"}, {"Linux", "chrome"},
	} {
		if strings.Contains(agent, k[0]) {
			return k[1]
		}
	}
	return ""
}

// wayIn is how another device gets in, as the bench machine shows it.
type wayIn struct {
	// Reach are the addresses to open there; the first is drawn as a QR code.
	Reach []string
	QR    qrCode
	Code  string
	Until time.Time
	// Name is the address that stays when the machine's address changes; NoName
	// says why there is none.
	Name, NoName string
	// Fingerprint and Thumbprint are those of the certificate that the device
	// shows, by SHA-256 and SHA-1; "" where there is none.
	Fingerprint, Thumbprint string
	Certificate             string
	CertificateUntil        time.Time
}

// wayIn is nil where no other device can come in.
func (s *Server) wayIn() *wayIn {
	if len(s.beyond) == 0 {
		return nil
	}
	in := &wayIn{Reach: s.beyond, QR: drawQR(s.beyond[0] + pairPath)}
	in.Code, in.Until = s.pairing.codeNow()
	in.Until = in.Until.In(s.zone)
	if a := s.authority; a != nil {
		in.Fingerprint, in.Thumbprint, in.Certificate = a.Fingerprint(), a.Thumbprint(), a.Name()
		in.CertificateUntil = a.Until().In(s.zone)
	}
	if s.named != nil {
		if _, why := s.named.Now(); why != nil {
			in.NoName = why.Error()
		}
		in.Name = s.byName(strings.TrimPrefix(s.beyond[0], "http://"))
	}
	return in
}

// qrCode is a QR code (ISO/IEC 18004) as one path of squares, with the four
// squares of quiet about it.
type qrCode struct {
	Size int
	Path string
}

func drawQR(text string) qrCode {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return qrCode{} // the text stands beside it
	}
	const quiet = 4
	var b strings.Builder
	for y := range c.Size {
		for x := range c.Size {
			if c.Black(x, y) {
				b.WriteString("M" + fig(float64(x+quiet)) + " " + fig(float64(y+quiet)) + "h1v1h-1z")
			}
		}
	}
	return qrCode{c.Size + 2*quiet, b.String()}
}
