package synth

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
)

const gravityMPS2 = 9.81

// rise is the height of the middle of the hips from one contact to the next:
// lifted by a force that starts and ends at nothing, then falling freely.
type rise struct {
	contactS, toeOffS float64
	y0, v0            float64 // height and vertical speed at contact
	y1, v1            float64 // and at toe-off
	a, b, c           float64 // force over mass, first three harmonics of half a sine
}

// newRise finds the force that leads from the state at contact to that at
// toe-off. flatness is the third harmonic against the first: 0 is the half-sine
// of Morin et al. 2005.
func newRise(contactS, toeOffS, y0, v0, y1, v1, flatness float64) rise {
	tc := toeOffS - contactS
	impulse := (v1 - v0 + gravityMPS2*tc) * math.Pi / tc / 2
	a := impulse / (1 + flatness/3)
	c := flatness * a
	b := 2 * ((y1-y0-v0*tc+gravityMPS2*tc*tc/2)*math.Pi/(tc*tc) - a - c/3)
	return rise{contactS, toeOffS, y0, v0, y1, v1, a, b, c}
}

func (r *rise) at(t float64) jet {
	if t >= r.toeOffS {
		t -= r.toeOffS
		return jet{r.y1 + r.v1*t - gravityMPS2*t*t/2, r.v1 - gravityMPS2*t, -gravityMPS2}
	}
	t -= r.contactS
	tc := r.toeOffS - r.contactS
	k := math.Pi / tc
	out := jet{r.y0 + r.v0*t - gravityMPS2*t*t/2, r.v0 - gravityMPS2*t, -gravityMPS2}
	for i, f := range [...]float64{r.a, r.b, r.c} {
		w := k * float64(i+1)
		sin, cos := math.Sincos(w * t)
		out = out.add(jet{f / w * (t - sin/w), f / w * (1 - cos), f * sin})
	}
	return out
}

// excursion is the height between the highest and lowest point of a steady
// runner's hips for the contact and flight times given.
func excursion(tc, tf, flatness float64) float64 {
	v := gravityMPS2 * tf / 2
	r := newRise(0, tc, 0, -v, 0, v, flatness)
	low := 0.0
	for i := 1; i < 200; i++ {
		low = min(low, r.at(tc*float64(i)/200).v)
	}
	return gravityMPS2*tf*tf/8 - low
}

// flatnessFor finds the shape of the force that gives the wanted excursion.
// Between -1/3 and 1 the force never pulls.
func flatnessFor(tc, tf, want float64) (float64, error) {
	lo, hi := -1.0/3, 1.0
	most, least := excursion(tc, tf, lo), excursion(tc, tf, hi)
	if want > most || want < least {
		return 0, fmt.Errorf("vertical oscillation %.3f m cannot go with a contact time of %.3f s and a flight time of %.3f s: give a value from %.3f to %.3f m, or 0 to let it follow from the times",
			want, tc, tf, least, most)
	}
	for range 60 {
		mid := (lo + hi) / 2
		if excursion(tc, tf, mid) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, nil
}

// pelvisPose is where the pelvis is, with derivatives where the legs need them.
type pelvisPose struct {
	x, y, z         jet // middle of the hips
	yaw, roll, tilt jet
}

// pelvisBesideY is everything of the pelvis but its height. The amplitudes are
// invented, within the ranges of Schache 1999, Gait Posture 10:30-47 (from
// memory: tilt 7.6°, obliquity 10.6°, turn 17.6° at 4 m/s).
func (r *Runner) pelvisBesideY(t float64) pelvisPose {
	ph := r.clock.at(t)
	var p pelvisPose
	p.x = r.surge(ph).add(r.drift(t))
	p.z = wave(ph, r.lead*0.007, 1, 0.45)
	// Left contact finds the left hip a little behind; it goes on back until
	// mid-stance.
	p.yaw = wave(ph, r.lead*4.5*degree, 1, 0.3)
	p.tilt = wave(ph, 2.0*degree, 2, 0.9).add(constant(r.p.PelvicTiltDeg * degree))
	p.roll = r.perStance(t, func(f *footfall) float64 { return f.side.Sign() * f.drop }, pelvicDropPeak)
	return p
}

// surge is how the pelvis goes ahead of its mean place and falls back behind it
// once a step: in flight it is slowed by the swinging legs, braked sharply some 30
// ms after contact, then pushed on. It is the first four harmonics of the midpoint of
// the four spines over a step, mean of six runners at 2.5, 3.5 and 4.5 m/s (computed
// from Fukuchi et al. 2017; the second to fourth agree among them, and level
// beyond those speeds is invented).
func (r *Runner) surge(ph jet) jet {
	v := r.p.SpeedMPS
	harmonics := [...]struct{ cos, sin float64 }{
		{table(v, 2.5, 14.4, 3.5, 13.4, 4.5, 10.2), table(v, 2.5, -3.8, 3.5, -9.6, 4.5, -12.9)},
		{table(v, 2.5, -0.3, 3.5, -0.5, 4.5, 0.5), table(v, 2.5, 0.7, 3.5, 2.0, 4.5, 3.4)},
		{0, 0.33},
		{table(v, 2.5, -0.23, 3.5, -0.29, 4.5, -0.40), 0.11},
	}
	var out jet
	for i, h := range harmonics {
		s, c := ph.scale(2 * math.Pi * float64(i+1)).sincos()
		out = out.add(c.scale(h.cos / 1000)).add(s.scale(h.sin / 1000))
	}
	return out
}

// Where in contact the pelvis drops most and the knee is pressed inward most,
// as a share of contact time (invented).
const (
	pelvicDropPeak = 0.42
	valgusPeak     = 0.48
)

// perStance adds one hump a contact, a tenth of the contact longer on either
// side than the contact, with its top at the given share of it.
func (r *Runner) perStance(t float64, height func(*footfall) float64, peak float64) jet {
	var out jet
	k := r.fallAt(t)
	for i := max(0, k-1); i <= min(len(r.falls)-1, k+1); i++ {
		f := &r.falls[i]
		span := 1.2 * f.stanceS()
		u := (t - f.contactS + 0.1*f.stanceS()) / span
		out = out.add(hump(u, (peak+0.1)/1.2).clocked(span).scale(height(f)))
	}
	return out
}

// drift is the runner's slow wandering forward and back on the belt.
func (r *Runner) drift(t float64) jet {
	a := r.p.Variation.DriftM
	if a == 0 {
		return jet{}
	}
	s1, _ := jet{v: 2 * math.Pi * t / 9.7, d: 2 * math.Pi / 9.7}.sincos()
	s2, _ := jet{v: 2*math.Pi*t/4.3 + 1, d: 2 * math.Pi / 4.3}.sincos()
	return s1.scale(0.7 * a).add(s2.scale(0.3 * a))
}

func (r *Runner) pelvis(t float64) pelvisPose {
	p := r.pelvisBesideY(t)
	p.y = r.rises[r.fallAt(t)].at(t)
	return p
}

// frame is the orientation of the pelvis. Forward tilt lowers its front.
func (p *pelvisPose) frame() frame {
	return yaw(p.yaw.v).then(roll(p.roll.v)).then(pitch(-p.tilt.v))
}

// hip is the path of one hip joint, from the middle of the hips.
func (p *pelvisPose) hip(side body.Side, half float64) (x, y, z jet) {
	sy, cy := p.yaw.sincos()
	sr, cr := p.roll.sincos()
	w := side.Sign() * half
	return p.x.sub(sy.mul(cr).scale(w)), p.y.add(sr.scale(w)), p.z.add(cy.mul(cr).scale(w))
}
