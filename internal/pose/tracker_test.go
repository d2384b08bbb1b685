package pose

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"gaitwright/gait/body"
)

// An actor is a person of a made-up scene: where its middle is at a time, in
// fractions of the picture's width, or NaN while away; the height of its region
// in pixels; and its shirt.
type actor struct {
	x     func(t float64) float64
	side  float64
	shirt [3]byte
}

func stays(x float64) func(float64) float64 { return func(float64) float64 { return x } }

func during(from, to float64, x func(float64) float64) func(float64) float64 {
	return func(t float64) float64 {
		if t < from || t >= to {
			return math.NaN()
		}
		return x(t)
	}
}

// A scene stands in for the networks. Later actors stand in front of earlier
// ones and hide those within a quarter of their region's side.
type scene struct {
	actors              []actor
	detects, landmarkNo int
}

const sceneW, sceneH, sceneHz = 640, 360, 60.0

func (s *scene) frame(i int) Frame {
	f := Frame{Index: i, TimeS: float64(i) / sceneHz, Width: sceneW, Height: sceneH, RGB: make([]byte, 3*sceneW*sceneH)}
	for _, a := range s.visible(f.TimeS) {
		x := int(a.x(f.TimeS) * sceneW)
		for y := sceneH/2 - int(a.side/4); y < sceneH/2; y++ {
			for dx := -int(a.side / 12); dx < int(a.side/12); dx++ {
				if x+dx >= 0 && x+dx < sceneW {
					copy(f.RGB[3*(y*sceneW+x+dx):], a.shirt[:])
				}
			}
		}
	}
	return f
}

func (s *scene) visible(t float64) (out []actor) {
	for i, a := range s.actors {
		x := a.x(t)
		hidden := math.IsNaN(x)
		for _, b := range s.actors[i+1:] {
			hidden = hidden || math.Abs(b.x(t)-x)*sceneW < b.side/4
		}
		if !hidden {
			out = append(out, a)
		}
	}
	return out
}

func (a actor) region(t float64) Region {
	return Region{X: a.x(t) * sceneW, Y: sceneH / 2, SidePX: a.side}
}

func (s *scene) Detect(f Frame) ([]Detection, error) {
	s.detects++
	var out []Detection
	for _, a := range s.visible(f.TimeS) {
		out = append(out, Detection{Score: 0.9, Region: a.region(f.TimeS)})
	}
	return out, nil
}

// Landmarks finds whoever stands nearest the region's middle.
func (s *scene) Landmarks(f Frame, r Region) (Pose, error) {
	s.landmarkNo++
	p := nobody()
	p.Found, p.Region, p.next = true, r, r
	near := r.SidePX * 0.3
	for _, a := range s.visible(f.TimeS) {
		q := a.region(f.TimeS)
		d := math.Hypot(q.X-r.X, q.Y-r.Y)
		if d >= near {
			continue
		}
		near = d
		p.Score, p.next = 0.95, q
		for l := range body.NumPose {
			p.X[l], p.Y[l] = q.X, q.Y
		}
		p.Y[body.LeftShoulder], p.Y[body.RightShoulder] = q.Y-q.SidePX/4, q.Y-q.SidePX/4
	}
	return p, nil
}

// play follows the scene for some seconds.
func (s *scene) play(t *testing.T, seconds float64, point *Point) *Tracker {
	t.Helper()
	tr := newTracker(s, point)
	for i := range int(seconds * sceneHz) {
		if _, err := tr.Next(s.frame(i)); err != nil {
			t.Fatal(err)
		}
	}
	return tr
}

// right returns the share of the frames between two times in which the person
// was seen where the actor was, and the number in which it was seen elsewhere.
func right(p *Person, a actor, from, to float64) (share float64, wrong int) {
	n := 0
	for i := int(from * sceneHz); i < int(to*sceneHz); i++ {
		n++
		q := p.At(i)
		switch {
		case !q.Found:
		case math.Abs(q.X[body.LeftHip]-a.x(float64(i)/sceneHz)*sceneW) < 1:
			share++
		default:
			wrong++
		}
	}
	return share / float64(n), wrong
}

var (
	red   = [3]byte{200, 40, 30}
	blue  = [3]byte{30, 50, 190}
	black = [3]byte{15, 15, 15}
)

func TestOnePersonCostsOneRunAFrame(t *testing.T) {
	s := &scene{actors: []actor{{stays(0.5), 300, red}}}
	tr := s.play(t, 5, nil)
	p, notes := tr.Runner()
	if p == nil || p.Seen() != 300 || len(notes) != 0 {
		t.Fatalf("runner %+v, notes %q", p, notes)
	}
	if s.landmarkNo > 301 || s.detects > 6 {
		t.Errorf("%d landmark runs and %d of the detector for 300 frames, want one a frame and one a second", s.landmarkNo, s.detects)
	}
}

func TestBystanderIsLetGo(t *testing.T) {
	runner := actor{stays(0.45), 300, red}
	s := &scene{actors: []actor{{stays(0.9), 320, blue}, runner}}
	tr := s.play(t, 10, nil)
	p, notes := tr.Runner()
	if share, wrong := right(p, runner, 0, 10); share < 1 || wrong > 0 {
		t.Errorf("right in %.2f of the frames, wrong in %d", share, wrong)
	}
	if len(tr.People()) != 2 || len(notes) != 1 || !strings.Contains(notes[0], "on the right") {
		t.Errorf("%d people, notes %q", len(tr.People()), notes)
	}
	if s.landmarkNo > 600+150 {
		t.Errorf("%d landmark runs for 600 frames: the bystander was not let go", s.landmarkNo)
	}
}

func TestRunnerComesLater(t *testing.T) {
	runner := actor{during(4, 20, stays(0.5)), 300, red}
	s := &scene{actors: []actor{{stays(0.85), 300, blue}, runner}}
	tr := s.play(t, 20, nil)
	p, _ := tr.Runner()
	if share, wrong := right(p, runner, 5.1, 20); share < 1 || wrong > 0 {
		t.Errorf("right in %.2f of the frames, wrong in %d", share, wrong)
	}
}

func TestSomebodyWalksPast(t *testing.T) {
	for name, shirt := range map[string][3]byte{"blue": blue, "black": black} {
		t.Run(name, func(t *testing.T) {
			runner := actor{func(t float64) float64 { return 0.5 + 0.01*math.Sin(3*t) }, 300, red}
			walker := actor{during(3, 7, func(t float64) float64 { return -0.1 + 1.2*(t-3)/4 }), 280, shirt}
			s := &scene{actors: []actor{runner, walker}}
			tr := s.play(t, 10, nil)
			p, _ := tr.Runner()
			// The walker hides the runner in 7 of 100 frames; half a second more
			// may be lost at the edges.
			if share, wrong := right(p, runner, 0, 10); share < 0.88 || wrong > 0 {
				t.Errorf("right in %.2f of the frames, wrong in %d", share, wrong)
			}
			if share, wrong := right(p, runner, 7, 10); share < 1 || wrong > 0 {
				t.Errorf("afterwards right in %.2f of the frames, wrong in %d", share, wrong)
			}
		})
	}
}

func TestLostAndFoundIsTheSame(t *testing.T) {
	runner := actor{func(t float64) float64 {
		if t > 3 && t < 4.5 {
			return math.NaN()
		}
		return 0.5
	}, 300, red}
	s := &scene{actors: []actor{runner}}
	tr := s.play(t, 8, nil)
	p, _ := tr.Runner()
	if n := len(tr.People()); n != 1 {
		t.Errorf("%d people, want 1", n)
	}
	if q := p.At(220); q.Found || !math.IsNaN(q.X[0]) {
		t.Error("seen while away")
	}
	if share, wrong := right(p, runner, 4.6, 8); share < 1 || wrong > 0 {
		t.Errorf("afterwards right in %.2f of the frames, wrong in %d", share, wrong)
	}
	path := Assemble(tr.TimesS(), p)
	if err := path.Validate(); err != nil || path.Frames() != 480 {
		t.Errorf("%d frames, %v", path.Frames(), err)
	}
}

func TestPointing(t *testing.T) {
	other := actor{stays(0.85), 300, blue}
	s := &scene{actors: []actor{{stays(0.5), 300, red}, other}}
	tr := s.play(t, 6, &Point{TimeS: 4, X: 0.85 * sceneW, Y: 150})
	p, _ := tr.Runner()
	if share, wrong := right(p, other, 0, 6); share < 1 || wrong > 0 {
		t.Errorf("right in %.2f of the frames, wrong in %d", share, wrong)
	}
	tr = s.play(t, 2, &Point{TimeS: 1, X: 0.1 * sceneW, Y: 20})
	p, notes := tr.Runner()
	if share, _ := right(p, s.actors[0], 0, 2); share < 1 || len(notes) == 0 || !strings.Contains(notes[0], "nobody was found at the place pointed to") {
		t.Errorf("pointing at nobody: right in %.2f of the frames, notes %q", share, notes)
	}
}

func TestTrackerRefuses(t *testing.T) {
	s := &scene{actors: []actor{{stays(0.5), 300, red}}}
	good := s.frame(0)
	for name, spoil := range map[string]func(*Frame){
		"short buffer":   func(f *Frame) { f.RGB = f.RGB[:100] },
		"no size":        func(f *Frame) { f.Width = 0 },
		"another size":   func(f *Frame) { f.Height /= 2; f.RGB = f.RGB[:len(f.RGB)/2] },
		"time not later": func(f *Frame) { f.TimeS = 0 },
		"time NaN":       func(f *Frame) { f.TimeS = math.NaN() },
	} {
		tr := newTracker(s, nil)
		if _, err := tr.Next(good); err != nil {
			t.Fatal(err)
		}
		bad := s.frame(1)
		spoil(&bad)
		if _, err := tr.Next(bad); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestRunStops(t *testing.T) {
	s := &scene{actors: []actor{{stays(0.5), 300, red}}}
	released := 0
	frames := make(chan Frame, 3)
	for i := range 3 {
		f := s.frame(i)
		f.Release = func() { released++ }
		frames <- f
	}
	close(frames)
	done := 0
	if err := newTracker(s, nil).Run(context.Background(), frames, func(n int, p Pose) {
		if done++; n != done || !p.Found {
			t.Errorf("progress %d after %d frames, found %v", n, done, p.Found)
		}
	}); err != nil || done != 3 || released != 3 {
		t.Errorf("%v; %d frames reported, %d released", err, done, released)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := newTracker(s, nil).Run(ctx, make(chan Frame), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
