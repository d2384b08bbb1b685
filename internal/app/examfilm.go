package app

import (
	"context"
	"encoding/json"
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
	memory := &trackMemory{kept: kept, clip: c.Clip}
	order := &examOrder{Asked: &Request{Files: []string{path}, Views: []clip.View{clip.Front}, Model: c.facts.Model,
		CaptureRateHz: orZero(c.facts.CaptureRateHz), StartS: orZero(c.facts.StartS), EndS: orZero(c.facts.EndS)},
		Clip: c.ID, Name: c.Name, Test: t.Name, Side: side, Known: memory.known(ctx)}
	if p := c.facts.Point; p != nil {
		order.Asked.Point = &Point{X: p.X, Y: p.Y, TimeS: p.TimeS}
	}
	e, err := st.sendOut(ctx, errandOrder{Exam: order})
	if err != nil {
		return PageExamFilmed{}, err
	}
	defer e.close()
	answer, err := e.finish(NoProgress{}, func(found errandTrack) error { return memory.takeOver(ctx, e, found) })
	if err != nil {
		return PageExamFilmed{}, nameIn(err, path, c.Name)
	}
	var out PageExamFilmed
	err = json.Unmarshal(answer, &out)
	return out, err
}

// examOrder is the reading of a test's trials from a film as an errand.
type examOrder struct {
	Asked      *Request
	Clip, Name string // the clip's ID and name
	Test       string
	Side       body.Side
	Known      knownTrack
}

// carryOut reads the trials, on the errand.
func (o *examOrder) carryOut(ctx context.Context, order *errandOrder, say *errandTongue) (PageExamFilmed, error) {
	t, ok := exam.Lookup(o.Test)
	if !ok {
		return PageExamFilmed{}, fmt.Errorf("there is no test %q", o.Test)
	}
	o.Asked.remembered = &errandMemory{clip: o.Clip, known: o.Known, dir: order.Dir, say: say}
	raw, warnings, err := o.landmarks(ctx)
	if err != nil {
		return PageExamFilmed{}, err
	}
	return filmedTrials(raw, t, o.Side, o.Clip, o.Name, warnings)
}

// landmarks finds the landmarks of the clip, which need not show running, on its true
// clock.
func (o *examOrder) landmarks(ctx context.Context) (*track.Track, []string, error) {
	r := o.Asked
	facts, err := video.Probe(ctx, r.Files[0])
	if err != nil {
		return nil, nil, videoProblem(o.Name, err)
	}
	slowdown, _ := slowdownOf(facts, r.CaptureRateHz)
	if slowdown < 1 {
		return nil, nil, problem(KindUsage, o.Name, "Check its capture rate at the station Film.", "the film runs faster than the capture rate that was given")
	}
	from, to := 0, facts.Frames()
	if r.StartS > 0 || r.EndS > 0 {
		from, to = facts.Range(r.StartS*slowdown, r.EndS*slowdown)
	}
	if to-from < leastFrames {
		return nil, nil, problem(KindUsage, o.Name, "Choose a longer part at the station Film.", "the chosen part has %d frames", max(0, to-from))
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

// filmedTrials turns landmarks of a clip with an ID and a name into trials.
func filmedTrials(raw *track.Track, t *exam.Test, side body.Side, id, name string, warnings []string) (PageExamFilmed, error) {
	o := track.DefaultClean(track.PoseModel)
	o.Reject = false // that looks for the rhythm of running
	mended, _ := track.Mend(raw, o)
	smooth, err := track.Smooth(mended, o, nil)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, name, err)
	}
	found, err := exam.FromFront(mended, smooth, side)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, name, err)
	}
	out := PageExamFilmed{Trials: []PageExamTrial{}, TimesS: []float64{}, NoiseDeg: number(found.NoiseDeg, 2), Warnings: emptyNotNil(warnings)}
	var angles []float64
	for _, l := range found.Lows {
		if !(l.AngleDeg >= t.Low && l.AngleDeg <= t.High) {
			out.Warnings = append(out.Warnings, fmt.Sprintf("the repetition at %.1f s gave %.0f degrees, which cannot be; it is left out", l.TimeS, l.AngleDeg))
			continue
		}
		angles = append(angles, l.AngleDeg)
		out.Trials = append(out.Trials, PageExamTrial{Value: number(l.AngleDeg, 1), Clip: id})
		out.TimesS = append(out.TimesS, math.Round(l.TimeS*1000)/1000)
	}
	if len(angles) == 0 {
		return PageExamFilmed{}, problem(KindNoResult, name, "Film the test again from the front, whole runner in the picture.", "no repetition gave an angle that can be meant")
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
