package track

import (
	"math"
	"sync"

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
	var look Look
	var err error
	var feet [2]foot // what they usually are, of each before the other is mended
	var looking sync.WaitGroup
	looking.Go(func() { look, err = LookAt(t) })
	for k, s := range body.Sides {
		looking.Go(func() { feet[k] = footOf(t, s) })
	}
	looking.Wait()
	if err != nil || !look.View.Sagittal() {
		return 0
	}
	return feet[0].rejectBroken(t) + feet[1].rejectBroken(t)
}

// foot is a foot with its ankle and shank, and how long its parts usually are.
type foot struct {
	ankle, heel, toe, other    *Path // the other foot's ankle; nil where one of the four is
	toToe, toHeel, sole, shank func(i int) float64
	turn                       func(i int) float64 // from the heel to the toe about the ankle

	toeM, heelM, soleM, shankM, turnM float64 // medians
}

func footOf(t *Track, s body.Side) (f foot) {
	knee, ankle := t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
	heel, toe := t.Paths[body.LeftHeel.On(s)], t.Paths[body.LeftToe.On(s)]
	other := t.Paths[body.LeftAnkle.On(s.Other())]
	if ankle == nil || heel == nil || toe == nil || other == nil {
		return f
	}
	usual := func(of func(i int) float64) float64 {
		v := make([]float64, 0, t.Frames())
		for i := range t.Frames() {
			if x := of(i); !math.IsNaN(x) {
				v = append(v, x)
			}
		}
		return signal.MedianInPlace(v)
	}
	f = foot{ankle: ankle, heel: heel, toe: toe, other: other, toToe: apart(ankle, toe), toHeel: apart(ankle, heel), sole: apart(heel, toe),
		shank: func(int) float64 { return math.NaN() }, shankM: math.NaN(),
		turn: func(i int) float64 {
			return (heel.X[i]-ankle.X[i])*(toe.Y[i]-ankle.Y[i]) - (heel.Y[i]-ankle.Y[i])*(toe.X[i]-ankle.X[i])
		}}
	f.toeM, f.heelM, f.soleM, f.turnM = usual(f.toToe), usual(f.toHeel), usual(f.sole), usual(f.turn)
	if knee != nil {
		f.shank = apart(knee, ankle)
		f.shankM = usual(f.shank)
	}
	return f
}

// apart is how far two points are from each other in a frame.
func apart(a, b *Path) func(i int) float64 {
	return func(i int) float64 { return math.Hypot(a.X[i]-b.X[i], a.Y[i]-b.Y[i]) }
}

// rejectBroken drops the points of the foot in frames in which it cannot be one, and
// returns how many.
func (f *foot) rejectBroken(t *Track) int {
	if f.ankle == nil {
		return 0
	}
	frames, leg := t.Frames(), legLength(t)
	between := apart(f.ankle, f.other)
	outside := func(v, middle, least, most float64) bool { return v < least*middle || v > most*middle }
	badFoot, badAnkle := make([]bool, frames), make([]bool, frames)
	for i := range frames {
		if !(between(i) < nearFeet*leg) {
			continue
		}
		badToe := outside(f.toToe(i), f.toeM, leastFoot, mostFoot) || outside(f.sole(i), f.soleM, leastFoot, mostFoot)
		badHeel := outside(f.toHeel(i), f.heelM, leastHeel, mostHeel)
		badAnkle[i] = badToe && badHeel || outside(f.shank(i), f.shankM, leastShank, mostShank)
		badFoot[i] = badAnkle[i] || badToe || badHeel || f.turn(i)*f.turnM < 0
	}
	n := f.ankle.rebuild(t.TimeS, widened(badAnkle, t.TimeS, beforeAfterS))
	badFoot = widened(badFoot, t.TimeS, beforeAfterS)
	return n + f.heel.rebuild(t.TimeS, badFoot) + f.toe.rebuild(t.TimeS, badFoot)
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
