package account

import (
	"fmt"

	"benchleaf/chem"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// ChelateQuestion is a bath of a chelator for a sheet that may hold chalk.
type ChelateQuestion struct {
	Chelator string  `field:"chelator" start:"(NH4)2HC6H5O7"`
	GramL    float64 `field:"gram_l" what:"the strength" from:"0.1" to:"30" unit:"g/L" start:"10"`
	PH       float64 `field:"ph" what:"the pH" from:"3" to:"11" start:"7"`
	TempC    float64 `field:"temp_c" what:"the temperature" from:"0" to:"40" unit:"°C" start:"20"`
	Litres   float64 `field:"litres" what:"the bath’s volume" from:"0.01" to:"100" unit:"L" start:"1"`
	SheetG   float64 `field:"sheet_g" what:"the sheet’s mass" from:"0.1" to:"5000" unit:"g" start:"5"`
	ChalkPct float64 `field:"chalk_pct" what:"the chalk in it" from:"0" to:"40" unit:"%" start:"1"`
}

// Chelators are the substances of a ChelateQuestion.
var Chelators = []record.Choice{
	{Value: "(NH4)2HC6H5O7", Words: "diammonium citrate"},
	{Value: "(NH4)3C6H5O7", Words: "triammonium citrate"},
	{Value: "Na3C6H5O7", Words: "trisodium citrate, anhydrous"},
	{Value: "C6H8O7", Words: "citric acid, anhydrous"},
	{Value: "Na2C10H14N2O8.2H2O", Words: "disodium EDTA, dihydrate"},
}

// ChelateAnswer is what it holds of calcium and iron.
type ChelateAnswer struct {
	Answers, Facts []Fact
	Cautions       []string
	RestsOn        []string
}

// chelateOff is what an amount may be off, as a share, beyond the range from closed
// to open: the activity of ions of three and four charges (chem's own check against
// PHREEQC).
const chelateOff = 0.35

// ChelateBath answers q; what cannot be is said at its field.
func ChelateBath(q ChelateQuestion) (a ChelateAnswer, refused []*record.Invalid) {
	var r refusals
	solute := read(&r, "chelator", q.Chelator, chem.ParseSolute)
	if r.any() {
		return a, r
	}
	w, err := chem.Pure(q.TempC)
	if err == nil {
		w, err = w.Dissolve(chem.Measure{Solute: solute, Amount: q.GramL, Unit: chem.GramPerLitre})
	}
	if err != nil {
		r.at("gram_l", err)
		return a, r
	}
	x, err := chem.Chelate(w, q.PH)
	if err != nil {
		r.at("ph", err)
		return a, r
	}
	mmolL := 1000 / x.Bath.Water().LitresPerKg()
	calcium := interval.Range{Low: x.FromChalk.Low * (1 - chelateOff), Best: x.FromChalk.Value,
		High: x.FromChalk.High * (1 + chelateOff)}.Scale(mmolL)
	holds := ranged("calcium", "Calcium it can take out of chalk", calcium, "mmol/L")
	holds.RestsOn = fmt.Sprintf("with chalk to spare, until it is at rest: pH %.1f then; how fast cannot be told",
		x.PHAfter)
	a.Answers = []Fact{holds, q.fromSheet(calcium)}
	a.Facts = []Fact{
		said("bound-calcium", "Of a trace of calcium it binds", boundShare(x.Calcium), ""),
		said("bound-ferrous", "Of iron(II)", boundShare(x.Ferrous), "as long as no air has turned it to iron(III)"),
		said("bound-ferric", "Of iron(III)", boundShare(x.Ferric), "against the hydroxide in solution; hydroxide that falls "+
			"wins where this is below 100 %"),
		estimate("rust", "Iron(III) it can take out of fresh rust", 1000*x.FromRust*mmolL/1000, "mmol/L",
			"at rest; old rust gives up far less"),
	}
	a.Cautions = []string{
		"A chelator takes the alkaline reserve and the filler out of a sheet with the stain, and calcium that holds old " +
			"size: test, shorten, and give the reserve back afterwards.",
		"Iron that is let go again as pH or air change stains anew: rinse until the rinse reads as the fresh water.",
	}
	a.RestsOn = []string{
		"Stability constants of NIST 46 through PHREEQC’s minteq.v4.dat, held to PHREEQC; mixed complexes and redox left " +
			"out. Phytate is not worked out: no constants that were read.",
		"The pH is set with sodium hydroxide or hydrochloric acid; with ammonia it is nearly the same.",
	}
	return a, nil
}

// fromSheet is the chalk that the bath takes out of the sheet.
func (q *ChelateQuestion) fromSheet(calcium interval.Range) Fact {
	const chalkGramPerMol = 100.087
	has := q.SheetG * q.ChalkPct / 100
	takes := calcium.Scale(q.Litres / 1000 * chalkGramPerMol)
	f := ranged("chalk-lost", "Chalk it can take out of this sheet", interval.Range{Low: min(takes.Low, has),
		Best: min(takes.Best, has), High: min(takes.High, has)}, "g")
	switch {
	case has == 0:
		f = said("chalk-lost", f.Name, "none: it holds none", "")
	case takes.Low >= has:
		f = said("chalk-lost", f.Name, "all of its "+rough(has)+words.NBSP+"g", "if it is left long enough")
	default:
		f.RestsOn = "of the " + rough(has) + words.NBSP + "g that it holds, if it is left long enough"
	}
	return f
}

// boundShare writes a share that is bound, with how much is not where that matters.
func boundShare(share float64) string {
	switch free := 1 - share; {
	case free < 1e-4:
		return "all but a ten-thousandth"
	case free < 0.01:
		return "all but " + percent(free)
	}
	return percent(share)
}
