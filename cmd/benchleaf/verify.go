package main

import (
	"fmt"

	"benchleaf/internal/store"
)

// verifyCmd walks every journal and every photograph.
type verifyCmd struct{}

// Run tells what was found; what is wrong makes it fail.
func (c *verifyCmd) Run(g *globals) error {
	s, err := existingStore(g)
	if err != nil {
		return err
	}
	r, err := s.Verify(g.Context)
	if err != nil {
		return err
	}
	return tell(g, s.Dir(), r)
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
			Problems    []string `json:"problems"`
		}{r.Cases, r.Entries, r.Photographs, r.Orphans, problems})
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
	_, err := fmt.Fprintf(g.Stdout, "Looked at: cases %d, entries %d, photographs %d%s.\n", r.Cases, r.Entries, r.Photographs, whole)
	if err == nil && r.Orphans > 0 {
		_, err = fmt.Fprintf(g.Stdout, "Photographs that no entry names: %d. They came without their entry, and do no harm.\n", r.Orphans)
	}
	return err
}
