package solution

import (
	"embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

//go:embed data/*.csv
var tables embed.FS

// row is one line of a table, by column name.
type row map[string]string

// readTable reads an embedded table: comment lines, a header, rows. The tables
// are part of the program, so a broken one is a broken program.
func readTable(name string) []row {
	f, err := tables.Open("data/" + name)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		panic(fmt.Errorf("table %s: %w", name, err))
	}
	rows := make([]row, 0, len(lines)-1)
	for _, line := range lines[1:] {
		one := row{}
		for i, column := range lines[0] {
			one[column] = line[i]
		}
		rows = append(rows, one)
	}
	return rows
}

// number is a cell's number; a blank cell is 0.
func (r row) number(column string) float64 {
	if r[column] == "" {
		return 0
	}
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		panic(fmt.Errorf("column %s of %v: %w", column, r, err))
	}
	return v
}

// list splits a cell at sep and trims; a blank cell is an empty list.
func (r row) list(column, sep string) []string {
	var out []string
	for s := range strings.SplitSeq(r[column], sep) {
		if s = strings.TrimSpace(s); s != "" {
			out = append(out, s)
		}
	}
	return out
}
