package event

import (
	"math"

	"gaitwright/num/signal"
)

// Moment is one of the two instants of a contact.
type Moment uint8

const (
	TouchDown Moment = iota
	LiftOff
)

// witness is one rule that puts a time to an instant of a contact: the largest
// (or smallest) value of a derived channel in a window about an anchor, or the
// passage of a channel through a level. The anchor of touch-down is the ankle's
// farthest reach ahead of the pelvis, of lift-off its farthest reach behind.
type witness struct {
	name     string
	about    string // for people: what happens, and who described it
	ch       channel
	order    int
	cutoffHz float64
	kind     witnessKind
	fromS    float64 // window about the anchor, seconds
	toS      float64
	level    float64 // for levels: the share of the way from trough to crest
	lateS    float64 // about how late it is; its second, narrow window lies there
	behind   bool    // asked only where forward is not seen
}

type witnessKind uint8

const (
	crest  witnessKind = iota // largest local maximum in the window
	trough                    // smallest local minimum in the window
	risingThrough
	fallingThrough
	anchored // the anchor itself
)

// The witnesses of each instant. Every cut-off is 14 Hz or lower, so that they
// mean the same from about 50 frames a second upward.
var witnesses = [2][]witness{
	TouchDown: {
		{name: "ankle braked", about: "upward jerk of the ankle is largest", ch: ankleY, order: 3, cutoffHz: 10, kind: crest, fromS: -0.015, toS: 0.080, lateS: 0.010},
		{name: "heel jerk", about: "forward jerk of the heel is largest", ch: heelX, order: 3, cutoffHz: 14, kind: crest, fromS: 0, toS: 0.090, lateS: 0.015},
		{name: "heel on belt speed", about: "forward acceleration of the heel is largest: it has taken on the ground's speed", ch: heelX, order: 2, cutoffHz: 14, kind: crest, fromS: 0.025, toS: 0.110, lateS: 0.045},
		{name: "pelvis braking", about: "backward jerk of the pelvis is largest", ch: pelvisX, order: 3, cutoffHz: 14, kind: trough, fromS: 0, toS: 0.090, lateS: 0.020},
		{name: "shank swings back", about: "the shank turns backward fastest", ch: shankAngle, order: 1, cutoffHz: 7, kind: trough, fromS: 0.020, toS: 0.120, lateS: 0.043},
		{name: "knee straight", about: "the knee is straightest before contact (Fellin 2010 lists it, from memory)", ch: kneeAngle, order: 0, cutoffHz: 7, kind: crest, fromS: -0.040, toS: 0.060, lateS: -0.016},
		{name: "pelvis falls", about: "the pelvis falls fastest (Milner & Paquette 2015, J Biomech 48:3502)", ch: pelvisY, order: 1, cutoffHz: 14, kind: trough, fromS: 0, toS: 0.110, lateS: 0.034},
		{name: "body caught", about: "upward acceleration of pelvis and legs rises through a fifth of its range", ch: bodyY, order: 2, cutoffHz: 7, kind: risingThrough, fromS: -0.060, toS: 0.070, level: 0.2, lateS: 0.010},
		{name: "ankle falls", about: "the ankle falls fastest before it is braked", ch: ankleY, order: 1, cutoffHz: 8, kind: trough, fromS: -0.040, toS: 0.070, lateS: 0.000},
		{name: "pelvis caught", about: "upward acceleration of the pelvis rises through a fifth of its range", ch: pelvisY, order: 2, cutoffHz: 7, kind: risingThrough, fromS: -0.040, toS: 0.220, level: 0.2, lateS: 0.010, behind: true},
		{name: "share before mid-stance", about: "the pelvis is lowest a usual share of the stride later", ch: pelvisY, kind: anchored, cutoffHz: 6, lateS: -0.026, behind: true},
	},
	LiftOff: {
		{name: "ankle whipped", about: "backward acceleration of the ankle is largest", ch: ankleX, order: 2, cutoffHz: 10, kind: trough, fromS: -0.130, toS: 0.020, lateS: 0.026},
		{name: "shank whipped", about: "the shank's turning forward slows most", ch: shankAngle, order: 2, cutoffHz: 7, kind: trough, fromS: -0.130, toS: 0.020, lateS: 0.029},
		{name: "push-off", about: "the ankle straightens fastest", ch: ankleAngle, order: 1, cutoffHz: 7, kind: trough, fromS: -0.160, toS: 0, lateS: -0.017},
		{name: "body let go", about: "upward acceleration of pelvis and legs falls through three tenths of its range", ch: bodyY, order: 2, cutoffHz: 10, kind: fallingThrough, fromS: -0.130, toS: 0.020, level: 0.3, lateS: -0.022},
		{name: "knee gives", about: "the knee's straightening turns to bending fastest", ch: kneeAngle, order: 2, cutoffHz: 7, kind: trough, fromS: -0.130, toS: 0.020, lateS: 0.027},
		{name: "knee thrown up", about: "the knee's rise slows most", ch: kneeY, order: 2, cutoffHz: 10, kind: trough, fromS: -0.140, toS: 0.010, lateS: 0.031},
		{name: "ankle off slowly", about: "backward acceleration of the ankle is largest, smoothed more", ch: ankleX, order: 2, cutoffHz: 7, kind: trough, fromS: -0.130, toS: 0.020, lateS: 0.024},
		{name: "body let go slowly", about: "upward acceleration of pelvis and legs falls through half its range, smoothed more", ch: bodyY, order: 2, cutoffHz: 5, kind: fallingThrough, fromS: -0.130, toS: 0.020, level: 0.5, lateS: -0.030},
		{name: "usual share", about: "contact has lasted its usual share of the stride; reckoned from the lowest point of the pelvis", ch: ankleY, kind: anchored, cutoffHz: 10, lateS: 0.096, behind: true},
		{name: "pelvis let go", about: "upward acceleration of the pelvis falls through three tenths of its range", ch: pelvisY, order: 2, cutoffHz: 7, kind: fallingThrough, fromS: -0.130, toS: 0.020, level: 0.3, lateS: -0.022, behind: true},
		{name: "pelvis rises fastest", about: "the pelvis rises fastest: the force has sunk to body weight", ch: pelvisY, order: 1, cutoffHz: 10, kind: crest, fromS: -0.190, toS: -0.050, lateS: -0.030, behind: true},
	},
}

// within evaluates the witness about an anchor between lo and hi; NaN where it has nothing to
// say.
func (w *witness) within(g *leg, anchorS, lo, hi float64) float64 {
	if w.behind && g.raw[reachX] != nil {
		return math.NaN()
	}
	z := g.derived(w.ch, w.order, w.cutoffHz)
	if z == nil {
		return math.NaN()
	}
	switch w.kind {
	case crest, trough:
		return extreme(g.of, z, lo, hi, w.kind == crest)
	case anchored:
		return anchorS
	}
	return through(g.of, z, lo, hi, w.level, w.kind == risingThrough)
}

// nearS is half the width of the second window, about the time that the first,
// wide windows agree on.
const nearS = 0.045

// ask writes to times what the witnesses of m say about an anchor. They are asked
// twice: first over wide windows, then near the median of what they said, so that
// a neighbouring crest in an unusual gait is not taken for the event. The wide
// windows are widened further by widenS; none reaches before least or beyond
// most.
func (g *leg) ask(m Moment, anchorS, widenS, least, most float64, times []float64) {
	ws := witnesses[m]
	first := make([]float64, 0, len(ws))
	for i := range ws {
		w := &ws[i]
		times[i] = w.within(g, anchorS, max(least, anchorS+w.fromS-widenS), min(most, anchorS+w.toS+widenS))
		if v := times[i] - w.lateS; !math.IsNaN(v) {
			first = append(first, v)
		}
	}
	about := signal.Median(first)
	if math.IsNaN(about) {
		return
	}
	for i := range ws {
		w := &ws[i]
		if w.kind == crest || w.kind == trough {
			times[i] = w.within(g, anchorS, max(least, about+w.lateS-nearS), min(most, about+w.lateS+nearS))
		}
	}
}

// extreme returns the time of the most extreme turning point of z between lo
// and hi, placed between samples by a parabola; NaN where there is none.
func extreme(l *limbs, z []float64, lo, hi float64, largest bool) float64 {
	sign := 1.0
	if !largest {
		sign = -1
	}
	a, b := l.index(lo, hi)
	best := -1
	for i := a; i <= b; i++ {
		v := sign * z[i]
		if v > sign*z[i-1] && v >= sign*z[i+1] && (best < 0 || v > sign*z[best]) {
			best = i
		}
	}
	if best < 0 {
		return math.NaN()
	}
	off, _ := signal.Vertex(z[best-1], z[best], z[best+1])
	return l.timeS[best] + off/gridHz
}

// reachOfLevel is how far from the trough a passage through a level, and the
// crest that goes with it, are looked for.
const reachOfLevel = int(0.25 * gridHz)

// through returns the time at which z passes the given share of the way from its
// trough between lo and hi to the crest beside it: after the trough for a rising
// passage, before it for a falling one.
func through(l *limbs, z []float64, lo, hi, share float64, rising bool) float64 {
	a, b := l.index(lo, hi)
	low := -1
	for i := a; i <= b; i++ {
		if !math.IsNaN(z[i]) && (low < 0 || z[i] < z[low]) {
			low = i
		}
	}
	if low < 0 {
		return math.NaN()
	}
	step := -1
	if rising {
		step = 1
	}
	inside := func(i int) bool { return i >= 0 && i < len(z) && step*(i-low) <= reachOfLevel }
	high := low
	for i := low; inside(i); i += step {
		if z[i] > z[high] {
			high = i
		}
	}
	level := z[low] + share*(z[high]-z[low])
	for i := low; inside(i + step); i += step {
		if z[i] <= level && z[i+step] > level {
			return l.timeS[i] + float64(step)*(level-z[i])/(z[i+step]-z[i])/gridHz
		}
	}
	return math.NaN()
}
