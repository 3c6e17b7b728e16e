package main

import (
	"fmt"
	"os"
	"time"

	"benchleaf/internal/demo"
	"benchleaf/internal/store"
)

// demoCmd opens the bench on a fresh copy of the demonstration.
type demoCmd struct {
	listening
}

// Run fills a temporary folder, serves it until the person interrupts, and
// removes it.
func (c *demoCmd) Run(g *globals) error {
	if g.Data != "" {
		return badUse(
			"the demonstration keeps nothing, so --data cannot be given: benchleaf --data %s opens that folder",
			g.Data,
		)
	}
	dir, err := os.MkdirTemp("", "benchleaf-demo-")
	if err != nil {
		return fmt.Errorf("no temporary folder can be made: %w", reason(err))
	}
	g.onClose(func() error { return os.RemoveAll(dir) })
	st, err := store.Open(dir)
	if err != nil {
		return err
	}
	g.onClose(st.Close)
	if err := demo.Fill(g.Context, st, time.Now()); err != nil {
		return err
	}
	// Any free port: the bench's own address stays for the bench.
	return c.serve(g, st, nil, "127.0.0.1:0")
}
