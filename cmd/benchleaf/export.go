package main

import (
	"fmt"

	"benchleaf/internal/papers"
)

// exportCmd writes one case into a file that can be read without benchleaf.
type exportCmd struct {
	Case string `arg:"" help:"The case: its number, or its identifier of 16 letters and digits."`
	Out  string `short:"o" required:"" placeholder:"FILE.zip" type:"path" help:"Write the case to this file; one that is there is replaced."`
}

// Run writes the case whole or not at all.
func (c *exportCmd) Run(g *globals) error {
	s, err := existingStore(g)
	if err != nil {
		return err
	}
	cs, err := caseNamed(g.Context, s, c.Case)
	if err != nil {
		return err
	}
	st, err := s.Studio(g.Context)
	if err != nil {
		return err
	}
	o, done := paperOptions(g, s, cs)
	defer done()
	report, err := papers.Report(cs, st, o)
	if err != nil {
		return err
	}
	if err := s.ExportFile(g.Context, cs.ID, report, c.Out); err != nil {
		return err
	}
	if g.JSON {
		return g.writeJSON(map[string]any{
			"case": cs.ID, "number": cs.Number, "file": c.Out, "entries": cs.LastSeq, "seal": cs.LastHash,
		})
	}
	_, err = fmt.Fprintf(g.Stdout, "Case %s, %s, is in %s.\n", cs.Number, cs.Title, c.Out)
	return err
}
