package synth

import "math"

// egg is an ellipsoid that holds the middle between the ears, in head axes
// (forward, up, right), metres for a stature of 1.75 m.
type egg struct{ c, r Vec }

// The head is the smooth hull of a few eggs, seen from the middle between the
// ears.
var eggs = []egg{
	{Vec{-.010, .046, 0}, Vec{.096, .080, .074}}, // cranium
	{Vec{.030, -.004, 0}, Vec{.059, .082, .060}}, // face
	{Vec{.036, -.054, 0}, Vec{.052, .048, .046}}, // jaw
	{Vec{-.050, .010, 0}, Vec{.054, .064, .058}}, // nape
}

// reach returns how far the egg extends from the origin in a direction, or 0
// where the origin lies outside and the ray misses it.
func (e *egg) reach(d Vec) float64 {
	q := Vec{d.X / e.r.X, d.Y / e.r.Y, d.Z / e.r.Z}
	o := Vec{e.c.X / e.r.X, e.c.Y / e.r.Y, e.c.Z / e.r.Z}
	a, b, c := q.dot(q), q.dot(o), o.dot(o)-1
	disc := b*b - a*c
	if disc < 0 {
		return 0
	}
	return max(0, (b+math.Sqrt(disc))/a)
}

// bump is a soft hill about a direction.
func bump(d, about Vec, width float64) float64 {
	x := d.sub(about)
	return math.Exp(-x.dot(x) / (width * width))
}

// skull returns how far the head reaches in a direction, and how much of that
// place is covered with hair, 0 to 1.
func skull(d Vec) (reach, hair float64) {
	const sharp = 60.0 // of the smooth maximum
	sum := 0.0
	for i := range eggs {
		sum += math.Exp(sharp * eggs[i].reach(d))
	}
	reach = math.Log(sum) / sharp
	az := Vec{d.X, d.Y, math.Abs(d.Z)}
	reach += 0.020 * bump(az, Vec{.972, -.235, 0}.unit(), .11)  // tip of the nose
	reach += 0.011 * bump(az, Vec{.985, -.10, 0}.unit(), .13)   // its bridge
	reach += 0.004 * bump(az, Vec{.955, -.26, .09}.unit(), .07) // its wings
	reach += 0.004 * bump(az, Vec{.92, .26, .20}.unit(), .20)   // brow
	reach -= 0.007 * bump(az, Vec{.91, .17, .34}.unit(), .13)   // eye socket
	reach += 0.006 * bump(az, Vec{.845, -.535, 0}.unit(), .09)  // lips
	reach -= 0.003 * bump(az, Vec{.79, -.62, 0}.unit(), .07)    // under them
	reach += 0.010 * bump(az, Vec{.70, -.72, 0}.unit(), .15)    // chin
	reach += 0.003 * bump(az, Vec{.78, -.10, .60}.unit(), .25)  // cheek
	// Hairline by forwardness: over the forehead, down behind the ear and round
	// to the nape.
	least := table(d.X, -1, -.50, -.6, -.48, -.25, -.25, .0, .10, .25, .20, .5, .55, .8, .78)
	hair = smoothstep(least-.05, least+.05, d.Y)
	reach += 0.010 * hair
	return reach, hair
}

func (o *outfit) head(m *mesh, p *Posture, k float64, female bool) {
	at := func(x, y, z float64) Vec { return p.skull.add(p.head.at(k*x, k*y, k*z)) }
	const around, along = 64, 48
	base := int32(len(m.pos))
	lips := srgb(176, 96, 88)
	for i := range along + 1 {
		su, cu := math.Sincos(math.Pi * (0.0005 + 0.999*float64(i)/along))
		for j := range around {
			sv, cv := math.Sincos(2 * math.Pi * float64(j) / around)
			d := Vec{su * cv, cu, su * sv}
			reach, hair := skull(d)
			c := o.skin.mix(o.hair, hair)
			az := Vec{d.X, d.Y, math.Abs(d.Z)}
			mouth := bump(Vec{d.X, (d.Y + .555) * 2.6, d.Z * 0.8}, Vec{.83, 0, 0}, .16)
			c = c.mix(lips, min(1, 1.6*mouth*mouth))
			brow := bump(Vec{az.X, (az.Y - .285 + .12*(az.Z-.3)) * 3.2, az.Z * .9}, Vec{.90, 0, .27}, .14)
			c = c.mix(o.hair, min(1, 1.3*brow*brow))
			m.pos = append(m.pos, at(d.X*reach, d.Y*reach, d.Z*reach))
			m.colour = append(m.colour, c)
		}
	}
	for i := range int32(along) {
		for j := range int32(around) {
			q := (j + 1) % around
			a, b := base+i*around+j, base+i*around+q
			c, d := a+around, b+around
			m.tri = append(m.tri, [3]int32{a, b, c}, [3]int32{b, d, c})
			m.thin = append(m.thin, false, false)
		}
	}
	white, iris := srgb(240, 238, 234), srgb(58, 44, 36)
	for _, z := range [...]float64{-1, 1} {
		eye := p.head.then(yaw(z * 0.30))
		m.ball(at(.0730, .0165, z*.0310), eye, k*.0100, k*.0075, k*.0145, 14, white)
		m.ball(at(.0800, .0165, z*.0325), eye, k*.0042, k*.0062, k*.0066, 12, iris)
		ear := p.head.then(yaw(z * 0.35))
		m.ball(at(-.006, -.004, z*.0745), ear, k*.017, k*.030, k*.009, 14, o.skin)
		m.ball(at(-.002, -.004, z*.0800), ear, k*.009, k*.018, k*.006, 10, o.skin.mul(0.75))
	}
	if female && o.tied {
		m.ball(at(-.118, .072, 0), p.head, k*.038, k*.040, k*.040, 18, o.hair) // a bun
	}
}
