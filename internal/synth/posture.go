package synth

import (
	"math"

	"gaitwright/gait/body"
)

// limbPose is one arm at one instant.
type limbPose struct {
	shoulder, elbow, wrist Vec
	hand                   frame // fwd along the hand, up toward the thumb
}

// Posture is the runner at one instant.
type Posture struct {
	TimeS   float64
	pelvis  frame
	mid     Vec // middle of the hips
	legs    [2]legPose
	trunk   frame
	neck    Vec // middle of the shoulder joints
	arms    [2]limbPose
	head    frame
	skull   Vec // middle between the ears
	evert   [2]float64
	heightM float64
}

// Segment lengths between joint centres of the arm as fractions of stature: de
// Leva 1996, J Biomech 29:1223-1230 (28.2 and 26.9 cm for 1.741 m; from memory).
// The shoulder joints stand 0.21 of stature apart (from memory).
const (
	upperArmJointFraction = 0.162
	forearmJointFraction  = 0.154
	shoulderHalfFraction  = 0.105
)

// At returns the posture at time t (s, from 0 to the runner's duration).
func (r *Runner) At(t float64) Posture {
	pel := r.pelvis(t)
	p := Posture{TimeS: t, pelvis: pel.frame(), mid: Vec{pel.x.v, pel.y.v, pel.z.v}, heightM: r.p.HeightM}
	for i := range p.legs {
		p.legs[i] = r.leg(t, &pel, i)
		f := &r.falls[r.fallOf(i, t)]
		u := (t - f.contactS) / f.stanceS()
		p.evert[i] = degree * (-3 + (r.p.EversionDeg.On(f.side)+3)*hump(u, 0.4).v)
	}

	// Trunk: the side of the landing foot finds its shoulder back, as its arm.
	ph := r.clock.at(t)
	turn := wave(ph, r.lead*9*degree, 1, 0.05).v
	lean := r.p.TrunkLeanDeg*degree + wave(ph, 1.2*degree, 2, 0.9).v
	side := r.perStance(t, func(f *footfall) float64 { return -f.side.Sign() * r.p.TrunkSideLeanDeg * degree }, 0.45).v
	p.trunk = yaw(turn).then(roll(side)).then(pitch(-lean))
	h := r.p.HeightM
	p.neck = p.mid.add(p.trunk.up.mul((shoulderFraction - legFraction) * h))
	for i, s := range body.Sides {
		p.arms[i] = r.arm(ph, &p, s)
	}
	p.head = yaw(0.15 * turn).then(roll(0.4 * side)).then(pitch(-6*degree + wave(ph, 1*degree, 2, 0.4).v))
	p.skull = p.neck.add(p.trunk.at(0.022*h, 0.058*h, 0)).add(p.head.at(0.012*h, 0.046*h, 0))
	return p
}

func (r *Runner) arm(ph jet, p *Posture, s body.Side) limbPose {
	parity := 0.0
	if s != r.p.first() {
		parity = 1
	}
	// 1 when the arm is farthest forward: at the other foot's contact.
	forward := -wave(ph, 1, 1, 0.08+parity).v
	sw := r.p.ArmSwingDeg * degree
	a := -18*degree + sw*forward
	b := a + r.p.ElbowDeg*degree + 8*degree*forward
	inward := 13*degree + 19*degree*forward
	sign := s.Sign()
	var l limbPose
	h := r.p.HeightM
	l.shoulder = p.neck.add(p.trunk.at(0, 0, sign*shoulderHalfFraction*h))
	upper := p.trunk.at(math.Sin(a), -math.Cos(a), sign*0.22).unit()
	l.elbow = l.shoulder.add(upper.mul(upperArmJointFraction * h))
	sb, cb := math.Sincos(b)
	fore := p.trunk.at(sb*math.Cos(inward), -cb, -sign*sb*math.Sin(inward)).unit()
	l.wrist = l.elbow.add(fore.mul(forearmJointFraction * h))
	up := p.trunk.at(-cb*0.9, sb, -sign*0.35)
	up = up.sub(fore.mul(up.dot(fore))).unit()
	l.hand = frame{fore, up, fore.cross(up)}
	return l
}

// landmarks returns the place of every landmark.
func (p *Posture) landmarks() (pts [body.NumLandmarks]Vec) {
	k := p.heightM / 1.75 // what is not scaled by a published fraction scales with stature
	head := func(x, y, z float64) Vec { return p.skull.add(p.head.at(k*x, k*y, k*z)) }
	pts[body.Nose] = head(0.108, -0.020, 0)
	for i, s := range body.Sides {
		z := s.Sign()
		on := func(l body.Landmark, v Vec) { pts[l.On(s)] = v }
		on(body.LeftEyeInner, head(0.086, 0.018, 0.018*z))
		on(body.LeftEye, head(0.084, 0.018, 0.032*z))
		on(body.LeftEyeOuter, head(0.078, 0.018, 0.045*z))
		on(body.LeftEar, head(-0.004, 0, 0.074*z))
		on(body.LeftMouth, head(0.084, -0.062, 0.024*z))

		a := &p.arms[i]
		hand := func(x, y, zz float64) Vec { return a.wrist.add(a.hand.at(k*x, k*y, k*zz)) }
		on(body.LeftShoulder, a.shoulder)
		on(body.LeftElbow, a.elbow)
		on(body.LeftWrist, a.wrist)
		on(body.LeftIndexKnuckle, hand(0.088, 0.026, 0))
		on(body.LeftLittleKnuckle, hand(0.078, -0.032, 0))
		on(body.LeftThumb, hand(0.066, 0.046, 0))

		l := &p.legs[i]
		on(body.LeftHip, l.hip)
		on(body.LeftKnee, l.knee)
		on(body.LeftAnkle, l.ankle)
		f := &l.foot
		sh := f.shoe
		on(body.LeftHeel, f.point(0, sh.heelH, 0))
		on(body.LeftToe, f.point(sh.length, sh.toeH, 0))
		on(body.LeftMT1, f.point(0.70*sh.length, 0.035, -0.042*z))
		on(body.LeftMT5, f.point(0.63*sh.length, 0.030, 0.045*z))
		// The heel counter tilts: everted, its top goes medial.
		low, high := 0.030, 0.078
		on(body.LeftHeelBottom, f.point(0.002, low, 0))
		on(body.LeftHeelTop, f.point(0.010, high, -z*(high-low)*math.Tan(p.evert[i])))
		shank := l.ankle.sub(l.knee)
		back := shank.cross(f.rear.right).unit() // square to the shank, behind it
		on(body.LeftShankTop, l.knee.add(shank.mul(0.55)).add(back.mul(0.055*k)))
		on(body.LeftShankBottom, l.knee.add(shank.mul(0.85)).add(back.mul(0.042*k)))

		pelvis := func(x, y, zz float64) Vec { return p.mid.add(p.pelvis.at(k*x, k*y, k*zz)) }
		on(body.LeftASIS, pelvis(0.060, 0.090, 0.125*z))
		on(body.LeftPSIS, pelvis(-0.100, 0.090, 0.045*z))
	}
	pts[body.Sacrum] = pts[body.LeftPSIS].lerp(pts[body.RightPSIS], 0.5)
	pts[body.Lumbosacral] = p.mid.add(p.pelvis.at(-0.108*k, 0.125*k, 0))
	trunk := p.neck.sub(p.mid)
	pts[body.Thoracolumbar] = p.mid.add(trunk.mul(0.52)).add(p.trunk.at(-0.085*k, 0, 0))
	pts[body.C7] = p.neck.add(p.trunk.at(-0.045*k, 0.058*k, 0))
	return pts
}

// segment masses and centres by de Leva 1996, J Biomech 29:1223-1230: share of
// body mass, and centre from the proximal end as a share of length.
type massRow struct{ mass, centre float64 }

type massTable struct{ head, trunk, upperArm, forearm, hand, thigh, shank, foot massRow }

var (
	menMass = massTable{massRow{.0694, .5002}, massRow{.4346, .4310}, massRow{.0271, .5772}, massRow{.0162, .4574},
		massRow{.0061, .7900}, massRow{.1416, .4095}, massRow{.0433, .4395}, massRow{.0137, .4415}}
	womenMass = massTable{massRow{.0668, .4841}, massRow{.4257, .3782}, massRow{.0255, .5754}, massRow{.0138, .4559},
		massRow{.0056, .7474}, massRow{.1478, .3612}, massRow{.0481, .4352}, massRow{.0129, .4014}}
)

// centreOfMass is that of the whole body. The head is taken at the middle
// between the ears, the hand at its share of the way to the knuckles.
func (p *Posture) centreOfMass(female bool) Vec {
	m := &menMass
	if female {
		m = &womenMass
	}
	var sum Vec
	var total float64
	put := func(row massRow, a, b Vec) {
		sum = sum.add(a.lerp(b, row.centre).mul(row.mass))
		total += row.mass
	}
	put(m.head, p.skull, p.skull)
	put(m.trunk, p.neck, p.mid)
	k := p.heightM / 1.75
	for i := range p.legs {
		a, l := &p.arms[i], &p.legs[i]
		put(m.upperArm, a.shoulder, a.elbow)
		put(m.forearm, a.elbow, a.wrist)
		put(m.hand, a.wrist, a.wrist.add(a.hand.at(0.083*k, 0, 0)))
		put(m.thigh, l.hip, l.knee)
		put(m.shank, l.knee, l.ankle)
		sh := l.foot.shoe
		put(m.foot, l.foot.point(0, sh.heelH, 0), l.foot.point(sh.length, sh.toeH, 0))
	}
	return sum.mul(1 / total)
}
