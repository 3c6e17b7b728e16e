package main

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"text/tabwriter"

	"benchleaf/chem"
)

// waterCmd computes the equilibrium of a water.
type waterCmd struct {
	File string `arg:"" help:"JSON file that describes the water, or - for standard input."`
}

// Run reads the description and prints what is in the water.
func (c *waterCmd) Run(g *globals) error {
	f, err := g.input(c.File)
	if err != nil {
		return err
	}
	defer f.Close()
	spec, err := chem.ReadSpec(f)
	if err != nil {
		return err
	}
	if err := checkWater(&spec); err != nil {
		return err
	}
	state, remarks, err := spec.Make()
	if err != nil {
		return err
	}
	if g.JSON {
		return g.writeJSON(state.Answer(remarks...))
	}
	_, err = fmt.Fprint(g.Stdout, waterProse(&state, remarks))
	return err
}

// waterProse is a state for a person to read.
func waterProse(o *chem.State, remarks []string) string {
	a := o.Answer(remarks...)
	var b strings.Builder
	fmt.Fprintf(&b, "pH %.2f (%.2f to %.2f) at %g °C\n", a.PH, a.PHLow, a.PHHigh, o.TemperatureC())
	if math.Abs(a.Alkalinity) < 1e-10 {
		a.Alkalinity = 0 // rounding
	}
	fmt.Fprintf(
		&b,
		"alkalinity %.3g mmol/kg, ionic strength %.3g mol/kg\n",
		1000*a.Alkalinity,
		a.IonicStrength,
	)
	fmt.Fprintf(
		&b,
		"conductivity %s µS/cm (%s to %s), at 25 °C %s (%s to %s)\n\n",
		figures(a.Conductivity),
		figures(a.ConductivityRange[0]),
		figures(a.ConductivityRange[1]),
		figures(a.Conductivity25),
		figures(a.Conductivity25Range[0]),
		figures(a.Conductivity25Range[1]),
	)

	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "dissolved\tmmol/kg\tmg/kg\t")
	for _, c := range chem.Components() {
		if t, ok := a.Totals[c.String()]; ok {
			name := c.String()
			if as := c.As(); !strings.EqualFold(as, name) {
				name += " as " + as
			}
			fmt.Fprintf(w, "%s\t%.4g\t%.4g\t\n", name, 1000*t, 1e6*t*c.KgPerMol())
		}
	}
	w.Flush()

	fmt.Fprintln(&b)
	w = tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "as\tmmol/kg\t")
	for i, s := range o.Species() {
		if i == 14 || s.Molality < 1e-9 {
			break
		}
		fmt.Fprintf(w, "%s\t%.4g\t\n", s.Name, 1000*s.Molality)
	}
	w.Flush()

	for _, name := range sortedKeys(a.Precipitated) {
		if v := a.Precipitated[name]; v > 0 {
			fmt.Fprintf(&b, "\n%s falls: %.3g mmol/kg, %.3g g/kg\n", name, 1000*v, v*chem.SolidGramPerMol(name))
		}
	}
	for _, name := range sortedKeys(a.Dissolved) {
		if v := a.Dissolved[name]; v != 0 {
			fmt.Fprintf(
				&b,
				"\n%s goes into solution: %.3g mmol/kg, %.3g g/kg\n",
				name,
				1000*v,
				v*chem.SolidGramPerMol(name),
			)
		}
	}
	if names := sortedKeys(a.Saturation); len(names) > 0 {
		fmt.Fprintln(&b)
		w = tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(w, "solid\tsaturation index\t")
		for _, name := range names {
			fmt.Fprintf(w, "%s\t%s\t\n", name, index(a.Saturation[name]))
		}
		w.Flush()
	}
	for _, s := range a.Warnings {
		fmt.Fprintf(&b, "\nNote: %s\n", s)
	}
	return b.String()
}

// figures writes a conductivity to three figures, without an exponent.
func figures(v float64) string {
	if v <= 0 {
		return "0"
	}
	digits := 2 - int(math.Floor(math.Log10(v)))
	scale := math.Pow(10, float64(digits))
	return strconv.FormatFloat(math.Round(v*scale)/scale, 'f', max(digits, 0), 64)
}

// index writes a saturation index, without a sign where it rounds to nothing.
func index(v float64) string {
	if math.Abs(v) < 0.005 {
		return "0.00"
	}
	return fmt.Sprintf("%+.2f", v)
}

func sortedKeys(m map[string]float64) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
