package synth

import (
	"math"
	"math/rand/v2"

	"gaitwright/gait/body"
)

// outfit is the look of a runner: skin, hair and clothes.
type outfit struct {
	skin, hair, shirt, panel, shorts, stripe, sock, upper, accent, midsole, outsole tint

	limbs, trunkGirth float64 // girths against those of a slim adult, 1 the same
	tightsTo          float64 // how far tights reach down the leg, on a limb's scale; 0 for none
	sockFrom          float64 // how high the socks reach
	tied              bool    // the hair is in a bun
}

var demoOutfit = outfit{
	skin: srgb(214, 160, 128), hair: srgb(62, 42, 32),
	shirt: srgb(28, 118, 128), panel: srgb(18, 78, 92),
	shorts: srgb(44, 42, 58), stripe: srgb(226, 112, 92),
	sock: srgb(238, 238, 234), upper: srgb(232, 186, 52), accent: srgb(60, 60, 70),
	midsole: srgb(244, 242, 236), outsole: srgb(48, 48, 52),
	limbs: 1, trunkGirth: 1, sockFrom: 1.845, tied: true,
}

// Colours from which other runners are dressed (invented).
var (
	skins   = []tint{srgb(214, 160, 128), srgb(236, 196, 170), srgb(150, 104, 76), srgb(96, 64, 46), srgb(190, 140, 104)}
	hairs   = []tint{srgb(62, 42, 32), srgb(24, 20, 20), srgb(168, 130, 82), srgb(120, 118, 116)}
	shirts  = []tint{srgb(28, 118, 128), srgb(206, 210, 212), srgb(176, 52, 58), srgb(40, 44, 52), srgb(226, 178, 60), srgb(70, 96, 168)}
	bottoms = []tint{srgb(44, 42, 58), srgb(28, 28, 30), srgb(74, 86, 104), srgb(110, 42, 60), srgb(150, 150, 146)}
	socks   = []tint{srgb(238, 238, 234), srgb(34, 34, 38), srgb(120, 124, 128)}
	uppers  = []tint{srgb(232, 186, 52), srgb(46, 70, 140), srgb(224, 224, 220), srgb(40, 42, 46), srgb(206, 84, 50), srgb(70, 140, 96)}
	soles   = []tint{srgb(244, 242, 236), srgb(214, 214, 208), srgb(60, 62, 66)}
)

// dressed returns an outfit drawn at random from a seed; 0 is the demonstration's.
// Girths vary as adults who run do, by a tenth of the slim figure's either way and
// more upward (invented).
func dressed(seed uint64) *outfit {
	o := demoOutfit
	if seed == 0 {
		return &o
	}
	rng := rand.New(rand.NewPCG(seed, 301))
	one := func(of []tint) tint { return of[rng.IntN(len(of))] }
	o.skin, o.hair, o.shirt, o.shorts, o.sock, o.upper, o.midsole = one(skins), one(hairs), one(shirts), one(bottoms), one(socks), one(uppers), one(soles)
	o.panel, o.stripe, o.accent = o.shirt.mul(0.5), o.shorts.mix(one(shirts), 0.6), o.upper.mix(one(socks), 0.7)
	o.limbs, o.trunkGirth = 0.94+0.20*rng.Float64(), 0.94+0.24*rng.Float64()
	o.tied = rng.IntN(2) == 0
	switch rng.IntN(4) {
	case 0:
		o.tightsTo = 1.80
	case 1:
		o.tightsTo = 0.92
	}
	if rng.IntN(3) == 0 {
		o.sockFrom = 1.95
	}
	return &o
}

// body builds the clothed figure of a posture. Girths are invented for a slim
// adult and scale with stature.
func (o *outfit) body(p *Posture, sag [2]float64, female bool) *mesh {
	m := &mesh{}
	k := p.heightM / 1.75
	for i := range p.legs {
		o.leg(m, p, i, k)
		o.shoe(m, &p.legs[i].foot, sag[i], body.Sides[i].Sign())
		o.arm(m, p, i, k)
	}
	o.trunk(m, p, k, female)
	o.head(m, p, k, female)
	m.smooth()
	return m
}

// limb is the centre line of two links with a rounded bend between them, over 0
// to 1 (first link) and 1 to 2 (second).
type limb struct {
	p0, p1, p2 Vec
	round      float64 // half length of the rounding, share of a link
}

func (l *limb) at(s float64) (c, tangent Vec) {
	d0, d1 := l.p1.sub(l.p0), l.p2.sub(l.p1)
	if a := s - (1 - l.round); a > 0 && a < 2*l.round {
		u := a / (2 * l.round)
		q0, q2 := l.p1.sub(d0.mul(l.round)), l.p1.add(d1.mul(l.round))
		c = q0.mul((1 - u) * (1 - u)).add(l.p1.mul(2 * u * (1 - u))).add(q2.mul(u * u))
		return c, d0.mul(1 - u).add(d1.mul(u)).unit()
	}
	if s <= 1 {
		return l.p0.add(d0.mul(s)), d0.unit()
	}
	return l.p1.add(d1.mul(s - 1)), d1.unit()
}

// Columns of a limb's profile: place, toward front, back, inner and outer side.
var legShape = [][]float64{
	{0.00, .092, .098, .078, .086},
	{0.15, .090, .096, .080, .082},
	{0.40, .082, .080, .070, .073},
	{0.65, .068, .066, .058, .061},
	{0.85, .056, .053, .050, .052},
	{0.95, .054, .048, .049, .050},
	{1.00, .054, .046, .049, .049},
	{1.06, .050, .046, .048, .048},
	{1.15, .046, .054, .046, .049},
	{1.30, .043, .066, .047, .051},
	{1.45, .040, .062, .043, .046},
	{1.65, .035, .046, .035, .037},
	{1.85, .031, .035, .028, .029},
	{1.96, .032, .037, .032, .032},
	{2.08, .034, .040, .033, .033},
}

func (o *outfit) leg(m *mesh, p *Posture, i int, k float64) {
	l := &p.legs[i]
	sign := body.Sides[i].Sign()
	right := l.knee.sub(l.hip).unit().cross(l.ankle.sub(l.knee).unit()).mul(-1)
	right = right.add(p.pelvis.right.mul(0.35)).unit()
	line := limb{l.hip, l.knee, l.ankle, 0.10}
	girth := k * o.limbs
	section := func(s, grow float64, colour tint) ring {
		c, t := line.at(s)
		r := right.sub(t.mul(right.dot(t))).unit()
		front := r.cross(t)
		out := r.mul(sign)
		return ring{centre: c, a: front, b: out, square: 1, colour: colour,
			a0: girth*between(legShape, s, 1) + grow, a1: girth*between(legShape, s, 2) + grow,
			b1: girth*between(legShape, s, 3) + grow, b0: girth*between(legShape, s, 4) + grow}
	}
	bare := func(s float64) tint { return o.skin.mix(o.shorts, smoothstep(o.tightsTo+0.01, o.tightsTo-0.01, s)) }
	var skin []ring
	for s := 0.30; s < 1.885; s += 0.035 {
		skin = append(skin, section(s, 0, bare(s)))
	}
	skin = append(skin, section(1.89, 0, bare(1.89)))
	m.loft(skin, 26, open, open, false)
	var sock []ring
	for s := o.sockFrom; s <= 2.09; s += 0.035 {
		sock = append(sock, section(s, 0.004*k, o.sock))
	}
	m.loft(sock, 22, 0, 0, false)

	// A loose leg of the shorts, wider at the hem, with a stripe down its outer
	// side.
	var shorts []ring
	for s := -0.02; s <= 0.601; s += 0.0443 {
		// Rounded in at the hip, where the seat covers it.
		g := k * (0.010 + 0.018*smoothstep(0.15, 0.6, s) - 0.032*smoothstep(0.26, -0.02, s))
		r := section(s, g, o.shorts)
		r.colours = func(turn float64) tint {
			if d := math.Abs(turn - math.Pi/2); d < 0.22 {
				return o.stripe
			}
			return o.shorts
		}
		shorts = append(shorts, r)
	}
	m.loft(shorts, 40, 0.02, open, true)
}

var armShape = [][]float64{
	{0.00, .048, .050, .044, .048},
	{0.20, .050, .050, .046, .049},
	{0.50, .044, .044, .040, .041},
	{0.80, .038, .038, .036, .036},
	{1.00, .037, .036, .038, .038},
	{1.15, .039, .039, .040, .040},
	{1.35, .038, .037, .038, .038},
	{1.65, .030, .030, .031, .031},
	{1.90, .024, .023, .027, .027},
	{2.00, .023, .022, .028, .028},
}

func (o *outfit) arm(m *mesh, p *Posture, i int, k float64) {
	a := &p.arms[i]
	sign := body.Sides[i].Sign()
	right := a.elbow.sub(a.shoulder).unit().cross(a.wrist.sub(a.elbow).unit())
	right = right.add(p.trunk.right.mul(0.1)).unit()
	line := limb{a.shoulder, a.elbow, a.wrist, 0.12}
	girth := k * o.limbs
	section := func(s, grow float64, colour tint) ring {
		c, t := line.at(s)
		r := right.sub(t.mul(right.dot(t))).unit()
		front := r.cross(t)
		return ring{centre: c, a: front, b: r.mul(sign), square: 1, colour: colour,
			a0: girth*between(armShape, s, 1) + grow, a1: girth*between(armShape, s, 2) + grow,
			b1: girth*between(armShape, s, 3) + grow, b0: girth*between(armShape, s, 4) + grow}
	}
	var skin []ring
	for s := 0.30; s <= 2.001; s += 0.05 {
		skin = append(skin, section(s, 0, o.skin))
	}
	m.loft(skin, 20, open, 0.01, false)
	var sleeve []ring
	for s := -0.12; s <= 0.581; s += 0.035 {
		r := section(s, k*(0.003+0.012*smoothstep(0, 0.58, s)), o.shirt)
		// The shoulder is a dome about the joint.
		if d := (0.10 - s) / 0.26; d > 0 {
			dome := math.Sqrt(max(0.01, 1-d*d))
			r.a0, r.a1, r.b0, r.b1 = r.a0*dome, r.a1*dome, r.b0*dome, r.b1*dome
		}
		sleeve = append(sleeve, r)
	}
	m.loft(sleeve, 24, 0.006*k, open, true)

	// A loose fist with its thumb on top.
	h := a.hand
	at := func(x, y, z float64) Vec { return a.wrist.add(h.at(k*x, k*y, k*z)) }
	palm := func(x, y, up, side float64) ring { return oval(at(x, y, 0), h.up, h.right, k*up, k*side, o.skin) }
	m.loft([]ring{palm(-.012, 0, .023, .024), palm(.015, 0, .031, .021), palm(.045, -.001, .039, .020), palm(.072, -.003, .042, .021), palm(.090, -.006, .038, .022), palm(.102, -.010, .028, .019)}, 18, 0, 0.008*k, false)
	m.ball(at(.074, -.008, -sign*.024), h, .026*k, .034*k, .016*k, 14, o.skin) // curled fingers
	thumb := limb{at(.020, .020, -sign*.012), at(.050, .043, -sign*.014), at(.082, .040, -sign*.018), 0.3}
	var rings []ring
	for s := 0.0; s <= 2.001; s += 0.2 {
		c, t := thumb.at(s)
		b := h.right.sub(t.mul(h.right.dot(t))).unit()
		rings = append(rings, oval(c, b, b.cross(t), k*(.013-.002*s), k*(.012-.0015*s), o.skin))
	}
	m.loft(rings, 12, .004, .008*k, false)
}

// Columns: height from the middle of the hips as a share of the way to the
// middle of the shoulders, half width, depth to the front and to the back, and
// how far the centre stands forward.
var shirtShape = [][]float64{
	{-0.14, .182, .118, .130, -.004},
	{-0.04, .180, .116, .130, -.006},
	{0.10, .168, .109, .118, -.004},
	{0.28, .146, .104, .096, .000},
	{0.42, .142, .104, .090, .000},
	{0.58, .152, .110, .096, -.002},
	{0.74, .164, .116, .106, -.006},
	{0.88, .178, .104, .106, -.010},
	{0.97, .190, .078, .088, -.014},
	{1.03, .182, .060, .070, -.013},
	{1.07, .146, .054, .060, -.010},
	{1.095, .112, .053, .058, -.006},
	{1.135, .068, .054, .056, .000},
}

func (o *outfit) trunk(m *mesh, p *Posture, k float64, female bool) {
	axis := p.neck.sub(p.mid)
	full := k * o.trunkGirth
	hips := p.pelvis.then(pitch(0.25)) // the seat keeps half of the pelvis' tilt
	section := func(s, grow float64, colour tint) ring {
		u := smoothstep(-0.05, 0.75, s)
		f := hips.mix(p.trunk, u)
		// The belly and the seat are where girth goes; the shoulders less so.
		girth := k + (full-k)*smoothstep(1.05, 0.6, s)
		half, front, back, fwd := between(shirtShape, s, 1), between(shirtShape, s, 2), between(shirtShape, s, 3), between(shirtShape, s, 4)
		if female {
			half *= 1 - 0.07*smoothstep(0.1, 0.4, s)
			front += 0.020 * math.Exp(-(s-0.72)*(s-0.72)/0.012)
		}
		// A shallow S: hollow back over a full seat.
		c := p.mid.add(axis.mul(s)).add(f.fwd.mul(k * (fwd + 0.012*math.Sin(math.Pi*(0.2+s)))))
		return ring{centre: c, a: f.fwd, b: f.right, square: 0.92, colour: colour,
			a0: girth*front + grow, a1: girth*back + grow, b0: girth*half + grow, b1: girth*half + grow}
	}
	var seat []ring
	for _, s := range []float64{-0.22, -0.19, -0.15, -0.10, -0.04, 0.04, 0.12} {
		r := section(max(s, -0.10), 0, o.shorts)
		shrink := 1 - smoothstep(-0.08, -0.26, s)*0.75
		r.centre = r.centre.add(hips.up.mul(min(0, s+0.10) * axis.norm()))
		r.a0, r.a1, r.b0, r.b1 = r.a0*shrink, r.a1*shrink, r.b0*(0.55+0.45*shrink), r.b1*(0.55+0.45*shrink)
		seat = append(seat, r)
	}
	m.loft(seat, 36, 0.01, open, false)
	var shirt []ring
	for s := -0.11; s <= 1.136; s += 0.0445 {
		flare := k * 0.010 * smoothstep(0.2, -0.11, s)
		r := section(s, flare, o.shirt)
		r.a0 += k * 0.030 * smoothstep(0.22, -0.10, s) // hangs clear of the lifted thighs
		r.colours = func(turn float64) tint {
			// Darker panels down the sides.
			if d := math.Abs(math.Abs(math.Sin(turn))); d > 0.93 && s < 0.84 {
				return o.panel
			}
			return o.shirt
		}
		shirt = append(shirt, r)
	}
	m.loft(shirt, 48, open, open, true)

	// Neck.
	base := p.neck.add(p.trunk.at(k*0.004, 0.035*k, 0))
	top := p.skull.add(p.head.at(-0.012*k, -0.035*k, 0))
	var neck []ring
	for u := 0.0; u <= 1.001; u += 0.125 {
		f := p.trunk.mix(p.head, u)
		r := 0.060 - 0.008*math.Sin(math.Pi*min(1, u*1.2))
		neck = append(neck, oval(base.lerp(top, u), f.fwd, f.right, k*r*1.03, k*r, o.skin))
	}
	m.loft(neck, 24, open, open, false)
}
