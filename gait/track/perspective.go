package track

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// A camera at the side sees the plane of running undistorted only if it stands
// square to it, and only what lies in that plane at the plane's scale. InPlane and
// Square undo both for a camera whose place is known; OffSquare tells from the
// landmarks how far it stands off.
//
// With the camera turned by an angle y about the runner, and z the place of a
// point across the belt (to the runner's right), a left-side view shows
//
//	forward' = forward · cos y + z · sin y
//
// y being positive where the camera stands ahead of the runner and sees the
// chest; in a right-side view z counts the other way. A point d nearer than the
// plane, of a camera at distance D, is seen D/(D-d) too large about the middle of
// the picture.

// besideM is how far the points of the body lie beside its middle plane while
// running, metres (own estimates; the feet land near the midline).
func besideM(l body.Landmark) float64 {
	switch l.On(body.Left) {
	case body.LeftShoulder:
		return 0.17
	case body.LeftElbow:
		return 0.23
	case body.LeftWrist:
		return 0.17
	case body.LeftHip:
		return 0.085
	case body.LeftKnee:
		return 0.07
	case body.LeftAnkle, body.LeftHeel, body.LeftToe, body.LeftMT1, body.LeftMT5:
		return 0.05
	case body.LeftEar, body.LeftEye:
		return 0.07
	}
	return 0
}

// near is 1 for points on the side turned to a side view's camera, -1 for those
// of the other side and 0 in the middle.
func near(l body.Landmark, view clip.View) float64 {
	side := l.Side()
	switch {
	case side == body.NoSide || !view.Sagittal():
		return 0
	case (side == body.Left) == (view == clip.LeftSide):
		return 1
	}
	return -1
}

// InPlane returns a copy of a side view in picture space in which near and far
// points are brought to the scale of the runner's middle plane, the camera
// standing distanceM from it and its axis meeting the picture at the given place.
func InPlane(t *Track, view clip.View, distanceM, axisXPX, axisYPX float64) *Track {
	out := t.Clone()
	for l, p := range out.Paths {
		if p == nil {
			continue
		}
		toward := near(body.Landmark(l), view) * besideM(body.Landmark(l))
		k := (distanceM - toward) / distanceM
		for i := range p.X {
			p.X[i] = axisXPX + k*(p.X[i]-axisXPX)
			p.Y[i] = axisYPX + k*(p.Y[i]-axisYPX)
		}
	}
	return out
}

// Square returns a copy of a side view in runner space as a camera square to the
// runner would see it, where the real one stands yawDeg off: positive ahead of the
// runner, negative behind. What a point's place across the belt adds is taken off
// where the track is in metres.
func Square(t *Track, view clip.View, yawDeg float64) *Track {
	out := t.Clone()
	sin, cos := math.Sincos(yawDeg * math.Pi / 180)
	for l, p := range out.Paths {
		if p == nil || p.X == nil {
			continue
		}
		shift := 0.0
		if t.Unit == Metre {
			// Near points lie against the camera's side: behind where it stands ahead.
			shift = near(body.Landmark(l), view) * besideM(body.Landmark(l)) * sin
		}
		for i := range p.X {
			p.X[i] = (p.X[i] + shift) / cos
		}
	}
	return out
}

// Widths between shoulder and between hip joints in lengths of thigh plus shank,
// as the pose model and exact landmarks show them from behind (own measurements
// on rendered clips).
const (
	shouldersOfLeg = 0.43
	hipsOfLeg      = 0.21
)

// OffSquare tells from a side view in runner space how far the camera stands off
// square, degrees, positive where it stands ahead of the runner: over whole
// strides shoulders and hips turn as much one way as the other, and a mean
// distance between the far and the near ones is the camera's doing. ok is false
// where they were hardly seen.
func OffSquare(t *Track, view clip.View) (deg float64, ok bool) {
	far, close := body.Right, body.Left
	if view == clip.RightSide {
		far, close = close, far
	}
	leg := 0.0
	for _, s := range body.Sides {
		l := sideLegLength(t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)])
		leg += l / 2
	}
	if !(leg > 0) {
		return 0, false
	}
	sum, n := 0.0, 0
	for i := range t.TimeS {
		d := 0.0
		for _, l := range [...]body.Landmark{body.LeftShoulder, body.LeftHip} {
			a, b := t.Paths[l.On(far)], t.Paths[l.On(close)]
			if !a.Seen(i) || !b.Seen(i) || a.X == nil || b.X == nil {
				d = math.NaN()
				break
			}
			d += a.X[i] - b.X[i]
		}
		if !math.IsNaN(d) {
			sum += d
			n++
		}
	}
	if n < 30 {
		return 0, false
	}
	sin := sum / float64(n) / leg / (shouldersOfLeg + hipsOfLeg)
	return math.Asin(max(-1, min(1, sin))) * 180 / math.Pi, true
}
