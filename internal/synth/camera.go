package synth

import (
	"fmt"
	"math"

	"gaitwright/gait/clip"
)

// Camera is a pinhole camera. It looks square at the runner from its view's
// side; the three angles turn it away from that.
type Camera struct {
	View     clip.View // left, right, rear or front
	WidthPX  int
	HeightPX int
	FocalPX  float64 // focal length in pixels
	Position Vec     // of the pinhole, in runner space, metres
	YawDeg   float64 // turned to the picture's right
	PitchDeg float64 // turned upward
	// RollDeg is positive where the picture has to be turned clockwise to be
	// level, as in clip.Info.
	RollDeg float64
	// K1 bends the picture: a point at distance d from the axis, in focal
	// lengths, is seen at d(1 + K1 d²); negative is the barrel of a wide lens.
	K1 float64
}

// Metres of the runner's plane that fill the height of the picture of
// [NewCamera], and the height of its axis above the belt.
const (
	pictureHeightM = 2.65
	axisHeightM    = 0.98
)

// NewCamera returns a level camera of that view at that distance (m) from the
// middle of the belt, whose picture of width × height pixels holds the runner
// from head to belt with some room.
func NewCamera(view clip.View, widthPX, heightPX int, distanceM float64) Camera {
	c := Camera{View: view, WidthPX: widthPX, HeightPX: heightPX, FocalPX: float64(heightPX) * distanceM / pictureHeightM}
	look, _ := c.nominal()
	c.Position = look.mul(-distanceM)
	c.Position.Y = axisHeightM
	return c
}

// Check says what is wrong with a camera.
func (c Camera) Check() error {
	switch {
	case c.View != clip.LeftSide && c.View != clip.RightSide && c.View != clip.Rear && c.View != clip.Front:
		return fmt.Errorf("a synthetic camera cannot stand at view %q: give left, right, rear or front", c.View)
	case c.WidthPX < 16 || c.HeightPX < 16 || c.WidthPX > 8192 || c.HeightPX > 8192:
		return fmt.Errorf("a picture of %d × %d pixels: give 16 to 8192 each way", c.WidthPX, c.HeightPX)
	case !(c.FocalPX > 0):
		return fmt.Errorf("focal length is %g pixels: give more than 0", c.FocalPX)
	}
	return nil
}

// nominal returns where the camera looks and where its picture's right lies,
// before it is turned.
func (c Camera) nominal() (look, right Vec) {
	switch c.View {
	case clip.RightSide:
		return Vec{Z: -1}, Vec{X: 1}
	case clip.Rear:
		return Vec{X: 1}, Vec{Z: 1}
	case clip.Front:
		return Vec{X: -1}, Vec{Z: -1}
	}
	return Vec{Z: 1}, Vec{X: -1}
}

// axes returns the directions of the camera's look and of its picture's right
// and down.
func (c Camera) axes() (look, right, down Vec) {
	look, right = c.nominal()
	s, co := math.Sincos(c.YawDeg * degree)
	look, right = look.mul(co).add(right.mul(s)), right.mul(co).sub(look.mul(s))
	down = Vec{Y: -1}
	s, co = math.Sincos(c.PitchDeg * degree)
	look, down = look.mul(co).sub(down.mul(s)), down.mul(co).add(look.mul(s))
	s, co = math.Sincos(c.RollDeg * degree)
	right, down = right.mul(co).add(down.mul(s)), down.mul(co).sub(right.mul(s))
	return look, right, down
}

// lens projects points; it holds the camera's axes worked out.
type lens struct {
	Camera
	look, right, down Vec
}

func (c Camera) lens() lens {
	l := lens{Camera: c}
	l.look, l.right, l.down = c.axes()
	return l
}

// project returns the picture place of a point in pixels from the top-left
// corner, and its depth along the axis in metres (negative behind the camera).
func (l *lens) project(p Vec) (x, y, depth float64) {
	v := p.sub(l.Position)
	depth = v.dot(l.look)
	u, w := v.dot(l.right)/depth, v.dot(l.down)/depth
	k := 1 + l.K1*(u*u+w*w)
	return float64(l.WidthPX)/2 + l.FocalPX*k*u, float64(l.HeightPX)/2 + l.FocalPX*k*w, depth
}

// Project returns where the camera sees a point, in pixels from the top-left
// corner of the picture. ok is false for points behind the camera.
func (c Camera) Project(p Vec) (xPX, yPX float64, ok bool) {
	l := c.lens()
	x, y, d := l.project(p)
	return x, y, d > 0
}

// DistanceM is the distance from the camera to the middle plane of the belt
// along the axis, and PixelsPerM the scale there.
func (c Camera) DistanceM() float64 {
	l := c.lens()
	return Vec{Y: c.Position.Y}.sub(c.Position).dot(l.look)
}

// PixelsPerM is the scale of the picture at the middle of the belt.
func (c Camera) PixelsPerM() float64 { return c.FocalPX / c.DistanceM() }

// OffSquare returns the camera carried about the middle of the belt by so many
// degrees, toward the right of its picture, and turned back so that the runner
// stays in the middle: a camera that does not stand square to the runner.
func (c Camera) OffSquare(deg float64) Camera {
	look, right := c.nominal()
	away, side := c.Position.dot(look), c.Position.dot(right)
	s, co := math.Sincos(deg * degree)
	height := c.Position.Y
	c.Position = look.mul(away*co + side*s).add(right.mul(side*co - away*s))
	c.Position.Y = height
	c.YawDeg -= deg
	return c
}
