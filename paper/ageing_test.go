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
			k := rateWith(doseA2, f(m[3]), Celsius(f(m[1])), Humidity(f(m[2])))
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

var reading = Climate{
	interval.Range{Low: 18, Best: 20, High: 22}, interval.Range{Low: 0.40, Best: 0.50, High: 0.60},
}

func aged(c Class, before, after interval.Range, life *interval.Range) (Ageing, error) {
	return CompareAgeing(c, before, after, reading, interval.Range{Low: 500, Best: 600, High: 700}, 200, life,
		Options{Seed: 1})
}

// From pH 5 to 8.5 the function slows hydrolysis by 10^(0.244 x 3.5) = 7.1; an error
// of 0.05 of the exponent alone is a factor of 10^(0.05 x 3.5) = 1.5 either way.
func TestCompareAgeing(t *testing.T) {
	a, err := aged(Rag, interval.Exactly(5), interval.Exactly(8.5), nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slower", a.Slower.Best, math.Pow(10, 0.244*3.5), 1e-6)
	near(t, "at most", a.Slower.High/a.Slower.Best, math.Pow(10, 0.05*3.5), 0.05)
	near(t, "at least", a.Slower.Best/a.Slower.Low, math.Pow(10, 0.05*3.5), 0.05)
	if a.Direction != AgesSlower || len(a.Outside) != 0 {
		t.Errorf("direction %q, outside %q", a.Direction, a.Outside)
	}
	near(t, "rate before", a.RatePerYearBefore.Best, 6.5599e-6, 1e-4)
	if len(a.Course) != 11 || a.Course[10].Years != 200 || a.Course[10].Without.Best >= a.Course[10].With.Best {
		t.Errorf("course: %+v", a.Course)
	}
	near(t, "degree after 200 years", a.Course[10].Without.Best, 1/(1.0/600+6.5599e-6*200), 1e-4)
	all := a.Sentence + strings.Join(a.Domain, " ")
	for _, x := range []string{"not a promise", "while the reserve lasts", "light", "from memory", "oxygen"} {
		if !strings.Contains(all, x) {
			t.Errorf("no %q in %q", x, all)
		}
	}
	for what, f := range map[string]func() error{
		"pH 1": func() error { _, err := aged(Rag, interval.Exactly(1), interval.Exactly(8), nil); return err },
		"80 C": func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8),
				Climate{interval.Exactly(80), interval.Exactly(0.50)}, interval.Exactly(600), 100, nil, Options{})
			return err
		},
		"degree 100": func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8), reading, interval.Exactly(100), 100,
				nil, Options{})
			return err
		},
		"no time": func() error {
			_, err := CompareAgeing(Rag, interval.Exactly(5), interval.Exactly(8), reading, interval.Exactly(600), 0,
				nil, Options{})
			return err
		},
		"a life before the start": func() error {
			_, err := aged(Rag, interval.Exactly(5), interval.Exactly(8), at(-1))
			return err
		},
	} {
		if f() == nil {
			t.Errorf("%s was accepted", what)
		}
	}
}

// Strlic et al. 2015 have papers of chemical pulp and rag at pH 4 to 8.5: outside
// there is a direction and no amount, in no field.
func TestOutsideItsDomainAgeingHasADirectionAlone(t *testing.T) {
	for _, x := range []struct {
		c             Class
		before, after float64
		inside        bool
	}{
		{Rag, 5, 8.5, true}, {TextChemical, 4.2, 8.9, true}, {Newsprint, 5, 8.5, false}, {TextMechanical, 5, 8, false},
		{CoatedCover, 5, 8, false}, {Unknown, 5, 8, false}, {Rag, 3.2, 8, false}, {Rag, 5, 9.8, false},
	} {
		a, err := aged(x.c, interval.Within(x.before, 0.2), interval.Within(x.after, 0.2), nil)
		if err != nil {
			t.Fatal(err)
		}
		amounts := a.Slower.Best != 0 || a.RatePerYearAfter.Best != 0 || len(a.Course) > 0 ||
			regexp.MustCompile(`\d`).MatchString(a.Sentence)
		if amounts != x.inside || len(a.Outside) == 0 != x.inside || a.Direction != AgesSlower {
			t.Errorf("%s from pH %g to %g: amounts %v, outside %q, %q, direction %q", x.c, x.before, x.after, amounts,
				a.Outside, a.Sentence, a.Direction)
		}
	}
}

// When the reserve is used up, the rate is that of before: the course is then the
// untreated one, later by the life less its own use.
func TestAgeingCarriesTheLifeOfTheReserve(t *testing.T) {
	always, err := aged(Rag, interval.Exactly(5), interval.Exactly(8.5), nil)
	if err != nil {
		t.Fatal(err)
	}
	a, err := aged(Rag, interval.Exactly(5), interval.Exactly(8.5), at(50))
	if err != nil {
		t.Fatal(err)
	}
	k0, k1 := a.RatePerYearBefore.Best, a.RatePerYearAfter.Best
	near(t, "after 200 years", a.Course[10].With.Best, 1/(1.0/600+50*k1+150*k0), 1e-9)
	if a.Course[10].With.Best >= always.Course[10].With.Best {
		t.Error("a reserve of 50 years protects like one that lasts")
	}
}

// 2 % of chalk is 0.4 mol/kg (ISO 9706); a paper that made all of 100 mmol/kg in 50
// years makes 2 mmol/kg a year and would use it up in 200; had it made a quarter,
// in 800.
func TestReserveLife(t *testing.T) {
	r, ok, err := ReserveLife(interval.Exactly(0.4), interval.Exactly(100), 50, Options{Seed: 1})
	if err != nil || !ok {
		t.Fatal(ok, err)
	}
	near(t, "at the best", r.Best, 400, 1e-9)
	if r.Low < 200*0.98 || r.Low > 260 || r.High < 600 || r.High > 800*1.02 {
		t.Errorf("life %v, want about 200 to 800 years", r.Range)
	}
	if _, ok, err := ReserveLife(interval.Exactly(0), interval.Exactly(100), 50, Options{}); ok || err != nil {
		t.Errorf("no reserve: %v, %v", ok, err)
	}
	if _, _, err := ReserveLife(interval.Exactly(0.4), interval.Exactly(100), 0, Options{}); err == nil {
		t.Error("a paper of no age was accepted")
	}
}
