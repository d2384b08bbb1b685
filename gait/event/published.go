package event

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// PublishedRule is a kinematic rule for one moment as the literature gives it,
// kept to be compared with the joined verdict on the same data. Positions and
// velocities are smoothed at 10 Hz, accelerations and jerks at 20.
type PublishedRule struct {
	Name   string
	Source string
	Moment Moment

	evaluate func(g *leg, nearS float64) float64
}

// aroundS is how far from a known contact a published rule may look.
const aroundS = 0.12

// PublishedRules lists the rules that are compared, contact first.
var PublishedRules = []PublishedRule{
	{"lowest heel", "Fellin et al. 2010, J Sci Med Sport 13:646", TouchDown, turning(heelY, 0, 10, trough)},
	{"heel stops falling", "Fellin et al. 2010, J Sci Med Sport 13:646", TouchDown, heelStops},
	{"heel farthest ahead of pelvis", "Zeni et al. 2008, Gait Posture 27:710 (for walking)", TouchDown, turning(reachX, 0, 10, crest)},
	{"pelvis falls fastest", "Milner & Paquette 2015, J Biomech 48:3502", TouchDown, turning(pelvisY, 1, 10, trough)},
	{"first upward acceleration peak of heel or toe", "Handsaker et al. 2016, J Biomech 49:4128 (heel or first metatarsal)", TouchDown, firstPeak},
	{"peak knee extension", "Fellin et al. 2010, J Sci Med Sport 13:646", LiftOff, turning(kneeAngle, 0, 10, crest)},
	{"upward jerk peak of the toe", "Handsaker et al. 2016, J Biomech 49:4128 (hallux)", LiftOff, turning(toeY, 3, 20, crest)},
	{"upward acceleration peak of the toe", "De Witt 2010, J Biomech 43:3067", LiftOff, turning(toeY, 2, 10, crest)},
	{"toe farthest behind pelvis", "Zeni et al. 2008, Gait Posture 27:710 (for walking)", LiftOff, turning(toeReachX, 0, 10, trough)},
}

func turning(ch channel, order int, cutoffHz float64, kind witnessKind) func(*leg, float64) float64 {
	return func(g *leg, near float64) float64 {
		z := g.derived(ch, order, cutoffHz)
		if z == nil {
			return math.NaN()
		}
		return extreme(g.of, z, near-aroundS, near+aroundS, kind == crest)
	}
}

// heelStops is the first passage of the heel's vertical velocity from falling to
// rising.
func heelStops(g *leg, near float64) float64 {
	z := g.derived(heelY, 1, 10)
	if z == nil {
		return math.NaN()
	}
	a, b := g.of.index(near-aroundS/2, near+aroundS)
	if a >= b {
		return math.NaN()
	}
	for _, c := range signal.Crossings(g.of.timeS[a:b], z[a:b], 0) {
		if c.Rising {
			return c.TimeS
		}
	}
	return math.NaN()
}

// firstPeak is the earlier of the strongest upward accelerations of heel and toe.
func firstPeak(g *leg, near float64) float64 {
	first := math.NaN()
	for _, ch := range [2]channel{heelY, toeY} {
		if z := g.derived(ch, 2, 20); z != nil {
			if t := extreme(g.of, z, near-aroundS/2, near+aroundS/2, true); !(t >= first) {
				first = t
			}
		}
	}
	return first
}

// Try returns the errors of the rule, in seconds, at contacts whose times are
// known; NaN where the rule finds nothing.
func (r PublishedRule) Try(t *track.Track, truth []Contact) []float64 {
	out := make([]float64, len(truth))
	l := newLimbs(t, nil)
	for i, c := range truth {
		out[i] = math.NaN()
		if l == nil || c.Side == body.NoSide || l.legs[c.Side] == nil {
			continue
		}
		at := c.InitialContactS
		if r.Moment == LiftOff {
			at = c.ToeOffS
		}
		out[i] = r.evaluate(l.legs[c.Side], at) - at
	}
	return out
}
