package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"benchleaf/internal/account"
	"benchleaf/internal/record"
	"benchleaf/internal/words"
)

// The sum by hand, as in package solution's test: 17 °C lies between the
// published 0.176 and 0.165 g in 100 g of water, at 1.682 g/L; 0.4 g/L takes
// 357 mL of it in 1.5 L, which the cylinder measures as 355 mL and 1140 mL.
func TestMixLimeFromStock(t *testing.T) {
	status, out, errs := do(
		t,
		"",
		"mix",
		"--from",
		"saturated-lime",
		"--stock-temp",
		"17",
		"--want",
		"0.4 g/L",
		"--volume",
		"1.5L",
		"--glassware",
		"500:5,100:1",
		"--json",
	)
	if status != 0 || errs != "" {
		t.Fatalf("status %d, %q", status, errs)
	}
	var got struct {
		Strength struct {
			Low, Best, High float64
			Unit            string
		}
		Lines     []struct{ Amount, What, How string }
		Steps     []string
		Chemistry *struct {
			PH struct{ Low, Best, High float64 }
		}
		Cautions    []string
		Warnings    []string
		Ventilation any
		RestsOn     []string `json:"rests_on"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if want := 1.682 * 355 / 1495; math.Abs(got.Strength.Best/want-1) > 0.001 || got.Strength.Unit != "g/L" {
		t.Errorf("strength: got %+v, want %.4f g/L", got.Strength, want)
	}
	if got.Lines[0].Amount != "1140 mL" || got.Lines[1].Amount != "355 mL" || len(got.Steps) != len(got.Lines) {
		t.Errorf("lines: got %+v", got.Lines)
	}
	if got.Chemistry == nil || got.Chemistry.PH.Best < 12 || got.Chemistry.PH.Best > 12.4 {
		t.Errorf("chemistry: got %+v", got.Chemistry)
	}
	if len(got.Cautions) == 0 || len(got.RestsOn) == 0 || len(got.Warnings) != 0 || got.Ventilation != nil {
		t.Errorf("got %+v", got)
	}
}

func TestMixProse(t *testing.T) {
	for _, row := range []struct {
		name string
		args []string
		says []string
	}{
		{"lime in hard water", []string{"--from", "saturated-lime", "--want", "1+3", "--volume", "400mL", "--water-alkalinity", "250"},
			[]string{"300 mL of tap water", "100 mL of lime water stock, only its clear part", "Tap water clouds it", "kept from air: 12", "goggles", "Bassett"}},
		{"borohydride", []string{"--from", "solid", "--substance", "sodium borohydride", "--want", "1 % w/v", "--volume",
			"400mL", "--balance", "0.1", "--room", "0.5", "--ph", "9"},
			[]string{"4.0 g of sodium borohydride", "never water to the powder", "Half of the strength lasts: 9 min", "Air changes of this room", "no lid", "H360FD"}},
		{"ethanol", []string{"--from", "bottle", "--substance", "ethanol", "--want", "70 % v/v", "--volume", "500mL"},
			[]string{"350 mL of ethanol", "167 mL of de-ionised water", "OIML", "Highly flammable"}},
		{"conditioned water", []string{"--from", "conditioned-water", "--calcium", "20", "--volume", "5L"},
			[]string{"mg/L Ca", "7.5 to 8.5", "lime water stock"}},
		{"magnesium bicarbonate", []string{"--from", "solid", "--substance", "Mg(OH)2", "--as", "magnesium bicarbonate",
			"--want", "0.05 mol/L", "--volume", "1L", "--balance", "0.01"},
			[]string{"2.92 g of magnesium hydroxide", "vent it"}},
		{"paste", []string{"--from", "starch-paste", "--want", "1+5", "--volume", "200mL", "--balance", "1"},
			[]string{"38 g of wheat starch", "sieve"}},
	} {
		status, out, errs := do(t, "", append([]string{"mix"}, row.args...)...)
		if status != 0 {
			t.Errorf("%s: status %d, %q", row.name, status, errs)
			continue
		}
		for _, s := range row.says {
			if !strings.Contains(out, s) {
				t.Errorf("%s: the recipe does not say %q:\n%s", row.name, s, out)
			}
		}
	}
}

func TestMixRefuses(t *testing.T) {
	for _, row := range []struct {
		status int
		says   string
		args   []string
	}{
		{2, "has no unit", []string{"--from", "saturated-lime", "--want", "0.4", "--volume", "1L"}},
		{2, "--volume", []string{"--from", "saturated-lime", "--want", "0.4 g/L", "--volume", "1"}},
		{2, "--substance is missing", []string{"--from", "solid", "--want", "1 % w/v", "--volume", "1L", "--balance", "1"}},
		{2, "the nearest are sodium borohydride", []string{"--from", "solid", "--substance", "sodium borohydrid", "--want",
			"1 % w/v", "--volume", "1L", "--balance", "1"}},
		{2, "--balance is missing", []string{"--from", "solid", "--substance", "NaBH4", "--want", "1 % w/v", "--volume", "1L"}},
		{2, "--glassware", []string{"--from", "saturated-lime", "--want", "0.4 g/L", "--volume", "1L", "--glassware", "tall"}},
		{2, "parts of starch", []string{"--from", "starch-paste", "--want", "5 % w/v", "--volume", "1L"}},
		{2, "by its --calcium", []string{"--from", "conditioned-water", "--want", "0.4 g/L", "--volume", "1L"}},
		{2, "--want: Say what you want", []string{"--from", "saturated-lime", "--volume", "1L"}},
		{2, "from must be one of", []string{"--from", "thin-air", "--want", "5 % w/v", "--volume", "1L"}},
		{1, "never stronger than saturated", []string{"--from", "saturated-lime", "--want", "4 g/L", "--volume", "1L"}},
		{1, "from 0 to 50 °C", []string{"--from", "saturated-lime", "--stock-temp", "70", "--want", "0.4 g/L", "--volume", "1L"}},
		{1, "must not meet", []string{"--from", "solid", "--substance", "NaBH4", "--into", "acetic acid", "--want", "1 % w/v", "--volume", "1L", "--balance", "0.1"}},
		{1, "chloroform", []string{"--from", "bottle", "--substance", "sodium hypochlorite", "--bottle-strength",
			"10 % w/v", "--into", "ethanol", "--want", "1 % w/v", "--volume", "1L"}},
		{1, "a peracid forms", []string{"--from", "bottle", "--substance", "hydrogen peroxide 30 %", "--into", "acetic acid", "--want", "3 % w/v", "--volume", "1L"}},
		{1, "benches use 0.01 to 0.5 %", []string{"--from", "solid", "--substance", "NaBH4", "--want", "20 % w/v",
			"--volume", "1L", "--balance", "0.1", "--room", "10", "--ph", "5"}},
		{2, "no ventilation takes this gas away", []string{"--from", "solid", "--substance", "NaBH4", "--want", "2 % w/v",
			"--volume", "5L", "--balance", "0.1", "--room", "10", "--ph", "5"}},
		{2, "aluminium dissolves with hydrogen", []string{"--from", "solid", "--substance", "NaOH", "--want", "1 % w/v",
			"--volume", "1L", "--balance", "0.1", "--meets", "rust;an aluminium vessel"}},
		{1, "alkalinity of tap water", []string{"--from", "saturated-lime", "--want", "0.4 g/L", "--volume", "1L", "--water-alkalinity=-4"}},
	} {
		status, out, errs := do(t, "", append([]string{"mix"}, row.args...)...)
		if status != row.status || out != "" || !strings.Contains(errs, row.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf(
				"%q: status %d, %q, %q, want %d and one sentence with %q",
				row.args,
				status,
				out,
				errs,
				row.status,
				row.says,
			)
		}
	}
}

// The command and the screen's shelf give one question one answer, and pour more
// where so much is to be left: tap water of 205 mg/L takes lime out of it.
func TestMixAnswersAsTheScreenDoes(t *testing.T) {
	q := account.MixQuestion{
		Way: account.FromStock, Want: "0.4 g/L", Volume: "1.5 L", StockTempC: new(17.0), Left: true,
	}
	st := record.Studio{Waters: []record.WaterSource{
		{ID: "tap", Name: "tap water", Source: "tap", AlkalinityMgL: new(250.0), HardnessMgL: new(205.0)},
	}}
	q.Water = "tap"
	q.OnTheShelf(&st, time.Now())
	screen, refused, cannot := account.MixOf(q, time.Now())
	if screen == nil {
		t.Fatal(refused, cannot)
	}
	status, out, errs := do(t, "", "mix", "--from", "saturated-lime", "--stock-temp", "17", "--want", "0.4 g/L", "--left",
		"--volume", "1.5 L", "--water-alkalinity", "250", "--water-hardness", "205")
	if status != 0 {
		t.Fatal(errs)
	}
	for _, f := range append(screen.Answers, screen.Facts...) {
		if want := strings.ReplaceAll(f.Name+": "+f.Value(words.English), words.NBSP, " "); !strings.Contains(out, want) {
			t.Errorf("the screen says %q, the command\n%s", want, out)
		}
	}
	if !strings.Contains(out, "0.4 g/L is left after clouding.") {
		t.Errorf("the command does not say what is left:\n%s", out)
	}
}
