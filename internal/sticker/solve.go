package sticker

import "math"

// maxParameters bounds the least-squares problems of this package.
const maxParameters = 14

// normal are the normal equations of a least-squares problem of n parameters.
type normal struct {
	n int
	a [maxParameters][maxParameters]float64 // lower triangle
	b [maxParameters]float64
}

// add counts an observation: its derivatives, its residual and its weight.
func (e *normal) add(j []float64, residual, weight float64) {
	for r := range e.n {
		v := weight * j[r]
		if v == 0 {
			continue
		}
		row := &e.a[r]
		for c := 0; c <= r; c++ {
			row[c] += v * j[c]
		}
		e.b[r] += v * residual
	}
}

// expect says that parameter k should change by about change, with the weight of
// one over the variance of that.
func (e *normal) expect(k int, change, weight float64) {
	e.a[k][k] += weight
	e.b[k] += weight * change
}

// factor replaces a by its Cholesky factor; false where it has none.
func (e *normal) factor(damping float64) bool {
	for r := range e.n {
		e.a[r][r] *= 1 + damping
		for c := 0; c <= r; c++ {
			s := e.a[r][c]
			for k := range c {
				s -= e.a[r][k] * e.a[c][k]
			}
			if r == c {
				if !(s > 1e-12*math.Abs(e.a[r][r])) || math.IsInf(s, 0) {
					return false
				}
				e.a[r][r] = math.Sqrt(s)
			} else {
				e.a[r][c] = s / e.a[c][c]
			}
		}
	}
	return true
}

// solve returns the solution for a right side; factor was called before.
func (e *normal) solve(b [maxParameters]float64) [maxParameters]float64 {
	for r := range e.n {
		for k := range r {
			b[r] -= e.a[r][k] * b[k]
		}
		b[r] /= e.a[r][r]
	}
	for r := e.n - 1; r >= 0; r-- {
		for k := r + 1; k < e.n; k++ {
			b[r] -= e.a[k][r] * b[k]
		}
		b[r] /= e.a[r][r]
	}
	return b
}

// variance returns the k-th diagonal element of the inverse; factor was called
// before.
func (e *normal) variance(k int) float64 {
	var unit [maxParameters]float64
	unit[k] = 1
	return e.solve(unit)[k]
}

// tukey is the weight of a residual, in units of its standard deviation, by
// Tukey's biweight at 4.685 (95 % efficient for normal residuals; from memory,
// Holland & Welsch 1977, Commun Stat 6:813).
func tukey(r float64) float64 {
	r /= 4.685
	if r >= 1 || r <= -1 {
		return 0
	}
	r = 1 - r*r
	return r * r
}
