package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/pose"
	"gaitwright/internal/video"
)

// SlowedError says that a film's clock looks slowed down and that the rate at
// which it was taken is needed.
type SlowedError struct {
	File          string
	StepRate      float64 // as the file's clock has it, steps a minute
	LikelyRatesHz []float64
}

// Error says what was seen and what to do.
func (e *SlowedError) Error() string {
	return fmt.Sprintf("%s: by this film's clock the runner takes %.0f steps a minute, so it was exported slowed down\n  Give the rate at which it was filmed: --capture-rate %s.",
		e.File, e.StepRate, ratesInWords(e.LikelyRatesHz))
}

// AsSlowed returns the SlowedError in err's chain.
func AsSlowed(err error) (*SlowedError, bool) {
	var s *SlowedError
	ok := errors.As(err, &s)
	return s, ok
}

func ratesInWords(hz []float64) string {
	s := ""
	for i, v := range hz {
		if i > 0 {
			s += " or "
		}
		s += fmt.Sprintf("%.0f", v)
	}
	return s
}

// videoProblem turns a failure of reading film into a Problem.
func videoProblem(file string, err error) error {
	if err == nil {
		return nil
	}
	var v *video.Error
	if !errors.As(err, &v) {
		return err
	}
	kind := KindNoResult
	switch {
	case errors.Is(err, video.ErrNoFFmpeg):
		kind = KindNotInstalled
	case errors.Is(err, video.ErrMissing):
		kind = KindUsage
	}
	p := &Problem{Kind: kind, File: file, What: v.What, Err: err}
	if v.Mend != "" {
		p.Mend = sentence(v.Mend)
	}
	return p
}

// trackFilm finds the runner's landmarks in every wanted frame of a film. The
// clip it returns holds the raw track, on a clock corrected for slow motion, and
// what the file said of itself. A declared view or a clock that is plainly wrong
// is refused after the first seconds.
func trackFilm(ctx context.Context, file string, view clip.View, r *Request, progress Progress) (*Clip, error) {
	facts, err := video.Probe(ctx, file)
	if err != nil {
		return nil, videoProblem(file, err)
	}
	slowdown, slowedBy := slowdownOf(facts, r.CaptureRateHz)
	if slowdown < 1 {
		return nil, problem(KindUsage, file, "Check --capture-rate.", "the film runs at %.0f frames a second, faster than the capture rate %.0f that was given", facts.MedianHz, r.CaptureRateHz)
	}
	from, to := 0, facts.Frames()
	if r.StartS > 0 || r.EndS > 0 {
		from, to = facts.Range(r.StartS*slowdown, r.EndS*slowdown)
	}
	if to-from < leastFrames {
		return nil, problem(KindUsage, file, fmt.Sprintf("The film lasts %.1f s; choose --start and --end inside it.", facts.DurationS/slowdown), "the chosen part has %d frames", max(0, to-from))
	}
	glance := newGlance(facts, slowdown, view, r)
	raw, notes, err := r.landmarks(ctx, facts, from, to, slowdown, progress, glance)
	if err != nil {
		return nil, err
	}
	c := &Clip{Path: file, Model: modelName(r.Model), Raw: raw, FirstFrame: from, FileTimeS: facts.TimeS[from]}
	for i := range raw.TimeS {
		raw.TimeS[i] /= slowdown
	}
	c.Info = clip.Info{Name: file, FrameRateHz: facts.MedianHz * slowdown, Slowdown: slowdown, WidthPX: facts.WidthPX, HeightPX: facts.HeightPX,
		View: clip.UnknownView, RollDeg: r.RollDeg}
	c.Warnings = append(c.Warnings, facts.Warnings...)
	c.Warnings = append(c.Warnings, notes...)
	if slowedBy != "" {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the file's clock runs %.2g times slow (%s); all times are those of the world", slowdown, slowedBy))
	}
	for i := range raw.TimeS {
		if !raw.Paths[body.LeftHip].Seen(i) {
			c.Treatment.FramesMissing++
		}
	}
	if n := c.Treatment.FramesMissing; float64(n) > 0.02*float64(raw.Frames()) {
		c.Warnings = append(c.Warnings, fmt.Sprintf("the runner was not seen in %d of %d frames: keep the whole runner in the picture", n, raw.Frames()))
	}
	return c, nil
}

func modelName(m string) string {
	if m == "" {
		return string(pose.Full)
	}
	return m
}

// slowdownOf returns how many times the file's clock was slowed, and by what
// that is known.
func slowdownOf(f *video.Facts, captureRateHz float64) (times float64, by string) {
	if captureRateHz > 0 {
		s := captureRateHz / f.MedianHz
		if math.Abs(s-1) < 0.03 {
			return 1, ""
		}
		return s, "by the capture rate given"
	}
	if s := f.Slowdown(); s > 1 {
		return s, "by " + f.CaptureRateFrom + " in the file"
	}
	return 1, ""
}

// followRunner decodes the frames and follows the people in them. Decoding, the
// hand-over and the network each run in their own goroutine.
func followRunner(ctx context.Context, facts *video.Facts, from, to int, slowdown float64, r *Request, progress Progress, glance *glance) (*track.Track, []string, error) {
	model, err := pose.ParseModel(r.Model)
	if err != nil {
		return nil, nil, problem(KindUsage, "", "Choose lite, full or heavy.", "%v", err)
	}
	engine, err := pose.Open(pose.Options{Model: model, Threads: r.Threads})
	if err != nil {
		if errors.Is(err, pose.ErrNotInstalled) {
			p := refusal(KindNotInstalled, facts.Path, err)
			p.Mend = strings.TrimSpace(p.Mend + " Marker files (C3D, TRC, keypoints) can be measured without it.")
			return nil, nil, p
		}
		return nil, nil, err
	}
	defer engine.Close()

	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	reader, err := video.Decode(ctx, facts, video.Options{From: from, To: to, MaxHeightPX: heightForPose(facts)})
	if err != nil {
		return nil, nil, videoProblem(facts.Path, err)
	}
	defer reader.Close()
	progress.Stage("finding landmarks", facts.Path, to-from)

	frames := make(chan pose.Frame, 1)
	decodeErr := make(chan error, 1)
	go func() {
		defer close(frames)
		decodeErr <- handOver(ctx, reader, frames)
	}()
	var point *pose.Point
	if r.Point != nil {
		point = &pose.Point{TimeS: r.Point.TimeS * slowdown, X: r.Point.X * reader.Scale, Y: r.Point.Y * reader.Scale}
	}
	tracker := pose.NewTracker(engine, point)
	done := 0
	var early error // what the first seconds told
	runErr := tracker.Run(ctx, frames, func(n int, _ pose.Pose) {
		progress.Advance(n - done)
		done = n
		if early != nil {
			return // the frames on their way
		}
		if early = glance.at(tracker); early != nil {
			cancel()
		}
	})
	cancel()
	readErr := <-decodeErr
	if early != nil {
		return nil, nil, early
	}
	if runErr == nil && readErr != nil && !errors.Is(readErr, context.Canceled) {
		runErr = readErr
	}
	if err := context.Cause(ctx); runErr != nil && errors.Is(runErr, context.Canceled) && err != nil {
		return nil, nil, context.Canceled
	}
	if runErr != nil {
		return nil, nil, videoProblem(facts.Path, runErr)
	}
	t, notes, err := chosenRunner(facts.Path, tracker, reader.Tally(), point != nil)
	if err == nil && reader.Scale != 1 {
		rescale(t, 1/reader.Scale)
	}
	return t, notes, err
}

// posePixels is the size of picture above which frames are made smaller before
// the network sees them: it looks at 256 by 256 pixels of a person in any case,
// and a 4K film would cost half a gigabyte of memory in the decoder alone.
const posePixels = 3.7e6

// heightForPose is the height to which frames are scaled down; 0 for as filmed.
func heightForPose(f *video.Facts) int {
	n := float64(f.WidthPX) * float64(f.HeightPX)
	if n <= posePixels {
		return 0
	}
	return int(float64(f.HeightPX) * math.Sqrt(posePixels/n))
}

// rescale multiplies a picture-space track's coordinates in place.
func rescale(t *track.Track, by float64) {
	for _, p := range t.Paths {
		if p != nil {
			for i := range p.X {
				p.X[i] *= by
				p.Y[i] *= by
			}
		}
	}
}

// handOver passes decoded frames to the tracker until the last or until ctx
// ends.
func handOver(ctx context.Context, reader *video.Reader, frames chan<- pose.Frame) error {
	for {
		f, err := reader.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		select {
		case frames <- pose.Frame{Index: f.Index, TimeS: f.TimeS, Width: f.WidthPX, Height: f.HeightPX, RGB: f.RGB, Release: f.Release}:
		case <-ctx.Done():
			f.Release()
			return ctx.Err()
		}
	}
}

// leastSeen is the share of frames in which the runner has to be seen.
const leastSeen = 0.25

func chosenRunner(file string, tracker *pose.Tracker, tally video.Tally, pointed bool) (*track.Track, []string, error) {
	runner, notes := tracker.Runner()
	frames := len(tracker.TimesS())
	if tally.Missing() > 0 {
		notes = append(notes, fmt.Sprintf("%d of %d frames could not be decoded and are left out", tally.Missing(), tally.Wanted))
	}
	switch {
	case frames == 0:
		return nil, nil, problem(KindNoResult, file, "Export the film again, or choose another part with --start and --end.", "not one frame could be decoded")
	case runner == nil:
		return nil, nil, problem(KindNoResult, file, "Film the whole runner, head to feet, in even light; a person should fill at least a third of the picture's height.", "no person was found in any of %d frames", frames)
	case pointed && !tracker.Pointed():
		return nil, nil, problem(KindUsage, file, "Point at the middle of the runner's body with --runner x,y@time, in pixels from the top-left corner.", "nobody was found at the place that was pointed at; there is %s", tracker.Everybody())
	case float64(runner.Seen()) < leastSeen*float64(frames):
		return nil, nil, problem(KindNoResult, file, "Choose the part in which the runner is whole in the picture with --start and --end.", "the runner was seen in only %d of %d frames", runner.Seen(), frames)
	}
	return tracker.Track(runner), notes, nil
}

// modelReady tells before any long work where the pose model is not installed.
func modelReady(name string) error {
	m, err := pose.ParseModel(modelName(name))
	if err != nil {
		return &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	if err := pose.Locate("").Ready(m); err != nil {
		return refusal(KindNotInstalled, "", err)
	}
	return nil
}
