package track

import (
	"math"
	"slices"

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
	best := Rhythm{}
	for _, axis := range [...][2][]float64{{l.X, rt.X}, {l.Y, rt.Y}, {l.Z, rt.Z}} {
		if axis[0] == nil || axis[1] == nil {
			continue
		}
		if c := beat(t.TimeS, axis[0], axis[1]); c.Regularity > best.Regularity {
			best = c
		}
	}
	return best, best.Regularity > 0.35 && best.StrideS > 0 && t.DurationS() >= 1.9*best.StrideS
}

func beat(timeS, left, right []float64) Rhythm {
	grid := signal.EvenGrid(timeS)
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
		for _, c := range signal.Crossings(grid, smooth, 0) {
			if c.Rising {
				r.BoundariesS = append(r.BoundariesS, c.TimeS)
			}
		}
	}
	return r
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
	dropped := 0
	for l, p := range t.Paths {
		if p == nil || body.Landmark(l).Side() == body.NoSide || isFace(body.Landmark(l)) {
			continue
		}
		bad := make([]bool, t.Frames())
		for _, axis := range [...][2][]float64{{p.X, cx}, {p.Y, cy}, {p.Z, cz}} {
			if axis[0] != nil {
				markFarFromPhase(bad, axis[0], axis[1], bin, rhythmFloor*leg)
			}
		}
		for i, b := range bad {
			if b && p.Seen(i) {
				p.drop(i)
				dropped++
			}
		}
	}
	return dropped
}

func phaseBinsOf(timeS []float64, r Rhythm) []int {
	bin := make([]int, len(timeS))
	k := 0
	for i, at := range timeS {
		for k+1 < len(r.BoundariesS) && r.BoundariesS[k+1] <= at {
			k++
		}
		bin[i] = -1
		if k+1 < len(r.BoundariesS) && at >= r.BoundariesS[k] {
			span := r.BoundariesS[k+1] - r.BoundariesS[k]
			if math.Abs(span/r.StrideS-1) < 0.25 {
				bin[i] = min(phaseBins-1, int(float64(phaseBins)*(at-r.BoundariesS[k])/span))
			}
		}
	}
	return bin
}

func markFarFromPhase(bad []bool, x, centre []float64, bin []int, floor float64) {
	var byBin [phaseBins][]float64
	for i, b := range bin {
		if b >= 0 {
			if v := x[i] - centre[i]; !math.IsNaN(v) {
				byBin[b] = append(byBin[b], v)
			}
		}
	}
	var mid, spread [phaseBins]float64
	for b := range byBin {
		mid[b] = signal.Median(byBin[b])
		spread[b] = 1.4826 * signal.MAD(byBin[b])
	}
	all := slices.Clone(spread[:])
	typical := signal.Median(all)
	for i, b := range bin {
		if b < 0 || len(byBin[b]) < minRhythmStrides {
			continue
		}
		limit := math.Max(floor, rhythmDeviations*math.Max(spread[b], typical))
		if v := math.Abs(x[i] - centre[i] - mid[b]); v > limit {
			bad[i] = true
		}
	}
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

// legLength is the median length of thigh and shank together, in the track's
// unit, over both legs; 0 where it cannot be told.
func legLength(t *Track) float64 {
	var v []float64
	for _, s := range body.Sides {
		hip, knee, ankle := t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
		for i := range t.TimeS {
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

func isFace(l body.Landmark) bool { return l <= body.RightMouth }
