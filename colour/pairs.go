package colour

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Pair is two colours to be compared.
type Pair struct{ One, Two Lab }

// PairsHeader is the first line of a file of pairs.
const PairsHeader = "L1,a1,b1,L2,a2,b2"

// LineError says what is wrong on one line of a file, counted from 1.
type LineError struct {
	Line int
	Say  string
}

func (e *LineError) Error() string { return fmt.Sprintf("Line %d: %s", e.Line, e.Say) }

// ReadPairs reads a CSV file with the header PairsHeader and six numbers a
// line: L from 0 up, all within 1000 of zero. Empty lines and lines that begin
// with # are passed over. The first bad line gives a *LineError.
func ReadPairs(r io.Reader) ([]Pair, error) {
	c := csv.NewReader(skipBOM(r))
	c.Comment, c.FieldsPerRecord, c.TrimLeadingSpace, c.ReuseRecord = '#', -1, true, true
	head, err := c.Read()
	if errors.Is(err, io.EOF) {
		return nil, &LineError{1, "the file is empty; its first line should be " + PairsHeader + "."}
	}
	if err != nil {
		return nil, csvProblem(err)
	}
	line, _ := c.FieldPos(0)
	if strings.Join(head, ",") != PairsHeader {
		return nil, &LineError{
			line,
			fmt.Sprintf("the header is %q; it should be %s.", clip(strings.Join(head, ",")), PairsHeader),
		}
	}
	pairs := []Pair{}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			return pairs, nil
		}
		if err != nil {
			return nil, csvProblem(err)
		}
		line, _ := c.FieldPos(0)
		p, say := parsePair(row)
		if say != "" {
			return nil, &LineError{line, say}
		}
		pairs = append(pairs, p)
	}
}

func parsePair(row []string) (Pair, string) {
	if len(row) != 6 {
		return Pair{}, fmt.Sprintf("it has %d values; there should be six: %s.", len(row), PairsHeader)
	}
	var v [6]float64
	for i, s := range row {
		name := PairsHeader[3*i : 3*i+2]
		x, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		switch {
		case err != nil || math.IsNaN(x) || math.IsInf(x, 0):
			return Pair{}, fmt.Sprintf("%s is %q; it should be a number with a decimal point.", name, clip(s))
		case math.Abs(x) > 1000:
			return Pair{}, fmt.Sprintf("%s is %g; no colour lies beyond 1000.", name, x)
		case i%3 == 0 && x < 0:
			return Pair{}, fmt.Sprintf("%s is %g; lightness starts at 0.", name, x)
		}
		v[i] = x
	}
	return Pair{Lab{v[0], v[1], v[2]}, Lab{v[3], v[4], v[5]}}, ""
}

// csvProblem gives the CSV reader's errors a sentence; others pass.
func csvProblem(err error) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return &LineError{p.Line, "a quotation mark is open or misplaced; numbers need none."}
	}
	return err
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}

// skipBOM passes over the byte order mark that spreadsheets put first.
func skipBOM(r io.Reader) io.Reader {
	b := bufio.NewReader(r)
	if head, _ := b.Peek(3); string(head) == "\xef\xbb\xbf" {
		b.Discard(3)
	}
	return b
}
