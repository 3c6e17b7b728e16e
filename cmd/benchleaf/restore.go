package main

import "benchleaf/internal/store"

// restoreCmd makes a data folder of a backup.
type restoreCmd struct {
	File string `arg:"" type:"existingfile" help:"A file that benchleaf backup wrote."`
}

// Run unpacks the backup into a new data folder and walks it.
func (c *restoreCmd) Run(g *globals) error {
	dir, err := g.dataDir()
	if err != nil {
		return err
	}
	r, err := store.Restore(g.Context, c.File, dir)
	if err != nil {
		return err
	}
	return tell(g, dir, r)
}
