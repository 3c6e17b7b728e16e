package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"

	"benchleaf/internal/store"
)

// restoreCmd makes a data folder of a backup.
type restoreCmd struct {
	From string `arg:"" type:"path" help:"A backup folder, or a file that benchleaf backup wrote."`
	Key  string `type:"existingfile" placeholder:"FILE" help:"The secret key of a backup that was encrypted to a public key. A passphrase is asked for."`
}

// Run fills a new data folder from the backup and walks it.
func (c *restoreCmd) Run(g *globals) error {
	dir, err := g.dataDir()
	if err != nil {
		return err
	}
	if _, err := os.Stat(c.From); err != nil {
		return fmt.Errorf("%s cannot be read: %w", c.From, reason(err))
	}
	var o store.Opening
	if c.Key != "" {
		raw, err := os.ReadFile(c.Key)
		if err != nil {
			return fmt.Errorf("%s cannot be read: %w", c.Key, reason(err))
		}
		o.Keys = string(raw)
	}
	r, err := store.Restore(g.Context, c.From, dir, o)
	if errors.Is(err, store.ErrNeedsKey) {
		if o.Passphrase, err = ask(g, bufio.NewReader(g.Stdin), "Passphrase of the backup: "); err != nil {
			return err
		}
		r, err = store.Restore(g.Context, c.From, dir, o)
	}
	if err != nil {
		return err
	}
	return tell(g, dir, r)
}
