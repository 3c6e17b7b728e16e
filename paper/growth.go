package paper

import (
	"fmt"
	"math"

	"benchleaf/interval"
)

// Grain is the direction of a length in the sheet.
type Grain string

const (
	Cross   Grain = "cross"   // across the machine direction
	Machine Grain = "machine" // along it
)

// WetGrowth is by how much a sheet of a class is longer wet than dry, per cent.
// Newsprint by the rows of moisture-sorption-hygroexpansion.csv (Lindner, J. Mater.
// Sci. 53, 1, 2018; from memory). Other papers 1.5 to 4 % across and a tenth of that
// along: 2 to 3 % and ten times less (a paper scientist on a book arts list, 2000,
// read), 3.96 and 0.21 % on a bond paper measured dry and soaked (a printing trade
// article, read). A sheet made by hand has no grain and lies between.
func WetGrowth(c Class, g Grain) Taken {
	row := "wet expansion cross direction, dry to soaked newsprint"
	t := Taken{Unit: "%", Name: "Wet growth across the grain"}
	if g == Machine {
		row, t.Name = "wet expansion machine direction", "Wet growth along the grain"
	}
	switch {
	case c.hasLignin():
		t.Range, t.Basis, t.Source = tableSpan(row), "memory", "Lindner, J. Mater. Sci. 53, 1, 2018"
	case g == Machine:
		t.Range = interval.Range{Low: 0.1, Best: 0.25, High: 0.4}
	default:
		t.Range = interval.Range{Low: 1.5, Best: 2.5, High: 4}
	}
	if t.Basis == "" {
		t.Basis, t.Source = "read", "a paper scientist, 2000, and a printing trade article; range from memory"
	}
	return t
}

// tissueGrowth is that of long-fibred mending tissue (estimate, no source).
func tissueGrowth(g Grain) interval.Range {
	if g == Machine {
		return interval.Range{Low: 0.1, Best: 0.3, High: 0.6}
	}
	return interval.Range{Low: 1.5, Best: 2.5, High: 4}
}

// heldShrinkage is the part of its free shrinkage that paper keeps when it dries held
// by weight: held at 87 % restraint, cross shrinkage fell by a third (Kuno et al.,
// Japan TAPPI J. 54, 2000, read).
var heldShrinkage = interval.Range{Low: 0.5, Best: 0.67, High: 0.8}

// Expansion is what wetting a mend does beside a sheet that is drier.
type Expansion struct {
	// MismatchPercent is by how much mend and sheet differ in length while wet, and
	// so in what they shrink; MismatchMm the same over the length.
	MismatchPercent interval.Range `json:"mismatch_percent"`
	MismatchMm      interval.Range `json:"mismatch_mm"`
	Sentence        string         `json:"sentence"`
}

// MendExpansion is the strain between a soaked place and its sheet of a moisture (g/g,
// 0 to 5) over a length in mm (1 to 2500), equilibrium being end: WetGrowth less the
// share of it that the sheet has, which rises from end to the onset of shrinkage.
// Errors: figures outside these.
func MendExpansion(c Class, moistureGPerG, end float64, g Grain, length Millimetres) (Expansion, error) {
	if err := checkMend(moistureGPerG, end, g, length); err != nil {
		return Expansion{}, err
	}
	has := min(1, max(0, (moistureGPerG-end)/(ShrinkageOnset.Best-end)))
	e := Expansion{MismatchPercent: WetGrowth(c, g).Range.Scale(1 - has)}
	e.MismatchMm = e.MismatchPercent.Scale(float64(length) / 100)
	switch m := e.MismatchPercent.Best; {
	case m < 0.1:
		e.Sentence = "Mend and sheet shrink as one."
	case m < 0.5:
		e.Sentence = fmt.Sprintf(
			"The mend shrinks %s mm more than the sheet over %g mm: use stiff paste, little water, and restraint at "+
				"once.",
			e.MismatchMm.Text(),
			float64(length),
		)
	default:
		e.Sentence = fmt.Sprintf(
			"The mend shrinks %s mm more than the sheet over %g mm: it will pull the sheet into a cockle. Damp the "+
				"whole sheet first, or mend it before it dries.",
			e.MismatchMm.Text(),
			float64(length),
		)
	}
	return e, nil
}

func checkMend(moisture, end float64, g Grain, length Millimetres) error {
	if g != Cross && g != Machine {
		return fmt.Errorf("the direction of a mend is cross or machine, not %q", g)
	}
	if !(moisture >= 0 && moisture <= 5) || !(end >= 0 && end < ShrinkageOnset.Best) ||
		!(length >= 1 && length <= 2500) {
		return fmt.Errorf("a moisture of 0 to 5 g/g, an equilibrium below %g g/g and a length of 1 to 2500 mm can be "+
			"computed, not %g, %g and %g", ShrinkageOnset.Best, moisture, end, float64(length))
	}
	return nil
}

// Tissue is a strip of tissue pasted wet along a tear.
type Tissue struct {
	GrammageGsm interval.Range `json:"grammage_g_m2"` // 1 to 60
	// TearRuns is the direction of the tear in its sheet, GrainAlong whether the
	// tissue's own grain runs along the tear.
	TearRuns   Grain       `json:"tear_runs"`
	GrainAlong bool        `json:"grain_along"`
	LengthMm   Millimetres `json:"length_mm"`
	// Held says that it dries under weight from the start.
	Held bool `json:"held"`
}

// Pull is what a tissue does to its tear as both dry from wet.
type Pull struct {
	// DiffersMm is by how much tissue less sheet would shrink along the tear, each by
	// itself; negative: the sheet shrinks more.
	DiffersMm interval.Result `json:"differs_mm"`
	// DrawsMm is by how much the tissue shortens the sheet beneath it; negative: keeps
	// it longer than the sheet beside it.
	DrawsMm interval.Result `json:"draws_mm"`
	// RadiusMm is the radius to which the strip would curl were nothing holding it flat.
	RadiusMm interval.Result `json:"radius_mm"`
}

// TissuePull is the difference of WetGrowth of tissue and sheet along the tear. The
// two share it by their stiffness, taken as their mass (rule of mixtures), and curl
// as a strip of two layers (Timoshenko, J. Opt. Soc. Am. 11, 233, 1925, from memory)
// of the thickness that their mass has at the sheet's density. Errors: a sheet,
// tissue, direction or length that cannot be.
func TissuePull(s Sheet, tissue Tissue, o Options) (Pull, error) {
	if err := s.Check(); err != nil {
		return Pull{}, err
	}
	if err := tissue.GrammageGsm.CheckWithin("the grammage of the tissue", 1, 60, "g/m²"); err != nil {
		return Pull{}, err
	}
	if err := checkMend(0, 0, tissue.TearRuns, tissue.LengthMm); err != nil {
		return Pull{}, err
	}
	k := s.complete(Drained)
	along := Machine
	if !tissue.GrainAlong {
		along = Cross
	}
	held := interval.Exactly(1)
	if tissue.Held {
		held = heldShrinkage
	}
	study := interval.Study{Samples: o.Samples, Seed: o.Seed, Inputs: []interval.Input{
		{Name: "the tissue's growth", Range: tissueGrowth(along)},
		{Name: "the sheet's growth", Range: WetGrowth(s.Class, tissue.TearRuns).Range},
		{Name: "the tissue's grammage", Range: tissue.GrammageGsm},
		{Name: "the sheet's grammage", Range: k.dryingInputs(Air{})[dDry].Range},
		{Name: "the sheet's thickness", Range: typicals()[s.Class][qThickness].Range},
		{Name: "how far weight holds it", Range: held},
	}}
	r, err := study.Run(3, func(in, out []float64) {
		differs := (in[0] - in[1]) / 100 * in[5]
		out[0] = differs * float64(tissue.LengthMm)
		out[1] = out[0] * in[2] / (in[2] + in[3])
		sheetMm := in[4] / 1000
		out[2] = 1 / max(1e-6, curvature(math.Abs(differs), sheetMm, sheetMm*in[2]/in[3], 1))
	})
	if err != nil {
		return Pull{}, err
	}
	return Pull{DiffersMm: r[0], DrawsMm: r[1], RadiusMm: r[2]}, nil
}

// curvature of a strip of two layers that differ by a strain, 1/mm: Timoshenko's
// formula for bi-metal strips, J. Opt. Soc. Am. 11, 233, 1925 (from memory). The layers
// are a and b mm thick; n is the modulus of b over that of a.
func curvature(strain, a, b, n float64) float64 {
	m := b / a
	return 6 * strain * (1 + m) * (1 + m) / ((a + b) * (3*(1+m)*(1+m) + (1+m*n)*(m*m+1/(m*n))))
}

// OneFaceCurl is the radius, mm, to which a sheet curls about its grain while water
// has come half through it from one face: two halves that differ by WetGrowth across.
// Errors: an impossible sheet.
func OneFaceCurl(s Sheet, o Options) (interval.Result, error) {
	if err := s.Check(); err != nil {
		return interval.Result{}, err
	}
	study := interval.Study{Samples: o.Samples, Seed: o.Seed, Inputs: []interval.Input{
		{Name: "the growth across", Range: WetGrowth(s.Class, Cross).Range},
		{Name: "the thickness", Range: typicals()[s.Class][qThickness].Range},
	}}
	r, err := study.Run(1, func(in, out []float64) {
		half := in[1] / 2000
		out[0] = 1 / curvature(max(1e-4, in[0]/100), half, half, 1)
	})
	if err != nil {
		return interval.Result{}, err
	}
	return r[0], nil
}
