package web

import (
	"benchleaf/internal/record"
	"benchleaf/solution"
)

// waterOf is a water of the studio as a recipe needs it.
func waterOf(x *record.WaterSource) solution.Water {
	w := solution.Water{Name: x.Name, AlkalinityMgL: x.AlkalinityMgL, HardnessMgL: x.HardnessMgL}
	if x.Source == "deionised" || x.Source == "distilled" {
		// What is measured in de-ionised water is what its can has given off.
		w.Pure = (x.AlkalinityMgL == nil || *x.AlkalinityMgL < 5) && (x.HardnessMgL == nil || *x.HardnessMgL < 5) &&
			(x.CalciumMgL == nil || *x.CalciumMgL < 2)
	}
	if x.CalciumMgL != nil && !w.Pure {
		if with, err := w.WithCalcium(*x.CalciumMgL); err == nil {
			w = with
		}
	}
	return w
}
