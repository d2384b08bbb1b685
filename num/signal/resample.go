package signal

import (
	"math"
	"slices"
)

// At returns x at time t by cubic interpolation through the four samples around
// it (the slopes at the two inner ones are those of the parabolas through their
// neighbours). At the ends, and next to a missing sample, it falls back to fewer
// points. Outside the clock, or where either sample around t is missing, it
// returns NaN.
func At(timeS, x []float64, t float64) float64 {
	n := len(timeS)
	if n == 0 || t < timeS[0] || t > timeS[n-1] || math.IsNaN(t) {
		return math.NaN()
	}
	i, found := slices.BinarySearch(timeS, t)
	if found {
		return x[i]
	}
	return between(timeS, x, i-1, t)
}

// between interpolates within the interval from sample i to sample i+1.
func between(timeS, x []float64, i int, t float64) float64 {
	h := timeS[i+1] - timeS[i]
	d := (x[i+1] - x[i]) / h
	ma, mb := d, d
	if i > 0 && !math.IsNaN(x[i-1]) {
		hl := timeS[i] - timeS[i-1]
		ma = (h*(x[i]-x[i-1])/hl + hl*d) / (hl + h)
	}
	if i+2 < len(x) && !math.IsNaN(x[i+2]) {
		hr := timeS[i+2] - timeS[i+1]
		mb = (h*(x[i+2]-x[i+1])/hr + hr*d) / (hr + h)
	}
	return hermite((t-timeS[i])/h, h, x[i], x[i+1], ma, mb)
}

// Resample writes to dst the values of x, given at the times timeS, at the times
// atS, both increasing; see [At] for the interpolation. dst must be as long as
// atS.
func Resample(dst, timeS, x, atS []float64) {
	if len(dst) != len(atS) || len(x) != len(timeS) {
		panic("signal: Resample: times and values differ in length")
	}
	n := len(timeS)
	i := 0
	for k, t := range atS {
		if n == 0 || t < timeS[0] || t > timeS[n-1] {
			dst[k] = math.NaN()
			continue
		}
		for i+1 < n-1 && timeS[i+1] <= t {
			i++
		}
		switch {
		case timeS[i] == t || n == 1:
			dst[k] = x[i]
		case timeS[i+1] == t:
			dst[k] = x[i+1]
		default:
			dst[k] = between(timeS, x, i, t)
		}
	}
}

// EvenGrid returns the even clock that best carries signals given at timeS: from
// the first time to the last, at the median frame interval, or a little less so
// that both ends are on it. It returns nil for fewer than two times.
func EvenGrid(timeS []float64) []float64 {
	if len(timeS) < 2 {
		return nil
	}
	d := make([]float64, len(timeS)-1)
	for i := range d {
		d[i] = timeS[i+1] - timeS[i]
	}
	span := timeS[len(timeS)-1] - timeS[0]
	n := int(math.Ceil(span/medianInPlace(d)-1e-6)) + 1
	n = min(max(n, 2), 16*len(timeS))
	out := make([]float64, n)
	for i := range out {
		out[i] = timeS[0] + span*float64(i)/float64(n-1)
	}
	return out
}

// Even tells whether the clock is even: no interval departs from the mean by
// more than a thousandth of it.
func Even(timeS []float64) bool {
	n := len(timeS)
	if n < 3 {
		return true
	}
	h := (timeS[n-1] - timeS[0]) / float64(n-1)
	for i, t := range timeS {
		if math.Abs(t-timeS[0]-h*float64(i)) > 1e-3*h*math.Sqrt(float64(1+i)) {
			return false
		}
	}
	for i := 1; i < n; i++ {
		if math.Abs(timeS[i]-timeS[i-1]-h) > 1e-3*h {
			return false
		}
	}
	return true
}

// Normalise writes to dst the values of x from time fromS to time toS at
// len(dst) evenly spaced points, both ends included: with 101 points, one for
// each per cent of a stride. Points where x is missing are NaN.
func Normalise(dst, timeS, x []float64, fromS, toS float64) {
	for k := range dst {
		u := 0.0
		if len(dst) > 1 {
			u = float64(k) / float64(len(dst)-1)
		}
		dst[k] = At(timeS, x, fromS+u*(toS-fromS))
	}
}

// Smoother smooths signals that share one clock, even or not. It is not safe for
// use by several goroutines at once.
type Smoother struct {
	timeS  []float64
	grid   []float64 // nil where the clock is even
	rateHz float64
	onGrid []float64
	last   *ZeroLag // the filter of last time, whose scratch memory the next one takes
}

// NewSmoother returns a smoother for signals at the given times, which must
// increase.
func NewSmoother(timeS []float64) *Smoother {
	s := &Smoother{timeS: timeS}
	n := len(timeS)
	if n < 2 {
		return s
	}
	s.rateHz = float64(n-1) / (timeS[n-1] - timeS[0])
	if !Even(timeS) {
		s.grid = EvenGrid(timeS)
		s.rateHz = float64(len(s.grid)-1) / (timeS[n-1] - timeS[0])
		s.onGrid = make([]float64, len(s.grid))
	}
	return s
}

// RateHz returns the rate of the even clock the smoother works on; 0 for fewer
// than two times.
func (s *Smoother) RateHz() float64 { return s.rateHz }

// LowPass writes src, smoothed at cutoffHz, to dst, which may be src. A cut-off
// of 45 % of the rate or more leaves the signal as it is, there being nothing
// above it to cut. It returns an error for a cut-off that is not above 0.
func (s *Smoother) LowPass(dst, src []float64, cutoffHz float64) error {
	if len(dst) != len(s.timeS) || len(src) != len(s.timeS) {
		panic("signal: Smoother.LowPass: a signal is not as long as the clock")
	}
	if cutoffHz >= 0.45*s.rateHz {
		copy(dst, src)
		return nil
	}
	f, err := NewZeroLag(Butterworth, cutoffHz, s.rateHz)
	if err != nil {
		return err
	}
	if s.last != nil {
		f.scratch = s.last.scratch
	}
	s.last = f
	if s.grid == nil {
		f.Apply(dst, src)
		return nil
	}
	Resample(s.onGrid, s.timeS, src, s.grid)
	f.Apply(s.onGrid, s.onGrid)
	// A sample beside a gap may lie off every finite stretch of the grid; it
	// keeps its own value.
	for i, t := range s.timeS {
		if math.IsNaN(src[i]) {
			dst[i] = math.NaN()
			continue
		}
		if v := At(s.grid, s.onGrid, t); !math.IsNaN(v) {
			dst[i] = v
		} else {
			dst[i] = src[i]
		}
	}
	return nil
}
