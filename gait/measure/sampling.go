package measure

import "math"

// clock finds frames and values at times on a track's clock.
type clock struct {
	timeS []float64
	rate  float64 // median frames a second
}

// before returns the index i with timeS[i] <= t < timeS[i+1], or -1 outside the
// clip.
func (c clock) before(t float64) int {
	n := len(c.timeS)
	if n < 2 || !(t >= c.timeS[0] && t <= c.timeS[n-1]) {
		return -1
	}
	i := min(n-2, max(0, int((t-c.timeS[0])*c.rate)))
	for i > 0 && c.timeS[i] > t {
		i--
	}
	for i < n-2 && c.timeS[i+1] <= t {
		i++
	}
	return i
}

// at interpolates v linearly at time t; NaN outside the clip or beside a missing
// frame.
func (c clock) at(v []float64, t float64) float64 {
	i := c.before(t)
	if i < 0 {
		return math.NaN()
	}
	f := (t - c.timeS[i]) / (c.timeS[i+1] - c.timeS[i])
	if f == 0 {
		return v[i]
	}
	return v[i] + f*(v[i+1]-v[i])
}

// slope returns dv/dt at time t over the frames on either side.
func (c clock) slope(v []float64, t float64) float64 {
	i := c.before(t)
	if i < 0 {
		return math.NaN()
	}
	a, b := max(0, i-1), min(len(v)-1, i+2)
	return (v[b] - v[a]) / (c.timeS[b] - c.timeS[a])
}

// mean returns the time mean of v from t0 to t1, NaN where more than a quarter
// of it is missing.
func (c clock) mean(v []float64, t0, t1 float64) float64 {
	const points = 24
	sum, n := 0.0, 0
	for k := range points {
		if x := c.at(v, t0+(t1-t0)*(float64(k)+0.5)/points); !math.IsNaN(x) {
			sum += x
			n++
		}
	}
	if 4*n < 3*points {
		return math.NaN()
	}
	return sum / float64(n)
}

// peak returns the largest value of v from t0 to t1, between frames by a parabola
// through three frames; NaN where more than a quarter of the frames is missing.
func (c clock) peak(v []float64, t0, t1 float64) float64 {
	value, _ := c.peakAt(v, t0, t1, 1)
	return value
}

// trough is peak for the smallest value.
func (c clock) trough(v []float64, t0, t1 float64) float64 {
	value, _ := c.peakAt(v, t0, t1, -1)
	return value
}

// peakAt returns the largest (sign +1) or smallest (sign -1) value and its time.
func (c clock) peakAt(v []float64, t0, t1, sign float64) (value, t float64) {
	i, j := c.before(t0), c.before(t1)
	if i < 0 || j < 0 {
		return math.NaN(), math.NaN()
	}
	best, seen, at := math.Inf(-1), 0, -1
	consider := func(x, when float64, frame int) {
		if sign*x > best {
			best, t, at = sign*x, when, frame
		}
	}
	for k := i + 1; k <= j; k++ {
		if !math.IsNaN(v[k]) {
			seen++
			consider(v[k], c.timeS[k], k)
		}
	}
	if 4*seen < 3*(j-i) || seen == 0 {
		return math.NaN(), math.NaN()
	}
	consider(c.at(v, t0), t0, -1)
	consider(c.at(v, t1), t1, -1)
	if at > 0 && at+1 < len(v) {
		// Vertex of the parabola through the frame and its neighbours; for even
		// frames the usual three-point formula.
		h1, h2 := c.timeS[at]-c.timeS[at-1], c.timeS[at+1]-c.timeS[at]
		d1, d2 := (v[at]-v[at-1])/h1, (v[at+1]-v[at])/h2
		curve := (d2 - d1) / (h1 + h2)
		slope := (d1*h2 + d2*h1) / (h1 + h2)
		if dt := -slope / (2 * curve); sign*curve < 0 && dt > -h1 && dt < h2 && t+dt >= t0 && t+dt <= t1 {
			return v[at] + slope*dt + curve*dt*dt, t + dt
		}
	}
	return sign * best, t
}
