package colour

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// Patch is one field of a colour chart with its published colour under D50.
type Patch struct {
	ID   string
	Name string
	XYZ  XYZ
}

// Chart is a colour chart as its maker or a measurement describes it.
type Chart struct {
	Name    string
	Patches []Patch
	// Rows and Columns are the layout when the file gives it, or when the
	// patches are named like A1 to D6; else 0. Patches go row by row then.
	Rows, Columns int
}

// MaxPatches is the largest chart that is read.
const MaxPatches = 2000

// ParseChart reads a chart's reference values from a CGATS text file (ISO 28178
// keywords) or a CSV file with a header line. Values are CIELAB under D50 or
// XYZ with 100 for white. The error names the line.
func ParseChart(r io.Reader) (*Chart, error) {
	b := bufio.NewReader(skipBOM(io.LimitReader(r, 4<<20)))
	head, _ := b.Peek(4096)
	var c *Chart
	var err error
	if looksCGATS(string(head)) {
		c, err = parseCGATS(b)
	} else {
		c, err = parseChartCSV(b)
	}
	if err != nil {
		return nil, err
	}
	if len(c.Patches) < 4 {
		return nil, &LineError{1, fmt.Sprintf("the chart has %d patches; at least 4 are needed.", len(c.Patches))}
	}
	c.layOut()
	return c, nil
}

func looksCGATS(head string) bool {
	return strings.Contains(head, "BEGIN_DATA") || strings.HasPrefix(strings.TrimSpace(head), "CGATS")
}

// parseCGATS reads one table: keywords, a data format, data.
func parseCGATS(r io.Reader) (*Chart, error) {
	c := &Chart{}
	s := bufio.NewScanner(r)
	s.Buffer(make([]byte, 64<<10), 1<<20)
	var fields []string
	var columns *chartColumns
	state, line := "head", 0
	for s.Scan() {
		line++
		words := cgatsWords(s.Text())
		if len(words) == 0 {
			continue
		}
		switch key := strings.ToUpper(words[0]); {
		case key == "BEGIN_DATA_FORMAT":
			state, fields = "format", words[1:]
		case key == "END_DATA_FORMAT":
			state = "head"
			var err error
			if columns, err = newChartColumns(fields); err != nil {
				return nil, &LineError{line, err.Error()}
			}
		case key == "BEGIN_DATA":
			if columns == nil {
				return nil, &LineError{line, "the data begin before their format is given (BEGIN_DATA_FORMAT)."}
			}
			state = "data"
		case key == "END_DATA":
			return c, nil
		case state == "format":
			fields = append(fields, words...)
		case state == "data":
			if err := columns.add(c, words, line); err != nil {
				return nil, err
			}
		case (key == "DESCRIPTOR" || key == "LGOROWLENGTH") && len(words) > 1:
			if key == "DESCRIPTOR" {
				c.Name = cleanName(words[1])
			} else if n, err := strconv.Atoi(words[1]); err == nil && n > 0 && n <= MaxPatches {
				c.Columns = n
			}
		}
	}
	if err := s.Err(); err != nil {
		if errors.Is(err, bufio.ErrTooLong) {
			return nil, &LineError{line + 1, "the line is longer than a million characters."}
		}
		return nil, err
	}
	if state == "data" {
		return nil, &LineError{line, "the file ends inside its data; END_DATA is missing."}
	}
	return nil, &LineError{max(1, line), "the file has no data (BEGIN_DATA)."}
}

// cgatsWords splits a line at white space, keeps quoted words whole and drops
// remarks.
func cgatsWords(line string) (words []string) {
	for {
		line = strings.TrimLeftFunc(line, unicode.IsSpace)
		switch {
		case line == "" || line[0] == '#':
			return words
		case line[0] == '"':
			end := strings.IndexByte(line[1:], '"')
			if end < 0 {
				return append(words, line[1:])
			}
			words, line = append(words, line[1:1+end]), line[2+end:]
		default:
			end := strings.IndexFunc(line, unicode.IsSpace)
			if end < 0 {
				return append(words, line)
			}
			words, line = append(words, line[:end]), line[end:]
		}
	}
}

// chartColumns says where a table holds what.
type chartColumns struct {
	id, name int
	value    [3]int
	lab      bool
	fields   []string
}

// newChartColumns finds the columns by their names, CGATS ones or short ones.
func newChartColumns(fields []string) (*chartColumns, error) {
	find := func(names ...string) int {
		return slices.IndexFunc(fields, func(f string) bool {
			return slices.Contains(names, strings.ToUpper(strings.Trim(strings.TrimSpace(f), "*")))
		})
	}
	c := &chartColumns{
		id:     find("SAMPLE_ID", "SAMPLEID", "SAMPLE_LOC", "ID", "PATCH"),
		name:   find("SAMPLE_NAME", "NAME"),
		fields: fields,
	}
	if c.id < 0 {
		c.id = c.name
	}
	c.value = [3]int{find("LAB_L", "L"), find("LAB_A", "A"), find("LAB_B", "B")}
	if c.lab = !slices.Contains(c.value[:], -1); c.lab {
		return c, nil
	}
	c.value = [3]int{find("XYZ_X", "X"), find("XYZ_Y", "Y"), find("XYZ_Z", "Z")}
	if slices.Contains(c.value[:], -1) {
		return nil, errors.New("the columns hold no colour; LAB_L, LAB_A, LAB_B or XYZ_X, XYZ_Y, XYZ_Z are needed")
	}
	return c, nil
}

// add reads one patch.
func (cc *chartColumns) add(c *Chart, row []string, line int) error {
	if len(row) != len(cc.fields) {
		return &LineError{line, fmt.Sprintf("it has %d values; its format has %d.", len(row), len(cc.fields))}
	}
	if len(c.Patches) >= MaxPatches {
		return &LineError{line, fmt.Sprintf("the chart has more than %d patches.", MaxPatches)}
	}
	var v [3]float64
	for i, at := range cc.value {
		x, err := strconv.ParseFloat(strings.TrimSpace(row[at]), 64)
		if err != nil || math.IsNaN(x) || math.Abs(x) > 300 {
			return &LineError{
				line,
				fmt.Sprintf(
					"%s is %q; it should be a number within 300 of zero.",
					cleanName(cc.fields[at]),
					clip(row[at]),
				),
			}
		}
		v[i] = x
	}
	p := Patch{XYZ: XYZ{v[0] / 100, v[1] / 100, v[2] / 100}}
	if cc.lab {
		if v[0] < 0 || v[0] > 130 {
			return &LineError{line, fmt.Sprintf("the lightness is %g; it goes from 0 to 100.", v[0])}
		}
		p.XYZ = Lab{v[0], v[1], v[2]}.XYZ()
	}
	if cc.id >= 0 {
		p.ID = cleanName(row[cc.id])
	}
	if cc.name >= 0 {
		p.Name = cleanName(row[cc.name])
	}
	c.Patches = append(c.Patches, p)
	return nil
}

// parseChartCSV reads a header and one patch a line; commas, semicolons or tabs
// part the values, whichever the header holds most of.
func parseChartCSV(b *bufio.Reader) (*Chart, error) {
	head, _ := b.Peek(4096)
	first, _, _ := strings.Cut(strings.TrimLeft(string(head), "\r\n"), "\n")
	r := csv.NewReader(b)
	r.FieldsPerRecord, r.Comment, r.TrimLeadingSpace, r.LazyQuotes = -1, '#', true, false
	for _, comma := range ",;\t" {
		if strings.Count(first, string(comma)) > strings.Count(first, string(r.Comma)) {
			r.Comma = comma
		}
	}
	fields, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, &LineError{1, "the file is empty; its first line should name the columns, such as id,name,L,a,b."}
	}
	if err != nil {
		return nil, csvProblem(err)
	}
	line, _ := r.FieldPos(0)
	columns, err := newChartColumns(fields)
	if err != nil {
		return nil, &LineError{line, err.Error()}
	}
	c := &Chart{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return c, nil
		}
		if err != nil {
			return nil, csvProblem(err)
		}
		line, _ := r.FieldPos(0)
		if err := columns.add(c, row, line); err != nil {
			return nil, err
		}
	}
}

// layOut orders patches named by a letter and a number row by row. Letters are
// rows when there are fewer of them than numbers: charts lie on their long side.
func (c *Chart) layOut() {
	if c.Columns > 0 {
		if len(c.Patches)%c.Columns == 0 {
			c.Rows = len(c.Patches) / c.Columns
		} else {
			c.Columns = 0
		}
		return
	}
	type place struct{ letter, number int }
	at := make([]place, len(c.Patches))
	letters, numbers := 0, 0
	for i, p := range c.Patches {
		if len(p.ID) < 2 || p.ID[0] < 'A' || p.ID[0] > 'Z' {
			return
		}
		n, err := strconv.Atoi(p.ID[1:])
		if err != nil || n < 1 || n > MaxPatches {
			return
		}
		at[i] = place{int(p.ID[0] - 'A'), n - 1}
		letters, numbers = max(letters, at[i].letter+1), max(numbers, n)
	}
	if letters*numbers != len(c.Patches) {
		return
	}
	rows, columns := letters, numbers
	if letters > numbers {
		rows, columns = numbers, letters
		for i := range at {
			at[i].letter, at[i].number = at[i].number, at[i].letter
		}
	}
	ordered := make([]Patch, len(c.Patches))
	seen := make([]bool, len(c.Patches))
	for i, p := range c.Patches {
		k := at[i].letter*columns + at[i].number
		if seen[k] {
			return
		}
		ordered[k], seen[k] = p, true
	}
	c.Patches, c.Rows, c.Columns = ordered, rows, columns
}
