package account

import (
	"fmt"

	"benchleaf/chem"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
	"benchleaf/interval"
)

// The calculations with waters: what a rinse still holds, a water matched in pH and
// conductivity, and bicarbonate made with carbon dioxide. They write nothing.

// liquidHeldGPerG is the liquid that a drained sheet holds for each gram of dry
// paper, over the classes of paper (common practice, no source).
var liquidHeldGPerG = interval.Range{Low: 1.5, Best: 2, High: 2.8}

// RinseQuestion is the reading of a rinse bath.
type RinseQuestion struct {
	Left    string  `field:"left" start:"NaB(OH)4"`
	FreshUS float64 `field:"fresh_us" what:"the fresh water" from:"0.1" to:"3000" unit:"µS/cm" start:"2"`
	RinseUS float64 `field:"rinse_us" what:"the rinse" from:"0.1" to:"50000" unit:"µS/cm" start:"30"`
}

// RinseLeft is what a rinse of that reading still holds.
type RinseLeft struct {
	Answers []Fact
	// Rows are the same at other readings above the fresh water: how far to rinse.
	Rows    []RinseRow
	RestsOn []string
}

// RinseRow is a reading and what it means.
type RinseRow struct {
	Reading string
	Left    Fact
}

// Rinsed are what baths leave in a rinse, by the formula that chem knows.
var Rinsed = []record.Choice{
	{Value: "NaB(OH)4", Words: "borate of spent borohydride, NaB(OH)₄"},
	{Value: "Ca(OH)2", Words: "lime, Ca(OH)₂"},
	{Value: "Ca(HCO3)2", Words: "calcium bicarbonate"},
	{Value: "Mg(HCO3)2", Words: "magnesium bicarbonate"},
	{Value: "NaHCO3", Words: "sodium bicarbonate"},
	{Value: "NH4HCO3", Words: "ammonium bicarbonate"},
	{Value: "(NH4)2HC6H5O7", Words: "diammonium citrate"},
	{Value: "Na3C6H5O7", Words: "trisodium citrate"},
	{Value: "Na2SO4", Words: "sodium sulfate"},
	{Value: "NaCl", Words: "sodium chloride"},
}

// LeftInRinse answers q; what cannot be is said at its field.
func LeftInRinse(q RinseQuestion) (a RinseLeft, refused []*record.Invalid) {
	var r refusals
	left := read(&r, "left", q.Left, chem.ParseSolute)
	if r.any() {
		return a, r
	}
	fresh, err := conducting(q.FreshUS)
	if err != nil {
		r.at("fresh_us", err)
		return a, r
	}
	gram, err := chem.Leftover(fresh, left, q.RinseUS)
	if err != nil {
		r.at("rinse_us", err)
		return a, r
	}
	mg := estimated(gram).Scale(1000)
	held := ranged("left-in-sheet", "What the wet sheet keeps of it",
		interval.Range{Low: mg.Low * liquidHeldGPerG.Low / 1000, Best: mg.Best * liquidHeldGPerG.Best / 1000,
			High: mg.High * liquidHeldGPerG.High / 1000}, "mg/g of paper")
	held.RestsOn = "1.5 to 2.8 g of liquid for each gram (common practice, no source), level with the bath"
	a.Answers = []Fact{ranged("left-in-rinse", "Left in the rinse", mg, "mg/L"), held}
	for _, above := range []float64{2, 5, 10, 20, 50, 100, 200, 500} {
		gram, err := chem.Leftover(fresh, left, q.FreshUS+above)
		if err != nil {
			break
		}
		a.Rows = append(a.Rows, RinseRow{en.Number(q.FreshUS+above) + words.NBSP + "µS/cm",
			ranged("left", "Left", estimated(gram).Scale(1000), "mg/L")})
	}
	a.RestsOn = []string{
		"Conductivity at 25 °C, ion by ion, as if that one substance were all that came out of the sheet: a reading tells " +
			"how much, not what.",
		"De-ionised water in a tray takes carbon dioxide from the air and so 1 µS/cm; read the fresh water from " +
			"the same tray.",
		"Sheet and bath are taken as level: a reading that still rises while the sheet lies in it tells nothing yet.",
	}
	return a, nil
}

// conducting is pure water at 25 °C with as much common salt as conducts microS
// microsiemens/cm.
func conducting(microS float64) (chem.Water, error) {
	pure, err := chem.Pure(25)
	if err != nil {
		return pure, err
	}
	salt, err := chem.ParseSolute("NaCl")
	if err != nil {
		return pure, err
	}
	gram, err := chem.Leftover(pure, salt, microS)
	if err != nil {
		return pure, err
	}
	return pure.Dissolve(chem.Measure{Solute: salt, Amount: gram.Value, Unit: chem.GramPerLitre})
}

// MatchQuestion asks for a water of a pH and a conductivity.
type MatchQuestion struct {
	Pair   string  `field:"pair" start:"acetic acid+NH3"`
	PH     float64 `field:"ph" what:"the pH" from:"3" to:"11" start:"6.5"`
	US     float64 `field:"us" what:"the conductivity" from:"1" to:"20000" unit:"µS/cm" start:"1000"`
	TempC  float64 `field:"temp_c" what:"the temperature" from:"0" to:"40" unit:"°C" start:"20"`
	Litres float64 `field:"litres" what:"the volume" from:"0.01" to:"1000" unit:"L" start:"1"`
}

// MatchedWater is what makes it.
type MatchedWater struct {
	Answers, Facts []Fact
	Cautions       []string
	RestsOn        []string
}

// matchPair is an acid and an alkali that a water is matched with.
type matchPair struct {
	acid, alkali           string // as chem names them
	words                  string
	acidWords, alkaliWords string
	cautions               []string
}

var matchPairs = []matchPair{
	{"acetic acid", "NH3", "acetic acid and ammonia", "acetic acid, pure", "ammonia, as pure NH₃", []string{
		"Glacial acetic acid and strong ammonia burn skin and eyes, and their vapours the lungs: goggles, gloves, and pour " +
			"at an open window or in a hood, each into the water, never one into the other."}},
	{"citric acid", "NH3", "citric acid and ammonia", "citric acid, anhydrous", "ammonia, as pure NH₃", []string{
		"Citrate takes calcium out of chalk in the sheet: see Chelators.",
		"Strong ammonia burns skin, eyes and lungs: goggles, gloves, air."}},
	{"acetic acid", "NaOH", "acetic acid and soda lye", "acetic acid, pure", "sodium hydroxide", []string{
		"Sodium acetate stays in the sheet unless it is rinsed out; sodium hydroxide burns skin and eyes: goggles, gloves."}},
	{"CO2", "Ca(HCO3)2", "carbon dioxide and chalk", "carbon dioxide beyond the bicarbonate",
		"calcium bicarbonate", []string{
			"It loses carbon dioxide on standing, and its pH rises: read it when it is used."}},
}

// MatchPairs are the choices of a MatchQuestion.
func MatchPairs() []record.Choice {
	var list []record.Choice
	for _, p := range matchPairs {
		list = append(list, record.Choice{Value: p.acid + "+" + p.alkali, Words: p.words})
	}
	return list
}

// MatchWater answers q; what cannot be is said at its field.
func MatchWater(q MatchQuestion) (a MatchedWater, refused []*record.Invalid) {
	var r refusals
	var pair *matchPair
	for i := range matchPairs {
		if p := &matchPairs[i]; p.acid+"+"+p.alkali == q.Pair {
			pair = p
		}
	}
	if pair == nil {
		r.say("pair", "%q is no choice: one of the list would be right.", q.Pair)
		return a, r
	}
	pure, err := chem.Pure(q.TempC)
	if err != nil {
		r.at("temp_c", err)
		return a, r
	}
	acid, alkali := read(&r, "pair", pair.acid, chem.ParseSolute), read(&r, "pair", pair.alkali, chem.ParseSolute)
	if r.any() {
		return a, r
	}
	m, err := chem.Match(pure, acid, alkali, q.PH, q.US)
	if err != nil {
		r.at("us", err)
		return a, r
	}
	a.Answers = []Fact{
		ranged("alkali", en.Upper(pair.alkaliWords), estimated(m.AlkaliGramPerL).Scale(q.Litres), "g"),
		ranged("acid", en.Upper(pair.acidWords), estimated(m.AcidGramPerL).Scale(q.Litres), "g"),
	}
	ph := m.State.PHRange()
	a.Facts = []Fact{
		{Code: "ph", Name: "pH, computed", Figure: some(words.PH(estimated(ph))), Basis: Computed},
		conductivityFact(m.Conductivity25),
	}
	if atm := m.State.CO2Fugacity(); atm > 1e-3 {
		a.Facts = append(a.Facts, estimate("co2", "Carbon dioxide over it", atm, "atm",
			"what it gives off to, where less stands over it"))
	}
	a.Cautions = pair.cautions
	a.RestsOn = []string{
		"In de-ionised water, closed to the air. Make it up weaker, and bring it to the reading with a meter: pH with the " +
			"acid, conductivity with both. Strong stock is weighed out by what it holds.",
		"Conductivity as a meter shows it that compensates to 25 °C.",
	}
	return a, nil
}

// CarbonateQuestion is a suspension through which carbon dioxide goes.
type CarbonateQuestion struct {
	Solid   string  `field:"solid" start:"calcite"`
	CO2Atm  float64 `field:"co2_atm" what:"the carbon dioxide" from:"0.0003" to:"4" unit:"atm" start:"1"`
	TempC   float64 `field:"temp_c" what:"the temperature" from:"0" to:"40" unit:"°C" start:"18"`
	WarmC   float64 `field:"warm_c" what:"the warmer place" from:"0" to:"50" unit:"°C" start:"30"`
	HeadPct float64 `field:"head_pct" what:"the gas over it" from:"1" to:"90" unit:"%" start:"10"`
	DepthMM float64 `field:"depth_mm" what:"the depth" from:"5" to:"1000" unit:"mm" start:"150"`
}

// Suspensions are the solids of a CarbonateQuestion.
var Suspensions = []record.Choice{
	{Value: "calcite", Words: "chalk (calcium carbonate)"},
	{Value: "nesquehonite", Words: "magnesium carbonate or hydroxide"},
}

// CarbonateAnswer is the bicarbonate that comes of it.
type CarbonateAnswer struct {
	Answers, Facts []Fact
	Cautions       []string
	RestsOn        []string
}

// bottleAtm is the pressure above the air's, in atm, from which a bottle that
// is not made for pressure is a danger (common practice, no source).
const bottleAtm = 0.5

// CarbonateWater answers q; what cannot be is said at its field.
func CarbonateWater(q CarbonateQuestion) (a CarbonateAnswer, refused []*record.Invalid) {
	var r refusals
	solid := read(&r, "solid", q.Solid, func(s string) (chem.Solids, error) { return chem.ParseSolids([]string{s}) })
	if r.any() {
		return a, r
	}
	pure, err := chem.Pure(q.TempC)
	if err != nil {
		r.at("temp_c", err)
		return a, r
	}
	o, err := chem.Carbonate(pure, solid, q.CO2Atm)
	if err != nil {
		r.at("co2_atm", err)
		return a, r
	}
	metal, name := chem.Ca, "calcium bicarbonate"
	if solid != chem.Calcite {
		metal, name = chem.Mg, "magnesium bicarbonate"
	}
	perL := 1000 * o.Total(metal) / o.Water().LitresPerKg()
	a.Answers = []Fact{
		estimate("strength", en.Upper(name)+", at most", perL, "mmol/L",
			fmt.Sprintf("%s g/L as the carbonate; what it holds when it takes up no more",
				rough(perL/1000*chem.SolidGramPerMol(carbonateOf(metal))))),
		{Code: "ph", Name: "pH under the gas", Figure: some(words.PH(estimated(o.PHRange()))), Basis: Computed},
	}
	minutes := o.CarbonationMinutes()
	a.Facts = []Fact{said("time", "Time to it, by the gas alone",
		lasting(minutes.Low)+" to "+lasting(minutes.High),
		"from stirred fine bubbles to a few coarse ones (k_L a, from memory, not verified); how fast the grains dissolve "+
			"comes on top and cannot be told: go by conductivity or pH until it stands still")}
	a.stands(&r, &o, metal, q)
	a.warms(&r, &o, q)
	if metal == chem.Mg {
		a.RestsOn = append(a.RestsOn, "Published constants of nesquehonite spread over one unit of its index, so a "+
			"factor of two in the strength; at the bench 0.02 to 0.06 mol/L is what is made (common practice, no source).")
	}
	a.RestsOn = append(a.RestsOn, "Chemical equilibrium (package chem), held to PHREEQC; de-ionised water.")
	return a, r
}

// carbonateOf is the solid whose mass a bicarbonate is given as.
func carbonateOf(metal chem.Component) string {
	if metal == chem.Ca {
		return "calcite"
	}
	return "magnesite"
}

// stands says what becomes of it in an open vessel.
func (a *CarbonateAnswer) stands(r *refusals, o *chem.State, metal chem.Component, q CarbonateQuestion) {
	rest, err := chem.Stand(o, chem.OutdoorCO2Atm)
	if err != nil {
		r.at("", err)
		return
	}
	hours := chem.DegassingHours(q.DepthMM)
	a.Facts = append(a.Facts, said("standing", "Left open",
		fmt.Sprintf("in %s to %s most of the gas is gone", lasting(60*hours.Low), lasting(60*hours.High)),
		fmt.Sprintf("rocked to still, %s mm deep (films from memory, a factor of three); at rest in air it has pH %.1f and "+
			"%s of %s mmol/L are left, the rest falls as carbonate", en.Number(q.DepthMM), rest.PH(),
			rough(1000*rest.Total(metal)), rough(1000*o.Total(metal)))))
}

// warms says what pressure a closed bottle of it gets.
func (a *CarbonateAnswer) warms(r *refusals, o *chem.State, q CarbonateQuestion) {
	bottle := chem.Bottle{HeadShare: q.HeadPct / 100, AirAtm: max(0, 1-q.CO2Atm)}
	whole, err := bottle.Warmed(o, q.WarmC)
	if err != nil {
		r.at("warm_c", err)
		return
	}
	over := whole - 1
	text := rough(over) + words.NBSP + "atm over the air’s"
	if over < 0.01 {
		text = "none over the air’s"
	}
	a.Facts = append(a.Facts, said("pressure", "Closed, and warmed to "+en.Quantity(q.WarmC, "°C"), text,
		"carbon dioxide shared out anew by Henry’s law; water vapour adds 0.04 atm at 30 °C"))
	a.Cautions = append(a.Cautions,
		"Carbon dioxide gathers low and suffocates without a smell: air the room, no small closed one, and a detector where "+
			"a cylinder stands. A cylinder needs its reducing valve and a chain.")
	if over > bottleAtm || q.CO2Atm > 1 {
		a.Cautions = append(a.Cautions, "A bottle not made for pressure bursts into splinters: use a vessel with a safety "+
			"valve made for it, never a reagent bottle, and never a glass stopper tied down. Keep it as cold as it was filled.")
	} else {
		a.Cautions = append(a.Cautions, "A closed bottle gains pressure as it warms: keep it cold and vented, or in a "+
			"bottle made for fizzy drinks and filled no fuller than one.")
	}
}
