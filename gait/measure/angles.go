package measure

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
)

const degPerRad = 180 / math.Pi

// AngleSeries is one quantity frame by frame, as long as the track's clock; NaN
// where a landmark it needs was not seen.
type AngleSeries struct {
	Name   string // as the curves: "knee_flexion"
	Title  string
	Side   body.Side // NoSide for the trunk and pelvis
	Unit   string
	Values []float64
}

// Angles returns the angles of a runner-space track frame by frame, those that
// the view can show: knee flexion, hip flexion, ankle dorsiflexion, thigh,
// shank, foot and trunk from the side; pelvic obliquity, hip adduction and the
// knee's frontal-plane angle from behind or in front. Foot and ankle angle are
// relative to the foot flat in mid-stance where there are contacts, and to the
// heel-toe line where there are none.
func Angles(t *track.Track, view clip.View, contacts event.Series) []AngleSeries {
	return (*Lines)(nil).Angles(t, view, contacts)
}

// Angles is as the function of that name, with what is known already. The values are
// shared and not to be changed.
func (l *Lines) Angles(t *track.Track, view clip.View, contacts event.Series) []AngleSeries {
	f := newFigure(t, view, l.keep())
	passes, _ := passesOf(contacts)
	f.flatten(passes)
	var out []AngleSeries
	for _, c := range curveKinds {
		sides := body.Sides[:]
		if c.midline {
			sides = []body.Side{body.NoSide}
		}
		for _, s := range sides {
			if v := c.of(f, s); v != nil {
				out = append(out, AngleSeries{Name: c.name, Title: c.title, Side: s, Unit: c.unitOf(f), Values: v})
			}
		}
	}
	return out
}

// figure is a track's points and angles frame by frame. Arrays indexed by side
// use body.Left and body.Right; nil where the view or landmarks do not allow the
// series.
type figure struct {
	clock
	t     *track.Track
	view  clip.View
	lines *kept.Store

	thigh, shank, foot     [3][]float64 // segment angles, sagittal, degrees
	knee, hip, ankle       [3][]float64 // joint angles, sagittal
	trunk                  []float64    // forward lean
	pelvicTilt             []float64    // anterior tilt of the PSIS-ASIS line
	hipFrom                string       // what hip flexion is relative to
	flat                   [3]float64   // foot angle when flat, NaN where not found
	pelvisX, pelvisY       []float64    // centre of the pelvis
	drop                   [3][]float64 // fall of the other side's pelvis, frontal
	dropFrom               []body.Landmark
	thighIn, shankIn       [3][]float64 // frontal segment angles, knee or ankle toward the midline positive
	hipIn, valgus          [3][]float64 // hip adduction, knee frontal-plane angle
	leanRight              []float64    // lateral trunk lean, positive to the right
	toeX, toeY, toeZ       [3][]float64
	pelvisFrom             pelvisSource
	massX, massY           []float64
	massFrom               string
	hipWidth, shoulderSpan float64 // medians, frontal, in the track's unit
}

// pelvisSource is which points stand for the centre of the pelvis.
type pelvisSource uint8

const (
	fromHips pelvisSource = iota
	fromSpines
	fromSacrum
)

// String names the points for a person.
func (p pelvisSource) String() string {
	switch p {
	case fromSpines:
		return "four bony points of the pelvis (front and back spines)"
	case fromSacrum:
		return "sacrum alone"
	}
	return "middle of the hips"
}

// x, y and z return a coordinate of a landmark, nil where there is none.
func (f *figure) x(l body.Landmark) []float64 {
	if p := f.t.Paths[l]; p != nil {
		return p.X
	}
	return nil
}

func (f *figure) y(l body.Landmark) []float64 {
	if p := f.t.Paths[l]; p != nil {
		return p.Y
	}
	return nil
}

func (f *figure) z(l body.Landmark) []float64 {
	if p := f.t.Paths[l]; p != nil {
		return p.Z
	}
	return nil
}

// middle returns the frame-wise mean of two series, nil where either is.
func middle(a, b []float64) []float64 {
	if a == nil || b == nil {
		return nil
	}
	out := make([]float64, len(a))
	for i := range out {
		out[i] = (a[i] + b[i]) / 2
	}
	return out
}

// combine returns fn of the series frame by frame, nil where one of them is.
func combine(fn func(a, b float64) float64, a, b []float64) []float64 {
	if a == nil || b == nil {
		return nil
	}
	out := make([]float64, len(a))
	for i := range out {
		out[i] = fn(a[i], b[i])
	}
	return out
}

// direction returns, in degrees, angle(dx, dy) of the line from one point to
// another.
func direction(fromX, fromY, toX, toY []float64, angle func(dx, dy float64) float64) []float64 {
	if fromX == nil || fromY == nil || toX == nil || toY == nil {
		return nil
	}
	out := make([]float64, len(fromX))
	for i := range out {
		out[i] = angle(toX[i]-fromX[i], toY[i]-fromY[i]) * degPerRad
	}
	return out
}

// The ways to read a line's direction.
func hanging(across, up float64) float64  { return math.Atan2(across, -up) } // from straight down
func standing(across, up float64) float64 { return math.Atan2(across, up) }  // from straight up
func lying(along, up float64) float64     { return math.Atan2(up, along) }   // from level

// middle, angle and join are middle, direction and combine, kept by how they are read.
func (f *figure) middle(a, b []float64) []float64 {
	return kept.Of(f.lines, "middle", func() []float64 { return middle(a, b) }, a, b)
}

func (f *figure) angle(how string, fromX, fromY, toX, toY []float64, read func(dx, dy float64) float64) []float64 {
	return kept.Of(f.lines, how, func() []float64 { return direction(fromX, fromY, toX, toY, read) }, fromX, fromY, toX, toY)
}

func (f *figure) join(how string, fn func(a, b float64) float64, a, b []float64) []float64 {
	return kept.Of(f.lines, how, func() []float64 { return combine(fn, a, b) }, a, b)
}

// wrap brings a difference of angles into (-180, 180].
func wrap(deg float64) float64 {
	switch {
	case deg > 180:
		return deg - 360
	case deg <= -180:
		return deg + 360
	}
	return deg
}

func difference(a, b float64) float64 { return wrap(a - b) }
func sum(a, b float64) float64        { return wrap(a + b) }

func newFigure(t *track.Track, view clip.View, lines *kept.Store) *figure {
	f := &figure{clock: clock{timeS: t.TimeS, rate: t.RateHz()}, t: t, view: view, lines: lines}
	f.flat = [3]float64{math.NaN(), math.NaN(), math.NaN()}
	f.toes()
	f.pelvisCentre()
	if view.Sagittal() {
		f.sagittal()
	}
	if view.Frontal() {
		f.frontal()
	}
	return f
}

// toes takes the toe landmark, or the middle of the metatarsal heads.
func (f *figure) toes() {
	for _, s := range body.Sides {
		toe, mt1, mt5 := body.LeftToe.On(s), body.LeftMT1.On(s), body.LeftMT5.On(s)
		pick := func(of func(body.Landmark) []float64) []float64 {
			for _, v := range [...][]float64{of(toe), f.middle(of(mt1), of(mt5)), of(mt5), of(mt1)} {
				if v != nil {
					return v
				}
			}
			return nil
		}
		f.toeX[s], f.toeY[s], f.toeZ[s] = pick(f.x), pick(f.y), pick(f.z)
	}
}

// pelvisCentre takes the four spines where they are, else the hips, else the
// sacrum.
func (f *figure) pelvisCentre() {
	spines := func(of func(body.Landmark) []float64) []float64 {
		return f.middle(f.middle(of(body.LeftASIS), of(body.RightASIS)), f.middle(of(body.LeftPSIS), of(body.RightPSIS)))
	}
	hips := func(of func(body.Landmark) []float64) []float64 {
		return f.middle(of(body.LeftHip), of(body.RightHip))
	}
	switch {
	case spines(f.y) != nil:
		f.pelvisX, f.pelvisY, f.pelvisFrom = spines(f.x), spines(f.y), fromSpines
	case hips(f.y) != nil:
		f.pelvisX, f.pelvisY, f.pelvisFrom = hips(f.x), hips(f.y), fromHips
	default:
		f.pelvisX, f.pelvisY, f.pelvisFrom = f.x(body.Sacrum), f.y(body.Sacrum), fromSacrum
	}
}

func (f *figure) sagittal() {
	shoulderX, shoulderY := f.middle(f.x(body.LeftShoulder), f.x(body.RightShoulder)), f.middle(f.y(body.LeftShoulder), f.y(body.RightShoulder))
	hipX, hipY := f.middle(f.x(body.LeftHip), f.x(body.RightHip)), f.middle(f.y(body.LeftHip), f.y(body.RightHip))
	f.trunk = f.angle("standing", hipX, hipY, shoulderX, shoulderY, standing)
	tip := func(along, up float64) float64 { return math.Atan2(-up, along) }
	f.pelvicTilt = f.angle("tip",
		f.middle(f.x(body.LeftPSIS), f.x(body.RightPSIS)), f.middle(f.y(body.LeftPSIS), f.y(body.RightPSIS)),
		f.middle(f.x(body.LeftASIS), f.x(body.RightASIS)), f.middle(f.y(body.LeftASIS), f.y(body.RightASIS)),
		tip)
	if f.pelvicTilt == nil {
		// One side's spines, as stickers in a side view show them.
		for _, s := range body.Sides {
			psis, asis := body.LeftPSIS.On(s), body.LeftASIS.On(s)
			if v := f.angle("tip", f.x(psis), f.y(psis), f.x(asis), f.y(asis), tip); v != nil {
				f.pelvicTilt = v
			}
		}
	}
	for _, s := range body.Sides {
		hip, knee, ankle, heel := body.LeftHip.On(s), body.LeftKnee.On(s), body.LeftAnkle.On(s), body.LeftHeel.On(s)
		f.thigh[s] = f.angle("hanging", f.x(hip), f.y(hip), f.x(knee), f.y(knee), hanging)
		f.shank[s] = f.angle("hanging", f.x(knee), f.y(knee), f.x(ankle), f.y(ankle), hanging)
		f.foot[s] = f.angle("lying", f.x(heel), f.y(heel), f.toeX[s], f.toeY[s], lying)
		f.knee[s] = f.join("difference", difference, f.thigh[s], f.shank[s])
		f.ankle[s] = f.join("difference", difference, f.foot[s], f.shank[s])
		switch {
		case f.thigh[s] == nil:
		case f.pelvicTilt != nil:
			f.hip[s], f.hipFrom = f.join("sum", sum, f.thigh[s], f.pelvicTilt), "relative to the pelvis (line of the spines)"
		case f.trunk != nil:
			f.hip[s], f.hipFrom = f.join("sum", sum, f.thigh[s], f.trunk), "relative to the trunk"
		default:
			f.hip[s], f.hipFrom = f.thigh[s], "relative to the vertical"
		}
	}
}

func (f *figure) frontal() {
	pairs := [][2]body.Landmark{{body.LeftPSIS, body.RightPSIS}, {body.LeftASIS, body.RightASIS}, {body.LeftHip, body.RightHip}}
	for _, p := range pairs {
		lz, ly, rz, ry := f.z(p[0]), f.y(p[0]), f.z(p[1]), f.y(p[1])
		if lz == nil || rz == nil || ly == nil || ry == nil {
			continue
		}
		tilt := func(y, otherY []float64) []float64 {
			return kept.Of(f.lines, "tilt", func() []float64 {
				out := make([]float64, len(y))
				for i := range y {
					out[i] = math.Atan2(y[i]-otherY[i], math.Abs(lz[i]-rz[i])) * degPerRad
				}
				return out
			}, y, otherY, lz, rz)
		}
		f.drop[body.Left], f.drop[body.Right], f.dropFrom = tilt(ly, ry), tilt(ry, ly), p[:]
		break
	}
	span := func(a, b body.Landmark) float64 {
		if f.z(a) == nil || f.z(b) == nil {
			return math.NaN()
		}
		return median(combine(func(p, q float64) float64 { return math.Abs(p - q) }, f.z(a), f.z(b)))
	}
	f.hipWidth = span(body.LeftHip, body.RightHip)
	f.shoulderSpan = span(body.LeftShoulder, body.RightShoulder)
	f.leanRight = f.angle("standing",
		f.middle(f.z(body.LeftHip), f.z(body.RightHip)), f.middle(f.y(body.LeftHip), f.y(body.RightHip)),
		f.middle(f.z(body.LeftShoulder), f.z(body.RightShoulder)), f.middle(f.y(body.LeftShoulder), f.y(body.RightShoulder)), standing)
	for _, s := range body.Sides {
		inward := func(across, up float64) float64 { return math.Atan2(-s.Sign()*across, -up) }
		hip, knee, ankle := body.LeftHip.On(s), body.LeftKnee.On(s), body.LeftAnkle.On(s)
		how := "inward " + s.String()
		f.thighIn[s] = f.angle(how, f.z(hip), f.y(hip), f.z(knee), f.y(knee), inward)
		f.shankIn[s] = kept.Of(f.lines, how+", seen", func() []float64 {
			v := direction(f.z(knee), f.y(knee), f.z(ankle), f.y(ankle), inward)
			f.foreshortened(v, knee, ankle)
			return v
		}, f.z(knee), f.y(knee), f.z(ankle), f.y(ankle))
		f.valgus[s] = f.join("difference", difference, f.thighIn[s], f.shankIn[s])
		f.hipIn[s] = f.join("sum", sum, f.thighIn[s], f.drop[s])
	}
}

// foreshortened blanks a frontal segment angle where the segment points so far
// along the line of sight that less than half of its length is seen: the shank
// in swing. Its direction in the picture means nothing there.
func (f *figure) foreshortened(angle []float64, from, to body.Landmark) {
	if angle == nil {
		return
	}
	seen := combine(math.Hypot,
		combine(func(a, b float64) float64 { return b - a }, f.z(from), f.z(to)),
		combine(func(a, b float64) float64 { return b - a }, f.y(from), f.y(to)))
	long := make([]float64, 0, len(seen))
	for _, v := range seen {
		if !math.IsNaN(v) {
			long = append(long, v)
		}
	}
	if len(long) == 0 {
		return
	}
	slices.Sort(long)
	whole := long[len(long)*9/10]
	for i, v := range seen {
		if v < 0.5*whole {
			angle[i] = math.NaN()
		}
	}
}

// The foot lies flat from a fifth to a third of stance: by then the heel of every
// strike is down and none has begun to rise. On the 36 feet of the open treadmill
// data (six runners of all three strikes at three speeds) the foot's angle there
// is that of standing within -0.4 ± 0.8 degrees.
const (
	flatFrom = 0.20
	flatTo   = 0.32
)

// flatten makes foot and ankle angles relative to the foot when it lies flat in
// mid-stance, the median over all contacts: the heel and toe points do not lie on
// the sole, and no two origins place them alike.
func (f *figure) flatten(passes []pass) {
	for _, s := range body.Sides {
		if f.foot[s] == nil {
			continue
		}
		var v []float64
		for _, p := range passes {
			if p.side == s {
				v = append(v, f.mean(f.foot[s], p.during(flatFrom), p.during(flatTo)))
			}
		}
		f.flat[s] = median(v)
		if math.IsNaN(f.flat[s]) {
			continue
		}
		for _, of := range [...]*[]float64{&f.foot[s], &f.ankle[s]} {
			*of = slices.Clone(*of)
			for i, v := range *of {
				(*of)[i] = wrap(v - f.flat[s])
			}
		}
	}
}
