package main

import (
	"errors"
	"fmt"
	"text/tabwriter"

	"benchleaf/colour"
)

// differenceCmd compares pairs of colours.
type differenceCmd struct {
	File string `arg:"" help:"CSV file with the header L1,a1,b1,L2,a2,b2, or - for standard input."`
}

// Run prints the ΔE00 of each pair, in the file's order.
func (c *differenceCmd) Run(g *globals) error {
	f, err := g.input(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	pairs, err := colour.ReadPairs(f)
	if err != nil {
		var at *colour.LineError
		if errors.As(err, &at) {
			return fmt.Errorf("%s, line %d: %s", c.File, at.Line, at.Say)
		}
		return fmt.Errorf("%s cannot be read: %w", c.File, reason(err))
	}
	de := make([]float64, len(pairs))
	for i, p := range pairs {
		de[i] = colour.DE2000(p.One, p.Two)
	}
	if g.JSON {
		return g.writeJSON(struct {
			DE00 []float64 `json:"de00"`
		}{de})
	}
	w := tabwriter.NewWriter(g.Stdout, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "pair\tΔE00\t")
	for i, d := range de {
		fmt.Fprintf(w, "%d\t%.4f\t\n", i+1, d)
	}
	return w.Flush()
}
