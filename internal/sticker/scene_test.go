package sticker

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
)

// scene renders a sticker on a limb that swings before a wall, with exact truth.
// All of it is invented. Pixels are area sampled: the mark with 6 × 6 rays a
// pixel, or with 3 × 3 at each of ten instants of the exposure.
type scene struct {
	w, h, frames int
	rateHz       float64 // frames a second
	diameter     float64 // of the mark, pixels at scale 1
	mark         func(u, v float64) (grey, cover float64)
	limb         float64 // mean grey of the limb
	cloth        float64 // how strong the limb's texture is, grey
	swing        float64 // half the width of the path, pixels
	shutter      float64 // share of the frame time that the shutter is open
	noise        float64 // standard deviation of the sensor's noise, grey
	still        bool    // the limb does not move
	shiftX       float64 // of everything, pixels
	shiftY       float64
	gain         float64 // 0 means 1
	offset       float64
	// hidden tells how much of the mark an arm covers in a frame, from 0 to 1.
	hidden func(frame int) float64
	seed   uint64
}

const strideHz = 1.4

// place is where the mark is at a time: a loop like that of an ankle seen from
// the side, and how the mark is turned, sized and lit.
func (s *scene) place(t float64) (x, y, angle, size, light float64) {
	x, y = s.shiftX+float64(s.w)/2+0.37, s.shiftY+float64(s.h)/2+0.21
	size, light = 1, 1
	if s.still {
		return x, y, 0, size, light
	}
	p := 2 * math.Pi * strideHz * t
	x += s.swing * (math.Cos(p) + 0.12*math.Cos(2*p+0.4))
	y += 0.45 * s.swing * (math.Sin(p+0.3) + 0.25*math.Sin(2*p) + 0.06*math.Sin(3*p+1))
	angle = 0.6 * math.Sin(p+0.8)
	size = 1 + 0.10*math.Sin(p+2) + 0.04*math.Sin(0.3*p)
	light = 1 + 0.12*math.Sin(p+1) + 0.08*math.Sin(0.21*p)
	return x, y, angle, size, light
}

// truth is where the mark's middle is in a frame, the mean over the exposure.
func (s *scene) truth(frame int) (x, y float64) {
	const n = 16
	for k := range n {
		px, py, _, _, _ := s.place(s.instant(frame, (float64(k)+0.5)/n))
		x += px / n
		y += py / n
	}
	return x, y
}

func (s *scene) instant(frame int, share float64) float64 {
	return (float64(frame) + s.shutter*(share-0.5)) / s.rateHz
}

func disc(grey float64) func(u, v float64) (float64, float64) {
	return func(u, v float64) (float64, float64) {
		if u*u+v*v < 1 {
			return grey, 1
		}
		return 0, 0
	}
}

func bullseye(u, v float64) (float64, float64) {
	switch r := u*u + v*v; {
	case r < 0.36*0.36:
		return 225, 1
	case r < 0.68*0.68:
		return 30, 1
	case r < 1:
		return 225, 1
	}
	return 0, 0
}

// blotch is a mark without a name: an irregular print.
func blotch(u, v float64) (float64, float64) {
	if math.Abs(u) > 1.5 || math.Abs(v) > 1.5 {
		return 0, 0
	}
	g := math.Sin(3.1*u+1.1*v+0.5) + math.Sin(1.3*u-3.7*v+1.9) + 0.8*math.Sin(4.9*u+2.2*v)
	return 110 + 38*g, 1
}

// weave is a smooth noise of mean 0 and size about 1, a table read bilinearly.
type weave struct {
	n int
	v []float64
}

func newWeave(seed uint64) weave {
	const n = 64
	r := rand.New(rand.NewPCG(seed, 5))
	w := weave{n: n, v: make([]float64, n*n)}
	for i := range w.v {
		w.v[i] = r.NormFloat64()
	}
	return w
}

func (w weave) at(x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	fx, fy = x-fx, y-fy
	g := func(i, j int) float64 { return w.v[(j&(w.n-1))*w.n+i&(w.n-1)] }
	return (g(i, j)*(1-fx)+g(i+1, j)*fx)*(1-fy) + (g(i, j+1)*(1-fx)+g(i+1, j+1)*fx)*fy
}

// grey is what is seen at a place at one instant.
func (s *scene) grey(w weave, x, y float64, pose [6]float64, arm float64) float64 {
	px, py, sin, cos, size, light := pose[0], pose[1], pose[2], pose[3], pose[4], pose[5]
	dx, dy := x-px, y-py
	u, v := (cos*dx+sin*dy)/size, (-sin*dx+cos*dy)/size
	r := s.diameter / 2
	if x < px+size*r*arm { // an arm that comes in from the left
		return 168 + 4*w.at(x*0.4-7*px, y*0.4)
	}
	if m, c := s.mark(u/r, v/r); c > 0 {
		return light * m
	}
	if half := 2.6 * r; math.Abs(u) < half {
		return light * (s.limb*(1-0.25*(u/half)*(u/half)) + s.cloth*w.at(u*0.35+11, v*0.35))
	}
	return wall(w, x, y)
}

func wall(w weave, x, y float64) float64 {
	return 92 + 14*w.at(x*0.07, y*0.07) + 5*w.at(x*0.9, y*0.9)
}

// walls holds walls that were drawn, by size and seed.
var walls sync.Map

// wallOf is the wall at the middles of pixels.
func (s *scene) wallOf(w weave) []float64 {
	key := [3]uint64{uint64(s.w), uint64(s.h), s.seed}
	if v, ok := walls.Load(key); ok {
		return v.([]float64)
	}
	out := make([]float64, s.w*s.h)
	for j := range s.h {
		for i := range s.w {
			out[j*s.w+i] = wall(w, float64(i)+0.5, float64(j)+0.5)
		}
	}
	walls.Store(key, out)
	return out
}

// cut is where a straight edge cuts a unit disc so that share of it lies before
// the edge.
func cut(share float64) float64 {
	if share >= 1 {
		return 3
	}
	lo, hi := -1.0, 1.0
	for range 40 {
		x := (lo + hi) / 2
		if (math.Acos(-x)+x*math.Sqrt(1-x*x))/math.Pi < share {
			lo = x
		} else {
			hi = x
		}
	}
	return lo
}

func (s *scene) render(frame int) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, s.w, s.h))
	w := newWeave(s.seed + 1)
	gain := s.gain
	if gain == 0 {
		gain = 1
	}
	arm := math.Inf(-1)
	if s.hidden != nil {
		if c := s.hidden(frame); c > 0 {
			arm = cut(c)
		}
	}
	instants := 1
	if s.shutter > 0 {
		instants = 10
	}
	poses := make([][6]float64, instants)
	for k := range poses {
		x, y, a, z, l := s.place(s.instant(frame, (float64(k)+0.5)/float64(instants)))
		sin, cos := math.Sincos(a)
		poses[k] = [6]float64{x, y, sin, cos, z, l}
	}
	tx, ty := s.truth(frame)
	r := rand.New(rand.NewPCG(s.seed, uint64(frame)))
	near := 0.9*s.diameter + 4 + s.shutter*40
	limb := 2.6*1.5*s.diameter/2*1.2 + s.shutter*20
	back := s.wallOf(w)
	for j := range s.h {
		for i := range s.w {
			rays, step := 1, 1
			if math.Abs(float64(i)-tx) > limb+near || math.Abs(float64(j)-ty) > limb+near {
				if x := float64(i) + 0.5; math.IsInf(arm, -1) || x >= tx+1.2*s.diameter/2*arm {
					v := gain*back[j*s.w+i] + s.offset
					if s.noise > 0 {
						v += s.noise * r.NormFloat64()
					}
					g.Pix[j*g.Stride+i] = uint8(max(0, min(255, math.Round(v))))
					continue
				}
			}
			if math.Abs(float64(i)-tx) < near && math.Abs(float64(j)-ty) < near {
				rays = 6
				if instants > 1 {
					rays = 3
				}
			} else {
				step = instants // one instant does for the surroundings
			}
			sum, n := 0.0, 0
			for k := 0; k < instants; k += step {
				p := poses[k]
				if step > 1 {
					p = poses[instants/2]
				}
				for b := range rays {
					for a := range rays {
						x := float64(i) + (float64(a)+0.5)/float64(rays)
						y := float64(j) + (float64(b)+0.5)/float64(rays)
						sum += s.grey(w, x, y, p, arm)
						n++
					}
				}
			}
			v := gain*sum/float64(n) + s.offset
			if s.noise > 0 {
				v += s.noise * r.NormFloat64()
			}
			g.Pix[j*g.Stride+i] = uint8(max(0, min(255, math.Round(v))))
		}
	}
	return g
}

// reel is a clip in memory.
type reel []*image.Gray

func (r reel) Len() int { return len(r) }
func (r reel) Grey(_ context.Context, i int) (*image.Gray, error) {
	if i < 0 || i >= len(r) {
		return nil, errors.New("no such frame")
	}
	return r[i], nil
}

func (s *scene) reel() reel {
	out := make(reel, s.frames)
	done := make(chan bool)
	for c := range 2 {
		go func() {
			for i := c; i < s.frames; i += 2 {
				out[i] = s.render(i)
			}
			done <- true
		}()
	}
	<-done
	<-done
	return out
}

// common is a clip like the part about a foot of one filmed at 1080p and 120
// frames a second: at most 17 pixels a frame, a mark of 14 pixels.
func common(mark func(u, v float64) (float64, float64), limb float64) scene {
	return scene{w: 330, h: 210, frames: 150, rateHz: 120, diameter: 14, mark: mark, limb: limb, cloth: 7, swing: 115, noise: 1, seed: 3}
}

// clickOn clicks a little beside the mark's middle, as a hand does.
func (s *scene) clickOn(frame int, dx, dy float64) Click {
	x, y := s.truth(frame)
	return Click{Frame: frame, XPX: x + dx, YPX: y + dy}
}

// score is how a path compares with the truth.
type score struct {
	biasX, biasY, sdX, sdY, worst float64
	seen                          float64 // share of the frames where the mark is in sight
	invented                      int     // samples where it was wholly hidden
	stated                        float64 // root mean square of error over stated error
	within                        float64 // share of the axes within 1.96 of the stated error
	quality                       float64 // mean
	n                             int
}

func (s *scene) score(p Path) score {
	var c score
	var ex, ey []float64
	sight := 0
	for i, q := range p.Samples {
		cover := 0.0
		if s.hidden != nil {
			cover = s.hidden(i)
		}
		if cover < 0.45 {
			sight++
		}
		if !q.Seen() {
			continue
		}
		if cover > 0.9 {
			c.invented++
			continue
		}
		x, y := s.truth(i)
		dx, dy := q.XPX-x, q.YPX-y
		ex, ey = append(ex, dx), append(ey, dy)
		c.worst = max(c.worst, math.Hypot(dx, dy))
		for _, z := range [...]float64{dx / q.SDXPX, dy / q.SDYPX} {
			if math.Abs(z) <= 1.96 {
				c.within++
			}
		}
		c.stated += dx*dx/q.SDXPX/q.SDXPX + dy*dy/q.SDYPX/q.SDYPX
		c.quality += q.Quality
		if cover < 0.45 {
			c.seen++
		}
	}
	c.n = len(ex)
	c.biasX, c.sdX = meanSD(ex)
	c.biasY, c.sdY = meanSD(ey)
	c.seen /= float64(max(1, sight))
	c.stated = math.Sqrt(c.stated / float64(2*max(1, c.n)))
	c.within /= float64(2 * max(1, c.n))
	c.quality /= float64(max(1, c.n))
	return c
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v))
	}
	return mean, math.Sqrt(sd)
}

func follow(t testing.TB, f Frames, points ...Point) []Path {
	t.Helper()
	for _, p := range points {
		if err := Glance(t.Context(), SourceOf(f), p); err != nil {
			t.Errorf("told at the click of a sticker: %v", err)
		}
	}
	p, err := Follow(t.Context(), SourceOf(f), points, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}
