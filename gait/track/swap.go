package track

import (
	"math"
	"slices"

	"gaitwright/gait/body"
)

// A pose network names the legs anew in every frame. Where they cross it may
// give the left leg's name to the right one for some frames, or for a whole
// half-stride until they cross again. Seen alone each such frame looks fine; on
// the whole track it is a jump of both legs at once. MendSwaps looks at the
// whole track: it chooses, for each frame, whether the names stand or are
// exchanged, so that the legs move with the least sudden change of velocity,
// with a small preference for the names as they came.
//
// The choice is a shortest path over frames (Viterbi) whose state is the choice
// in the last two frames, so that velocity is carried across the crossing. The
// parts are chosen one after another: whole legs first, then lower legs and
// feet, whose names sometimes change alone.

// swapParts are the groups of points that change names together, outermost
// decision first.
var swapParts = [...][]body.Landmark{
	{body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe},
	{body.LeftAnkle, body.LeftHeel, body.LeftToe},
	{body.LeftHeel, body.LeftToe},
}

const (
	// swapPrior is the cost a frame of exchanging the names, in units of the
	// cost of an ordinary jitter step: it decides only where motion does not.
	swapPrior = 0.02
	// swapCap bounds the cost of one point's jump, so that one wild sample
	// cannot buy an exchange.
	swapCap = 30.0
)

// MendSwaps returns a copy of a picture-space or runner-space track in which
// exchanged legs have their names back, and the number of frames changed. The
// frames are marked in Path.Mended.
func MendSwaps(t *Track) (*Track, int) {
	out := t.Clone()
	changed := make([]bool, t.Frames())
	for _, part := range swapParts {
		exchange := chooseNames(out, part)
		for i, x := range exchange {
			if !x {
				continue
			}
			changed[i] = true
			for _, l := range part {
				exchangeAt(out, l, i)
			}
		}
	}
	n := 0
	for _, c := range changed {
		if c {
			n++
		}
	}
	return out, n
}

func exchangeAt(t *Track, l body.Landmark, i int) {
	a, b := t.Paths[l], t.Paths[l.Mirror()]
	if a == nil || b == nil {
		return
	}
	for _, pair := range [...][2][]float64{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}, {a.Confidence, b.Confidence}} {
		if pair[0] != nil && pair[1] != nil {
			pair[0][i], pair[1][i] = pair[1][i], pair[0][i]
		}
	}
	for _, p := range [...]*Path{a, b} {
		if p.Mended == nil {
			p.Mended = make([]bool, t.Frames())
		}
		p.Mended[i] = !p.Mended[i]
	}
}

// chooseNames returns, for each frame, whether the points of part should
// exchange their names.
func chooseNames(t *Track, part []body.Landmark) []bool {
	n := t.Frames()
	exchange := make([]bool, n)
	var points []body.Landmark
	for _, l := range part {
		if t.Has(l, l.Mirror()) {
			points = append(points, l)
		}
	}
	if n < 3 || len(points) == 0 {
		return exchange
	}
	scale := make([]float64, len(points))
	for k, l := range points {
		scale[k] = jitter(t, l)
	}
	// cost[a][b] is the least cost of a path whose last two frames have the
	// choices a and b.
	const inf = math.MaxFloat64
	type back [2][2]uint8
	from := make([]back, n)
	var cost [2][2]float64
	for a := range 2 {
		for b := range 2 {
			cost[a][b] = swapPrior * float64(a+b)
		}
	}
	for i := 2; i < n; i++ {
		jumps := jumpCosts(t, points, scale, i)
		var next [2][2]float64
		for b := range 2 {
			for c := range 2 {
				best, arg := inf, 0
				for a := range 2 {
					v := cost[a][b] + jumps[a][b][c] + swapPrior*float64(c)
					if v < best {
						best, arg = v, a
					}
				}
				next[b][c] = best
				from[i][b][c] = uint8(arg)
			}
		}
		cost = next
	}
	b, c := 0, 0
	best := inf
	for x := range 2 {
		for y := range 2 {
			if cost[x][y] < best {
				best, b, c = cost[x][y], x, y
			}
		}
	}
	swapped := 0
	for i := n - 1; i >= 1; i-- {
		exchange[i] = c == 1
		if i == 1 {
			exchange[0] = b == 1
			break
		}
		a := int(from[i][b][c])
		b, c = a, b
	}
	for _, x := range exchange {
		if x {
			swapped++
		}
	}
	if 2*swapped > n { // the names are right more often than not
		for i := range exchange {
			exchange[i] = !exchange[i]
		}
	}
	return exchange
}

// jumpCosts returns the cost of the change of velocity at frame i for each
// choice of names in frames i-2, i-1 and i.
func jumpCosts(t *Track, points []body.Landmark, scale []float64, i int) (out [2][2][2]float64) {
	dt0, dt1 := t.TimeS[i-1]-t.TimeS[i-2], t.TimeS[i]-t.TimeS[i-1]
	r := dt1 / dt0
	for k, l := range points {
		p := [2]*Path{t.Paths[l], t.Paths[l.Mirror()]}
		if !(p[0].Seen(i) && p[1].Seen(i) && p[0].Seen(i-1) && p[1].Seen(i-1) && p[0].Seen(i-2) && p[1].Seen(i-2)) {
			continue
		}
		weight := math.Min(p[0].ConfidenceAt(i), p[1].ConfidenceAt(i))
		for a := range 2 {
			for b := range 2 {
				for c := range 2 {
					d := 0.0
					for side := range 2 {
						d += math.Min(swapCap, jump2(p[side^a], p[side^b], p[side^c], i, r)/(scale[k]*scale[k]))
					}
					out[a][b][c] += weight * d
				}
			}
		}
	}
	return out
}

// jump2 is the squared distance between where a point is in frame i and where
// it would be had it kept its velocity; r is the ratio of the frame intervals.
func jump2(p0, p1, p2 *Path, i int, r float64) float64 {
	sum := 0.0
	for _, c := range [...][3][]float64{{p0.X, p1.X, p2.X}, {p0.Y, p1.Y, p2.Y}, {p0.Z, p1.Z, p2.Z}} {
		if c[0] == nil {
			continue
		}
		d := c[2][i] - (c[1][i-1] + r*(c[1][i-1]-c[0][i-2]))
		sum += d * d
	}
	return sum
}

// jitter is the typical jump of a pair of points from frame to frame: the
// median over the track.
func jitter(t *Track, l body.Landmark) float64 {
	var d []float64
	for _, p := range [...]*Path{t.Paths[l], t.Paths[l.Mirror()]} {
		for i := 2; i < t.Frames(); i++ {
			if p.Seen(i) && p.Seen(i-1) && p.Seen(i-2) {
				d = append(d, math.Sqrt(jump2(p, p, p, i, (t.TimeS[i]-t.TimeS[i-1])/(t.TimeS[i-1]-t.TimeS[i-2]))))
			}
		}
	}
	if len(d) == 0 {
		return 1
	}
	slices.Sort(d)
	return math.Max(d[len(d)/2], 1e-9)
}
