package solution

import (
	"strconv"
	"strings"
)

// Atoms counts an element in the substance's formula, water of crystallisation
// included: 4 for "B" in borax. It is 0 for a substance without a formula.
func (s *Substance) Atoms(element string) float64 {
	sum := 0.0
	for part := range strings.SplitSeq(s.Formula, ".") {
		times, rest := leadingCount(part)
		n, _ := countIn(rest, element)
		sum += times * n
	}
	return sum
}

// leadingCount takes the number before a part of a formula: 5 from "5H2O".
func leadingCount(s string) (n float64, rest string) {
	end := 0
	for end < len(s) && s[end] >= '0' && s[end] <= '9' {
		end++
	}
	if end == 0 {
		return 1, s
	}
	n, _ = strconv.ParseFloat(s[:end], 64) // digits only
	return n, s[end:]
}

// countIn counts element up to the closing bracket or the end, and returns what
// follows.
func countIn(s, element string) (n float64, rest string) {
	for s != "" && s[0] != ')' {
		one := 0.0
		if s[0] == '(' {
			one, s = countIn(s[1:], element)
			s = strings.TrimPrefix(s, ")")
		} else {
			end := 1
			for end < len(s) && s[end] >= 'a' && s[end] <= 'z' {
				end++
			}
			if s[:end] == element {
				one = 1
			}
			s = s[end:]
		}
		var times float64
		times, s = leadingCount(s)
		n += one * times
	}
	return n, s
}
