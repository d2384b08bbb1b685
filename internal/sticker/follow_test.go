package sticker

import (
	"context"
	"errors"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// footage is a clean clip of each kind, rendered once.
var footage = sync.OnceValues(func() (scene, reel) {
	s := common(disc(225), 70)
	s.frames = 60
	return s, s.reel()
})

func near(t *testing.T, s *scene, p Path, limit, seen float64) {
	t.Helper()
	c := s.score(p)
	if !(c.worst < limit) || c.seen < seen {
		t.Errorf("%s: worst error %.2f px (bar %.2f), %.0f %% seen", p.Name, c.worst, limit, 100*c.seen)
	}
}

// same tells whether two paths are the same to the last bit.
func same(a, b Path) bool {
	for i := range a.Samples {
		x, y := a.Samples[i], b.Samples[i]
		if x.State != y.State || x.Seen() && x != y {
			return false
		}
	}
	return len(a.Samples) == len(b.Samples)
}

// Points that do not meet are followed in company as they are alone.
func TestSeveralPointsInOnePass(t *testing.T) {
	d := fewDiscs()
	points := d.points()[:4]
	together := follow(t, d.reel, points...)
	for i, p := range points {
		if alone := follow(t, d.reel, p)[0]; !same(alone, together[i]) || together[i].Name != p.Name {
			t.Errorf("%s is followed otherwise in company", p.Name)
		}
		for k, s := range together[i].Samples {
			if !s.Seen() || math.Hypot(s.XPX-d.x[i][k], s.YPX-d.y[i][k]) > 0.2 {
				t.Errorf("%s, frame %d: %+v", p.Name, k, s)
			}
		}
	}
}

// Little memory means short windows and crops; the path is the same.
func TestMemoryDoesNotChangeThePath(t *testing.T) {
	s, r := footage()
	p := Point{Name: "a", Clicks: []Click{s.clickOn(55, 0, 0)}}
	want := follow(t, r, p)[0]
	for _, memory := range []int{1, 200 << 10, 1 << 20} {
		done := 0
		got, err := Follow(t.Context(), SourceOf(r), []Point{p}, Options{MemoryBytes: memory, Progress: func(d, total int) {
			if d != done+1 || d > total {
				t.Errorf("progress went from %d to %d of %d", done, d, total)
			}
			done = d
		}})
		if err != nil {
			t.Fatal(err)
		}
		if !same(want, got[0]) {
			t.Errorf("with %d bytes the path is another", memory)
		}
		if done != len(r) {
			t.Errorf("%d of %d frames were told", done, len(r))
		}
	}
}

// A pushed tracker gives what Follow gives in the same direction.
func TestPushedForwards(t *testing.T) {
	s, r := footage()
	p := Point{Name: "a", Clicks: []Click{s.clickOn(5, 0, 0)}}
	tr, err := NewTracker([]Point{p}, len(r), Forwards)
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range r {
		if i == 20 {
			continue // one that could not be decoded
		}
		if err := tr.Push(i, g); err != nil {
			t.Fatal(err)
		}
	}
	got := tr.Paths()[0]
	for i, q := range got.Samples {
		if q.Seen() != (i >= 5 && i != 20) {
			t.Errorf("frame %d: %v", i, q.State)
		}
	}
	near(t, &s, got, 0.2, 0.9)
	if err := tr.Push(30, r[30]); err == nil || !strings.Contains(err.Error(), "in order") {
		t.Errorf("a frame out of order: %v", err)
	}
}

// After a correction onto a second sticker both passes go through it.
func TestCorrectionsAreHonoured(t *testing.T) {
	s, r := footage()
	wrong := Click{Frame: 30, XPX: 300, YPX: 20} // on the wall: nothing can be fitted there
	p := follow(t, r, Point{Clicks: []Click{s.clickOn(10, 0, 0), wrong}})[0]
	if q := p.Samples[30]; q.XPX != wrong.XPX || q.YPX != wrong.YPX || q.State != Clicked || q.SDXPX != placedSDPX {
		t.Errorf("the correction became %+v", q)
	}
	for i := 0; i < 28; i++ {
		x, y := s.truth(i)
		if q := p.Samples[i]; !q.Seen() || math.Hypot(q.XPX-x, q.YPX-y) > 0.2 {
			t.Errorf("frame %d before it: %+v", i, q)
		}
	}
	right := follow(t, r, Point{Clicks: []Click{s.clickOn(10, 0, 0), s.clickOn(45, 1.5, -1)}})[0]
	near(t, &s, right, 0.2, 1)
	if right.Samples[45].State != Clicked || right.Samples[30].State != Followed {
		t.Errorf("states %v, %v", right.Samples[45].State, right.Samples[30].State)
	}
}

func TestNothingToFollow(t *testing.T) {
	flat, noisy, edge := image.NewGray(image.Rect(0, 0, 120, 90)), image.NewGray(image.Rect(0, 0, 120, 90)), image.NewGray(image.Rect(0, 0, 120, 90))
	r := rand.New(rand.NewPCG(1, 1))
	for i := range flat.Pix {
		flat.Pix[i] = 120
		noisy.Pix[i] = uint8(120 + 6*r.NormFloat64())
		edge.Pix[i] = 60
		if i%120 > 60 {
			edge.Pix[i] = 180
		}
	}
	for name, g := range map[string]*image.Gray{"flat": flat, "flat but for noise": noisy, "edge": edge} {
		for _, shape := range []Shape{Auto, Round, Textured} {
			_, err := Follow(t.Context(), SourceOf(reel{g}), []Point{{Name: "left_psis", Shape: shape, Clicks: []Click{{0, 60, 45}}}}, Options{})
			if !errors.Is(err, ErrNothing) || !strings.Contains(err.Error(), "left_psis") {
				t.Errorf("%s, %v: %v", name, shape, err)
			}
			// It is told at the click, before the clip is looked through.
			if err := Glance(t.Context(), SourceOf(reel{g, g, g}), Point{Name: "left_psis", Shape: shape, Clicks: []Click{{1, 60, 45}}}); !errors.Is(err, ErrNothing) {
				t.Errorf("%s, %v, at a glance: %v", name, shape, err)
			}
		}
	}
}

// What is in the frame of its click alone is told as such; a sticker that is seen on one
// side of the click is not, nor anything in a clip too short to say.
func TestFleetingAtAGlance(t *testing.T) {
	for name, mark := range map[string]func(u, v float64) (float64, float64){"disc": disc(235), "blotch": blotch} {
		s := common(mark, 75)
		s.frames = 41
		r := s.reel()
		const at = 20
		p := Point{Clicks: []Click{s.clickOn(at, 0, 0)}}
		blank := image.NewGray(r[at].Rect)
		for i := range blank.Pix {
			blank.Pix[i] = 120
		}
		without := func(gone func(i int) bool) reel {
			out := slices.Clone(r)
			for i := range out {
				if gone(i) {
					out[i] = blank
				}
			}
			return out
		}
		alone := without(func(i int) bool { return i != at })
		if err := Glance(t.Context(), SourceOf(alone), p); !errors.Is(err, ErrFleeting) || errors.Is(err, ErrNothing) {
			t.Errorf("%s in one frame alone: %v", name, err)
		}
		p.Clicks[0].Frame = 1
		if err := Glance(t.Context(), SourceOf(alone[at-1:at+2]), p); err != nil {
			t.Errorf("%s in one of three frames, which are too few to say: %v", name, err)
		}
		p.Clicks[0].Frame = at
		for what, gone := range map[string]func(i int) bool{"before": func(i int) bool { return i < at }, "after": func(i int) bool { return i > at }} {
			if err := Glance(t.Context(), SourceOf(without(gone)), p); err != nil {
				t.Errorf("%s that is hidden %s its click: %v", name, what, err)
			}
		}
	}
}

func TestHostileInput(t *testing.T) {
	s, r := footage()
	good := Point{Name: "p", Clicks: []Click{s.clickOn(2, 0, 0)}}
	ended, end := context.WithCancel(t.Context())
	end()
	small := image.NewGray(image.Rect(0, 0, 1, 1))
	short := &image.Gray{Pix: make([]uint8, 10), Stride: 330, Rect: r[0].Rect}
	at := func(frame int, x, y float64) []Point { return []Point{{Name: "p", Clicks: []Click{{frame, x, y}}}} }
	for _, c := range []struct {
		name   string
		ctx    context.Context
		reel   reel
		points []Point
		is     error
		says   string
	}{
		{"no frames", nil, reel{}, []Point{good}, ErrFrameSize, "no frames"},
		{"no points", nil, r, nil, nil, "click one"},
		{"no click", nil, r, []Point{{Name: "p"}}, ErrClick, "no click"},
		{"frame beyond", nil, r, at(60, 5, 5), ErrClick, "frames 0 to 59"},
		{"frame before", nil, r, at(-1, 5, 5), ErrClick, "frames 0 to 59"},
		{"NaN", nil, r, at(0, math.NaN(), 5), ErrClick, "click again"},
		{"infinite", nil, r, at(0, 5, math.Inf(1)), ErrClick, "click again"},
		{"outside", nil, r, at(0, 331, 5), ErrClick, "outside the picture"},
		{"far outside", nil, r, at(0, -1e300, 5), ErrClick, "outside the picture"},
		{"twice", nil, r, []Point{{Clicks: []Click{good.Clicks[0], good.Clicks[0]}}}, ErrClick, "twice"},
		{"diameter", nil, r, []Point{{Clicks: good.Clicks, DiameterPX: -3}}, nil, "cannot be"},
		{"huge diameter", nil, r, []Point{{Clicks: good.Clicks, DiameterPX: 1e6}}, nil, "smaller mark"},
		{"shape", nil, r, []Point{{Clicks: good.Clicks, Shape: 9}}, nil, "not known"},
		{"correction outside", nil, r, []Point{{Clicks: []Click{good.Clicks[0], {9, 1e9, 3}}}}, ErrClick, "outside the picture"},
		{"one pixel", nil, reel{small}, at(0, 0.5, 0.5), ErrFrameSize, "at least 16"},
		{"short buffer", nil, reel{short}, at(0, 5, 5), ErrFrameSize, "10 bytes"},
		{"sizes change", nil, reel{r[0], r[1], r[2], image.NewGray(image.Rect(0, 0, 99, 99))}, []Point{good}, ErrFrameSize, "one size"},
		{"sizes change backwards", nil, reel{image.NewGray(image.Rect(0, 0, 99, 99)), r[1], r[2]}, []Point{good}, ErrFrameSize, "one size"},
		{"click not decoded", nil, reel{r[0], r[1], nil, r[3]}, []Point{good}, ErrClick, "cannot be decoded"},
		{"cancelled", ended, r, []Point{good}, context.Canceled, ""},
	} {
		if c.ctx == nil {
			c.ctx = t.Context()
		}
		_, err := Follow(c.ctx, SourceOf(c.reel), c.points, Options{})
		if err == nil || c.is != nil && !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if _, err := NewTracker([]Point{good}, 60, 0); err == nil {
		t.Error("a direction of 0 was taken")
	}
}

// small is a clip of three frames that is quickly rendered.
func small(mark func(u, v float64) (float64, float64)) scene {
	s := common(mark, 75)
	s.frames, s.swing, s.noise, s.w, s.h = 3, 16, 0, 140, 96
	return s
}

// lighting is how everything is moved, by whole pixels, and lit otherwise.
type lighting struct {
	mark         int
	dx, dy       int
	gain, offset float64
}

// Moving everything by whole pixels moves the path by as much; light that is
// dimmed and lifted leaves it where it is, be the brightest a little overexposed.
func TestMovedAndRelit(t *testing.T) {
	if testing.Short() {
		t.Skip("renders many clips")
	}
	type still struct {
		s    scene
		path Path
	}
	var stills []still
	for _, mark := range [...]func(u, v float64) (float64, float64){disc(225), bullseye} {
		s := small(mark)
		stills = append(stills, still{s, follow(t, s.reel(), Point{Clicks: []Click{s.clickOn(2, 0, 0)}})[0]})
	}
	check := func(t testing.TB, fatal func(format string, args ...any), c lighting) {
		base, m := stills[c.mark].path, stills[c.mark].s
		m.shiftX, m.shiftY = float64(c.dx), float64(c.dy)
		m.gain, m.offset = c.gain, c.offset
		moved := follow(t, m.reel(), Point{Clicks: []Click{m.clickOn(2, 0, 0)}})[0]
		for i, q := range base.Samples {
			p := moved.Samples[i]
			if !q.Seen() || !p.Seen() {
				fatal("frame %d: %v and %v", i, q.State, p.State)
				return
			}
			if d := math.Hypot(p.XPX-q.XPX-m.shiftX, p.YPX-q.YPX-m.shiftY); d > 0.06 {
				fatal("frame %d: moved by (%d, %d) and relit it is %.3f px off", i, c.dx, c.dy, d)
			}
		}
	}
	t.Run("two edges fell on one another", func(t *testing.T) {
		check(t, t.Errorf, lighting{mark: 1, gain: 1, offset: 17.25})
	})
	if t.Failed() {
		return
	}
	rapid.Check(t, func(rt *rapid.T) {
		c := lighting{mark: rapid.IntRange(0, len(stills)-1).Draw(rt, "mark")}
		c.dx, c.dy = rapid.IntRange(-20, 20).Draw(rt, "dx"), rapid.IntRange(-12, 12).Draw(rt, "dy")
		c.gain, c.offset = rapid.Float64Range(0.4, 1).Draw(rt, "gain"), rapid.Float64Range(0, 20).Draw(rt, "offset")
		check(t, rt.Fatalf, c)
	})
}

// The rings of a bullseye stay rings in the fit at the click, whatever light it is
// in, and it is followed where its white is a little overexposed.
func TestRingsInAnyLight(t *testing.T) {
	for _, c := range []struct {
		name         string
		gain, offset float64
		burnt        bool // some of it is at 255
	}{
		{"dim", 0.5, 5, false},
		{"less dim", 0.7, 12, false},
		{"hardly dim", 0.8, 20, false},
		{"as it is", 1, 0, false},
		{"at the brim", 1, 2, false},
		{"lifted", 0.9, 22, false},
		{"burnt by a few grey levels", 1, 10, true},
		{"burnt by more", 1, 14, true},
		{"burnt by still more", 1, 17.5, true},
		{"burnt by thirty grey levels", 1, 35, true},
	} {
		for name, mark := range map[string]func(u, v float64) (float64, float64){"disc": disc(225), "bullseye": bullseye} {
			s := small(mark)
			s.gain, s.offset = c.gain, c.offset
			r := s.reel()
			if burnt := slices.Contains(r[2].Pix, 255); burnt != c.burnt {
				t.Errorf("%s, %s: burnt is %v", name, c.name, burnt)
			}
			for _, beside := range [...]float64{0, 0.5, 1} {
				p := follow(t, r, Point{Shape: Round, Clicks: []Click{s.clickOn(2, beside, -beside)}})[0]
				near(t, &s, p, 0.06, 1)
				_, _, _, size, _ := s.place(s.instant(2, 0.5))
				if d := p.DiameterPX / (s.diameter * size); math.Abs(d-1) > 0.03 {
					t.Errorf("%s, %s, clicked %g px beside: it is taken for %.2f times as wide as it is", name, c.name, beside, d)
				}
				for i, q := range p.Samples {
					if q.Quality < 0.98 {
						t.Errorf("%s, %s, clicked %g px beside, frame %d: only %.3f is explained", name, c.name, beside, i, q.Quality)
					}
				}
			}
		}
	}
}

// BenchmarkFollow counts frames a second for one point in 1080p, without the
// decoding.
func BenchmarkFollow(b *testing.B) {
	for _, c := range []struct {
		name string
		mark func(u, v float64) (float64, float64)
		pt   Point
	}{{"round", disc(225), Point{}}, {"textured", blotch, Point{Shape: Textured}}} {
		b.Run(c.name, func(b *testing.B) {
			s := common(c.mark, 75)
			s.frames, s.w, s.h = 24, 1920, 1080
			r := s.reel()
			c.pt.Clicks = []Click{s.clickOn(0, 0, 0)}
			for b.Loop() {
				tr, err := NewTracker([]Point{c.pt}, len(r), Forwards)
				if err != nil {
					b.Fatal(err)
				}
				for i, g := range r {
					if err := tr.Push(i, g); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(len(r))*float64(b.N)/b.Elapsed().Seconds(), "frames/s")
		})
	}
}
