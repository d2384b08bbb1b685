package synth

import "math"

// Columns of the shoe along its length (share of it): half width, height of the
// upper, height of the sole's top, height of the ground side.
var shoeShape = [][]float64{
	{0.000, .012, .058, .030, .014},
	{0.020, .024, .074, .033, .007},
	{0.060, .031, .086, .034, .002},
	{0.140, .035, .090, .034, .000},
	{0.240, .036, .088, .033, .000},
	{0.340, .036, .086, .031, .000},
	{0.440, .037, .081, .029, .000},
	{0.540, .041, .071, .027, .000},
	{0.640, .046, .063, .025, .000},
	{0.740, .047, .056, .023, .001},
	{0.840, .043, .050, .021, .004},
	{0.920, .034, .044, .020, .008},
	{0.970, .022, .036, .020, .012},
	{1.000, .009, .028, .020, .016},
}

// shoe adds a running shoe. sag is how far the unloaded sole hangs below its
// loaded height.
func (o *outfit) shoe(m *mesh, f *footPose, sag, sign float64) {
	sh := f.shoe
	k := sh.length / 0.284
	const n = 36
	base := int32(len(m.pos))
	steps := 44
	for i := range steps + 1 {
		u := float64(i) / float64(steps)
		u = 0.5 - 0.5*math.Cos(math.Pi*u) // denser at heel and toe
		w, top, sole, ground := k*between(shoeShape, u, 1), k*between(shoeShape, u, 2), k*between(shoeShape, u, 3), k*between(shoeShape, u, 4)
		ground -= sag * (1 - u)
		fwd := u * sh.length
		// The inner side is straighter than the outer.
		bow := sign * k * (-.004 + .010*math.Sin(math.Pi*min(1, u*1.05)))
		bend := f.around(fwd)
		for j := range n {
			turn := 2 * math.Pi * float64(j) / n // 0 outer side, π/2 up
			s, c := math.Sincos(turn)
			var h, z float64
			switch {
			case s >= 0: // upper: a rounded arch over the sole
				z = w * math.Copysign(math.Pow(math.Abs(c), 0.75), c)
				h = sole + (top-sole)*math.Pow(s, 0.8)
				if u < 0.62 {
					z *= 1 - 0.30*s*smoothstep(0.62, 0.2, u)
				}
			default: // sole: nearly a box, a little wider than the upper
				z = 1.05 * w * math.Copysign(math.Pow(math.Abs(c), 0.35), c)
				h = sole + (sole-ground)*-math.Pow(-s, 0.5)
			}
			colour := o.upper
			switch {
			case s < -0.93:
				colour = o.outsole
			case s < 0.06:
				colour = o.midsole
			case s > 0.97 && u > 0.24 && u < 0.56: // tongue and laces
				colour = o.accent
			case u < 0.06 && s > 0.5:
				colour = o.accent // heel tab
			case u > 0.40 && u < 0.52 && s > 0.1 && s < 0.85:
				colour = o.accent.mix(o.upper, 0.25)
			}
			m.pos = append(m.pos, bend(fwd, h, z+bow))
			m.colour = append(m.colour, colour)
		}
	}
	first := len(m.tri)
	for i := range int32(steps) {
		for j := range int32(n) {
			q := (j + 1) % n
			a, b := base+i*n+j, base+i*n+q
			m.tri = append(m.tri, [3]int32{a, a + n, b}, [3]int32{b, a + n, b + n})
		}
	}
	for _, end := range [...]int32{0, int32(steps)} {
		var c Vec
		for j := range int32(n) {
			c = c.add(m.pos[base+end*n+j])
		}
		tip := int32(len(m.pos))
		m.pos = append(m.pos, c.mul(1.0/n))
		m.colour = append(m.colour, o.upper)
		for j := range int32(n) {
			p, q := base+end*n+j, base+end*n+(j+1)%n
			if end > 0 {
				p, q = q, p
			}
			m.tri = append(m.tri, [3]int32{p, q, tip})
		}
	}
	for range m.tri[first:] {
		m.thin = append(m.thin, false)
	}
}

// around returns a map from the shoe's own coordinates to runner space in which
// the bend at the ball is spread over some centimetres.
func (p *footPose) around(fwd float64) func(f, h, z float64) Vec {
	const soft = 0.025
	u := smoothstep(p.shoe.ball-soft, p.shoe.ball+soft, fwd)
	return func(f, h, z float64) Vec {
		d := f - p.shoe.ball
		return p.ball.add(p.rear.at(d, h, z).lerp(p.toes.at(d, h, z), u))
	}
}
