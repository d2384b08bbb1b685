package app

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
	"gaitwright/num/agree"
)

// ExamFilm reads the trials of a test of control from a clip of the visit that
// was filmed from the front: the frontal-plane angle at the lowest point of each
// repetition. The landmarks are found by the same chain as those of running, and
// kept with the clip. Nothing is written into the exam.
func (st *Studio) ExamFilm(ctx context.Context, visitID string, ask PageExamFilm) (PageExamFilmed, error) {
	t, ok := exam.Lookup(ask.Test)
	if !ok || t.Film == "" {
		return PageExamFilmed{}, &Problem{Kind: KindUsage, Field: "test", What: fmt.Sprintf("the test %q is not read from a film", clean(ask.Test, 40)), Mend: "Choose the single-leg squat or the step-down."}
	}
	side, err := body.ParseSide(ask.Side)
	if err != nil || side != body.Left && side != body.Right {
		return PageExamFilmed{}, &Problem{Kind: KindUsage, Field: "side", What: "the standing leg is left or right", Mend: "Choose one."}
	}
	kept, err := st.records()
	if err != nil {
		return PageExamFilmed{}, err
	}
	var f visitRecords
	err = kept.Read(ctx, func(r store.Reader) (err error) { f, _, err = openVisit(r, visitID); return err })
	if err != nil {
		return PageExamFilmed{}, recordProblem(err, "")
	}
	if f.intake.refer().stops() {
		return PageExamFilmed{}, f.mayFilm()
	}
	i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.ID == ask.Clip })
	if i < 0 {
		return PageExamFilmed{}, &Problem{Kind: KindNotFound, Field: "clip", What: "The clip is not in this visit; it may have been removed on another screen."}
	}
	c := &f.clips[i]
	switch {
	case !c.isFilm():
		return PageExamFilmed{}, problem(KindUsage, c.Name, "Film the test from the front.", "this is no film")
	case c.facts.View != "" && c.facts.View != "front":
		return PageExamFilmed{}, problem(KindUsage, c.Name, "Film the test from the front, at knee height.", "this clip is filmed from another side (%s)", c.facts.View)
	}
	path, err := c.path(kept.files)
	if err != nil {
		return PageExamFilmed{}, err
	}
	raw, warnings, err := f.landmarksOf(ctx, kept, c, path)
	if err != nil {
		return PageExamFilmed{}, nameIn(err, path, c.Name)
	}
	return filmedTrials(raw, t, side, c, warnings)
}

// landmarksOf finds the landmarks of a clip, whose file is path and which need not
// show running, on its true clock.
func (f *visitRecords) landmarksOf(ctx context.Context, kept *records, c *clipRecord, path string) (*track.Track, []string, error) {
	facts, err := video.Probe(ctx, path)
	if err != nil {
		return nil, nil, videoProblem(c.Name, err)
	}
	slowdown, _ := slowdownOf(facts, orZero(c.facts.CaptureRateHz))
	if slowdown < 1 {
		return nil, nil, problem(KindUsage, c.Name, "Check its capture rate at the station Film.", "the film runs faster than the capture rate that was given")
	}
	from, to := 0, facts.Frames()
	if start, end := orZero(c.facts.StartS), orZero(c.facts.EndS); start > 0 || end > 0 {
		from, to = facts.Range(start*slowdown, end*slowdown)
	}
	if to-from < leastFrames {
		return nil, nil, problem(KindUsage, c.Name, "Choose a longer part at the station Film.", "the chosen part has %d frames", max(0, to-from))
	}
	r := &Request{Files: []string{path}, Views: []clip.View{clip.Front}, Model: c.facts.Model, remembered: &trackMemory{kept: kept, clip: c.Clip}}
	if p := c.facts.Point; p != nil {
		r.Point = &Point{X: p.X, Y: p.Y, TimeS: p.TimeS}
	}
	// No early look: it is for running.
	raw, notes, err := r.landmarks(ctx, facts, from, to, slowdown, NoProgress{}, nil)
	if err != nil {
		return nil, nil, err
	}
	raw = raw.Clone() // what is remembered is on the file's clock
	for i := range raw.TimeS {
		raw.TimeS[i] /= slowdown
	}
	return raw, notes, nil
}

// filmedTrials turns landmarks into trials.
func filmedTrials(raw *track.Track, t *exam.Test, side body.Side, c *clipRecord, warnings []string) (PageExamFilmed, error) {
	o := track.DefaultClean(track.PoseModel)
	o.Reject = false // that looks for the rhythm of running
	mended, _ := track.Mend(raw, o)
	smooth, err := track.Smooth(mended, o, nil)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, c.Name, err)
	}
	found, err := exam.FromFront(mended, smooth, side)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, c.Name, err)
	}
	out := PageExamFilmed{Trials: []PageExamTrial{}, TimesS: []float64{}, NoiseDeg: number(found.NoiseDeg, 2), Warnings: emptyNotNil(warnings)}
	var angles []float64
	for _, l := range found.Lows {
		if !(l.AngleDeg >= t.Low && l.AngleDeg <= t.High) {
			out.Warnings = append(out.Warnings, fmt.Sprintf("the repetition at %.1f s gave %.0f degrees, which cannot be; it is left out", l.TimeS, l.AngleDeg))
			continue
		}
		angles = append(angles, l.AngleDeg)
		out.Trials = append(out.Trials, PageExamTrial{Value: number(l.AngleDeg, 1), Clip: c.ID})
		out.TimesS = append(out.TimesS, math.Round(l.TimeS*1000)/1000)
	}
	if len(angles) == 0 {
		return PageExamFilmed{}, problem(KindNoResult, c.Name, "Film the test again from the front, whole runner in the picture.", "no repetition gave an angle that can be meant")
	}
	if found.Cut > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("%d repetition(s) cut off by the film's ends are left out", found.Cut))
	}
	if found.Lifted > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("the standing foot was lifted %d time(s); that is left out", found.Lifted))
	}
	e := t.Errors[0]
	all := agree.MeanOf(angles)
	out.SpreadDeg = number(all.SD, 1)
	out.Text = fmt.Sprintf("%d repetitions, on average %.1f degrees at the lowest point (knee inward positive).", len(angles), all.Value)
	if !math.IsNaN(found.NoiseDeg) {
		out.Text += fmt.Sprintf(" Trembling of the landmarks: %.1f degrees.", found.NoiseDeg)
	}
	out.Text += fmt.Sprintf(" A change counts from %.1f degrees (%s).", e.Value, e.Source)
	return out, nil
}
