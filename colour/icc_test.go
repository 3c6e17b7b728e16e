package colour

import (
	"encoding/binary"
	"errors"
	"math"
	"strings"
	"testing"
)

// iccFile builds a profile of version 2 by hand, after ICC.1:2001: three
// primaries and one curve for all channels.
func iccFile(space string, xyz [3][3]float64, curve []byte) []byte {
	be := binary.BigEndian
	names := []string{"desc", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC", "kTRC"}
	bodies := [][]byte{append([]byte("desc\x00\x00\x00\x00\x00\x00\x00\x05Test\x00"), make([]byte, 78)...)}
	for _, p := range xyz {
		b := []byte("XYZ \x00\x00\x00\x00")
		for _, v := range p {
			b = be.AppendUint32(b, uint32(int32(v*65536)))
		}
		bodies = append(bodies, b)
	}
	bodies = append(bodies, curve, curve, curve, curve)
	out := make([]byte, 132+12*len(names))
	be.PutUint32(out[128:], uint32(len(names)))
	for i, n := range names {
		e := out[132+12*i:]
		copy(e, n)
		be.PutUint32(e[4:], uint32(len(out)))
		be.PutUint32(e[8:], uint32(len(bodies[i])))
		out = append(out, bodies[i]...)
	}
	be.PutUint32(out, uint32(len(out)))
	out[8] = 2
	copy(out[12:], "mntr"+space+"XYZ ")
	copy(out[36:], "acsp")
	return out
}

// The D50-adapted primaries of sRGB and Adobe RGB (1998) as carried in the
// profiles that everyone distributes (from memory; s15Fixed16 values in the
// rXYZ, gXYZ and bXYZ tags).
var (
	srgbPrimaries = [3][3]float64{
		{0.43607, 0.22249, 0.01392},
		{0.38515, 0.71687, 0.09708},
		{0.14307, 0.06061, 0.71410},
	}
	adobePrimaries = [3][3]float64{
		{0.60974, 0.31111, 0.01947},
		{0.20528, 0.62567, 0.06087},
		{0.14919, 0.06322, 0.74457},
	}
)

func TestParseICC(t *testing.T) {
	gamma := []byte("curv\x00\x00\x00\x00\x00\x00\x00\x01\x02\x33") // 563/256
	p, err := ParseICC(iccFile("RGB ", adobePrimaries, gamma))
	if err != nil {
		t.Fatal(err)
	}
	if p.Name != "Test" || p.Grey {
		t.Errorf("name %q, grey %v", p.Name, p.Grey)
	}
	for _, v := range [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {0.5, 0.5, 0.5}, {0.2, 0.7, 0.4}, {1, 1, 1}} {
		if d := DE2000(p.Lab(v[0], v[1], v[2]), AdobeRGB().Lab(v[0], v[1], v[2])); d > 0.05 {
			t.Errorf("%v: %v, want %v", v, p.Lab(v[0], v[1], v[2]), AdobeRGB().Lab(v[0], v[1], v[2]))
		}
	}
	// sRGB's curve as a table of 1024 points, the way version 2 profiles carry it.
	table := []byte("curv\x00\x00\x00\x00\x00\x00\x04\x00")
	for i := range 1024 {
		c := srgbCurve()
		table = binary.BigEndian.AppendUint16(table, uint16(math.Round(c.at(float64(i)/1023)*65535)))
	}
	p, err = ParseICC(iccFile("RGB ", srgbPrimaries, table))
	if err != nil || !p.IsSRGB() {
		t.Errorf("sRGB by table: is sRGB %v, %v", p.IsSRGB(), err)
	}
	if AdobeRGB().IsSRGB() || DisplayP3().IsSRGB() || !SRGB().IsSRGB() {
		t.Error("IsSRGB does not tell wide spaces from sRGB")
	}
	p, err = ParseICC(iccFile("GRAY", srgbPrimaries, gamma))
	if err != nil || !p.Grey {
		t.Fatalf("grey profile: %v", err)
	}
	if lab := p.Lab(1, 1, 1); math.Abs(lab.L-100) > 1e-6 || lab.Chroma() > 1e-6 {
		t.Errorf("grey white is %v", lab)
	}
}

// Every kind of parametric curve, with sRGB's own numbers (ICC.1:2010 table 65).
func TestParametricCurves(t *testing.T) {
	s := []float64{2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045}
	for kind, c := range []struct {
		params []float64
		want   func(x float64) float64
	}{
		{[]float64{2.2}, func(x float64) float64 { return math.Pow(x, 2.2) }},
		{[]float64{2, 0.8, 0.2}, func(x float64) float64 { return (0.8*x + 0.2) * (0.8*x + 0.2) }},
		{[]float64{2, 0.8, 0.1, 0.1}, func(x float64) float64 { return (0.8*x+0.1)*(0.8*x+0.1) + 0.1 }},
		{s, func(x float64) float64 { return SRGB().Linear(x, x, x)[0] }},
		{append(append([]float64{}, s...), 0.01, 0.02), func(x float64) float64 {
			if x < 0.04045 {
				return x/12.92 + 0.02
			}
			return SRGB().Linear(x, x, x)[0] + 0.01
		}},
	} {
		b := append([]byte("para\x00\x00\x00\x00\x00"), byte(kind), 0, 0)
		for _, v := range c.params {
			b = appendFixed(b, v)
		}
		got, err := iccCurve(b)
		if err != nil {
			t.Errorf("kind %d: %v", kind, err)
			continue
		}
		for x := 0.0; x <= 1; x += 0.01 {
			if math.Abs(got.at(x)-c.want(x)) > 1e-4 {
				t.Errorf("kind %d at %g: %g, want %g", kind, x, got.at(x), c.want(x))
				break
			}
		}
	}
}

func TestOddProfiles(t *testing.T) {
	gamma := []byte("curv\x00\x00\x00\x00\x00\x00\x00\x01\x02\x33")
	good := iccFile("RGB ", srgbPrimaries, gamma)
	change := func(f func([]byte)) []byte {
		b := append([]byte{}, good...)
		f(b)
		return b
	}
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"nothing", nil, "not an ICC profile"},
		{"text", []byte(strings.Repeat("text", 100)), "not an ICC profile"},
		{"version 5", change(func(b []byte) { b[8] = 5 }), "version 5"},
		{"wild tag count", change(func(b []byte) { b[128] = 0xff }), "table of tags"},
		{"CMYK", change(func(b []byte) { copy(b[16:], "CMYK") }), ErrTableProfile.Error()},
		{"Lab connection space", change(func(b []byte) { copy(b[20:], "Lab ") }), ErrTableProfile.Error()},
		{"no red curve", change(func(b []byte) { copy(b[132+12*4:], "xxxx") }), "lacks a tone curve"},
		{"primaries all black", iccFile("RGB ", [3][3]float64{}, gamma), "add up"},
		{"primaries on a line", iccFile("RGB ",
			[3][3]float64{{0.3214, 1. / 3, 0.275}, {0.3214, 1. / 3, 0.275}, {0.3214, 1. / 3, 0.275}}, gamma),
			"one line"},
		{"falling curve",
			iccFile("RGB ", srgbPrimaries, []byte("curv\x00\x00\x00\x00\x00\x00\x00\x02\xff\xff\x00\x00")),
			"does not rise"},
		{"endless curve",
			iccFile("RGB ", srgbPrimaries, []byte("curv\x00\x00\x00\x00\x7f\x00\x00\x02\xff\xff\x00\x00")),
			"past its end"},
	} {
		p, err := ParseICC(c.data)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v; want an error with %q", c.name, p, err, c.says)
		}
	}
	if _, err := ParseICC(change(func(b []byte) { copy(b[16:], "CMYK") })); !errors.Is(err, ErrTableProfile) {
		t.Error("a CMYK profile is not ErrTableProfile")
	}
}

func TestICCRoundTrip(t *testing.T) {
	for _, p := range []*Profile{SRGB(), DisplayP3(), AdobeRGB()} {
		q, err := ParseICC(p.ICC())
		if err != nil || q.Name != p.Name {
			t.Errorf("%s written and read: %v, name %q", p.Name, err, q.Name)
			continue
		}
		for i := range 125 {
			r, g, b := float64(i%5)/4, float64(i/5%5)/4, float64(i/25)/4
			if d := DE76(p.Lab(r, g, b), q.Lab(r, g, b)); d > 0.05 {
				t.Errorf("%s at %g %g %g comes back %.3f off", p.Name, r, g, b, d)
			}
			x, y, z := p.Device(p.XYZ(r, g, b))
			if math.Abs(x-r)+math.Abs(y-g)+math.Abs(z-b) > 1e-6 {
				t.Errorf("%s: device %g %g %g comes back as %g %g %g", p.Name, r, g, b, x, y, z)
			}
		}
	}
}

func FuzzParseICC(f *testing.F) {
	f.Add(SRGB().ICC())
	f.Add(iccFile("RGB ", adobePrimaries, []byte("curv\x00\x00\x00\x00\x00\x00\x00\x01\x02\x33")))
	f.Add(iccFile("GRAY", srgbPrimaries, []byte("curv\x00\x00\x00\x00\x00\x00\x00\x02\x00\x00\xff\xff")))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := ParseICC(b)
		if err != nil {
			return
		}
		for i := range 8 {
			lab := p.Lab(float64(i&1), float64(i>>1&1), float64(i>>2))
			if math.IsNaN(lab.L) || math.IsInf(lab.L, 0) || math.IsNaN(lab.A) || math.IsNaN(lab.B) {
				t.Fatalf("corner %d is %v", i, lab)
			}
		}
		if _, err := ParseICC(p.ICC()); err != nil && !p.Grey {
			// Values beyond the fixed-point range cannot be written.
			for _, row := range p.toXYZ {
				for _, v := range row {
					if math.Abs(v) > 8 {
						return
					}
				}
			}
			t.Fatalf("written again it is refused: %v", err)
		}
	})
}
