package demo

import (
	"strings"
	"time"

	"benchleaf/internal/record"
	"benchleaf/internal/treatment"
	say "benchleaf/internal/words"
	"benchleaf/solution"
)

// studio fills the shelf: waters, glass, instruments, bottles. Strengths come
// from package solution, as they would at the bench.
func (f *filler) studio(now time.Time) error {
	start := now.AddDate(0, 0, -120)
	f.open("KM", start, record.StudioID)
	f.add(
		record.StudioDetails{
			Name: "Studio (demo)", Address: "Quay 4\nHarbour town", Contact: "bench@studio.example",
			Currency: "EUR", RateMinor: 7200, MinimumMinor: 12000, TaxPercent: 19, PaperSize: "A4",
		},
		record.Person{Initials: "KM", Name: "K. M. (demo)", Role: "conservator"},
		record.Person{Initials: "TV", Name: "T. V. (demo)", Role: "assistant"},
	)
	for _, w := range []record.WaterSource{
		{Name: "tap", Source: "tap", CalciumMgL: num(84), HardnessMgL: num(270),
			AlkalinityMgL: num(245), PH: num(7.5), ConductUS: num(560),
			Note: "from the supplier's analysis"},
		{Name: "de-ionised can", Source: "deionised", ConductUS: num(3)},
		{Name: "conditioned water", Source: "conditioned", CalciumMgL: num(20), PH: num(7.9), ConductUS: num(118),
			Note: "de-ionised, lime water added until pH 8"},
	} {
		w.ID, w.Measured = f.newID(), f.clock
		f.add(w)
	}
	for _, g := range solution.UsualGlassware() {
		f.add(
			record.Glassware{
				ID: f.newID(), Name: g.Name, CapacityMl: float64(g.CapacityMl),
				GraduationMl: float64(g.GraduationMl), ToleranceMl: float64(g.ToleranceMl),
			},
		)
	}
	meter := f.newID()
	f.add(
		record.Instrument{ID: meter, Name: "pH meter, flat electrode", Sort: "ph-meter", Resolution: 0.01},
		record.Instrument{ID: f.newID(), Name: "balance 0.01 g", Sort: "balance", Resolution: 0.01, Unit: "g"},
		record.Instrument{ID: f.newID(), Name: "conductivity cell", Sort: "conductivity", Resolution: 1, Unit: "µS/cm"},
	)
	f.shelf.chart = f.chartFile()
	f.add(f.shelf.chart)
	f.bottles(now)
	f.at(now.Add(-60*time.Minute), "KM")
	f.add(
		record.InstrumentChecked{
			Instrument: meter, At: f.clock, TempC: num(20),
			Buffers: []record.BufferReading{{NominalPH: 4.00, ReadPH: 4.03}, {NominalPH: 7.00, ReadPH: 6.98}},
		},
	)
	f.stock(now)
	f.shelf.seq, f.shelf.written = f.seq, f.clock
	return f.err
}

func (f *filler) bottles(now time.Time) {
	if f.err != nil {
		return
	}
	f.at(now.AddDate(0, 0, -90), "KM")
	stock := record.Bottle{
		ID: f.newID(), Name: "lime water stock", Substance: "calcium hydroxide", Form: "saturated", Unit: "g/L",
		VolumeMl: 5000, MadeAt: f.clock, Maker: "KM", TempC: num(17), Lot: "L-0226",
		Supplier: "laboratory supplier (demo)", RestsOn: solution.LimeSolubilitySource,
		Note: "stands over its solid, clear part drawn off",
	}
	if s, err := solution.LimeSolubility(17); err == nil {
		stock.Strength = &s
	}
	hydride := record.Bottle{
		ID: f.newID(), Name: "sodium borohydride, powder", Substance: "sodium borohydride", Form: "solid",
		Unit: "pure", MassG: 100, MadeAt: f.clock, ExpiresAt: f.clock.AddDate(1, 0, 0),
		ExpiryBasis: "tin opened; common practice, no source", Lot: "B-1107",
		Supplier: "laboratory supplier (demo)",
	}
	f.add(
		stock,
		hydride,
		record.Bottle{
			ID: f.newID(), Name: "ethanol", Substance: "ethanol", Form: "solvent", Unit: "% v/v",
			Strength: &record.Range{Low: 95, Best: 96, High: 97}, VolumeMl: 1000, MadeAt: f.clock, Lot: "E-0912",
		},
	)
	f.shelf.limeStock = stock

	f.at(now.Add(-98*time.Minute), "KM")
	want, err := solution.ParseWanted("0.4 g/L")
	if err != nil {
		f.err = err
		return
	}
	lime, err := solution.LimeFromStock{
		StockTemp: 17, StockName: stock.Name, StockLeft: 5000, Want: want, Volume: 6000,
		Water: solution.Deionised(), Seed: 1,
	}.Recipe()
	if err != nil {
		f.err = err
		return
	}
	f.shelf.limeBath = f.made(
		lime, "lime water 0.4 g/L", "de-ionised can",
		[]record.Drawn{{Bottle: stock.ID, Name: stock.Name, Lot: stock.Lot, Ml: 1400}},
	)
	f.add(f.shelf.limeBath, record.BottleDrawn{Bottle: stock.ID, Ml: 1400, For: f.shelf.limeBath.Name})
	f.shelf.mc = record.Bottle{
		ID: f.newID(), Name: "methyl cellulose 4 %", Substance: "methyl cellulose", Form: "adhesive", Unit: "% w/v",
		Strength: &record.Range{Low: 3.8, Best: 4, High: 4.2}, VolumeMl: 100, MadeAt: f.clock,
		ExpiresAt: f.clock.AddDate(0, 0, 28), ExpiryBasis: "kept cold; common practice, no source", Maker: "KM",
		Lot: "MC-33",
	}
	f.add(f.shelf.mc)

	f.at(now.Add(-70*time.Minute), "TV")
	borohydride, err := solution.Find("sodium borohydride")
	if err != nil {
		f.err = err
		return
	}
	bath, err := solution.FromSolid{
		Substance: borohydride, Want: solution.Strength{Value: 0.5, Unit: "% w/v"}, Volume: 1000,
		Balance: solution.Balance{ResolutionG: 0.01}, Water: solution.Water{Name: "conditioned water", Pure: true},
		Seed: 1,
	}.Recipe()
	if err != nil {
		f.err = err
		return
	}
	f.shelf.hydride = f.made(
		bath, "sodium borohydride 0.5 % w/v", "conditioned water",
		[]record.Drawn{{Bottle: hydride.ID, Name: hydride.Name, Lot: hydride.Lot}},
	)
	f.add(f.shelf.hydride, record.BottleDrawn{Bottle: hydride.ID, G: 5, For: f.shelf.hydride.Name})
}

// made is the bottle that a recipe makes.
func (f *filler) made(r solution.Recipe, name, water string, from []record.Drawn) record.Bottle {
	strength := r.Strength.Range
	b := record.Bottle{
		ID: f.newID(), Name: name, Substance: r.Substance, Form: record.BottleForm(r.Form),
		Unit: string(r.Strength.Unit), Strength: &strength, VolumeMl: r.VolumeMl.Best, MadeAt: f.clock, Maker: f.by,
		From: from, Water: water, Recipe: r.Steps(), RestsOn: strings.Join(r.RestsOn, " "), Cautions: r.Cautions,
		Warnings: r.Warnings, ExpiryBasis: r.Keeping.Text,
	}
	if r.Keeping.Hours > 0 {
		b.ExpiresAt = r.Keeping.Until(f.clock)
	}
	return b
}

// strength writes a bottle's strength with its range.
func strength(b record.Bottle) string {
	if b.Strength == nil {
		return "strength as supplied"
	}
	return say.English.Range(*b.Strength, b.Unit)
}

func drawn(b record.Bottle, ml float64) record.Drawn {
	return record.Drawn{Bottle: b.ID, Name: b.Name, Lot: b.Lot, Ml: ml}
}

// perLitre is a bottle's strength in g/L, as a bath keeps it.
func perLitre(b record.Bottle) *record.Range {
	_, r := treatment.BathStrength(&record.ShelfBottle{Stamped: record.Stamped[record.Bottle]{Body: b}})
	return r
}
