package chem

import (
	"errors"
	"testing"
)

// Waters at which the solver once failed, found by TestRandomWaters. All are
// far from any bench.
func TestHardWaters(t *testing.T) {
	for _, c := range []struct {
		name string
		w    Water
		c    Conditions
		want error // nil: an answer, perhaps beyond the model
	}{
		{"brucite at the point of turning into nesquehonite",
			Water{4.1364799695291, [numComponents]float64{-0.4676040973692395, 0, 0.23388057082901414, 0, 0, 0,
				4.269256571721557e-06, 1.7160051365796647e-07, 0, 0, 0.0005520027229503132, 1.1016970941417023e-09,
				5.608728425258689e-10, 0, 5.006528438964205e-05, 0, 0, 2.1520235169456684e-09, 2.232163427373173e-06}},
			Conditions{MayFall: 310, Open: true, CO2Atm: 6.9516765267957405e-06}, ErrContradiction},
		{"more than two kilograms of solids in a kilogram of water",
			Water{14.219083443306829, [numComponents]float64{9.082650016506234, 0.019788480945619247, 0,
				5.080761356802974e-05, 0, 6.1347349137400205e-12, 0.000774090202577903, 0.40099787858892655, 0,
				0.9212803172104361, 0, 5.853192778646509e-08, 0.00033295760042204416, 0.3044083344399706,
				0.945921939835181, 0.8697589227402825, 0.6588999763565165, 0.0002769384516223866,
				0.023958457522971075}},
			Conditions{MayFall: 43, StandsOver: 128}, ErrTooMuch},
		{"an acid that dissolves hydromagnesite to 7 mol/kg",
			Water{16.71783385647431, [numComponents]float64{6.623268528624302, 0, 1.0474646345652778e-06, 0, 0,
				8.783652847939437e-08, 7.38476447552397e-12, 0, 0.9779071232569253, 0, 0.00035554364954853626, 0, 0,
				0.2153131891814186, 0.8775907356397624, 1.6120353850260435e-07, 0.3240906490570135, 0.9558760978620967,
				0}},
			Conditions{MayFall: 289, StandsOver: 128}, nil},
		{"ten mol of magnesite, of which the traces are judged",
			Water{47.146602820525345, [numComponents]float64{3.0801820319901645, 1.389647382678254e-08, 0, 0, 0,
				0.00018893856995932552, 0, 0, 0, 0, 0.5727321004302744, 0, 0, 2.144477088323131e-11, 0.8264201549967756,
				0, 0.0010529898428199807, 0.5990045536328935, 1.3216160244434423e-12}},
			Conditions{MayFall: 331, StandsOver: 128}, nil},
		{"hydrates that set much water free",
			Water{42.19677319610556, [numComponents]float64{0.8184501679732589, 9.242097421567823e-08,
				7.847510911785658e-12, 1, 0, 0.26805382497806474, 0, 0.3974503134332477, 0.6455296228859633, 0,
				5.268737061449738e-07, 0, 0, 0.0002698528107796279, 1.5331829952311818e-06, 0, 0, 0, 0}},
			Conditions{MayFall: 441, StandsOver: 32}, nil},
		{"traces of magnesium under open lime",
			Water{45.14564571181907, [numComponents]float64{Mg: 1.5562774096161483e-08, Ca: 0.20144302822749183,
				K: 4.017397581251227e-07, Na: 0.0004330002108471148, P: 1.1081612828131055e-10,
				Carboxyl: 0.13542019793661653, Citrate: 5.891425931687144e-05, Oxalate: 0.1071024979937063,
				BH4: 6.7931673308114e-08}},
			Conditions{MayFall: 255 | 256, Open: true, CO2Atm: 0.005661138129353812}, nil},
		{"aragonite over which calcite may fall",
			Water{temperatureC: 20}, Conditions{MayFall: Calcite, StandsOver: Aragonite}, ErrContradiction},
		{"lime open to air, where calcite may fall",
			Water{temperatureC: 20}, Conditions{MayFall: Calcite, StandsOver: Portlandite, Open: true, CO2Atm: 4e-4},
			ErrContradiction},
		{"lime open to air, where nothing may fall",
			Water{temperatureC: 20}, Conditions{StandsOver: Portlandite, Open: true, CO2Atm: 4e-4}, ErrTooMuch},
		{"nothing at all", Water{temperatureC: 20}, Conditions{}, nil},
		{"nothing, and everything may fall", Water{temperatureC: 20}, Conditions{MayFall: 1<<numSolids - 1}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.w.balance()
			var s Solver
			var o State
			err := s.Solve(&c.w, c.c, &o)
			switch {
			case c.want != nil:
				if !errors.Is(err, c.want) {
					t.Errorf("%v, want %v", err, c.want)
				}
				return
			case err != nil && !errors.Is(err, ErrIonicStrength):
				t.Fatal(err)
			}
			if what, r := verify(&c.w, c.c, &o); !(r <= Tolerance) {
				t.Errorf("%s: residual %g", what, r)
			}
		})
	}
}
