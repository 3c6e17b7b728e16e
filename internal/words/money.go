package words

import (
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Money is an amount in minor units of a currency by its ISO 4217 code.
type Money struct {
	Minor    int64
	Currency string
}

// minorDigits are the ISO 4217 currencies in use whose minor unit is not a
// hundredth. Source: the table of ISO 4217 as OpenJDK 25 carries it
// (java.util.Currency, default fraction digits); UYW, which it lacks, from memory.
// The Unicode CLDR tells another thing under the same name: to how many decimals
// an amount is rounded in daily use, none for some that ISO 4217 gives a hundredth
// (AFN, COP, IDR, LAK, PKR, RSD) and none for IQD, a thousandth here.
// Accounts are kept by ISO 4217.
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
// More decimals than the currency has are refused, idle ones too: a part of a
// minor unit cannot be paid, and "1,200" may mean 1200. For the same reason a
// comma before three figures is refused where three decimals are possible. In a
// currency without decimals it can only mark thousands, and does: "12,000". No
// floating point is used.
func (l Language) ParseMoney(typed, currency string) (Money, error) {
	d := MinorDigits(currency)
	bad := fmt.Errorf("cannot be %q: an amount such as %s is expected", Clip(typed), example(d))
	s := strings.NewReplacer("−", "-", NBSP, "", "\u202f", "", " ", "").Replace(typed)
	comma := strings.Count(s, ",") == 1 && !strings.Contains(s, ".")
	switch {
	case comma && d == 0 && len(s)-strings.Index(s, ",") == len(",000"):
		s = strings.Replace(s, ",", "", 1)
	case comma:
		s = strings.Replace(s, ",", ".", 1)
	}
	negative := strings.HasPrefix(s, "-")
	whole, part, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	if whole == "" && part == "" || strings.ContainsFunc(whole+part, func(r rune) bool { return r < '0' || r > '9' }) {
		return Money{}, bad
	}
	if len(part) > d {
		return Money{}, fmt.Errorf(
			"cannot be %q: amounts%s have %s", Clip(typed), After(" in ", currency), decimalsOf(d),
		)
	}
	if comma && len(part) == 3 {
		return Money{}, fmt.Errorf("cannot be %q: please write %s%s or %s.%s", Clip(typed), whole, part, whole, part)
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

// Part is minor × by / per in minor units: hours at a rate, a percentage of a sum.
// by is taken as the decimal number that a person wrote (0.1 is a tenth), the
// product is exact, and halves of a minor unit are rounded away from zero. The
// result must fit an int64.
func Part(minor int64, by float64, per int64) int64 {
	r := new(big.Rat).Mul(decimal(by), big.NewRat(minor, per))
	n, _ := strconv.ParseInt(r.FloatString(0), 10, 64) // rounds as it should
	return n
}

// Sum adds numbers as the decimals they were written as: 0.1 + 0.2 is 0.3.
func Sum(list ...float64) float64 {
	var sum big.Rat
	for _, v := range list {
		sum.Add(&sum, decimal(v))
	}
	f, _ := sum.Float64() // the nearest one: its shortest decimal is the sum again
	return f
}

// decimal is the shortest decimal number that v is the float64 of; 0 for what is
// no number.
func decimal(v float64) *big.Rat {
	if r, ok := new(big.Rat).SetString(strconv.FormatFloat(v, 'g', -1, 64)); ok {
		return r
	}
	return new(big.Rat)
}

func example(d int) string {
	if d == 0 {
		return "120"
	}
	return "120.5" + strings.Repeat("0", d-1)
}

func decimalsOf(d int) string {
	if d == 0 {
		return "no decimals"
	}
	return strconv.Itoa(d) + " decimals at most"
}
