package synth

import "math"

// Vec is a point or direction: X forward, Y up, Z to the runner's right, metres.
type Vec struct{ X, Y, Z float64 }

func (a Vec) add(b Vec) Vec             { return Vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a Vec) sub(b Vec) Vec             { return Vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a Vec) mul(k float64) Vec         { return Vec{a.X * k, a.Y * k, a.Z * k} }
func (a Vec) dot(b Vec) float64         { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a Vec) norm() float64             { return math.Sqrt(a.dot(a)) }
func (a Vec) lerp(b Vec, u float64) Vec { return a.mul(1 - u).add(b.mul(u)) }

func (a Vec) cross(b Vec) Vec {
	return Vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// unit returns a scaled to length 1; the zero vector stays zero.
func (a Vec) unit() Vec {
	if n := a.norm(); n > 0 {
		return a.mul(1 / n)
	}
	return a
}

// frame is an orientation: the directions of a segment's own forward, up and
// right axes.
type frame struct{ fwd, up, right Vec }

var level = frame{Vec{1, 0, 0}, Vec{0, 1, 0}, Vec{0, 0, 1}}

// at turns segment coordinates into a direction in runner space.
func (f frame) at(x, y, z float64) Vec {
	return Vec{
		f.fwd.X*x + f.up.X*y + f.right.X*z,
		f.fwd.Y*x + f.up.Y*y + f.right.Y*z,
		f.fwd.Z*x + f.up.Z*y + f.right.Z*z,
	}
}

func (f frame) apply(v Vec) Vec { return f.at(v.X, v.Y, v.Z) }

// then returns the orientation f followed in its own axes by g.
func (f frame) then(g frame) frame {
	return frame{f.apply(g.fwd), f.apply(g.up), f.apply(g.right)}
}

// mix blends two orientations that lie near each other.
func (f frame) mix(g frame, u float64) frame {
	up := f.up.lerp(g.up, u).unit()
	fwd := f.fwd.lerp(g.fwd, u)
	fwd = fwd.sub(up.mul(fwd.dot(up))).unit()
	return frame{fwd, up, fwd.cross(up)}
}

// pitch turns the nose up by a radians.
func pitch(a float64) frame {
	s, c := math.Sincos(a)
	return frame{Vec{c, s, 0}, Vec{-s, c, 0}, Vec{0, 0, 1}}
}

// yaw turns the nose to the right by a radians.
func yaw(a float64) frame {
	s, c := math.Sincos(a)
	return frame{Vec{c, 0, s}, Vec{0, 1, 0}, Vec{-s, 0, c}}
}

// roll lifts the right side by a radians.
func roll(a float64) frame {
	s, c := math.Sincos(a)
	return frame{Vec{1, 0, 0}, Vec{0, c, -s}, Vec{0, s, c}}
}

const degree = math.Pi / 180
