package synth

import "math"

// jet is a quantity with its first and second derivative in time, so that swing
// curves can leave the stance with exactly its value, speed and acceleration.
type jet struct{ v, d, dd float64 }

func constant(v float64) jet { return jet{v: v} }

func (a jet) add(b jet) jet       { return jet{a.v + b.v, a.d + b.d, a.dd + b.dd} }
func (a jet) sub(b jet) jet       { return jet{a.v - b.v, a.d - b.d, a.dd - b.dd} }
func (a jet) scale(k float64) jet { return jet{a.v * k, a.d * k, a.dd * k} }
func (a jet) mul(b jet) jet {
	return jet{a.v * b.v, a.d*b.v + a.v*b.d, a.dd*b.v + 2*a.d*b.d + a.v*b.dd}
}

// through applies a function whose value and derivatives at a.v are f, f1, f2.
func (a jet) through(f, f1, f2 float64) jet {
	return jet{f, f1 * a.d, f1*a.dd + f2*a.d*a.d}
}

func (a jet) sincos() (sin, cos jet) {
	s, c := math.Sincos(a.v)
	return a.through(s, c, -s), a.through(c, -s, -c)
}

func (a jet) acos() jet {
	w := 1 - a.v*a.v
	r := math.Sqrt(w)
	return a.through(math.Acos(a.v), -1/r, -a.v/(w*r))
}

// atan2 is the angle of the point (x, y) whose derivative is
// (x dy - y dx)/(x² + y²).
func atan2(y, x jet) jet {
	n := x.mul(x).add(y.mul(y))
	// d = (x y' - y x')/n ; differentiate once more.
	num := x.v*y.d - y.v*x.d
	dnum := x.v*y.dd - y.v*x.dd
	return jet{math.Atan2(y.v, x.v), num / n.v, (dnum - num*n.d/n.v) / n.v}
}
