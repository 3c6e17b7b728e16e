package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// run starts the program with arguments and returns its exit error and output.
func runDifference(t *testing.T, args ...string) (string, error) {
	t.Helper()
	var out, errs bytes.Buffer
	m := &Main{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs}
	if err := m.ParseFlags(args); err != nil {
		return "", err
	}
	err := m.Run(t.Context())
	return out.String(), err
}

// The 34 pairs of Sharma, Wu and Dalal (2005, table 1) through the command.
func TestDifferenceCommand(t *testing.T) {
	f, err := os.Open("../../colour/testdata/ciede2000-sharma.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var in strings.Builder
	for _, row := range rows {
		in.WriteString(strings.Join(row[:6], ",") + "\n")
	}
	file := filepath.Join(t.TempDir(), "pairs.csv")
	if err := os.WriteFile(file, []byte(in.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := runDifference(t, "difference", file, "--json")
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		DE00 []float64 `json:"de00"`
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || len(got.DE00) != 34 {
		t.Fatalf("%d values, %v", len(got.DE00), err)
	}
	for i, row := range rows[1:] {
		if want, _ := strconv.ParseFloat(row[6], 64); math.Abs(got.DE00[i]-want) > 1e-4 {
			t.Errorf("pair %d: %.5f, want %.4f", i+1, got.DE00[i], want)
		}
	}
}

func TestDifferenceNamesBadLine(t *testing.T) {
	file := filepath.Join(t.TempDir(), "pairs.csv")
	os.WriteFile(file, []byte("L1,a1,b1,L2,a2,b2\n50,0,0,51,0,0\n50,0,0,fifty,0,0\n"), 0o600)
	if _, err := runDifference(t, "difference", file); err == nil || !strings.Contains(err.Error(), "line 3") ||
		!strings.Contains(err.Error(), "fifty") {
		t.Errorf("%v, want line 3 and fifty named", err)
	}
	if _, err := runDifference(t, "difference", filepath.Join(t.TempDir(), "none.csv")); err == nil {
		t.Error("a missing file passed")
	}
}
