package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	_ "time/tzdata" // papers show times in the zone of the writer, on systems without a time zone database too

	"benchleaf/internal/papers"
	"benchleaf/internal/pictures"
	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// reportCmd writes the treatment report of a case.
type reportCmd struct {
	Case  string `arg:"" help:"The case: its number, or its identifier of 16 letters and digits."`
	Out   string `short:"o" required:"" placeholder:"FILE.pdf" type:"path" help:"Write the report to this file; one that is there is replaced."`
	Paper string `enum:"A4,Letter,studio" default:"studio" help:"Size of paper: A4 or Letter (default: the studio's choice)."`
}

// Run reads the case, sets its report, and writes it whole or not at all.
func (c *reportCmd) Run(g *globals) error {
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
	if c.Paper != "studio" {
		o.Size = c.Paper
	}
	pdf, err := papers.Report(cs, st, o)
	if err == nil && g.Context.Err() != nil {
		err = errors.New("interrupted: no report was written")
	}
	if err != nil {
		return err
	}
	if err := writeWhole(c.Out, pdf); err != nil {
		return fmt.Errorf("%s cannot be written: %w", c.Out, reason(err))
	}
	if g.JSON {
		return g.writeJSON(map[string]any{
			"case": cs.ID, "number": cs.Number, "file": c.Out, "bytes": len(pdf), "entries": cs.LastSeq,
			"seal": cs.LastHash,
		})
	}
	_, err = fmt.Fprintf(g.Stdout, "The report of case %s, %s, is in %s.\n", cs.Number, cs.Title, c.Out)
	return err
}

// paperOptions are those of a paper with its pictures; done ends work on them.
func paperOptions(g *globals, s *store.Store, c *record.Case) (o papers.Options, done func()) {
	m := pictures.New(s)
	prints := m.Prints(g.Context, c)
	return papers.Options{Pictures: prints, Compared: prints}, m.Close
}

// existingStore opens the data folder to read it, also while a bench has it,
// and does not make one where there is none.
func existingStore(g *globals) (*store.Store, error) {
	dir, err := g.dataDir()
	if err != nil {
		return nil, err
	}
	st, err := store.Look(dir)
	if errors.Is(err, store.ErrNotFound) {
		return nil, fmt.Errorf("there is no data folder at %s: say with --data where the data lives", dir)
	}
	if err != nil {
		return nil, err
	}
	g.onClose(st.Close)
	return st, nil
}

// caseNamed finds a case by its identifier or by its number.
func caseNamed(ctx context.Context, s *store.Store, name string) (*record.Case, error) {
	if record.IsID(name) {
		c, err := s.Case(ctx, record.CaseID(name))
		if err == nil || !errors.Is(err, store.ErrNotFound) {
			return c, err
		}
	}
	list, err := s.List(ctx, store.Filter{Text: name})
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, x := range list {
		if strings.EqualFold(x.Number, strings.TrimSpace(name)) {
			ids = append(ids, string(x.ID))
		}
	}
	switch len(ids) {
	case 0:
		return nil, fmt.Errorf("there is no case %q in %s: give its number or its identifier", name, s.Dir())
	case 1:
		return s.Case(ctx, record.CaseID(ids[0]))
	}
	return nil, fmt.Errorf("%d cases have the number %s: give the identifier of one of them, %s",
		len(ids), name, strings.Join(ids, " or "))
}

// writeWhole writes a file under a temporary name and then renames it, so that
// a disk that fills up leaves no half of a report, nor harms the one before.
func writeWhole(name string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), ".report-*.pdf")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already when all went well
	if err := f.Chmod(0o644); err != nil {
		f.Close()
		return err
	}
	_, err = f.Write(data)
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}
