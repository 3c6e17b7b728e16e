package solution

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

var plainSigns = strings.NewReplacer("−", "-", "％", "%", "＋", "+", "µ", "u", "μ", "u", "⁻¹", "-1")

var (
	unitWords = strings.NewReplacer(
		"litre", "l", "liter", "l", "per", "/", "in", "/", "l-1", "/l", "m/v", "w/v", "m/m", "w/w",
	)
	numberWords = strings.NewReplacer(
		"parts", "", "part", "", "one", "1", "two", "2", "three", "3", "four", "4", "five", "5",
	)
)

// tidy makes one form of what people type: plain spaces, the plain minus and
// percent signs, no space at the ends.
func tidy(s string) string {
	s = plainSigns.Replace(s)
	return strings.Join(strings.FieldsFunc(s, unicode.IsSpace), " ")
}

// splitNumber takes the number that s starts with. A decimal comma is
// understood; a comma before exactly three digits is refused, since it can mean
// thousands.
func splitNumber(s string) (value float64, rest string, err error) {
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || s[end] == '.' || s[end] == ',') {
		end++
	}
	digits, rest := s[:end], strings.TrimSpace(s[end:])
	if strings.Trim(digits, ".,") == "" {
		return 0, "", errNoNumber
	}
	if strings.Count(digits, ".")+strings.Count(digits, ",") > 1 {
		return 0, "", fmt.Errorf(
			"%q has more than one decimal sign: write it without marks between the thousands",
			digits,
		)
	}
	if whole, part, comma := strings.Cut(digits, ","); comma {
		if len(part) == 3 && strings.Trim(whole, "0") != "" {
			return 0, "", fmt.Errorf(
				"%q can mean %s.%s or %s%s: write it without the comma",
				digits,
				whole,
				part,
				whole,
				part,
			)
		}
		digits = whole + "." + part
	}
	value, err = strconv.ParseFloat(digits, 64)
	if err != nil || math.IsInf(value, 0) {
		return 0, "", fmt.Errorf("%q is not a number that can be used", digits)
	}
	return value, rest, nil
}

var errNoNumber = errors.New("no number")

// volumeUnits in mL.
var volumeUnits = map[string]float64{
	"ml": 1, "millilitre": 1, "millilitres": 1, "milliliter": 1, "milliliters": 1, "cm3": 1, "cc": 1,
	"l": 1000, "litre": 1000, "litres": 1000, "liter": 1000, "liters": 1000, "cl": 10, "dl": 100, "ul": 0.001,
}

// ParseVolume reads "400 mL", "1.5 L", "1,5 l". The volume is above 0 and at
// most 1000 L.
func ParseVolume(s string) (Millilitres, error) {
	v, err := parseQuantity(s, "volume", "400 mL", "mL or L", volumeUnits)
	if err == nil && (v <= 0 || v > 1e6) {
		err = fmt.Errorf("the volume %q must be above 0 and at most 1000 L", s)
	}
	if err != nil {
		return 0, err
	}
	return Millilitres(v), nil
}

// massUnits in g.
var massUnits = map[string]float64{"g": 1, "gram": 1, "grams": 1, "mg": 0.001, "kg": 1000}

// ParseMass reads "4 g", "500 mg", "0,5 kg". The mass is above 0 and at most
// 100 kg.
func ParseMass(s string) (Grams, error) {
	v, err := parseQuantity(s, "mass", "4 g", "mg, g or kg", massUnits)
	if err == nil && (v <= 0 || v > 1e5) {
		err = fmt.Errorf("the mass %q must be above 0 and at most 100 kg", s)
	}
	if err != nil {
		return 0, err
	}
	return Grams(v), nil
}

func parseQuantity(s, what, example, units string, factor map[string]float64) (float64, error) {
	v, rest, err := splitNumber(tidy(s))
	if errors.Is(err, errNoNumber) {
		return 0, fmt.Errorf("the %s %q does not start with a number: write it as in %q", what, s, example)
	}
	if err != nil {
		return 0, fmt.Errorf("the %s %w", what, err)
	}
	k, ok := factor[strings.ToLower(rest)]
	if !ok {
		if rest == "" {
			return 0, fmt.Errorf("the %s %q has no unit: write it as in %q", what, s, example)
		}
		return 0, fmt.Errorf("the unit %q of the %s %q is not known: use %s", rest, what, s, units)
	}
	return v * k, nil
}

// ParseStrength reads a strength: "0.4 g/L", "1 % w/v", "0,05 mol/L", "25 mM",
// "3 g in 100 mL". A bare "%" is refused, since it can mean three things.
func ParseStrength(s string) (Strength, error) {
	v, rest, err := splitNumber(tidy(s))
	if errors.Is(err, errNoNumber) {
		return Strength{}, fmt.Errorf(
			"the strength %q does not start with a number: write it as in \"0.4 g/L\", \"1 %% w/v\" or \"1 + 3\"",
			s,
		)
	}
	if err != nil {
		return Strength{}, fmt.Errorf("the strength %w", err)
	}
	unit, factor, err := parseUnit(rest)
	if err != nil {
		return Strength{}, fmt.Errorf("the strength %q %w", s, err)
	}
	out := Strength{Value: v * factor, Unit: unit}
	if err := out.Check(); err != nil {
		return Strength{}, err
	}
	return out, nil
}

// parseUnit gives the unit, and what a value must be multiplied by to be in it.
func parseUnit(s string) (Unit, float64, error) {
	switch s { // where capitals count
	case "M":
		return MolL, 1, nil
	case "mM":
		return MmolL, 1, nil
	case "m":
		return "", 0, errors.New("is per kg of water (m): give it per litre of solution, as mol/L")
	case "N":
		return "", 0, errors.New("is in normal (N), which depends on the reaction: give it as mol/L")
	}
	plain := strings.ToLower(strings.Map(func(r rune) rune {
		if r == ' ' || r == '(' || r == ')' || r == '.' {
			return -1
		}
		return r
	}, s))
	plain = unitWords.Replace(plain)
	switch plain {
	case "g/l", "gl":
		return GramL, 1, nil
	case "mg/l", "mgl":
		return MilligramL, 1, nil
	case "mg/ml", "g/1000ml":
		return GramL, 1, nil
	case "g/ml":
		return GramL, 1000, nil
	case "kg/l":
		return GramL, 1000, nil
	case "ug/l":
		return MilligramL, 0.001, nil
	case "%w/v", "w/v%", "g/100ml", "g/dl":
		return PercentWV, 1, nil
	case "%w/w", "w/w%", "wt%", "wt-%", "%wt", "%/weight", "%byweight", "g/100g":
		return PercentWW, 1, nil
	case "%v/v", "v/v%", "vol%", "vol-%", "%vol", "%/volume", "%byvolume", "ml/100ml":
		return PercentVV, 1, nil
	case "mol/l", "moll":
		return MolL, 1, nil
	case "mmol/l", "mmoll":
		return MmolL, 1, nil
	case "":
		return "", 0, errors.New("has no unit: write it as in \"0.4 g/L\" or \"1 % w/v\"")
	case "%", "/cent":
		return "", 0, errors.New(
			"does not say per cent of what: write % w/v (g in 100 mL), % w/w (g in 100 g) or % v/v (mL in 100 mL)",
		)
	case "ppm", "ppb":
		return "", 0, errors.New("is in parts per million: give it as mg/L")
	case "g/kg", "mol/kg", "mmol/kg", "mg/kg":
		return "", 0, errors.New("is per kg: give it per litre of solution, as g/L or mol/L")
	}
	return "", 0, fmt.Errorf(
		"has an unknown unit: use one of %s, or parts as in \"1 + 3\"",
		strings.Join(unitNames(), ", "),
	)
}

// parseParts reads a dilution: "1+3", "1 + 3 parts", "1 part + 3 parts", "1 in
// 4" (one part in four is 1 + 3). "1:3" and "1/4" are refused, since benches
// read them both ways.
func parseParts(s string) (Parts, error) {
	t := inFigures(s)
	a, rest, err := splitNumber(t)
	if err != nil {
		return Parts{}, fmt.Errorf("the parts %q are not understood: write stock and water as in \"1 + 3\"", s)
	}
	var in bool
	switch {
	case strings.HasPrefix(rest, "+"):
		rest = rest[1:]
	case strings.HasPrefix(rest, "and "):
		rest = rest[4:]
	case strings.HasPrefix(rest, "in "):
		rest, in = rest[3:], true
	case strings.HasPrefix(rest, ":"), strings.HasPrefix(rest, "/"):
		return Parts{}, fmt.Errorf(
			"the parts %q can mean one part and three or one part in three: write them as in \"1 + 3\"",
			s,
		)
	default:
		return Parts{}, fmt.Errorf("the parts %q are not understood: write stock and water as in \"1 + 3\"", s)
	}
	b, rest, err := splitNumber(strings.TrimSpace(rest))
	if err != nil || rest != "" {
		return Parts{}, fmt.Errorf("the parts %q are not understood: write stock and water as in \"1 + 3\"", s)
	}
	if in {
		b -= a
	}
	p := Parts{Stock: a, Diluent: b}
	if err := p.Check(); err != nil {
		return Parts{}, err
	}
	return p, nil
}

// inFigures writes what people say of parts in figures: "one part in four" as
// "1 in 4".
func inFigures(s string) string {
	return tidy(numberWords.Replace(strings.ToLower(tidy(s))))
}

// ParseWanted reads a strength or a dilution in parts: exactly one of the two
// is set.
func ParseWanted(s string) (Wanted, error) {
	t := tidy(s)
	if strings.Contains(t, "+") || strings.Contains(t, "part") || looksLikeRatio(inFigures(s)) {
		p, err := parseParts(s)
		return Wanted{Parts: p}, err
	}
	x, err := ParseStrength(s)
	return Wanted{Strength: x}, err
}

// looksLikeRatio says whether s is two numbers with a sign or a word between.
func looksLikeRatio(s string) bool {
	_, rest, err := splitNumber(s)
	if err != nil {
		return false
	}
	for _, between := range []string{":", "/", "in ", "and "} {
		if after, ok := strings.CutPrefix(rest, between); ok {
			_, end, err := splitNumber(strings.TrimSpace(after))
			return err == nil && end == ""
		}
	}
	return false
}
