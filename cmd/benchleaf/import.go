package main

import (
	"fmt"
	"os"
)

// importCmd reads a case that export wrote.
type importCmd struct {
	File string `arg:"" type:"path" help:"A file that benchleaf export wrote."`
}

// Run checks the case and takes it into the data folder.
func (c *importCmd) Run(g *globals) error {
	f, err := os.Open(c.File)
	if err != nil {
		return fmt.Errorf("%s cannot be read: %w", c.File, reason(err))
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("%s cannot be read: %w", c.File, reason(err))
	}
	s, err := g.openStore()
	if err != nil {
		return err
	}
	id, err := s.Import(g.Context, f, info.Size())
	if err != nil {
		return fmt.Errorf("%s was not imported: %w", c.File, err)
	}
	cs, err := s.Case(g.Context, id)
	if err != nil {
		return err
	}
	if g.JSON {
		return g.writeJSON(
			map[string]any{"case": cs.ID, "number": cs.Number, "entries": cs.LastSeq, "seal": cs.LastHash},
		)
	}
	_, err = fmt.Fprintf(g.Stdout, "Case %s, %s, is here with %d entries.\n", cs.Number, cs.Title, cs.LastSeq)
	return err
}
