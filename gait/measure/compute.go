package measure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/num/agree"
	"gaitwright/num/kept"
	"gaitwright/num/signal"
)

// sample is what a definition's compute returns for one side: a value a pass,
// and what the value rests on.
type sample struct {
	values  []float64 // in order of time; NaN where a pass gives none
	exact   float64   // reported in place of the mean where given
	spread  float64   // reported in place of the standard deviation where given
	se      float64   // standard error in place of that of the mean where given
	has     has       // which of the three above are given
	text    string
	flags   []string
	reason  string          // withheld, and why
	used    []body.Landmark // what it rests on where that is not the definition's needs
	derived string          // names the origin where it is not that of landmarks
	floor   float64         // random error of one value from frames and events
	error   Budget          // the parts that compute alone knows
}

// has says which figures of a sample stand in for those of the plain mean.
type has uint8

const (
	hasExact has = 1 << iota
	hasSpread
	hasSE
)

// reading is one clip while it is measured.
type reading struct {
	Input
	*figure
	passes []pass
	beats  []float64 // of the passes, see Lines
	odd    [3]int
	// frameSDS is the random error of an interval, one contact and one toe-off
	// or two contacts, from the frame rate and what the events say of themselves.
	frameSDS float64
	noticed  []string
	trials   []sample // what the measure has with points placed by hand elsewhere
}

// fewest is the least number of strides for a value; advised is how many make
// the mean of a two-dimensional angle stable (6.3 ± 0.3 steps, so at least 7:
// Dingenen et al. 2018, Phys Ther Sport 33:40-47).
const (
	fewest  = 3
	advised = 7
)

// Compute measures one clip. It never fails: what the clip cannot give is
// withheld with a reason. A nil track, or one without frames, withholds all but
// the times.
func Compute(in Input) Output {
	t := in.settle()
	c, dropped := newReading(in, t)
	if dropped > 0 {
		c.notice("%s not used: doubtful in rhythm or landmarks.", plural(dropped, "contact", "contacts"))
	}
	var out Output
	var curves sync.WaitGroup
	curves.Go(func() { out.Curves = c.curves() })
	own := c.samples(Definition.any)
	placed := make([][]sample, len(in.Placed))
	var trials sync.WaitGroup
	for i, t := range in.Placed { // what a point does not touch is known by now
		trials.Go(func() { placed[i] = samplesWith(in, t) })
	}
	trials.Wait()
	out.Measures = c.measures(own, placed)
	curves.Wait()
	c.notice("%s", c.oddWarning())
	c.advise(out.Measures)
	out.Warnings = c.noticed
	return out
}

// settle returns the track, an empty one for none, and fills in the frame rate.
func (in *Input) settle() *track.Track {
	t := in.Track
	if t == nil {
		t = track.New(track.Runner, track.Pixel, nil)
	}
	if in.Info.FrameRateHz <= 0 {
		in.Info.FrameRateHz = t.RateHz()
	}
	return t
}

// Measures returns the measures of a clip as Compute does, without curves and
// warnings, and without keeping what it works out.
func Measures(in Input) []Measure {
	in.Placed, in.Lines = nil, in.Lines.Next()
	t := in.settle()
	c, _ := newReading(in, t)
	return c.measures(c.samples(Definition.any), nil)
}

// measures works out every measure and side from its sample; placed are the samples
// that each would have with points placed elsewhere, by trial.
func (c *reading) measures(own []sample, placed [][]sample) (out []Measure) {
	eachMeasure(func(d Definition, s body.Side) {
		c.trials = c.trials[:0]
		for _, v := range placed {
			c.trials = append(c.trials, v[len(out)])
		}
		out = append(out, c.measure(d, s, own[len(out)]))
	})
	return out
}

// samples reads every measure and side; nothing of those that are withheld or not
// wanted.
func (c *reading) samples(wanted func(Definition) bool) (out []sample) {
	eachMeasure(func(d Definition, s body.Side) {
		var r sample
		if wanted(d) {
			if why, _ := c.blocked(d, s); why == "" {
				r = d.compute(c, s)
			}
		}
		out = append(out, r)
	})
	return out
}

// any and seen choose measures: all, and those that rest on landmarks beside times.
func (d Definition) any() bool  { return true }
func (d Definition) seen() bool { return d.plane != timeOnly }

// newReading prepares a clip to be read, and tells how many contacts are not used.
func newReading(in Input, t *track.Track) (c *reading, dropped int) {
	c = &reading{Input: in, figure: newFigure(t, in.Info.View, in.Lines.keep())}
	c.passes, dropped = passesOf(in.Contacts)
	c.beats = beatOf(c.lines, c.passes)
	c.flatten(c.passes)
	c.frameSDS = c.intervalSDS()
	if in.Info.View.Sagittal() {
		c.massX = c.centreOfMass(in.Runner, c.x, c.toeX)
		c.massY = c.centreOfMass(in.Runner, c.y, c.toeY)
	}
	return c, dropped
}

// eachMeasure calls do for every measure and side, in the order of the catalogue.
func eachMeasure(do func(d Definition, s body.Side)) {
	for _, d := range catalogue() {
		sides := []body.Side{body.NoSide}
		if d.Sided {
			sides = body.Sides[:]
		}
		for _, s := range sides {
			do(d, s)
		}
	}
}

// samplesWith returns what the measures would have with another track; nothing for
// those withheld and for times, which no landmark changes while the contacts stay.
func samplesWith(in Input, other Elsewhere) []sample {
	in.Placed, in.Lines = nil, in.Lines.Beside(other.Name)
	c, _ := newReading(in, other.Track)
	return c.samples(Definition.seen)
}

// usualStepS is the median time from a contact to the next one; NaN for no two.
func (c *reading) usualStepS() float64 {
	return median(c.each(body.NoSide, pass.stepS))
}

// differ is the mean difference of two samples over the passes kept.
func (r sample) differ(other sample, kept []float64) float64 {
	if r.has&other.has&hasExact != 0 {
		return other.exact - r.exact
	}
	if len(r.values) != len(other.values) || len(kept) != len(r.values) {
		return 0
	}
	sum, n := 0.0, 0
	for i := range kept {
		if d := other.values[i] - r.values[i]; !math.IsNaN(kept[i]) && !math.IsNaN(d) {
			sum, n = sum+d, n+1
		}
	}
	return sum / float64(max(1, n))
}

func (c *reading) notice(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	if s != "" && !slices.Contains(c.noticed, s) {
		c.noticed = append(c.noticed, s)
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// intervalSDS takes the larger of the frame interval's share (landmarks only)
// and what the events claim.
func (c *reading) intervalSDS() float64 {
	var v []float64
	for _, p := range c.passes {
		v = append(v, math.Hypot(p.icSD, p.toSD))
	}
	claimed := median(v)
	if claimed > 0 {
		return claimed
	}
	if c.Info.FrameRateHz > 0 && c.Contacts.Method != event.FromForce {
		return FrameIntervalSDS(c.Info.FrameRateHz)
	}
	return 0
}

// far tells whether a side is the one away from a side view's camera.
func (c *reading) far(s body.Side) bool {
	return c.Info.View == clip.LeftSide && s == body.Right || c.Info.View == clip.RightSide && s == body.Left
}

// landmarksOf lists the landmarks a measure rests on.
func (d Definition) landmarksOf(s body.Side) []body.Landmark {
	var out []body.Landmark
	for _, l := range d.needs {
		switch {
		case l.Side() == body.NoSide:
			out = append(out, l)
		case !d.Sided:
			out = append(out, l.On(body.Left), l.On(body.Right))
		case l.Side() == body.Right:
			out = append(out, l.On(s.Other()))
		default:
			out = append(out, l.On(s))
		}
	}
	return out
}

// missing names the first landmark that the track does not have in the plane.
func (c *reading) missing(d Definition, ls []body.Landmark) (body.Landmark, bool) {
	for _, l := range ls {
		across := c.x(l)
		if d.plane == frontalPlane {
			across = c.z(l)
		}
		if c.y(l) == nil || across == nil {
			if l == body.LeftToe.On(l.Side()) && c.toeY[l.Side()] != nil {
				continue // a metatarsal stands in
			}
			return l, true
		}
	}
	return 0, false
}

// blocked says why a clip cannot give a measure at all; empty where it can.
func (c *reading) blocked(d Definition, s body.Side) (reason string, otherView bool) {
	view := c.Info.View
	instead := func(why string) string { return strings.TrimSpace(why + " " + d.Instead) }
	switch {
	case !d.SeenFrom(view) && d.fine:
		return fmt.Sprintf("Contacts seen from this view (%s) are too rough for it. Film from the side.", view), true
	case !d.SeenFrom(view):
		return instead(fmt.Sprintf("Not measurable from this view (%s).", view)), true
	case d.minHz > 0 && c.Contacts.Method != event.FromForce && c.Info.FrameRateHz < d.minHz:
		return fmt.Sprintf("%.0f frames a second are too few: one frame is %.0f ms. Film at %.0f or more, better 120 or 240 (slow motion).", c.Info.FrameRateHz, 1000/c.Info.FrameRateHz, d.minHz), false
	case d.metres && c.t.Unit != track.Metre:
		return "No scale, so no lengths. Film a stick of known length in the runner's plane, or give the runner's leg length or height.", false
	case d.forward && c.Info.BeltSpeedMPS <= 0 && !c.overground():
		return "The belt speed is not known. Give it (--speed 3.5m/s); a clip does not show it.", false
	case d.level && c.InclinePercent != 0:
		return fmt.Sprintf("The belt is inclined (%.1f %%), where the timing method does not hold (Meyer 2023). Film on the level.", c.InclinePercent), false
	}
	if d.plane != timeOnly {
		if l, is := c.missing(d, d.landmarksOf(s)); is {
			return instead(fmt.Sprintf("The %s was not seen.", pointInWords(l))), false
		}
	}
	return "", false
}

// pointInWords names a landmark for a person.
func pointInWords(l body.Landmark) string {
	switch l {
	case body.Thoracolumbar:
		return "sticker on the spine at T12/L1"
	case body.Lumbosacral:
		return "sticker on the spine at L5/S1"
	}
	return strings.ReplaceAll(l.String(), "_", " ")
}

// overground tells whether forward lengths can be read from the track itself.
func (c *reading) overground() bool {
	return c.Info.Surface == clip.Overground && c.t.Unit == track.Metre && c.Info.View.Sagittal()
}

// unread says what was seen of a side of which no stride could be read, and what to do.
func (c *reading) unread(s body.Side) string {
	foot := ""
	if s != body.NoSide {
		foot = s.String() + " "
	}
	seen := 0
	for _, p := range c.passes {
		if s == body.NoSide || p.side == s {
			seen++
		}
	}
	if seen == 0 {
		return fmt.Sprintf("No whole stride of the %sfoot was seen, from its contact to its next; at least %d are needed. Film longer (20 s or more), with both feet in the picture; the frame bench shows the contacts.", foot, fewest)
	}
	return fmt.Sprintf("Of %s seen, what this is read from was seen in none; at least %d are needed. Film again with the whole runner in the picture; the frame bench shows which point is lost.", plural(seen, foot+"stride", foot+"strides"), fewest)
}

// measure works out one measure of one side from its sample.
func (c *reading) measure(d Definition, s body.Side, r sample) Measure {
	m := Measure{Name: d.Name, Side: s, Unit: d.Unit, Value: math.NaN(), SD: math.NaN(), SEM: math.NaN(), MDC95: math.NaN()}
	if m.Reason, m.OtherView = c.blocked(d, s); m.Reason != "" {
		return m
	}
	if r.reason != "" {
		m.Reason = r.reason
		return m
	}
	kept, dropped := dropWildOfFeet(r.values, c.feet(s, len(r.values)))
	mean := agree.MeanOf(kept)
	if mean.N == 0 {
		m.Reason = c.unread(s)
		return m
	}
	if mean.N < fewest {
		m.Reason = fmt.Sprintf("Only %s could be read; at least %d are needed. Film longer (20 s or more), with the whole runner in the picture.", plural(mean.N, "stride", "strides"), fewest)
		return m
	}
	m.Strides, m.Value, m.SD, m.Text = mean.N, mean.Value, mean.SD, r.text
	if r.has&hasExact != 0 {
		m.Value = r.exact
	}
	if r.has&hasSpread != 0 {
		m.SD = r.spread
	}
	if math.IsNaN(m.Value) || math.IsInf(m.Value, 0) {
		m.Value, m.SD, m.Text, m.Strides = math.NaN(), math.NaN(), "", 0
		m.Reason = "It could not be worked out from these strides. Film longer (20 s or more), with the whole runner in the picture."
		return m
	}

	b := r.error
	b.Strides = mean.SE
	if r.has&hasSE != 0 {
		b.Strides = r.se
	}
	if floor := r.floor / math.Sqrt(float64(mean.N)); floor > b.Strides {
		b.Frame = math.Sqrt(floor*floor - b.Strides*b.Strides)
	}
	ls := r.used
	if ls == nil {
		ls = d.landmarksOf(s)
	}
	origin, originName := c.originOf(ls)
	if d.origin != "" && b.Origin == 0 {
		b.Origin = originErrors[d.origin].of(origin, c.far(s))
	}
	if d.camera && b.Camera == 0 && c.Info.View != clip.Spatial && origin != track.Synthetic {
		b.Camera = c.cameraSDDeg(d, m.Value)
	} else if !d.camera && d.Unit == "deg" && d.plane == sagittalPlane {
		b.Camera = math.Abs(jointHiddenDeg(m.Value, c.Info.OffSquareDeg))
	}
	for _, trial := range c.trials {
		b.Placed = math.Hypot(b.Placed, r.differ(trial, kept))
	}
	m.Error, m.SEM = b, b.SEM()
	m.MDC95 = agree.MDC95(m.SEM)
	m.StridesNeeded = needed(mean.N, b.Strides, d.Worth)
	m.Origin = originName
	switch {
	case r.derived != "":
		m.Origin = r.derived
	case d.plane == timeOnly && c.Contacts.Method == event.FromForce:
		m.Origin = "force"
	case d.plane == timeOnly:
		_, m.Origin = c.originOf([]body.Landmark{body.LeftHeel, body.RightHeel})
	}
	m.Bias = d.bias(origin, c.far(s))
	m.Flag = strings.Join(c.flags(d, s, r, mean, m.StridesNeeded, dropped, m.Bias), "; ")
	if why := d.useless(m, c.far(s)); why != "" {
		return Measure{Name: m.Name, Side: s, Unit: m.Unit, Value: math.NaN(), SD: math.NaN(), SEM: math.NaN(), MDC95: math.NaN(), Strides: m.Strides, Origin: m.Origin,
			Reason: strings.TrimSpace(why)}
	}
	return m
}

// useless says why a value is too poor to be given, empty where it is not.
func (d Definition) useless(m Measure, far bool) string {
	if d.UselessSEM > 0 && m.SEM > d.UselessSEM {
		return fmt.Sprintf("The error (±%s %s) is larger than the differences that matter. %s", d.Format(m.SEM), d.Unit, d.Instead)
	}
	if d.TooBiased(m.Bias) {
		if far && d.Sided {
			return fmt.Sprintf("The pose model misreads it by about %s on the leg away from the camera: film that side too.", d.FormatWithUnit(math.Abs(m.Bias)))
		}
		return fmt.Sprintf("The pose model misreads it by about %s. %s", d.FormatWithUnit(math.Abs(m.Bias)), d.Instead)
	}
	return ""
}

// originOf returns the least sure origin among the landmarks, and the names of
// all of them.
func (c *reading) originOf(ls []body.Landmark) (track.Origin, string) {
	rank := func(o track.Origin) int {
		return slices.Index([]track.Origin{track.NoOrigin, track.Synthetic, track.MarkerFile, track.Sticker, track.Hand, track.PoseModel}, o)
	}
	var origins []track.Origin
	for _, l := range ls {
		if p := c.t.Paths[l]; p != nil {
			o := p.Origin
			if o == track.NoOrigin {
				o = c.Input.Origin
			}
			if !slices.Contains(origins, o) {
				origins = append(origins, o)
			}
		}
	}
	if len(origins) == 0 {
		origins = append(origins, c.Input.Origin)
	}
	slices.SortFunc(origins, func(a, b track.Origin) int { return rank(b) - rank(a) })
	names := make([]string, len(origins))
	for i, o := range origins {
		names[i] = o.String()
	}
	return origins[0], strings.Join(names, " and ")
}

// flags are the cautions beside a value.
func (c *reading) flags(d Definition, s body.Side, r sample, mean agree.Mean, needed, dropped int, bias float64) []string {
	flags := r.flags
	if bias != 0 {
		way := "high"
		if bias < 0 {
			way = "low"
		}
		flags = append(flags, fmt.Sprintf("reads about %s %s", d.FormatWithUnit(math.Abs(bias)), way))
	}
	if d.flagHz > 0 && c.Contacts.Method != event.FromForce && c.Info.FrameRateHz < d.flagHz {
		flags = append(flags, fmt.Sprintf("%.0f frames/s is coarse", c.Info.FrameRateHz))
	}
	if c.far(s) && d.plane == sagittalPlane && bias == 0 {
		flags = append(flags, "far leg, less sure")
	}
	switch {
	case needed > mean.N:
		flags = append(flags, fmt.Sprintf("only %d strides, about %d needed to know the mean within ±%s", mean.N, needed, d.FormatWithUnit(d.Worth)))
	case mean.N < advised:
		flags = append(flags, fmt.Sprintf("only %d strides, %d or more advised", mean.N, advised))
	}
	if dropped > 0 {
		flags = append(flags, fmt.Sprintf("%s left out", plural(dropped, "wild value", "wild values")))
	}
	if n := c.placedByHand(d, s, r); n > 0 {
		flags = append(flags, fmt.Sprintf("%s placed by hand", plural(n, "point", "points")))
	}
	return flags
}

// placedByHand counts the samples under a measure that the analyst placed. Its
// error is that of the origin of the others, and the placing is added to it.
func (c *reading) placedByHand(d Definition, s body.Side, r sample) int {
	if d.plane == timeOnly {
		return 0
	}
	ls := r.used
	if ls == nil {
		ls = d.landmarksOf(s)
	}
	n := 0
	for _, l := range ls {
		if p := c.t.Paths[l]; p != nil {
			for _, hand := range p.Hand {
				if hand {
					n++
				}
			}
		}
	}
	return n
}

// advise adds the warnings about the clip as a whole.
func (c *reading) advise(ms []Measure) {
	for _, m := range ms {
		switch {
		case m.Withheld():
		case m.Name == "step_rate" && (m.Value < 120 || m.Value > 260):
			c.notice("A step rate of %.0f a minute is not a runner's: check the capture rate (a slow-motion clip exported at 30 frames a second plays 4 to 8 times slow) and the contacts.", m.Value)
		case m.Name == "duty_factor" && (m.Value < 0.2 || m.Value > 0.5):
			c.notice("The %s foot is on the ground for %.0f %% of the stride, which is not distance running (20 to 50 %%): look at the contacts before believing anything that rests on them.", m.Side, 100*m.Value)
		case m.Name == "flight_time" && m.Value <= 0:
			c.notice("The feet overlap on the ground: this is walking, or the contacts are wrong.")
		}
	}
	if d := c.Info.CameraDistanceM; d > 0 && d < closeCameraM {
		c.notice("The camera stood only %.1f m away: a leg %.2f m out of the plane is seen %.0f %% too large or small, which is corrected on average only. Film from 4 m or more.", d, nearLegM, 100*(DepthScale(d, nearLegM)-1))
	}
	if hz := c.Info.FrameRateHz; hz > 0 && hz < 100 && c.Contacts.Method != event.FromForce && len(c.passes) > 0 {
		c.notice("At %.0f frames a second one contact time is known to ±%.0f ms; slow motion (120 or 240) is better.", hz, 1000/hz)
	}
	if n := len(c.passes); n > 0 && n < 2*advised {
		c.notice("Only %d contacts: %d a side or more make means stable (Dingenen 2018), and 25 steps or more the times (Oliveira & Pirscoveanu 2021).", n, advised)
	}
}

// each returns fn of every pass of a side (NoSide: of all), in order of time.
func (c *reading) each(s body.Side, fn func(p pass) float64) []float64 {
	var out []float64
	for _, p := range c.passes {
		if s == body.NoSide || p.side == s {
			out = append(out, fn(p))
		}
	}
	return out
}

// feet says whose each of n values of a measure is; nil where all are of one foot
// or none.
func (c *reading) feet(s body.Side, n int) []body.Side {
	if s != body.NoSide || n != len(c.passes) {
		return nil
	}
	out := make([]body.Side, n)
	for i, p := range c.passes {
		out[i] = p.side
	}
	return out
}

// span picks a stretch of a pass.
type span struct {
	name string
	of   func(p pass) (from, to float64)
}

var (
	stance      = span{"stance", func(p pass) (float64, float64) { return p.ic, p.to }}
	wholeStep   = span{"step", func(p pass) (float64, float64) { return p.ic, p.next }}
	wholeStride = span{"stride", func(p pass) (float64, float64) { return p.ic, p.stride }}
	swing       = span{"swing", func(p pass) (float64, float64) { return p.to, p.stride }}
)

// phaseCurve is the median, over the passes, of a series at even places of a
// span from a to b (shares of it).
func (c *reading) phaseCurve(s body.Side, v []float64, in span, a, b float64) []float64 {
	how := fmt.Sprintf("typical %s %s %g to %g", s, in.name, a, b)
	return kept.Of(c.lines, how, func() []float64 { return c.typical(s, v, in, a, b) }, v, c.beats)
}

func (c *reading) typical(s body.Side, v []float64, in span, a, b float64) []float64 {
	const points = 101
	rows := c.places(fmt.Sprintf("%s %s %g to %g", s, in.name, a, b), points, func(p pass) bool { return s == body.NoSide || p.side == s }, func(p pass, k int) float64 {
		from, to := in.of(p)
		share := a + (b-a)*float64(k)/(points-1)
		return from + share*(to-from)
	})
	n := len(rows) / points
	curve, column := make([]float64, points), make([]float64, n)
	for k := range curve {
		for i := range column {
			column[i] = rows[i*points+k].in(v)
		}
		curve[k] = signal.MedianInPlace(column)
	}
	return curve
}

// places are the times of so many points of each pass wanted, pass after pass.
func (c *reading) places(how string, points int, wanted func(pass) bool, when func(p pass, k int) float64) []place {
	return kept.Of(c.lines, "places "+how, func() []place {
		out := make([]place, 0, points*len(c.passes))
		for _, p := range c.passes {
			if wanted(p) {
				for k := range points {
					out = append(out, c.placeOf(when(p, k)))
				}
			}
		}
		return out
	}, c.beats)
}

// extreme returns the share of the span at which the typical curve is largest
// (sign +1) or smallest (-1); NaN where there is no curve.
func (c *reading) extreme(s body.Side, v []float64, in span, a, b, sign float64) float64 {
	return extremeOf(c.phaseCurve(s, v, in, a, b), a, b, sign)
}

// extremeOf is extreme of a curve at even places from a to b.
func extremeOf(curve []float64, a, b, sign float64) float64 {
	best, at := math.Inf(-1), math.NaN()
	for k, x := range curve {
		if sign*x > best {
			best, at = sign*x, a+(b-a)*float64(k)/float64(len(curve)-1)
		}
	}
	return at
}

// atPhase reads a series at one share of the span of every pass.
func (c *reading) atPhase(s body.Side, v []float64, in span, share float64) []float64 {
	return c.each(s, func(p pass) float64 {
		from, to := in.of(p)
		return c.at(v, from+share*(to-from))
	})
}

// peaks reads every pass at the moment at which the typical curve is at its
// largest (sign +1) or smallest (-1). Taking each stride's own largest value
// instead would add the noise to the mean.
func (c *reading) peaks(s body.Side, v []float64, in span, a, b, sign float64) []float64 {
	return c.atPhase(s, v, in, c.extreme(s, v, in, a, b, sign))
}

// atContact samples a series at initial contact, with the error that the rule's
// bias makes of it.
func (c *reading) atContact(s body.Side, v []float64) sample {
	return c.atEvent(s, v, func(p pass) float64 { return p.ic }, c.Contacts.InitialContactBiasSDS, func(p pass) float64 { return p.icSD })
}

// atToeOff samples a series at toe-off.
func (c *reading) atToeOff(s body.Side, v []float64) sample {
	return c.atEvent(s, v, func(p pass) float64 { return p.to }, c.Contacts.ToeOffBiasSDS, func(p pass) float64 { return p.toSD })
}

func (c *reading) atEvent(s body.Side, v []float64, when func(pass) float64, biasSDS float64, sdOf func(pass) float64) sample {
	r := sample{values: c.each(s, func(p pass) float64 { return c.at(v, when(p)) })}
	rate := math.Abs(median(c.each(s, func(p pass) float64 { return c.slope(v, when(p)) })))
	if math.IsNaN(rate) {
		return r
	}
	random := median(c.each(s, sdOf))
	if !(random > 0) && c.Info.FrameRateHz > 0 {
		random = FrameIntervalSDS(c.Info.FrameRateHz) / math.Sqrt2
	}
	r.floor = rate * random
	r.error.Event = rate * biasSDS
	return r
}
