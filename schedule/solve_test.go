package schedule

import (
	"bytes"
	"context"
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

// Optima of 40 instances of ProGen/max with 10 activities (Schwindt 1998, PSPLIB
// set sm_j10), as collected in the public kobe-scheduling data set.
func TestPublishedProjectsAreSolvedToTheirOptimum(t *testing.T) {
	f, err := os.Open("testdata/rcpsp-max-j10/optimum.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 41 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, r := range rows[1:] {
		in, err := os.Open(filepath.Join("testdata/rcpsp-max-j10", r[0]))
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadProGen(in)
		in.Close()
		if err != nil {
			t.Fatalf("%s: %v", r[0], err)
		}
		solvedTo(t, r[0], p, r[1])
	}
}

func solvedTo(t *testing.T, name string, p *Problem, want string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 60*time.Second)
	defer cancel()
	begin := time.Now()
	a, err := Solve(ctx, p, Options{Seed: 1})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	t.Logf("%s %v: %d, bound %d", name, time.Since(begin), a.Makespan, a.LowerBound)
	if !a.Proven {
		t.Errorf("%s: %+v is not proven", name, a)
		return
	}
	got := "unsat"
	if a.Feasible {
		got = strconv.Itoa(a.Makespan)
	}
	if got != want {
		t.Errorf("%s: %s, want %s", name, got, want)
	}
}

// Optima of job shops (Fisher and Thompson 1963; Lawrence 1984), as collected in
// the public JSPLIB.
func TestPublishedJobShopsAreSolvedToTheirOptimum(t *testing.T) {
	for name, want := range map[string]string{"ft06": "55", "la01": "666", "la02": "655", "la05": "593"} {
		in, err := os.Open(filepath.Join("testdata/jobshop", name))
		if err != nil {
			t.Fatal(err)
		}
		p, err := ReadJobShop(in)
		in.Close()
		if err != nil {
			t.Fatal(err)
		}
		solvedTo(t, name, p, want)
	}
}

func BenchmarkSolve(b *testing.B) {
	for _, name := range []string{"jobshop/la01", "jobshop/la02", "rcpsp-max-j10/PSP33.SCH"} {
		text, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			b.Fatal(err)
		}
		b.Run(filepath.Base(name), func(b *testing.B) {
			for b.Loop() {
				p, err := Read(name, bytes.NewReader(text))
				if err != nil {
					b.Fatal(err)
				}
				if a, err := Solve(context.Background(), p, Options{Seed: 1}); err != nil || !a.Proven {
					b.Fatalf("%+v, %v", a, err)
				}
			}
		})
	}
}
