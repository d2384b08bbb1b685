package app_test

import (
	"math"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/internal/app"
)

// stepDowns is a runner filmed from the front who lowers the left foot from a
// step twice; at the lowest point the right knee is inward by so many degrees.
func stepDowns(frames int, inwardDeg float64) *track.Track {
	tr := track.New(track.Picture, track.Pixel, make([]float64, frames))
	for _, l := range []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.RightHip, body.RightKnee, body.RightAnkle} {
		tr.Paths[l] = &track.Path{Origin: track.PoseModel, X: make([]float64, frames), Y: make([]float64, frames)}
	}
	for i := range frames {
		t := float64(i) / 30
		tr.TimeS[i] = t
		low := 0.0
		if t > 0.5 && t < 6.5 {
			low = math.Pow(math.Sin(math.Pi*(t-0.5)/3), 2)
		}
		put := func(l body.Landmark, x, y float64) { tr.Paths[l].X[i], tr.Paths[l].Y[i] = x, y }
		in, lean := low*inwardDeg/2*math.Pi/180, math.Cos(low*35*math.Pi/180)
		// The right leg is at the left of the picture; inward is to the right.
		kx, ky := 140+90*lean*math.Sin(in), 220-90*lean*math.Cos(in)
		hx, hy := kx-90*lean*math.Sin(in), ky-90*lean*math.Cos(in)
		put(body.RightAnkle, 140, 220)
		put(body.RightKnee, kx, ky)
		put(body.RightHip, hx, hy)
		put(body.LeftHip, hx+30, hy)
		put(body.LeftKnee, hx+32, hy+88)
		put(body.LeftAnkle, hx+34, hy+176)
	}
	return tr
}

// A clip of a step-down gives the trials of the pose; it is not taken for
// running.
func TestControlTestFromAClip(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	clip := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "step.mp4", smallFilm(t, 7)))
	clip.Facts.View, clip.Facts.Test = "front", "step_down"
	clip = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts}))
	if len(clip.Missing) != 0 {
		t.Errorf("a film of a test lacks %+v", clip.Missing)
	}
	if err := st.RememberTrack(clip.ID, stepDowns(clip.Frames, 14)); err != nil {
		t.Fatal(err)
	}
	got := must[app.PageExamFilmed](t)(st.ExamFilm(bg, v.ID, app.PageExamFilm{Clip: clip.ID, Test: "step_down", Side: "right"}))
	if len(got.Trials) != 2 || got.Trials[0].Clip != clip.ID || got.NoiseDeg == nil || !strings.Contains(got.Text, "8.3 degrees") {
		t.Fatalf("%+v", got)
	}
	for i, tr := range got.Trials {
		if math.Abs(*tr.Value-14) > 0.4 || math.Abs(got.TimesS[i]-(2+3*float64(i))) > 0.1 {
			t.Errorf("trial %d: %g degrees at %g s, want 14 at %d s", i, *tr.Value, got.TimesS[i], 2+3*i)
		}
	}
	_, err := st.ExamFilm(bg, v.ID, app.PageExamFilm{Clip: clip.ID, Test: "step_down", Side: "left"})
	if err == nil || !strings.Contains(err.Error(), "stands on the right leg") || strings.Contains(err.Error(), "/") {
		t.Errorf("the wrong leg: %v", err)
	}
	// What it gave can be kept, and it is no film to be measured.
	e := must[app.PageExam](t)(st.Exam(bg, v.ID))
	e.Entries["step_down/right"] = app.PageExamEntry{Trials: got.Trials}
	e = must[app.PageExam](t)(st.ChangeExam(bg, "", v.ID, e))
	if r := e.Report.Readings[0]; r.Value == nil || math.Abs(*r.Value-14) > 0.4 {
		t.Errorf("reading %+v", r)
	}
	if _, err := st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}); err == nil || !strings.Contains(err.Error(), "nothing to measure") {
		t.Errorf("measured as running: %v", err)
	}
	now := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if s := station(t, now, "film"); s.State == "done" || len(s.Missing) == 0 || s.Missing[0].Code != "film_none" {
		t.Errorf("with a film of a test alone, the station is %+v", s)
	}
	clip.Facts.View = "rear"
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts}))
	if _, err := st.ExamFilm(bg, v.ID, app.PageExamFilm{Clip: clip.ID, Test: "step_down", Side: "right"}); err == nil || !strings.Contains(err.Error(), "another side") {
		t.Errorf("from behind: %v", err)
	}
	clip.Facts.Test = "lunge_cm"
	if _, err := st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version + 1, Facts: clip.Facts}); err == nil {
		t.Error("a film of the lunge was taken")
	}
}

// The demonstration's exam says what its film shows, on the side of the fault.
func TestExamOfTheDemonstration(t *testing.T) {
	st := openStudio(t)
	side, rear, p := syntheticFiles(t, 60, 6)
	s, err := st.DemoVisit(p, side, rear)
	if err != nil {
		t.Fatal(err)
	}
	e := must[app.PageExam](t)(st.Exam(bg, s.VisitID))
	weaker := map[string]string{}
	for _, p := range e.Report.Pairs {
		weaker[p.Test] = p.Weaker
	}
	for test, want := range map[string]string{"hip_abduction_strength": "right", "hip_external_rotation_strength": "right", "single_leg_squat": "right", "hip_adduction_strength": "", "lunge_cm": ""} {
		if got, ok := weaker[test]; !ok || got != want {
			t.Errorf("%s: the poorer side is %q, want %q", test, got, want)
		}
	}
	if len(e.Suggested) == 0 || e.Suggested[0].Source == "common practice" {
		t.Errorf("no finding asks for a test: %+v", e.Suggested)
	}
}
