package solution

import (
	"errors"
	"fmt"

	"benchleaf/chem"
	"benchleaf/interval"
)

// Chemistry is what package chem says of a mixture once it has settled, closed
// to air.
type Chemistry struct {
	TempC Celsius `json:"temp_c"`
	// PH with its range: the strength's range, and the model's own (chem.State.PHRange).
	PH interval.Range `json:"ph"`
	// ChalkMgPerL and BruciteMgPerL are the calcium carbonate and magnesium
	// hydroxide that fall out.
	ChalkMgPerL   float64 `json:"chalk_mg_per_l,omitempty"`
	BruciteMgPerL float64 `json:"brucite_mg_per_l,omitempty"`
	// LimeLeft is the hydroxide still dissolved, written as calcium hydroxide, for
	// a lime water; zero for another liquid.
	LimeLeft StrengthRange `json:"lime_left,omitzero"`
	Warnings []string      `json:"warnings,omitempty"`
}

// cloudMgPerL is the chalk from which a liquid is plainly cloudy (common
// practice, no source).
const cloudMgPerL = 10

// analysis writes what is known of the water for chem. It is false where
// nothing is.
func (w Water) analysis(t Celsius) (a chem.Analysis, ok bool) {
	a = chem.Analysis{TemperatureC: float64(t), Unit: chem.MillimolPerLitre, Ions: map[string]float64{}}
	if w.Pure {
		return a, true
	}
	magnesium := 0.0
	if w.MagnesiumMgL != nil {
		magnesium = *w.MagnesiumMgL / molarMagnesium
	}
	switch {
	case w.AlkalinityMgL != nil && w.HardnessMgL != nil:
		a.Ions["HCO3"] = *w.AlkalinityMgL / molarBicarbonate
		a.Ions["Ca"] = max(0, *w.HardnessMgL/molarChalk-magnesium)
	case w.AlkalinityMgL != nil: // taken as calcium bicarbonate
		a.Ions["HCO3"] = *w.AlkalinityMgL / molarBicarbonate
		a.Ions["Ca"] = max(0, a.Ions["HCO3"]/2-magnesium)
	case w.HardnessMgL != nil: // taken as bicarbonate
		a.Ions["HCO3"] = 2 * *w.HardnessMgL / molarChalk
		a.Ions["Ca"] = max(0, *w.HardnessMgL/molarChalk-magnesium)
	default:
		return a, false
	}
	a.Ions["Mg"] = magnesium
	if w.PH != nil {
		a.PH = chem.Figure(*w.PH)
	}
	return a, true
}

// water makes chem's water of what is known. It is false where nothing is.
func (w Water) water(t Celsius) (chem.Water, bool, error) {
	if w.Pure {
		x, err := chem.Pure(float64(t))
		return x, true, err
	}
	a, ok := w.analysis(t)
	if !ok {
		return chem.Water{}, false, nil
	}
	b, err := a.Balance()
	return b.Water, true, err
}

// lowestPH is the pH of the most free carbon dioxide that a drinking water whose
// pH is not known is taken to hold; the least is none, about pH 8 (common
// practice, no source).
const lowestPH = 6.8

// mostAcid is the water with the most free carbon dioxide that it may hold: as it
// is where its pH is known.
func (w Water) mostAcid(t Celsius, known chem.Water) (chem.Water, error) {
	if w.Pure || w.PH != nil {
		return known, nil
	}
	ph := lowestPH
	w.PH = &ph
	x, _, err := w.water(t)
	return x, err
}

// settle computes what becomes of perLitre of s in water at t: share of the
// mixture's volume is the water, the rest brought the substance in. Nil without
// an error where nothing is known of the water, or chem does not know s.
func settle(s *Substance, perLitre interval.Range, w Water, share float64, t Celsius) (*Chemistry, error) {
	solute, err := chem.ParseSolute(s.Formula)
	if s.Formula == "" || err != nil {
		return nil, nil
	}
	diluent, known, err := w.water(t)
	if err != nil || !known {
		return nil, err
	}
	acid, err := w.mostAcid(t, diluent)
	if err != nil {
		return nil, err
	}
	out := &Chemistry{TempC: t}
	var ph, left [3]float64
	var off chem.Estimate
	for i, c := range []float64{perLitre.Low, perLitre.Best, perLitre.High} {
		in := diluent
		if i == 0 {
			in = acid
		}
		state, err := mixed(solute, c, in, share, t)
		if err != nil {
			return nil, err
		}
		ph[i] = state.PH()
		if i == 1 {
			off = state.PHRange()
		}
		// A water alkaline by itself has hydroxide that is not the lime's.
		left[i] = min(c, (state.Molality("OH-")+state.Molality("CaOH+"))/2*molarLime/state.Water().LitresPerKg())
		if i == 1 {
			litres := state.Water().LitresPerKg()
			out.ChalkMgPerL = max(0, state.Fallen(chem.Calcite)) * 1000 * chem.SolidGramPerMol("calcite") / litres
			out.BruciteMgPerL = max(0, state.Fallen(chem.Brucite)) * 1000 * chem.SolidGramPerMol("brucite") / litres
			out.Warnings = state.Warnings()
		}
	}
	out.PH = interval.Range{
		Low:  onScale(min(ph[0], ph[1], ph[2]) - (off.Value - off.Low)),
		Best: onScale(ph[1]),
		High: onScale(max(ph[0], ph[1], ph[2]) + (off.High - off.Value)),
	}
	if ph[1] != out.PH.Best {
		out.Warnings = append(out.Warnings, "Its pH lies beyond 0 to 14, where the scale of a meter ends.")
	}
	if s.Is(Lime) {
		out.LimeLeft = StrengthRange{interval.Range{Low: left[0], Best: left[1], High: left[2]}, GramL}
	}
	return out, nil
}

// concentrate is from what strength, g/L, a stock is taken to bring no water of
// its own into a mixture: a pure liquid holds none, glacial acetic acid hardly any.
const concentrate = 700

// onScale keeps a pH on the scale of a meter, 0 to 14.
func onScale(pH float64) float64 { return min(14, max(0, pH)) }

// mixed is the equilibrium of c g/L of a solute, brought in by the share of the
// mixture that is not the diluent, or dissolved in the diluent when that is all,
// or when the stock is a concentrate.
func mixed(solute chem.Solute, c float64, diluent chem.Water, share float64, t Celsius) (chem.State, error) {
	m := chem.Measure{Solute: solute, Amount: c, Unit: chem.GramPerLitre}
	var w chem.Water
	var err error
	if share >= 1-1e-9 || c >= concentrate*(1-share) {
		w, err = diluent.Dissolve(m)
	} else {
		w, err = chem.Pure(float64(t))
		if err == nil {
			m.Amount = c / (1 - share)
			w, err = w.Dissolve(m)
		}
		if err == nil && share > 1e-9 {
			w, err = chem.Mix(chem.Litres(1-share, w), chem.Litres(share, diluent))
		}
	}
	if err != nil {
		return chem.State{}, err
	}
	if w, err = chem.FreshHydride(w); err != nil {
		return chem.State{}, err
	}
	state, err := chem.Equilibrate(w, chem.Conditions{MayFall: chem.Calcite | chem.Brucite | chem.Portlandite})
	if errors.Is(err, chem.ErrIonicStrength) {
		err = nil // the state's own warnings say that it is rough
	}
	return state, err
}

// settles adds to a recipe what chem says of it. share is the water's share of
// the volume.
func (r *Recipe) settles(s *Substance, perLitre interval.Range, w Water, share float64, t Celsius) {
	c, err := settle(s, perLitre, w, share, t)
	if err != nil {
		r.Warnings = append(r.Warnings, fmt.Sprintf("What the water does to it could not be computed: %v.", err))
	}
	r.Chemistry = c
	if s.Is(Lime) {
		r.clouds(w, share, perLitre)
	}
	if c != nil {
		r.RestsOn = append(
			r.RestsOn,
			fmt.Sprintf(
				"pH at %g °C, fresh, settled and closed to air, by chemical equilibrium (package chem).",
				float64(t),
			),
		)
		if !w.Pure && w.PH == nil {
			r.RestsOn = append(r.RestsOn, fmt.Sprintf(
				"The pH of %s is not known, and so not its free carbon dioxide: the range covers drinking water of "+
					"pH %.1f to 8 (common practice, no source), its best value none.", w.called(), lowestPH))
		}
		for _, w := range c.Warnings {
			// A recipe's own cautions say it better.
			if w != chem.CausticWarning {
				r.Warnings = append(r.Warnings, w)
			}
		}
	}
}

// clouds says what a water does to lime.
func (r *Recipe) clouds(w Water, share float64, lime interval.Range) {
	if w.Pure {
		return
	}
	bound, says, known := w.LimeLost()
	r.LimeLostPerLitre = min(bound*GramsPerLitre(share), GramsPerLitre(lime.Best))
	switch c := r.Chemistry; {
	case !known:
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"Nothing is known of the hardness of %s: its bicarbonate takes lime out as chalk, so the mixture "+
					"may cloud and be weaker than said. Enter its alkalinity or hardness, or use de-ionised water.",
				w.called(),
			),
		)
	case c == nil: // chem failed and said so: what stoichiometry alone tells
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"%s clouds it: by %s, up to %.2f g/L of the %.2f g/L of lime is lost as chalk. De-ionised water "+
					"would not.",
				upper(w.called()),
				says,
				float64(r.LimeLostPerLitre),
				lime.Best,
			),
		)
	case c.LimeLeft.Best < 0.1*lime.Best:
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"%s takes out nearly all of the lime: of %.2f g/L only %.2f g/L is left (by %s), pH %.1f, and it "+
					"clouds with %.0f mg/L of chalk. Use de-ionised water, or a little lime in it, instead.",
				upper(w.called()),
				lime.Best,
				max(0, c.LimeLeft.Best),
				says,
				c.PH.Best,
				c.ChalkMgPerL+c.BruciteMgPerL,
			),
		)
	case c.ChalkMgPerL+c.BruciteMgPerL > cloudMgPerL:
		r.Warnings = append(
			r.Warnings,
			fmt.Sprintf(
				"%s clouds it: %.0f mg/L of chalk%s fall out, and of the %.2f g/L of lime %.2f g/L is left (by %s). "+
					"Let it settle and use the clear part, or use de-ionised water, which does not cloud.",
				upper(w.called()),
				c.ChalkMgPerL,
				brucite(c.BruciteMgPerL),
				lime.Best,
				c.LimeLeft.Best,
				says,
			),
		)
	}
}

func brucite(mgPerL float64) string {
	if mgPerL < 1 {
		return ""
	}
	return fmt.Sprintf(" and %.0f mg/L of magnesium hydroxide", mgPerL)
}
