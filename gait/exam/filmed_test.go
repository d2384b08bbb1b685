package exam

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/track"

	"pgregory.net/rapid"
)

// squats is a picture track, seen from the front, of a person who bends one leg
// so many times; at the lowest point the knee is inward by so many degrees. The
// other foot hangs from the pelvis.
func squats(side body.Side, times int, inwardDeg, noisePX float64, seed uint64) *track.Track {
	const rateHz, repS, thigh, shank = 60.0, 3.0, 200.0, 200.0
	n := int(rateHz * (repS*float64(times) + 1))
	tr := track.New(track.Picture, track.Pixel, make([]float64, n))
	path := func(l body.Landmark) *track.Path {
		if tr.Paths[l] == nil {
			tr.Paths[l] = &track.Path{Origin: track.Synthetic, X: make([]float64, n), Y: make([]float64, n)}
		}
		return tr.Paths[l]
	}
	shake := rand.New(rand.NewPCG(seed, 1))
	put := func(l body.Landmark, i int, x, y float64) {
		path(l).X[i], path(l).Y[i] = x+noisePX*shake.NormFloat64(), y+noisePX*shake.NormFloat64()
	}
	// The left of the runner is at the right of the picture.
	out := 1.0
	if side == body.Right {
		out = -1
	}
	other := body.Left
	if side == body.Left {
		other = body.Right
	}
	for i := range n {
		t := float64(i) / rateHz
		tr.TimeS[i] = t
		bend := 0.0 // 0 standing, 1 lowest
		if at := t - 0.5; at > 0 && at < repS*float64(times) {
			bend = math.Pow(math.Sin(math.Pi*math.Mod(at, repS)/repS), 2)
		}
		seen := math.Cos(bend * 30 * math.Pi / 180) // thigh and shank lean out of the picture by half of the knee's 60 degrees
		in := bend * inwardDeg / 2 * math.Pi / 180
		ax, ay := 500.0, 800.0
		kx, ky := ax-out*shank*seen*math.Sin(in), ay-shank*seen*math.Cos(in)
		hx, hy := kx+out*thigh*seen*math.Sin(in), ky-thigh*seen*math.Cos(in)
		put(body.LeftAnkle.On(side), i, ax, ay)
		put(body.LeftKnee.On(side), i, kx, ky)
		put(body.LeftHip.On(side), i, hx, hy)
		put(body.LeftHip.On(other), i, hx-out*60, hy)
		put(body.LeftKnee.On(other), i, hx-out*60, hy+190)
		put(body.LeftAnkle.On(other), i, hx-out*60, hy+300)
	}
	return tr
}

func smoothed(t testing.TB, raw *track.Track) *track.Track {
	t.Helper()
	s, err := track.Smooth(raw, track.DefaultClean(track.Synthetic), nil)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestAngleOfASquatIsThatOfThePose(t *testing.T) {
	for _, side := range body.Sides {
		for _, want := range []float64{-8, 0, 12, 25} {
			raw := squats(side, 3, want, 0, 1)
			got, err := FromFront(raw, smoothed(t, raw), side)
			if err != nil {
				t.Fatal(err)
			}
			if len(got.Lows) != 3 || got.Cut != 0 {
				t.Fatalf("%v: %d repetitions of 3, %d cut", side, len(got.Lows), got.Cut)
			}
			for i, l := range got.Lows {
				// Thigh and shank lean 30 degrees out of the picture and half the angle in it.
				depth := 100 * (1 - math.Cos(30*math.Pi/180)*math.Cos(want/2*math.Pi/180))
				if math.Abs(l.AngleDeg-want) > 0.3 || math.Abs(l.DepthPercent-depth) > 0.5 || math.Abs(l.TimeS-(2+3*float64(i))) > 0.06 {
					t.Errorf("%v, %g degrees: %+v", side, want, l)
				}
			}
		}
	}
}

// The noise that is told is the scatter that there is.
func TestNoiseOfAngle(t *testing.T) {
	var sum, told float64
	var n int
	for seed := range uint64(12) {
		raw := squats(body.Left, 3, 12, 2, seed+1)
		got, err := FromFront(raw, smoothed(t, raw), body.Left)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range got.Lows {
			sum += (l.AngleDeg - 12) * (l.AngleDeg - 12)
			n++
		}
		told += got.NoiseDeg / 12
	}
	is := math.Sqrt(sum / float64(n))
	t.Logf("told %.2f degrees, is %.2f (2 px on a leg of 400 px)", told, is)
	if told < is/2.5 || told > is*2.5 {
		t.Errorf("the noise told is %.2f degrees, it is %.2f", told, is)
	}
}

func TestClipsThatForbidTheAngle(t *testing.T) {
	straight := squats(body.Left, 2, 10, 0, 1)
	for name, c := range map[string]struct {
		raw  *track.Track
		side body.Side
		want string
	}{
		"from behind":    {swapped(straight), body.Left, "from behind"},
		"wrong leg":      {straight, body.Right, "stands on the left leg"},
		"no repetition":  {straight.Slice(0, 30), body.Left, "no repetition"},
		"cut off":        {straight.Slice(0, 120), body.Left, "begins or ends within"},
		"no side":        {straight, body.NoSide, "which leg"},
		"no landmarks":   {track.New(track.Picture, track.Pixel, straight.TimeS), body.Left, "not all seen"},
		"upside down":    {upsideDown(straight), body.Left, "upright"},
		"not in picture": {track.New(track.Runner, track.Metre, straight.TimeS), body.Left, "plane of the picture"},
	} {
		_, err := FromFront(c.raw, c.raw, c.side)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// swapped exchanges left and right in the picture, which is what a film from
// behind looks like.
func swapped(t *track.Track) *track.Track {
	t = t.Clone()
	for _, p := range t.Paths {
		if p != nil {
			for i := range p.X {
				p.X[i] = 1000 - p.X[i]
			}
		}
	}
	return t
}

func upsideDown(t *track.Track) *track.Track {
	t = t.Clone()
	for _, p := range t.Paths {
		if p != nil {
			for i := range p.Y {
				p.Y[i] = 1000 - p.Y[i]
				p.X[i] = 1000 - p.X[i]
			}
		}
	}
	return t
}

// Whatever the track, there is an answer or an error and no panic.
func TestAnyTrackIsAnswered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "frames")
		tr := track.New(track.Picture, track.Pixel, make([]float64, n))
		for i := range tr.TimeS {
			tr.TimeS[i] = float64(i) / 30
		}
		for _, l := range []body.Landmark{body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle} {
			p := &track.Path{Origin: track.Synthetic, X: make([]float64, n), Y: make([]float64, n)}
			for i := range n {
				p.X[i], p.Y[i] = rapid.Float64Range(0, 900).Draw(t, "x"), rapid.Float64Range(0, 900).Draw(t, "y")
				if rapid.IntRange(0, 9).Draw(t, "lost") == 0 {
					p.X[i], p.Y[i] = math.NaN(), math.NaN()
				}
			}
			tr.Paths[l] = p
		}
		got, err := FromFront(tr, tr, body.Left)
		for _, l := range got.Lows {
			if err == nil && (math.IsNaN(l.AngleDeg) || math.Abs(l.AngleDeg) > 360) {
				t.Fatalf("%+v", l)
			}
		}
	})
}

// A foot that is lifted is no squat: in a film of running hip and ankle come
// nearer at every swing. One lift among squats is left out and counted.
func TestALiftedFootIsNoSquat(t *testing.T) {
	lifted := func(times ...int) *track.Track {
		raw := squats(body.Right, 3, 10, 0, 1)
		p, h := raw.Paths[body.RightAnkle], raw.Paths[body.RightHip]
		for _, n := range times {
			for i := range raw.TimeS {
				if at := raw.TimeS[i] - 0.5; at > 3*float64(n) && at < 3*float64(n+1) {
					dip := h.Y[i] - h.Y[0]
					p.Y[i] -= dip
					h.Y[i] = h.Y[0]
				}
			}
		}
		return raw
	}
	raw := lifted(1)
	if got, err := FromFront(raw, smoothed(t, raw), body.Right); err != nil || len(got.Lows) != 2 || got.Lifted != 1 {
		t.Errorf("%+v, %v", got, err)
	}
	raw = lifted(0, 1, 2)
	copy(raw.Paths[body.LeftAnkle].Y, raw.Paths[body.RightAnkle].Y) // both feet move alike
	if got, err := FromFront(raw, smoothed(t, raw), body.Right); err == nil || !strings.Contains(err.Error(), "lifted from the floor 3 time") {
		t.Errorf("%+v, %v", got, err)
	}
}
