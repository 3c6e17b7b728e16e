package solution

// mixture is a stock and a diluent as they are poured.
type mixture struct {
	stock, water Pour
	in           pourInputs
}

func (m mixture) total() Millilitres { return m.stock.Volume + m.water.Volume }

// volumes are stock and water as they come out for one sample, mL.
func (m mixture) volumes(in []float64) (stock, water float64) {
	stock = m.in.volume(0, in)
	if m.water.Volume > 0 {
		water = m.in.volume(1, in)
	}
	return stock, water
}

// measureParts chooses the pours: the stock as near to the volume meant as the
// vessels measure it, rather more than too little, and then the water that goes
// with what was poured (waterPer mL of it for each mL of stock), so that
// rounding shifts the volume made rather than the strength.
func measureParts(stock Millilitres, waterPer float64, glass []Glassware) (mixture, error) {
	var first Pour
	for _, more := range []Millilitres{1, 1.02, 1.05, 1.1, 1.2} {
		var err error
		if first, err = measure(stock*more, glass); err != nil {
			return mixture{}, err
		}
		if first.Volume >= 0.99*stock {
			break
		}
	}
	m := mixture{stock: first}
	pours := []measured{{"the stock", first}}
	if waterPer > 1e-9 {
		var err error
		if m.water, err = measure(first.Volume*Millilitres(waterPer), glass); err != nil {
			return mixture{}, err
		}
		pours = append(pours, measured{"the water", m.water})
	}
	m.in = inputsOf(pours...)
	return m, nil
}
