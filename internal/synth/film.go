package synth

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
)

// BeltLoopM is the length of the belt of the drawn treadmill once round: its
// seam passes every BeltLoopM / speed seconds (invented).
const BeltLoopM = 3.2

// Look says how a film is drawn. The zero value is a plain film without blur.
type Look struct {
	// Shutter is the part of the frame interval for which the shutter is open, 0
	// (frozen) to 1: the motion blur.
	Shutter float64
	// Dress draws body and clothes at random, the same for the same number; 0 is
	// the runner of the demonstration.
	Dress uint64
}

// moving is a body that can be asked for any instant.
type moving interface {
	At(t float64) Posture
	sag(t float64) [2]float64 // of the unloaded soles' heels, metres
}

// Film is a clip of the runner to be drawn.
type Film struct {
	who    moving
	female bool
	lastS  float64 // until when there is something to draw
	belt   float64 // speed, m/s
	cam    Camera
	timeS  []float64
	look   Look
	outfit *outfit
	studio *studio
	props  []block // beside what the studio has
}

// drawScale is how many times finer than the picture the drawing is, each way.
const drawScale = 2

// NewFilm prepares a film of the runner by the camera at the given frame times
// (s, increasing, within the runner's duration).
func NewFilm(r *Runner, cam Camera, timeS []float64, look Look) (*Film, error) {
	return (&Film{who: r, female: r.p.Female, lastS: r.p.DurationS, belt: r.p.SpeedMPS}).taken(cam, timeS, look)
}

// NewSquatFilm prepares a film of squats as [NewFilm] does of a runner; the belt
// stands.
func NewSquatFilm(s *Squat, cam Camera, timeS []float64, look Look) (*Film, error) {
	return (&Film{who: s, female: s.p.Female, lastS: s.DurationS(), props: s.step()}).taken(cam, timeS, look)
}

func (f *Film) taken(cam Camera, timeS []float64, look Look) (*Film, error) {
	if err := cam.Check(); err != nil {
		return nil, err
	}
	if !(look.Shutter >= 0 && look.Shutter <= 1) {
		return nil, fmt.Errorf("shutter is %g: give the share of the frame interval, 0 to 1", look.Shutter)
	}
	for i, t := range timeS {
		if !(t >= 0 && t <= f.lastS) {
			return nil, fmt.Errorf("frame %d is at %g s, outside the runner's %g s", i, t, f.lastS)
		}
	}
	f.cam, f.timeS, f.look, f.outfit, f.studio = cam, timeS, look, dressed(look.Dress), newStudio(cam, drawScale, f.props...)
	return f, nil
}

// Size returns the picture's width and height in pixels, and Frames the number
// of frames.
func (f *Film) Size() (widthPX, heightPX int) { return f.cam.WidthPX, f.cam.HeightPX }

// Frames returns the number of frames.
func (f *Film) Frames() int { return len(f.timeS) }

// Render draws the frames on all processors and hands them over in order, as
// width × height × 3 bytes, red, green, blue from the top left. The picture
// belongs to the caller only until yield returns. It stops at the first error of
// yield or when ctx ends.
func (f *Film) Render(ctx context.Context, yield func(frame int, timeS float64, rgb []byte) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	workers := min(runtime.GOMAXPROCS(0), len(f.timeS))
	type job struct {
		frame int
		done  chan []byte
	}
	jobs := make(chan job)
	ordered := make(chan job, workers+1)
	free := make(chan []byte, 2*workers+2)
	for range cap(free) {
		free <- make([]byte, 3*f.cam.WidthPX*f.cam.HeightPX)
	}
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			p := f.newPainter()
			for j := range jobs {
				select {
				case rgb := <-free:
					p.frame(j.frame, rgb)
					j.done <- rgb
				case <-ctx.Done():
					return
				}
			}
		})
	}
	wg.Go(func() {
		defer close(jobs)
		defer close(ordered)
		for i := range f.timeS {
			j := job{i, make(chan []byte, 1)}
			select {
			case ordered <- j:
			case <-ctx.Done():
				return
			}
			select {
			case jobs <- j:
			case <-ctx.Done():
				return
			}
		}
	})
	var err error
	for j := range ordered {
		select {
		case rgb := <-j.done:
			err = yield(j.frame, f.timeS[j.frame], rgb)
			free <- rgb
		case <-ctx.Done():
			err = ctx.Err()
		}
		if err != nil {
			cancel()
			break
		}
	}
	cancel()
	wg.Wait()
	return err
}

// painter draws frames one after another with buffers of its own.
type painter struct {
	*Film
	canvas  *canvas
	dirty   box    // of the canvas, from the frame before
	still   []byte // the still scene as shown
	shadow  *shadowMap
	floor   *floorShadow
	corners []corner
	sum     []uint16
	eye     lens
}

func (f *Film) newPainter() *painter {
	s := f.studio
	p := &painter{Film: f, canvas: newCanvas(s.picture.w, s.picture.h), shadow: newShadowMap(s.lamp.to), floor: newFloorShadow(s.lamp.to), eye: f.cam.lens()}
	copy(p.canvas.pix, s.picture.pix)
	copy(p.canvas.depth, s.picture.depth)
	p.still = make([]byte, 3*f.cam.WidthPX*f.cam.HeightPX)
	whole := box{0, 0, f.cam.WidthPX, f.cam.HeightPX}
	p.shrink(p.still, whole)
	return p
}

// Shots a frame with an open shutter.
const blurShots = 4

func (p *painter) frame(i int, rgb []byte) {
	copy(rgb, p.still)
	if p.look.Shutter == 0 {
		touched := p.paint(p.timeS[i])
		p.shrink(rgb, touched)
		return
	}
	interval := 1.0 / 30
	if len(p.timeS) > 1 {
		j := max(1, i)
		interval = p.timeS[j] - p.timeS[j-1]
	}
	if p.sum == nil {
		p.sum = make([]uint16, len(rgb))
	}
	clear(p.sum)
	var all box
	shot := make([]byte, len(rgb))
	for k := range blurShots {
		t := p.timeS[i] + p.look.Shutter*interval*((float64(k)+0.5)/blurShots-0.5)
		touched := p.paint(max(0, min(p.lastS, t)))
		copy(shot, p.still)
		p.shrink(shot, touched)
		all = all.join(touched)
		for n, v := range shot {
			p.sum[n] += uint16(v)
		}
	}
	for n, v := range p.sum {
		rgb[n] = byte((v + blurShots/2) / blurShots)
	}
}

// paint draws the scene at time t and returns which pixels of the picture
// differ from the still scene.
func (p *painter) paint(t float64) box {
	s := p.studio
	for y := p.dirty.y0; y < p.dirty.y1; y++ {
		a, b := y*p.canvas.w+p.dirty.x0, y*p.canvas.w+p.dirty.x1
		copy(p.canvas.pix[a:b], s.picture.pix[a:b])
		copy(p.canvas.depth[a:b], s.picture.depth[a:b])
	}
	pose := p.who.At(t)
	m := p.outfit.body(&pose, p.who.sag(t), p.female)
	p.shadow.fill(m, pose.mid)
	p.floor.fill(m)
	p.paintBelt(t)
	var touched box
	p.corners, touched = p.canvas.draw(m, &p.eye, drawScale, &s.lamp, p.shadow, p.corners)
	p.dirty = touched.join(s.bounds)
	d := p.dirty
	return box{max(0, d.x0/drawScale), max(0, d.y0/drawScale), min(p.cam.WidthPX, d.x1/drawScale+1), min(p.cam.HeightPX, d.y1/drawScale+1)}
}

// paintBelt paints what moves or lies in shadow on the treadmill.
func (p *painter) paintBelt(t float64) {
	travel := p.belt * t
	for i := range p.studio.moving {
		g := &p.studio.moving[i]
		mark := 0.0
		if g.belt {
			mark = beltMarking(float64(g.x)+travel, float64(g.z), float64(g.width))
		}
		shadow := p.floor.at(float64(g.x), float64(g.z))
		if mark == 0 && shadow == 0 {
			continue // as in the still scene
		}
		c := g.still.mix(beltMark.mul(0.8), mark).mul(1 - 0.62*shadow)
		p.canvas.pix[g.at] = pack(shown(c.r), shown(c.g), shown(c.b))
	}
}

// beltMarking is how much of a mark shows at a place of the belt: a broad slanted
// seam once round, and short ticks along both edges. width softens the edges.
func beltMarking(along, z, width float64) float64 {
	soft := max(width, 0.003)
	band := func(d, half float64) float64 { return max(0, min(1, (half-math.Abs(d))/soft+0.5)) }
	seam := around(along-0.5*z, BeltLoopM)
	if seam > BeltLoopM/2 {
		seam -= BeltLoopM
	}
	mark := 0.9 * band(seam, 0.022)
	const every = 0.4
	if math.Abs(z) > 0.17 {
		mark = max(mark, 0.6*band(around(along, every)-every/2, 0.012))
	}
	return mark
}

// around is how far x is into its turn of that length, 0 to length.
func around(x, length float64) float64 { return x - length*math.Floor(x/length) }

// shrink averages the canvas down to the picture.
func (p *painter) shrink(rgb []byte, b box) {
	w := p.cam.WidthPX
	for y := b.y0; y < b.y1; y++ {
		r0 := p.canvas.pix[2*y*p.canvas.w:]
		r1 := p.canvas.pix[(2*y+1)*p.canvas.w:]
		out := rgb[3*(y*w+b.x0):]
		for x := b.x0; x < b.x1; x++ {
			a, c, d, e := r0[2*x], r0[2*x+1], r1[2*x], r1[2*x+1]
			// Red and blue side by side in one sum, green in another.
			rb := a&0xff00ff + c&0xff00ff + d&0xff00ff + e&0xff00ff + 0x020002
			g := a&0xff00 + c&0xff00 + d&0xff00 + e&0xff00 + 0x0200
			out[0], out[1], out[2] = byte(rb>>18), byte(g>>10), byte(rb>>2)
			out = out[3:]
		}
	}
}

// sag is how far the heel of each shoe's unloaded sole hangs below its loaded
// height: in full from toe-off to contact, then what has not yet yielded, and
// again as the heel rises.
func (r *Runner) sag(t float64) (out [2]float64) {
	for i := range out {
		g := &r.footings[r.fallOf(i, t)]
		out[i] = g.give.Y
		if t < g.fall.toeOffS {
			_, left := g.yielding(t)
			pose := g.pose(t)
			out[i] = min(g.give.Y, max(left.v, pose.point(g.shoe.edge, 0, 0).Y))
		}
	}
	return out
}

// floorShadow is the shadow of the runner on the plane of the belt.
type floorShadow struct {
	to     Vec
	layers [3][]float32 // low, middle and high parts of the body
	all    []float32
	tmp    []float32
}

const (
	shadowW    = 380
	shadowH    = 240
	shadowCell = 0.0065
)

func newFloorShadow(to Vec) *floorShadow {
	s := &floorShadow{to: to, all: make([]float32, shadowW*shadowH), tmp: make([]float32, shadowW*shadowH)}
	for i := range s.layers {
		s.layers[i] = make([]float32, shadowW*shadowH)
	}
	return s
}

// The light is spread wide, so that high parts throw a faint, soft shadow.
var shadowLayers = [3]struct {
	below  float64
	radius int
	weight float32
}{{0.10, 3, 0.85}, {0.45, 9, 0.40}, {3, 20, 0.30}}

func (s *floorShadow) fill(m *mesh) {
	for i := range s.layers {
		clear(s.layers[i])
	}
	flat := Vec{s.to.X * 0.35, s.to.Y, s.to.Z * 0.35} // mostly from above
	for _, t := range m.tri {
		var x, y [3]float64
		high := 0.0
		for i, k := range t {
			p := m.pos[k]
			h := max(0, p.Y)
			x[i] = (p.X-flat.X/flat.Y*h)/shadowCell + shadowW/2
			y[i] = (p.Z-flat.Z/flat.Y*h)/shadowCell + shadowH/2
			high = max(high, p.Y)
		}
		layer := 0
		for high > shadowLayers[layer].below {
			layer++
		}
		fillTriangle(x, y, shadowW, shadowH, func(at int, _, _ float64) { s.layers[layer][at] = 1 })
	}
	clear(s.all)
	for i, l := range s.layers {
		for range 2 {
			blur(l, s.tmp, shadowLayers[i].radius)
		}
		w := shadowLayers[i].weight
		for k, v := range l {
			s.all[k] = 1 - (1-s.all[k])*(1-w*v)
		}
	}
}

// blur averages over a square of side 2 radius + 1.
func blur(v, tmp []float32, radius int) {
	n := float32(2*radius + 1)
	run := func(dst, src []float32, count, stride, length, step int) {
		for c := range count {
			base := c * stride
			var sum float32
			for i := -radius; i < length+radius; i++ {
				if j := i + radius; j < length {
					sum += src[base+j*step]
				}
				if j := i - radius - 1; j >= 0 {
					sum -= src[base+j*step]
				}
				if i >= 0 && i < length {
					dst[base+i*step] = sum / n
				}
			}
		}
	}
	run(tmp, v, shadowH, shadowW, shadowW, 1)
	run(v, tmp, shadowW, 1, shadowH, shadowW)
}

func (s *floorShadow) at(x, z float64) float64 {
	i, j := int(x/shadowCell+shadowW/2), int(z/shadowCell+shadowH/2)
	if i < 0 || j < 0 || i >= shadowW || j >= shadowH {
		return 0
	}
	return float64(s.all[j*shadowW+i])
}

// inParallel runs fn for 0 to n-1 on all processors.
func inParallel(n int, fn func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for i := w; i < n; i += workers {
				fn(i)
			}
		})
	}
	wg.Wait()
}
