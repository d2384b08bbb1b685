package synth

import (
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// TestCameraAgainstRunnerSpace: a far camera sees what runner space holds, by the
// program's own way from picture to runner.
func TestCameraAgainstRunnerSpace(t *testing.T) {
	r := mustNew(t, Demo())
	times := Clock(25, 1)
	spatial := r.Spatial(times)
	for _, v := range []clip.View{clip.LeftSide, clip.RightSide, clip.Rear, clip.Front} {
		for _, roll := range []float64{0, 4} {
			cam := NewCamera(v, 1080, 1920, 4000)
			cam.RollDeg = roll
			got, err := track.ToRunner(r.Track(times, cam), v, cam.PixelsPerM(), roll)
			if err != nil {
				t.Fatal(err)
			}
			// The picture's origin is arbitrary: compare from the nose.
			for l, p := range got.Paths {
				if p == nil {
					continue
				}
				want, nose, own := spatial.Paths[l], spatial.Paths[body.Nose], got.Paths[body.Nose]
				for i := range times {
					var across, wantAcross float64
					if v.Sagittal() {
						across, wantAcross = p.X[i]-own.X[i], want.X[i]-nose.X[i]
					} else {
						across, wantAcross = p.Z[i]-own.Z[i], want.Z[i]-nose.Z[i]
					}
					up, wantUp := p.Y[i]-own.Y[i], want.Y[i]-nose.Y[i]
					if math.Abs(across-wantAcross) > 0.002 || math.Abs(up-wantUp) > 0.002 {
						t.Fatalf("%s, roll %g: %s is seen at (%.4f, %.4f), stands at (%.4f, %.4f)", v, roll, body.Landmark(l), across, up, wantAcross, wantUp)
					}
				}
			}
		}
	}
}

func TestProjectByHand(t *testing.T) {
	c := Camera{View: clip.LeftSide, WidthPX: 720, HeightPX: 1280, FocalPX: 2205, Position: Vec{X: -0.075, Y: 0.95, Z: -4.8}}
	// The pinhole formula by hand for a point 0.5 m ahead, 0.2 m up, 0.1 m right.
	x, y, ok := c.Project(Vec{0.5, 0.2, 0.1})
	wantX, wantY := 360-2205*(0.5+0.075)/4.9, 640+2205*(0.95-0.2)/4.9
	if !ok || math.Abs(x-wantX) > 1e-9 || math.Abs(y-wantY) > 1e-9 {
		t.Errorf("seen at (%.3f, %.3f), want (%.3f, %.3f)", x, y, wantX, wantY)
	}
	if _, _, ok := c.Project(Vec{0, 1, -9}); ok {
		t.Error("a point behind the camera is seen")
	}
	if d, s := c.DistanceM(), c.PixelsPerM(); math.Abs(d-4.8) > 1e-12 || math.Abs(s-2205/4.8) > 1e-9 {
		t.Errorf("distance %g m, %g px/m", d, s)
	}
}

// TestLensIsUndone: the ray of a picture place goes through the point seen there.
func TestLensIsUndone(t *testing.T) {
	c := NewCamera(clip.Rear, 1280, 720, 3)
	c.K1, c.YawDeg, c.PitchDeg, c.RollDeg = -0.12, 7, -4, 3
	eye := c.lens()
	for _, p := range []Vec{{0, 0, 0}, {0.3, 1.6, 0.2}, {-0.5, 0.4, -0.6}} {
		x, y, depth := eye.project(p)
		d := eye.ray(x, y)
		q := eye.Position.add(d.mul(depth / d.dot(eye.look)))
		if q.sub(p).norm() > 1e-6 {
			t.Errorf("%v comes back as %v", p, q)
		}
	}
}

func TestHiddenPointsAreLessSure(t *testing.T) {
	r := mustNew(t, Demo())
	times := Clock(60, 3)
	side := r.Track(times, NewCamera(clip.LeftSide, 720, 1280, 4.8))
	least := func(l body.Landmark) float64 {
		m := 1.0
		for _, c := range side.Paths[l].Confidence {
			m = min(m, c)
		}
		return m
	}
	if c := least(body.LeftKnee); c < 0.9 && c > 0.5 { // its own arm may pass before it
		t.Errorf("the near knee falls to %.2f", c)
	}
	for _, l := range []body.Landmark{body.RightKnee, body.RightHip, body.RightShoulder} {
		if c := least(l); c > 0.5 {
			t.Errorf("%s is never hidden: %.2f", l, c)
		}
	}
	if side.Paths[body.RightPSIS] != nil || side.Paths[body.LeftPSIS] == nil {
		t.Error("stickers are seen on the wrong side")
	}
	rear := r.Track(times[:2], NewCamera(clip.Rear, 720, 1280, 4))
	if rear.Paths[body.LeftASIS] != nil || rear.Paths[body.LeftPSIS] == nil || rear.Paths[body.LeftHeelTop] == nil {
		t.Error("stickers are seen on the wrong face of the body")
	}
	if err := side.Validate(); err != nil {
		t.Error(err)
	}
	if n := WithoutStickers(side); n.Paths[body.LeftPSIS] != nil || n.Paths[body.LeftToe] == nil {
		t.Error("stickers are not left out")
	}
}

func TestNoise(t *testing.T) {
	r := mustNew(t, Demo())
	times := UnevenClock(120, 20, 0.3, 0.01, 4)
	exact := r.Track(times, NewCamera(clip.LeftSide, 720, 1280, 4.8))
	if err := exact.Validate(); err != nil {
		t.Fatal(err)
	}
	if n := len(times); n >= 2400 || n < 2330 {
		t.Errorf("%d frames of 2,400 after leaving out one in a hundred", n)
	}
	for _, rho := range []float64{0, 0.8} {
		noisy := Noisy(exact, Noise{SD: 2, Autocorrelation: rho, Seed: 1})
		var d []float64
		for i := range times {
			d = append(d, noisy.Paths[body.LeftAnkle].Y[i]-exact.Paths[body.LeftAnkle].Y[i])
		}
		mean, sd := meanSD(d)
		lag := 0.0
		for i := 1; i < len(d); i++ {
			lag += (d[i] - mean) * (d[i-1] - mean) / (sd * sd) / float64(len(d)-1)
		}
		if math.Abs(sd-2) > 0.3 || math.Abs(lag-rho) > 0.08 || math.Abs(mean) > 0.5 {
			t.Errorf("asked for SD 2 and correlation %g: SD %.2f, correlation %.2f, mean %.2f", rho, sd, lag, mean)
		}
	}
}

func TestOffSquareKeepsTheRunnerInTheMiddle(t *testing.T) {
	for _, v := range []clip.View{clip.LeftSide, clip.Rear} {
		square := NewCamera(v, 720, 1280, 4)
		c := square.OffSquare(20)
		a, _, _ := square.Project(Vec{0, 1, 0})
		x, y, ok := c.Project(Vec{0, 1, 0})
		if !ok || math.Abs(x-a) > 1e-9 || math.Abs(y-(640-c.FocalPX*(1-axisHeightM)/4)) > 1e-9 {
			t.Errorf("%s: the middle of the belt is seen at %.3f, %.3f", v, x, y)
		}
		// It went to the right of the picture.
		if to, _, _ := square.Project(c.Position.add(square.lens().look.mul(6))); to <= 360 {
			t.Errorf("%s: the camera went left", v)
		}
		// A forward metre looks shorter by the cosine, but for perspective.
		if v == clip.LeftSide {
			p, _, _ := c.Project(Vec{0.05, 1, 0})
			q, _, _ := c.Project(Vec{-0.05, 1, 0})
			if r := math.Abs(p-q) / (0.1 * c.FocalPX / 4); math.Abs(r-math.Cos(20*degree)) > 0.002 {
				t.Errorf("forward lengths shrink to %.4f", r)
			}
		}
	}
}
