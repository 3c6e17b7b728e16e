package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Money is an amount in minor units of a currency by its ISO 4217 code.
type Money struct {
	Minor    int64
	Currency string
}

// minorDigits are the ISO 4217 currencies whose minor unit is not a hundredth
// (ISO 4217:2015, table A.1, from memory).
var minorDigits = map[string]int{
	"BIF": 0, "CLP": 0, "DJF": 0, "GNF": 0, "ISK": 0, "JPY": 0, "KMF": 0, "KRW": 0, "PYG": 0, "RWF": 0, "UGX": 0,
	"UYI": 0, "VND": 0, "VUV": 0, "XAF": 0, "XOF": 0, "XPF": 0,
	"BHD": 3, "IQD": 3, "JOD": 3, "KWD": 3, "LYD": 3, "OMR": 3, "TND": 3, "CLF": 4, "UYW": 4,
}

// MinorDigits says how many decimals amounts of a currency have.
func MinorDigits(currency string) int {
	if d, ok := minorDigits[currency]; ok {
		return d
	}
	return 2
}

// Money writes an amount with its currency: "EUR 120.50", "JPY 12000".
func (l Language) Money(m Money) string { return Joined(NBSP, m.Currency, l.Amount(m)) }

// Amount writes an amount alone, as a form shows it.
func (l Language) Amount(m Money) string {
	d, minor, sign := MinorDigits(m.Currency), m.Minor, ""
	if minor < 0 {
		sign, minor = "−", -minor
	}
	s := strconv.FormatInt(minor, 10)
	if d == 0 {
		return sign + s
	}
	for len(s) <= d {
		s = "0" + s
	}
	return sign + s[:len(s)-d] + "." + s[len(s)-d:]
}

// ParseMoney reads an amount as a person types it: "120", "120.50", "120,5".
// More decimals than the currency has are refused, since a part of a minor unit
// cannot be paid. The sum is exact: no floating point is used.
func (l Language) ParseMoney(typed, currency string) (Money, error) {
	d := MinorDigits(currency)
	bad := fmt.Errorf("cannot be %q: an amount such as %s is expected", Clip(typed), example(d))
	s := strings.NewReplacer("−", "-", NBSP, "", "\u202f", "", " ", "").Replace(typed)
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		s = strings.Replace(s, ",", ".", 1)
	}
	negative := strings.HasPrefix(s, "-")
	whole, part, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	part = strings.TrimRight(part, "0")
	if whole == "" && part == "" || strings.ContainsFunc(whole+part, func(r rune) bool { return r < '0' || r > '9' }) {
		return Money{}, bad
	}
	if len(part) > d {
		return Money{}, fmt.Errorf("cannot be %q: amounts in %s have %s", Clip(typed), currency, decimalsOf(d))
	}
	minor, err := strconv.ParseInt("0"+whole+part+strings.Repeat("0", d-len(part)), 10, 64)
	if err != nil || minor == math.MaxInt64 {
		return Money{}, bad
	}
	if negative {
		minor = -minor
	}
	return Money{minor, currency}, nil
}

func example(d int) string {
	if d == 0 {
		return "120"
	}
	return "120.5" + strings.Repeat("0", d-1)
}

func decimalsOf(d int) string {
	switch d {
	case 0:
		return "no decimals"
	case 1:
		return "one decimal at most"
	}
	return strconv.Itoa(d) + " decimals at most"
}
