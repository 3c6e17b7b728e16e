package main

import (
	"errors"
	"fmt"

	"benchleaf/internal/store"
)

// verifyCmd walks every journal and every photograph.
type verifyCmd struct {
	Reindex bool `help:"First make the list of cases anew from their journals; the bench must be closed."`
}

// Run tells what was found; what is wrong makes it fail.
func (c *verifyCmd) Run(g *globals) error {
	s, err := existingStore(g)
	if err != nil {
		return err
	}
	if c.Reindex {
		if err := reindex(g, s.Dir()); err != nil {
			return err
		}
	}
	r, err := s.Verify(g.Context)
	if err != nil {
		return err
	}
	return tell(g, s.Dir(), r)
}

// reindex makes the index anew. It has the folder for itself only so long.
func reindex(g *globals, dir string) error {
	s, err := store.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(s.Reindex(g.Context), s.Close())
}

// tell says what a walk through a data folder found.
func tell(g *globals, dir string, r *store.Report) error {
	if err := tellWhole(g, r); err != nil {
		return err
	}
	switch n := len(r.Problems); n {
	case 0:
		return nil
	case 1:
		return fmt.Errorf("one thing is wrong in %s", dir)
	default:
		return fmt.Errorf("%d things are wrong in %s", n, dir)
	}
}

func tellWhole(g *globals, r *store.Report) error {
	if g.JSON {
		problems := r.Problems
		if problems == nil {
			problems = []string{}
		}
		return g.writeJSON(struct {
			Cases       int      `json:"cases"`
			Entries     int      `json:"entries"`
			Photographs int      `json:"photographs"`
			Orphans     int      `json:"photographs_without_entry"`
			Others      int      `json:"other_files"`
			Problems    []string `json:"problems"`
			Notes       []string `json:"notes,omitempty"`
		}{r.Cases, r.Entries, r.Photographs, r.Orphans, r.Others, problems, r.Notes})
	}
	for _, p := range r.Problems {
		if _, err := fmt.Fprintln(g.Stdout, p); err != nil {
			return err
		}
	}
	whole := ""
	if r.Clean() {
		whole = ": every one is whole and in its place"
	}
	_, err := fmt.Fprintf(
		g.Stdout,
		"Looked at: cases %d, entries %d, photographs %d%s.\n",
		r.Cases,
		r.Entries,
		r.Photographs,
		whole,
	)
	for _, n := range r.Notes {
		if err == nil {
			_, err = fmt.Fprintln(g.Stdout, n)
		}
	}
	if err == nil && r.Orphans > 0 {
		_, err = fmt.Fprintf(
			g.Stdout,
			"Photographs that no entry names: %d. They came without their entry, and do no harm.\n",
			r.Orphans,
		)
	}
	if err == nil && r.Others > 0 {
		_, err = fmt.Fprintf(
			g.Stdout,
			"Other files among the photographs: %d. They are none of benchleaf's, and no backup takes them along.\n",
			r.Others,
		)
	}
	return err
}
