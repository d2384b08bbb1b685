package track

import (
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// turned returns a body seen from a side: both legs and shoulders at their
// usual place beside the middle plane, swinging a little, as a camera turned by
// yawDeg and far away would show it, in metres.
func turned(view clip.View, yawDeg float64) *Track {
	timeS := make([]float64, 60)
	t := New(Runner, Metre, timeS)
	sin, cos := math.Sincos(yawDeg * math.Pi / 180)
	for _, p := range []struct {
		l    body.Landmark
		x, y float64
	}{{body.LeftShoulder, 0.05, 1.45}, {body.LeftHip, 0, 0.92}, {body.LeftKnee, 0.1, 0.51}, {body.LeftAnkle, -0.02, 0.11}, {body.LeftHeel, -0.07, 0.04}, {body.LeftToe, 0.15, 0.02}} {
		for _, s := range body.Sides {
			q := &Path{Origin: Synthetic}
			for i := range timeS {
				timeS[i] = float64(i) / 60
				x := p.x + 0.2*math.Sin(2*math.Pi*timeS[i])*float64(s.Sign())
				away := -near(p.l.On(s), view) * besideM(p.l)
				q.X, q.Y = append(q.X, x*cos+away*sin), append(q.Y, p.y)
			}
			t.Paths[p.l.On(s)] = q
		}
	}
	return t
}

func TestSquareUndoesTheTurn(t *testing.T) {
	for _, view := range []clip.View{clip.LeftSide, clip.RightSide} {
		want := turned(view, 0)
		for _, yaw := range []float64{-20, -5, 0, 12, 30} {
			got := Square(turned(view, yaw), view, yaw)
			for l, p := range got.Paths {
				if p == nil {
					continue
				}
				for i := range p.X {
					if math.Abs(p.X[i]-want.Paths[l].X[i]) > 1e-12 || p.Y[i] != want.Paths[l].Y[i] {
						t.Fatalf("%s, turned %g°, %s: %v, want %v", view, yaw, body.Landmark(l), p.X[i], want.Paths[l].X[i])
					}
				}
			}
		}
	}
}

func TestOffSquareTellsTheTurn(t *testing.T) {
	for _, view := range []clip.View{clip.LeftSide, clip.RightSide} {
		for _, yaw := range []float64{-20, -10, 0, 10, 20} {
			got, ok := OffSquare(turned(view, yaw), view)
			if !ok || math.Abs(got-yaw) > 4 {
				t.Errorf("%s: turned %g°, told %.1f° (%v)", view, yaw, got, ok)
			}
		}
	}
	if _, ok := OffSquare(New(Runner, Metre, nil), clip.LeftSide); ok {
		t.Error("told from an empty track")
	}
}

// A pinhole camera at 3 m, its axis at 640, 360: near and far points come to the
// scale of the middle plane.
func TestInPlaneBringsBothLegsToOneScale(t *testing.T) {
	const distance, focal = 3.0, 900.0
	track := New(Picture, Pixel, []float64{0})
	want := map[body.Landmark][2]float64{}
	for _, view := range []clip.View{clip.LeftSide, clip.RightSide} {
		for _, l := range []body.Landmark{body.LeftHip, body.RightKnee, body.LeftToe, body.RightShoulder, body.Nose} {
			depth := distance - near(l, view)*besideM(l)
			track.Paths[l] = &Path{X: []float64{640 + focal*0.3/depth}, Y: []float64{360 - focal*0.5/depth}}
			want[l] = [2]float64{640 + focal*0.3/distance, 360 - focal*0.5/distance}
		}
		got := InPlane(track, view, distance, 640, 360)
		for l, w := range want {
			if p := got.Paths[l]; math.Abs(p.X[0]-w[0]) > 1e-9 || math.Abs(p.Y[0]-w[1]) > 1e-9 {
				t.Errorf("%s, %s: %.2f, %.2f, want %.2f, %.2f", view, l, p.X[0], p.Y[0], w[0], w[1])
			}
		}
	}
}
