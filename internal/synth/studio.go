package synth

import (
	"math"

	"gaitwright/gait/clip"
)

// The treadmill (invented): the belt's top is at height 0.
const (
	beltHalfM  = 0.26  // half width of the belt
	beltFrontM = 0.86  // where the belt goes under the hood
	beltRearM  = -0.94 // where it turns down
	railHalfM  = 0.37
	floorM     = -0.19
)

// block is an upright box of the scene.
type block struct {
	lo, hi Vec
	colour tint
}

var (
	deckDark  = srgb(52, 54, 58)
	railGrey  = srgb(132, 136, 138)
	paleMetal = srgb(196, 198, 198)
	beltGrey  = srgb(58, 59, 62)
	beltMark  = srgb(222, 220, 208)
	wallWarm  = srgb(226, 220, 208)
	wallGreen = srgb(142, 160, 142)
	oakFloor  = srgb(188, 152, 112)
	ceiling   = srgb(240, 238, 232)
	skirting  = srgb(236, 232, 224)
)

// What the picture on the wall is painted with.
var (
	frameWood, mount            = srgb(74, 62, 52), srgb(244, 240, 232)
	skyHigh, skyLow, sun        = srgb(206, 218, 222), srgb(238, 214, 176), srgb(244, 226, 170)
	farHills, nearHills, gravel = srgb(138, 156, 132), srgb(96, 122, 98), srgb(176, 166, 146)
)

var treadmill = []block{
	{Vec{beltRearM + .02, floorM + .05, -beltHalfM}, Vec{beltFrontM, -0.004, beltHalfM}, deckDark},       // deck under the belt
	{Vec{beltRearM, floorM + .05, -railHalfM}, Vec{beltFrontM + .3, 0.012, -beltHalfM - .012}, railGrey}, // foot rails
	{Vec{beltRearM, floorM + .05, beltHalfM + .012}, Vec{beltFrontM + .3, 0.012, railHalfM}, railGrey},
	{Vec{beltRearM + .10, floorM, -railHalfM + .03}, Vec{beltFrontM + .2, floorM + .05, railHalfM - .03}, srgb(30, 31, 34)},
	{Vec{beltRearM - .05, floorM + .03, -railHalfM}, Vec{beltRearM, -0.01, railHalfM}, deckDark},          // rear roller cover
	{Vec{beltFrontM, floorM + .02, -railHalfM}, Vec{beltFrontM + .42, 0.10, railHalfM}, srgb(70, 74, 80)}, // hood
}

// arch carries the display. A camera in front films without it.
var arch = []block{
	{Vec{1.04, 0.05, -railHalfM - .03}, Vec{1.11, 1.16, -railHalfM + .02}, paleMetal},
	{Vec{1.04, 0.05, railHalfM - .02}, Vec{1.11, 1.16, railHalfM + .03}, paleMetal},
	{Vec{1.02, 1.08, -railHalfM - .03}, Vec{1.12, 1.34, railHalfM + .03}, srgb(48, 50, 56)}, // console
}

// ground is a pixel of the belt or its rails, whose look changes with time.
type ground struct {
	at    int32
	belt  bool
	x, z  float32
	still tint    // its colour without shadow and marks, lit
	width float32 // metres that the pixel spans along the belt
}

// studio is the still part of the scene, drawn once.
type studio struct {
	picture *canvas // the whole still scene at drawing resolution
	moving  []ground
	bounds  box // of moving
	lamp    lamp
}

// wallM is how far behind the belt the wall stands, seen along the camera.
func wallM(v clip.View) float64 {
	if v.Sagittal() {
		return 1.75
	}
	return 2.9
}

func newStudio(cam Camera, scale int, props ...block) *studio {
	look, right := cam.nominal()
	s := &studio{picture: newCanvas(cam.WidthPX*scale, cam.HeightPX*scale)}
	// The lamp hangs above, a little toward the camera and to one side.
	s.lamp = lamp{to: Vec{Y: 0.80}.add(look.mul(-0.50)).add(right.mul(-0.28)).unit(),
		key: tint{.62, .60, .56}, sky: tint{.52, .53, .55}, floorTint: tint{.30, .28, .26}}
	eye := cam.lens()
	room := room{look: look, right: right, wall: wallM(cam.View), lamp: &s.lamp, treadmill: treadmill}
	room.blocks = append(room.blocks, props...)
	if cam.View != clip.Front {
		room.blocks = append(room.blocks, arch...)
	}
	if cam.View.Sagittal() {
		room.blocks = append(room.blocks, room.furniture()...)
	}
	s.bounds = box{1 << 30, 1 << 30, 0, 0}
	rows := s.picture.h
	lines := make([][]ground, rows)
	inParallel(rows, func(y int) {
		for x := range s.picture.w {
			dir := eye.ray((float64(x)+0.5)/float64(scale), (float64(y)+0.5)/float64(scale))
			hit := room.cast(eye.Position, dir)
			at := y*s.picture.w + x
			depth := hit.distance * dir.dot(eye.look)
			s.picture.depth[at] = float32(1 / depth)
			c := hit.colour
			// Corners of the picture are a little darker, as a lens makes them.
			vx, vy := float64(x)/float64(s.picture.w)-0.5, float64(y)/float64(rows)-0.5
			c = c.mul(1 - 0.28*(vx*vx+vy*vy))
			s.picture.pix[at] = pack(shown(c.r), shown(c.g), shown(c.b))
			if hit.moving {
				lines[y] = append(lines[y], ground{int32(at), hit.belt, float32(hit.p.X), float32(hit.p.Z), c, 0})
			}
		}
	})
	for y, l := range lines {
		for i := range l {
			// The neighbour in the row or the row above tells how much belt a
			// pixel spans.
			span := float32(0.004)
			if i+1 < len(l) && l[i+1].at == l[i].at+1 {
				span = float32(math.Abs(float64(l[i+1].x - l[i].x)))
			}
			if y > 0 && len(lines[y-1]) > 0 {
				j := min(i, len(lines[y-1])-1)
				span = max(span, float32(math.Abs(float64(lines[y-1][j].x-l[i].x)))*0.5)
			}
			l[i].width = min(span, 0.05)
			x := int(l[i].at) % s.picture.w
			s.bounds = s.bounds.join(box{x, y, x + 1, y + 1})
		}
		s.moving = append(s.moving, l...)
	}
	return s
}

// ray is the direction in which the camera sees a picture place.
func (l *lens) ray(x, y float64) Vec {
	u, v := (x-float64(l.WidthPX)/2)/l.FocalPX, (y-float64(l.HeightPX)/2)/l.FocalPX
	if l.K1 != 0 { // undo the lens by repetition
		du, dv := u, v
		for range 12 {
			k := 1 + l.K1*(u*u+v*v)
			u, v = du/k, dv/k
		}
	}
	return l.look.add(l.right.mul(u)).add(l.down.mul(v)).unit()
}

// room is the studio without the runner.
type room struct {
	look, right Vec
	wall        float64
	lamp        *lamp
	treadmill   []block
	blocks      []block
}

type hit struct {
	distance float64
	p        Vec
	colour   tint
	moving   bool
	belt     bool
}

// furniture stands along the wall of a side view: a low bench with a folded
// towel and a plant.
func (r *room) furniture() []block {
	place := func(u0, u1, v0, v1, w0, w1 float64, c tint) block {
		a := r.right.mul(u0).add(r.look.mul(r.wall - w0)).add(Vec{Y: floorM + v0})
		b := r.right.mul(u1).add(r.look.mul(r.wall - w1)).add(Vec{Y: floorM + v1})
		return block{Vec{min(a.X, b.X), min(a.Y, b.Y), min(a.Z, b.Z)}, Vec{max(a.X, b.X), max(a.Y, b.Y), max(a.Z, b.Z)}, c}
	}
	oak := srgb(168, 128, 88)
	return []block{
		place(.52, 1.55, .40, .45, .02, .42, oak),
		place(.58, .64, 0, .40, .05, .40, oak.mul(.8)),
		place(1.42, 1.48, 0, .40, .05, .40, oak.mul(.8)),
		place(.66, .92, .45, .53, .10, .36, srgb(236, 234, 226)),
	}
}

func (r *room) cast(o, d Vec) hit {
	h := hit{distance: 30, colour: wallWarm.mul(0.3)}
	// What is hit is shaded when all that might stand before it was asked.
	var normal Vec
	var shade func(p Vec) (albedo tint, occlusion float64)
	take := func(t float64, n Vec, look func(p Vec) (albedo tint, occlusion float64)) bool {
		if t <= 1e-6 || t >= h.distance {
			return false
		}
		h.distance, normal, shade = t, n, look
		h.moving, h.belt = false, false
		return true
	}
	// Floor, wall, ceiling and side walls.
	if d.Y < 0 {
		take((floorM-o.Y)/d.Y, Vec{Y: 1}, func(p Vec) (tint, float64) {
			// Darker under and beside the treadmill, and toward the wall.
			gap := math.Hypot(max(0, math.Abs(p.X-.1)-1.15), max(0, math.Abs(p.Z)-.36))
			return r.planks(p), (1 - 0.55*math.Exp(-gap/0.10)) * (1 - 0.25*math.Exp(-(r.wall-p.dot(r.look))/0.25))
		})
	} else if d.Y > 0 {
		take((2.85-o.Y)/d.Y, Vec{Y: -1}, func(Vec) (tint, float64) { return ceiling, 0.9 })
	}
	if c := d.dot(r.look); c > 0 {
		take((r.wall-o.dot(r.look))/c, r.look.mul(-1), func(p Vec) (tint, float64) {
			return r.decor(p), (1 - 0.22*math.Exp(-(p.Y-floorM)/0.20)) * (1 - 0.10*math.Exp(-(2.85-p.Y)/0.3))
		})
	}
	if c := d.dot(r.right); c != 0 {
		side := math.Copysign(3.1, c)
		take((side-o.dot(r.right))/c, r.right.mul(-math.Copysign(1, c)), func(Vec) (tint, float64) { return wallWarm.mul(.92), 0.95 })
	}
	for _, list := range [...][]block{r.treadmill, r.blocks} {
		for i := range list {
			b := &list[i]
			t, n, ok := b.cast(o, d)
			if !ok {
				continue
			}
			look := func(p Vec) (tint, float64) { return b.colour, 0.72 + 0.28*smoothstep(floorM, floorM+0.25, p.Y) }
			if take(t, n, look) && n.Y > 0 && b.hi.Y > -0.1 && b.hi.Y < 0.05 {
				h.moving = math.Abs(o.X+d.X*t) < 2
			}
		}
	}
	// The belt lies on the deck.
	if d.Y < 0 {
		t := -o.Y / d.Y
		p := o.add(d.mul(t))
		if p.X > beltRearM && p.X < beltFrontM && math.Abs(p.Z) < beltHalfM {
			if take(t, Vec{Y: 1}, func(Vec) (tint, float64) { return beltGrey, 0.86 }) {
				h.moving, h.belt = true, true
			}
		}
	}
	if shade != nil {
		h.p = o.add(d.mul(h.distance))
		albedo, occlusion := shade(h.p)
		h.colour = r.lamp.light(albedo, normal, 0, occlusion)
	}
	return h
}

func (b *block) cast(o, d Vec) (t float64, n Vec, ok bool) {
	near, far := 1e-9, math.Inf(1)
	axis := func(o, d, lo, hi float64, dir Vec) bool {
		if d == 0 {
			return o > lo && o < hi
		}
		t0, t1 := (lo-o)/d, (hi-o)/d
		normal := dir.mul(-1)
		if t0 > t1 {
			t0, t1, normal = t1, t0, dir
		}
		if t0 > near {
			near, n = t0, normal
		}
		far = min(far, t1)
		return near < far
	}
	ok = axis(o.X, d.X, b.lo.X, b.hi.X, Vec{X: 1}) && axis(o.Y, d.Y, b.lo.Y, b.hi.Y, Vec{Y: 1}) && axis(o.Z, d.Z, b.lo.Z, b.hi.Z, Vec{Z: 1})
	return near, n, ok && n != Vec{}
}

// planks is the colour of the floor.
func (r *room) planks(p Vec) tint {
	u, v := p.dot(r.right), p.dot(r.look)
	row := math.Floor(v / 0.14)
	shift := hash(row, 3) * 1.2
	board := math.Floor((u + shift) / 1.2)
	c := oakFloor.mul(0.86 + 0.24*hash(row, board))
	grain := 0.5 + 0.5*math.Sin(u*9+40*hash(board, row)+6*math.Sin(v*60))
	c = c.mul(1 - 0.05*grain)
	if math.Mod(math.Abs(v), 0.14) < 0.004 {
		c = c.mul(0.72)
	}
	return c
}

// decor is the colour of the wall: warm above, green below a rail, a skirting,
// and a framed picture of gravel hills.
func (r *room) decor(p Vec) tint {
	u, v := p.dot(r.right), p.Y-floorM
	switch {
	case v < 0.09:
		return skirting
	case v < 0.96:
		return wallGreen
	case v < 0.99:
		return skirting
	}
	c := wallWarm
	cu, cv := 0.62, 1.78
	if r.wall > 2 {
		cu = 0.92
	}
	x, y := u-cu, v-cv
	if math.Abs(x) < 0.30 && math.Abs(y) < 0.38 {
		c = frameWood
		if math.Abs(x) < 0.28 && math.Abs(y) < 0.36 {
			c = mount
			if math.Abs(x) < 0.23 && math.Abs(y) < 0.31 {
				c = hills(x, y)
			}
		}
	}
	return c
}

func hills(x, y float64) tint {
	sky := skyHigh.mix(skyLow, smoothstep(0.25, -0.1, y))
	if math.Hypot(x-0.08, y-0.13) < 0.05 {
		sky = sun
	}
	if y < 0.02+0.05*math.Sin(9*x+1)+0.02*math.Sin(23*x) {
		sky = farHills
	}
	if y < -0.09+0.04*math.Sin(7*x+3) {
		sky = nearHills
	}
	if y < -0.17+0.02*math.Sin(11*x) {
		sky = gravel
	}
	return sky
}

// hash is a number from 0 to 1 that looks random but is fixed for a and b.
func hash(a, b float64) float64 {
	v := math.Sin(a*127.1+b*311.7) * 43758.5453
	return v - math.Floor(v)
}
