package event

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Testimony is what the witnesses say of one instant of one contact.
type Testimony struct {
	Side    body.Side
	AnchorS float64   // time about which they were asked
	TimesS  []float64 // one a witness, in the order in which they are asked; NaN where one is silent
	// Pace is how fast the foot passes back under the pelvis in mid-stance, in
	// leg lengths a second; where forward is not seen, the clip's strides a second.
	Pace float64
}

// cycle is one stride of one leg: the ankle's farthest reach ahead of the pelvis
// and, next, behind it.
type cycle struct {
	aheadS, behindS float64
	midS            float64 // mid-stance, where forward is not seen; else 0
}

// Cut-off and size of the reach by which strides are told apart. The ankle of a
// runner at 2 m/s already travels about 0.7 leg lengths (open data of Fukuchi et
// al. 2017); a quarter leaves room and keeps shuffling on the spot out.
const (
	cycleCutoffHz = 6
	leastReach    = 0.25 // leg lengths
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

// longCycle is how many times the usual the time from the farthest reach ahead to
// that behind may last: beyond it the one behind belongs to a later stride, because
// the foot was lost in between.
const longCycle = 1.5

// pairCycles joins each farthest reach ahead with the next one behind; where two
// ahead follow each other the later counts. One whose own reach behind was not seen
// is left out.
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
	lasts := make([]float64, len(out))
	for i, c := range out {
		lasts[i] = c.behindS - c.aheadS
	}
	most := longCycle * signal.Median(lasts)
	return slices.DeleteFunc(out, func(c cycle) bool { return c.behindS-c.aheadS > most })
}

func anyBetween(x []float64, lo, hi float64) bool {
	for _, v := range x {
		if v > lo && v < hi {
			return true
		}
	}
	return false
}

// pace is the [Testimony.Pace] of a cycle.
func (g *leg) pace(c cycle) float64 {
	if g.raw[reachX] == nil {
		return 1 / g.of.stepping().strideS
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
		lo, hi := math.Inf(-1), math.Inf(1)
		switch {
		case g.raw[reachX] != nil:
		case m == TouchDown:
			hi = c.midS
		default:
			lo = c.midS
		}
		g.ask(m, anchor, widen, lo, hi, t.TimesS)
		out[i] = t
	}
	return out
}
