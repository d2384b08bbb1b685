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

// at interpolates v linearly at time t; NaN outside the clip, beside a missing
// frame or where there is no series.
func (c clock) at(v []float64, t float64) float64 {
	return c.placeOf(t).in(v)
}

// place is a time on the clock as at reads it: a frame, and the share of the way to the
// next one; frame -1 for a time outside the clip.
type place struct {
	frame int
	share float64
}

func (c clock) placeOf(t float64) place {
	i := c.before(t)
	if i < 0 {
		return place{frame: -1}
	}
	return place{i, (t - c.timeS[i]) / (c.timeS[i+1] - c.timeS[i])}
}

// in is at for the time of the place.
func (p place) in(v []float64) float64 {
	switch {
	case p.frame < 0 || v == nil:
		return math.NaN()
	case p.share == 0:
		return v[p.frame]
	}
	return v[p.frame] + p.share*(v[p.frame+1]-v[p.frame])
}

// slope returns dv/dt at time t over the frames on either side.
func (c clock) slope(v []float64, t float64) float64 {
	i := c.before(t)
	if i < 0 || v == nil {
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
