package colour

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf16"
)

// Profile says what device values mean: one tone curve a channel, then a
// matrix to XYZ under D50. A grey profile has one curve, used for all three
// channels. The zero Profile is not usable; take SRGB, DisplayP3, AdobeRGB or
// ParseICC.
type Profile struct {
	Name string
	// Grey is set when the profile describes a one-channel picture.
	Grey   bool
	curves [3]curve
	toXYZ  Matrix
}

// XYZ returns the colour of device values 0 to 1 (clamped to that range).
func (p *Profile) XYZ(r, g, b float64) XYZ {
	return p.LinearXYZ(p.Linear(r, g, b))
}

// Linear returns device values with the tone curves undone.
func (p *Profile) Linear(r, g, b float64) [3]float64 {
	return [3]float64{p.curves[0].at(r), p.curves[1].at(g), p.curves[2].at(b)}
}

// LinearXYZ returns the colour of linear values.
func (p *Profile) LinearXYZ(v [3]float64) XYZ {
	w := p.toXYZ.Apply(v)
	return XYZ{w[0], w[1], w[2]}
}

// Lab returns CIELAB under D50 of device values 0 to 1.
func (p *Profile) Lab(r, g, b float64) Lab { return p.XYZ(r, g, b).Lab() }

// Device returns the device values 0 to 1 that show c; out of gamut channels
// are clipped. Tone curves are inverted by bisection, so it is for single
// colours, not for pictures.
func (p *Profile) Device(c XYZ) (r, g, b float64) {
	inv, ok := p.toXYZ.Inverse()
	if !ok {
		return 0, 0, 0
	}
	v := inv.Apply([3]float64{c.X, c.Y, c.Z})
	return p.curves[0].inverse(v[0]), p.curves[1].inverse(v[1]), p.curves[2].inverse(v[2])
}

// IsSRGB reports whether values under p look the same when taken for sRGB:
// within 0.2 dE00 on the corners and the grey axis.
func (p *Profile) IsSRGB() bool {
	s := SRGB()
	if p == s {
		return true
	}
	for i := range 16 {
		v := [3]float64{float64(i & 1), float64(i >> 1 & 1), float64(i >> 2 & 1)}
		if i >= 8 {
			v[0] = float64(i-7) / 8
			v[1], v[2] = v[0], v[0]
		}
		if DE2000(p.Lab(v[0], v[1], v[2]), s.Lab(v[0], v[1], v[2])) > 0.2 {
			return false
		}
	}
	return true
}

// curve maps a device value to linear light: a table when there is one, else
// the ICC parametric curve with seven parameters
// y = (a x + b)^g + e for x >= d, y = c x + f below.
type curve struct {
	table               []float64
	g, a, b, c, d, e, f float64
}

func (t *curve) at(x float64) float64 {
	x = math.Min(1, math.Max(0, x)) // NaN becomes 0 or 1, never an index
	if x != x {
		x = 0
	}
	if t.table != nil {
		pos := x * float64(len(t.table)-1)
		i := int(pos)
		if i >= len(t.table)-1 {
			return t.table[len(t.table)-1]
		}
		return t.table[i] + (pos-float64(i))*(t.table[i+1]-t.table[i])
	}
	if x < t.d {
		return t.c*x + t.f
	}
	return math.Pow(math.Max(0, t.a*x+t.b), t.g) + t.e
}

// inverse finds x with at(x) = y by bisection on a rising curve.
func (t *curve) inverse(y float64) float64 {
	lo, hi := 0.0, 1.0
	for range 50 {
		mid := (lo + hi) / 2
		if t.at(mid) < y {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func gammaCurve(g float64) curve { return curve{g: g, a: 1} }

// srgbCurve is the transfer function of IEC 61966-2-1:1999.
func srgbCurve() curve {
	return curve{g: 2.4, a: 1 / 1.055, b: 0.055 / 1.055, c: 1 / 12.92, d: 0.04045}
}

// rgbSpace builds a D50 profile from the xy chromaticities of the primaries
// and a D65 white.
func rgbSpace(name string, c curve, primaries [3][2]float64) *Profile {
	var m Matrix
	for j, p := range primaries {
		m[0][j], m[1][j], m[2][j] = p[0]/p[1], 1, (1-p[0]-p[1])/p[1]
	}
	inv, _ := m.Inverse()
	s := inv.Apply([3]float64{D65.X, D65.Y, D65.Z})
	for i := range m {
		for j := range m[i] {
			m[i][j] *= s[j]
		}
	}
	return &Profile{Name: name, curves: [3]curve{c, c, c}, toXYZ: Bradford(D65, D50).Times(m)}
}

var (
	srgb = rgbSpace("sRGB", srgbCurve(),
		[3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}})
	displayP3 = rgbSpace("Display P3", srgbCurve(),
		[3][2]float64{{0.680, 0.320}, {0.265, 0.690}, {0.150, 0.060}})
	adobeRGB = rgbSpace("Adobe RGB (1998)", gammaCurve(563.0/256),
		[3][2]float64{{0.64, 0.33}, {0.21, 0.71}, {0.15, 0.06}})
	linearSRGB = rgbSpace("linear sRGB", gammaCurve(1),
		[3][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}})
)

// SRGB is the profile taken when a picture carries none (IEC 61966-2-1:1999).
func SRGB() *Profile { return srgb }

// DisplayP3 has the primaries of SMPTE EG 432-1 with the sRGB curve and a D65
// white (primaries from memory).
func DisplayP3() *Profile { return displayP3 }

// AdobeRGB is the encoding of Adobe RGB (1998), which cameras mark by an
// interoperability tag alone (values from memory of that specification).
func AdobeRGB() *Profile { return adobeRGB }

// LinearSRGB has the sRGB primaries and no tone curve.
func LinearSRGB() *Profile { return linearSRGB }

// ErrTableProfile is returned for profiles that work by look-up table (those
// of printers and of CMYK), which this package does not evaluate.
var ErrTableProfile = errors.New("the colour profile works by look-up tables, not by curves and a matrix")

const (
	maxProfileBytes = 16 << 20
	maxProfileTags  = 200
	maxCurvePoints  = 1 << 16
)

// ParseICC reads an ICC profile of version 2 or 4 that describes RGB by three
// curves and a matrix, or grey by one curve (ICC.1:2010 sections 7 to 10).
// Other profiles give ErrTableProfile or an error that says what is wrong.
func ParseICC(data []byte) (*Profile, error) {
	if len(data) < 132 || string(data[36:40]) != "acsp" {
		return nil, errors.New("the colour profile is not an ICC profile")
	}
	if len(data) > maxProfileBytes {
		return nil, fmt.Errorf("the colour profile has %d bytes; at most %d are read", len(data), maxProfileBytes)
	}
	if v := data[8]; v != 2 && v != 4 {
		return nil, fmt.Errorf("the colour profile is of version %d; versions 2 and 4 are read", v)
	}
	tags, err := iccTags(data)
	if err != nil {
		return nil, err
	}
	p := &Profile{Name: iccName(tags["desc"])}
	space, pcs := string(data[16:20]), string(data[20:24])
	switch {
	case space == "GRAY" && tags["kTRC"] != nil:
		c, err := iccCurve(tags["kTRC"])
		if err != nil {
			return nil, err
		}
		p.Grey, p.curves = true, [3]curve{c, c, c}
		// A grey value scales the white; which of the three equal channels
		// carries it does not matter.
		p.toXYZ = Matrix{{D50.X / 3, D50.X / 3, D50.X / 3}, {1. / 3, 1. / 3, 1. / 3}, {D50.Z / 3, D50.Z / 3, D50.Z / 3}}
		return p, nil
	case space == "RGB " && pcs == "XYZ " && tags["rXYZ"] != nil:
		return p, p.readMatrix(tags)
	}
	return nil, ErrTableProfile
}

func iccTags(data []byte) (map[string][]byte, error) {
	n := int(binary.BigEndian.Uint32(data[128:]))
	if n < 0 || n > maxProfileTags || 132+12*n > len(data) {
		return nil, errors.New("the colour profile's table of tags is damaged")
	}
	tags := make(map[string][]byte, n)
	for i := range n {
		e := data[132+12*i:]
		off, size := uint64(binary.BigEndian.Uint32(e[4:])), uint64(binary.BigEndian.Uint32(e[8:]))
		if off+size > uint64(len(data)) || size < 8 {
			continue // a damaged tag matters only when it is one we need
		}
		tags[string(e[:4])] = data[off : off+size]
	}
	return tags, nil
}

func (p *Profile) readMatrix(tags map[string][]byte) error {
	for j, ch := range []string{"r", "g", "b"} {
		col := tags[ch+"XYZ"]
		if len(col) < 20 || string(col[:4]) != "XYZ " {
			return fmt.Errorf("the colour profile lacks its %sXYZ primary", ch)
		}
		for i := range 3 {
			p.toXYZ[i][j] = s15Fixed16(col[8+4*i:])
		}
		c, err := iccCurve(tags[ch+"TRC"])
		if err != nil {
			return err
		}
		p.curves[j] = c
	}
	return p.centreWhite()
}

// centreWhite makes the sum of the primaries exactly D50, so that equal device
// values are exactly neutral. Profiles round to 1/65536, and some old ones
// forget the adaptation; more than a tenth off is taken for damage.
func (p *Profile) centreWhite() error {
	w := p.toXYZ.Apply([3]float64{1, 1, 1})
	white := XYZ{w[0], w[1], w[2]}
	if math.Abs(white.Y-1) > 0.1 || math.Abs(white.X-D50.X) > 0.1 || math.Abs(white.Z-D50.Z) > 0.35 {
		return errors.New("the colour profile's primaries do not add up to its white")
	}
	if _, ok := p.toXYZ.Inverse(); !ok {
		return errors.New("the colour profile's primaries lie on one line")
	}
	p.toXYZ = Bradford(white, D50).Times(p.toXYZ)
	return nil
}

func s15Fixed16(b []byte) float64 {
	return float64(int32(binary.BigEndian.Uint32(b))) / 65536
}

// iccCurve reads a curveType or parametricCurveType (ICC.1:2010 sections 10.5
// and 10.15).
func iccCurve(b []byte) (curve, error) {
	if len(b) < 12 {
		return curve{}, errors.New("the colour profile lacks a tone curve")
	}
	switch string(b[:4]) {
	case "curv":
		return iccTable(b)
	case "para":
		return iccParametric(b)
	}
	return curve{}, fmt.Errorf("the colour profile has a tone curve of unknown type %q", b[:4])
}

func iccTable(b []byte) (curve, error) {
	n := int(binary.BigEndian.Uint32(b[8:]))
	if n < 0 || n > maxCurvePoints || 12+2*n > len(b) {
		return curve{}, errors.New("the colour profile has a tone curve that runs past its end")
	}
	switch n {
	case 0:
		return gammaCurve(1), nil
	case 1:
		g := float64(binary.BigEndian.Uint16(b[12:])) / 256
		if g < 0.1 || g > 10 {
			return curve{}, fmt.Errorf("the colour profile has the impossible gamma %g", g)
		}
		return gammaCurve(g), nil
	}
	t := make([]float64, n)
	for i := range t {
		t[i] = float64(binary.BigEndian.Uint16(b[12+2*i:])) / 65535
	}
	if t[n-1] <= t[0] {
		return curve{}, errors.New("the colour profile has a tone curve that does not rise")
	}
	return curve{table: t}, nil
}

func iccParametric(b []byte) (curve, error) {
	kind := int(binary.BigEndian.Uint16(b[8:]))
	counts := [...]int{1, 3, 4, 5, 7}
	if kind >= len(counts) || len(b) < 12+4*counts[kind] {
		return curve{}, fmt.Errorf("the colour profile has a parametric curve of unknown kind %d", kind)
	}
	var v [7]float64
	for i := range counts[kind] {
		v[i] = s15Fixed16(b[12+4*i:])
	}
	c := curve{g: v[0], a: 1}
	if kind > 0 {
		c.a, c.b = v[1], v[2]
	}
	switch kind {
	case 1, 2: // y = (ax+b)^g + c above -b/a, c below
		if c.a == 0 {
			return curve{}, errors.New("the colour profile has a parametric curve without slope")
		}
		c.d, c.e, c.f = -c.b/c.a, v[3], v[3]
	case 3: // y = (ax+b)^g above d, cx below
		c.c, c.d = v[3], v[4]
	case 4: // y = (ax+b)^g + e above d, cx + f below
		c.c, c.d, c.e, c.f = v[3], v[4], v[5], v[6]
	}
	if c.g <= 0 || c.g > 10 || math.Abs(c.at(1)) > 4 || c.at(1) <= c.at(0) {
		return curve{}, errors.New("the colour profile has a parametric curve that does not rise")
	}
	return c, nil
}

// iccName reads a version 2 desc or a version 4 mluc tag; "" when it cannot.
func iccName(b []byte) string {
	if len(b) < 12 {
		return ""
	}
	switch string(b[:4]) {
	case "desc":
		n := int(binary.BigEndian.Uint32(b[8:]))
		if n < 1 || 12+n > len(b) {
			return ""
		}
		return cleanName(string(b[12 : 12+n]))
	case "mluc":
		if len(b) < 28 {
			return ""
		}
		size, off := uint64(binary.BigEndian.Uint32(b[20:])), uint64(binary.BigEndian.Uint32(b[24:]))
		if off+size > uint64(len(b)) || size > 400 {
			return ""
		}
		u := make([]uint16, size/2)
		for i := range u {
			u[i] = binary.BigEndian.Uint16(b[off+uint64(2*i):])
		}
		return cleanName(string(utf16.Decode(u)))
	}
	return ""
}

func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == 0xfffd {
			return -1
		}
		return r
	}, s)
	if len(s) > 100 {
		s = strings.ToValidUTF8(s[:100], "")
	}
	return strings.TrimSpace(s)
}

// ToLinearSRGB returns the matrix from p's linear values to linear sRGB.
func (p *Profile) ToLinearSRGB() Matrix {
	inv, _ := srgb.toXYZ.Inverse()
	return inv.Times(p.toXYZ)
}
