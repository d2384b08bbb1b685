package measure

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
	"gaitwright/num/signal"
)

// curveKind is one curve of the stride and the frame-wise series it is cut from.
type curveKind struct {
	name, title string
	unit        string // empty for the track's own unit of length
	midline     bool   // of the whole body; still cut by each side's strides
	centred     bool   // given about its mean over the stride
	broken      bool   // may have holes: seen for part of the stride only
	pelvisLine  bool   // rests on the line across the pelvis seen from behind
	series      func(f *figure, s body.Side) []float64
}

// whole is how many of the first hundred points a stride must have.
func (k curveKind) whole() float64 {
	if k.broken {
		return 30
	}
	return 100
}

func (k curveKind) unitOf(f *figure) string {
	if k.unit != "" {
		return k.unit
	}
	return f.t.Unit.String()
}

var curveKinds = []curveKind{
	{name: "knee_flexion", title: "Knee flexion", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.knee[s] }},
	{name: "hip_flexion", title: "Hip flexion", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.hip[s] }},
	{name: "ankle_dorsiflexion", title: "Ankle dorsiflexion", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.ankle[s] }},
	{name: "thigh_angle", title: "Thigh angle", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.thigh[s] }},
	{name: "shank_angle", title: "Shank angle", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.shank[s] }},
	{name: "foot_angle", title: "Foot angle", unit: "deg", series: func(f *figure, s body.Side) []float64 { return f.foot[s] }},
	{name: "trunk_lean", title: "Trunk lean", unit: "deg", midline: true, series: func(f *figure, _ body.Side) []float64 { return f.trunk }},
	{name: "pelvic_tilt", title: "Pelvic tilt", unit: "deg", midline: true, series: func(f *figure, _ body.Side) []float64 { return f.pelvicTilt }},
	{name: "pelvis_height", title: "Rise and fall", midline: true, centred: true, series: func(f *figure, _ body.Side) []float64 { y, _, _ := f.rising(); return y }},
	{name: "pelvic_obliquity", title: "Drop of the other side of the pelvis", unit: "deg", pelvisLine: true, series: func(f *figure, s body.Side) []float64 { return f.drop[s] }},
	{name: "hip_adduction", title: "Hip adduction", unit: "deg", pelvisLine: true, series: func(f *figure, s body.Side) []float64 { return f.hipIn[s] }},
	{name: "knee_frontal_angle", title: "Knee angle seen from behind", unit: "deg", broken: true, series: func(f *figure, s body.Side) []float64 { return f.valgus[s] }},
}

// of returns the frame-wise series of one side, nil where it cannot be had. The
// line across the pelvis is not drawn from a pose model's hip points: on a
// rendered runner they showed -1 degree where the pelvis dropped 6.
func (k curveKind) of(f *figure, s body.Side) []float64 {
	if k.pelvisLine && f.drop[s] != nil && f.t.Paths[f.dropFrom[0]].Origin == track.PoseModel {
		return nil
	}
	return k.series(f, s)
}

// CurveTitle returns the title of a curve or frame-wise series by its name, or
// the name itself where it is not known.
func CurveTitle(name string) string {
	for _, k := range curveKinds {
		if k.name == name {
			return k.title
		}
	}
	return name
}

// oddCurve is how many times the median distance from the median curve a stride
// may lie before it is left out.
const oddCurve = 3

// curves cuts every series by the strides of each side and averages them, odd
// strides left out. It needs two strides.
func (c *reading) curves() []Curve {
	var out []Curve
	for _, kind := range curveKinds {
		for _, s := range body.Sides {
			v := kind.of(c.figure, s)
			if v == nil {
				continue
			}
			k := kept.Of(c.lines, fmt.Sprintf("curve %s %s", kind.name, s), func() (k cut) {
				k.curve, k.dropped, k.ok = c.curve(kind, s, v)
				return k
			}, v, c.beats)
			if k.dropped > 0 {
				c.odd[s] = max(c.odd[s], k.dropped)
			}
			if k.ok {
				out = append(out, k.curve)
			}
		}
	}
	return out
}

// cut is a curve, how many strides of an odd shape were left out of it, and whether
// there are enough others.
type cut struct {
	curve   Curve
	dropped int
	ok      bool
}

func (c *reading) curve(kind curveKind, s body.Side, v []float64) (Curve, int, bool) {
	var rows [][101]float64
	var toeOff []float64
	whole := func(p pass) bool { return p.side == s && !math.IsNaN(p.stride) }
	places := c.places("strides "+s.String(), 101, whole, func(p pass, k int) float64 { return p.ic + p.strideS()*float64(k)/100 })
	for _, p := range c.passes {
		if !whole(p) {
			continue
		}
		var row [101]float64
		total, seen := 0.0, 0
		for i := range row {
			row[i] = places[i].in(v)
			if !math.IsNaN(row[i]) && i < 100 {
				total += row[i]
				seen++
			}
		}
		places = places[len(row):]
		if float64(seen) < kind.whole() {
			continue
		}
		if kind.centred {
			for i := range row {
				row[i] -= total / float64(seen)
			}
		}
		rows = append(rows, row)
		toeOff = append(toeOff, 100*p.contactS()/p.strideS())
	}
	dropped := 0
	if len(rows) >= 6 {
		var centre [101]float64
		column := make([]float64, len(rows))
		for i := range centre {
			for k := range rows {
				column[k] = rows[k][i]
			}
			centre[i] = signal.MedianInPlace(column)
		}
		distance := make([]float64, len(rows))
		for k, row := range rows {
			total, seen := 0.0, 0
			for i := range row {
				if d := row[i] - centre[i]; !math.IsNaN(d) {
					total += d * d
					seen++
				}
			}
			distance[k] = math.Sqrt(total / float64(seen))
		}
		limit := oddCurve * median(distance)
		keptRows, keptToeOff := rows[:0:0], toeOff[:0:0]
		for k := range rows {
			if distance[k] > limit && limit > 0 {
				dropped++
				continue
			}
			keptRows, keptToeOff = append(keptRows, rows[k]), append(keptToeOff, toeOff[k])
		}
		rows, toeOff = keptRows, keptToeOff
	}
	out := Curve{Name: kind.name, Side: s, Unit: kind.unitOf(c.figure), Strides: len(rows)}
	if len(rows) < 2 {
		return out, dropped, false
	}
	for i := range out.Mean {
		total, ss, n := 0.0, 0.0, 0
		for _, row := range rows {
			if !math.IsNaN(row[i]) {
				total += row[i]
				n++
			}
		}
		if n < 2 || 2*n < len(rows) {
			out.Mean[i], out.SD[i] = math.NaN(), math.NaN()
			continue
		}
		out.Mean[i] = total / float64(n)
		for _, row := range rows {
			if !math.IsNaN(row[i]) {
				ss += (row[i] - out.Mean[i]) * (row[i] - out.Mean[i])
			}
		}
		out.SD[i] = math.Sqrt(ss / float64(n-1))
	}
	for _, t := range toeOff {
		out.ToeOff += t / float64(len(rows))
	}
	return out, dropped, true
}

// oddWarning says how many strides the curves left out.
func (c *reading) oddWarning() string {
	if n := slices.Max(c.odd[:]); n > 0 {
		return fmt.Sprintf("%s of an odd shape (left %d, right %d at most) left out of the curves.", plural(n, "stride", "strides"), c.odd[body.Left], c.odd[body.Right])
	}
	return ""
}
