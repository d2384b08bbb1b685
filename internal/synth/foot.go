package synth

import (
	"math"
)

// shoe is the shape of a shod foot in its own plane: metres forward of the back
// of the heel and above the loaded sole.
type shoe struct {
	length float64
	edge   float64 // where the heel meets the belt
	ball   float64 // where the toes bend
	tip    float64 // where the sole meets the belt last
	ankleF float64
	ankleH float64
	heelH  float64 // of the heel landmark, on the back of the heel counter
	toeH   float64 // of the toe landmark, on the front of the shoe
}

const soleM = 0.030 // thickness of the midsole and outsole (invented)

func newShoe(heightM float64) shoe {
	l := footFraction*heightM + 0.018 // the shoe's allowance is invented
	return shoe{length: l, edge: 0.09 * l, ball: 0.70 * l, tip: 0.93 * l,
		ankleF: 0.29 * l, ankleH: ankleFraction*heightM + soleM, heelH: 0.028, toeH: 0.016}
}

// footing is one contact's foot on the belt.
type footing struct {
	fall    *footfall
	shoe    *shoe
	x0      float64 // place of the back of the flat shoe at contact
	beltMPS float64
	landS   float64 // until the sole is flat
	riseS   float64 // when the heel leaves
	bendS   float64 // when the ball leaves
	theta   float64 // pitch of the rear foot at toe-off
	pace    float64 // slope and bend of its rise there, by share of the rise
	bend    float64
	phi     float64 // pitch of the toes at toe-off
	give    Vec     // how far the sole yields: forward and up at contact
	giveS   float64 // until when, downward
	slideS  float64 // and forward
}

// Shares of contact time after which the sole is flat, the heel rises and the
// ball rises; pace of the toes at toe-off and their pitch there against that of
// the rear foot (all invented,
// near the shod runners of Fukuchi et al. 2017).
const (
	landShare = 0.22
	riseShare = 0.48
	bendShare = 0.72
	bendPace  = 1.7
	toeShare  = 0.75
	slideS    = 0.024 // seconds for which the shoe slides over its sole
	// How the slide bends at contact, in slides a slide time squared: the heel is
	// braked about as hard before contact as after it, at 50 to 120 m/s² (its
	// markers in the same runs).
	slideBend = 3
)

func newFooting(f *footfall, s *shoe, p *Params) footing {
	tc := f.stanceS()
	return footing{fall: f, shoe: s, beltMPS: p.SpeedMPS,
		landS: f.contactS + landShare*tc, riseS: f.contactS + riseShare*tc, bendS: f.contactS + bendShare*tc,
		pace:  1.7,
		give:  Vec{X: -p.LandingForwardMPS * slideS / 2, Y: p.LandingDownMPS * p.LandingGiveS / 2},
		giveS: p.LandingGiveS, slideS: slideS}
}

// pitches returns the angle of the rear foot and of the toes to the belt.
func (g *footing) pitches(t float64) (theta, phi jet) {
	f := g.fall
	span := g.landS - f.contactS
	land := settle((t-f.contactS)/span, 1, 0).clocked(span).scale(f.footAngle)
	span = f.toeOffS - g.riseS
	theta = land.add(depart((t-g.riseS)/span, g.pace, g.bend).clocked(span).scale(g.theta))
	span = f.toeOffS - g.bendS
	phi = depart((t-g.bendS)/span, bendPace, 0).clocked(span).scale(g.phi)
	if f.footAngle > 0 {
		phi = phi.add(land) // the toes come down with the foot
	}
	return theta, phi
}

// onHeel tells whether the foot turns about the edge of its heel.
func (g *footing) onHeel(t float64) bool { return g.fall.footAngle > 0 && t < g.landS }

// yielding is how far the body of the shoe stands from where it will be once the
// sole is loaded.
func (g *footing) yielding(t float64) (x, y jet) {
	along := settle((t-g.fall.contactS)/g.slideS, 2, slideBend).clocked(g.slideS)
	down := settle((t-g.fall.contactS)/g.giveS, 2, 0).clocked(g.giveS)
	return along.scale(g.give.X), down.scale(g.give.Y)
}

// turned is the vector (a, b) turned by the angle of th.
func turned(th jet, a, b float64) (x, y jet) {
	s, c := th.sincos()
	return c.scale(a).sub(s.scale(b)), s.scale(a).add(c.scale(b))
}

// ballJoint is the place where the toes bend, in the foot's plane, before the
// sole's yielding is added.
func (g *footing) ballJoint(t float64) (f, h jet) {
	theta, phi := g.pitches(t)
	if g.onHeel(t) {
		x, y := turned(theta, g.shoe.ball-g.shoe.edge, 0)
		return x.add(constant(g.shoe.edge)), y
	}
	x, y := turned(phi, g.shoe.ball-g.shoe.tip, 0)
	return x.add(constant(g.shoe.tip)), y
}

// ankle is the path of the ankle in stance, in runner space.
func (g *footing) ankle(t float64) (x, y, z jet) {
	theta, _ := g.pitches(t)
	bf, bh := g.ballJoint(t)
	df, dh := turned(theta, g.shoe.ankleF-g.shoe.ball, g.shoe.ankleH)
	gx, gy := g.yielding(t)
	return g.place(bf.add(df), bh.add(dh), gx, gy, t)
}

// place puts a point of the foot's plane on the moving belt.
func (g *footing) place(f, h, gx, gy jet, t float64) (x, y, z jet) {
	eta := g.fall.side.Sign() * g.fall.toeOut
	sin, cos := math.Sincos(eta)
	belt := jet{v: g.x0 - g.beltMPS*(t-g.fall.contactS), d: -g.beltMPS}
	return belt.add(f.scale(cos)).add(gx), h.add(gy), constant(g.fall.place).add(f.scale(sin))
}

// heelAtContact is how far the heel landmark stands ahead of the back of the
// flat shoe at contact.
func (g *footing) heelAtContact() float64 {
	t := g.fall.contactS
	theta, _ := g.pitches(t)
	bf, _ := g.ballJoint(t)
	df, _ := turned(theta, -g.shoe.ball, g.shoe.heelH)
	gx, _ := g.yielding(t)
	return (bf.v+df.v)*math.Cos(g.fall.toeOut) + gx.v
}

// footPose is where a foot is: the joint of the ball, the orientation of the
// rear foot and that of the toes.
type footPose struct {
	shoe *shoe
	ball Vec
	rear frame
	toes frame
}

// point returns a point of the shoe: f forward of the back of the heel, h above
// the loaded sole, z to the right of its middle line.
func (p *footPose) point(f, h, z float64) Vec {
	o := p.rear
	if f > p.shoe.ball {
		o = p.toes
	}
	return p.ball.add(o.at(f-p.shoe.ball, h, z))
}

func (g *footing) pose(t float64) footPose {
	theta, phi := g.pitches(t)
	bf, bh := g.ballJoint(t)
	gx, gy := g.yielding(t)
	x, y, z := g.place(bf, bh, gx, gy, t)
	turn := yaw(g.fall.side.Sign() * g.fall.toeOut)
	return footPose{g.shoe, Vec{x.v, y.v, z.v}, turn.then(pitch(theta.v)), turn.then(pitch(phi.v))}
}
