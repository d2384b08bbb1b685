package app_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/track"
	"gaitwright/internal/app"
	"gaitwright/internal/store"
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

// stepDownFilm is a visit with a film of a step-down on the right leg, the knee inward
// by 14 degrees, whose landmarks are found already.
func stepDownFilm(t testing.TB, st *app.Studio) (app.PageVisit, app.PageVisitClip) {
	t.Helper()
	_, v := consented(t, st)
	clip := stepDownClip(t, st, v.ID, "step.mp4", 7)
	return must[app.PageVisit](t)(st.Visit(bg, v.ID)), clip
}

func stepDownClip(t testing.TB, st *app.Studio, visit, name string, seconds int) app.PageVisitClip {
	t.Helper()
	clip := must[app.PageVisitClip](t)(takeIn(t, st, visit, name, smallFilm(t, seconds)))
	clip.Facts.View, clip.Facts.Test = "front", "step_down"
	clip = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts}))
	if err := st.RememberTrack(clip.ID, stepDowns(clip.Frames, 14)); err != nil {
		t.Fatal(err)
	}
	return clip
}

func onRight(clip app.PageVisitClip) app.PageExamFilm {
	return app.PageExamFilm{Clip: clip.ID, Test: "step_down", Side: "right"}
}

// readFilm has a test read from a clip and waits for what came of it.
func readFilm(t testing.TB, st *app.Studio, visit string, ask app.PageExamFilm) (app.PageExamFilmed, error) {
	t.Helper()
	j, err := st.ReadExamFilm(bg, "", visit, ask)
	if err != nil {
		return app.PageExamFilmed{}, err
	}
	if j = ended(t, st, j.ID); j.State != "done" {
		return app.PageExamFilmed{}, errors.New(j.Message)
	}
	for _, one := range must[app.PageExam](t)(st.Exam(bg, visit)).Filmed {
		if one.ID == j.Outcome {
			return one, nil
		}
	}
	t.Fatalf("what job %+v read is not there", j)
	return app.PageExamFilmed{}, nil
}

// A clip of a step-down gives the trials of the pose; it is not taken for
// running. What was read waits until a person keeps it or puts it aside.
func TestControlTestFromAClip(t *testing.T) {
	st := openStudio(t)
	v, clip := stepDownFilm(t, st)
	work(t, st)
	if len(clip.Missing) != 0 {
		t.Errorf("a film of a test lacks %+v", clip.Missing)
	}
	got := must[app.PageExamFilmed](t)(readFilm(t, st, v.ID, onRight(clip)))
	if len(got.Trials) != 2 || got.Trials[0].Clip != clip.ID || got.NoiseDeg == nil || !strings.Contains(got.Text, "8.3 degrees") || got.Clip != clip.ID || got.Test != "step_down" || got.Side != "right" {
		t.Fatalf("%+v", got)
	}
	for i, tr := range got.Trials {
		if math.Abs(*tr.Value-14) > 0.4 || math.Abs(got.TimesS[i]-(2+3*float64(i))) > 0.1 {
			t.Errorf("trial %d: %g degrees at %g s, want 14 at %d s", i, *tr.Value, got.TimesS[i], 2+3*i)
		}
	}
	wrong := app.PageExamFilm{Clip: clip.ID, Test: "step_down", Side: "left"}
	if _, err := readFilm(t, st, v.ID, wrong); err == nil || !strings.Contains(err.Error(), "step.mp4: the left foot moves more") || !strings.Contains(err.Error(), "stands on the right leg") || strings.Contains(err.Error(), "/") {
		t.Errorf("the wrong leg: %v", err)
	}
	now := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(now.Jobs) != 1 || now.Jobs[0].State != "failed" || now.Jobs[0].Test != "step_down" || now.Jobs[0].Side != "left" || now.Jobs[0].ClipID != clip.ID {
		t.Errorf("that it failed is told by %+v", now.Jobs)
	}
	if s := station(t, now, "measure"); len(s.Missing) != 0 {
		t.Errorf("for a test that could not be read, the station Measure lacks %+v", s.Missing)
	}
	// It is tried again, and told once.
	if _, err := readFilm(t, st, v.ID, wrong); err == nil {
		t.Error("the wrong leg was read")
	}
	if jobs := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Jobs; len(jobs) != 1 {
		t.Errorf("what failed twice is told by %+v", jobs)
	}

	// Read again, it stands there once.
	got = must[app.PageExamFilmed](t)(readFilm(t, st, v.ID, onRight(clip)))
	e := must[app.PageExam](t)(st.Exam(bg, v.ID))
	if len(e.Filmed) != 1 || e.Filmed[0].ID != got.ID || len(e.Entries) != 0 {
		t.Fatalf("before it is kept: %+v", e)
	}
	if s := station(t, must[app.PageVisit](t)(st.Visit(bg, v.ID)), "exam"); !slices.ContainsFunc(s.Missing, func(m app.PageMissing) bool { return m.Code == "exam_filmed" && strings.Contains(m.Text, "step.mp4") }) {
		t.Errorf("that it waits is not said: %+v", s.Missing)
	}

	// Put aside, offered again, kept, taken back, kept.
	must[app.PageExam](t)(st.PutExamFilmedAside(bg, "", v.ID, got.ID))
	_, err := st.KeepExamFilmed(bg, "", v.ID, got.ID)
	if kindOf(t, err) != app.KindNotFound || !strings.Contains(err.Error(), "another screen") {
		t.Errorf("kept after it was put aside: %v", err)
	}
	if back := must[app.PageVisit](t)(st.Undo(bg, "", v.ID)); back.Deed != "Put aside what was read from step.mp4" {
		t.Errorf("undone was %q", back.Deed)
	}
	for range 2 {
		e = must[app.PageExam](t)(st.KeepExamFilmed(bg, "", v.ID, got.ID))
		if r := e.Report.Readings; len(e.Filmed) != 0 || len(r) != 1 || r[0].Value == nil || math.Abs(*r[0].Value-14) > 0.4 || r[0].Trials != 2 || e.Entries["step_down/right"].Trials[1].Clip != clip.ID {
			t.Errorf("kept: %+v", e)
		}
		if back := must[app.PageVisit](t)(st.Undo(bg, "", v.ID)); !strings.HasPrefix(back.Deed, "Exam: step-down") {
			t.Errorf("undone was %q", back.Deed)
		}
		if e = must[app.PageExam](t)(st.Exam(bg, v.ID)); len(e.Filmed) != 1 || len(e.Entries) != 0 {
			t.Errorf("taken back: %+v", e)
		}
	}
	// It is added to what another screen entered meanwhile.
	e.Entries["step_down/right"] = app.PageExamEntry{Trials: []app.PageExamTrial{{Value: ptr(10.0)}}, Note: "barefoot"}
	must[app.PageExam](t)(st.ChangeExam(bg, "", v.ID, e))
	e = must[app.PageExam](t)(st.KeepExamFilmed(bg, "", v.ID, got.ID))
	if one := e.Entries["step_down/right"]; len(one.Trials) != 3 || *one.Trials[0].Value != 10 || one.Note != "barefoot" {
		t.Errorf("added to %+v", one)
	}

	// It is no film to be measured, and none from another side is read.
	if _, err := st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}); err == nil || !strings.Contains(err.Error(), "nothing to measure") {
		t.Errorf("measured as running: %v", err)
	}
	now = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if s := station(t, now, "film"); s.State == "done" || len(s.Missing) == 0 || s.Missing[0].Code != "film_none" {
		t.Errorf("with a film of a test alone, the station is %+v", s)
	}
	clip.Facts.View = "rear"
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts}))
	if _, err := readFilm(t, st, v.ID, onRight(clip)); err == nil || !strings.Contains(err.Error(), "another side") {
		t.Errorf("from behind: %v", err)
	}
	clip.Facts.Test = "lunge_cm"
	if _, err := st.ChangeClip(bg, "", clip.ID, app.PageClipChange{Version: clip.Version + 1, Facts: clip.Facts}); err == nil {
		t.Error("a film of the lunge was taken")
	}
}

// Films of tests wait in the queue and are read one after the other; the same is not
// asked twice, and a restart goes on with them.
func TestFilmsOfTestsQueueAndOutliveARestart(t *testing.T) {
	st := openStudio(t)
	v, one := stepDownFilm(t, st)
	two := stepDownClip(t, st, v.ID, "again.mp4", 8)
	a := must[app.PageJob](t)(st.ReadExamFilm(bg, "laptop", v.ID, onRight(one)))
	b := must[app.PageJob](t)(st.ReadExamFilm(bg, "laptop", v.ID, onRight(two)))
	c := must[app.PageJob](t)(st.ReadExamFilm(bg, "laptop", v.ID, app.PageExamFilm{Clip: two.ID, Test: "step_down", Side: "left"}))
	if same := must[app.PageJob](t)(st.ReadExamFilm(bg, "tablet", v.ID, onRight(one))); same.ID != a.ID {
		t.Error("the same work stands in the queue twice")
	}
	now := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(now.Jobs) != 3 || now.Jobs[1].ID != b.ID || now.Next.Code == "working" {
		t.Errorf("while they wait: %+v, next %+v", now.Jobs, now.Next)
	}
	if _, err := st.RemoveClip(bg, "", two.ID, two.Version); err == nil || !strings.Contains(err.Error(), "being read") {
		t.Errorf("a clip that is to be read was removed: %v", err)
	}
	// The program broke down while the first was at work.
	records, _, err := st.Records()
	if err != nil {
		t.Fatal(err)
	}
	err = records.Change(bg, store.Deed{}, func(w store.Writer) error {
		j, err := w.Job(a.ID)
		if err != nil {
			return err
		}
		j.State, j.Share, j.Started = store.JobRunning, 0.4, time.Now()
		return w.PutJob(&j)
	})
	if err != nil {
		t.Fatal(err)
	}
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	events, leave := st.Events()
	defer leave()
	must[app.PageJob](t)(st.CancelJob(bg, "", c.ID))
	work(t, st)
	a, b = ended(t, st, a.ID), ended(t, st, b.ID)
	if a.State != "done" || b.State != "done" || *a.Ended > *b.Started {
		t.Errorf("after the restart: %+v, %+v", a, b)
	}
	e := must[app.PageExam](t)(st.Exam(bg, v.ID))
	if len(e.Filmed) != 2 || e.Filmed[0].ID != a.Outcome || e.Filmed[1].ID != b.Outcome || len(e.Filmed[1].Trials) != 2 {
		t.Errorf("what was read: %+v", e.Filmed)
	}
	if now = must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(now.Jobs) != 0 {
		t.Errorf("jobs left: %+v", now.Jobs)
	}
	ends := map[string]string{}
	for len(events) > 0 {
		var j app.PageJob
		if e := <-events; e.Name == "job" && json.Unmarshal(e.Data, &j) == nil {
			ends[j.ID] = j.State + " " + j.Outcome
		}
	}
	if ends[a.ID] != "done "+a.Outcome || ends[b.ID] != "done "+b.Outcome || ends[c.ID] != "cancelled " {
		t.Errorf("the pages heard %v", ends)
	}
}

// A film that is gone, removed or no longer agreed to before it is read ends its work in
// words, and leaves the visit whole.
func TestATestWhoseFilmGoes(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	clip := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "step.mp4", smallFilm(t, 7)))
	ask := func() app.PageJob { return must[app.PageJob](t)(st.ReadExamFilm(bg, "", v.ID, onRight(clip))) }
	left := func(what string) {
		t.Helper()
		if e := must[app.PageExam](t)(st.Exam(bg, v.ID)); len(e.Filmed) != 0 || len(e.Entries) != 0 {
			t.Errorf("%s: something was read: %+v", what, e)
		}
	}

	// It is taken back while it waits.
	j := ask()
	if back := must[app.PageVisit](t)(st.Undo(bg, "", v.ID)); len(back.Clips) != 0 {
		t.Fatalf("undone was %q", back.Deed)
	}
	work(t, st)
	if j = ended(t, st, j.ID); j.State != "failed" || !strings.Contains(j.Message, "removed on another screen") {
		t.Errorf("taken back: %+v", j)
	}
	if jobs := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Jobs; len(jobs) != 0 {
		t.Errorf("of a film that is out of sight: %+v", jobs)
	}
	left("taken back")
	must[app.PageVisit](t)(st.Redo(bg, "", v.ID))
	if err := st.RememberTrack(clip.ID, stepDowns(clip.Frames, 14)); err != nil {
		t.Fatal(err)
	}

	// A warning sign is met while it waits.
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	j = ask()
	signs := healthy(st)
	signs.Signs["chest"] = "yes"
	intake := must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, signs))
	work(t, st)
	if j = ended(t, st, j.ID); j.State != "failed" || !strings.Contains(j.Message, "warning sign stops this visit") {
		t.Errorf("stopped: %+v", j)
	}
	signs.Version, signs.Signs["chest"] = intake.Version, "no"
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, signs))
	left("stopped")

	// The file is gone from the folder.
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	j = ask()
	err := filepath.WalkDir(filepath.Join(st.Dir(), "files"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return os.Remove(path)
	})
	if err != nil {
		t.Fatal(err)
	}
	work(t, st)
	if j = ended(t, st, j.ID); j.State != "failed" || !strings.Contains(j.Message, "step.mp4") || !strings.Contains(j.Message, "Take it in again") {
		t.Errorf("gone: %+v", j)
	}
	if jobs := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Jobs; len(jobs) != 1 || jobs[0].State != "failed" {
		t.Errorf("gone: the visit tells %+v", jobs)
	}
	if _, err := st.ReadExamFilm(bg, "", v.ID, onRight(clip)); err == nil || !strings.Contains(err.Error(), "Take it in again") {
		t.Errorf("gone: asked again: %v", err)
	}
	left("gone")
	// Brought back, it is read.
	back := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "step.mp4", smallFilm(t, 7)))
	if back.ID != clip.ID {
		t.Fatalf("the same film is clip %s and was %s", back.ID, clip.ID)
	}
	if err := st.RememberTrack(clip.ID, stepDowns(clip.Frames, 14)); err != nil {
		t.Fatal(err)
	}
	must[app.PageExamFilmed](t)(readFilm(t, st, v.ID, onRight(clip)))

	// A consent that is withdrawn takes the film, what was read from it and the work on it.
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	j = ask()
	r := must[app.PageRunner](t)(st.Runner(bg, v.Runner.ID))
	r.Consent.Filming = nil
	must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, "", r))
	work(t, st)
	left("withdrawn")
	now := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(now.Clips) != 0 || len(now.Jobs) != 0 {
		t.Errorf("withdrawn: clips %+v, jobs %+v", now.Clips, now.Jobs)
	}
	for _, one := range must[[]app.PageJob](t)(st.Jobs(bg)) {
		if one.ID == j.ID {
			t.Errorf("withdrawn: there is still %+v", one)
		}
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

// All that the reading of a test says, of what it read and of what is wrong with a film,
// is said in German too.
func TestReadingATestSpeaksGerman(t *testing.T) {
	german := func(what, text string) {
		t.Helper()
		text = withoutName(text) // which the page leaves as it is
		if said, ok := app.Told("de", text); !ok || said == text {
			t.Errorf("%s: there is no German for %q", what, text)
		}
	}
	for what, spoil := range map[string]func(tr *track.Track) body.Side{
		"no knee":       func(tr *track.Track) body.Side { tr.Paths[body.RightKnee] = nil; return body.Right },
		"seldom seen":   func(tr *track.Track) body.Side { blank(tr, body.RightKnee, 7); return body.Right },
		"upside down":   func(tr *track.Track) body.Side { turn(tr, 1, -1); return body.Right },
		"from behind":   func(tr *track.Track) body.Side { turn(tr, -1, 1); return body.Right },
		"the other leg": func(tr *track.Track) body.Side { return body.Left },
		"nothing done":  func(tr *track.Track) body.Side { *tr = *tr.Slice(0, 15); return body.Right },
		"half of one":   func(tr *track.Track) body.Side { *tr = *tr.Slice(0, 58); return body.Right },
	} {
		tr := stepDowns(210, 14)
		side := spoil(tr)
		if _, err := exam.FromFront(tr, tr, side); err == nil {
			t.Errorf("%s: it was read", what)
		} else {
			german(what, app.InOneLine(&app.Problem{File: "step.mp4", What: err.Error()}))
		}
	}
	for _, side := range body.Sides {
		german("lifted", fmt.Sprintf("the %s foot is lifted from the floor %d time(s), as in running, and no squat on that leg was found: choose the leg that stands, or film the test itself", side, 12))
		german("the other leg", fmt.Sprintf("the %s foot moves more than the %s one, so the runner stands on the %s leg: choose that side", side, side.Other(), side.Other()))
	}
	st := openStudio(t)
	_, v := consented(t, st)
	clip := stepDownClip(t, st, v.ID, "step.mp4", 7)
	short := stepDownClip(t, st, v.ID, "short.mp4", 1)
	short.Facts.StartS, short.Facts.EndS = ptr(0.0), ptr(0.1)
	short = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", short.ID, app.PageClipChange{Version: short.Version, Facts: short.Facts}))
	work(t, st)
	for what, ask := range map[string]app.PageExamFilm{
		"no test": {Clip: clip.ID, Test: "lunge_cm", Side: "left"}, "no side": {Clip: clip.ID, Test: "step_down"}, "no clip": {Clip: v.ID, Test: "step_down", Side: "left"},
		"too short": onRight(short),
	} {
		if _, err := readFilm(t, st, v.ID, ask); err == nil {
			t.Errorf("%s: it was read", what)
		} else {
			german(what, app.InOneLine(err))
		}
	}
	j := ended(t, st, must[app.PageJob](t)(st.ReadExamFilm(bg, "", v.ID, onRight(clip))).ID)
	german("done", j.Message)
	german("at work", "finding landmarks in step.mp4")
	e := must[app.PageExam](t)(st.Exam(bg, v.ID))
	german("what was read", e.Filmed[0].Text)
	for _, m := range station(t, must[app.PageVisit](t)(st.Visit(bg, v.ID)), "exam").Missing {
		if m.Code == "exam_filmed" {
			german("it waits", m.Text)
		}
	}
	must[app.PageExam](t)(st.PutExamFilmedAside(bg, "", v.ID, e.Filmed[0].ID))
	_, err := st.PutExamFilmedAside(bg, "", v.ID, e.Filmed[0].ID)
	german("put aside twice", app.InOneLine(err))
	german("the deed", must[app.PageVisit](t)(st.Visit(bg, v.ID)).Undo)
	german("the trail", "Read a test from step.mp4")
	german("removed at work", "step.mp4: a test is being read from this clip. Cancel it first, or wait.")
	short.Facts.View = "rear"
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", short.ID, app.PageClipChange{Version: short.Version, Facts: short.Facts}))
	_, err = st.ReadExamFilm(bg, "", v.ID, onRight(short))
	german("from behind", app.InOneLine(err))
	german("not agreed", "step.mp4: Ida Invented has not agreed to be filmed, so no film is read. Note the day of the consent at the station Intake.")
}

// withoutName is what is said of a film without its name before it.
func withoutName(text string) string {
	if i := strings.Index(text, ".mp4: "); i > 0 {
		return text[i+len(".mp4: "):]
	}
	return text
}

// blank leaves a landmark in every few frames.
func blank(tr *track.Track, l body.Landmark, every int) {
	for i := range tr.TimeS {
		if i%every != 0 {
			tr.Paths[l].X[i], tr.Paths[l].Y[i] = math.NaN(), math.NaN()
		}
	}
}

// turn mirrors the picture.
func turn(tr *track.Track, x, y float64) {
	for _, p := range tr.Paths {
		if p == nil {
			continue
		}
		for i := range p.X {
			p.X[i], p.Y[i] = 300+x*(p.X[i]-300), 300+y*(p.Y[i]-300)
		}
	}
}
