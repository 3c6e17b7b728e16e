// Package trust lets the devices of a studio's own network reach the bench over
// TLS: a certificate authority of the bench's own, the certificates that it
// signs, a listener that takes http and https at one port, and the name under
// which the network finds the bench.
//
// Browsers give the camera and work without the network to pages of a trusted
// origin alone. No public authority signs for an address of a private network,
// so the bench is its own authority, and each device installs its certificate
// once.
package trust

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha1" //nolint:gosec // for comparing by eye, see Thumbprint
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// fileName is the authority in the data folder: its certificate and its key in
// one file, so that the one is never without the other.
const fileName = "authority.pem"

const (
	authorityFor = 10 * 365 * 24 * time.Hour
	// authorityLast is how long before its end another authority takes its place:
	// devices must then install anew.
	authorityLast = 90 * 24 * time.Hour
	// serverFor is short: a certificate for the bench is made anew by itself.
	// Apple's systems refuse any that is good for more than 825 days.
	serverFor = 90 * 24 * time.Hour
	// early makes up for clocks that go slow.
	early = 24 * time.Hour
)

// permitted are the only addresses for which the authority can vouch: those that
// no public network has (RFC 1918, RFC 6598, RFC 3927, RFC 4193, RFC 4291) and
// this machine.
var permitted = []string{
	"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "100.64.0.0/10", "169.254.0.0/16", "127.0.0.0/8",
	"fc00::/7", "fe80::/10", "::1/128",
}

// Permitted says whether the authority can vouch for an address.
func Permitted(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	for _, s := range permitted {
		if netip.MustParsePrefix(s).Contains(a) {
			return true
		}
	}
	return false
}

// Authority is the bench's own certificate authority.
type Authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	now  func() time.Time
	// hosts lists the names and addresses of the bench at this moment.
	hosts func() []string

	mu   sync.Mutex
	leaf *leaf
}

// Open reads the authority of a data folder, and makes one where there is none or
// where it ends soon. hosts lists the names and addresses at which the bench is
// reached; those that the authority cannot vouch for are left out.
func Open(dir string, now func() time.Time, hosts func() []string) (*Authority, error) {
	path := filepath.Join(dir, fileName)
	raw, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return create(path, now, hosts)
	case err != nil:
		return nil, fmt.Errorf("read the bench's certificate authority: %w", err)
	}
	a, err := parse(raw)
	if err != nil {
		return nil, fmt.Errorf("the bench's certificate authority %s is damaged (%w): delete it; a new one is made, "+
			"which each device installs again", path, err)
	}
	if now().After(a.cert.NotAfter.Add(-authorityLast)) {
		return create(path, now, hosts)
	}
	a.now, a.hosts = now, hosts
	// The key was ours alone when it was made; a copied folder may have lost that.
	return a, os.Chmod(path, 0o600)
}

func parse(raw []byte) (*Authority, error) {
	a := &Authority{}
	for {
		var b *pem.Block
		if b, raw = pem.Decode(raw); b == nil {
			break
		}
		switch b.Type {
		case "CERTIFICATE":
			c, err := x509.ParseCertificate(b.Bytes)
			if err != nil {
				return nil, err
			}
			a.cert = c
		case "PRIVATE KEY":
			k, err := x509.ParsePKCS8PrivateKey(b.Bytes)
			if err != nil {
				return nil, err
			}
			a.key, _ = k.(*ecdsa.PrivateKey)
		}
	}
	switch {
	case a.cert == nil || a.key == nil:
		return nil, errors.New("certificate or key is missing")
	case !a.key.PublicKey.Equal(a.cert.PublicKey):
		return nil, errors.New("the key is not that of the certificate")
	}
	return a, nil
}

// create makes an authority that can vouch for names under .local, this machine
// and private addresses, and for nothing else: a stolen key opens no bank.
func create(path string, now func() time.Time, hosts func() []string) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	machine, err := os.Hostname()
	if err != nil {
		machine = "this machine"
	}
	from := now().Add(-early).UTC().Truncate(time.Second)
	t := &x509.Certificate{
		SerialNumber: serial(),
		Subject: pkix.Name{
			Organization: []string{"benchleaf"},
			CommonName:   fmt.Sprintf("benchleaf bench, %s, %s", machine, now().Format("2006-01-02")),
		},
		NotBefore: from, NotAfter: from.Add(authorityFor),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         []string{"local", "localhost"},
	}
	for _, s := range permitted {
		_, n, err := net.ParseCIDR(s)
		if err != nil {
			return nil, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, n)
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, key.Public(), key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	text := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}),
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})...)
	if err := write(path, text); err != nil {
		return nil, fmt.Errorf("keep the bench's certificate authority: %w", err)
	}
	return &Authority{cert: cert, key: key, now: now, hosts: hosts}, nil
}

// write writes a file whole or not at all, for its owner alone.
func write(path string, text []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), "authority-*") // 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // nothing is there after the renaming
	_, err = f.Write(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func serial() *big.Int {
	n, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120))
	if err != nil {
		panic("trust: the system gives no random numbers") // documented never to happen
	}
	return n
}

// Certificate is the authority's certificate as devices install it, in DER.
func (a *Authority) Certificate() []byte { return a.cert.Raw }

// Name is what devices call the certificate in their lists.
func (a *Authority) Name() string { return a.cert.Subject.CommonName }

// Until is when the authority ends.
func (a *Authority) Until() time.Time { return a.cert.NotAfter }

// Fingerprint is the SHA-256 of the certificate, in the manner in which devices
// show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	return pairs(sum[:])
}

// Thumbprint is the SHA-1 of the certificate, which Windows shows instead. That
// two certificates can be made to share one does not help who must match this.
func (a *Authority) Thumbprint() string {
	sum := sha1.Sum(a.cert.Raw)
	return pairs(sum[:])
}

func pairs(sum []byte) string {
	var b strings.Builder
	for i, x := range sum {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%02X", x)
	}
	return b.String()
}
