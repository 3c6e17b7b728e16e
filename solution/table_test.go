package solution

import (
	"encoding/csv"
	"os"
	"testing"
)

// testTable reads a table of published values from testdata.
func testTable(t testing.TB, name string) []row {
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, line := range lines[1:] {
		one := row{}
		for i, column := range lines[0] {
			one[column] = line[i]
		}
		rows = append(rows, one)
	}
	return rows
}
