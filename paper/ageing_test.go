package paper

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"benchleaf/interval"
)

// The worked values of the dose-response function (Strlic et al. 2015) and of the
// moisture equation (Paltakari and Karlsson 1996), every row, with the years that
// each takes from one degree of polymerisation to another.
func TestDoseResponseWorkedValues(t *testing.T) {
	condition := regexp.MustCompile(`^(\d+) C, ([\d.]+) RH(?:, pH ([\d.]+))?$`)
	years := regexp.MustCompile(`DP 600 to 300: ([\d.]+); from 1000 to 300: ([\d.]+)`)
	rates, moistures := 0, 0
	f := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	for _, r := range testRows(t, "paper-degradation-models.csv") {
		m := condition.FindStringSubmatch(r["condition"])
		switch {
		case r["quantity"] == "worked moisture content" && m != nil:
			near(t, "moisture, "+r["condition"], fibreMoisture(Celsius(f(m[1])), Humidity(f(m[2]))), f(r["value"]),
				1e-4)
			moistures++
		case r["quantity"] == "worked k" && m != nil:
			k := hydrolysisRate(f(m[3]), Celsius(f(m[1])), Humidity(f(m[2])))
			near(t, "k, "+r["condition"], k, f(r["value"]), 1e-4)
			y := years.FindStringSubmatch(r["note"])
			if f(y[1]) > 10 {
				near(t, "years from 600, "+r["condition"], (1.0/300-1.0/600)/k, f(y[1]), 1e-3)
				near(t, "years from 1000, "+r["condition"], (1.0/300-1.0/1000)/k, f(y[2]), 1e-3)
			}
			rates++
		}
	}
	if rates != 10 || moistures != 8 {
		t.Errorf("%d rates and %d moistures in the table, want 10 and 8", rates, moistures)
	}
}

// From pH 5 to 8.5 the function slows hydrolysis by 10^(0.244 x 3.5) = 7.1.
func TestCompareAgeing(t *testing.T) {
	room := Climate{interval.Range{Low: 18, Best: 20, High: 22}, interval.Range{Low: 0.40, Best: 0.50, High: 0.60}}
	a, err := CompareAgeing(
		Newsprint,
		interval.Within(5, 0.3),
		interval.Within(8.5, 0.5),
		room,
		interval.Range{Low: 500, Best: 600, High: 700},
		200,
		Options{Seed: 1},
	)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slower", a.Slower.Best, math.Pow(10, 0.244*3.5), 1e-6)
	if !a.Slower.Holds(6) || a.Slower.Low < 3 || a.Slower.High > 12 || a.Slower.Low == a.Slower.High {
		t.Errorf("range of the ratio: %v", a.Slower.Range)
	}
	near(t, "rate before", a.RatePerYearBefore.Best, 6.5599e-6, 1e-4)
	if len(a.Course) != 11 || a.Course[10].Years != 200 || a.Course[10].Without.Best >= a.Course[10].With.Best {
		t.Errorf("course: %+v", a.Course)
	}
	near(t, "degree after 200 years", a.Course[10].Without.Best, 1/(1.0/600+6.5599e-6*200), 1e-4)
	all := a.Sentence + strings.Join(a.Domain, " ")
	for _, x := range []string{"not a promise", "not made for groundwood", "above 8.5", "light"} {
		if !strings.Contains(all, x) {
			t.Errorf("no %q in %q", x, all)
		}
	}
	for _, f := range []func() error{
		func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(1), interval.Exactly(8), room, interval.Exactly(600), 100,
				Options{})
			return err
		},
		func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8),
				Climate{interval.Exactly(80), interval.Exactly(0.50)}, interval.Exactly(600), 100, Options{})
			return err
		},
		func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8), room, interval.Exactly(100), 100,
				Options{})
			return err
		},
		func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8), room, interval.Exactly(600), 0,
				Options{})
			return err
		},
	} {
		if f() == nil {
			t.Error("what cannot be was accepted")
		}
	}
}
