package synth

import (
	"fmt"
	"math"
)

// fold finds the thigh angle (ahead of vertical) and knee flexion of a leg of
// two links whose ankle lies at (x, y) from the hip, in the sagittal plane.
func fold(x, y jet, thigh, shank float64) (th, knee jet) {
	d2 := x.mul(x).add(y.mul(y))
	knee = d2.sub(constant(thigh*thigh + shank*shank)).scale(1 / (2 * thigh * shank)).acos()
	s, c := knee.sincos()
	th = atan2(x, y.scale(-1)).add(atan2(s.scale(shank), c.scale(shank).add(constant(thigh))))
	return th, knee
}

// swing is a leg's flight from toe-off to its next contact.
type swing struct {
	fromS, toS         float64
	thigh, knee, ankle *spline // ankle: pitch of the rear foot minus shank angle
	bend               *spline // toe pitch minus rear-foot pitch
	z                  *spline // ankle across the belt
	turn               *spline // yaw of the foot
	whip               float64
	// How much more the leg is bent to keep clear of the belt and not to lock: the
	// toes and the knee just after toe-off, knee and ankle early in swing, knee and
	// thigh in the middle, all of them last. Radians at the most.
	toe, soft, early, late, last float64

	thetaOff float64 // pitch of the rear foot at toe-off
	sign     float64
}

// jointsIn returns the joint state of stance at time t, extended smoothly a
// little beyond its ends.
func (r *Runner) jointsIn(g *footing, t float64) (thigh, knee, ankle, bend, z jet) {
	p := r.pelvis(t)
	hx, hy, _ := p.hip(g.fall.side, r.hipHalf)
	ax, ay, az := g.ankle(t)
	thigh, knee = fold(ax.sub(hx), ay.sub(hy), r.thigh, r.shank)
	theta, phi := g.pitches(t)
	return thigh, knee, theta.sub(thigh.sub(knee)), phi.sub(theta), az
}

// newSwing joins two contacts of one foot. The inner points say where in swing
// (0 to 1) each angle passes through what; they are shaped after the means of six
// runners at 2.5, 3.5 and 4.5 m/s (computed from Fukuchi et al. 2017), level beyond
// those speeds.
func (r *Runner) newSwing(from, to *footing) (*swing, error) {
	t0, t1 := from.fall.toeOffS, to.fall.contactS
	at := func(u, v float64) pass { return pass{t0 + u*(t1-t0), v} }
	th0, k0, a0, b0, z0 := r.jointsIn(from, t0)
	th1, k1, a1, b1, z1 := r.jointsIn(to, t1)
	for _, j := range [...]jet{th0, k0, th1, k1} {
		if math.IsNaN(j.v) || math.IsNaN(j.dd) || math.IsInf(j.dd, 0) {
			return nil, fmt.Errorf("the %s leg is too short to reach the belt at %.2f s: lower the overstride or the hip extension, or bend the knee more at contact", from.fall.side, t0)
		}
	}
	side := from.fall.side
	peak := degree * r.p.SwingThighDeg.On(side)
	kp := from.fall.swingKnee
	s := &swing{fromS: t0, toS: t1, whip: from.fall.whip, thetaOff: from.theta, sign: side.Sign()}
	// Just after toe-off and just before contact the joints soon slow, so that the
	// knee never locks.
	const brief = 0.024
	after := func(j jet) pass { return pass{t0 + brief, j.v + 0.4*brief*j.d} }
	before := func(j jet) pass { return pass{t1 - brief, j.v - 0.4*brief*j.d} }
	var err error
	join := func(dst **spline, a, b jet, through ...pass) {
		if err == nil {
			*dst, err = quintic(t0, a, t1, b, through...)
		}
	}
	v := r.p.SpeedMPS
	// The thigh goes on backward a little after toe-off, and the foot stays
	// stretched until mid-swing.
	after14 := table(v, 2.5, 2, 3.5, 4, 4.5, 5.5) * degree
	join(&s.thigh, th0, th1, at(0.14, th0.v-after14), at(0.42, th0.v+0.42*(peak-th0.v)), at(0.70, peak), at(0.86, th1.v+0.45*(peak-th1.v)))
	join(&s.knee, k0, k1, after(k0), at(0.22, max(0.42*kp, 0.7*k0.v+0.3*kp)), at(0.36, 0.79*kp), at(0.53, kp), at(0.78, 0.56*kp), before(k1))
	join(&s.ankle, a0, a1,
		after(a0), at(0.12, table(v, 2.5, -17, 3.5, -21, 4.5, -24)*degree), at(0.22, table(v, 2.5, -13, 3.5, -16, 4.5, -19)*degree),
		at(0.35, table(v, 2.5, -8, 3.5, -14, 4.5, -19)*degree), at(0.53, table(v, 2.5, 1, 3.5, -2, 4.5, -5)*degree),
		at(0.70, table(v, 2.5, 4, 3.5, 2, 4.5, 1)*degree), at(0.86, max(a1.v+0.5*degree, 0.3*a1.v)), before(a1))
	join(&s.bend, b0, b1, at(0.12, 0.6*b0.v), at(0.35, 0.15*b0.v), at(0.6, 0), at(0.9, b1.v-0.5*b1.d*0.1*(t1-t0)))
	join(&s.z, z0, z1)
	join(&s.turn, constant(s.sign*from.fall.toeOut), constant(s.sign*to.fall.toeOut))
	if err != nil {
		return nil, err
	}
	// A leg that had to be bent more than that would no longer look like running.
	const most = 25 * degree
	low, u, locks := r.clearance(s, to)
	for max(s.soft, s.early, s.late, s.last) < most {
		switch {
		case low >= -1e-9:
			return s, nil
		case u < 0.12 && locks:
			s.soft += degree / 2
		case u < 0.12 && s.toe < 25*degree:
			s.toe += degree
		case u < 0.3:
			s.early += degree
		case u < 0.86:
			s.late += degree
		default:
			s.last += degree
		}
		low, u, locks = r.clearance(s, to)
	}
	return nil, fmt.Errorf("the %s leg cannot swing from its toe-off at %.2f s to its next contact without touching the belt or locking the knee (%.0f mm at %.0f %% of the swing): raise the swing knee flexion, the swing thigh angle or the step rate, or bring overstride, foot angle and hip extension nearer to their defaults",
		side, t0, -1000*low, 100*u)
}

// joints returns the sagittal joint angles at a share u of the swing: the curves,
// and what the leg is bent more to keep clear of the belt.
func (s *swing) joints(t, u float64) (thigh, knee, ankle, bend float64) {
	early, late, last := hump(u/0.5, 0.4).v*s.early, hump(u, 0.6).v*s.late, hump((u-0.55)/0.45, 0.75).v*s.last
	return s.thigh.at(t).v + late/2 + 0.4*last,
		s.knee.at(t).v + s.soft*hump(u/0.24, 0.22).v + early + late + last,
		s.ankle.at(t).v + early + late/4 + last,
		s.bend.at(t).v + s.toe*hump(u/0.15, 0.3).v
}

// clearance returns the least clearance of the sole in swing, in metres, and
// where in swing (0 to 1) that is. Before contact the part that will land hangs
// unloaded. A knee nearly straight counts as no clearance, and locks says that
// it was that.
func (r *Runner) clearance(s *swing, to *footing) (low, at float64, locks bool) {
	low = math.Inf(1)
	sh := &r.shoe
	side := to.fall.side
	longest := math.Sqrt(r.thigh*r.thigh + r.shank*r.shank + 2*r.thigh*r.shank*math.Cos(4*degree))
	for i := range 81 {
		u := float64(i) / 80
		u = 1e-3 + (1-2e-3)*u*u*(3-2*u) // denser near the ends
		t := s.fromS + u*(s.toS-s.fromS)
		pel := r.pelvis(t)
		hx, hy, hz := pel.hip(side, r.hipHalf)
		hip := Vec{hx.v, hy.v, hz.v}
		l := s.leg(t, hip, r)
		for _, p := range [...]float64{sh.edge, sh.ball, sh.tip} {
			y := l.foot.point(p, 0, 0).Y
			if u > 0.5 && (p == sh.edge) == (to.fall.footAngle > 0) {
				y -= to.give.Y
			}
			if y < low {
				low, at, locks = y, u, false
			}
		}
		if y := longest - l.ankle.sub(hip).norm(); y < low {
			low, at, locks = y, u, true
		}
	}
	return low, at, locks
}

// whipEnds is the share of swing after which the turn of the sole is gone.
const whipEnds = 0.62

// legPose is one leg at one instant.
type legPose struct {
	hip, knee, ankle Vec
	foot             footPose
	kneeFlexion      float64 // radians, between the links in space
	stance           *footing
}

func (r *Runner) leg(t float64, pel *pelvisPose, i int) legPose {
	k := r.fallOf(i, t)
	g := &r.footings[k]
	side := g.fall.side
	hx, hy, hz := pel.hip(side, r.hipHalf)
	hip := Vec{hx.v, hy.v, hz.v}
	var out legPose
	if t < g.fall.toeOffS {
		ax, ay, az := g.ankle(t)
		out = legPose{hip: hip, ankle: Vec{ax.v, ay.v, az.v}, foot: g.pose(t), stance: g}
	} else {
		out = r.swings[k].leg(t, hip, r)
	}
	r.setKnee(&out, g.fall.side.Sign(), r.inward(t, k))
	return out
}

func (s *swing) leg(t float64, hip Vec, r *Runner) legPose {
	u := (t - s.fromS) / (s.toS - s.fromS)
	th, kn, an, bend := s.joints(t, u)
	sh := th - kn
	ankle := Vec{
		hip.X + r.thigh*math.Sin(th) + r.shank*math.Sin(sh),
		hip.Y - r.thigh*math.Cos(th) - r.shank*math.Cos(sh),
		s.z.at(t).v,
	}
	theta := sh + an
	phi := theta + bend
	// In early swing the sole is seen from behind as steeply as it left the belt,
	// but for the whip, although the toes point outward: the foot rolls to make
	// up for it. A medial whip carries the raised heel toward the midline: about
	// the forward axis, the top of the right foot goes left.
	eta := s.turn.at(t).v
	level := s.lineFromBehind(s.thetaOff, s.turn.at(s.fromS).v) - s.lineFromBehind(theta, eta)
	lean := level*steady(u) + s.whip*hump(u/whipEnds, 0.4).v
	base := roll(s.sign * lean).then(yaw(eta))
	rear, toes := base.then(pitch(theta)), base.then(pitch(phi))
	ball := ankle.add(rear.at(r.shoe.ball-r.shoe.ankleF, -r.shoe.ankleH, 0))
	return legPose{hip: hip, ankle: ankle, foot: footPose{&r.shoe, ball, rear, toes}}
}

// lineFromBehind is the lean of the heel-to-toe line seen from behind, toe
// outward positive, of a foot with that pitch and turn.
func (s *swing) lineFromBehind(theta, eta float64) float64 {
	sin, cos := math.Sincos(theta)
	return math.Atan2(s.sign*cos*math.Sin(eta), -sin)
}

// steady is 0 at toe-off, 1 while the sole faces backward and 0 again later in
// swing, twice continuously differentiable.
func steady(u float64) float64 {
	return smoother(u/0.14) * (1 - smoother((u-0.36)/(whipEnds-0.36)))
}

// smoother rises from 0 to 1 over 0 to 1 without slope or bend at either end.
func smoother(u float64) float64 {
	u = max(0, min(1, u))
	return u * u * u * (10 - u*(15-6*u))
}

// inward is how far the knee stands medial of the line from hip to ankle, m.
func (r *Runner) inward(t float64, k int) float64 {
	g := &r.footings[k]
	span := 1.2 * g.fall.stanceS()
	u := (t - g.fall.contactS + 0.1*g.fall.stanceS()) / span
	v := hump(u, (valgusPeak+0.1)/1.2).v * r.pressed[k]
	if k+2 < len(r.footings) { // the hump of the next contact starts a little early
		n := &r.footings[k+2]
		span = 1.2 * n.fall.stanceS()
		u = (t - n.fall.contactS + 0.1*n.fall.stanceS()) / span
		v += hump(u, (valgusPeak+0.1)/1.2).v * r.pressed[k+2]
	}
	return v
}

// setKnee places the knee of the two-link leg between hip and ankle, so far
// medial of their line as given (m). sign is the side's.
func (r *Runner) setKnee(l *legPose, sign, inward float64) {
	a := l.ankle.sub(l.hip)
	d := a.norm()
	a = a.mul(1 / d)
	cosK := (d*d - r.thigh*r.thigh - r.shank*r.shank) / (2 * r.thigh * r.shank)
	l.kneeFlexion = math.Acos(max(-1, min(1, cosK)))
	along := (d*d + r.thigh*r.thigh - r.shank*r.shank) / (2 * d)
	off := math.Sqrt(max(0, r.thigh*r.thigh-along*along))
	e1 := Vec{-a.Y, a.X, 0}.unit()
	e2 := e1.cross(a).mul(-1) // near the runner's right
	if e2.Z < 0 {
		e2 = e2.mul(-1)
	}
	sin := 0.0
	if off > 0 {
		sin = max(-0.95, min(0.95, -sign*inward/(off*e2.Z)))
	}
	cos := math.Sqrt(1 - sin*sin)
	l.knee = l.hip.add(a.mul(along)).add(e1.mul(off * cos)).add(e2.mul(off * sin))
}

// frontalKneeAngle is the projection of the knee's angle on the frontal plane,
// inward positive, radians.
func frontalKneeAngle(hip, knee, ankle Vec, sign float64) float64 {
	up := math.Atan2(knee.Z-hip.Z, hip.Y-knee.Y)
	down := math.Atan2(ankle.Z-knee.Z, knee.Y-ankle.Y)
	return sign * (down - up)
}
