package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"benchleaf/internal/pictures"
	"benchleaf/internal/store"
	"benchleaf/internal/trust"
	"benchleaf/internal/web"
)

// serveCmd opens the bench on the data folder; it is what the program does
// when no command is given.
type serveCmd struct {
	listening
}

// preferred keeps the bench at one address from day to day, so that a bookmark
// or a paired device finds it again.
const preferred = "127.0.0.1:7411"

// Run serves until the person interrupts.
func (c *serveCmd) Run(g *globals) error {
	st, err := g.openStore()
	if in := (*store.InUse)(nil); errors.As(err, &in) && answers(g.Context, in.Owner) {
		return c.opened(g, in.Owner.Address)
	}
	if err != nil {
		return err
	}
	worker := store.NewWorker(st)
	ctx, stop := context.WithCancel(g.Context)
	stopped := make(chan struct{})
	go func() {
		defer close(stopped)
		worker.Run(ctx)
	}()
	g.onClose(func() error {
		stop()
		<-stopped
		return nil
	})
	return c.serve(g, st, worker, preferred)
}

// answers says whether the program that has a data folder shows its pages at the
// address that it announced.
func answers(ctx context.Context, o store.Owner) bool {
	if o.Address == "" {
		return false
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, o.Address+web.ProgramPath, nil)
	if err != nil {
		return false
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	said, err := io.ReadAll(io.LimitReader(res.Body, 100))
	return err == nil && string(said) == fmt.Sprintf("benchleaf %d\n", o.PID)
}

// openStore opens the data folder, and puts it away when the program ends.
func (g *globals) openStore() (*store.Store, error) {
	dir, err := g.dataDir()
	if err != nil {
		return nil, err
	}
	st, err := store.Open(dir)
	if err != nil {
		return nil, err
	}
	g.onClose(st.Close)
	for _, d := range st.Lost() {
		fmt.Fprintf(g.Stderr, "benchleaf: %v\n", d.Refusal())
	}
	return st, nil
}

// serve answers browsers on a store until the person interrupts.
func (l listening) serve(g *globals, st *store.Store, worker *store.Worker, preferred string) error {
	ln, err := l.open(preferred)
	if err != nil {
		return err
	}
	defer ln.Close() // the server closes it too, once it has started
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(pictures.MemoryLimit))
	beyond := beyondLoopback(ln)
	cfg := web.Config{
		Store:   st,
		Worker:  worker,
		Log:     slog.New(slog.NewTextHandler(g.Stderr, &slog.HandlerOptions{Level: slog.LevelWarn})),
		Version: version(),
		Beyond:  beyond,
		CodeChanged: func(code string) {
			if len(beyond) > 0 {
				fmt.Fprintf(g.Stderr, "another device enters this code once: %s\n", code)
			}
		},
	}
	if len(beyond) > 0 {
		if err := l.letIn(g, st.Dir(), &cfg); err != nil {
			return err
		}
	}
	server, err := web.New(cfg)
	if err != nil {
		return err
	}
	if err := st.Announce(addressOf(ln)); err != nil {
		return err
	}
	if err := l.ready(g, ln); err != nil {
		return err
	}
	return server.Serve(g.Context, ln)
}

// letIn prepares what devices beyond this machine need: the authority that signs
// for the bench, and its name in the network.
func (l listening) letIn(g *globals, dir string, cfg *web.Config) error {
	if err := trust.CheckName(l.Name); err != nil {
		return badUse("--name: %v", err)
	}
	cfg.Names = []string{l.Name + ".local"}
	if machine, err := os.Hostname(); err == nil { // many systems answer to their own name
		machine, _, _ = strings.Cut(strings.ToLower(machine), ".")
		cfg.Names = append(cfg.Names, machine+".local")
	}
	var err error
	cfg.Authority, err = trust.Open(dir, time.Now, func() []string { return append(addresses(), cfg.Names...) })
	if err != nil {
		return err
	}
	cfg.Named = trust.Answer(g.Context, l.Name)
	g.onClose(cfg.Named.Close)
	fmt.Fprintf(g.Stderr, "SHA-256 of the certificate that other devices install: %s\n", cfg.Authority.Fingerprint())
	return nil
}

// beyondLoopback lists the addresses at which other devices reach a listener;
// none when it listens on loopback.
func beyondLoopback(ln net.Listener) []string {
	at, ok := ln.Addr().(*net.TCPAddr)
	if !ok || at.IP.IsLoopback() {
		return nil
	}
	url := func(ip string) string { return "http://" + net.JoinHostPort(ip, fmt.Sprint(at.Port)) }
	if !at.IP.IsUnspecified() {
		return []string{url(at.IP.String())}
	}
	var list []string
	for _, a := range addresses() {
		list = append(list, url(a))
	}
	return list
}

// addresses are those of this machine in its networks, the one first by which it
// reaches others.
func addresses() []string {
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var list []string
	for _, a := range addrs {
		// Link-local addresses of IPv6 need a zone that no browser takes.
		if n, ok := a.(*net.IPNet); ok && n.IP.IsGlobalUnicast() {
			list = append(list, n.IP.String())
		}
	}
	first := outward()
	slices.SortStableFunc(list, func(a, b string) int {
		switch {
		case a == first && b != first:
			return -1
		case b == first && a != first:
			return 1
		}
		return 0
	})
	return list
}

// outward is the address from which this machine would speak to another network,
// "" where it has none. Nothing is sent: a connection of UDP is a choice of route.
func outward() string {
	c, err := net.Dial("udp", "192.0.2.1:9") // an address of nobody's (RFC 5737)
	if err != nil {
		return ""
	}
	defer c.Close()
	if at, ok := c.LocalAddr().(*net.UDPAddr); ok {
		return at.IP.String()
	}
	return ""
}
