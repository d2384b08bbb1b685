package c3d

import (
	"fmt"
	"math"
	"strings"
)

// Plate is what one force platform measured, in the laboratory's axes. Every
// slice has one value an analog sample.
type Plate struct {
	Type    int
	RateHz  float64
	Corners [4][3]float64 // metres
	// Up is the unit vector out of the plate's working surface, away from the
	// ground.
	Up [3]float64
	// ForceN is the force of the ground on the foot, in newtons: along Up it is
	// positive while somebody stands on the plate.
	ForceN [][3]float64
	// MomentNM is the moment of that force about the middle of the working
	// surface, in newton metres.
	MomentNM [][3]float64
	// CentreM is the centre of pressure on the surface, in metres; NaN where the
	// force along Up is below MinLoadN.
	CentreM [][3]float64
	Notes   []string
}

// MinLoadN is the vertical force in newtons below which no centre of pressure is
// given: it is a moment divided by a force, and means nothing without load.
const MinLoadN = 20.0

type vec = [3]float64

func add(a, b vec) vec         { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func sub(a, b vec) vec         { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func mul(a vec, k float64) vec { return vec{a[0] * k, a[1] * k, a[2] * k} }
func dot(a, b vec) float64     { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func length(a vec) float64     { return math.Sqrt(dot(a, a)) }
func cross(a, b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// Plates works out the forces of every platform in the file; a file without
// platforms, or without the channels that would feed them, gives none.
// Types 1 (force with centre of pressure), 2 (six components) and 4 (six
// channels with a calibration matrix) are understood.
func (f *File) Plates() ([]Plate, error) {
	ps := f.params
	n := int(ps.number("FORCE_PLATFORM", "USED", 0))
	if n <= 0 || len(f.Analog) == 0 {
		return nil, nil
	}
	types := ps.list("FORCE_PLATFORM", "TYPE")
	corners := ps.list("FORCE_PLATFORM", "CORNERS")
	origins := ps.list("FORCE_PLATFORM", "ORIGIN")
	channels := ps["FORCE_PLATFORM:CHANNEL"]
	matrices := ps.list("FORCE_PLATFORM", "CAL_MATRIX")
	if len(types) < n || len(corners) < 12*n {
		return nil, fmt.Errorf("the file counts %d force platforms but describes %d types and %d corners: repair FORCE_PLATFORM in the laboratory's software and export again", n, len(types), len(corners)/3)
	}
	if len(channels.dims) == 0 || len(channels.numbers()) < channels.dims[0]*n {
		return nil, fmt.Errorf("FORCE_PLATFORM:CHANNEL does not name the channels of all %d force platforms: repair it and export again", n)
	}
	perPlate := channels.dims[0]
	numbers := channels.numbers()
	var out []Plate
	for i := range n {
		kind := int(types[i])
		if kind != 1 && kind != 2 && kind != 4 {
			return nil, fmt.Errorf("force platform %d is of type %d; types 1, 2 and 4 are read: export it as type 2 (three forces and three moments)", i+1, kind)
		}
		if perPlate < 6 {
			return nil, fmt.Errorf("force platform %d has %d channels, six are needed", i+1, perPlate)
		}
		p := platform{number: i + 1, kind: kind}
		for k := range 4 {
			for a := range 3 {
				p.corners[k][a] = corners[12*i+3*k+a] * f.pointUnitM
			}
		}
		if len(origins) >= 3*(i+1) {
			p.origin = mul(vec(origins[3*i:3*i+3]), f.pointUnitM)
		}
		for k := range 6 {
			c := int(numbers[perPlate*i+k]) - 1
			if c < 0 || c >= len(f.Analog) {
				return nil, fmt.Errorf("force platform %d uses analog channel %d, and the file has %d: repair FORCE_PLATFORM:CHANNEL and export again", i+1, c+1, len(f.Analog))
			}
			p.channels[k] = f.Analog[c]
		}
		if kind == 4 {
			if len(matrices) < 36*(i+1) {
				return nil, fmt.Errorf("force platform %d is of type 4, which needs a calibration matrix of 6 by 6, and FORCE_PLATFORM:CAL_MATRIX has none for it", i+1)
			}
			p.calibrate(matrices[36*i:36*i+36], strings.EqualFold(ps.text("FORCE_PLATFORM", "MATRIX_STORE"), "BYROW"))
		}
		plate, err := f.plate(p)
		if err != nil {
			return nil, err
		}
		out = append(out, plate)
	}
	f.settleSign(out)
	for i := range out {
		out[i].findCentre()
	}
	return out, nil
}

// platform is one platform as the file describes it, lengths in metres.
type platform struct {
	number   int
	kind     int
	corners  [4]vec
	origin   vec
	channels [6]Channel
	matrix   [6][6]float64 // row, column; type 4 only
}

// calibrate sets the matrix from its 36 stored numbers. By column (the format's
// habit, first index fastest) is the default.
func (p *platform) calibrate(m []float64, byRow bool) {
	for r := range 6 {
		for c := range 6 {
			if byRow {
				p.matrix[r][c] = m[6*r+c]
			} else {
				p.matrix[r][c] = m[6*c+r]
			}
		}
	}
}

// axes returns the plate's own axes in the laboratory: corner 1 lies at (+x,+y),
// corner 2 at (-x,+y), 3 at (-x,-y), 4 at (+x,-y), and z = x × y, which points
// into the ground on a plate set up as the format means it.
func (p *platform) axes() (x, y, z, centre vec, err error) {
	c := p.corners
	x = sub(add(c[0], c[3]), add(c[1], c[2]))
	y = sub(add(c[0], c[1]), add(c[2], c[3]))
	z = cross(x, y)
	if !(length(z) > 1e-4) {
		return x, y, z, centre, fmt.Errorf("the corners of force platform %d do not span a surface: repair FORCE_PLATFORM:CORNERS and export again", p.number)
	}
	z = mul(z, 1/length(z))
	x = mul(x, 1/length(x))
	y = cross(z, x)
	centre = mul(add(add(c[0], c[1]), add(c[2], c[3])), 0.25)
	return x, y, z, centre, nil
}

// plate turns the channels of p to forces and moments in the laboratory's axes.
func (f *File) plate(p platform) (Plate, error) {
	x, y, z, _, err := p.axes()
	if err != nil {
		return Plate{}, err
	}
	out := Plate{Type: p.kind, RateHz: f.AnalogRateHz, Corners: p.corners, Up: mul(z, -1)}
	n := len(p.channels[0].Values)
	out.ForceN, out.MomentNM = make([]vec, n), make([]vec, n)
	zero := f.baseline(p, &out)
	forceN := forceUnit(p.channels[2].Unit)
	momentNM, known := momentUnit(p.channels[3].Unit)
	if !known {
		momentNM = f.pointUnitM
	}
	if p.kind == 4 {
		// The matrix turns the channels, whatever their unit, to newtons and
		// newton times the point unit.
		forceN, momentNM = 1, f.pointUnitM
	}
	origin := p.origin
	if p.kind != 1 && origin[2] > 0 {
		// The vector runs from the sensor's origin to the middle of the surface,
		// so its z, downward, is negative; some laboratories store it reversed.
		origin = mul(origin, -1)
	}
	for k := range n {
		var v [6]float64
		for c := range 6 {
			v[c] = p.channels[c].Values[k] - zero[c]
		}
		if p.kind == 4 {
			v = times(p.matrix, v)
		}
		force := mul(vec{v[0], v[1], v[2]}, forceN)
		var moment vec
		if p.kind == 1 {
			// Channels 4 and 5 are the centre of pressure, 6 the free moment.
			at := sub(mul(vec{v[3], v[4], 0}, f.pointUnitM), vec{origin[0], origin[1], 0})
			unit, known := momentUnit(p.channels[5].Unit)
			if !known {
				unit = f.pointUnitM
			}
			moment = add(cross(at, force), vec{0, 0, v[5] * unit})
		} else {
			moment = sub(mul(vec{v[3], v[4], v[5]}, momentNM), cross(origin, force))
		}
		turn := func(v vec) vec { return add(add(mul(x, v[0]), mul(y, v[1])), mul(z, v[2])) }
		out.ForceN[k], out.MomentNM[k] = turn(force), turn(moment)
	}
	return out, nil
}

func times(m [6][6]float64, v [6]float64) (out [6]float64) {
	for r := range 6 {
		for c := range 6 {
			out[r] += m[r][c] * v[c]
		}
	}
	return out
}

// baseline returns what each channel reads unloaded, over the frames that
// FORCE_PLATFORM:ZERO names; zero where it names none. Where somebody stood on
// the plate in those frames the baseline would falsify the forces, so it is left
// out and the plate says so.
func (f *File) baseline(p platform, out *Plate) (zero [6]float64) {
	r := f.params.list("FORCE_PLATFORM", "ZERO")
	if len(r) < 2 || r[0] < 1 || r[1] < r[0] || r[1] > float64(f.Frames) {
		return zero
	}
	perFrame := len(p.channels[0].Values) / max(f.Frames, 1)
	from, to := (int(r[0])-1)*perFrame, int(r[1])*perFrame
	if from >= to {
		return zero
	}
	mean := func(v []float64) float64 {
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return sum / float64(len(v))
	}
	// The third channel is the vertical one, or nearly, in all three types.
	vertical := p.channels[2].Values
	least, most := math.Inf(1), math.Inf(-1)
	for _, v := range vertical {
		least, most = math.Min(least, v), math.Max(most, v)
	}
	at := mean(vertical[from:to])
	if math.Min(math.Abs(at-least), math.Abs(at-most)) > 0.15*(most-least) {
		out.Notes = append(out.Notes, fmt.Sprintf("force platform %d: the frames that FORCE_PLATFORM:ZERO names as unloaded carry load, so no baseline was taken off", p.number))
		return zero
	}
	last := 6
	if p.kind == 1 {
		last = 3 // a centre of pressure has no baseline
	}
	for c := range last {
		zero[c] = mean(p.channels[c].Values[from:to])
	}
	return zero
}

func forceUnit(unit string) float64 {
	if strings.EqualFold(unit, "kN") {
		return 1000
	}
	return 1
}

func momentUnit(unit string) (newtonMetres float64, known bool) {
	switch strings.ToLower(strings.NewReplacer(".", "", "*", "", " ", "", "-", "", "·", "").Replace(unit)) {
	case "nmm":
		return 1e-3, true
	case "ncm":
		return 1e-2, true
	case "nm":
		return 1, true
	}
	return 0, false
}

// settleSign makes the ground push upward. Laboratories store either the force
// of the ground on the foot or its reverse; the load itself tells which, for all
// plates at once. Up is on the side of the surface where the markers are.
func (f *File) settleSign(plates []Plate) {
	for i := range plates {
		p := &plates[i]
		above := 0
		for _, pt := range f.Points {
			for k := 0; k < f.Frames; k += 1 + f.Frames/50 {
				d := dot(sub(vec{pt.X[k], pt.Y[k], pt.Z[k]}, p.Corners[0]), p.Up)
				switch {
				case d > 0:
					above++
				case d < 0:
					above--
				}
			}
		}
		if above < 0 {
			p.Up = mul(p.Up, -1)
		}
	}
	push := 0.0
	for i := range plates {
		for _, v := range plates[i].ForceN {
			if d := dot(v, plates[i].Up); math.Abs(d) > MinLoadN {
				push += d
			}
		}
	}
	if push >= 0 {
		return
	}
	for i := range plates {
		p := &plates[i]
		for k := range p.ForceN {
			p.ForceN[k], p.MomentNM[k] = mul(p.ForceN[k], -1), mul(p.MomentNM[k], -1)
		}
		p.Notes = append(p.Notes, "the file stores the force of the foot on the platform; it was reversed")
	}
}

// findCentre works out the centre of pressure: the point c of the surface for
// which the moment less c × F has no part within the surface. With u the unit
// vector up and M the moment about the middle of the surface,
// c = u × M / (F·u).
func (p *Plate) findCentre() {
	c := p.Corners
	middle := mul(add(add(c[0], c[1]), add(c[2], c[3])), 0.25)
	p.CentreM = make([]vec, len(p.ForceN))
	nan := math.NaN()
	for k, force := range p.ForceN {
		load := dot(force, p.Up)
		if !(load >= MinLoadN) {
			p.CentreM[k] = vec{nan, nan, nan}
			continue
		}
		p.CentreM[k] = add(middle, mul(cross(p.Up, p.MomentNM[k]), 1/load))
	}
}
