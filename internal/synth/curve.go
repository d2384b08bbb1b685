package synth

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// settle falls from 1 at u = 0 to 0 at u = 1 and is 0 beyond. It starts with
// slope -k and second derivative c, and ends with neither slope nor acceleration.
func settle(u, k, c float64) jet {
	if u >= 1 {
		return jet{}
	}
	// (1-u)³(1 + a u + b u²) with a = 3-k, b = 3a-3+c/2.
	a := 3 - k
	b := 3*a - 3 + c/2
	w := 1 - u
	q, q1, q2 := 1+a*u+b*u*u, a+2*b*u, 2*b
	return jet{
		w * w * w * q,
		-3*w*w*q + w*w*w*q1,
		6*w*q - 6*w*w*q1 + w*w*w*q2,
	}
}

// depart is 0 up to u = 0 and rises to 1 at u = 1, with the given slope and
// bend (second derivative) there; it leaves 0 without either.
func depart(u, slope, bend float64) jet {
	if u <= 0 {
		return jet{}
	}
	c0, c1, c2 := 10-4*slope+bend/2, 7*slope-15-bend, 6-3*slope+bend/2
	return jet{
		u * u * u * (c0 + u*(c1+u*c2)),
		u * u * (3*c0 + u*(4*c1+u*5*c2)),
		u * (6*c0 + u*(12*c1+u*20*c2)),
	}
}

// clocked turns derivatives in u = (t-t0)/span into derivatives in time.
func (a jet) clocked(span float64) jet { return jet{a.v, a.d / span, a.dd / (span * span)} }

// hump is a smooth hill over 0 ≤ u ≤ 1 of height 1 at u = peak, 0 outside, twice
// continuously differentiable everywhere.
func hump(u, peak float64) jet {
	if u <= 0 || u >= 1 {
		return jet{}
	}
	p, q := 3.0, 3.0
	if peak < 0.5 {
		q = p * (1 - peak) / peak
	} else {
		p = q * peak / (1 - peak)
	}
	w := 1 - u
	v := math.Pow(u/peak, p) * math.Pow(w/(1-peak), q)
	l1 := p/u - q/w
	l2 := -p/(u*u) - q/(w*w)
	return jet{v, v * l1, v * (l1*l1 + l2)}
}

// spline is a piecewise polynomial of degree five, four times continuously
// differentiable inside.
type spline struct {
	knots []float64
	coef  [][6]float64 // of (t - knots[i])/(knots[i+1]-knots[i])
}

// pass is a point an inner curve goes through.
type pass struct{ t, v float64 }

// quintic joins two states (value, speed, acceleration) at times t0 and t1
// through the given points.
func quintic(t0 float64, from jet, t1 float64, to jet, through ...pass) (*spline, error) {
	s := &spline{knots: make([]float64, 0, len(through)+2)}
	s.knots = append(s.knots, t0)
	for _, p := range through {
		s.knots = append(s.knots, p.t)
	}
	s.knots = append(s.knots, t1)
	n := len(s.knots) - 1
	a := mat.NewDense(6*n, 6*n, nil)
	b := mat.NewVecDense(6*n, nil)
	row := 0
	// deriv writes the k-th derivative in time of segment i at its start (u=0)
	// or end (u=1), times factor, into the row.
	deriv := func(i, k int, u, factor float64) {
		span := s.knots[i+1] - s.knots[i]
		for j := k; j < 6; j++ {
			c := 1.0
			for m := range k {
				c *= float64(j - m)
			}
			if u == 0 && j > k {
				continue
			}
			a.Set(row, 6*i+j, a.At(row, 6*i+j)+factor*c/math.Pow(span, float64(k)))
		}
	}
	fix := func(i, k int, u, v float64) {
		deriv(i, k, u, 1)
		b.SetVec(row, v)
		row++
	}
	for k, v := range [...]float64{from.v, from.d, from.dd} {
		fix(0, k, 0, v)
	}
	for k, v := range [...]float64{to.v, to.d, to.dd} {
		fix(n-1, k, 1, v)
	}
	for i, p := range through {
		fix(i, 0, 1, p.v)
		for k := range 5 {
			deriv(i, k, 1, 1)
			deriv(i+1, k, 0, -1)
			row++
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return nil, fmt.Errorf("swing curve from %.3f s to %.3f s: %w", t0, t1, err)
	}
	s.coef = make([][6]float64, n)
	for i := range n {
		for j := range 6 {
			s.coef[i][j] = x.AtVec(6*i + j)
		}
	}
	return s, nil
}

func (s *spline) at(t float64) jet {
	i := segment(s.knots, t)
	span := s.knots[i+1] - s.knots[i]
	u := (t - s.knots[i]) / span
	c := &s.coef[i]
	var v, d, dd float64
	for j := 5; j >= 0; j-- {
		v = v*u + c[j]
	}
	for j := 5; j >= 1; j-- {
		d = d*u + float64(j)*c[j]
	}
	for j := 5; j >= 2; j-- {
		dd = dd*u + float64(j*(j-1))*c[j]
	}
	return jet{v, d, dd}.clocked(span)
}

// segment returns the index of the interval of knots that holds t; the outer
// ones reach to infinity.
func segment(knots []float64, t float64) int {
	i, found := slices.BinarySearch(knots, t)
	if !found {
		i--
	}
	return max(0, min(i, len(knots)-2))
}

// phase is a smooth clock that reads k at the k-th instant: a natural cubic
// spline, with a steady pace beyond the ends.
type phase struct {
	t []float64
	m []float64 // second derivatives at the instants
}

func newPhase(t []float64) *phase {
	n := len(t)
	m := make([]float64, n)
	// Tridiagonal system for the second derivatives, solved by elimination.
	c, d := make([]float64, n), make([]float64, n)
	for i := 1; i < n-1; i++ {
		h0, h1 := t[i]-t[i-1], t[i+1]-t[i]
		den := 2*(h0+h1) - h0*c[i-1]
		c[i] = h1 / den
		d[i] = (6*(1/h1-1/h0) - h0*d[i-1]) / den
	}
	for i := n - 2; i > 0; i-- {
		m[i] = d[i] - c[i]*m[i+1]
	}
	return &phase{t, m}
}

func (p *phase) at(t float64) jet {
	i := segment(p.t, t)
	h := p.t[i+1] - p.t[i]
	a, b := (p.t[i+1]-t)/h, (t-p.t[i])/h
	v := float64(i) + b + ((a*a*a-a)*p.m[i]+(b*b*b-b)*p.m[i+1])*h*h/6
	d := 1/h + (-(3*a*a-1)*p.m[i]+(3*b*b-1)*p.m[i+1])*h/6
	return jet{v, d, a*p.m[i] + b*p.m[i+1]}
}

// wave is a sine of the stride's phase: amplitude × cos(turns·π·(phase - peak)).
// One turn a stride has turns = 1, because the phase counts steps.
func wave(ph jet, amplitude, turns, peak float64) jet {
	k := turns * math.Pi
	_, c := jet{k * (ph.v - peak), k * ph.d, k * ph.dd}.sincos()
	return c.scale(amplitude)
}
