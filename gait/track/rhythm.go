package track

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Rhythm is the beat of the legs, found from the landmarks without knowing the
// contacts: good for judging a clip's clock and for comparing strides, not for
// timing.
type Rhythm struct {
	StrideS     float64 // mean time of a stride
	Regularity  float64 // correlation of a stride with the next, 0 to 1
	BoundariesS []float64
	// BoundariesS are the times at which the left ankle passes the right one
	// in the same direction, once a stride.
}

// StepRate returns the rhythm's step rate in steps a minute, both feet.
func (r Rhythm) StepRate() float64 { return 120 / r.StrideS }

// Rhythm bounds: strides from 0.45 s (267 steps a minute) to 12 s (a 1.5 s
// walking stride whose clock was slowed eight times).
const (
	minStrideS = 0.45
	maxStrideS = 12.0
)

// FindRhythm finds the beat of the legs from how the ankles move against each
// other: fore and aft in a side view, up and down from behind. ok is false where
// there is no beat: a still, a standing runner, less than two strides.
func FindRhythm(t *Track) (r Rhythm, ok bool) {
	if t.Frames() < 16 || !t.Has(body.LeftAnkle, body.RightAnkle) {
		return r, false
	}
	l, rt := t.Paths[body.LeftAnkle], t.Paths[body.RightAnkle]
	var beats [3]Rhythm
	var listening sync.WaitGroup
	for k, axis := range [...][2][]float64{{l.X, rt.X}, {l.Y, rt.Y}, {l.Z, rt.Z}} {
		if axis[0] != nil && axis[1] != nil {
			listening.Go(func() { beats[k] = beat(t.TimeS, axis[0], axis[1]) })
		}
	}
	listening.Wait()
	best := Rhythm{}
	for _, c := range beats {
		if c.Regularity > best.Regularity {
			best = c
		}
	}
	return best, best.Regularity > 0.35 && best.StrideS > 0 && t.DurationS() >= 1.9*best.StrideS
}

// rhythmRateHz is as fine as the beat of the legs needs to be sampled.
const rhythmRateHz = 60.0

func beat(timeS, left, right []float64) Rhythm {
	grid := coarse(signal.EvenGrid(timeS))
	d := make([]float64, len(timeS))
	for i := range d {
		d[i] = left[i] - right[i]
	}
	signal.FillGaps(timeS, d, 0.3, signal.Monotone)
	even := make([]float64, len(grid))
	signal.Resample(even, timeS, d, grid)
	mean, sd, _ := signal.MeanSD(even)
	if !(sd > 0) {
		return Rhythm{}
	}
	for i := range even {
		even[i] -= mean
		if math.IsNaN(even[i]) {
			even[i] = 0
		}
	}
	rate := float64(len(grid)-1) / (grid[len(grid)-1] - grid[0])
	longest := math.Min(maxStrideS, (grid[len(grid)-1]-grid[0])/1.9)
	if longest <= minStrideS {
		return Rhythm{}
	}
	period, corr := signal.Period(even, rate, minStrideS, longest)
	if !(period > 0) {
		return Rhythm{}
	}
	r := Rhythm{StrideS: period, Regularity: corr}
	if smooth, err := signal.LowPass(even, math.Min(1.6/period, 0.4*rate), rate); err == nil {
		var rising []float64
		for _, c := range signal.Crossings(grid, smooth, 0) {
			if c.Rising {
				rising = append(rising, c.TimeS)
			}
		}
		r.BoundariesS = regular(rising, period, grid[0], grid[len(grid)-1])
	}
	return r
}

// coarse thins an even grid to about rhythmRateHz.
func coarse(grid []float64) []float64 {
	if len(grid) < 2 {
		return grid
	}
	step := max(1, int(math.Round(1/rhythmRateHz/(grid[1]-grid[0]))))
	if step == 1 {
		return grid
	}
	out := make([]float64, 0, len(grid)/step+1)
	for i := 0; i < len(grid); i += step {
		out = append(out, grid[i])
	}
	return out
}

// regular returns one boundary a stride between fromS and toS: the crossings
// that keep the beat, and where one is missing or out of step (the legs may have
// had each other's names there) the time at which it was due.
func regular(crossings []float64, strideS, fromS, toS float64) []float64 {
	inStep := func(a, b float64) bool { return math.Abs(b-a-strideS) < 0.15*strideS }
	start, longest := -1, 0
	for i := 0; i < len(crossings); {
		j := i
		for j+1 < len(crossings) && inStep(crossings[j], crossings[j+1]) {
			j++
		}
		if j-i+1 > longest {
			start, longest = i, j-i+1
		}
		i = j + 1
	}
	if start < 0 {
		return nil
	}
	next := func(due float64) float64 {
		i, _ := slices.BinarySearch(crossings, due)
		for _, k := range [...]int{i - 1, i} {
			if k >= 0 && k < len(crossings) && math.Abs(crossings[k]-due) < 0.2*strideS {
				return crossings[k]
			}
		}
		return due
	}
	out := []float64{crossings[start]}
	for at := next(crossings[start] + strideS); at <= toS; at = next(at + strideS) {
		out = append(out, at)
	}
	for at := next(crossings[start] - strideS); at >= fromS; at = next(at - strideS) {
		out = append(out, at)
	}
	slices.Sort(out)
	return out
}

const (
	phaseBins = 48
	// A sample this many robust deviations from where the point is at the same
	// phase of the other strides is rejected, but never within the floor, a
	// share of the leg's length.
	rhythmDeviations = 5.0
	rhythmFloor      = 0.07
	minRhythmStrides = 6
)

// rejectByRhythm drops samples that are far from where the same point is at the
// same phase of the other strides: a foot named for the other one, a knee that
// jumped to a handrail. It needs six strides; it returns how many samples it
// dropped.
func rejectByRhythm(t *Track) int {
	r, ok := FindRhythm(t)
	if !ok || len(r.BoundariesS) < minRhythmStrides+1 {
		return 0
	}
	bin := phaseBinsOf(t.TimeS, r)
	cx, cy, cz := midHip(t)
	leg := legLength(t)
	if !(leg > 0) {
		return 0
	}
	var dropped atomic.Int64
	t.eachPath(func() func(body.Landmark, *Path) {
		bad := make([]bool, t.Frames())
		return func(l body.Landmark, p *Path) {
			if l.Side() == body.NoSide {
				return
			}
			clear(bad)
			for _, axis := range [...][2][]float64{{p.X, cx}, {p.Y, cy}, {p.Z, cz}} {
				if axis[0] != nil {
					markFarFromPhase(bad, axis[0], axis[1], bin, rhythmFloor*leg)
				}
			}
			for i, b := range bad {
				if b && p.Seen(i) {
					p.drop(i)
					dropped.Add(1)
				}
			}
		}
	})
	return int(dropped.Load())
}

// phaseBinsOf returns the phase bin of each frame, -1 where it is not known:
// in a stride much longer or shorter than the others. Before the first boundary
// and after the last the rhythm is carried on for one stride.
func phaseBinsOf(timeS []float64, r Rhythm) []int {
	first, last := r.BoundariesS[0], r.BoundariesS[len(r.BoundariesS)-1]
	bounds := append([]float64{first - r.StrideS}, r.BoundariesS...)
	bounds = append(bounds, last+r.StrideS)
	bin := make([]int, len(timeS))
	k := 0
	for i, at := range timeS {
		for k+1 < len(bounds) && bounds[k+1] <= at {
			k++
		}
		bin[i] = -1
		if k+1 < len(bounds) && at >= bounds[k] {
			span := bounds[k+1] - bounds[k]
			if math.Abs(span/r.StrideS-1) < 0.25 {
				bin[i] = min(phaseBins-1, int(phaseBins*(at-bounds[k])/span))
			}
		}
	}
	return bin
}

// markFarFromPhase marks the samples that lie farther from the median of their bin than
// floor and than rhythmDeviations of the bin's spread, or of the typical bin's where that
// is more. As most bins hold no such sample, medians are worked out step by step, and only
// of bins of which it is still open.
func markFarFromPhase(bad []bool, x, centre []float64, bin []int, floor float64) {
	low, high := phaseRanges(x, centre, bin)
	wide := func(b int) bool { return high[b]-low[b] > floor } // else none is farther than floor from the median
	none := true
	for b := range phaseBins {
		none = none && !wide(b)
	}
	if none {
		return
	}
	s := sortByPhase(x, centre, bin)
	var p places
	var known, open [phaseBins]bool // is its spread known; may it hold a sample that is too far
	none = true
	for b := range phaseBins {
		if !wide(b) {
			continue
		}
		p.mid[b] = signal.MedianInPlace(s.of(b))
		farthest := math.Max(high[b]-p.mid[b], p.mid[b]-low[b])
		if farthest > floor {
			p.spread[b], known[b] = spreadAbout(p.mid[b], s.of(b)), true
			open[b] = farthest > rhythmDeviations*p.spread[b]
			none = none && !open[b]
		}
	}
	if none {
		return
	}
	for b := range phaseBins {
		if !known[b] {
			p.spread[b] = spreadAbout(signal.MedianInPlace(s.of(b)), s.of(b))
		}
	}
	typical := signal.Median(p.spread[:])
	for i, b := range bin {
		if b < 0 || !open[b] {
			continue
		}
		limit := math.Max(floor, rhythmDeviations*math.Max(p.spread[b], typical))
		if v := math.Abs(x[i] - centre[i] - p.mid[b]); v > limit {
			bad[i] = true
		}
	}
}

// phaseRanges returns the lowest and the highest value of each bin, relative to the
// middle of the hips; low is above high where a bin is empty.
func phaseRanges(x, centre []float64, bin []int) (low, high [phaseBins]float64) {
	for b := range low {
		low[b], high[b] = math.Inf(1), math.Inf(-1)
	}
	for i, b := range bin {
		if b < 0 {
			continue
		}
		v := x[i] - centre[i]
		if v < low[b] {
			low[b] = v
		}
		if v > high[b] {
			high[b] = v
		}
	}
	return low, high
}

// midHip returns the middle of the hips on each axis; nil where the track has
// no such axis. Where a hip is missing the values are NaN.
func midHip(t *Track) (x, y, z []float64) {
	l, r := t.Paths[body.LeftHip], t.Paths[body.RightHip]
	if l == nil || r == nil {
		zero := make([]float64, t.Frames())
		return zero, zero, zero
	}
	mid := func(a, b []float64) []float64 {
		if a == nil || b == nil {
			return nil
		}
		m := make([]float64, len(a))
		for i := range a {
			m[i] = (a[i] + b[i]) / 2
		}
		return m
	}
	return mid(l.X, r.X), mid(l.Y, r.Y), mid(l.Z, r.Z)
}

// legSamples is how many frames are enough to know the length of a leg.
const legSamples = 600

// legLength is the median length of thigh and shank together, in the track's
// unit, over both legs; 0 where it cannot be told.
func legLength(t *Track) float64 {
	var v []float64
	for _, s := range body.Sides {
		hip, knee, ankle := t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
		for i := 0; i < t.Frames(); i += 1 + t.Frames()/legSamples {
			if hip.Seen(i) && knee.Seen(i) && ankle.Seen(i) {
				v = append(v, distance(hip, knee, i)+distance(knee, ankle, i))
			}
		}
	}
	if len(v) == 0 {
		return 0
	}
	return signal.Median(v)
}

func distance(a, b *Path, i int) float64 {
	sum := 0.0
	for _, c := range [...][2][]float64{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}} {
		if c[0] != nil && c[1] != nil {
			sum += (c[0][i] - c[1][i]) * (c[0][i] - c[1][i])
		}
	}
	return math.Sqrt(sum)
}
