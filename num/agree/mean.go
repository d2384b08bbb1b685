package agree

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Mean is the mean of successive values with an error that knows they are not
// independent.
type Mean struct {
	N         int     // values that were not NaN
	Value     float64 // NaN for none
	SD        float64 // NaN for fewer than two
	Effective float64 // effective number of independent values, 1 to N
	SE        float64 // SD/√Effective; NaN for fewer than two
}

// MeanOf returns the mean of successive values, leaving out NaN. Neighbouring
// strides are alike, so that their mean is less sure than SD/√n: the effective
// number is n/(1+2Σ(1-k/n)ρₖ) over the lags before the sum of two neighbouring
// autocorrelations turns negative (Geyer 1992, Stat Sci 7:473-483, from memory).
// An alternation (negative autocorrelation) is not allowed to make the mean look
// surer than that of independent values.
func MeanOf(values []float64) Mean {
	x := make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) {
			x = append(x, v)
		}
	}
	m := Mean{N: len(x), Value: math.NaN(), SD: math.NaN(), SE: math.NaN()}
	if len(x) == 0 {
		return m
	}
	m.Effective = 1
	if len(x) == 1 {
		m.Value = x[0]
		return m
	}
	m.Value, m.SD = stat.MeanStdDev(x, nil)
	m.Effective = effective(x, m.Value)
	m.SE = m.SD / math.Sqrt(m.Effective)
	return m
}

func effective(x []float64, mean float64) float64 {
	n := float64(len(x))
	variance := 0.0
	for _, v := range x {
		variance += sq(v - mean)
	}
	if variance == 0 {
		return n
	}
	rho := func(lag int) float64 {
		c := 0.0
		for i := lag; i < len(x); i++ {
			c += (x[i] - mean) * (x[i-lag] - mean)
		}
		return c / variance
	}
	// Past a third of the series the estimates are of too few pairs.
	inflation := 1.0
	for lag := 1; lag+1 <= len(x)/3; lag += 2 {
		a, b := rho(lag), rho(lag+1)
		if a+b <= 0 {
			break
		}
		inflation += 2 * ((1-float64(lag)/n)*a + (1-float64(lag+1)/n)*b)
	}
	return min(n, max(1, n/max(1, inflation)))
}

// NeededFor is how many independent values of the given spread give a mean whose
// 95 % confidence half-width is at most within: (1.96·sd/within)², rounded up.
// It returns 0 where within is not positive or sd is not known.
func NeededFor(sd, within float64) int {
	if !(within > 0) || math.IsNaN(sd) || math.IsInf(sd, 0) {
		return 0
	}
	n := math.Ceil(sq(1.96 * sd / within))
	if n > math.MaxInt32 {
		return math.MaxInt32
	}
	return max(1, int(n))
}

// StableFrom is the number of successive values after which the running mean
// enters the band mean ± band·SD of the whole series for good (sequential
// estimation; band 0.25 is usual). It returns 0 for fewer than two values. The
// answer can never exceed the number of values at hand, so a number near it says
// that the series is too short to tell.
func StableFrom(values []float64, band float64) int {
	m := MeanOf(values)
	if m.N < 2 {
		return 0
	}
	sum, n, last := 0.0, 0, 0
	for _, v := range values {
		if math.IsNaN(v) {
			continue
		}
		sum += v
		n++
		if math.Abs(sum/float64(n)-m.Value) > band*m.SD {
			last = n
		}
	}
	return last + 1
}
