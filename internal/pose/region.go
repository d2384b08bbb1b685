package pose

import "math"

// A Region is the turned square of the picture that holds one person: its
// centre and side in pixels, its angle in radians, clockwise as the picture
// shows it, zero for an upright person.
type Region struct {
	X, Y     float64
	SidePX   float64
	AngleRad float64
}

// regionScale is how much larger the region is than the circle through the
// radius point (Bazarevsky et al. 2020).
const regionScale = 1.25

// regionFrom returns the region around a person whose hips' middle is at (x, y)
// and whose circle passes through (rx, ry), above it for an upright person.
func regionFrom(x, y, rx, ry float64) Region {
	dx, dy := rx-x, ry-y
	return Region{
		X: x, Y: y,
		SidePX:   2 * regionScale * math.Hypot(dx, dy),
		AngleRad: turn(math.Pi/2 - math.Atan2(-dy, dx)),
	}
}

// turn brings an angle into (-π, π].
func turn(a float64) float64 { return math.Remainder(a, 2*math.Pi) }

// place maps a point of the region, in fractions of its side from the upper
// left corner, to picture pixels.
func (r Region) place(u, v float64) (x, y float64) {
	s, c := math.Sincos(r.AngleRad)
	u, v = (u-0.5)*r.SidePX, (v-0.5)*r.SidePX
	return r.X + u*c - v*s, r.Y + u*s + v*c
}

// valid tells whether the region can be cut from a picture of the given size.
func (r Region) valid(width, height int) bool {
	if !(r.SidePX >= 8) || r.SidePX > 8*float64(max(width, height)) || math.IsNaN(r.AngleRad) {
		return false
	}
	return r.X >= -0.5*r.SidePX && r.X <= float64(width)+0.5*r.SidePX &&
		r.Y >= -0.5*r.SidePX && r.Y <= float64(height)+0.5*r.SidePX
}

// Overlap returns how far two regions, taken as upright squares, cover each
// other: the area of their intersection over that of their union, 0 to 1.
func (r Region) Overlap(o Region) float64 {
	w := min(r.X+r.SidePX/2, o.X+o.SidePX/2) - max(r.X-r.SidePX/2, o.X-o.SidePX/2)
	h := min(r.Y+r.SidePX/2, o.Y+o.SidePX/2) - max(r.Y-r.SidePX/2, o.Y-o.SidePX/2)
	if !(w > 0 && h > 0) {
		return 0
	}
	return w * h / (r.SidePX*r.SidePX + o.SidePX*o.SidePX - w*h)
}

// Contains tells whether a point of the picture lies in the region.
func (r Region) Contains(x, y float64) bool {
	s, c := math.Sincos(r.AngleRad)
	dx, dy := x-r.X, y-r.Y
	return math.Abs(dx*c+dy*s) <= r.SidePX/2 && math.Abs(dy*c-dx*s) <= r.SidePX/2
}
