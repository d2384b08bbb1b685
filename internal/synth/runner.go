package synth

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
)

// Runner is a synthetic runner ready to be asked for any instant. It is safe for
// concurrent use.
type Runner struct {
	p        Params
	shoe     shoe
	thigh    float64 // lengths in metres
	shank    float64
	hipHalf  float64
	falls    []footfall
	footings []footing
	rises    []rise
	swings   []*swing  // after contact k; nil for the last two
	pressed  []float64 // how far the knee is pressed inward in contact k, m
	clock    *phase
	lead     float64 // the first side's sign: -1 left, +1 right
}

// New builds the runner. The error says which parameters do not go together and
// what to change.
func New(p Params) (*Runner, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	r := &Runner{p: p, shoe: newShoe(p.HeightM), lead: p.first().Sign(),
		thigh: p.LegLengthM * thighFraction / legFraction,
		shank: p.LegLengthM * shankFraction / legFraction,
		// Half the distance of the hip joints: 0.10 of stature between them,
		// 0.106 in women (from memory).
		hipHalf: 0.050 * p.HeightM}
	if p.Female {
		r.hipHalf = 0.053 * p.HeightM
	}
	r.falls = schedule(&r.p)
	instants := make([]float64, len(r.falls))
	for k, f := range r.falls {
		instants[k] = f.contactS
		if k > 0 && f.contactS-r.falls[k-1].toeOffS < 0.015 {
			return nil, fmt.Errorf("the flight before the contact at %.2f s would last %.3f s: lower the duty factor, its variation or the skew of the step times", f.contactS, f.contactS-r.falls[k-1].toeOffS)
		}
	}
	r.clock = newPhase(instants)
	if err := r.stand(); err != nil {
		return nil, err
	}
	if err := r.bends(); err != nil {
		return nil, err
	}
	for k := range len(r.falls) - 2 {
		s, err := r.newSwing(&r.footings[k], &r.footings[k+2])
		if err != nil {
			return nil, err
		}
		r.swings = append(r.swings, s)
	}
	r.pressKnees()
	return r, nil
}

// Params returns what the runner was made from.
func (r *Runner) Params() Params { return r.p }

// stand places the feet on the belt, and the hips at the height at which each
// landing knee has its flexion.
func (r *Runner) stand() error {
	n := len(r.falls)
	r.footings = make([]footing, n)
	height := make([]float64, n)
	for k := range r.falls {
		f := &r.falls[k]
		g := newFooting(f, &r.shoe, &r.p)
		p := r.pelvisBesideY(f.contactS)
		g.x0 = p.x.v + f.over - g.heelAtContact()
		ax, ay, az := g.ankle(f.contactS)
		hx, hy, hz := p.hip(f.side, r.hipHalf) // hy from a pelvis at height 0
		reach2 := r.thigh*r.thigh + r.shank*r.shank + 2*r.thigh*r.shank*math.Cos(f.knee)
		dx, dz := ax.v-hx.v, az.v-hz.v
		h2 := reach2 - dx*dx - dz*dz
		if h2 <= 0 {
			return fmt.Errorf("the %s foot lands %.2f m ahead of the hip, farther than the leg reaches: lower the overstride", f.side, dx)
		}
		height[k] = ay.v + math.Sqrt(h2) - hy.v
		r.footings[k] = g
	}
	step := 60 / r.p.StepRateSPM
	tc := 2 * step * r.p.DutyFactor.On(body.NoSide)
	flatness := 0.0
	if want := r.p.VerticalOscillationM; want > 0 {
		var err error
		if flatness, err = flatnessFor(tc, step-tc, want); err != nil {
			return err
		}
	}
	r.rises = make([]rise, n)
	before := -gravityMPS2 * (step - tc) / 2
	for k := range r.falls {
		f := &r.falls[k]
		y1, v1 := height[k], gravityMPS2*(step-tc)/2
		after := before
		if k+1 < n {
			flight := r.falls[k+1].contactS - f.toeOffS
			y1 = (height[k] + height[k+1]) / 2
			v1 = (height[k+1]-y1)/flight + gravityMPS2*flight/2
			after = v1 - gravityMPS2*flight
		}
		r.rises[k] = newRise(f.contactS, f.toeOffS, height[k], before, y1, v1, flatness)
		before = after
		r.touchDown(&r.footings[k])
	}
	return r.pushOff()
}

// touchDown finds how fast the shoe has to go on forward at contact for the knee
// to be near its least flexion then, as it is in runners (Fukuchi et al. 2017).
func (r *Runner) touchDown(g *footing) {
	const bending, most = 80 * degree, 3.4 // rad/s and m/s
	t := g.fall.contactS
	slow := -2 * g.give.X / g.slideS
	with := func(speed float64) float64 {
		// The place of the foot at contact stays: the shoe slides to where it
		// will stand.
		old := g.give.X
		g.give.X = -speed * g.slideS / 2
		g.x0 += old - g.give.X
		_, knee, _, _, _ := r.jointsIn(g, t)
		return knee.d
	}
	a, b := with(slow), with(slow+1)
	want := slow
	if a > bending && b < a {
		want = min(most, slow+(a-bending)/(a-b))
	}
	with(want)
}

// Pitches of the rear foot and bends of the knee at toe-off.
const (
	moderate = -28 * degree // least natural rise of the heel
	steepest = -85 * degree
	flattest = -12 * degree
	bent     = 18 * degree // knee flexion at a natural toe-off
	straight = 12 * degree // least knee flexion at toe-off
)

// thrust is a leg at toe-off, waiting for the pitch of its foot.
type thrust struct {
	r      *Runner
	g      *footing
	hx, hy jet
}

func (r *Runner) thrust(g *footing) thrust {
	p := r.pelvis(g.fall.toeOffS)
	hx, hy, _ := p.hip(g.fall.side, r.hipHalf)
	return thrust{r, g, hx, hy}
}

// at sets the pitch and returns how far the thigh is behind vertical and how far
// the knee is bent. A heel that rises more leaves the knee more bent and the
// thigh less far behind.
func (h *thrust) at(theta float64) (behind, knee float64) {
	h.g.theta, h.g.phi = theta, toeShare*theta
	ax, ay, _ := h.g.ankle(h.g.fall.toeOffS)
	th, k := fold(ax.sub(h.hx), ay.sub(h.hy), h.r.thigh, h.r.shank)
	if math.IsNaN(th.v) {
		return math.Inf(1), 0 // out of reach: too far behind
	}
	return -th.v, k.v
}

// flattestWith sets the flattest pitch between lo and hi for which ok holds.
func (h *thrust) flattestWith(lo, hi float64, ok func(behind, knee float64) bool) (behind, knee float64) {
	for range 50 {
		if mid := (lo + hi) / 2; ok(h.at(mid)) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return h.at(lo)
}

// pushOff finds the pitch of every foot at toe-off. Naturally the heel rises
// until the knee has kept some bend, and at least to a moderate pitch; the mean
// of that is the runner's natural hip extension, from which the shift starts.
func (r *Runner) pushOff() error {
	var natural, got, want [3]float64
	var count [3]float64
	for k := range r.footings {
		g := &r.footings[k]
		h := r.thrust(g)
		behind, knee := h.flattestWith(steepest, moderate, func(_, knee float64) bool { return knee >= bent })
		if knee < straight {
			return fmt.Errorf("at the toe-off of %.2f s the %s foot is farther behind than the leg reaches: lower the duty factor, or raise the step rate, the overstride or the knee flexion at contact", g.fall.toeOffS, g.fall.side)
		}
		natural[g.fall.side] += behind
		count[g.fall.side]++
	}
	for k := range r.footings {
		g := &r.footings[k]
		s := g.fall.side
		h := r.thrust(g)
		aim := natural[s]/count[s] + g.fall.extension
		behind, knee := h.flattestWith(steepest, flattest, func(behind, knee float64) bool { return knee >= straight && behind <= aim })
		if math.IsInf(behind, 0) || knee < straight {
			return fmt.Errorf("at the toe-off of %.2f s the %s leg does not reach the belt: lower the duty factor or the hip extension shift", g.fall.toeOffS, s)
		}
		got[s], want[s] = got[s]+behind/count[s], want[s]+aim/count[s]
		r.rollOff(g)
	}
	for _, s := range body.Sides {
		if math.Abs(got[s]-want[s]) > 2*degree {
			return fmt.Errorf("the thigh cannot be %.1f° behind vertical at toe-off on the %s (natural is %.1f°, possible %.1f°): bring the hip extension shift nearer to 0",
				want[s]/degree, s, natural[s]/count[s]/degree, got[s]/degree)
		}
	}
	return nil
}

// rollOff finds how fast the heel rises at toe-off, so that the knee is still
// straightening a little and about to bend (as in Fukuchi et al. 2017 at 3.5
// m/s: least flexion some 20 ms after toe-off).
func (r *Runner) rollOff(g *footing) {
	const straightening, turning = -250 * degree, 13000 * degree
	knee := func() jet { _, k, _, _, _ := r.jointsIn(g, g.fall.toeOffS); return k }
	g.pace, g.bend = 1, 0
	at1 := knee().d
	g.pace = 2
	g.pace = max(1.2, min(2.6, 1+(straightening-at1)/(knee().d-at1)))
	at0 := knee().dd
	g.bend = 1
	// A rise that starts downward would press the heel into the belt.
	g.bend = max(-6, 2*(4*g.pace-10), min(8, (turning-at0)/(knee().dd-at0)))
}

// bends checks that no knee locks while its foot is on the belt: a foot that
// comes down from a steep angle takes the ankle away from the hip.
func (r *Runner) bends() error {
	longest2 := r.thigh*r.thigh + r.shank*r.shank + 2*r.thigh*r.shank*math.Cos(4*degree)
	for k := range r.falls {
		f, g := &r.falls[k], &r.footings[k]
		for i := range 41 {
			t := f.contactS + f.stanceS()*float64(i)/40
			p := r.pelvis(t)
			hx, hy, hz := p.hip(f.side, r.hipHalf)
			ax, ay, az := g.ankle(t)
			if d := (Vec{ax.v - hx.v, ay.v - hy.v, az.v - hz.v}); d.dot(d) > longest2 {
				return fmt.Errorf("the %s knee would lock at %d %% of the contact at %.2f s: raise its flexion at contact, or lower the foot angle or the overstride", f.side, 100*i/40, f.contactS)
			}
		}
	}
	return nil
}

// pressKnees finds how far each knee has to stand inward for its frontal angle.
func (r *Runner) pressKnees() {
	r.pressed = make([]float64, len(r.falls))
	for k := range r.falls {
		f := &r.falls[k]
		t := f.contactS + valgusPeak*f.stanceS()
		p := r.pelvis(t)
		hx, hy, hz := p.hip(f.side, r.hipHalf)
		ax, ay, az := r.footings[k].ankle(t)
		l := legPose{hip: Vec{hx.v, hy.v, hz.v}, ankle: Vec{ax.v, ay.v, az.v}}
		lo, hi := -0.25, 0.25
		for range 50 {
			mid := (lo + hi) / 2
			r.setKnee(&l, f.side.Sign(), mid)
			if frontalKneeAngle(l.hip, l.knee, l.ankle, f.side.Sign()) < f.valgus {
				lo = mid
			} else {
				hi = mid
			}
		}
		r.pressed[k] = (lo + hi) / 2
	}
}

// fallAt returns the last footfall that has begun at time t.
func (r *Runner) fallAt(t float64) int {
	k, found := slices.BinarySearchFunc(r.falls, t, func(f footfall, t float64) int {
		switch {
		case f.contactS < t:
			return -1
		case f.contactS > t:
			return 1
		}
		return 0
	})
	if !found {
		k--
	}
	return max(0, min(k, len(r.falls)-1))
}

// fallOf returns the last footfall of side i (0 left, 1 right) begun at time t.
func (r *Runner) fallOf(i int, t float64) int {
	k := r.fallAt(t)
	if r.falls[k].side != body.Sides[i] {
		k--
	}
	return max(k, 0)
}
