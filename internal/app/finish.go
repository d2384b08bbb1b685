package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
	"gaitwright/num/signal"
)

// origin is what found the greater part of the clip's landmarks.
func (c *Clip) origin() track.Origin {
	if c.Raw == nil {
		return track.NoOrigin
	}
	for _, l := range [...]body.Landmark{body.LeftAnkle, body.RightAnkle, body.LeftToe, body.LeftKnee, body.LeftHip} {
		if p := c.Raw.Paths[l]; p != nil {
			return p.Origin
		}
	}
	return track.NoOrigin
}

// settleView tells the view of a picture-space track, or checks the one that
// was declared.
func settleView(c *Clip, declared clip.View) error {
	look, err := track.LookAt(c.Raw)
	if err != nil {
		return refusal(KindNoResult, c.Path, err)
	}
	if err := checkUpright(c); err != nil {
		return err
	}
	c.Info.View = look.View
	if declared == clip.UnknownView {
		if look.Margin < 0.12 {
			c.Warnings = append(c.Warnings, fmt.Sprintf("the camera stands between side and rear; it was taken as %s: say --view if that is wrong", viewInWords(look.View)))
		}
		declared = look.View
	}
	caution, err := track.CheckView(declared, look)
	if err != nil {
		return refusal(KindUsage, c.Path, err)
	}
	if caution != "" {
		c.Warnings = append(c.Warnings, caution)
	}
	c.Info.View = declared
	return nil
}

// mostLeanDeg is the lean of the trunk in the picture beyond which the picture, not
// the runner, is taken to be turned.
const mostLeanDeg = 50.0

// checkUpright refuses a picture that lies on its side or stands on its head.
func checkUpright(c *Clip) error {
	ls, rs := c.Raw.Paths[body.LeftShoulder], c.Raw.Paths[body.RightShoulder]
	lh, rh := c.Raw.Paths[body.LeftHip], c.Raw.Paths[body.RightHip]
	var across, up []float64
	for i := range c.Raw.TimeS {
		if ls.Seen(i) && rs.Seen(i) && lh.Seen(i) && rh.Seen(i) {
			across = append(across, (ls.X[i]+rs.X[i]-lh.X[i]-rh.X[i])/2)
			up = append(up, (lh.Y[i]+rh.Y[i]-ls.Y[i]-rs.Y[i])/2)
		}
	}
	if len(up) == 0 {
		return nil
	}
	lean := math.Atan2(signal.Median(across), signal.Median(up))*180/math.Pi + c.Info.RollDeg
	lean = math.Abs(math.Remainder(lean, 360))
	how := "lies on its side"
	switch {
	case lean < mostLeanDeg:
		return nil
	case lean > 130:
		how = "stands on its head"
	}
	return problem(KindUsage, c.Path, "Turn the film upright in the phone's photo program and export it again.", "the picture %s: the runner's head is not above the hips", how)
}

// standsStill tells whether the feet hardly move against the hips.
func (c *Clip) standsStill() bool {
	for _, s := range body.Sides {
		ankle, hip := c.Raw.Paths[body.LeftAnkle.On(s)], c.Raw.Paths[body.LeftHip.On(s)]
		var height []float64
		for i := range c.Raw.TimeS {
			if ankle.Seen(i) && hip.Seen(i) {
				height = append(height, ankle.Y[i]-hip.Y[i])
			}
		}
		if len(height) == 0 {
			return false
		}
		if low, top := signal.Quantile(height, 0.05), signal.Quantile(height, 0.95); top-low > 0.05*math.Abs(signal.Median(height)) {
			return false
		}
	}
	return true
}

// fastestSteps is a step rate that no runner reaches; faster is a wrong clock.
const fastestSteps = 300.0

// checkClock looks for a clock that was slowed down on export: a beat of the
// legs that no runner has.
func checkClock(c *Clip, r *Request) error {
	rhythm, ok := track.FindRhythm(c.Raw)
	if !ok {
		return nil
	}
	rate := rhythm.StepRate()
	if slow := event.PlausibleSlowdowns(rate); len(slow) > 0 && c.Info.Slowdown == 1 && r.CaptureRateHz == 0 {
		e := &SlowedError{File: c.Path, StepRate: rate}
		for _, s := range slow {
			e.LikelyRatesHz = append(e.LikelyRatesHz, math.Round(s*c.Info.FrameRateHz/30)*30)
		}
		return &Problem{Kind: KindAskBack, What: e.Error(), Err: e}
	}
	if rate > fastestSteps && c.Info.Slowdown > 1 {
		return problem(KindUsage, c.Path, "Check --capture-rate; leave it out where the film was not slowed down.", "with a capture rate of %.0f frames a second the runner takes %.0f steps a minute, which no runner does", c.Info.FrameRateHz, rate)
	}
	if r.CaptureRateHz > 0 && (rate < 110 || rate > 270) {
		c.Warnings = append(c.Warnings, fmt.Sprintf("with a capture rate of %.0f the runner takes %.0f steps a minute, which no runner does: check --capture-rate", r.CaptureRateHz, rate))
	}
	return nil
}

// Beginning is a clip as it stood before it was worked out.
type Beginning struct {
	Info       clip.Info
	Whole      *track.Track // the landmarks as seen, all frames; nil where nothing was cut off Clip.Raw
	FirstFrame int          // of Whole
	FileTimeS  float64
	Force      *event.Series // contacts by force, nil where the file has none
	PixelsPerM float64       // by a known length; 0 where none was given
	Warnings   []string
	// From and To are the frames of Whole that were used.
	From, To int
	// ReachM and ReachSD are what the clip told the others of the runner's size
	// (see ruler); 0 where it told nothing.
	ReachM, ReachSD float64
}

// finish carries a clip with its raw track through mending, contacts, scale,
// smoothing and measures. force is the contacts by force, nil where the file has
// none; pixelsPerM the scale by a known length, 0 where there was none; known
// the runner's size as another clip of the session gave it, nil where none did.
// It returns what this clip tells of the runner's size, nil for nothing.
func (c *Clip) finish(r *Request, force *event.Series, pixelsPerM float64, known *ruler) (*ruler, error) {
	if c.Raw.Space == track.Picture {
		c.Info.YawDeg, c.Info.CameraDistanceM = r.YawDeg, r.CameraDistanceM
	}
	if !c.IsVideo() {
		part, kept := c.chosenPart(c.Raw, force, r)
		if part.Frames() < leastFrames {
			return nil, problem(KindUsage, c.Path, fmt.Sprintf("The file lasts from %.1f to %.1f s; choose --start and --end inside it.", c.Raw.TimeS[0], c.Raw.TimeS[c.Raw.Frames()-1]), "the chosen part has %d frames", part.Frames())
		}
		c.Raw, force = part, kept
	}
	c.Begun = &Beginning{Info: c.Info, Whole: c.Raw, FirstFrame: c.FirstFrame, FileTimeS: c.FileTimeS, Force: force, PixelsPerM: pixelsPerM, Warnings: slices.Clone(c.Warnings)}
	size, err := c.workOut(r, known, &stages{})
	if c.Begun.Whole == c.Raw {
		c.Begun.Whole = nil // not kept twice
	}
	return size, err
}

// workOut does the work of finish from the clip's beginning and its edits. What
// mind holds from an earlier time is not done again.
func (c *Clip) workOut(r *Request, known *ruler, mind *stages) (*ruler, error) {
	size, err := c.settle(context.Background(), r, known, mind)
	if err == nil {
		c.measure(r)
	}
	return size, err
}

// settle does all of workOut but the measuring. Where nobody waits for it any more, it
// ends at the next stage, and mind keeps what is done.
func (c *Clip) settle(ctx context.Context, r *Request, known *ruler, mind *stages) (*ruler, error) {
	begun := c.Begun
	options := track.DefaultClean(c.origin())
	if err := mind.mend(c, begun.Whole, options); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c.Treatment = Treatment{FramesMissing: c.Treatment.FramesMissing, SwapsMended: mind.swapsMended, Outliers: mind.report.Outliers, GapsFilled: mind.report.Filled}
	// Where the part to use is known, its paths are smoothed while the contacts are
	// looked for: neither needs the other.
	smooth := func() error { return mind.smooth(c, begun.From, begun.To, options) }
	if begun.To > 0 {
		mind.shape(c, begun.From, begun.To)
		smoothing := make(chan error, 1)
		go func() { smoothing <- mind.smooth(c, begun.From, begun.To, options) }()
		smooth = func() error { return <-smoothing }
	}
	err := mind.contacts(c, r, options)
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		if begun.To > 0 {
			smooth()
		}
		return nil, err
	}
	c.Contacts, c.Other = mind.found, mind.other
	c.Contacts = c.Edits.apply(c.Contacts)
	c.Warnings = append(c.Warnings, c.Contacts.Notes...)
	c.Warnings = append(c.Warnings, c.Edits.words()...)
	if begun.To == 0 {
		begun.From, begun.To = c.partToUse(mind.turned.to, r)
	}
	c.cut(begun.From, begun.To)
	runner := mind.shape(c, begun.From, begun.To)
	c.checkSquare(runner)
	c.settleSpeed(runner.Track, r)
	c.settleScale(runner, r, begun.PixelsPerM, known)
	if err := smooth(); err != nil {
		return nil, err
	}
	c.Mended = mind.smoothed
	if c.Track, err = c.turn(c.Mended, c.Info.Scale.PixelsPerM, &mind.scaled); err != nil {
		return nil, err
	}
	size := c.ruler()
	begun.ReachM, begun.ReachSD = 0, 0
	if size != nil {
		begun.ReachM, begun.ReachSD = size.reachM, size.relativeSD
	}
	if c.origin() == track.PoseModel && c.Info.View.Sagittal() {
		to := track.AnatomicalAgain(c.Track, mind.anatomical.from, mind.anatomical.to)
		mind.anatomical = carried{from: c.Track, to: to}
		c.Track = to
	}
	mind.lines = mind.lines.Next()
	c.lines = mind.lines
	c.Treatment.CutoffHz = mind.report.CutoffHz
	return size, nil
}

// measure works out the measures of a clip that is settled.
func (c *Clip) measure(r *Request) {
	in := c.input(r)
	in.Placed = c.placed()
	out := measure.Compute(in)
	r.own.replace(out.Measures)
	c.Measures, c.Curves = out.Measures, out.Curves
	c.Warnings = append(c.Warnings, out.Warnings...)
}

// afresh returns the clip as it was before it was worked out, with other
// corrections.
func (c *Clip) afresh(e Edits) *Clip {
	begun := *c.Begun
	if begun.Whole == nil {
		begun.Whole = c.Raw
	}
	fresh := *c
	fresh.Info, fresh.FirstFrame, fresh.FileTimeS, fresh.Raw = begun.Info, begun.FirstFrame, begun.FileTimeS, begun.Whole
	fresh.Edits, fresh.Begun, fresh.Warnings = e, &begun, slices.Clone(begun.Warnings)
	fresh.Mended, fresh.Track, fresh.Contacts, fresh.Other, fresh.Measures, fresh.Curves = nil, nil, event.Series{}, nil, nil, nil
	fresh.lines = nil
	fresh.Treatment = Treatment{FramesMissing: c.Treatment.FramesMissing}
	return &fresh
}

// input is what the measures of a clip are worked out from.
func (c *Clip) input(r *Request) measure.Input {
	return measure.Input{Info: c.Info, Track: c.Track, Contacts: c.Contacts, Origin: c.origin(), InclinePercent: r.InclinePct,
		Lines: c.lines,
		Runner: measure.Runner{HeightM: r.Runner.HeightM, LegLengthM: r.Runner.LegLengthM, MassKG: r.Runner.MassKG,
			Female: r.Runner.Sex == "female", SexKnown: r.Runner.Sex != ""}}
}

// inRunnerSpace returns the track in runner space; one that is there already is
// returned as it is.
func (c *Clip) inRunnerSpace(t *track.Track, pixelsPerM float64) (*track.Track, error) {
	if t.Space == track.Runner {
		return t, nil
	}
	side := c.Info.View.Sagittal()
	if c.Info.CameraDistanceM > 0 && side && c.Info.WidthPX > 0 {
		t = track.InPlane(t, c.Info.View, c.Info.CameraDistanceM, float64(c.Info.WidthPX)/2, float64(c.Info.HeightPX)/2)
	}
	out, err := track.ToRunner(t, c.Info.View, pixelsPerM, c.Info.RollDeg)
	if err == nil && c.Info.YawDeg != 0 && side {
		out = track.Square(out, c.Info.View, c.Info.YawDeg)
	}
	return out, err
}

// offSquareDeg is the turn of a side camera, as the landmarks show it, beyond
// which the analyst is told; the landmarks show it to about three degrees.
const offSquareDeg = 8.0

// squareMatters tells whether the camera should have stood square to the runner's side.
func (c *Clip) squareMatters() bool {
	return c.Raw.Space == track.Picture && c.Info.View.Sagittal()
}

// checkSquare says where a side camera seems not to have stood square to the
// runner.
func (c *Clip) checkSquare(runner *shape) {
	if !c.squareMatters() {
		return
	}
	deg, ok := runner.offSquare()
	if !ok || math.Abs(deg) < offSquareDeg {
		return
	}
	c.Info.OffSquareDeg = deg
	where := "behind"
	if deg > 0 {
		where = "ahead of"
	}
	c.Warnings = append(c.Warnings, fmt.Sprintf("the camera seems to stand about %.0f degrees %s square to the runner's side: distances along the belt read about %.0f %% short. Stand it square; for this film, --yaw %.0f corrects the side view",
		math.Abs(deg), where, 100*(1-math.Cos(deg*math.Pi/180)), c.Info.YawDeg+deg))
}

// findContacts takes the contacts from force where there is any and nothing else
// is asked for, and from motion otherwise. other is the series that was not used,
// nil where there is only one. known is as in event.MotionOptions.
func (c *Clip) findContacts(runner *track.Track, force *event.Series, r *Request, known *kept.Store) (found event.Series, other *event.Series, err error) {
	if r.Contacts == event.FromForce && force == nil {
		return found, nil, problem(KindUsage, c.Path, "Use --contacts motion, or leave it out.", "carries no force, so contacts cannot be taken from it")
	}
	motion, err := event.MotionContacts(runner, event.MotionOptions{View: c.Info.View, Surface: c.Info.Surface, Origin: c.origin(), Kept: known})
	switch {
	case force != nil && r.Contacts != event.FromMotion:
		if err == nil {
			other = &motion
		}
		return *force, other, nil
	case err != nil && c.standsStill():
		mend := "Film the runner running; a still picture made into a film cannot be measured."
		if !c.IsVideo() {
			mend = "Give the running trial; a standing one goes with it as --static FILE."
		}
		return found, nil, problem(KindNoResult, c.Path, mend, "the person in it does not move")
	case err != nil:
		p := refusal(KindNoResult, c.Path, err)
		if r.CaptureRateHz > 0 && c.Info.Slowdown > 1 {
			p.Mend = strings.TrimSpace(fmt.Sprintf("Check --capture-rate: by it the film runs %.3g times slow. %s", c.Info.Slowdown, p.Mend))
		}
		return found, nil, p
	}
	return motion, force, nil
}

// leastFrames is how many frames a part must have to be looked at.
const leastFrames = 8

// chosenPart returns the part of a marker or keypoint file that the analyst chose,
// and the contacts by force in it.
func (c *Clip) chosenPart(t *track.Track, force *event.Series, r *Request) (*track.Track, *event.Series) {
	from, to := 0, t.Frames()
	for from < to && t.TimeS[from] < r.StartS-1e-6 {
		from++
	}
	for r.EndS > 0 && to > from && t.TimeS[to-1] > r.EndS+1e-6 {
		to--
	}
	if from == 0 && to == t.Frames() || to-from < leastFrames {
		return t.Slice(from, to), force
	}
	if force != nil {
		part := *force
		part.Contacts = nil
		for _, k := range force.Contacts {
			if k.InitialContactS >= t.TimeS[from] && k.ToeOffS <= t.TimeS[to-1] {
				part.Contacts = append(part.Contacts, k)
			}
		}
		force = &part
	}
	c.FirstFrame += from
	c.FileTimeS += (t.TimeS[from] - t.TimeS[0]) * math.Max(1, c.Info.Slowdown)
	return t.Slice(from, to), force
}

// partToUse returns the frames to measure: those the analyst chose, or the
// steady part.
func (c *Clip) partToUse(runner *track.Track, r *Request) (from, to int) {
	n := runner.Frames()
	if r.StartS > 0 || r.EndS > 0 {
		return 0, n // cut already
	}
	startS, endS := event.Steady(c.Contacts, runner)
	from, to = track.NearestFrame(runner.TimeS, startS), track.NearestFrame(runner.TimeS, endS)+1
	if cut := runner.DurationS() - (runner.TimeS[to-1] - runner.TimeS[from]); cut > 1 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the steady part from %.1f to %.1f s was used; choose another with --start and --end", runner.TimeS[from], runner.TimeS[to-1]))
	}
	return from, to
}

// cut keeps the frames from, inclusive, to, exclusive, and the contacts that lie
// in them whole.
func (c *Clip) cut(from, to int) {
	start, end := c.Raw.TimeS[from], c.Raw.TimeS[to-1]
	inside := func(s *event.Series) {
		if s == nil {
			return
		}
		var kept []event.Contact
		for _, k := range s.Contacts {
			if k.InitialContactS >= start && k.ToeOffS <= end {
				kept = append(kept, k)
			}
		}
		s.Contacts = kept
	}
	c.FileTimeS += (start - c.Raw.TimeS[0]) * math.Max(1, c.Info.Slowdown)
	c.FirstFrame += from
	c.Raw = c.Raw.Part(from, to)
	inside(&c.Contacts)
	if c.Other != nil {
		other := *c.Other
		inside(&other)
		c.Other = &other
	}
}

// settleSpeed takes the belt speed that was given, or measures it from the
// stance foot where the landmarks are in metres.
func (c *Clip) settleSpeed(runner *track.Track, r *Request) {
	if r.SpeedMPS > 0 {
		c.Info.BeltSpeedMPS, c.Info.BeltSpeedSource = r.SpeedMPS, "given"
		c.takeBelt(r)
	}
	if runner.Unit != track.Metre {
		return
	}
	v, sd, err := event.StanceSpeed(runner, c.Contacts)
	if c.Info.Surface == clip.Overground {
		v, sd, err = travelSpeed(runner)
	}
	if err != nil || !(v > 0) {
		return
	}
	if r.SpeedMPS == 0 {
		c.Info.BeltSpeedMPS = v
		c.Info.BeltSpeedSource = fmt.Sprintf("measured from the stance foot (± %.3f m/s)", sd)
		if c.Info.Surface == clip.Overground {
			c.Info.BeltSpeedSource = "measured from the runner's travel"
		}
		return
	}
	if d := v/r.SpeedMPS - 1; math.Abs(d) > 0.03 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the speed given, %.2f m/s, differs by %+.1f %% from the %.2f m/s that the stance foot shows", r.SpeedMPS, -100*d/(1+d), v))
	}
}

// travelSpeed is the mean speed of the hips through the laboratory, metres a
// second.
func travelSpeed(t *track.Track) (v, sd float64, err error) {
	var first, last = -1, -1
	l, rt := t.Paths[body.LeftHip], t.Paths[body.RightHip]
	for i := range t.TimeS {
		if l.Seen(i) && rt.Seen(i) {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 || last == first || l.X == nil {
		return 0, 0, fmt.Errorf("the hips were not seen")
	}
	d := (l.X[last] + rt.X[last] - l.X[first] - rt.X[first]) / 2
	return d / (t.TimeS[last] - t.TimeS[first]), math.NaN(), nil
}
