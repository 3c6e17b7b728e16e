package main

import "fmt"

// backupCmd writes the whole data folder into one file.
type backupCmd struct {
	File string `arg:"" type:"path" help:"The file to write, as in benchleaf-2026-11-25.zip; none of that name may be there."`
}

// Run writes the backup whole or not at all.
func (c *backupCmd) Run(g *globals) error {
	s, err := existingStore(g)
	if err != nil {
		return err
	}
	if err := s.Backup(g.Context, c.File); err != nil {
		return err
	}
	if g.JSON {
		return g.writeJSON(map[string]string{"file": c.File})
	}
	_, err = fmt.Fprintf(g.Stdout, "Everything in %s is in %s. Keep it on another disk.\n", s.Dir(), c.File)
	return err
}
