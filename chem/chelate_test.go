package chem

import (
	"errors"
	"math"
	"testing"
)

// What citrate and EDTA hold of calcium and iron, what they take out of chalk and of
// fresh rust, against PHREEQC 3.8.9 with minteq.v4.dat (NIST 46,
// testdata/chelation-phreeqc.csv). The constants are the same; the activity model of
// ions of three and four charges is not, so a free share agrees within a factor of
// two and a half and an amount within 35 %, 3 % where EDTA is used up.
func TestChelatePHREEQC(t *testing.T) {
	rows := testTable(t, "chelation-phreeqc.csv")
	for _, r := range rows {
		var n [NumComponents]float64
		chelator, amount := Citrate, 0.35
		if r["chelator"] == "Edta" {
			chelator, amount = EDTA, 0.03
		}
		n[chelator] = number(r["mol_per_kg"])
		n[Na] = 3 * n[chelator]
		w, err := Compose(20, n)
		if err != nil {
			t.Fatal(err)
		}
		x, err := Chelate(w, number(r["pH"]))
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(x.Bath.PH()-number(r["pH"])) > 1e-6 {
			t.Errorf("%v: pH %.4f", r, x.Bath.PH())
		}
		for what, free := range map[string]float64{"free_Ca": 1 - x.Calcium, "free_Fe2": 1 - x.Ferrous, "free_Fe3": 1 - x.Ferric} {
			want := number(r[what])
			if off := math.Abs(math.Log(free / want)); want > 1e-9 && !(off < math.Log(2.5)) {
				t.Errorf("%v: %s %.4g", r, what, free)
			}
		}
		if want := number(r["chalk_mol_per_kg"]); math.Abs(x.FromChalk.Value/want-1) > amount {
			t.Errorf("%v: %.4g of chalk", r, x.FromChalk.Value)
		}
		if want := number(r["rust_mol_per_kg"]); math.Abs(x.FromRust/want-1) > amount {
			t.Errorf("%v: %.4g of rust", r, x.FromRust)
		}
		if !(x.FromChalk.Low <= x.FromChalk.Value && x.FromChalk.Value <= x.FromChalk.High) {
			t.Errorf("%v", x.FromChalk)
		}
	}
	if len(rows) != 9 {
		t.Errorf("%d rows", len(rows))
	}
}

// A bath without a chelator, and a pH that cannot be, are refused in a sentence; one
// that EDTA has no more of than calcium takes as much as it is (1:1, as in every
// complexometric titration).
func TestChelate(t *testing.T) {
	if _, err := Chelate(made(t, 20, "NaCl", 0.01, MolPerKg), 7); !errors.Is(err, ErrChelator) {
		t.Errorf("%v", err)
	}
	bath := made(t, 20, "disodium EDTA", 0.01, MolPerKg)
	if _, err := Chelate(bath, math.NaN()); !errors.Is(err, ErrAmount) {
		t.Errorf("%v", err)
	}
	x, err := Chelate(bath, 8.5)
	if err != nil || math.Abs(x.FromChalk.Value/0.01-1) > 0.02 {
		t.Errorf("%v: %v", x.FromChalk, err)
	}
}
