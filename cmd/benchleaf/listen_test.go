package main

import (
	"bytes"
	"errors"
	"net"
	"strings"
	"testing"
)

func TestOpenFallsBackWhenThePortIsTaken(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	address := taken.Addr().String()

	ln, err := listening{}.open(address)
	if err != nil {
		t.Fatalf("the preferred port is taken: %v", err)
	}
	defer ln.Close()
	if got := addressOf(ln); !strings.HasPrefix(got, "http://127.0.0.1:") || got == "http://"+address {
		t.Errorf("listens on %s, want another port of 127.0.0.1", got)
	}

	// An address that was asked for is not silently another.
	if ln, err := (listening{Listen: address}).open("127.0.0.1:0"); err == nil {
		ln.Close()
		t.Error("a taken address that was asked for gave a listener")
	} else if !strings.Contains(err.Error(), address) {
		t.Errorf("the refusal does not name the address: %v", err)
	}
}

func TestOpenRefusesWhatIsNoAddress(t *testing.T) {
	for _, address := range []string{"7411", "127.0.0.1", "::1:7411"} {
		ln, err := listening{Listen: address}.open("127.0.0.1:0")
		if err == nil {
			ln.Close()
			t.Errorf("%q was accepted", address)
		} else if !errors.As(err, new(usageError)) {
			t.Errorf("%q: %v is not bad use", address, err)
		}
	}
}

func TestReadyLine(t *testing.T) {
	ln, err := listening{Listen: "0.0.0.0:0"}.open("")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	_, port, _ := net.SplitHostPort(ln.Addr().String())
	for _, tc := range []struct {
		json bool
		want string
	}{
		{false, "listening on http://127.0.0.1:" + port + "\n"},
		{true, `{"listening":"http://127.0.0.1:` + port + "\"}\n"},
	} {
		var out bytes.Buffer
		g := &globals{Stdout: &out, JSON: tc.json, Context: t.Context()}
		if err := (listening{NoBrowser: true}).ready(g, ln); err != nil || out.String() != tc.want {
			t.Errorf("JSON %t: got %q (%v), want %q", tc.json, out.String(), err, tc.want)
		}
	}
}

func TestBrowserCommand(t *testing.T) {
	const url = "http://127.0.0.1:7411"
	for system, want := range map[string]string{"linux": "xdg-open", "darwin": "open", "windows": "rundll32", "freebsd": "xdg-open"} {
		name, args := browserCommand(system, url)
		if name != want || args[len(args)-1] != url {
			t.Errorf("%s: %s %v, want %s with the address last", system, name, args, want)
		}
	}
}
