package synth

import (
	"math"
	"math/rand/v2"

	"gaitwright/gait/body"
)

// footfall is one contact of a foot with all that is particular to it.
type footfall struct {
	side      body.Side
	contactS  float64
	toeOffS   float64
	footAngle float64 // radians, as all angles here
	over      float64 // metres, heel ahead of the hips
	place     float64 // metres, of the heel across the belt
	knee      float64 // flexion at contact
	extension float64 // of the hip at toe-off, against natural
	drop      float64
	valgus    float64
	whip      float64
	swingKnee float64
	toeOut    float64
}

func (f *footfall) stanceS() float64 { return f.toeOffS - f.contactS }

// wander is a random series whose neighbours resemble each other: a
// first-order autoregression of standard deviation 1.
type wander struct {
	rng  *rand.Rand
	rho  float64
	last [2]float64
	warm [2]bool
}

func (w *wander) next(i int) float64 {
	e := w.rng.NormFloat64()
	if !w.warm[i] {
		w.warm[i], w.last[i] = true, e
	} else {
		w.last[i] = w.rho*w.last[i] + math.Sqrt(1-w.rho*w.rho)*e
	}
	// Beyond two and a half standard deviations a runner stumbles; ours does not.
	return max(-2.5, min(2.5, w.last[i]))
}

// The footfalls begin before time 0 and go on past the end, so that every
// instant lies inside a stride of each foot.
const marginS = 2.5

// schedule lays down the footfalls. The first contact after 0 comes at a fifth of
// a step.
func schedule(p *Params) []footfall {
	step := 60 / p.StepRateSPM
	lead := int(math.Ceil(marginS/step/2)) * 2
	n := lead + int(math.Ceil((p.DurationS+marginS)/step)) + 4
	v := p.Variation
	// Each quantity draws from its own stream, so that changing the spread of one
	// leaves the others as they were.
	stream := uint64(0)
	series := func() *wander {
		stream++
		return &wander{rng: rand.New(rand.NewPCG(p.Seed, stream)), rho: v.Autocorrelation}
	}
	stepW, contactW, overW, placeW, angleW, kneeW := series(), series(), series(), series(), series(), series()
	extW, dropW, valgusW, whipW, swingW := series(), series(), series(), series(), series()

	falls := make([]footfall, n)
	t := 0.2*step - float64(lead)*step
	for k := range falls {
		i := k % 2
		side := p.first()
		if i == 1 {
			side = side.Other()
		}
		skew := 1 + p.StepTimeSkew/2
		if side == body.Right {
			skew = 1 - p.StepTimeSkew/2
		}
		s := func(x Sided) float64 { return x.On(side) }
		falls[k] = footfall{
			side:      side,
			contactS:  t,
			toeOffS:   t + 2*step*s(p.DutyFactor) + v.ContactTimeS*contactW.next(i),
			footAngle: degree * (s(p.FootAngleAtContactDeg) + v.FootAngleDeg*angleW.next(i)),
			over:      s(p.OverstrideM) + v.OverstrideM*overW.next(i),
			place:     side.Sign() * (p.StepWidthM/2 + v.StepWidthM*placeW.next(i)),
			knee:      degree * (s(p.KneeFlexionAtContactDeg) + v.KneeFlexionDeg*kneeW.next(i)),
			extension: degree * (s(p.HipExtensionShiftDeg) + v.HipExtensionDeg*extW.next(i)),
			drop:      degree * (s(p.PelvicDropDeg) + v.PelvicDropDeg*dropW.next(i)),
			valgus:    degree * (s(p.KneeValgusDeg) + v.KneeValgusDeg*valgusW.next(i)),
			whip:      degree * (s(p.HeelWhipDeg) + v.HeelWhipDeg*whipW.next(i)),
			swingKnee: degree * (s(p.SwingKneeFlexionDeg) + v.SwingKneeDeg*swingW.next(i)),
			toeOut:    degree * s(p.ToeOutDeg),
		}
		t += step*skew + v.StepTimeS*stepW.next(i)
	}
	return falls
}
