package synth

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
)

// SquatParams describes squats or step-downs on one leg. All figures are invented.
type SquatParams struct {
	HeightM   float64
	Female    bool
	Side      body.Side // the standing leg
	Times     int       // how often it goes down and up
	InwardDeg float64   // frontal-plane angle of the knee at the lowest point, inward positive
	BendDeg   float64   // flexion of the knee there
	RepS      float64   // seconds for down and up
	PauseS    float64   // standing before, between and after
	// StepM is the height of the step on which the standing leg is; the other heel is
	// lowered to the floor in front of it. 0 is a squat on the floor.
	StepM float64
}

// NewSquatParams are three squats on a leg to 60 degrees of knee flexion.
func NewSquatParams(side body.Side, inwardDeg float64) SquatParams {
	return SquatParams{HeightM: 1.72, Side: side, Times: 3, InwardDeg: inwardDeg, BendDeg: 60, RepS: 1.4, PauseS: 0.4}
}

// NewStepDownParams are two step-downs from a step of 20 cm, of which the heel
// reaches the floor when the knee is bent by some 80 degrees.
func NewStepDownParams(side body.Side, inwardDeg float64) SquatParams {
	return SquatParams{HeightM: 1.72, Side: side, Times: 2, InwardDeg: inwardDeg, BendDeg: 80, RepS: 1.6, PauseS: 0.4, StepM: 0.20}
}

// Squat is a body that goes down and up on one leg, ready to be asked for any
// instant. It faces forward on a standing belt.
type Squat struct {
	p       SquatParams
	shoe    shoe
	thigh   float64 // lengths in metres
	shank   float64
	hipHalf float64
}

// standingBend is the flexion of the knee between the squats.
const standingBend = 8

// NewSquat builds it. The error says which parameter cannot be.
func NewSquat(p SquatParams) (*Squat, error) {
	switch {
	case p.Side != body.Left && p.Side != body.Right:
		return nil, fmt.Errorf("the standing leg is left or right")
	case !(p.HeightM >= 1.2 && p.HeightM <= 2.2):
		return nil, fmt.Errorf("height is %g m: give 1.2 to 2.2", p.HeightM)
	case p.Times < 1 || p.Times > 20:
		return nil, fmt.Errorf("%d squats: give 1 to 20", p.Times)
	case !(p.BendDeg > standingBend && p.BendDeg <= 90):
		return nil, fmt.Errorf("knee flexion at the lowest point is %g°: give more than %d and at most 90", p.BendDeg, standingBend)
	case !(math.Abs(p.InwardDeg) <= 40):
		return nil, fmt.Errorf("the knee's frontal-plane angle is %g°: give -40 to 40", p.InwardDeg)
	case !(p.StepM >= 0 && p.StepM <= 0.4):
		return nil, fmt.Errorf("the step is %g m high: give 0 to 0.4", p.StepM)
	case !(p.RepS >= 0.6 && p.RepS <= 10) || !(p.PauseS >= 0.1 && p.PauseS <= 10):
		return nil, fmt.Errorf("a squat of %g s with pauses of %g s: give 0.6 to 10 and 0.1 to 10", p.RepS, p.PauseS)
	}
	s := &Squat{p: p, shoe: newShoe(p.HeightM), thigh: thighFraction * p.HeightM, shank: shankFraction * p.HeightM, hipHalf: 0.050 * p.HeightM}
	if p.Female {
		s.hipHalf = 0.053 * p.HeightM
	}
	return s, nil
}

// DurationS is how long it lasts in seconds.
func (s *Squat) DurationS() float64 {
	return float64(s.p.Times)*(s.p.RepS+s.p.PauseS) + s.p.PauseS
}

// LowS returns the time of each lowest point in seconds.
func (s *Squat) LowS() []float64 {
	out := make([]float64, s.p.Times)
	for i := range out {
		out[i] = s.p.PauseS + s.p.RepS/2 + float64(i)*(s.p.RepS+s.p.PauseS)
	}
	return out
}

// depth is 0 when standing and 1 at the lowest point.
func (s *Squat) depth(t float64) float64 {
	for _, low := range s.LowS() {
		if d := math.Abs(t - low); d < s.p.RepS/2 {
			return smoother(1 - 2*d/s.p.RepS)
		}
	}
	return 0
}

// At returns the posture at time t in seconds.
func (s *Squat) At(t float64) Posture {
	u, h, sign := s.depth(t), s.p.HeightM, s.p.Side.Sign()
	p := Posture{TimeS: t, heightM: h, evert: [2]float64{-3 * degree, -3 * degree}}

	// The standing leg, from the ground up: the shank leans forward, the thigh
	// back. The whole leg leans a little outward, so that the body is above the
	// foot, and the knee's frontal-plane angle is shared by both its links.
	bend := degree * (standingBend + u*(s.p.BendDeg-standingBend))
	lean, half := 0.45*bend, degree*s.p.InwardDeg*u/2
	const outward = 4 * degree
	link := func(ahead, medial float64) Vec {
		return Vec{math.Sin(ahead), math.Cos(ahead), -sign * math.Cos(ahead) * math.Tan(medial)}.unit()
	}
	turn := yaw(sign * 6 * degree)
	ankle := Vec{X: 0.02 * u * h, Y: s.p.StepM + s.shoe.ankleH, Z: sign * 0.02 * h}
	stand := legPose{ankle: ankle, foot: footPose{&s.shoe, ankle.sub(turn.at(s.shoe.ankleF-s.shoe.ball, s.shoe.ankleH, 0)), turn, turn}}
	stand.knee = ankle.add(link(lean, half-outward).mul(s.shank))
	stand.hip = stand.knee.add(link(lean-bend, -half-outward).mul(s.thigh))
	stand.kneeFlexion = bend

	p.pelvis = roll(sign * 3 * u * degree).then(pitch(-(8 + 14*u) * degree))
	p.mid = stand.hip.sub(p.pelvis.right.mul(sign * s.hipHalf))
	// The free leg: the knee is bent and the foot held behind, or lowered to the floor
	// in front of the step.
	free := legPose{hip: p.mid.sub(p.pelvis.right.mul(sign * s.hipHalf))}
	th, kn := (6+16*u)*degree, (70+12*u)*degree
	hangs := th - kn - 15*degree
	if s.p.StepM > 0 {
		th, kn = s.reaching(Vec{X: (0.05 + 0.06*u) * h, Y: s.shoe.ankleH + (1-u)*(s.p.StepM+0.02)}.sub(free.hip))
		hangs = 0
	}
	free.knee = free.hip.add(Vec{math.Sin(th), -math.Cos(th), 0}.mul(s.thigh))
	free.ankle = free.knee.add(Vec{math.Sin(th - kn), -math.Cos(th - kn), 0}.mul(s.shank))
	free.kneeFlexion = kn
	hang := pitch(hangs)
	free.foot = footPose{&s.shoe, free.ankle.sub(hang.at(s.shoe.ankleF-s.shoe.ball, s.shoe.ankleH, 0)), hang, hang}
	for i, side := range body.Sides {
		p.legs[i] = free
		if side == s.p.Side {
			p.legs[i] = stand
		}
	}

	p.trunk = roll(-sign * 2 * u * degree).then(pitch(-(4 + 18*u) * degree))
	p.neck = p.mid.add(p.trunk.up.mul((shoulderFraction - legFraction) * h))
	for i, side := range body.Sides {
		z := side.Sign()
		// The arms are crossed on the chest.
		l := limbPose{shoulder: p.neck.add(p.trunk.at(0, 0, z*shoulderHalfFraction*h))}
		l.elbow = l.shoulder.add(p.trunk.at(0.38, -1, z*0.20).unit().mul(upperArmJointFraction * h))
		fore := p.trunk.at(0.32+0.14*z, 0.25, -z).unit()
		l.wrist = l.elbow.add(fore.mul(forearmJointFraction * h))
		up := p.trunk.up.sub(fore.mul(p.trunk.up.dot(fore))).unit()
		l.hand = frame{fore, up, fore.cross(up)}
		p.arms[i] = l
	}
	p.head = pitch(-4 * degree)
	p.skull = p.neck.add(p.trunk.at(0.022*h, 0.058*h, 0)).add(p.head.at(0.012*h, 0.046*h, 0))
	return p
}

// reaching is how far the thigh is raised and the knee bent (radians) for an ankle
// at to, seen from the hip, in the plane of the leg; a leg that is too short points
// there.
func (s *Squat) reaching(to Vec) (thigh, bend float64) {
	far := min(math.Hypot(to.X, to.Y), 0.999*(s.thigh+s.shank))
	inner := math.Acos((s.thigh*s.thigh + s.shank*s.shank - far*far) / (2 * s.thigh * s.shank))
	at := math.Acos((s.thigh*s.thigh + far*far - s.shank*s.shank) / (2 * s.thigh * far))
	return math.Atan2(to.X, -to.Y) + at, math.Pi - inner
}

// step is the step on which it stands; nothing for a squat.
func (s *Squat) step() []block {
	if s.p.StepM == 0 {
		return nil
	}
	z := s.p.Side.Sign() * 0.03 * s.p.HeightM
	return []block{{Vec{-0.18, 0, z - 0.13}, Vec{0.15, s.p.StepM, z + 0.13}, srgb(150, 112, 74)}}
}

// InwardDeg is the frontal-plane angle of the standing knee at time t (s), inward
// positive.
func (s *Squat) InwardDeg(t float64) float64 {
	for i, side := range body.Sides {
		if side == s.p.Side {
			p := s.At(t)
			return frontalKneeAngle(p.legs[i].hip, p.legs[i].knee, p.legs[i].ankle, side.Sign()) / degree
		}
	}
	return math.NaN()
}

func (*Squat) sag(float64) (out [2]float64) { return out }
