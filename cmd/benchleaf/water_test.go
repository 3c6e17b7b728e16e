package main

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// water runs the command on a description from standard input.
func water(t *testing.T, description string, flags ...string) (out, errs string, status int) {
	t.Helper()
	var o, e bytes.Buffer
	m := &Main{Stdin: strings.NewReader(description), Stdout: &o, Stderr: &e}
	status = m.Do(t.Context(), append([]string{"water", "-"}, flags...))
	return o.String(), e.String(), status
}

// Lime water over its solid at 20 deg C: pH 12.653, 21.75 mmol/kg of calcium
// (PHREEQC 3.8.9, row 1B_20 of chem/testdata/aqueous-phreeqc.csv).
func TestWaterCommand(t *testing.T) {
	out, _, status := water(t, `{"temperature_c":20,"saturate_with":["portlandite"]}`, "--json")
	if status != 0 {
		t.Fatalf("status %d", status)
	}
	var got struct {
		PH     float64            `json:"ph"`
		Totals map[string]float64 `json:"totals_mol_per_kg"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if math.Abs(got.PH-12.6534) > 0.001 || math.Abs(got.Totals["Ca"]-0.02175) > 2e-5 {
		t.Errorf("pH %g, %g mol/kg calcium", got.PH, got.Totals["Ca"])
	}

	out, _, status = water(t, `{"temperature_c":20,"saturate_with":["portlandite"],"may_precipitate":["calcite"],
		"analysis":{"unit":"mg/L","Ca":80,"Mg":20,"Na":15,"K":2,"Cl":30,"SO4":40,"HCO3":250,"pH":7.5}}`)
	for _, want := range []string{"pH 12.6", "Ca", "calcite falls", "portlandite goes into solution", "Cl makes up", "8 %",
		"conductivity", "at 25 °C"} {
		if !strings.Contains(out, want) {
			t.Errorf("status %d; the prose does not say %q:\n%s", status, want, out)
		}
	}
}

// Bad input ends with status 1 and one sentence; bad use with 2.
func TestWaterCommandRefuses(t *testing.T) {
	for description, want := range map[string]string{
		`{"solutes":[{"name":"CaOH2","amount":1,"unit":"g/L"}]}`:    "Ca(OH)2",
		`{"solutes":[{"name":"Ca(OH)2","amount":-1,"unit":"g/L"}]}`: "0 or more",
		`{"temperature_c":60}`: "0 to 50",
		`{"solutes":[{"name":"NaCl","amount":2,"unit":"mol/kg"}]}`:                                               "ionic strength",
		`{"analysis":{"unit":"mg/L","Ca":80,"HCO3":10,"pH":11}}`:                                                 "contradicts",
		`{"solutes":[{"name":"NaBH4","amount":22,"unit":"g/L"}]}`:                                                "benches use",
		`{"solutes":[{"name":"NaBH4","amount":15,"unit":"g/L"},{"name":"KBH4","amount":15,"unit":"g/L"}]}`:       "benches use",
		`{"solutes":[{"name":"NaBH4","amount":5,"unit":"g/L"},{"name":"acetic acid","amount":30,"unit":"g/L"}]}`: "hydrogen",
		`{"analysis":{"unit":"mg/L","Ca":1e999}}`:                                                                "",
		`{"solutes":[{"name":"NaCl","amount":null,"unit":"mol/kg"}]`:                                             "",
		`not JSON`: "JSON",
	} {
		for _, flags := range [][]string{nil, {"--json"}} {
			out, errs, status := water(t, description, flags...)
			if status != 1 || out != "" || strings.Count(errs, "\n") != 1 || !strings.Contains(errs, want) {
				t.Errorf("%s: status %d, printed %q, said %q", description, status, out, errs)
			}
		}
	}
	var o, e bytes.Buffer
	m := &Main{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e}
	if status := m.Do(t.Context(), []string{"water"}); status != 2 {
		t.Errorf("without a file: status %d", status)
	}
	m = &Main{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e}
	if status := m.Do(t.Context(), []string{"water", t.TempDir() + "/none.json"}); status != 1 {
		t.Errorf("a missing file: status %d", status)
	}
}
