package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os/exec"
	"runtime"
)

// listening is how serve and demo are reached.
type listening struct {
	Listen    string `placeholder:"ADDR" help:"Listen on this address, as in 127.0.0.1:7411; 0.0.0.0:7411 lets paired devices of this network in."`
	Name      string `default:"benchleaf" placeholder:"NAME" help:"Answer in the network to NAME.local, while other devices are let in."`
	NoBrowser bool   `help:"Do not open a browser."`
}

// open listens on the address given, or on the preferred one, or when that is
// taken on any free port of this machine.
func (l listening) open(preferred string) (net.Listener, error) {
	if l.Listen != "" {
		if _, _, err := net.SplitHostPort(l.Listen); err != nil {
			return nil, badUse(
				"--listen %s is not an address: host and port are expected, as in 127.0.0.1:7411", l.Listen,
			)
		}
		ln, err := net.Listen("tcp", l.Listen)
		if err != nil {
			return nil, fmt.Errorf("cannot listen on %s: %w", l.Listen, cause(err))
		}
		return ln, nil
	}
	ln, err := net.Listen("tcp", preferred)
	if err != nil { // taken; systems say so in different ways
		ln, err = net.Listen("tcp", "127.0.0.1:0")
	}
	if err != nil {
		return nil, fmt.Errorf("cannot listen on this machine: %w", cause(err))
	}
	return ln, nil
}

// cause strips the operation and address that package net puts first.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}

// addressOf is where a browser on this machine reaches the listener.
func addressOf(ln net.Listener) string {
	addr, ok := ln.Addr().(*net.TCPAddr)
	if !ok {
		return "http://" + ln.Addr().String()
	}
	host := addr.IP.String()
	if addr.IP.IsUnspecified() {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, fmt.Sprint(addr.Port))
}

// ready says where the bench is reached, in one line, and opens a browser on it
// unless told not to. That no browser opens is no failure: the line stands.
func (l listening) ready(g *globals, ln net.Listener) error {
	url := addressOf(ln)
	if g.JSON {
		if _, err := fmt.Fprintf(g.Stdout, "{\"listening\":%q}\n", url); err != nil {
			return err
		}
	} else if _, err := fmt.Fprintf(g.Stdout, "listening on %s\n", url); err != nil {
		return err
	}
	if !l.NoBrowser {
		openBrowser(g.Context, url)
	}
	return nil
}

// opened shows the bench that is open already.
func (l listening) opened(g *globals, url string) error {
	if g.JSON {
		if err := g.writeJSON(map[string]any{"listening": url, "already": true}); err != nil {
			return err
		}
	} else if _, err := fmt.Fprintf(g.Stdout, "The bench is open already, at %s\n", url); err != nil {
		return err
	}
	if !l.NoBrowser {
		openBrowser(g.Context, url)
	}
	return nil
}

// openBrowser asks the system to show a page; the browser outlives the program.
func openBrowser(ctx context.Context, url string) {
	name, args := browserCommand(runtime.GOOS, url)
	if _, err := exec.LookPath(name); err != nil || ctx.Err() != nil {
		return
	}
	cmd := exec.Command(name, args...)
	if cmd.Start() == nil {
		go cmd.Wait() // so that the opener, which ends at once, leaves no zombie
	}
}

func browserCommand(system, url string) (name string, args []string) {
	switch system {
	case "windows":
		return "rundll32", []string{"url.dll,FileProtocolHandler", url}
	case "darwin":
		return "open", []string{url}
	}
	return "xdg-open", []string{url}
}
