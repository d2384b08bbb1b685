package signal

import (
	"fmt"
	"math"
)

// Residual is the result of a residual analysis: how much of a signal each
// cut-off takes away, and the cut-off chosen from it.
type Residual struct {
	CutoffHz      float64   // chosen cut-off
	FrequenciesHz []float64 // cut-offs considered
	RMS           []float64 // root mean square of what each takes away, in the signal's unit; NaN where it was not needed
	NoiseRMS      float64   // intercept of the line through the noise-only tail
	TailFromHz    float64   // where that tail begins
}

// residualSamples is the longest stretch looked at; its middle is taken from a
// longer signal, which keeps the cost of the analysis apart from its length.
const residualSamples = 1536

// ResidualAnalysis chooses a low-pass cut-off for x, sampled rateHz times a
// second, after Winter (2009, from memory): with noise alone in a signal the
// residual falls along a straight line as the cut-off rises; the line is fitted
// to the tail of the curve and extended to 0 Hz, where it reads the noise; the
// cut-off is the one whose residual equals that reading, so that signal lost and
// noise kept are about even. Cut-offs between minHz and maxHz are considered.
//
// The longest run of finite values is used. It is an error for that run to be
// shorter than 16 samples or the range of frequencies to hold fewer than four.
func ResidualAnalysis(x []float64, rateHz, minHz, maxHz float64) (Residual, error) {
	var a, b int
	for from, to := range Runs(x) {
		if to-from > b-a {
			a, b = from, to
		}
	}
	if b-a < 16 {
		return Residual{}, fmt.Errorf("residual analysis needs 16 samples in a row, the longest stretch has %d", b-a)
	}
	if cut := (b - a) - residualSamples; cut > 0 {
		a, b = a+cut/2, a+cut/2+residualSamples
	}
	x = x[a:b]

	top := math.Min(maxHz*1.8, 0.42*rateHz)
	const steps = 24
	if !(minHz > 0) || !(top > minHz*1.2) {
		return Residual{}, fmt.Errorf("residual analysis cannot look between %g and %g Hz at %g samples a second", minHz, maxHz, rateHz)
	}
	r := Residual{FrequenciesHz: make([]float64, steps), RMS: make([]float64, steps)}
	for k := range steps {
		r.FrequenciesHz[k], r.RMS[k] = minHz+(top-minHz)*float64(k)/(steps-1), math.NaN()
	}
	var scratch [2][]float64
	try := func(k int) error { // and the next, side by side
		var l [2]lane
		for j := range l {
			f, err := NewZeroLag(Butterworth, r.FrequenciesHz[k+j], rateHz)
			if err != nil {
				return err
			}
			f.scratch = scratch[j]
			l[j] = f.lane(x)
			scratch[j] = f.scratch
		}
		sweepBoth(&l[0], &l[1], len(l[0].in), len(l[1].in))
		l[0].turn()
		l[1].turn()
		sweepBoth(&l[0], &l[1], l[0].pad+len(x), l[1].pad+len(x))
		a, b := l[0].out[l[0].pad:][:len(x)], l[1].out[l[1].pad:][:len(x)]
		var as, bs float64
		for i, v := range x {
			as += (v - a[i]) * (v - a[i])
			bs += (v - b[i]) * (v - b[i])
		}
		r.RMS[k], r.RMS[k+1] = math.Sqrt(as/float64(len(x))), math.Sqrt(bs/float64(len(x)))
		return nil
	}

	// The tail is the longest stretch up to the last frequency that a straight
	// line fits with R² of 0.95 or more, of a third of the curve at least and two
	// thirds at most.
	const longest = steps / 3 // the index at which the longest tail begins
	for k := longest; k < steps; k += 2 {
		if err := try(k); err != nil {
			return Residual{}, err
		}
	}
	start := steps * 2 / 3
	for k := longest; k < steps*2/3; k++ {
		if _, _, r2 := line(r.FrequenciesHz[k:], r.RMS[k:]); r2 >= 0.95 {
			start = k
			break
		}
	}
	intercept, _, _ := line(r.FrequenciesHz[start:], r.RMS[start:])
	r.NoiseRMS, r.TailFromHz = math.Max(intercept, 0), r.FrequenciesHz[start]
	r.CutoffHz = top
	for k := range steps {
		if k < longest && k%2 == 0 {
			if err := try(k); err != nil {
				return Residual{}, err
			}
		}
		if r.RMS[k] <= r.NoiseRMS {
			r.CutoffHz = r.FrequenciesHz[k]
			if k > 0 {
				u := (r.RMS[k-1] - r.NoiseRMS) / (r.RMS[k-1] - r.RMS[k])
				r.CutoffHz = r.FrequenciesHz[k-1] + u*(r.FrequenciesHz[k]-r.FrequenciesHz[k-1])
			}
			break
		}
	}
	r.CutoffHz = math.Min(math.Max(r.CutoffHz, minHz), math.Min(maxHz, top))
	return r, nil
}

// line fits y = a + b x by least squares and returns a, b and R².
func line(x, y []float64) (a, b, r2 float64) {
	n := float64(len(x))
	var sx, sy float64
	for i := range x {
		sx += x[i]
		sy += y[i]
	}
	mx, my := sx/n, sy/n
	var sxx, sxy, syy float64
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
		syy += (y[i] - my) * (y[i] - my)
	}
	if sxx == 0 {
		return my, 0, 0
	}
	b = sxy / sxx
	if syy == 0 {
		return my - b*mx, b, 1
	}
	return my - b*mx, b, sxy * sxy / (sxx * syy)
}
