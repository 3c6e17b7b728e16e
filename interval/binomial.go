package interval

import "math"

// z975 is the 97.5 % point of the standard normal distribution.
const z975 = 1.959963984540054

// Proportion is the share of k in n, with the ends of its 95 % interval by Wilson's
// score method: the shares p of which k lies within 1.96 standard deviations,
// (p - k/n)^2 = z^2 p (1-p)/n (Wilson, Journal of the American Statistical
// Association 22, 209, 1927; recommended for small n by Brown, Cai and DasGupta,
// Statistical Science 16, 101, 2001). It lies within 0 to 1. Without any (n of 0) all
// shares are possible. Unlike other ranges its ends are for 95 %.
func Proportion(k, n int) Range { return proportion(k, n, z975) }

func proportion(k, n int, z float64) Range {
	if n <= 0 {
		return Range{Low: 0, Best: 0.5, High: 1}
	}
	p, m := float64(k)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return Range{Low: math.Min(math.Max(0, mid-half), p), Best: p, High: math.Max(math.Min(1, mid+half), p)}
}
