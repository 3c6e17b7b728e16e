package colour

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// FitKind is the form of a colour correction.
type FitKind string

// The forms.
const (
	// Matrix3 maps linear red, green and blue to XYZ by a 3 by 3 matrix.
	Matrix3 FitKind = "matrix"
	// RootPolynomial adds the roots of the products of two channels (Finlayson,
	// Mackiewicz and Hurlbert, Color correction using root-polynomial
	// regression, IEEE Transactions on Image Processing 24(5), 2015, degree 2).
	// Like a matrix, it scales with exposure.
	RootPolynomial FitKind = "root polynomial"
	// GreyCard scales the three channels by one patch of known grey.
	GreyCard FitKind = "grey card"
	// WhitePaper scales the three channels by a paper that is taken for white.
	WhitePaper FitKind = "white paper"
)

// Reading is what the camera saw of a patch: linear values, 0 to 1, with the
// primaries of the picture's profile.
type Reading struct {
	RGB [3]float64
	// Spread is how far the patch is from even: half the distance between its
	// 16th and 84th percentile in the channel where that is largest, as a share
	// of the mean. Noise alone gives a few hundredths.
	Spread float64
	// Clipped is set when part of the patch is over or under exposed; the patch
	// is left out of a fit.
	Clipped bool
}

// Correction maps a camera's linear values to XYZ under D50.
type Correction struct {
	Kind FitKind
	// Exponent is applied to linear values first: what the camera's tone curve
	// departs from the one its profile names. 1 where it was not fitted.
	Exponent float64
	coef     [3][]float64
	// Used is the number of patches the correction rests on.
	Used int
	// LeaveOneOut is the dE00 of each patch used under the correction made
	// without it, in the order of the chart; nil where nothing was left out.
	LeaveOneOut []float64
	// kept are the median and the 95th percentile of LeaveOneOut, where only
	// they were kept; nil otherwise.
	kept *[2]float64
	// Knows is a sentence about what the correction rests on and how far colours
	// may be trusted.
	Knows string
}

// Median returns the median leave-one-out error, NaN where there is none.
func (c *Correction) Median() float64 {
	if c.kept != nil {
		return c.kept[0]
	}
	return middle(c.LeaveOneOut, 0.5)
}

// P95 returns the 95th percentile of the leave-one-out errors, NaN without.
func (c *Correction) P95() float64 {
	if c.kept != nil {
		return c.kept[1]
	}
	return middle(c.LeaveOneOut, 0.95)
}

func middle(vs []float64, q float64) float64 {
	if len(vs) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(vs))
	at := q * float64(len(s)-1)
	i := int(at)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (at-float64(i))*(s[i+1]-s[i])
}

// XYZ applies the correction.
func (c *Correction) XYZ(rgb [3]float64) XYZ {
	if c.Exponent != 1 {
		for i, v := range rgb {
			rgb[i] = math.Pow(math.Max(0, v), c.Exponent)
		}
	}
	t := c.terms(rgb)
	var out [3]float64
	for i := range out {
		for k, w := range c.coef[i] {
			out[i] += w * t[k]
		}
	}
	return XYZ{out[0], out[1], out[2]}
}

func (c *Correction) terms(v [3]float64) [6]float64 { return fitTerms(c.Kind, v) }

// Coefficients are the rows for X, Y and Z: a weight for each of red, green and
// blue, and for a root polynomial also for the roots of red times green, green
// times blue and red times blue. With Kind and Exponent they are the whole
// correction.
func (c *Correction) Coefficients() [3][]float64 {
	var out [3][]float64
	for i := range out {
		out[i] = slices.Clone(c.coef[i])
	}
	return out
}

// NewCorrection makes a correction from what was kept of one. The exponent must
// lie between 0.5 and 2, and the rows must have six finite weights for a root
// polynomial and three otherwise.
//
// The correction knows no leave-one-out errors; Kept gives it those.
func NewCorrection(kind FitKind, exponent float64, coefficients [3][]float64) (*Correction, error) {
	n := 3
	switch kind {
	case RootPolynomial:
		n = 6
	case Matrix3, GreyCard, WhitePaper:
	default:
		return nil, fmt.Errorf("a colour correction of the kind %q is not known", clip(string(kind)))
	}
	if !(exponent >= 0.5 && exponent <= 2) {
		return nil, fmt.Errorf("a colour correction has the tone exponent %g; it lies between 0.5 and 2", exponent)
	}
	c := &Correction{Kind: kind, Exponent: exponent}
	for i, row := range coefficients {
		if len(row) != n {
			return nil, fmt.Errorf(
				"a colour correction by %s has %d weights in row %d; it needs %d",
				kind,
				len(row),
				i+1,
				n,
			)
		}
		for _, v := range row {
			if math.IsNaN(v) || math.Abs(v) > 1e4 {
				return nil, fmt.Errorf("a colour correction has the impossible weight %g", v)
			}
		}
		c.coef[i] = slices.Clone(row)
	}
	return c, nil
}

// Kept gives a correction the median and the 95th percentile of its leave-one-out
// errors, in dE00, as they were kept of it.
func (c *Correction) Kept(median, p95 float64) { c.kept = &[2]float64{median, p95} }

// Into returns the part of the correction that comes after the tone exponent,
// as a function from linear values raised to Exponent to linear values of p.
func (c *Correction) Into(p *Profile) func(rgb [3]float32) [3]float32 {
	inv, _ := p.toXYZ.Inverse() // every profile's primaries span the colours
	var m [3][6]float32
	for i := range m {
		for k := range c.coef[0] {
			m[i][k] = float32(inv[i][0]*c.coef[0][k] + inv[i][1]*c.coef[1][k] + inv[i][2]*c.coef[2][k])
		}
	}
	roots := c.Kind == RootPolynomial
	return func(v [3]float32) (out [3]float32) {
		for i := range out {
			out[i] = m[i][0]*v[0] + m[i][1]*v[1] + m[i][2]*v[2]
		}
		if roots {
			r, s, t := sqrt32(max(0, v[0]*v[1])), sqrt32(max(0, v[1]*v[2])), sqrt32(max(0, v[0]*v[2]))
			for i := range out {
				out[i] += m[i][3]*r + m[i][4]*s + m[i][5]*t
			}
		}
		return out
	}
}

// Expect is how far a colour may be off, in dE00: what half the colours keep
// to, and what all but one in twenty do. For a fit to a chart they are its
// leave-one-out errors. For one grey and for a white they are rules of thumb
// (common practice, no source), since nothing in the picture tells.
func (c *Correction) Expect() (half, most float64) {
	switch c.Kind {
	case GreyCard:
		return 4, 8
	case WhitePaper:
		return 6, 12
	}
	return c.Median(), c.P95()
}

func fitTerms(kind FitKind, v [3]float64) [6]float64 {
	t := [6]float64{v[0], v[1], v[2]}
	if kind == RootPolynomial {
		root := func(x float64) float64 { return math.Sqrt(math.Max(0, x)) }
		t[3], t[4], t[5] = root(v[0]*v[1]), root(v[1]*v[2]), root(v[0]*v[2])
	}
	return t
}

// Refusals of a fit.
var (
	ErrFewPatches = errors.New(
		"too few patches are well exposed for a fit; at least nine are needed for a matrix and fifteen for a root " +
			"polynomial",
	)
	ErrFlatChart = errors.New("the patches hardly differ in colour, so the chart is not where it was looked for")
)

// FitChart fits both forms and returns the one with the smaller leave-one-out
// error. Patches and readings go together by index; clipped readings are left
// out. The tone exponent is fitted too, between 0.6 and 1.6.
func FitChart(patches []Patch, readings []Reading) (*Correction, error) {
	best, err := Fit(Matrix3, patches, readings)
	if err != nil {
		return nil, err
	}
	if root, err := Fit(RootPolynomial, patches, readings); err == nil && root.Median() < best.Median() {
		best = root
	}
	return best, nil
}

// Fit fits one form by least squares in XYZ, weighed so that equal errors of
// lightness count alike (dL is dY times Y^-2/3), for the tone exponent with the
// least median leave-one-out error.
func Fit(kind FitKind, patches []Patch, readings []Reading) (*Correction, error) {
	if len(patches) != len(readings) {
		return nil, fmt.Errorf("the chart has %d patches and %d were read", len(patches), len(readings))
	}
	least := 9
	if kind == RootPolynomial {
		least = 15
	}
	var ps []Patch
	var rs []Reading
	for i, r := range readings {
		ok := !r.Clipped
		for _, v := range r.RGB {
			ok = ok && v > 0 && v <= 1.5
		}
		if ok {
			ps, rs = append(ps, patches[i]), append(rs, r)
		}
	}
	if len(ps) < least {
		return nil, ErrFewPatches
	}
	var best *Correction
	score := math.Inf(1)
	try := func(exponent float64) {
		c, err := fitAt(kind, exponent, ps, rs)
		if err != nil {
			return
		}
		// The mean beside the median keeps the search from chasing one patch.
		if s := c.Median() + 0.25*mean(c.LeaveOneOut); s < score {
			best, score = c, s
		}
	}
	for e := 0.6; e < 1.61; e += 0.1 {
		try(e)
	}
	if best == nil {
		return nil, ErrFlatChart
	}
	for step := 0.05; step > 0.004; step /= 2 {
		centre := best.Exponent
		try(centre - step)
		try(centre + step)
	}
	best.Knows = fmt.Sprintf(
		"Fitted to %d patches of a chart by a %s: a colour left out of the fit comes back within %.1f dE00 in the "+
			"middle and %.1f at the worst twentieth.",
		best.Used,
		kind,
		best.Median(),
		best.P95(),
	)
	return best, nil
}

func mean(vs []float64) float64 {
	sum := 0.0
	for _, v := range vs {
		sum += v
	}
	return sum / float64(len(vs))
}

// fitAt fits for one exponent. Leaving one patch out changes a least-squares
// answer by a formula, r/(1-h) with h the patch's leverage, so that one fit
// gives all the errors.
func fitAt(kind FitKind, exponent float64, patches []Patch, readings []Reading) (*Correction, error) {
	n, k := len(patches), 3
	if kind == RootPolynomial {
		k = 6
	}
	a, b := mat.NewDense(n, k, nil), mat.NewDense(n, 3, nil)
	weight := make([]float64, n)
	for i, p := range patches {
		weight[i] = math.Pow(math.Max(0, p.XYZ.Y)+0.01, -2.0/3)
		v := readings[i].RGB
		for c := range v {
			v[c] = math.Pow(v[c], exponent)
		}
		for j, t := range fitTerms(kind, v) {
			if j < k {
				a.Set(i, j, weight[i]*t)
			}
		}
		for j, x := range [3]float64{p.XYZ.X, p.XYZ.Y, p.XYZ.Z} {
			b.Set(i, j, weight[i]*x)
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return nil, ErrFlatChart
	}
	values := svd.Values(nil)
	if values[2] < 1e-3*values[0] || values[k-1] < 1e-9*values[0] {
		return nil, ErrFlatChart
	}
	var x mat.Dense
	svd.SolveTo(&x, b, k)
	c := &Correction{Kind: kind, Exponent: exponent, Used: n, LeaveOneOut: make([]float64, n)}
	for i := range c.coef {
		c.coef[i] = make([]float64, k)
		for j := range c.coef[i] {
			c.coef[i][j] = x.At(j, i)
		}
	}
	var u mat.Dense
	svd.UTo(&u)
	for i, p := range patches {
		h := 0.0
		for j := range k {
			h += u.At(i, j) * u.At(i, j)
		}
		got := c.XYZ(readings[i].RGB)
		f := h / math.Max(1e-6, 1-h)
		without := XYZ{got.X + f*(got.X-p.XYZ.X), got.Y + f*(got.Y-p.XYZ.Y), got.Z + f*(got.Z-p.XYZ.Z)}
		c.LeaveOneOut[i] = DE2000(p.XYZ.Lab(), without.Lab())
	}
	return c, nil
}

// FromGreyCard makes a correction from one grey of known lightness L, read in a
// picture of profile p: exposure and grey balance are set, the camera's own
// rendering of colour stays.
func FromGreyCard(p *Profile, r Reading, lightness float64) (*Correction, error) {
	if lightness < 10 || lightness > 99 {
		return nil, fmt.Errorf("the grey card's lightness is %g; a card has L* between 10 and 99", lightness)
	}
	c, err := scaled(GreyCard, p, r, Lab{L: lightness}.XYZ())
	if err != nil {
		return nil, err
	}
	c.Knows = "Set by one grey card: exposure and grey balance are known, colours are rendered as the camera does " +
		"it. Differences between two photographs set so hold to about 1 dE00 for paper and browns; a colour by " +
		"itself is off by about 4 dE00 and may be by 8 (common practice, no source)."
	return c, nil
}

// FromWhitePaper makes a correction from a paper that is taken for white, L* 96
// without hue, read in a picture of profile p.
func FromWhitePaper(p *Profile, r Reading) (*Correction, error) {
	c, err := scaled(WhitePaper, p, r, Lab{L: 96}.XYZ())
	if err != nil {
		return nil, err
	}
	c.Knows = "Set by a paper taken for white: what hue it has is unknown and passes into every colour, brighteners " +
		"make it bluer than it looks. Compare only photographs that show the same paper; a colour by itself is off " +
		"by about 6 dE00 and may be by 12 (common practice, no source)."
	return c, nil
}

// scaled keeps the profile's primaries and scales the channels so that the
// reading becomes the wanted colour.
func scaled(kind FitKind, p *Profile, r Reading, want XYZ) (*Correction, error) {
	if r.Clipped {
		return nil, errors.New(
			"the grey or white is over- or underexposed in the picture; photograph it with less or more light",
		)
	}
	to := p.toXYZ
	if p.Grey {
		to = srgb.toXYZ // its channels are always equal: any primaries serve
	}
	inv, _ := to.Inverse()
	lin := inv.Apply([3]float64{want.X, want.Y, want.Z})
	c := &Correction{Kind: kind, Exponent: 1, Used: 1}
	for i := range c.coef {
		c.coef[i] = make([]float64, 3)
	}
	for j, v := range r.RGB {
		if v < 0.004 {
			return nil, errors.New("the grey or white is almost black in the picture; point at the card itself")
		}
		for i := range c.coef {
			c.coef[i][j] = to[i][j] * lin[j] / v
		}
	}
	return c, nil
}
