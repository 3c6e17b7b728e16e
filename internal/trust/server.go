package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net/netip"
	"slices"
	"strings"
	"time"
)

// leaf is a certificate of the bench, and for which hosts it was made.
type leaf struct {
	cert  *tls.Certificate
	hosts []string
	until time.Time
	asked time.Time // when the hosts were last looked at
}

// lookAgain is how old what is known of the bench's addresses may be.
const lookAgain = 10 * time.Second

// Config answers TLS with a certificate for what the bench is called now. A name
// that is not the bench's gets none.
func (a *Authority) Config() *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS12, GetCertificate: a.serve,
		NextProtos: []string{"h2", "http/1.1"}, // also where plain http is served beside it
	}
}

func (a *Authority) serve(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	l, err := a.current()
	if err != nil {
		return nil, err
	}
	name := strings.ToLower(strings.TrimSuffix(hello.ServerName, "."))
	if name != "" && !slices.Contains(l.hosts, name) {
		return nil, fmt.Errorf("this bench is not called %q", name)
	}
	return l.cert, nil
}

// current is the certificate for the bench, made anew where its addresses have
// changed or half of its time is over.
func (a *Authority) current() (*leaf, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	now := a.now()
	half := now.Add(serverFor / 2)
	if l := a.leaf; l != nil && now.Sub(l.asked).Abs() < lookAgain && half.Before(l.until) {
		return l, nil
	}
	hosts := a.vouchedFor()
	if l := a.leaf; l != nil && slices.Equal(hosts, l.hosts) && half.Before(l.until) {
		l.asked = now
		return l, nil
	}
	l, err := a.sign(hosts, now)
	if err != nil {
		return nil, fmt.Errorf("make a certificate for the bench: %w", err)
	}
	a.leaf = l
	return l, nil
}

// vouchedFor are the hosts that the authority's certificate allows.
func (a *Authority) vouchedFor() []string {
	list := []string{"localhost", "127.0.0.1", "::1"}
	for _, h := range a.hosts() {
		h = strings.ToLower(h)
		ip, err := netip.ParseAddr(h)
		if err == nil && Permitted(ip) || err != nil && strings.HasSuffix(h, ".local") {
			list = append(list, h)
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

func (a *Authority) sign(hosts []string, now time.Time) (*leaf, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	until := now.Add(serverFor)
	if until.After(a.cert.NotAfter) {
		until = a.cert.NotAfter
	}
	t := &x509.Certificate{
		SerialNumber: serial(),
		Subject:      pkix.Name{Organization: []string{"benchleaf"}, CommonName: "benchleaf"},
		NotBefore:    now.Add(-early), NotAfter: until,
		KeyUsage:    x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	for _, h := range hosts {
		if ip, err := netip.ParseAddr(h); err == nil {
			t.IPAddresses = append(t.IPAddresses, ip.WithZone("").AsSlice())
		} else {
			t.DNSNames = append(t.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	cert := &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
	return &leaf{cert: cert, hosts: hosts, until: until, asked: now}, nil
}
