package trust

import (
	"crypto/tls"
	"crypto/x509"
	"net"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var start = time.Date(2031, 5, 9, 18, 30, 0, 0, time.UTC)

// bench is an authority whose clock and addresses a test moves.
type bench struct {
	*Authority
	now   time.Time
	hosts []string
}

func open(t *testing.T, dir string, b *bench) *bench {
	t.Helper()
	var err error
	b.Authority, err = Open(dir, func() time.Time { return b.now }, func() []string { return b.hosts })
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func leafOf(t *testing.T, a *Authority) *x509.Certificate {
	t.Helper()
	c, err := a.Config().GetCertificate(&tls.ClientHelloInfo{})
	if err != nil {
		t.Fatal(err)
	}
	x, err := x509.ParseCertificate(c.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestTheAuthorityIsKept(t *testing.T) {
	dir := t.TempDir()
	b := open(t, dir, &bench{now: start})
	path := filepath.Join(dir, fileName)
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key can be read by others: %v %v", info.Mode(), err)
	}
	if err := os.Chmod(path, 0o644); err != nil {
		t.Fatal(err)
	}
	again := open(t, dir, &bench{now: start.Add(48 * time.Hour)})
	if again.Fingerprint() != b.Fingerprint() {
		t.Error("each start makes another authority: devices would install it each day")
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("after a copy with other rights the key stays readable: %v %v", info.Mode(), err)
	}
	if last := open(t, dir, &bench{now: b.Until().Add(-time.Hour)}); last.Fingerprint() == b.Fingerprint() {
		t.Error("an authority that ends in an hour is not replaced")
	}
	for _, bad := range []string{"", "rubbish", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"} {
		if err := os.WriteFile(path, []byte(bad), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Open(dir, time.Now, func() []string { return nil })
		if err == nil || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "delete it") {
			t.Errorf("damaged: %v; want a sentence with the file and what to do", err)
		}
	}
}

func TestCertificatesFollowTheAddresses(t *testing.T) {
	b := open(t, t.TempDir(), &bench{now: start, hosts: []string{"192.168.1.5", "benchleaf.local", "8.8.8.8", "bank.example"}})
	one := leafOf(t, b.Authority)
	if !slices.Contains(one.DNSNames, "benchleaf.local") || slices.Contains(one.DNSNames, "bank.example") {
		t.Errorf("names %v", one.DNSNames)
	}
	for _, ip := range one.IPAddresses {
		a, _ := netip.AddrFromSlice(ip)
		if !Permitted(a) {
			t.Errorf("it vouches for %v, which the authority may not", a)
		}
	}
	if one.NotAfter.Sub(one.NotBefore) > 825*24*time.Hour {
		t.Error("it is good for longer than Apple's systems take")
	}
	b.now = b.now.Add(lookAgain / 2)
	if leafOf(t, b.Authority).SerialNumber.Cmp(one.SerialNumber) != 0 {
		t.Error("a certificate is made for each connection")
	}
	b.now, b.hosts = b.now.Add(lookAgain), []string{"10.0.0.9", "benchleaf.local"}
	two := leafOf(t, b.Authority)
	if !slices.ContainsFunc(two.IPAddresses, net.IPv4(10, 0, 0, 9).Equal) {
		t.Errorf("after a new address it is for %v", two.IPAddresses)
	}
	b.now = b.now.Add(serverFor/2 + time.Hour)
	if three := leafOf(t, b.Authority); !three.NotAfter.After(two.NotAfter) {
		t.Error("it is not renewed at half of its time")
	}
}

// TestTheAuthorityVouchesForPrivateAddressesAlone signs, with the key as a thief
// would, for what the authority may not; two verifiers must refuse that: that of
// Go and that of OpenSSL, which shares no code with it.
func TestTheAuthorityVouchesForPrivateAddressesAlone(t *testing.T) {
	now := time.Now()
	dir := t.TempDir()
	b := open(t, dir, &bench{now: now})
	cert, err := x509.ParseCertificate(b.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AddCert(cert)
	ca := filepath.Join(dir, fileName)
	_, missing := exec.LookPath("openssl")
	for host, good := range map[string]bool{
		"benchleaf.local": true, "localhost": true, "192.168.1.5": true, "10.1.2.3": true, "fd00::2": true, "127.0.0.1": true,
		"bank.example": false, "local.example": false, "9.9.9.9": false, "2001:4860:4860::8888": false, "172.32.0.1": false,
	} {
		l, err := b.sign([]string{host}, now)
		if err != nil {
			t.Fatal(err)
		}
		x, err := x509.ParseCertificate(l.cert.Certificate[0])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := x.Verify(x509.VerifyOptions{Roots: pool, DNSName: host}); (err == nil) != good {
			t.Errorf("Go, %s: %v, want it accepted: %t", host, err, good)
		}
		if missing != nil {
			continue
		}
		path := filepath.Join(dir, "leaf.der")
		if err := os.WriteFile(path, x.Raw, 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("openssl", "verify", "-purpose", "sslserver", "-CAfile", ca, path).CombinedOutput()
		if (err == nil) != good {
			t.Errorf("OpenSSL, %s: %v, want it accepted: %t: %s", host, err, good, out)
		}
	}
}

func TestNames(t *testing.T) {
	for name, good := range map[string]bool{
		"benchleaf": true, "studio-two": true, "": false, "a.b": false, "Studio": false, "-a": false, "ä": false,
		strings.Repeat("a", 64): false,
	} {
		if err := CheckName(name); (err == nil) != good {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestSplitEndsBothSides(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	plain, secure := Split(ln)
	c, err := net.Dial("tcp", ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Write([]byte{handshake, 'x'}); err != nil {
		t.Fatal(err)
	}
	got, err := secure.Accept()
	if err != nil {
		t.Fatal(err)
	}
	defer got.Close()
	both := make([]byte, 2)
	for n := 0; n < 2; {
		k, err := got.Read(both[n:])
		if err != nil {
			t.Fatal(err)
		}
		n += k
	}
	if both[0] != handshake || both[1] != 'x' {
		t.Errorf("the connection begins with %v", both)
	}
	for range 2 {
		if err := plain.Close(); err != nil {
			t.Error(err)
		}
	}
	if _, err := secure.Accept(); err == nil {
		t.Error("the other side still accepts")
	}
}
