package meter

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"benchleaf/interval"

	"pgregory.net/rapid"
)

func ptr(v float64) *float64 { return &v }

func at(v float64) *interval.Range { r := interval.Exactly(v); return &r }

// Every tabulated value of the series used, and the other published tables in
// the same file: HJ 1147-2020 and JIS Z 8802 (read in copies), within 0.015.
func TestBuffersFollowThePublishedTables(t *testing.T) {
	other := map[string]Buffer{
		"tetroxalate 0.05 mol/L": Tetroxalate, "phthalate 0.05 mol/L": Phthalate,
		"phosphate 0.025 + 0.025 mol/L": Phosphate,
		"borate 0.01 mol/L":             Borax, "carbonate 0.025 + 0.025 mol/L": Carbonate,
	}
	own, others := 0, 0
	for _, r := range rows() {
		if r["temperature_C"] == "" || (r["unit"] != "pH(S)" && r["unit"] != "pH") {
			continue
		}
		b := Buffer(r["buffer"])
		if x, ok := other[r["buffer"]]; ok {
			b = x
		}
		if _, ok := series()[b]; !ok {
			continue
		}
		got, err := b.PH(number(r["temperature_C"]))
		if err != nil {
			continue // outside the series used
		}
		within := 0.015
		if strings.HasPrefix(r["source"], "Bates") && r["unit"] == "pH(S)" {
			within = 1e-9
			own++
		} else {
			others++
		}
		if math.Abs(got.Best-number(r["value"])) > within {
			t.Errorf("%s at %s °C: got %.3f, %s has %s", b, r["temperature_C"], got.Best, r["source"], r["value"])
		}
	}
	if own < 70 || others < 100 {
		t.Errorf("compared %d own and %d other values, want at least 70 and 100", own, others)
	}
}

// The slope at 25 °C is 59.16 mV in every textbook; at 20 °C 58.17.
func TestNernst(t *testing.T) {
	for temp, want := range map[float64]float64{0: 54.20, 20: 58.17, 25: 59.16, 50: 64.12} {
		if got := Nernst(temp); math.Abs(got-want) > 0.005 {
			t.Errorf("at %g °C: got %.3f mV, want %.2f", temp, got, want)
		}
	}
}

func TestBufferNamed(t *testing.T) {
	for nominal, want := range map[float64]Buffer{4.01: Phthalate, 4.00: Phthalate, 6.86: Phosphate, 6.87: Phosphate,
		9.18: Borax, 10.01: Carbonate, 12.45: Lime, 1.68: Tetroxalate} {
		if got, ok := BufferNamed(nominal); !ok || got != want {
			t.Errorf("%g: got %q, %v, want %q", nominal, got, ok, want)
		}
	}
	for _, own := range []float64{7.00, 10.00, 5} {
		if got, ok := BufferNamed(own); ok {
			t.Errorf("%g was taken for %q", own, got)
		}
	}
}

func TestPointFor(t *testing.T) {
	k, err := Calibrate(Check{TempC: 20, Points: []Point{PointFor(4.01, 4.05), PointFor(10.00, 10.02)}})
	if err != nil {
		t.Fatal(err)
	}
	// Phthalate is at 4.002 at 20 °C; a supplier's own 10.00 is what its bottle says.
	if math.Abs(k.truth[0].Best-4.002) > 1e-9 || k.truth[1].Best != 10 {
		t.Errorf("got %v", k.truth)
	}
}

// An ideal electrode with 5 mV at pH 7: Nernst's slope, by definition.
func TestCalibrationOfAnIdealElectrode(t *testing.T) {
	ideal := func(b Buffer, temp float64) Point {
		r, err := b.PH(temp)
		if err != nil {
			t.Fatal(err)
		}
		return Point{Buffer: b, ShownMV: ptr(5 - Nernst(temp)*(r.Best-7))}
	}
	for _, temp := range []float64{10, 20, 25, 35} {
		k, err := Calibrate(
			Check{TempC: temp, Points: []Point{ideal(Phthalate, temp), ideal(Phosphate, temp), ideal(Borax, temp)}},
		)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(k.Slope-1) > 1e-9 || math.Abs(k.OffsetMV-5) > 1e-6 || k.ResidualPH > 1e-9 || len(k.Warnings) != 0 {
			t.Errorf("at %g °C: got %+v", temp, k)
		}
		// Read at another temperature: the electrode's mV are Nernst's there.
		r, err := k.Read(Shown{MV: ptr(5 - Nernst(30)*(8-7)), TempC: 30, Use: InBath}, nil)
		if err != nil {
			t.Fatal(err)
		}
		// The 5 mV at pH 7 stay 5 mV, which is a little less in pH when warmer.
		if math.Abs(r.PH.Best-8) > 0.01 || r.PH.High-r.PH.Low < 0.04 {
			t.Errorf("at %g °C: got %v, want 8", temp, r.PH)
		}
	}
}

// By hand: shown 4.10 and 9.30 in buffers of 4.002 and 9.225 (20 °C): gradient
// 5.223/5.20 = 1.00442, slope 99.56 %; shown 7.00 is 4.002 + 1.00442 x 2.90 =
// 6.9148.
func TestCalibrationInPH(t *testing.T) {
	k, err := Calibrate(
		Check{TempC: 20, Points: []Point{{Buffer: Phthalate, ShownPH: ptr(4.10)}, {Buffer: Borax, ShownPH: ptr(9.30)}}},
	)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(k.Slope-0.9956) > 2e-4 {
		t.Errorf("slope: got %.4f, want 0.9956", k.Slope)
	}
	r, err := k.Read(Shown{PH: ptr(7.00), TempC: 20, Use: InBath}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.PH.Best-6.9148) > 2e-3 || math.Abs(r.CorrectionPH+0.0852) > 2e-3 {
		t.Errorf("got %v, correction %+.4f, want 6.915 and -0.085", r.PH, r.CorrectionPH)
	}
	surface, err := k.Read(Shown{PH: ptr(7.00), TempC: 20, Use: OnSurface}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if surface.PH.Relative() < 3*r.PH.Relative() || surface.Dominant != "the junction and the sample" {
		t.Errorf("on paper: got %v by %s, in a bath %v", surface.PH, surface.Dominant, r.PH)
	}
}

func TestDrift(t *testing.T) {
	noon := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	check := func(when time.Time, offset float64) Calibration {
		k, err := Calibrate(
			Check{
				TempC:  20,
				At:     when,
				Points: []Point{{PH: at(4), ShownPH: ptr(4 + offset)}, {PH: at(9), ShownPH: ptr(9 + offset)}},
			},
		)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	before, after := check(noon, 0), check(noon.Add(10*time.Hour), 0.2)
	mid := Shown{PH: ptr(7.1), TempC: 20, At: noon.Add(5 * time.Hour), Use: InBath}
	r, err := before.Read(mid, &after)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.PH.Best-7.0) > 1e-9 {
		t.Errorf("half way through a drift of 0.2: got %v, want 7.0", r.PH)
	}
	old := mid
	old.At = noon.AddDate(0, 0, 10)
	stale, err := before.Read(old, nil)
	if err != nil {
		t.Fatal(err)
	}
	if stale.PH.Relative() < 2*r.PH.Relative() || !strings.Contains(strings.Join(stale.Warnings, " "), "10 days") {
		t.Errorf("ten days after: got %v, %q", stale.PH, stale.Warnings)
	}
	if _, err := before.Read(Shown{PH: ptr(7), TempC: 20, At: noon.Add(-time.Hour), Use: InBath}, nil); err == nil {
		t.Error("a reading before its check was accepted")
	}
}

func TestCalibrateRefuses(t *testing.T) {
	good := Point{Buffer: Phthalate, ShownPH: ptr(4.02)}
	for says, c := range map[string]Check{
		"one to five buffers":    {TempC: 20},
		"0 and 50 °C":            {TempC: 70, Points: []Point{good}},
		"less than 1 pH apart":   {TempC: 20, Points: []Point{good, {PH: at(4.5), ShownPH: ptr(4.5)}}},
		"either pH or mV":        {TempC: 20, Points: []Point{{Buffer: Phthalate}}},
		"mixes pH and mV":        {TempC: 20, Points: []Point{good, {Buffer: Borax, ShownMV: ptr(-130)}}},
		"not in the table":       {TempC: 20, Points: []Point{{Buffer: "beer", ShownPH: ptr(4)}}},
		"not both":               {TempC: 20, Points: []Point{{Buffer: Borax, PH: at(9), ShownPH: ptr(9)}}},
		"cannot have shown pH":   {TempC: 20, Points: []Point{{Buffer: Borax, ShownPH: ptr(math.NaN())}}},
		"cannot have shown 5000": {TempC: 20, Points: []Point{{Buffer: Borax, ShownMV: ptr(5000)}}},
		"slope is 60 %": {TempC: 20,
			Points: []Point{{PH: at(4), ShownPH: ptr(4)}, {PH: at(9), ShownPH: ptr(7)}}},
		"shows the same": {TempC: 20,
			Points: []Point{{PH: at(4), ShownPH: ptr(5)}, {PH: at(9), ShownPH: ptr(5)}}},
		"repeatability":            {TempC: 20, RepeatPH: 3, Points: []Point{good}},
		"the buffer's pH must lie": {TempC: 20, Points: []Point{{PH: at(40), ShownPH: ptr(4)}}},
	} {
		if k, err := Calibrate(c); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %+v, %v, want a sentence with %q", k, err, says)
		}
	}
	_, err := Calibrate(Check{TempC: 20, Points: []Point{{PH: at(4), ShownPH: ptr(4)}, {PH: at(9), ShownPH: ptr(7)}}})
	if !errors.Is(err, ErrElectrode) {
		t.Errorf("got %v, want ErrElectrode", err)
	}
	k, err := Calibrate(Check{TempC: 20, Points: []Point{good, {Buffer: Borax, ShownPH: ptr(9.2)}}})
	if err != nil {
		t.Fatal(err)
	}
	for says, s := range map[string]Shown{
		"is not known":      {PH: ptr(7), TempC: 20, Use: "soup"},
		"both be in pH":     {MV: ptr(7), TempC: 20, Use: InBath},
		"temperature of":    {PH: ptr(7), TempC: -20, Use: InBath},
		"cannot have shown": {PH: ptr(math.Inf(1)), TempC: 20, Use: InBath},
	} {
		if _, err := k.Read(s, nil); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want a sentence with %q", err, says)
		}
	}
}

func TestWarnings(t *testing.T) {
	one, err := Calibrate(Check{TempC: 20, Points: []Point{{Buffer: Phosphate, ShownPH: ptr(6.9)}}})
	if err != nil {
		t.Fatal(err)
	}
	near, err := one.Read(Shown{PH: ptr(7), TempC: 20, Use: InBath}, nil)
	if err != nil {
		t.Fatal(err)
	}
	far, err := one.Read(Shown{PH: ptr(12.2), TempC: 20, Use: InBath}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if far.PH.High-far.PH.Low < 2*(near.PH.High-near.PH.Low) || far.Dominant != "the slope, not checked" {
		t.Errorf("far from the one buffer: got %v by %q, near it %v", far.PH, far.Dominant, near.PH)
	}
	all := strings.Join(far.Warnings, " ")
	for _, says := range []string{"checks the offset only", "outside the buffers", "Above pH 12"} {
		if !strings.Contains(all, says) {
			t.Errorf("the warnings %q do not say %q", far.Warnings, says)
		}
	}
}

// A two-point line gives back its own buffers, and between them the uncertainty
// is never more than outside.
func TestCalibrationReturnsItsBuffers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temp := rapid.Float64Range(5, 45).Draw(t, "temp")
		slope := rapid.Float64Range(0.9, 1.04).Draw(t, "slope")
		offset := rapid.Float64Range(-0.5, 0.5).Draw(t, "offset")
		var c Check
		c.TempC = temp
		for _, b := range []Buffer{Phthalate, Borax} {
			r, err := b.PH(temp)
			if err != nil {
				t.Fatal(err)
			}
			c.Points = append(c.Points, Point{Buffer: b, ShownPH: ptr(7 + slope*(r.Best-7) + offset)})
		}
		k, err := Calibrate(c)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(k.Slope-slope) > 1e-9 || math.Abs(k.OffsetPH-offset) > 1e-9 {
			t.Fatalf("slope %g and offset %g came out as %g and %g", slope, offset, k.Slope, k.OffsetPH)
		}
		width := func(shown float64) float64 {
			r, err := k.Read(Shown{PH: &shown, TempC: temp, Use: InBath}, nil)
			if err != nil {
				t.Fatal(err)
			}
			return r.PH.High - r.PH.Low
		}
		middle, edge, outside := width((k.shown[0]+k.shown[1])/2), width(k.shown[1]), width(k.shown[1]+2)
		if !(middle <= edge && edge <= outside) {
			t.Fatalf("widths %g in the middle, %g at a buffer, %g beyond it", middle, edge, outside)
		}
	})
}
