package signal

import "math"

// Derivative writes the first derivative of x, given at the times timeS, to dst,
// which must not be x. Inside a run of finite values it is that of the parabola
// through the sample and its two neighbours (exact for quadratics, whatever the
// clock); at an end of a run, that of the parabola through the nearest three.
// Runs of two samples give the chord, single samples NaN.
func Derivative(dst, timeS, x []float64) {
	if len(dst) != len(x) || len(timeS) != len(x) {
		panic("signal: Derivative: times and values differ in length")
	}
	blank(dst)
	for from, to := range Runs(x) {
		switch n := to - from; {
		case n == 2:
			d := (x[from+1] - x[from]) / (timeS[from+1] - timeS[from])
			dst[from], dst[from+1] = d, d
		case n > 2:
			for i := from + 1; i < to-1; i++ {
				hl, hr := timeS[i]-timeS[i-1], timeS[i+1]-timeS[i]
				dst[i] = (hr*(x[i]-x[i-1])/hl + hl*(x[i+1]-x[i])/hr) / (hl + hr)
			}
			dst[from] = endSlope(timeS, x, from, 1)
			dst[to-1] = endSlope(timeS, x, to-1, -1)
		}
	}
}

// endSlope is the slope at sample i of the parabola through i, i+step and
// i+2·step.
func endSlope(t, x []float64, i, step int) float64 {
	h1, h2 := t[i+step]-t[i], t[i+2*step]-t[i+step]
	d1, d2 := (x[i+step]-x[i])/h1, (x[i+2*step]-x[i+step])/h2
	return d1 + (d1-d2)*h1/(h1+h2)
}

// SecondDerivative writes the second derivative of x, given at the times timeS,
// to dst, which must not be x: that of the parabola through each sample and its
// neighbours. The first and last sample of a run take their neighbour's value;
// runs shorter than three samples give NaN.
func SecondDerivative(dst, timeS, x []float64) {
	if len(dst) != len(x) || len(timeS) != len(x) {
		panic("signal: SecondDerivative: times and values differ in length")
	}
	blank(dst)
	for from, to := range Runs(x) {
		if to-from < 3 {
			continue
		}
		for i := from + 1; i < to-1; i++ {
			hl, hr := timeS[i]-timeS[i-1], timeS[i+1]-timeS[i]
			dst[i] = 2 * ((x[i+1]-x[i])/hr - (x[i]-x[i-1])/hl) / (hl + hr)
		}
		dst[from], dst[to-1] = dst[from+1], dst[to-2]
	}
}

func blank(x []float64) {
	for i := range x {
		x[i] = math.NaN()
	}
}
