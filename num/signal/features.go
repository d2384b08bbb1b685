package signal

import "math"

// Vertex returns the turning point of the parabola through three samples one
// apart: its offset from the middle sample, in samples, and its value. Where the
// three lie on a line the middle sample is returned.
func Vertex(left, middle, right float64) (offset, value float64) {
	c := left - 2*middle + right
	if c == 0 {
		return 0, middle
	}
	offset = (left - right) / (2 * c)
	if math.Abs(offset) > 1 {
		return 0, middle
	}
	return offset, middle - (left-right)*offset/4
}

// Peak is a local maximum.
type Peak struct {
	Index  int     // sample nearest to it
	Offset float64 // of the true top from that sample, in samples, −1 to 1
	Value  float64 // at the true top
}

// At returns the time of the peak on the given clock.
func (p Peak) At(timeS []float64) float64 { return timeAt(timeS, p.Index, p.Offset) }

// timeAt is the time a fraction of a sample away from sample i.
func timeAt(timeS []float64, i int, offset float64) float64 {
	switch {
	case offset > 0 && i+1 < len(timeS):
		return timeS[i] + offset*(timeS[i+1]-timeS[i])
	case offset < 0 && i > 0:
		return timeS[i] + offset*(timeS[i]-timeS[i-1])
	}
	return timeS[i]
}

// Peaks returns the local maxima of x that rise at least prominence above the
// higher of the two lowest values that part them from higher ground on either
// side, each placed between samples by a parabola. Missing values end the ground
// on their side. It takes time proportional to the length of x (a stack of
// falling maxima), not to the distance between peaks.
func Peaks(x []float64, prominence float64) []Peak {
	left := reliefs(x, false)
	right := reliefs(x, true)
	var out []Peak
	for i := 1; i+1 < len(x); i++ {
		if !(x[i] > x[i-1] && x[i] >= x[i+1]) {
			continue
		}
		if min(left[i], right[i]) < prominence {
			continue
		}
		off, v := Vertex(x[i-1], x[i], x[i+1])
		out = append(out, Peak{Index: i, Offset: off, Value: v})
	}
	return out
}

// reliefs returns for each sample its height above the lowest ground between it
// and the nearest higher (or equal, looking left) sample on one side.
func reliefs(x []float64, fromRight bool) []float64 {
	type level struct{ top, low float64 }
	out := make([]float64, len(x))
	var stack []level
	for k := range x {
		i := k
		if fromRight {
			i = len(x) - 1 - k
		}
		v := x[i]
		if math.IsNaN(v) {
			stack = stack[:0]
			continue
		}
		low := v
		for len(stack) > 0 && (stack[len(stack)-1].top < v || fromRight && stack[len(stack)-1].top == v) {
			low = math.Min(low, stack[len(stack)-1].low)
			stack = stack[:len(stack)-1]
		}
		out[i] = v - low
		stack = append(stack, level{v, low})
	}
	return out
}

// Valleys returns the local minima of x, as [Peaks] does the maxima; Value is
// that of x.
func Valleys(x []float64, prominence float64) []Peak {
	neg := make([]float64, len(x))
	for i, v := range x {
		neg[i] = -v
	}
	p := Peaks(neg, prominence)
	for i := range p {
		p[i].Value = -p[i].Value
	}
	return p
}

// Crossing is a passage of a signal through a level.
type Crossing struct {
	Index  int     // sample before it
	TimeS  float64 // by straight line between the two samples
	Rising bool
}

// Crossings returns where x, given at the times timeS, passes through level. A
// passage next to a missing value is not reported.
func Crossings(timeS, x []float64, level float64) []Crossing {
	var out []Crossing
	for i := 0; i+1 < len(x); i++ {
		a, b := x[i]-level, x[i+1]-level
		if math.IsNaN(a) || math.IsNaN(b) || (a < 0) == (b < 0) {
			continue
		}
		out = append(out, Crossing{Index: i, TimeS: timeS[i] + (timeS[i+1]-timeS[i])*a/(a-b), Rising: b >= 0})
	}
	return out
}

// Period returns the time after which x, sampled rateHz times a second, best
// repeats itself, looked for between minS and maxS seconds, and how well it does
// (the correlation at that lag, −1 to 1). The first lag whose correlation comes
// within a tenth of the best is taken, so that one period is found and not two.
// It returns 0, 0 where x is too short (less than twice minS) or does not vary.
// Missing values are left out of the sums.
func Period(x []float64, rateHz, minS, maxS float64) (periodS, correlation float64) {
	lo := max(int(math.Ceil(minS*rateHz)), 1)
	hi := min(int(maxS*rateHz), len(x)*2/3)
	if hi < lo {
		return 0, 0
	}
	mean, sd, _ := MeanSD(x)
	if !(sd > 0) {
		return 0, 0
	}
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = v - mean
	}
	r := make([]float64, hi+2-(lo-1))
	best, next := math.Inf(-1), 0.0
	for k := range r {
		if k%2 == 0 {
			r[k], next = laggedPair(d, lo-1+k)
		} else {
			r[k] = next
		}
		if k < 2 || !(r[k-1] >= r[k-2] && r[k-1] >= r[k]) {
			continue
		}
		// No correlation is above 1: a peak above 0.9 comes within a tenth of whatever
		// is best, and one below 0.8 that was before it does not.
		if r[k-1] > 0.91 && best < 0.8 {
			r, best = r[:k+1], r[k-1]
			break
		}
		best = math.Max(best, r[k-1])
	}
	for k := 1; k+1 < len(r); k++ {
		if r[k] >= r[k-1] && r[k] >= r[k+1] && r[k] >= best-0.1*math.Abs(best) {
			off, v := Vertex(r[k-1], r[k], r[k+1])
			return (float64(lo-1+k) + off) / rateHz, math.Min(v, 1)
		}
	}
	return 0, 0
}

// laggedPair returns the correlations of d, whose mean is 0, with itself lag and lag + 1
// samples later. Each sum waits for its last addition, so that the six of two lags take
// hardly longer than the three of one.
func laggedPair(d []float64, lag int) (r, next float64) {
	if lag >= len(d) {
		return 0, 0
	}
	var ab, aa, bb, ac, aa2, cc float64
	for i, b := range d[lag:] {
		a, c := d[i], math.NaN()
		if i+lag+1 < len(d) {
			c = d[i+lag+1]
		}
		if p := a * b; p == p {
			ab += p
			aa += a * a
			bb += b * b
		}
		if p := a * c; p == p {
			ac += p
			aa2 += a * a
			cc += c * c
		}
	}
	return correlation(ab, aa, bb), correlation(ac, aa2, cc)
}

// correlation is that of values whose products with each other and with themselves have
// these sums; 0 where one does not vary.
func correlation(ab, aa, bb float64) float64 {
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}
