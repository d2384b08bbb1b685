package agree

import (
	"fmt"
	"math"
)

// CMC is the coefficient of multiple correlation of curves that should be alike,
// one row a stride on the same points (Kadaba et al. 1989, J Orthop Res
// 7:849-860, within-day form, from memory): 1 for identical curves. It falls
// with a small range as well as with poor repetition, and where the root is of a
// negative number it is not defined: NaN.
func CMC(curves [][]float64) (float64, error) {
	n := len(curves)
	if n < 2 {
		return 0, fmt.Errorf("a coefficient of multiple correlation needs at least two curves, not %d", n)
	}
	t := len(curves[0])
	if t < 2 {
		return 0, fmt.Errorf("the curves need at least two points, not %d", t)
	}
	mean := make([]float64, t)
	grand := 0.0
	for i, c := range curves {
		if len(c) != t {
			return 0, fmt.Errorf("curve %d has %d points where the first has %d", i+1, len(c), t)
		}
		for j, v := range c {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return 0, fmt.Errorf("curve %d has no value at point %d", i+1, j+1)
			}
			mean[j] += v / float64(n)
			grand += v / float64(n*t)
		}
	}
	about, total := 0.0, 0.0
	for _, c := range curves {
		for j, v := range c {
			about += sq(v - mean[j])
			total += sq(v - grand)
		}
	}
	about /= float64(t * (n - 1))
	total /= float64(n*t - 1)
	if total == 0 {
		return math.NaN(), nil
	}
	return math.Sqrt(1 - about/total), nil // NaN for a negative radicand
}

// RMSE is the root mean square difference of two curves over the points where
// both have a value; NaN where there is none.
func RMSE(a, b []float64) float64 {
	ss, n := 0.0, 0
	for i := range min(len(a), len(b)) {
		if d := a[i] - b[i]; !math.IsNaN(d) {
			ss += d * d
			n++
		}
	}
	return math.Sqrt(ss / float64(n))
}
