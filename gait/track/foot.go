package track

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Where the swinging foot passes the standing one, a pose network puts points of
// one foot on the other for ten frames on end, sure of itself, and in some runners
// at every stride, so that neither their neighbours in time nor the rhythm shows
// it. The foot itself does: heel, ankle and toe of a shoe seen from the side keep
// their distances and stand in one order about the ankle, and the shank keeps its
// length.

// Limits of a distance against its median over the clip, wide enough for a foot
// that turns out in swing and for landmarks that wander on a shoe (own choice, tried
// on rendered clips of two runners' real motion and of invented runners).
const (
	leastFoot, mostFoot   = 0.60, 1.50 // ankle to toe, heel to toe
	leastHeel, mostHeel   = 0.45, 1.75 // ankle to heel, a short distance
	leastShank, mostShank = 0.80, 1.20
)

// nearFeet is how near each other the ankles must be, in leg lengths, for their
// feet to be taken for one another; at contact they are farther apart.
const nearFeet = 0.5

// rejectBrokenFeet drops points of the feet in frames in which the foot cannot be
// one: of a side view in the picture alone. It returns how many it dropped.
func rejectBrokenFeet(t *Track) int {
	if t.Space != Picture {
		return 0
	}
	if look, err := LookAt(t); err != nil || !look.View.Sagittal() {
		return 0
	}
	n := 0
	for _, s := range body.Sides {
		n += rejectBrokenFoot(t, s)
	}
	return n
}

func rejectBrokenFoot(t *Track, s body.Side) int {
	knee, ankle := t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
	heel, toe := t.Paths[body.LeftHeel.On(s)], t.Paths[body.LeftToe.On(s)]
	other, leg := t.Paths[body.LeftAnkle.On(s.Other())], legLength(t)
	if ankle == nil || heel == nil || toe == nil || other == nil {
		return 0
	}
	frames := t.Frames()
	turn := func(i int) float64 { // from the heel to the toe about the ankle
		return (heel.X[i]-ankle.X[i])*(toe.Y[i]-ankle.Y[i]) - (heel.Y[i]-ankle.Y[i])*(toe.X[i]-ankle.X[i])
	}
	usual := func(of func(i int) float64) float64 {
		v := make([]float64, 0, frames)
		for i := range frames {
			if x := of(i); !math.IsNaN(x) {
				v = append(v, x)
			}
		}
		return signal.Median(v)
	}
	apart := func(a, b *Path) func(i int) float64 {
		return func(i int) float64 { return math.Hypot(a.X[i]-b.X[i], a.Y[i]-b.Y[i]) }
	}
	toToe, toHeel, sole := apart(ankle, toe), apart(ankle, heel), apart(heel, toe)
	toeM, heelM, soleM, turnM := usual(toToe), usual(toHeel), usual(sole), usual(turn)
	shank, shankM := func(int) float64 { return math.NaN() }, math.NaN()
	if knee != nil {
		shank = apart(knee, ankle)
		shankM = usual(shank)
	}
	outside := func(v, middle, least, most float64) bool { return v < least*middle || v > most*middle }
	badFoot, badAnkle := make([]bool, frames), make([]bool, frames)
	for i := range frames {
		if !(apart(ankle, other)(i) < nearFeet*leg) {
			continue
		}
		badToe := outside(toToe(i), toeM, leastFoot, mostFoot) || outside(sole(i), soleM, leastFoot, mostFoot)
		badHeel := outside(toHeel(i), heelM, leastHeel, mostHeel)
		badAnkle[i] = badToe && badHeel || outside(shank(i), shankM, leastShank, mostShank)
		badFoot[i] = badAnkle[i] || badToe || badHeel || turn(i)*turnM < 0
	}
	n := ankle.rebuild(t.TimeS, widened(badAnkle, t.TimeS, beforeAfterS))
	badFoot = widened(badFoot, t.TimeS, beforeAfterS)
	return n + heel.rebuild(t.TimeS, badFoot) + toe.rebuild(t.TimeS, badFoot)
}

// rebuild drops the samples named, bridges what it can and returns how many it
// dropped.
func (p *Path) rebuild(timeS []float64, bad []bool) int {
	n := 0
	for i, b := range bad {
		if b && p.Seen(i) {
			p.drop(i)
			n++
		}
	}
	p.bridge(timeS, bad)
	return n
}

// beforeAfterS is how long before and after a broken foot its points are not
// believed either: they wander off before they jump.
const beforeAfterS = 0.015

func widened(bad []bool, timeS []float64, byS float64) []bool {
	out := make([]bool, len(bad))
	for i, b := range bad {
		if !b {
			continue
		}
		for j := i; j >= 0 && timeS[i]-timeS[j] <= byS; j-- {
			out[j] = true
		}
		for j := i; j < len(bad) && timeS[j]-timeS[i] <= byS; j++ {
			out[j] = true
		}
	}
	return out
}

// A gap that a broken foot leaves is bridged by the cubic that lies best on both
// sides of it: its edges tremble too much for the slope of one sample.
const (
	bridgeLimitS = 0.16 // longest gap, from sample to sample
	bridgeSideS  = 0.06 // how much of either side is looked at
)

// bridge fills the gaps of p in the frames named.
func (p *Path) bridge(timeS []float64, in []bool) {
	n := len(timeS)
	for from := 0; from < n; from++ {
		if !in[from] {
			continue
		}
		to := from
		for to < n && in[to] {
			to++
		}
		if from > 0 && to < n && timeS[to]-timeS[from-1] <= bridgeLimitS {
			lo, hi := from, to
			for lo > 0 && timeS[from]-timeS[lo-1] <= bridgeSideS && !in[lo-1] {
				lo--
			}
			for hi < n && timeS[hi]-timeS[to-1] <= bridgeSideS && !in[hi] {
				hi++
			}
			for _, c := range p.axes() {
				if at, ok := fitCubic(timeS[lo:hi], c[lo:hi]); ok {
					for i := from; i < to; i++ {
						c[i] = at(timeS[i])
					}
				}
			}
			if p.Filled == nil {
				p.Filled = make([]bool, n)
			}
			for i := from; i < to; i++ {
				p.Filled[i] = p.Seen(i)
			}
		}
		from = to
	}
}

// leastForCubic is how many samples a cubic is laid through at least.
const leastForCubic = 6

// fitCubic returns the cubic of least squares through the samples that are there;
// ok is false for too few.
func fitCubic(timeS, x []float64) (at func(s float64) float64, ok bool) {
	if len(x) < leastForCubic {
		return nil, false
	}
	mid, half := (timeS[0]+timeS[len(timeS)-1])/2, (timeS[len(timeS)-1]-timeS[0])/2
	var a [4][5]float64
	n := 0
	for i, v := range x {
		if math.IsNaN(v) {
			continue
		}
		n++
		u := (timeS[i] - mid) / half
		pow := [4]float64{1, u, u * u, u * u * u}
		for r := range 4 {
			for c := range 4 {
				a[r][c] += pow[r] * pow[c]
			}
			a[r][4] += pow[r] * v
		}
	}
	if n < leastForCubic {
		return nil, false
	}
	for p := range 4 {
		if !(a[p][p] > 1e-9) {
			return nil, false
		}
		for r := p + 1; r < 4; r++ {
			f := a[r][p] / a[p][p]
			for c := p; c < 5; c++ {
				a[r][c] -= f * a[p][c]
			}
		}
	}
	var k [4]float64
	for p := 3; p >= 0; p-- {
		k[p] = a[p][4]
		for c := p + 1; c < 4; c++ {
			k[p] -= a[p][c] * k[c]
		}
		k[p] /= a[p][p]
	}
	return func(s float64) float64 {
		u := (s - mid) / half
		return k[0] + u*(k[1]+u*(k[2]+u*k[3]))
	}, true
}
