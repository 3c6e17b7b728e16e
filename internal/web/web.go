package web

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"time"

	"benchleaf/internal/pictures"
	"benchleaf/internal/store"
	"benchleaf/internal/trust"
)

// Config is what the program gives the server.
type Config struct {
	Store *store.Store
	// Worker keeps the backups; nil where nothing is kept, as in a demonstration.
	Worker *store.Worker
	// Now is the clock; nil: time.Now.
	Now func() time.Time
	// Zone is where the bench stands; nil: time.Local.
	Zone *time.Location
	// Log takes what went wrong inside, in full; nil: slog.Default().
	Log     *slog.Logger
	Version string
	// Authority signs for the bench towards devices beyond loopback, which then
	// come in by https alone; nil: they come by plain http, as they are.
	Authority *trust.Authority
	// Named answers to a name of the bench in the network; may be nil.
	Named *trust.Named
	// Names are the names under .local that the authority vouches for.
	Names []string
	// Beyond lists the addresses, as in "http://192.0.2.7:8080", at which other
	// devices reach this server; empty when it listens on loopback alone. It
	// opens nothing by itself: it is what the home page tells a person to type.
	Beyond []string
	// Hosts are names, beside addresses and localhost, under which the server
	// answers; see hostAllowed.
	Hosts []string
	// CodeChanged is told each new pairing code, for the terminal; may be nil.
	CodeChanged func(code string)
}

// Server answers the browsers at the bench.
type Server struct {
	store     *store.Store
	now       func() time.Time
	zone      *time.Location
	log       *slog.Logger
	version   string
	beyond    []string
	hosts     []string
	names     []string
	authority *trust.Authority
	named     *trust.Named
	assets    *assets
	templates *templates
	once      *once
	pairing   *pairing
	busyCases busyList
	news      news
	ending    chan struct{} // closed when the server stops: what waits for news ends
	end       sync.Once
	pictures  *pictures.Maker
	worker    *store.Worker
	scores    sync.Map // of scored, by case
	started   time.Time
	pace      pace // of uploads
	handler   http.Handler
}

// New reads every template and asset, so that a fault in one stops the program
// at its start and never on a page.
func New(cfg Config) (*Server, error) {
	s := &Server{
		store: cfg.Store, now: cfg.Now, zone: cfg.Zone, log: cfg.Log, version: cfg.Version,
		beyond: cfg.Beyond, hosts: cfg.Hosts, names: cfg.Names, authority: cfg.Authority, named: cfg.Named,
		once: newOnce(), pictures: pictures.New(cfg.Store), pace: usualPace, worker: cfg.Worker,
		ending: make(chan struct{}),
	}
	if s.now == nil {
		s.now = time.Now
	}
	s.started = s.now()
	if s.zone == nil {
		s.zone = time.Local
	}
	if s.log == nil {
		s.log = slog.Default()
	}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, fmt.Errorf("read the assets: %w", err)
	}
	if s.templates, err = s.parseTemplates(); err != nil {
		return nil, fmt.Errorf("read the templates: %w", err)
	}
	if s.pairing, err = newPairing(cfg.Store.Dir(), s.now, cfg.CodeChanged); err != nil {
		return nil, err
	}
	s.pairing.failed = func(err error) { s.log.Warn("a device that was seen was not written down", "error", err) }
	mux := http.NewServeMux()
	for _, add := range routes {
		add(s, mux)
	}
	mux.Handle("/", s.do(func(http.ResponseWriter, *http.Request) error { return store.ErrNotFound }))
	s.handler = s.protect(mux)
	return s, nil
}

// Handler answers every request, with all protection in place.
func (s *Server) Handler() http.Handler { return s.handler }

// PairingCode is what a device beyond loopback must enter once.
func (s *Server) PairingCode() string {
	code, _ := s.pairing.codeNow()
	return code
}

// Close stops what is made in the background and waits until nothing is.
func (s *Server) Close() {
	s.end.Do(func() { close(s.ending) })
	s.pictures.Close()
}

// Serve answers on ln until ctx is done, then lets what is under way finish.
func (s *Server) Serve(ctx context.Context, ln net.Listener) error {
	defer s.Close()
	server := &http.Server{
		Handler: s.handler,
		// A phone on a weak network may take long over a photograph; its
		// handler extends the time. Headers have no such excuse.
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
	server.RegisterOnShutdown(func() { s.end.Do(func() { close(s.ending) }) })
	failed := make(chan error, 2)
	serving := 1
	if s.authority != nil {
		var secure net.Listener
		ln, secure = trust.Split(ln)
		server.TLSConfig = s.authority.Config()
		serving = 2
		go func() { failed <- server.ServeTLS(secure, "", "") }()
	}
	go func() { failed <- server.Serve(ln) }()
	select {
	case err := <-failed:
		return errors.Join(err, server.Close())
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	err := server.Shutdown(grace)
	if errors.Is(err, context.DeadlineExceeded) {
		err = server.Close()
	}
	for range serving {
		if e := <-failed; !errors.Is(e, http.ErrServerClosed) {
			err = errors.Join(err, e)
		}
	}
	return err
}

// mustSub is fs.Sub of an embedded folder, whose name is a constant.
func mustSub(fsys fs.FS, dir string) fs.FS {
	sub, err := fs.Sub(fsys, dir)
	if err != nil {
		panic("web: embedded folder " + dir + " is missing")
	}
	return sub
}
