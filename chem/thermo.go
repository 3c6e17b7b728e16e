package chem

import "math"

// Range of temperature over which the constants hold.
const (
	MinTemperatureC = 0
	MaxTemperatureC = 50
)

const (
	kelvin     = 273.15
	gasR       = 8.31446e-3 // kJ/(mol K), CODATA 2018
	faraday    = 96485.33   // C/mol, CODATA 2018
	waterMolKg = 1000 / waterMolarMass
	// waterMolarMass in g/mol, IUPAC 2021.
	waterMolarMass = 18.015
)

// WaterDensity is the density of pure air-free water at 1 atm in kg/L,
// 0 to 100 deg C: Kell, J. Chem. Eng. Data 20, 97, 1975, eq. 16. The
// coefficients are from memory; the test holds them to the table in
// testdata/water-properties.csv.
func WaterDensity(temperatureC float64) float64 {
	t := temperatureC
	return (999.83952 + t*(16.945176+t*(-7.9870401e-3+t*(-46.170461e-6+t*(105.56302e-9-t*280.54253e-12))))) /
		(1 + 16.879850e-3*t) / 1000
}

// WaterPermittivity is the relative permittivity of water at 1 atm, 0 to
// 350 deg C: Bradley and Pitzer, J. Phys. Chem. 83, 1599, 1979. The
// coefficients are from memory; the test holds them to the table in
// testdata/water-properties.csv.
func WaterPermittivity(temperatureC float64) float64 {
	const pressureBar = 1.01325
	t := temperatureC + kelvin
	e1000 := 3.4279e2 * math.Exp(-5.0866e-3*t+9.4690e-7*t*t)
	c := -2.0525 + 3.1159e3/(-1.8289e2+t)
	b := -8.0325e3 + 4.2142e6/t + 2.1417*t
	return e1000 + c*math.Log((b+pressureBar)/(b+1000))
}

// debyeHueckel returns A in (kg/mol)^(1/2), for log10, and B in
// (kg/mol)^(1/2) per angstrom: Robinson and Stokes, Electrolyte Solutions,
// 2nd ed., 1959, eq. 9.7, numerical constants as written by Truesdell and
// Jones, J. Res. U.S. Geol. Survey 2, 233, 1974.
func debyeHueckel(temperatureC float64) (a, b float64) {
	rho := WaterDensity(temperatureC)
	et := WaterPermittivity(temperatureC) * (temperatureC + kelvin)
	return 1.82483e6 * math.Sqrt(rho) / (et * math.Sqrt(et)), 50.2905 * math.Sqrt(rho/et)
}

// logKForm is log10 K(T) = a[0] + a[1] T + a[2]/T + a[3] log10 T + a[4]/T^2 +
// a[5] T^2, T in K. A van 't Hoff pair (log K at 25 deg C, enthalpy) is the
// same form with a[0] and a[2] alone.
type logKForm [6]float64

// vantHoff is the form of a reaction with constant enthalpy in kJ/mol.
func vantHoff(logK25, deltaHKJ float64) logKForm {
	slope := deltaHKJ / (math.Ln10 * gasR)
	return logKForm{0: logK25 + slope/298.15, 2: -slope}
}

// add returns f + factor g.
func (f logKForm) add(factor float64, g logKForm) logKForm {
	for i := range f {
		f[i] += factor * g[i]
	}
	return f
}

// powers are the functions of T that a logKForm multiplies.
type powers [6]float64

func powersOf(temperatureC float64) powers {
	t := temperatureC + kelvin
	return powers{1, t, 1 / t, math.Log10(t), 1 / (t * t), t * t}
}

// at is the form's value, as a natural logarithm.
func (f *logKForm) at(p *powers) float64 {
	return math.Ln10 * (f[0] + f[1]*p[1] + f[2]*p[2] + f[3]*p[3] + f[4]*p[4] + f[5]*p[5])
}

// fugacityCO2 is the fugacity in atm of CO2 at a partial pressure in atm: the
// second virial coefficient of the equation of Peng and Robinson, Ind. Eng.
// Chem. Fundam. 15, 59, 1976, with the critical constants of phreeqc.dat
// (304.2 K, 72.86 atm, acentric factor 0.225). At 1 atm and 20 deg C it is
// 0.994 atm; good to 1 % up to 5 atm.
func fugacityCO2(pressureAtm, temperatureC float64) float64 {
	const (
		tc, pc, omega = 304.2, 72.86, 0.225
		r             = 0.0820574 // L atm/(mol K)
	)
	t := temperatureC + kelvin
	m := 0.37464 + omega*(1.54226-0.26992*omega)
	root := 1 + m*(1-math.Sqrt(t/tc))
	a := 0.45724 * r * r * tc * tc / pc * root * root
	b := 0.07780 * r * tc / pc
	return pressureAtm * math.Exp((b-a/(r*t))*pressureAtm/(r*t))
}
