package synth

import "math"

// canvas is a picture with depth at the resolution of drawing.
type canvas struct {
	w, h  int
	pix   []uint32  // 0xRRGGBB as shown
	depth []float32 // 1 over distance along the axis; larger is nearer
}

func newCanvas(w, h int) *canvas {
	return &canvas{w, h, make([]uint32, w*h), make([]float32, w*h)}
}

// box is a rectangle of pixels, x1 and y1 excluded.
type box struct{ x0, y0, x1, y1 int }

func (b box) join(c box) box {
	if b.x1 <= b.x0 || b.y1 <= b.y0 {
		return c
	}
	if c.x1 <= c.x0 || c.y1 <= c.y0 {
		return b
	}
	return box{min(b.x0, c.x0), min(b.y0, c.y0), max(b.x1, c.x1), max(b.y1, c.y1)}
}

// shown turns linear light into a value on the screen, 0 to 255.
func shown(v float64) float32 {
	// A soft shoulder keeps bright cloth from burning out.
	if v > 0.75 {
		v = 0.75 + 0.25*(1-math.Exp(-(v-0.75)/0.25))
	}
	return gammaTable[int(max(0, min(1, v))*float64(len(gammaTable)-1)+0.5)]
}

var gammaTable = func() (t [4096]float32) {
	for i := range t {
		t[i] = float32(255 * math.Pow(float64(i)/float64(len(t)-1), 1/2.2))
	}
	return t
}()

func pack(r, g, b float32) uint32 {
	return uint32(r+0.5)<<16 | uint32(g+0.5)<<8 | uint32(b+0.5)
}

// corner is a projected vertex with its shown colour.
type corner struct {
	x, y, q float32 // picture place and 1 over depth
	r, g, b float32
}

// triangle draws one triangle and returns the pixels it may have touched.
func (c *canvas) triangle(p0, p1, p2 *corner) box {
	area := (p1.x-p0.x)*(p2.y-p0.y) - (p1.y-p0.y)*(p2.x-p0.x)
	if area == 0 {
		return box{}
	}
	if area < 0 {
		p1, p2 = p2, p1
		area = -area
	}
	x0 := max(0, int(min(p0.x, p1.x, p2.x)))
	x1 := min(c.w, int(max(p0.x, p1.x, p2.x))+1)
	y0 := max(0, int(min(p0.y, p1.y, p2.y)))
	y1 := min(c.h, int(max(p0.y, p1.y, p2.y))+1)
	if x0 >= x1 || y0 >= y1 {
		return box{}
	}
	inv := 1 / area
	// Weights of p1 and p2 at a pixel centre, and their steps.
	w1x, w1y := (p2.y-p0.y)*inv, -(p2.x-p0.x)*inv
	w2x, w2y := -(p1.y-p0.y)*inv, (p1.x-p0.x)*inv
	fx, fy := float32(x0)+0.5-p0.x, float32(y0)+0.5-p0.y
	row1, row2 := fx*w1x+fy*w1y, fx*w2x+fy*w2y
	dq1, dq2 := p1.q-p0.q, p2.q-p0.q
	for y := y0; y < y1; y++ {
		w1, w2 := row1, row2
		at := y*c.w + x0
		for range x1 - x0 {
			if w1 >= 0 && w2 >= 0 && w1+w2 <= 1 {
				if q := p0.q + w1*dq1 + w2*dq2; q > c.depth[at] {
					c.depth[at] = q
					c.pix[at] = pack(p0.r+w1*(p1.r-p0.r)+w2*(p2.r-p0.r),
						p0.g+w1*(p1.g-p0.g)+w2*(p2.g-p0.g),
						p0.b+w1*(p1.b-p0.b)+w2*(p2.b-p0.b))
				}
			}
			w1 += w1x
			w2 += w2x
			at++
		}
		row1 += w1y
		row2 += w2y
	}
	return box{x0, y0, x1, y1}
}

// lamp is the light of the studio: a large lamp above, light from all sides and
// a little from the floor.
type lamp struct {
	to             Vec // toward the lamp
	key            tint
	sky, floorTint tint
}

func (l *lamp) light(albedo tint, n Vec, shadow, occlusion float64) tint {
	d := max(0, (n.dot(l.to)+0.20)/1.20) * (1 - shadow)
	u := 0.5 + 0.5*n.Y
	a := l.floorTint.mix(l.sky, u)
	a = a.mul(occlusion)
	return tint{albedo.r * (a.r + d*l.key.r), albedo.g * (a.g + d*l.key.g), albedo.b * (a.b + d*l.key.b)}
}

// draw shades a mesh and draws it.
func (c *canvas) draw(m *mesh, eye *lens, scale float64, l *lamp, self *shadowMap, corners []corner) ([]corner, box) {
	corners = corners[:0]
	for i, p := range m.pos {
		x, y, depth := eye.project(p)
		n := m.normal[i]
		view := eye.Position.sub(p)
		facing := n.dot(view) / view.norm()
		if facing < 0 && -facing > 0.15 {
			n = n.mul(-1) // the inside of a sleeve or a hem
		}
		sh := self.at(p, n)
		// Low parts are a little darker: the belt gives back less light.
		occlusion := 0.80 + 0.20*smoothstep(0, 0.5, p.Y)
		col := l.light(m.colour[i], n, sh, occlusion)
		if facing < -0.15 {
			col = col.mul(0.35)
		}
		corners = append(corners, corner{float32(x * scale), float32(y * scale), float32(1 / depth), shown(col.r), shown(col.g), shown(col.b)})
	}
	var touched box
	for i, t := range m.tri {
		p0, p1, p2 := &corners[t[0]], &corners[t[1]], &corners[t[2]]
		if p0.q <= 0 || p1.q <= 0 || p2.q <= 0 {
			continue
		}
		if !m.thin[i] && (p1.x-p0.x)*(p2.y-p0.y)-(p1.y-p0.y)*(p2.x-p0.x) > 0 {
			continue // faces away
		}
		touched = touched.join(c.triangle(p0, p1, p2))
	}
	return corners, touched
}

// shadowMap holds how far toward the lamp the body reaches, seen from the lamp.
type shadowMap struct {
	u, v, to Vec
	centre   Vec
	n        int
	cell     float64
	near     []float32
}

func newShadowMap(to Vec) *shadowMap {
	s := &shadowMap{to: to, n: 300, cell: 0.009, near: make([]float32, 300*300)}
	s.u = Vec{1, 0, 0}
	s.u = s.u.sub(to.mul(s.u.dot(to))).unit()
	s.v = to.cross(s.u)
	return s
}

func (s *shadowMap) place(p Vec) (x, y, d float64) {
	p = p.sub(s.centre)
	h := float64(s.n) / 2
	return p.dot(s.u)/s.cell + h, p.dot(s.v)/s.cell + h, p.dot(s.to)
}

// fill records a mesh about the given middle.
func (s *shadowMap) fill(m *mesh, centre Vec) {
	s.centre = centre
	for i := range s.near {
		s.near[i] = -1e9
	}
	for _, t := range m.tri {
		var x, y, d [3]float64
		for i, k := range t {
			x[i], y[i], d[i] = s.place(m.pos[k])
		}
		fillTriangle(x, y, s.n, s.n, func(at int, w1, w2 float64) {
			if v := float32(d[0] + w1*(d[1]-d[0]) + w2*(d[2]-d[0])); v > s.near[at] {
				s.near[at] = v
			}
		})
	}
}

// at returns how much of the lamp is hidden from a point on a surface, 0 to 1.
func (s *shadowMap) at(p, n Vec) float64 {
	x, y, d := s.place(p.add(n.mul(0.012)))
	cx, cy := int(x), int(y)
	hidden := 0
	for j := -2; j <= 2; j++ {
		for i := -2; i <= 2; i++ {
			px, py := cx+i, cy+j
			if px >= 0 && py >= 0 && px < s.n && py < s.n && float64(s.near[py*s.n+px]) > d+0.030 {
				hidden++
			}
		}
	}
	return 0.85 * float64(hidden) / 25
}

// fillTriangle calls put for each cell of a w × h grid whose centre lies in the
// triangle, with the weights of its second and third corner.
func fillTriangle(x, y [3]float64, w, h int, put func(at int, w1, w2 float64)) {
	area := (x[1]-x[0])*(y[2]-y[0]) - (y[1]-y[0])*(x[2]-x[0])
	if area == 0 {
		return
	}
	x0, x1 := max(0, int(min(x[0], x[1], x[2]))), min(w, int(max(x[0], x[1], x[2]))+1)
	y0, y1 := max(0, int(min(y[0], y[1], y[2]))), min(h, int(max(y[0], y[1], y[2]))+1)
	for j := y0; j < y1; j++ {
		for i := x0; i < x1; i++ {
			fx, fy := float64(i)+0.5-x[0], float64(j)+0.5-y[0]
			w1 := (fx*(y[2]-y[0]) - fy*(x[2]-x[0])) / area
			w2 := (fy*(x[1]-x[0]) - fx*(y[1]-y[0])) / area
			if w1 >= -0.01 && w2 >= -0.01 && w1+w2 <= 1.01 {
				put(j*w+i, w1, w2)
			}
		}
	}
}
