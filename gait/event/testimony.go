package event

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Testimony is what the witnesses say of one instant of one contact.
type Testimony struct {
	Side    body.Side
	AnchorS float64   // time about which they were asked
	TimesS  []float64 // one a witness, in the order of [WitnessNames]; NaN where one is silent
	// Pace is how fast the foot passes back under the pelvis in mid-stance, in
	// leg lengths a second; where forward is not seen, the inverse of the time
	// for which this ankle is the lower, a second.
	Pace float64
}

// WitnessNames returns the short names of the witnesses of a moment.
func WitnessNames(m Moment) []string {
	out := make([]string, len(witnesses[m]))
	for i, w := range witnesses[m] {
		out[i] = w.name
	}
	return out
}

// cycle is one stride of one leg: the ankle's farthest reach ahead of the pelvis
// and, next, behind it.
type cycle struct {
	aheadS, behindS float64
	lowerS          float64 // how long this ankle was the lower; where forward is not seen
}

// Cut-off and size of the reach by which strides are told apart. The ankle of a
// runner at 2 m/s already travels about 0.7 leg lengths (open data of Fukuchi et
// al. 2017); a quarter leaves room and keeps shuffling on the spot out.
const (
	cycleCutoffHz = 6
	leastReach    = 0.25 // leg lengths
	leastLift     = 0.08 // leg lengths the ankle rises in swing, where forward is not seen
)

// Mean time from the farthest reach ahead to contact and from toe-off to the
// farthest reach behind, and their standard deviations between 18 runs (open data
// of Fukuchi et al. 2017, computed here).
const (
	aheadBeforeContactS = 0.026
	aheadSDS            = 0.007
	behindAfterToeOffS  = 0.096
	behindSDS           = 0.016
)

// cycles finds the strides of a leg.
func (g *leg) cycles() []cycle {
	if g.raw[reachX] == nil {
		return g.cyclesByHeight()
	}
	z := g.derived(reachX, 0, cycleCutoffHz)
	ahead := signal.Peaks(z, leastReach*g.of.length)
	behind := signal.Valleys(z, leastReach*g.of.length)
	return pairCycles(timesOf(ahead, g.of.timeS), timesOf(behind, g.of.timeS))
}

func timesOf(p []signal.Peak, timeS []float64) []float64 {
	out := make([]float64, len(p))
	for i := range p {
		out[i] = p[i].At(timeS)
	}
	return out
}

// pairCycles joins each farthest reach ahead with the next one behind; where two
// ahead follow each other the later counts.
func pairCycles(ahead, behind []float64) []cycle {
	var out []cycle
	k := 0
	for i, a := range ahead {
		if i+1 < len(ahead) && !anyBetween(behind, a, ahead[i+1]) {
			continue
		}
		for k < len(behind) && behind[k] <= a {
			k++
		}
		if k == len(behind) {
			break
		}
		out = append(out, cycle{aheadS: a, behindS: behind[k]})
	}
	return out
}

func anyBetween(x []float64, lo, hi float64) bool {
	for _, v := range x {
		if v > lo && v < hi {
			return true
		}
	}
	return false
}

// From behind or in front the reach is not seen; strides are then told apart by
// which ankle is lower. The lower one changes in flight: by 104 ms before contact
// on average over 18 runs with markers (open data of Fukuchi et al. 2017), by 55
// ms in two rendered rear views, where a foot that comes nearer to the camera
// sinks in the picture (computed here); the first anchor is set between. The
// second is set a usual contact later: those runs' lasted 0.326 of a stride, with
// a standard deviation between them of 0.033.
const (
	aheadAfterLower = 0.054
	contactShare    = 0.326
	brakedLateS     = 0.010 // of "ankle braked"
	heightWidensS   = 0.025 // windows about such anchors are wider by this on both sides
)

// cyclesByHeight finds the strides from the heights of both ankles alone.
func (g *leg) cyclesByHeight() []cycle {
	other := g.of.legs[g.side.Other()]
	if other == nil {
		return nil
	}
	over := sum(g.derived(ankleY, 0, cycleCutoffHz), -1, other.derived(ankleY, 0, cycleCutoffHz))
	var lower, upper []float64
	for _, c := range plainCrossings(g.of, over, leastLift*g.of.length) {
		switch {
		case !c.Rising:
			lower = append(lower, c.TimeS)
		case len(lower) > len(upper):
			upper = append(upper, c.TimeS)
		}
	}
	strides := make([]float64, 0, len(lower))
	for i := 1; i < len(lower); i++ {
		strides = append(strides, lower[i]-lower[i-1])
	}
	stride := signal.Median(strides)
	jerk := g.derived(ankleY, 3, 10)
	var out []cycle
	for i, t := range upper {
		ahead := lower[i] + aheadAfterLower
		contact := ahead + aheadBeforeContactS
		if braked := extreme(g.of, jerk, contact-0.065, contact+0.080, true); !math.IsNaN(braked) {
			contact = braked - brakedLateS
		}
		if math.IsNaN(stride) {
			continue
		}
		out = append(out, cycle{aheadS: ahead, behindS: contact + contactShare*stride + behindAfterToeOffS, lowerS: t - lower[i]})
	}
	return out
}

// plainCrossings returns the passages of z through zero between which it goes at
// least size away from it.
func plainCrossings(l *limbs, z []float64, size float64) []signal.Crossing {
	var out []signal.Crossing
	for _, c := range signal.Crossings(l.timeS, z, 0) {
		if n := len(out); n > 0 {
			far := 0.0
			for i := out[n-1].Index; i <= c.Index; i++ {
				far = math.Max(far, math.Abs(z[i]))
			}
			if !(far >= size) {
				out = out[:n-1] // there and back: neither counts
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// pace is the [Testimony.Pace] of a cycle.
func (g *leg) pace(c cycle) float64 {
	if g.raw[reachX] == nil {
		return 1 / c.lowerS
	}
	mid := c.aheadS + 0.45*(c.behindS-c.aheadS)
	return -g.at(reachX, 1, cycleCutoffHz, mid) / g.of.length
}

// hear asks all witnesses of moment m about every cycle.
func (g *leg) hear(m Moment, cycles []cycle) []Testimony {
	out := make([]Testimony, len(cycles))
	k := len(witnesses[m])
	widen := 0.0
	if g.raw[reachX] == nil {
		widen = heightWidensS
	}
	times := make([]float64, k*len(cycles))
	for i, c := range cycles {
		anchor := c.aheadS
		if m == LiftOff {
			anchor = c.behindS
		}
		t := Testimony{Side: g.side, AnchorS: anchor, TimesS: times[i*k : (i+1)*k], Pace: g.pace(c)}
		g.ask(m, anchor, widen, t.TimesS)
		out[i] = t
	}
	return out
}
