package app_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/internal/app"
	"gaitwright/internal/pose"
	"gaitwright/internal/synth"
)

// A drawn single-leg squat or step-down, filmed from the front and looked at by the
// pose network, gives as many trials as it went down, at the right times and with the
// knee's angle within the error that the test states; the other leg is refused.
// Running, and a film with nobody in it, are refused in words a coach can act on.
func TestSquatFromAFilmOfTheFront(t *testing.T) {
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	if err := pose.Locate("").Ready(pose.Full); err != nil {
		t.Skip(err)
	}
	t.Parallel()
	const rate = 15
	st := openStudio(t)
	_, v := consented(t, st)
	cam := synth.NewCamera(clip.Front, 360, 480, 4)
	dir := t.TempDir()
	taken := func(name, test string, data []byte) app.PageVisitClip {
		c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, name, data))
		c.Facts.View, c.Facts.Test = "front", test
		return must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	}
	shot := func(name, test string, film *synth.Film) app.PageVisitClip {
		path := filepath.Join(dir, name)
		writeFilm(t, film, rate, path, nil)
		return taken(name, test, fileOf(t, path))
	}
	read := func(c app.PageVisitClip, side body.Side) (app.PageExamFilmed, error) {
		return st.ExamFilm(bg, v.ID, app.PageExamFilm{Clip: c.ID, Test: c.Facts.Test, Side: side.String()})
	}

	for _, tt := range []struct {
		name, test string
		params     synth.SquatParams
		times      int
	}{
		{"inward.mp4", "single_leg_squat", synth.NewSquatParams(body.Right, 22), 2},
		{"straight.mp4", "single_leg_squat", synth.NewSquatParams(body.Left, 2), 1},
		{"down.mp4", "step_down", synth.NewStepDownParams(body.Left, 16), 1},
	} {
		p := tt.params
		p.Times = tt.times
		test, _ := exam.Lookup(tt.test)
		within, side := test.Errors[0].Value, p.Side
		s := must[*synth.Squat](t)(synth.NewSquat(p))
		c := shot(tt.name, tt.test, must[*synth.Film](t)(synth.NewSquatFilm(s, cam, synth.Clock(rate, s.DurationS()), synth.Look{})))
		got := must[app.PageExamFilmed](t)(read(c, side))
		if len(got.Trials) != tt.times {
			t.Fatalf("%s: %d trials, want %d: %+v", tt.name, len(got.Trials), tt.times, got)
		}
		for i, low := range s.LowS() {
			angle, truth := *got.Trials[i].Value, s.InwardDeg(low)
			t.Logf("%s: %.1f degrees at %.2f s; drawn %.1f at %.2f s", tt.name, angle, got.TimesS[i], truth, low)
			if !(math.Abs(angle-truth) <= within) || math.Abs(got.TimesS[i]-low) > 0.2 {
				t.Errorf("%s, repetition %d: %.1f degrees at %.2f s, drawn %.1f at %.2f s; the stated error is %.1f", tt.name, i+1, angle, got.TimesS[i], truth, low, within)
			}
		}
		if _, err := read(c, side.Other()); err == nil || !strings.Contains(err.Error(), "stands on the "+side.String()+" leg") {
			t.Errorf("%s as the other leg: %v", tt.name, err)
		}
	}

	p := synth.Demo()
	p.DurationS = 3
	runner := must[*synth.Runner](t)(synth.New(p))
	running := shot("running.mp4", "single_leg_squat", must[*synth.Film](t)(synth.NewFilm(runner, cam, synth.Clock(rate, 2), synth.Look{})))
	for _, side := range body.Sides {
		if got, err := read(running, side); err == nil || !strings.Contains(err.Error(), "lifted from the floor") {
			t.Errorf("running as a squat on the %s leg: %+v, %v", side, got, err)
		}
	}
	if got, err := read(taken("nobody.mp4", "single_leg_squat", smallFilm(t, 1)), body.Left); err == nil || !strings.Contains(err.Error(), "nobody") && !strings.Contains(err.Error(), "no person") {
		t.Errorf("nobody in the film: %+v, %v", got, err)
	}
}
