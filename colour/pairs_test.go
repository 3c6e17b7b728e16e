package colour

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestReadPairs(t *testing.T) {
	p, err := ReadPairs(
		strings.NewReader(
			"\ufeffL1,a1,b1,L2,a2,b2\r\n# a remark\r\n50,2.6772,-79.7751,50,0,-82.7485\r\n\r\n 1, 2, 3, 4, 5, 6\r\n",
		),
	)
	if err != nil || len(p) != 2 || p[0] != (Pair{Lab{50, 2.6772, -79.7751}, Lab{50, 0, -82.7485}}) || p[1].Two.B != 6 {
		t.Errorf("%v, %v", p, err)
	}
	if p, err := ReadPairs(strings.NewReader(PairsHeader)); err != nil || p == nil || len(p) != 0 {
		t.Errorf("a header alone: %v, %v; want an empty list", p, err)
	}
}

func TestBadPairs(t *testing.T) {
	const good = "50,0,0,51,0,0\n"
	for _, c := range []struct {
		name, file string
		line       int
		says       string
	}{
		{"empty", "", 1, "empty"},
		{"other header", "L,a,b\n" + good, 1, "should be L1,a1,b1,L2,a2,b2"},
		{"no header", good, 1, "header"},
		{"header in other case", "l1,a1,b1,l2,a2,b2\n" + good, 1, "header"},
		{"five values", PairsHeader + "\n" + good + "50,0,0,51,0\n", 3, "5 values"},
		{"a word", PairsHeader + "\n" + good + good + "50,0,0,51,x,0\n", 4, `a2 is "x"`},
		{"decimal commas", PairsHeader + "\n" + `"50,1",0,0,51,0,0` + "\n", 2, "decimal point"},
		{"NaN", PairsHeader + "\nNaN,0,0,51,0,0\n", 2, "L1"},
		{"infinite", PairsHeader + "\n50,0,0,51,0,1e999\n", 2, "b2"},
		{"negative lightness", PairsHeader + "\n50,0,0,-1,0,0\n", 2, "L2 is -1"},
		{"out of this world", PairsHeader + "\n50,0,0,51,5000,0\n", 2, "a2 is 5000"},
		{"open quotation", PairsHeader + "\n50,0,\"0,51,0,0\n", 2, "quotation"},
		{"after a remark", PairsHeader + "\n# remark\n\n50\n", 4, "1 values"},
	} {
		_, err := ReadPairs(strings.NewReader(c.file))
		var e *LineError
		if !errors.As(err, &e) || e.Line != c.line || !strings.Contains(e.Say, c.says) {
			t.Errorf("%s: %v, want line %d and %q", c.name, err, c.line, c.says)
		}
	}
}

func FuzzReadPairs(f *testing.F) {
	f.Add(PairsHeader + "\n50,2.6772,-79.7751,50,0,-82.7485\n")
	f.Add(PairsHeader + "\n\"50\",0,0,1e2,0,0\n#x\n")
	f.Fuzz(func(t *testing.T, s string) {
		pairs, err := ReadPairs(strings.NewReader(s))
		if err != nil {
			var e *LineError
			if !errors.As(err, &e) || e.Line < 1 {
				t.Fatalf("%v has no line", err)
			}
			return
		}
		out := PairsHeader + "\n"
		for _, p := range pairs {
			if d := DE2000(p.One, p.Two); math.IsNaN(d) || d < 0 {
				t.Fatalf("%v differ by %g", p, d)
			}
			out += fmt.Sprintln(
				strings.Trim(
					strings.ReplaceAll(fmt.Sprint(p.One.L, p.One.A, p.One.B, p.Two.L, p.Two.A, p.Two.B), " ", ","),
					"{}",
				),
			)
		}
		again, err := ReadPairs(strings.NewReader(out))
		if err != nil || len(again) != len(pairs) {
			t.Fatalf("written again: %d pairs for %d, %v", len(again), len(pairs), err)
		}
		for i := range again {
			if again[i] != pairs[i] {
				t.Fatalf("pair %d came back as %v, was %v", i, again[i], pairs[i])
			}
		}
	})
}
