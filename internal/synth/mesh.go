package synth

import "math"

// tint is a colour in linear light, 0 to 1 each.
type tint struct{ r, g, b float64 }

func (c tint) mul(k float64) tint { return tint{c.r * k, c.g * k, c.b * k} }
func (c tint) mix(d tint, u float64) tint {
	return tint{c.r + (d.r-c.r)*u, c.g + (d.g-c.g)*u, c.b + (d.b-c.b)*u}
}

// srgb turns a colour as printed, 0 to 255 each, into linear light.
func srgb(r, g, b float64) tint {
	lin := func(v float64) float64 { return math.Pow(v/255, 2.2) }
	return tint{lin(r), lin(g), lin(b)}
}

// mesh is a surface of triangles with a colour at each corner.
type mesh struct {
	pos    []Vec
	normal []Vec
	colour []tint
	tri    [][3]int32
	thin   []bool // a triangle that is seen from both sides, such as a sleeve's
}

// ring is one cross-section of a lofted body.
type ring struct {
	centre  Vec
	a, b    Vec     // unit directions of the section
	a0, a1  float64 // radius toward +a and toward -a
	b0, b1  float64
	square  float64 // 1 is an ellipse; smaller is boxier, larger is pinched
	colour  tint
	colours func(turn float64) tint // by angle from +a toward +b; nil takes colour
}

func oval(c Vec, a, b Vec, ra, rb float64, colour tint) ring {
	return ring{centre: c, a: a, b: b, a0: ra, a1: ra, b0: rb, b1: rb, square: 1, colour: colour}
}

func (r *ring) point(turn float64) Vec {
	s, c := math.Sincos(turn)
	if r.square != 1 {
		c = math.Copysign(math.Pow(math.Abs(c), r.square), c)
		s = math.Copysign(math.Pow(math.Abs(s), r.square), s)
	}
	ra, rb := r.a0, r.b0
	if c < 0 {
		ra = r.a1
	}
	if s < 0 {
		rb = r.b1
	}
	return r.centre.add(r.a.mul(ra * c)).add(r.b.mul(rb * s))
}

// loft joins rings by a skin of n sides. Where a cap is wanted the end is closed
// by a rounded lid of the given height.
func (m *mesh) loft(rings []ring, n int, firstCap, lastCap float64, thin bool) {
	base := int32(len(m.pos))
	for _, r := range rings {
		for i := range n {
			turn := 2 * math.Pi * float64(i) / float64(n)
			m.pos = append(m.pos, r.point(turn))
			c := r.colour
			if r.colours != nil {
				c = r.colours(turn)
			}
			m.colour = append(m.colour, c)
		}
	}
	first := len(m.tri)
	N := int32(n)
	for k := range int32(len(rings) - 1) {
		for i := range N {
			j := (i + 1) % N
			p, q := base+k*N+i, base+k*N+j
			m.tri = append(m.tri, [3]int32{p, q, p + N}, [3]int32{q, q + N, p + N})
		}
	}
	lid := func(k int32, dir Vec, flip bool) {
		r := &rings[k]
		tip := int32(len(m.pos))
		m.pos = append(m.pos, r.centre.add(dir))
		m.colour = append(m.colour, r.colour)
		for i := range N {
			p, q := base+k*N+i, base+k*N+(i+1)%N
			if flip {
				p, q = q, p
			}
			m.tri = append(m.tri, [3]int32{p, q, tip})
		}
	}
	last := int32(len(rings) - 1)
	if firstCap >= 0 {
		lid(0, rings[0].centre.sub(rings[1].centre).unit().mul(firstCap), true)
	}
	if lastCap >= 0 {
		lid(last, rings[last].centre.sub(rings[last-1].centre).unit().mul(lastCap), false)
	}
	m.orient(first, rings)
	for range m.tri[first:] {
		m.thin = append(m.thin, thin)
	}
}

// orient turns the new triangles outward: away from the axis of the loft.
func (m *mesh) orient(first int, rings []ring) {
	axis := rings[len(rings)/2].centre
	votes := 0.0
	for _, t := range m.tri[first:] {
		a, b, c := m.pos[t[0]], m.pos[t[1]], m.pos[t[2]]
		n := b.sub(a).cross(c.sub(a))
		votes += n.dot(a.sub(axis))
	}
	if votes < 0 {
		for i := range m.tri[first:] {
			t := &m.tri[first+i]
			t[1], t[2] = t[2], t[1]
		}
	}
}

const open = -1.0 // a loft's end without a lid

// ball adds an ellipsoid.
func (m *mesh) ball(c Vec, o frame, rx, ry, rz float64, n int, colour tint) {
	var rings []ring
	k := n / 2
	for i := range k {
		u := math.Pi * (float64(i) + 0.5) / float64(k)
		s, co := math.Sincos(u)
		rings = append(rings, oval(c.add(o.up.mul(ry*co)), o.fwd, o.right, rx*s, rz*s, colour))
	}
	edge := ry * (1 - math.Cos(math.Pi*0.5/float64(k)))
	m.loft(rings, n, edge, edge, false)
}

// smooth works out the normals.
func (m *mesh) smooth() {
	m.normal = make([]Vec, len(m.pos))
	for _, t := range m.tri {
		a, b, c := m.pos[t[0]], m.pos[t[1]], m.pos[t[2]]
		n := b.sub(a).cross(c.sub(a))
		for _, i := range t {
			m.normal[i] = m.normal[i].add(n)
		}
	}
	for i := range m.normal {
		m.normal[i] = m.normal[i].unit()
	}
}

// between interpolates a profile of rows that begin with a place, in order of
// it, smoothly (Catmull-Rom) in each column.
func between(rows [][]float64, at float64, column int) float64 {
	n := len(rows)
	if at <= rows[0][0] {
		return rows[0][column]
	}
	if at >= rows[n-1][0] {
		return rows[n-1][column]
	}
	i := 0
	for rows[i+1][0] < at {
		i++
	}
	x0, x1 := rows[i][0], rows[i+1][0]
	y0, y1 := rows[i][column], rows[i+1][column]
	slope := func(j int) float64 {
		a, b := max(0, j-1), min(n-1, j+1)
		return (rows[b][column] - rows[a][column]) / (rows[b][0] - rows[a][0])
	}
	h := x1 - x0
	u := (at - x0) / h
	m0, m1 := slope(i)*h, slope(i+1)*h
	u2, u3 := u*u, u*u*u
	return (2*u3-3*u2+1)*y0 + (u3-2*u2+u)*m0 + (-2*u3+3*u2)*y1 + (u3-u2)*m1
}

func smoothstep(a, b, x float64) float64 {
	u := max(0, min(1, (x-a)/(b-a)))
	return u * u * (3 - 2*u)
}
