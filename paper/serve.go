package paper

import (
	"fmt"
	"math"
)

// Limits say when a bath counts as spent or a sheet as not well enough served.
// What is 0 is not asked for.
type Limits struct {
	// BathPH is the least pH of a bath of alkali (from 2 mmol/L on) at the end of its
	// use.
	BathPH float64 `json:"bath_ph,omitempty"`
	// AlkaliShare is the least share of its alkali that such a bath must still
	// hold, 0 to 1.
	AlkaliShare float64 `json:"alkali_share,omitempty"`
	// AcidLeftMmolPerKg is the most acid that may be left in a sheet.
	AcidLeftMmolPerKg float64 `json:"acid_left_mmol_per_kg,omitempty"`
	// ReservePercentChalk is the least reserve of a sheet.
	ReservePercentChalk float64 `json:"reserve_percent_caco3,omitempty"`
}

func (l Limits) check() error {
	for _, x := range []struct {
		name   string
		v, max float64
	}{{"pH of a bath", l.BathPH, 14}, {"share of the alkali", l.AlkaliShare, 1},
		{"acid left", l.AcidLeftMmolPerKg, 2000}, {"reserve", l.ReservePercentChalk, 50}} {
		if !(x.v >= 0 && x.v <= x.max) {
			return fmt.Errorf("the limit for the %s must lie between 0 and %g, not at %g", x.name, x.max, x.v)
		}
	}
	return nil
}

// Load is a number of sheets that went through the trays together.
type Load struct {
	// Sheets counts all that went through up to this load and with it.
	Sheets              int       `json:"sheets"`
	AcidLeftMmolPerKg   float64   `json:"acid_left_mmol_per_kg"`
	ReservePercentChalk float64   `json:"reserve_percent_caco3"`
	BoronMmolPerKg      float64   `json:"boron_mmol_per_kg"`
	BathPH              []float64 `json:"bath_ph"`          // of each tray afterwards
	AlkaliShare         []float64 `json:"alkali_share"`     // of what each was filled with; 1 for a tray without alkali
	Broken              string    `json:"broken,omitempty"` // the limit that no longer holds, a sentence
}

// Served is what a set of trays does for one load of sheets after another.
type Served struct {
	Loads []Load `json:"loads"`
	// Sheets is how many came through before a limit broke.
	Sheets int `json:"sheets"`
	// WaterMl is all that was filled in; Minutes the time until the last load is
	// out, one load in each tray at a time, the trays working side by side.
	WaterMl float64 `json:"water_ml"`
	Minutes Minutes `json:"minutes"`
	Limit   string  `json:"limit"`
}

const mostServed = 2000

// leastAlkaliBath is the strength from which a bath counts as one of alkali, and not
// as a water with some alkalinity, mmol/L (common practice, no source).
const leastAlkaliBath = 2

// Serve takes sheets through the trays one load after the other, the liquid
// staying as it becomes, at the best values of all inputs. A load is as many
// sheets as the first tray takes together, and all trays take as many. Errors:
// an impossible sheet, bath or limit; sheets not 1 to 2000.
func Serve(s Sheet, baths []Bath, sheets int, l Limits) (Served, error) {
	if err := check(s, baths, Options{}); err != nil {
		return Served{}, err
	}
	if err := l.check(); err != nil {
		return Served{}, err
	}
	if sheets < 1 || sheets > mostServed {
		return Served{}, fmt.Errorf("the number of sheets must lie between 1 and %d, not at %d", mostServed, sheets)
	}
	k := s.complete(Drained)
	in := k.best(baths, Options{})
	c, err := newCourse(k, baths)
	if err != nil {
		return Served{}, err
	}
	kg := k.massG.Best / (1 + k.moisture.Best) / 1000
	load := max(baths[0].Together, 1)
	var out Served
	vats := make([]vat, len(baths))
	tray := make([]float64, len(baths))
	for i, b := range baths {
		vats[i] = b.Liquid.fill(min(b.Liquid.strength().Best, c.most[i]), b.VolumeMl.Best)
		tray[i] = vats[i].n.alkali()
		out.WaterMl += b.VolumeMl.Best
	}
	var slowest, chain Minutes
	for _, b := range baths {
		m := Minutes(b.minutes())
		slowest, chain = max(slowest, m), chain+m
	}
	for done := 0; done < sheets; {
		n := min(load, sheets-done)
		done += n
		one := Load{Sheets: done}
		leaf := start(in).sheetLiquor
		for i, b := range baths {
			b.Together, b.Stack = n, min(b.Stack, n)
			var x [pCount]float64
			if vats[i].ml < 1 {
				return Served{}, fmt.Errorf(
					"%s is carried out with the sheets before sheet %d: it needs more than %g mL",
					b.called(),
					done,
					b.VolumeMl.Best,
				)
			}
			if _, err := c.soak(&leaf, &vats[i], b, k.carried.Best*kg*1000, in, func(int) error { return nil },
				x[:]); err != nil {
				return Served{}, err
			}
			_, pH, err := c.both(&leaf, &vats[i], b.Liquid.fall())
			if err != nil {
				return Served{}, err
			}
			share := 1.0
			if tray[i] > 0 {
				share = max(0, vats[i].n.alkali()) / tray[i]
			}
			one.BathPH, one.AlkaliShare = append(one.BathPH, pH), append(one.AlkaliShare, share)
		}
		d := leaf.dry()
		one.AcidLeftMmolPerKg, one.ReservePercentChalk = d.acid/kg, percentChalk(d.earth/1000/kg)
		one.BoronMmolPerKg = boronOf(&leaf) / kg
		one.Broken = l.broken(baths, one)
		out.Loads = append(out.Loads, one)
		if one.Broken != "" {
			out.Limit = fmt.Sprintf("%d sheets come through well: with the next, %s", out.Sheets, one.Broken)
			break
		}
		out.Sheets = done
	}
	if out.Limit == "" {
		out.Limit = fmt.Sprintf("The trays serve all %d sheets.", sheets)
	}
	out.Minutes = chain + slowest*Minutes(len(out.Loads)-1)
	return out, nil
}

// broken is the sentence on the first limit that a load breaks, or "".
func (l Limits) broken(baths []Bath, x Load) string {
	for i, b := range baths {
		if b.Liquid.AlkaliMmolPerL.Best < leastAlkaliBath {
			continue
		}
		if l.BathPH > 0 && x.BathPH[i] < l.BathPH {
			return fmt.Sprintf("%s falls to pH %.1f, below %.1f.", b.called(), x.BathPH[i], l.BathPH)
		}
		if l.AlkaliShare > 0 && x.AlkaliShare[i] < l.AlkaliShare {
			return fmt.Sprintf(
				"%s holds %.0f %% of its alkali, less than %.0f %%.",
				b.called(),
				100*x.AlkaliShare[i],
				100*l.AlkaliShare,
			)
		}
	}
	if l.AcidLeftMmolPerKg > 0 && x.AcidLeftMmolPerKg > l.AcidLeftMmolPerKg {
		return fmt.Sprintf(
			"%.1f mmol/kg of acid is left in the sheet, more than %.1f.",
			x.AcidLeftMmolPerKg,
			l.AcidLeftMmolPerKg,
		)
	}
	if x.ReservePercentChalk < l.ReservePercentChalk {
		return fmt.Sprintf(
			"the sheet keeps %.2f %% CaCO₃, less than %.2f.",
			x.ReservePercentChalk,
			l.ReservePercentChalk,
		)
	}
	return ""
}

// RinseScheme is how the water of several rinse trays is used.
type RinseScheme string

const (
	FreshRinses RinseScheme = "fresh" // every tray filled anew for every load
	// After each load the first tray is poured away, the others move up, the last is filled anew.
	CascadeRinses RinseScheme = "cascade"
	SameRinses    RinseScheme = "same" // the trays filled once
)

// Rinsed is what a scheme does for one load after another.
type Rinsed struct {
	Scheme RinseScheme `json:"scheme"`
	// Left is the share of a solute that each load keeps.
	Left    []float64 `json:"left"`
	WaterMl float64   `json:"water_ml"`
}

// Rinses compares the three schemes for loads that hold heldMl each, in trays of
// bathMl each, each rinse long enough to come level. A cascade that has run in
// keeps (W - 1)/(W^(k+1) - 1) with k trays and W = bath over held: Kremser, Natl.
// Petrol. News 22(21), 42, 1930, for washing in counter-current (from memory). Errors:
// volumes not above 0, trays not 1 to 20, loads not 1 to 1000.
func Rinses(heldMl, bathMl Millilitres, trays, loads int) ([]Rinsed, error) {
	if err := checkRinse(heldMl, bathMl); err != nil {
		return nil, err
	}
	if trays < 1 || trays > 20 || loads < 1 || loads > 1000 {
		return nil, fmt.Errorf("1 to 20 trays and 1 to 1000 loads can be compared, not %d and %d", trays, loads)
	}
	h, b := float64(heldMl), float64(bathMl)
	var all []Rinsed
	for _, scheme := range []RinseScheme{FreshRinses, CascadeRinses, SameRinses} {
		r := Rinsed{Scheme: scheme, WaterMl: b * float64(trays)}
		tray := make([]float64, trays) // strength, of the first load's liquid
		for n := range loads {
			if n > 0 {
				switch scheme {
				case FreshRinses:
					clear(tray)
					r.WaterMl += b * float64(trays)
				case CascadeRinses:
					copy(tray, tray[1:])
					tray[trays-1] = 0
					r.WaterMl += b
				}
			}
			in := 1.0
			for i := range tray {
				in = (h*in + b*tray[i]) / (h + b)
				tray[i] = in
			}
			r.Left = append(r.Left, in)
		}
		all = append(all, r)
	}
	return all, nil
}

func checkRinse(heldMl, bathMl Millilitres) error {
	for what, v := range map[string]Millilitres{"the liquid held": heldMl, "the rinse": bathMl} {
		if !(v > 0) || math.IsInf(float64(v), 0) {
			return fmt.Errorf("%s must be above 0 mL, not %g mL", what, float64(v))
		}
	}
	return nil
}

// Capacity tells pH and capacity apart: what water that is merely at a pH
// neutralises, beside what a sheet demands.
type Capacity struct {
	AlkaliMmol float64 `json:"alkali_mmol"`
	DemandMmol float64 `json:"demand_mmol"`
	Sentence   string  `json:"sentence"`
}

// CapacityAt is the capacity of volume mL of water that holds nothing but
// hydroxide for its pH (7 to 13, at 25 C, where the product of ions is 1e-14),
// beside the acid demand of the sheets. Errors: an impossible sheet, volume,
// pH or number.
func CapacityAt(s Sheet, sheets int, pH float64, volume Millilitres) (Capacity, error) {
	if err := s.Check(); err != nil {
		return Capacity{}, err
	}
	if !(pH >= 7 && pH <= 13) || !(volume > 0 && volume <= 1e6) || sheets < 1 || sheets > mostServed {
		return Capacity{}, fmt.Errorf(
			"a pH from 7 to 13, more than 0 and at most 1000 L, and 1 to %d sheets can be compared, not pH %g, %g "+
				"mL and %d",
			mostServed,
			pH,
			float64(volume),
			sheets,
		)
	}
	k := s.complete(Drained)
	c := Capacity{
		AlkaliMmol: (math.Pow(10, pH-14) - math.Pow(10, -pH)) * float64(volume),
		DemandMmol: (k.soluble.Best + k.fixed.Best) * k.massG.Best / (1 + k.moisture.Best) / 1000 * float64(sheets),
	}
	share := "all"
	if c.AlkaliMmol < c.DemandMmol {
		share = fmt.Sprintf("a %.0fth", c.DemandMmol/c.AlkaliMmol)
		if c.DemandMmol < 2*c.AlkaliMmol {
			share = "not all"
		}
	}
	c.Sentence = fmt.Sprintf(
		"Water merely at pH %.1f holds %.3g mmol of alkali in %g mL and neutralises %s of the %.3g mmol that the "+
			"paper demands: what counts is the alkali, not the pH.",
		pH,
		c.AlkaliMmol,
		float64(volume),
		share,
		c.DemandMmol,
	)
	return c, nil
}
