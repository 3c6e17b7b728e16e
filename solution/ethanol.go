package solution

// ethanolWater holds the coefficients of the density of ethanol and water at
// 20 °C, kg/m3, as a polynomial in the mass fraction of ethanol: International
// Organization of Legal Metrology, International Recommendation R 22,
// International alcoholometric tables (1975), the terms A1 to A12 of its general
// formula. Basis: read, in public transcriptions of that formula.
var ethanolWater = [...]float64{
	998.20123, -192.9769495, 389.1238958, -1668.103923, 13522.15441, -88292.78388,
	306287.4042, -613838.1234, 747017.2998, -547846.1354, 223446.0334, -39032.85426,
}

// ethanolDensity is the density at 20 °C of ethanol and water with mass
// fraction w of ethanol, 0 to 1.
func ethanolDensity(w float64) GramsPerMillilitre {
	rho := 0.0
	for i := len(ethanolWater) - 1; i >= 0; i-- {
		rho = rho*w + ethanolWater[i]
	}
	return GramsPerMillilitre(rho / 1000)
}

// ethanolMassFraction is the mass fraction of a mixture that holds c of ethanol
// at 20 °C. g/L grows with the mass fraction throughout, so halving finds it.
func ethanolMassFraction(c GramsPerLitre) float64 {
	lo, hi := 0.0, 1.0
	for range 100 {
		mid := (lo + hi) / 2
		if 1000*mid*float64(ethanolDensity(mid)) < float64(c) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

// mixEthanol mixes s mL of ethanol that holds c g/L with w mL of water at 20
// °C: the volume is less than the sum, by up to 3.6 %. It returns the strength
// in g/L and the volume in mL.
func mixEthanol(c GramsPerLitre, s, w Millilitres) (GramsPerLitre, Millilitres) {
	stock := float64(s) * float64(ethanolDensity(ethanolMassFraction(c))) // g
	mass := stock + float64(w)*float64(ethanolDensity(0))
	ethanol := float64(c) * float64(s) / 1000 // g
	volume := mass / float64(ethanolDensity(ethanol/mass))
	return GramsPerLitre(1000 * ethanol / volume), Millilitres(volume)
}

// ethanolMixing is the mixing of ethanol that holds c g/L with water.
func (q FromBottle) ethanolMixing(c float64) (mixing, error) {
	m := mixing{
		result: func(c, s, w float64) (float64, float64) {
			strength, volume := mixEthanol(GramsPerLitre(c), Millilitres(s), Millilitres(w))
			return float64(strength), float64(volume)
		},
		says: "Ethanol and water shrink as they mix; density at 20 °C by OIML R 22 (1975). Mix, let it come to room " +
			"temperature, and only then read the volume.",
	}
	if !q.Want.Parts.IsZero() {
		m.waterPer = q.Want.Parts.Diluent / q.Want.Parts.Stock
		_, volume := mixEthanol(GramsPerLitre(c), 1, Millilitres(m.waterPer))
		m.stockPer = 1 / float64(volume)
		return m, nil
	}
	want, err := q.Want.Strength.PerLitre(q.Substance, 0)
	if err != nil {
		return mixing{}, err
	}
	if m.stockPer = float64(want) / c; m.stockPer > 1 {
		return mixing{}, q.tooWeak(c)
	}
	// The mass of 1 mL made, less that of the stock in it, is water.
	made := float64(ethanolDensity(ethanolMassFraction(want)))
	stock := m.stockPer * float64(ethanolDensity(ethanolMassFraction(GramsPerLitre(c))))
	m.waterPer = max(0, (made-stock)/float64(ethanolDensity(0))/m.stockPer)
	return m, nil
}
