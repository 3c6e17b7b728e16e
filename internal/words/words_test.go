package words

import (
	"testing"
	"time"

	"golang.org/x/text/currency"

	"benchleaf/interval"
)

// The rounding rule and its examples: Particle Data Group, Review of Particle
// Physics, Introduction, section 5.3: 0.827 ± 0.119 is written 0.83 ± 0.12,
// 0.827 ± 0.367 is written 0.8 ± 0.4.
func TestPlusMinusRoundsAsTheParticleDataGroup(t *testing.T) {
	for _, tc := range []struct {
		v, u float64
		want string
	}{
		{0.827, 0.119, "0.83 ± 0.12"}, {0.827, 0.367, "0.8 ± 0.4"},
		{0.827, 0.0996, "0.83 ± 0.10"}, {12, 0.1, "12.0 ± 0.1"}, {3.3, 0.1414213, "3.30 ± 0.14"}, {1234, 96, "1230 ± 100"},
	} {
		if got := English.PlusMinus(tc.v, tc.u, ""); got != tc.want {
			t.Errorf("%g ± %g is written %q, want %q", tc.v, tc.u, got, tc.want)
		}
	}
}

func TestRangeKeepsItsEndsApart(t *testing.T) {
	for _, tc := range []struct {
		r    interval.Range
		unit string
		want string
	}{
		{interval.Range{Low: 0.496, Best: 0.5, High: 0.5042}, "% w/v", "0.500" + NBSP + "% w/v (0.496 to 0.504)"},
		{interval.Range{Low: 0.0851, Best: 0.0979, High: 0.1128}, "%", "0.098" + NBSP + "% (0.085 to 0.113)"},
		{interval.Range{Low: 2, Best: 2, High: 2}, "g", "2" + NBSP + "g"},
		{interval.Range{Low: 0.37, Best: 0.4, High: 0.43}, "g/L", "0.40" + NBSP + "g/L (0.37 to 0.43)"},
		{interval.Range{Low: 0.9, Best: 1, High: 1.1}, "%", "1.0" + NBSP + "% (0.9 to 1.1)"},
	} {
		if got := English.Range(tc.r, tc.unit); got != tc.want {
			t.Errorf("%v is written %q, want %q", tc.r, got, tc.want)
		}
	}
}

// Minor units by ISO 4217: yen has none, the Kuwaiti dinar a thousandth, the
// euro a hundredth.
func TestMoneyIsReadAndWrittenByItsCurrency(t *testing.T) {
	for _, tc := range []struct {
		typed, currency string
		minor           int64
		written         string
	}{
		{"12000", "JPY", 12000, "JPY" + NBSP + "12000"},
		{"12,000", "JPY", 12000, "JPY" + NBSP + "12000"},
		{"12000", "KWD", 12000000, "KWD" + NBSP + "12000.000"},
		{"12000", "EUR", 1200000, "EUR" + NBSP + "12000.00"},
		{"0,5", "EUR", 50, "EUR" + NBSP + "0.50"}, {"1.25", "KWD", 1250, "KWD" + NBSP + "1.250"},
		{"90071992547409.91", "EUR", 9007199254740991, "EUR" + NBSP + "90071992547409.91"},
	} {
		m, err := English.ParseMoney(tc.typed, tc.currency)
		if err != nil || m.Minor != tc.minor {
			t.Errorf("%s %s is read as %d minor units (%v), want %d", tc.typed, tc.currency, m.Minor, err, tc.minor)
		}
		if got := English.Money(m); got != tc.written {
			t.Errorf("%s %s is written %q, want %q", tc.typed, tc.currency, got, tc.written)
		}
	}
	for typed, currency := range map[string]string{"0.5": "JPY", "1,20": "JPY", "1,2000": "JPY", "1.234": "EUR", "ten": "EUR", "": "EUR", "1e3": "EUR",
		// 1200 as others write it
		"1,200": "EUR", "1.200": "JPY", "1,200 ": "KWD", "1,200.50": "EUR"} {
		if m, err := English.ParseMoney(typed, currency); err == nil {
			t.Errorf("%q %s is read as %d minor units; a refusal is expected", typed, currency, m.Minor)
		}
	}
}

// The decimals of daily use that the Unicode CLDR publishes (read through
// golang.org/x/text/currency) agree with ISO 4217 but where a coin or note of a
// hundredth, or a thousandth for IQD, has gone out of use.
func TestMinorUnitsAgainstTheCLDR(t *testing.T) {
	for all := currency.Query(currency.Historical); all.Next(); {
		code := all.Unit().String()
		daily, _ := currency.Standard.Rounding(all.Unit())
		if ours := MinorDigits(code); ours != daily && (daily != 0 || ours == 3 && code != "IQD") {
			t.Errorf("%s has %d decimals here, %d in the CLDR", code, ours, daily)
		}
	}
	for code := range minorDigits {
		if _, err := currency.ParseISO(code); err != nil && code != "UYW" { // younger than the CLDR's list
			t.Errorf("%s: %v", code, err)
		}
	}
}

func TestPartsAndSumsAreExact(t *testing.T) {
	for _, tc := range []struct {
		minor     int64
		by        float64
		per, want int64
	}{{100, 1.005, 1, 101}, {25, 0.1, 1, 3}, {-5, 50, 100, -3}, {1050, 8.1, 100, 85}, {7, 0, 1, 0}} {
		if got := Part(tc.minor, tc.by, tc.per); got != tc.want {
			t.Errorf("%d × %g / %d = %d, want %d", tc.minor, tc.by, tc.per, got, tc.want)
		}
	}
	if got := Sum(0.1, 0.2, 0.3, 0.15); got != 0.75 {
		t.Errorf("the sum is %v, want 0.75", got)
	}
}

func TestUpperInAnyScript(t *testing.T) {
	for s, want := range map[string]string{"écarlate": "Écarlate", "жёлтый": "Жёлтый", "": "", "7": "7"} {
		if got := English.Upper(s); got != want {
			t.Errorf("Upper(%q) = %q, want %q", s, got, want)
		}
	}
}

func TestSpansAndMoments(t *testing.T) {
	for d, want := range map[time.Duration]string{
		71 * time.Hour: "3" + NBSP + "days", 90 * time.Minute: "1" + NBSP + "h 30" + NBSP + "min",
		59*time.Minute + 31*time.Second: "1" + NBSP + "h", 47 * time.Hour: "47" + NBSP + "h",
	} {
		if got := English.Lasted(d); got != want {
			t.Errorf("%v is written %q, want %q", d, got, want)
		}
	}
	today := time.Date(2030, 5, 14, 9, 0, 0, 0, time.UTC)
	k := Clock{Language: English, Zone: time.UTC, Today: today}
	for at, want := range map[time.Time]string{
		today: "09:00", today.Add(16 * time.Hour): "15" + NBSP + "May, 01:00",
		today.AddDate(-1, 0, 0): "14" + NBSP + "May 2029, 09:00", {}: "",
	} {
		if got := k.At(at); got != want {
			t.Errorf("%v is written %q, want %q", at, got, want)
		}
	}
}
