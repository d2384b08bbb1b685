package synth

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
)

// Exact is the exact answer of one measure.
type Exact struct {
	Name   string // as in the catalogue of measures
	Side   body.Side
	Value  float64
	SD     float64   // between strides; NaN for fewer than two
	Values []float64 // stride by stride, in order of time
}

// Truth is all that can be measured of a runner, exactly: from the model's own
// state at the exact instants, by the definitions of the catalogue, but through
// none of the code that measures clips.
type Truth struct {
	// Contacts are those that lie wholly between the times asked for.
	Contacts event.Series
	rows     []Exact
}

// Value returns the exact mean of a measure; ok is false where it has none for
// that side (NoSide for measures of both feet together).
func (t *Truth) Value(name string, side body.Side) (value float64, ok bool) {
	for _, e := range t.rows {
		if e.Name == name && e.Side == side {
			return e.Value, true
		}
	}
	return math.NaN(), false
}

// All returns every exact measure.
func (t *Truth) All() []Exact { return slices.Clone(t.rows) }

// Contacts returns the exact contacts that lie wholly between two times (s).
func (r *Runner) Contacts(fromS, toS float64) event.Series {
	out := event.Series{Method: event.FromForce, Rule: "known exactly: contacts of the synthetic runner"}
	for _, f := range r.falls {
		if f.contactS >= fromS && f.toeOffS <= toS {
			out.Contacts = append(out.Contacts, event.Contact{Side: f.side, InitialContactS: f.contactS, ToeOffS: f.toeOffS})
		}
	}
	return out
}

// See says from which points the pelvis is known: stickers on its spines, or the
// hip joints alone. Hip angles, pelvic tilt and the centre of the pelvis follow.
type See uint8

// The ways to know the pelvis.
const (
	HipPoints See = iota
	Spines
)

// moment is the runner at one instant, as the measures need it.
type moment struct {
	pts [body.NumLandmarks]Vec
	com Vec
}

// stride is one contact with its neighbours inside the clip; NaN where there is
// none.
type stride struct {
	*footfall
	prev, next, again float64
	stance, swing     []moment // sampled evenly from contact to toe-off, and on to the next contact
}

// shares is the number of intervals of a sampled stance or swing.
const shares = 100

// bench works the truth out.
type bench struct {
	r       *Runner
	see     See
	strides []stride
	rows    []Exact
	flat    float64 // heel-to-toe line of the flat foot, degrees
}

// Truth returns the exact measures of the stretch between two times (s, within
// the runner's duration).
func (r *Runner) Truth(fromS, toS float64, see See) *Truth {
	b := &bench{r: r, see: see, flat: math.Atan2(r.shoe.toeH-r.shoe.heelH, r.shoe.length) / degree}
	inside := func(k int) bool {
		return k >= 0 && k < len(r.falls) && r.falls[k].contactS >= fromS && r.falls[k].toeOffS <= toS
	}
	at := func(k int) float64 {
		if inside(k) {
			return r.falls[k].contactS
		}
		return math.NaN()
	}
	for k := range r.falls {
		if !inside(k) {
			continue
		}
		s := stride{footfall: &r.falls[k], prev: at(k - 1), next: at(k + 1), again: at(k + 2)}
		s.stance = b.sample(s.contactS, s.toeOffS)
		if !math.IsNaN(s.again) {
			s.swing = b.sample(s.toeOffS, s.again)
		}
		b.strides = append(b.strides, s)
	}
	b.times()
	b.lengths()
	b.sagittal()
	b.frontal()
	b.upper()
	return &Truth{Contacts: r.Contacts(fromS, toS), rows: b.rows}
}

func (b *bench) sample(from, to float64) []moment {
	out := make([]moment, shares+1)
	for i := range out {
		p := b.r.At(from + (to-from)*float64(i)/shares)
		out[i] = moment{p.landmarks(), p.centreOfMass(b.r.p.Female)}
	}
	return out
}

// put records a measure from its values, leaving out NaN.
func (b *bench) put(name string, side body.Side, values []float64) {
	v := slices.DeleteFunc(slices.Clone(values), math.IsNaN)
	if len(v) == 0 {
		return
	}
	m, sd := meanSD(v)
	b.rows = append(b.rows, Exact{name, side, m, sd, v})
}

func meanSD(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean)
	}
	return mean, math.Sqrt(sd / float64(len(v)-1))
}

// each returns fn of every stride of a side, NoSide for all.
func (b *bench) each(side body.Side, fn func(s *stride) float64) []float64 {
	var out []float64
	for i := range b.strides {
		if s := &b.strides[i]; side == body.NoSide || s.side == side {
			out = append(out, fn(s))
		}
	}
	return out
}

// sided records a measure for each side.
func (b *bench) sided(name string, fn func(s *stride) float64) {
	for _, side := range body.Sides {
		b.put(name, side, b.each(side, fn))
	}
}

func (b *bench) times() {
	step := func(s *stride) float64 { return s.contactS - s.prev }
	steps := slices.DeleteFunc(b.each(body.NoSide, step), math.IsNaN)
	if len(steps) > 0 {
		mean, _ := meanSD(steps)
		rates := make([]float64, len(steps))
		for i, t := range steps {
			rates[i] = 60 / t
		}
		_, sd := meanSD(rates)
		b.rows = append(b.rows, Exact{"step_rate", body.NoSide, 60 / mean, sd, rates})
	}
	again := func(s *stride) float64 { return s.again - s.contactS }
	b.sided("step_time", step)
	b.sided("stride_time", again)
	b.sided("contact_time", (*stride).stanceS)
	b.sided("flight_time", func(s *stride) float64 { return s.next - s.toeOffS })
	b.sided("duty_factor", func(s *stride) float64 { return s.stanceS() / again(s) })
	b.sided("stance_share", func(s *stride) float64 { return 100 * s.stanceS() / again(s) })
	b.sided("swing_share", func(s *stride) float64 { return 100 - 100*s.stanceS()/again(s) })
	whole := func(name string, v float64) {
		if !math.IsNaN(v) {
			b.rows = append(b.rows, Exact{name, body.NoSide, v, math.NaN(), []float64{v}})
		}
	}
	clean := func(side body.Side, fn func(s *stride) float64) (mean, sd float64) {
		return meanSD(slices.DeleteFunc(b.each(side, fn), math.IsNaN))
	}
	index := func(fn func(s *stride) float64) float64 {
		l, _ := clean(body.Left, fn)
		r, _ := clean(body.Right, fn)
		return 100 * (r - l) / ((r + l) / 2)
	}
	ml, sl := clean(body.Left, step)
	mr, sr := clean(body.Right, step)
	whole("step_time_variability", 100*math.Sqrt((sl*sl+sr*sr)/2)/((ml+mr)/2))
	whole("step_time_asymmetry", index(step))
	whole("contact_time_asymmetry", index((*stride).stanceS))
}

// The pelvis' centre and forward tilt by what is seen of it.
func (b *bench) pelvis(m *moment) Vec {
	if b.see == Spines {
		return m.pts[body.LeftASIS].add(m.pts[body.RightASIS]).add(m.pts[body.LeftPSIS]).add(m.pts[body.RightPSIS]).mul(0.25)
	}
	return m.pts[body.LeftHip].lerp(m.pts[body.RightHip], 0.5)
}

func tilt(m *moment) float64 {
	front, back := m.pts[body.LeftASIS].lerp(m.pts[body.RightASIS], 0.5), m.pts[body.LeftPSIS].lerp(m.pts[body.RightPSIS], 0.5)
	return math.Atan2(back.Y-front.Y, front.X-back.X) / degree
}

func trunkLean(m *moment) float64 {
	d := m.pts[body.LeftShoulder].add(m.pts[body.RightShoulder]).sub(m.pts[body.LeftHip]).sub(m.pts[body.RightHip])
	return math.Atan2(d.X, d.Y) / degree
}

// ahead is the sagittal angle of the line from one point down to another, from
// straight down, forward positive.
func ahead(from, to Vec) float64 { return math.Atan2(to.X-from.X, from.Y-to.Y) / degree }

// inside is the frontal angle of that line, toward the midline positive.
func inside(from, to Vec, s body.Side) float64 {
	return math.Atan2(-s.Sign()*(to.Z-from.Z), from.Y-to.Y) / degree
}

// limbs are the angles of one leg at a moment.
type limbs struct{ thigh, shank, knee, hip, foot, ankle float64 }

func (b *bench) limbs(m *moment, s body.Side) limbs {
	at := func(l body.Landmark) Vec { return m.pts[l.On(s)] }
	var a limbs
	a.thigh, a.shank = ahead(at(body.LeftHip), at(body.LeftKnee)), ahead(at(body.LeftKnee), at(body.LeftAnkle))
	a.knee = turn(a.thigh - a.shank)
	a.hip = a.thigh + trunkLean(m)
	if b.see == Spines {
		a.hip = a.thigh + tilt(m)
	}
	heel, toe := at(body.LeftHeel), at(body.LeftToe)
	a.foot = turn(math.Atan2(toe.Y-heel.Y, toe.X-heel.X)/degree - b.flat)
	a.ankle = turn(a.foot - a.shank)
	return a
}

func turn(deg float64) float64 { return math.Remainder(deg, 360) }

// typical reads every stride of a side where the median curve over its strides
// is at its largest between two shares of the sampled stretch.
func (b *bench) typical(side body.Side, stretch func(s *stride) []moment, a, z float64, fn func(m *moment, s body.Side) float64) []float64 {
	var curves [][]float64
	for i := range b.strides {
		s := &b.strides[i]
		if ms := stretch(s); ms != nil && (side == body.NoSide || s.side == side) {
			c := make([]float64, len(ms))
			for k := range ms {
				c[k] = fn(&ms[k], s.side)
			}
			curves = append(curves, c)
		}
	}
	if len(curves) == 0 {
		return nil
	}
	n := len(curves[0]) - 1
	best, at := math.Inf(-1), 0
	column := make([]float64, len(curves))
	for k := int(math.Ceil(a * float64(n))); k <= int(z*float64(n)); k++ {
		for i, c := range curves {
			column[i] = c[k]
		}
		slices.Sort(column)
		mid := (column[len(column)/2] + column[(len(column)-1)/2]) / 2
		if mid > best {
			best, at = mid, k
		}
	}
	out := make([]float64, len(curves))
	for i, c := range curves {
		out[i] = c[at]
	}
	return out
}

func inStance(s *stride) []moment { return s.stance }
func inSwing(s *stride) []moment  { return s.swing }

// over is the mean of a quantity over part of a sampled stretch, by trapezia.
func over(ms []moment, a, z float64, fn func(m *moment) float64) float64 {
	if ms == nil {
		return math.NaN()
	}
	i, j := int(a*shares+0.5), int(z*shares+0.5)
	sum := (fn(&ms[i]) + fn(&ms[j])) / 2
	for k := i + 1; k < j; k++ {
		sum += fn(&ms[k])
	}
	return sum / float64(j-i)
}

// overStride is the mean over a whole stride.
func (s *stride) overStride(fn func(m *moment) float64) float64 {
	if s.swing == nil {
		return math.NaN()
	}
	a, z := s.stanceS(), s.again-s.toeOffS
	return (a*over(s.stance, 0, 1, fn) + z*over(s.swing, 0, 1, fn)) / (a + z)
}

func (b *bench) lengths() {
	v := b.r.p.SpeedMPS
	b.sided("step_length", func(s *stride) float64 { return v * (s.contactS - s.prev) })
	heel := func(s *stride) Vec { return s.stance[0].pts[body.LeftHeel.On(s.side)] }
	b.sided("overstride", func(s *stride) float64 { return heel(s).X - b.pelvis(&s.stance[0]).X })
	b.sided("heel_to_com_at_contact", func(s *stride) float64 {
		return (heel(s).X - s.stance[0].com.X) / b.r.p.LegLengthM
	})
	b.rise("vertical_oscillation", func(m *moment) float64 { return b.pelvis(m).Y })
	b.rise("com_vertical_excursion", func(m *moment) float64 { return m.com.Y })
}

// rise records how far a height goes up and down in a step, read at the typical
// highest and lowest moments.
func (b *bench) rise(name string, height func(m *moment) float64) {
	steps := make(map[*stride][]moment)
	stretch := func(s *stride) []moment {
		if math.IsNaN(s.next) {
			return nil
		}
		if steps[s] == nil {
			steps[s] = b.sample(s.contactS, s.next)
		}
		return steps[s]
	}
	high := b.typical(body.NoSide, stretch, 0, 1, func(m *moment, _ body.Side) float64 { return height(m) })
	low := b.typical(body.NoSide, stretch, 0, 1, func(m *moment, _ body.Side) float64 { return -height(m) })
	for i := range high {
		high[i] += low[i]
	}
	b.put(name, body.NoSide, high)
}

func (b *bench) sagittal() {
	first := func(of func(a limbs) float64) func(s *stride) float64 {
		return func(s *stride) float64 { return of(b.limbs(&s.stance[0], s.side)) }
	}
	last := func(of func(a limbs) float64) func(s *stride) float64 {
		return func(s *stride) float64 { return of(b.limbs(&s.stance[shares], s.side)) }
	}
	peak := func(name string, stretch func(s *stride) []moment, a, z float64, of func(a limbs) float64) {
		for _, side := range body.Sides {
			b.put(name, side, b.typical(side, stretch, a, z, func(m *moment, s body.Side) float64 { return of(b.limbs(m, s)) }))
		}
	}
	knee := func(a limbs) float64 { return a.knee }
	ankle := func(a limbs) float64 { return a.ankle }
	b.sided("foot_angle_at_contact", first(func(a limbs) float64 { return a.foot }))
	b.sided("shank_angle_at_contact", first(func(a limbs) float64 { return a.shank }))
	b.sided("knee_flexion_at_contact", first(knee))
	peak("knee_flexion_peak_stance", inStance, 0.1, 0.9, knee)
	for _, side := range body.Sides {
		most := b.typical(side, inStance, 0.1, 0.9, func(m *moment, s body.Side) float64 { return b.limbs(m, s).knee })
		for i, v := range b.each(side, first(knee)) {
			most[i] -= v
		}
		b.put("knee_flexion_excursion", side, most)
	}
	peak("knee_flexion_peak_swing", inSwing, 0.05, 0.9, knee)
	b.sided("hip_flexion_at_contact", first(func(a limbs) float64 { return a.hip }))
	b.sided("hip_extension_at_toe_off", last(func(a limbs) float64 { return a.hip }))
	b.sided("thigh_angle_at_toe_off", last(func(a limbs) float64 { return a.thigh }))
	b.sided("ankle_dorsiflexion_at_contact", first(ankle))
	peak("ankle_dorsiflexion_peak", inStance, 0.2, 0.95, ankle)
	b.sided("knee_flexion_at_toe_off", last(knee))
	b.sided("ankle_dorsiflexion_at_toe_off", last(ankle))
	b.sided("triple_extension", last(func(a limbs) float64 { return -(a.hip + a.knee + a.ankle) }))
	b.put("trunk_lean", body.NoSide, b.each(body.NoSide, func(s *stride) float64 { return over(s.stance, 0, 1, trunkLean) }))
	if b.see == Spines {
		b.put("pelvic_tilt", body.NoSide, b.each(body.NoSide, func(s *stride) float64 { return s.overStride(tilt) }))
		b.put("lumbar_curve", body.NoSide, b.each(body.NoSide, func(s *stride) float64 {
			return s.overStride(func(m *moment) float64 {
				d := m.pts[body.Thoracolumbar].sub(m.pts[body.Lumbosacral])
				return tilt(m) - math.Atan2(d.X, d.Y)/degree
			})
		}))
	}
}

// drop is how much lower the other side of the pelvis is.
func (b *bench) drop(m *moment, s body.Side) float64 {
	l := body.LeftHip
	if b.see == Spines {
		l = body.LeftPSIS
	}
	own, other := m.pts[l.On(s)], m.pts[l.On(s.Other())]
	return math.Atan2(own.Y-other.Y, math.Abs(own.Z-other.Z)) / degree
}

func (b *bench) frontal() {
	peak := func(name string, a, z float64, fn func(m *moment, s body.Side) float64) {
		for _, side := range body.Sides {
			b.put(name, side, b.typical(side, inStance, a, z, fn))
		}
	}
	middle := func(name string, fn func(m *moment, s body.Side) float64) {
		b.sided(name, func(s *stride) float64 {
			return over(s.stance, 0.4, 0.6, func(m *moment) float64 { return fn(m, s.side) })
		})
	}
	thigh := func(m *moment, s body.Side) float64 {
		return inside(m.pts[body.LeftHip.On(s)], m.pts[body.LeftKnee.On(s)], s)
	}
	peak("pelvic_drop", 0.1, 0.9, b.drop)
	peak("hip_adduction", 0.1, 0.9, func(m *moment, s body.Side) float64 { return thigh(m, s) + b.drop(m, s) })
	peak("thigh_adduction", 0.1, 0.9, thigh)
	middle("knee_frontal_angle", func(m *moment, s body.Side) float64 {
		return thigh(m, s) - inside(m.pts[body.LeftKnee.On(s)], m.pts[body.LeftAnkle.On(s)], s)
	})
	hips, shoulders := b.span(body.LeftHip), b.span(body.LeftShoulder)
	middle("knee_separation", func(m *moment, _ body.Side) float64 {
		return (m.pts[body.RightKnee].Z - m.pts[body.LeftKnee].Z) / hips
	})
	var widths, crossed []float64
	for i := range b.strides {
		s := &b.strides[i]
		if i == 0 || math.IsNaN(s.prev) {
			continue
		}
		before := &b.strides[i-1]
		w := s.side.Sign()*s.stance[shares/2].pts[body.LeftHeel.On(s.side)].Z + before.side.Sign()*before.stance[shares/2].pts[body.LeftHeel.On(before.side)].Z
		widths = append(widths, w)
		c := 0.0
		if w < 0 {
			c = 100
		}
		crossed = append(crossed, c)
	}
	b.put("step_width", body.NoSide, widths)
	b.put("crossover_share", body.NoSide, crossed)
	b.whip()
	peak("rearfoot_eversion", 0.1, 0.8, func(m *moment, s body.Side) float64 {
		return inside(m.pts[body.LeftHeelTop.On(s)], m.pts[body.LeftHeelBottom.On(s)], s.Other()) -
			inside(m.pts[body.LeftShankTop.On(s)], m.pts[body.LeftShankBottom.On(s)], s.Other())
	})
	middle("lateral_trunk_lean", func(m *moment, s body.Side) float64 {
		d := m.pts[body.LeftShoulder].add(m.pts[body.RightShoulder]).sub(m.pts[body.LeftHip]).sub(m.pts[body.RightHip])
		return s.Sign() * math.Atan2(d.Z, d.Y) / degree
	})
	for _, side := range body.Sides {
		v := b.typical(side, inStride, 0, 1, func(m *moment, s body.Side) float64 {
			centre := (m.pts[body.LeftShoulder].Z + m.pts[body.RightShoulder].Z + m.pts[body.LeftHip].Z + m.pts[body.RightHip].Z) / 4
			return -s.Sign() * (m.pts[body.LeftWrist.On(s)].Z - centre) / (shoulders / 2)
		})
		b.put("arm_cross", side, v)
	}
}

func inStride(s *stride) []moment {
	if s.swing == nil {
		return nil
	}
	return append(slices.Clone(s.stance), s.swing[1:]...)
}

// span is the median distance across between the two points of a pair.
func (b *bench) span(l body.Landmark) float64 {
	var d []float64
	for i := range b.strides {
		for _, m := range inStride(&b.strides[i]) {
			d = append(d, math.Abs(m.pts[l].Z-m.pts[l.On(body.Right)].Z))
		}
	}
	if len(d) == 0 {
		return math.NaN()
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// whip is the largest change, in the first third of swing, of the heel-to-toe
// line seen from behind from where it was at toe-off, while the foot hangs at
// least half as steeply.
func (b *bench) whip() {
	const until = 0.35
	for _, side := range body.Sides {
		line := func(m *moment) float64 {
			return inside(m.pts[body.LeftHeel.On(side)], m.pts[body.LeftToe.On(side)], side.Other())
		}
		hang := func(m *moment) float64 { return m.pts[body.LeftHeel.On(side)].Y - m.pts[body.LeftToe.On(side)].Y }
		var legs []*stride
		for i := range b.strides {
			if s := &b.strides[i]; s.side == side && s.swing != nil {
				legs = append(legs, s)
			}
		}
		if len(legs) == 0 {
			continue
		}
		median := func(k int, fn func(m *moment) float64) float64 {
			v := make([]float64, len(legs))
			for i, s := range legs {
				v[i] = fn(&s.swing[k])
			}
			slices.Sort(v)
			return (v[len(v)/2] + v[(len(v)-1)/2]) / 2
		}
		best, at := -1.0, 0
		for k := 0; k <= int(until*shares); k++ {
			if median(k, hang) <= 0.5*median(0, hang) {
				break
			}
			if d := math.Abs(median(k, line) - median(0, line)); d > best {
				best, at = d, k
			}
		}
		v := make([]float64, len(legs))
		for i, s := range legs {
			v[i] = line(&s.swing[at]) - line(&s.swing[0])
		}
		b.put("heel_whip", side, v)
	}
}

func (b *bench) upper() {
	b.sided("elbow_angle", func(s *stride) float64 {
		return s.overStride(func(m *moment) float64 {
			shoulder, elbow, wrist := m.pts[body.LeftShoulder.On(s.side)], m.pts[body.LeftElbow.On(s.side)], m.pts[body.LeftWrist.On(s.side)]
			return math.Abs(turn(ahead(elbow, wrist) - ahead(shoulder, elbow)))
		})
	})
	// What the force of the model itself is, in body weights.
	b.sided("peak_vertical_force", func(s *stride) float64 {
		k := b.r.fallAt(s.contactS)
		best := 0.0
		for i := range 401 {
			best = max(best, b.r.rises[k].at(s.contactS+s.stanceS()*float64(i)/400).dd/gravityMPS2+1)
		}
		return best
	})
}
