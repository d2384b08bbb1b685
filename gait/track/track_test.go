package track

import (
	"bytes"
	"encoding/gob"
	"math"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// standing returns a picture-space track of an upright figure whose shoulders
// and hips are width trunk lengths wide, facing the given way.
func standing(width float64, facingRight bool) *Track {
	const trunk, frames = 200.0, 20
	t := New(Picture, Pixel, nil)
	for i := range frames {
		t.TimeS = append(t.TimeS, float64(i)/50)
	}
	put := func(l body.Landmark, x, y float64) {
		p := &Path{Origin: Synthetic}
		for range frames {
			p.X, p.Y = append(p.X, x), append(p.Y, y)
		}
		t.Paths[l] = p
	}
	toe := -40.0
	if facingRight {
		toe = 40
	}
	for _, s := range body.Sides {
		dx := s.Sign() * width * trunk / 2
		put(body.LeftShoulder.On(s), 500+dx, 200)
		put(body.LeftHip.On(s), 500+dx, 200+trunk)
		put(body.LeftHeel.On(s), 500+dx, 700)
		put(body.LeftToe.On(s), 500+dx+toe, 700)
	}
	return t
}

func TestLookAtTellsTheView(t *testing.T) {
	for _, c := range []struct {
		name        string
		width       float64
		facingRight bool
		want        clip.View
	}{
		{"square from the left", 0.05, false, clip.LeftSide},
		{"square from the right", 0.05, true, clip.RightSide},
		{"from behind", 0.6, true, clip.Rear},
		{"from the front", -0.6, true, clip.Front},
	} {
		look, err := LookAt(standing(c.width, c.facingRight))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if look.View != c.want {
			t.Errorf("%s: told %v, want %v", c.name, look.View, c.want)
		}
	}
}

func TestCheckViewRefusesAWrongView(t *testing.T) {
	look, err := LookAt(standing(0.6, true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := CheckView(clip.LeftSide, look); err == nil {
		t.Error("a rear view declared as a side view was accepted")
	}
	if _, err := CheckView(clip.Rear, look); err != nil {
		t.Errorf("a rear view declared as such was refused: %v", err)
	}
	side, err := LookAt(standing(0.1, true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := CheckView(clip.LeftSide, side); err == nil {
		t.Error("a right-side view declared as left was accepted")
	}
}

func TestLookAtNeedsATrunk(t *testing.T) {
	if _, err := LookAt(New(Picture, Pixel, []float64{0, 1})); err == nil {
		t.Error("a track without landmarks told a view")
	}
}

func TestToRunnerAxes(t *testing.T) {
	pic := standing(0.05, false)
	r, err := ToRunner(pic, clip.LeftSide, 100, 0)
	if err != nil {
		t.Fatal(err)
	}
	heel, toe, hip := r.Paths[body.LeftHeel], r.Paths[body.LeftToe], r.Paths[body.LeftHip]
	if got := toe.X[0] - heel.X[0]; math.Abs(got-0.4) > 1e-12 {
		t.Errorf("toe is %.3f m ahead of the heel, want 0.4", got)
	}
	if got := hip.Y[0] - heel.Y[0]; math.Abs(got-3) > 1e-12 {
		t.Errorf("hip is %.3f m above the heel, want 3", got)
	}
	if toe.Z != nil {
		t.Error("a side view has no lateral axis")
	}
	rear, err := ToRunner(standing(0.6, true), clip.Rear, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if d := rear.Paths[body.RightHip].Z[0] - rear.Paths[body.LeftHip].Z[0]; d <= 0 {
		t.Errorf("the right hip must lie to the right, got %.1f px", d)
	}
	if _, err := ToRunner(pic, clip.UnknownView, 0, 0); err == nil {
		t.Error("an unknown view was turned")
	}
}

// TestRollIsUndone: a picture turned by the camera's roll is level again after
// ToRunner turns it back by the same angle.
func TestRollIsUndone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		roll := rapid.Float64Range(-20, 20).Draw(r, "roll")
		pic := standing(0.5, true)
		turned := pic.Clone()
		sin, cos := math.Sincos(-roll * math.Pi / 180) // the camera saw it turned the other way
		for _, p := range turned.Paths {
			if p == nil {
				continue
			}
			for i := range p.X {
				x, y := p.X[i], p.Y[i]
				p.X[i], p.Y[i] = x*cos-y*sin, x*sin+y*cos
			}
		}
		a, _ := ToRunner(pic, clip.Rear, 50, 0)
		b, _ := ToRunner(turned, clip.Rear, 50, roll)
		for l := range a.Paths {
			if a.Paths[l] != nil && (math.Abs(a.Paths[l].Y[0]-b.Paths[l].Y[0]) > 1e-9 || math.Abs(a.Paths[l].Z[0]-b.Paths[l].Z[0]) > 1e-9) {
				r.Fatalf("%v moved", body.Landmark(l))
			}
		}
	})
}

func TestMirrorTwiceIsTheSame(t *testing.T) {
	a := standing(0.6, true)
	b := a.Mirror(300).Mirror(300)
	for l := range a.Paths {
		for i := range a.TimeS {
			if a.Paths[l] != nil && math.Abs(a.Paths[l].X[i]-b.Paths[l].X[i]) > 1e-9 {
				t.Fatalf("%v moved", body.Landmark(l))
			}
		}
	}
	if m := a.Mirror(300); m.Paths[body.LeftHip].X[0] != 600-a.Paths[body.RightHip].X[0] {
		t.Error("the mirror did not exchange the sides")
	}
}

func TestGobKeepsEverything(t *testing.T) {
	a := standing(0.6, true)
	a.Paths[body.LeftHip].X[3] = math.NaN()
	a.Paths[body.LeftHip].Confidence = make([]float64, a.Frames())
	var buf bytes.Buffer
	if err := gob.NewEncoder(&buf).Encode(a); err != nil {
		t.Fatal(err)
	}
	var b Track
	if err := gob.NewDecoder(&buf).Decode(&b); err != nil {
		t.Fatal(err)
	}
	if b.Frames() != a.Frames() || !math.IsNaN(b.Paths[body.LeftHip].X[3]) || b.Paths[body.Nose] != nil || b.Paths[body.LeftHip].Z != nil {
		t.Error("the track changed on its way through storage")
	}
}

func TestValidateFindsABackwardClock(t *testing.T) {
	if err := New(Picture, Pixel, []float64{0, 0.1, 0.1}).Validate(); err == nil {
		t.Error("a clock that stands still was accepted")
	}
}

func TestNearestFrame(t *testing.T) {
	clock := []float64{0, 0.1, 0.2, 0.35}
	for _, c := range []struct {
		t    float64
		want int
	}{{-1, 0}, {0.04, 0}, {0.06, 1}, {0.2, 2}, {0.29, 3}, {9, 3}} {
		if got := NearestFrame(clock, c.t); got != c.want {
			t.Errorf("NearestFrame(%v) = %d, want %d", c.t, got, c.want)
		}
	}
}
