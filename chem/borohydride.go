package chem

import "math"

// BorohydrideHalfLifeMinutes is the half-life of dissolved borohydride in
// minutes: log10(t/min) = pH - (0.034 T - 1.92), T in K. Kreevoy and Jacobson,
// Ventron Alembic 15, 2, 1979; the equation is from memory (basis of the row in
// testdata/sodium-borohydride.csv), so results are estimates. Stated for basic
// solutions from about pH 8 to 14 and 10 to 40 deg C.
func BorohydrideHalfLifeMinutes(pH, temperatureC float64) float64 {
	return math.Pow(10, pH-(0.034*(temperatureC+kelvin)-1.92))
}
