package solution

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestTakeCountsStocksDown(t *testing.T) {
	r, err := LimeFromStock{
		StockTemp: 20,
		StockName: "L3",
		Want:      want(t, "1+3"),
		Volume:    400,
		Water:     Deionised(),
	}.Recipe()
	if err != nil {
		t.Fatal(err)
	}
	stocks := []Stock{
		{Bottle: "L3", Substance: "calcium hydroxide", Ml: 250},
		{Bottle: "other", Substance: "ethanol", Ml: 100},
	}
	if n := Times(stocks, r.Draws); n != 2 {
		t.Errorf("250 mL at 100 mL each: got %d times, want 2", n)
	}
	for _, wantLeft := range []Millilitres{150, 50} {
		if stocks, err = Take(stocks, r.Draws); err != nil || stocks[0].Ml != wantLeft || stocks[1].Ml != 100 {
			t.Fatalf("got %+v, %v, want %g mL left", stocks, err, wantLeft)
		}
	}
	if _, err = Take(stocks, r.Draws); err == nil ||
		!strings.Contains(err.Error(), "L3 holds 50 mL, and the recipe takes 100 mL") {
		t.Errorf("got %v", err)
	}
	solid, err := FromSolid{
		Substance: find(t, "NaBH4"),
		Want:      Strength{1, PercentWV},
		Volume:    400,
		Balance:   Balance{ResolutionG: 0.1},
		Water:     Deionised(),
	}.Recipe()
	if err != nil {
		t.Fatal(err)
	}
	tin := []Stock{{Bottle: "tin", Substance: "sodium borohydride", G: 25}}
	if n := Times(tin, solid.Draws); n != 6 {
		t.Errorf("25 g at 4 g each: got %d times, want 6", n)
	}
	if n := Times(nil, solid.Draws); n != -1 {
		t.Errorf("no stock: got %d, want -1", n)
	}
}

// Taking a recipe once leaves it possible once less often.
func TestTakeAndTimesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		have := Millilitres(rapid.Float64Range(0, 1000).Draw(t, "have"))
		d := []Draw{{Bottle: "b", Ml: Millilitres(rapid.Float64Range(1, 300).Draw(t, "draw"))}}
		stocks := []Stock{{Bottle: "b", Ml: have}}
		n := Times(stocks, d)
		left, err := Take(stocks, d)
		if (err == nil) != (n > 0) {
			t.Fatalf("%d times, yet taking once gives %v", n, err)
		}
		if err == nil && Times(left, d) != n-1 {
			t.Fatalf("%d times before, %d after", n, Times(left, d))
		}
	})
}

func TestDue(t *testing.T) {
	now := time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		expires time.Time
		says    string
	}{
		{time.Time{}, ""}, {now.AddDate(0, 1, 0), ""}, {now.Add(5 * time.Hour), "good until 2026-05-04 14:00"}, {now.AddDate(0, 0, -2), "past its date of 2026-05-02"},
	} {
		got := Stock{Bottle: "lime water", ExpiresAt: row.expires}.Due(now)
		if row.says == "" && got != "" || !strings.Contains(got, row.says) {
			t.Errorf("%v: got %q, want %q", row.expires, got, row.says)
		}
	}
	k := KeepingOf(find(t, "calcium hydroxide"), "saturated")
	if !k.Until(now).IsZero() || !strings.Contains(k.Check, "pH or titration") {
		t.Errorf("lime over its solid: got %+v, want no date and a check", k)
	}
	if k := KeepingOf(find(t, "borax"), "solution"); k.Until(now) != now.Add(720*time.Hour) {
		t.Errorf("borax: got %+v", k)
	}
}

// Practice 10.7 (computed there): at 20 °C and pH 9 half is gone in 9 min.
func TestHydrideLeft(t *testing.T) {
	r, err := HydrideLeft(9, 20, 8.97)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "after one half-life", r.Best, 0.5, 0.001)
	near(t, "if it decays twice as fast", r.Low, 0.25, 0.002)
	if r.Check("") != nil || r.High <= r.Best {
		t.Errorf("got %v", r)
	}
	if _, err := HydrideLeft(9, 20, -1); err == nil {
		t.Error("a time below 0 was accepted")
	}
	if _, err := HydrideLeft(9, 20, Minutes(math.NaN())); err == nil {
		t.Error("no time was accepted")
	}
}
