// Package meter judges a pH meter by the buffers it was checked in, and says
// what a reading taken with it is worth.
//
// Its nouns. A Buffer is a standard solution of published pH at each
// temperature. A Point is what the meter showed in one buffer. A Check is the
// points of one occasion; a Calibration is what follows from it: slope, offset,
// residual. A Reading is a value shown, corrected, with its 10 to 90 % range.
package meter

import (
	"embed"
	"encoding/csv"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"sync"

	"benchleaf/interval"
)

//go:embed data/ph-standard-buffers.csv
var data embed.FS

// Buffer is a standard buffer, by its name in the table of published values.
type Buffer string

// The buffers, with the pH at 25 °C that bottles of them show.
const (
	Tetroxalate Buffer = "tetroxalate 0.05 m"                             // 1.68
	Phthalate   Buffer = "phthalate 0.05 m"                               // 4.01
	Phosphate   Buffer = "phosphate 0.025 m + 0.025 m"                    // 6.86
	Borax       Buffer = "borax 0.01 m"                                   // 9.18
	Carbonate   Buffer = "carbonate 0.025 m + 0.025 m"                    // 10.01
	Lime        Buffer = "calcium hydroxide saturated at 25 C (0.0203 m)" // 12.45; one solution, filtered
)

// Buffers lists the standard buffers from acid to alkaline.
func Buffers() []Buffer {
	return []Buffer{Tetroxalate, Phthalate, Phosphate, Borax, Carbonate, Lime}
}

// bufferWithin is how far a buffer from a fresh bottle may be from its
// published value, either way: the published tables differ by that much among
// themselves, and suppliers state 0.01 to 0.02.
const bufferWithin = 0.01

// PH is the buffer's published pH at t, in °C, interpolated between the table's
// temperatures, with 0.01 either way.
//
// Bates, Determination of pH, 2nd ed. (1973), as in Wu, Koch and Durst, NBS
// Special Publication 260-53 (1988); the table's basis is memory, and its other
// columns, read in copies of HJ 1147-2020 and JIS Z 8802, agree within
// 0.015. Errors: no such buffer, or a temperature outside its table.
func (b Buffer) PH(t float64) (interval.Range, error) {
	s, ok := series()[b]
	if !ok {
		var names []string
		for _, x := range Buffers() {
			names = append(names, string(x))
		}
		return interval.Range{}, fmt.Errorf(
			"the buffer %q is not in the table: use one of %s, or give the pH printed on its bottle",
			b,
			strings.Join(names, "; "),
		)
	}
	if !(t >= s[0].t && t <= s[len(s)-1].t) {
		return interval.Range{}, fmt.Errorf(
			"the buffer %s is tabulated from %g to %g °C, not at %g °C",
			b,
			s[0].t,
			s[len(s)-1].t,
			t,
		)
	}
	i := sort.Search(len(s), func(i int) bool { return s[i].t >= t })
	if i == 0 {
		return interval.Within(s[0].ph, bufferWithin), nil
	}
	p, q := s[i-1], s[i]
	return interval.Within(p.ph+(q.ph-p.ph)*(t-p.t)/(q.t-p.t), bufferWithin), nil
}

// BufferNamed is the standard buffer whose pH at 25 °C is within 0.02 of the
// nominal value on a bottle. It is false for the suppliers' own buffers (7.00,
// 10.00): their pH at other temperatures is printed on the bottle.
func BufferNamed(nominal float64) (Buffer, bool) {
	for _, b := range Buffers() {
		if r, err := b.PH(25); err == nil && math.Abs(r.Best-nominal) <= 0.02 && nominal != 10 {
			return b, true
		}
	}
	return "", false
}

type tabulated struct{ t, ph float64 }

var series = sync.OnceValue(func() map[Buffer][]tabulated {
	all := map[Buffer][]tabulated{}
	for _, r := range rows() {
		if r["unit"] == "pH(S)" && r["temperature_C"] != "" && strings.HasPrefix(r["source"], "Bates") {
			b := Buffer(r["buffer"])
			all[b] = append(all[b], tabulated{number(r["temperature_C"]), number(r["value"])})
		}
	}
	for _, s := range all {
		sort.Slice(s, func(i, j int) bool { return s[i].t < s[j].t })
	}
	return all
})

// rows reads the embedded table; a broken one is a broken program.
func rows() []map[string]string {
	f, err := data.Open("data/ph-standard-buffers.csv")
	if err != nil {
		panic(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		panic(err)
	}
	var out []map[string]string
	for _, line := range lines[1:] {
		one := map[string]string{}
		for i, c := range lines[0] {
			one[c] = line[i]
		}
		out = append(out, one)
	}
	return out
}

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(err)
	}
	return v
}
