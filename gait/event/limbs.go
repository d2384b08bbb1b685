package event

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
	"gaitwright/num/signal"
)

// gridHz is the even clock on which every rule works, whatever the frame rate:
// so a rule means the same at 25 and at 250 frames a second.
const gridHz = 200

// channel is a signal of one leg from which contacts are read. Lengths are in
// the track's unit, angles in radians.
type channel uint8

const (
	ankleX channel = iota
	ankleY
	heelX
	heelY
	toeX
	toeY
	kneeY
	pelvisX
	pelvisY
	bodyY      // legs and pelvis together, a stand-in for the centre of mass
	reachX     // ankle ahead of the pelvis
	toeReachX  // toe ahead of the pelvis
	shankAngle // ankle to knee, from the forward axis; falls as the leg swings back
	kneeAngle  // shank angle less thigh angle: 0 straight, negative bent
	ankleAngle // foot angle less shank angle
	numChannels
)

// limbs holds the channels of both legs on the even clock.
type limbs struct {
	timeS      []float64
	legs       [3]*leg // by side; nil where that leg was not seen
	length     float64 // hip to ankle, in the track's unit
	hasX       bool
	fromBehind *stepping // where forward is not seen; nil until asked for
	kept       *kept.Store
}

// leg is one leg's channels and what was derived from them. One goroutine may use it at
// a time, another the other leg.
type leg struct {
	of       *limbs
	side     body.Side
	raw      [numChannels][]float64 // nil where a landmark is missing
	smoother *signal.Smoother
	cache    map[derivedKey]*[4][]float64
}

type derivedKey struct {
	ch       channel
	cutoffHz float64
}

// gapLimitS is the longest stretch without a landmark that is bridged before
// contacts are looked for.
const gapLimitS = 0.12

// point is a landmark on the even clock; nil where an axis was not seen.
type point struct{ x, y []float64 }

// newLimbs takes the channels from a track; known is as in MotionOptions.
func newLimbs(t *track.Track, known *kept.Store) *limbs {
	n := t.Frames()
	if n < 2 {
		return nil
	}
	if known == nil {
		known = &kept.Store{} // what both legs share is worked out once at least
	}
	duration := t.TimeS[n-1] - t.TimeS[0]
	// A clock that begins later rounds otherwise, and must not cost the last sample.
	l := &limbs{timeS: make([]float64, int(duration*gridHz+1e-6)+1), kept: known}
	for i := range l.timeS {
		l.timeS[i] = min(t.TimeS[0]+float64(i)/gridHz, t.TimeS[n-1])
	}
	r := &resampler{t: t, grid: l.timeS, holes: holes(t.TimeS, l.timeS), kept: known}
	sum := func(a []float64, k float64, b []float64) []float64 {
		return kept.Of(known, fmt.Sprint("sum ", k), func() []float64 { return sum(a, k, b) }, a, b)
	}
	scaled := func(a []float64, k float64) []float64 {
		return kept.Of(known, fmt.Sprint("times ", k), func() []float64 { return scaled(a, k) }, a)
	}
	direction := func(from, to point) []float64 {
		return kept.Of(known, "direction", func() []float64 { return direction(from.x, from.y, to.x, to.y) }, from.x, from.y, to.x, to.y)
	}

	first := func(r *resampler, side body.Side, marks ...body.Landmark) point {
		for _, m := range marks {
			if p := t.Paths[m.On(side)]; p != nil && p.Y != nil {
				return point{r.take(p.X), r.take(p.Y)}
			}
		}
		return point{}
	}
	// middle is the mean of the points and, where they come in pairs, of their
	// mirrors. The two of a pair are added first, so that a mirrored runner gives
	// the same sum to the last bit.
	middle := func(marks ...body.Landmark) point {
		var all point
		k := 0.0
		for _, m := range marks {
			var pair point
			for _, l := range [2]body.Landmark{m, m.Mirror()} {
				if p := t.Paths[l]; p != nil && p.Y != nil {
					pair = point{sum(pair.x, 1, r.take(p.X)), sum(pair.y, 1, r.take(p.Y))}
					k++
				}
				if m == m.Mirror() {
					break
				}
			}
			if pair.y != nil {
				all = point{sum(all.x, 1, pair.x), sum(all.y, 1, pair.y)}
			}
		}
		return point{scaled(all.x, 1/k), scaled(all.y, 1/k)}
	}
	// The spines ride on the bone; a hip centre worked out from them swings with
	// the pelvis's tilt.
	var ankle, knee, hip, heel, toe [3]point
	var taking sync.WaitGroup
	for _, s := range body.Sides {
		taking.Go(func() {
			r := r.beside()
			ankle[s] = first(r, s, body.LeftAnkle, body.LeftShankBottom, body.LeftHeelTop, body.LeftHeel)
			knee[s] = first(r, s, body.LeftKnee, body.LeftShankTop)
			hip[s] = first(r, s, body.LeftHip)
			heel[s] = first(r, s, body.LeftHeel, body.LeftHeelBottom, body.LeftHeelTop)
			toe[s] = first(r, s, body.LeftToe, body.LeftMT1, body.LeftMT5)
		})
	}
	taking.Wait()
	pelvis := middle(body.LeftHip)
	back := middle(body.LeftPSIS)
	if back.y == nil {
		back = middle(body.Sacrum)
	}
	spines := t.Has(body.LeftASIS, body.RightASIS) && back.y != nil
	if front := middle(body.LeftASIS); spines {
		pelvis = point{scaled(sum(front.x, 1, back.x), 0.5), scaled(sum(front.y, 1, back.y), 0.5)}
	}
	for _, p := range [2]point{back, middle(body.LeftASIS)} {
		if pelvis.y == nil {
			pelvis = p
		}
	}
	// Left and right exchanged make the same pelvis.
	pelvis = point{known.Same("pelvis x", pelvis.x), known.Same("pelvis y", pelvis.y)}

	for _, s := range body.Sides {
		if hip[s].y == nil {
			hip[s] = pelvis
		}
	}
	l.length = legLength(pelvis.x, pelvis.y, ankle[body.Left].x, ankle[body.Left].y, ankle[body.Right].x, ankle[body.Right].y)

	// A stand-in for the centre of mass from what every view shows: pelvis,
	// knees and ankles, weighted so that the legs' share is about theirs of the
	// body's mass (thigh, shank and foot together 16 % a leg: Winter 2009).
	var whole []float64
	if knee[1].y != nil && knee[2].y != nil && ankle[1].y != nil && ankle[2].y != nil && pelvis.y != nil {
		whole = sum(scaled(pelvis.y, 0.72), 0.09, sum(knee[1].y, 1, knee[2].y))
		whole = known.Same("body y", sum(whole, 0.05, sum(ankle[1].y, 1, ankle[2].y)))
	}
	for _, s := range body.Sides {
		if ankle[s].y == nil {
			continue
		}
		g := &leg{of: l, side: s, smoother: signal.NewSmoother(l.timeS), cache: map[derivedKey]*[4][]float64{}}
		g.raw[ankleX], g.raw[ankleY] = ankle[s].x, ankle[s].y
		g.raw[heelX], g.raw[heelY] = heel[s].x, heel[s].y
		g.raw[toeX], g.raw[toeY] = toe[s].x, toe[s].y
		g.raw[kneeY] = knee[s].y
		g.raw[pelvisY], g.raw[bodyY] = pelvis.y, whole
		// Of hip centres from markers the braking cannot be told: it comes up to
		// 30 ms late for some runners (open data of Fukuchi et al. 2017). Those of
		// the pose model were learned as they are.
		if h := t.Paths[body.LeftHip]; spines || h != nil && h.Origin == track.PoseModel {
			g.raw[pelvisX] = pelvis.x
		}
		g.raw[reachX], g.raw[toeReachX] = sum(ankle[s].x, -1, pelvis.x), sum(toe[s].x, -1, pelvis.x)
		shank, thigh, foot := direction(ankle[s], knee[s]), direction(knee[s], hip[s]), direction(heel[s], toe[s])
		g.raw[shankAngle] = shank
		g.raw[kneeAngle] = sum(shank, -1, thigh)
		g.raw[ankleAngle] = sum(foot, -1, shank)
		l.legs[s] = g
		l.hasX = l.hasX || g.raw[reachX] != nil
	}
	return l
}

// derived returns the channel smoothed at cutoffHz (order 0) or its derivative
// of the given order; nil where the channel is missing.
func (g *leg) derived(ch channel, order int, cutoffHz float64) []float64 {
	x := g.raw[ch]
	if x == nil {
		return nil
	}
	d := g.cache[derivedKey{ch, cutoffHz}]
	if d == nil {
		d = new([4][]float64)
		d[0] = kept.Of(g.of.kept, fmt.Sprint("below ", cutoffHz), func() []float64 {
			z := make([]float64, len(x))
			if err := g.smoother.LowPass(z, x, cutoffHz); err != nil {
				panic("event: " + err.Error()) // the cut-offs are constants far below half of gridHz
			}
			return z
		}, x)
		g.cache[derivedKey{ch, cutoffHz}] = d
	}
	for k := 1; k <= order; k++ {
		if d[k] == nil {
			d[k] = kept.Of(g.of.kept, "change", func() []float64 {
				z := make([]float64, len(x))
				signal.Derivative(z, g.of.timeS, d[k-1])
				return z
			}, d[k-1])
		}
	}
	return d[order]
}

// at returns the value of a derived channel at time t.
func (g *leg) at(ch channel, order int, cutoffHz, t float64) float64 {
	z := g.derived(ch, order, cutoffHz)
	if z == nil {
		return math.NaN()
	}
	return signal.At(g.of.timeS, z, t)
}

// index returns the samples from time lo to time hi, kept one sample inside the
// clock.
func (l *limbs) index(lo, hi float64) (a, b int) {
	a = int(math.Ceil((lo - l.timeS[0]) * gridHz))
	b = int(math.Floor((hi - l.timeS[0]) * gridHz))
	return max(a, 1), min(b, len(l.timeS)-2)
}

// resampler carries paths to the even clock.
type resampler struct {
	t       *track.Track
	grid    []float64
	holes   []signal.Span // of the grid, where the clip has no frames
	kept    *kept.Store
	scratch []float64
	filled  []float64
}

// beside returns a resampler for another goroutine.
func (r *resampler) beside() *resampler {
	return &resampler{t: r.t, grid: r.grid, holes: r.holes, kept: r.kept}
}

// holes returns the stretches of the grid between frames farther apart than a
// gap that is bridged.
func holes(timeS, grid []float64) []signal.Span {
	var out []signal.Span
	for i := 1; i < len(timeS); i++ {
		if timeS[i]-timeS[i-1] <= gapLimitS {
			continue
		}
		from, _ := slices.BinarySearch(grid, timeS[i-1])
		to, _ := slices.BinarySearch(grid, timeS[i])
		out = append(out, signal.Span{From: from, To: to})
	}
	return out
}

// take returns x on the grid; it is shared, and not to be changed.
func (r *resampler) take(x []float64) []float64 {
	if x == nil {
		return nil
	}
	return kept.Of(r.kept, "even", func() []float64 {
		r.filled = append(r.filled[:0], x...)
		signal.FillGaps(r.t.TimeS, r.filled, gapLimitS, signal.Cubic)
		out := make([]float64, len(r.grid))
		signal.Spline(out, r.t.TimeS, r.filled, r.grid, &r.scratch)
		for _, h := range r.holes {
			for i := h.From; i < h.To; i++ {
				out[i] = math.NaN()
			}
		}
		return out
	}, x)
}

// sum returns a + k·b, or b's share alone where a is nil and k is 1; nil where
// the needed one is.
func sum(a []float64, k float64, b []float64) []float64 {
	if b == nil {
		return nil
	}
	if a == nil {
		if k == 1 {
			return b
		}
		return nil
	}
	out := make([]float64, len(a))
	for i := range a {
		out[i] = a[i] + k*b[i]
	}
	return out
}

func scaled(a []float64, k float64) []float64 {
	if a == nil {
		return nil
	}
	out := make([]float64, len(a))
	for i := range a {
		out[i] = k * a[i]
	}
	return out
}

// direction returns the angle of the line from (x0, y0) to (x1, y1), unwrapped
// over time; nil where a coordinate is missing.
func direction(x0, y0, x1, y1 []float64) []float64 {
	if x0 == nil || x1 == nil || y0 == nil || y1 == nil {
		return nil
	}
	out := make([]float64, len(x0))
	turn, last := 0.0, math.NaN()
	for i := range out {
		a := math.Atan2(y1[i]-y0[i], x1[i]-x0[i])
		if d := a + turn - last; d > math.Pi {
			turn -= 2 * math.Pi
		} else if d < -math.Pi {
			turn += 2 * math.Pi
		}
		out[i] = a + turn
		if !math.IsNaN(out[i]) {
			last = out[i]
		}
	}
	return out
}

// legLength returns the usual distance from the pelvis to the lower ankle: the
// runner's own measuring stick where there is no scale. Where forward is not
// seen it is the height alone.
func legLength(px, py, lx, ly, rx, ry []float64) float64 {
	var d []float64
	for i := 0; i < len(py); i += 4 {
		for _, a := range [...]struct{ x, y []float64 }{{lx, ly}, {rx, ry}} {
			if a.y == nil {
				continue
			}
			dx := 0.0
			if px != nil && a.x != nil {
				dx = a.x[i] - px[i]
			}
			if v := math.Hypot(dx, py[i]-a.y[i]); !math.IsNaN(v) {
				d = append(d, v)
			}
		}
	}
	return signal.Quantile(d, 0.9)
}
