package app_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/internal/app"
	"gaitwright/internal/pose"
	"gaitwright/internal/store"
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
	work(t, st)
	read := func(c app.PageVisitClip, side body.Side) (app.PageExamFilmed, error) {
		return readFilm(t, st, v.ID, app.PageExamFilm{Clip: c.ID, Test: c.Facts.Test, Side: side.String()})
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

// Reading a test is work in the background like measuring: a program that is killed at
// one blow goes on with it when it is started again; cancelled, or its work killed, it
// leaves nothing behind and the visit as it was.
func TestReadingATestInTheBackground(t *testing.T) {
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	if err := pose.Locate("").Ready(pose.Full); err != nil {
		t.Skip(err)
	}
	if runtime.GOOS != "linux" {
		t.Skip("reads /proc")
	}
	const rate = 15
	st := openStudio(t)
	_, v := consented(t, st)
	p := synth.NewSquatParams(body.Right, 16)
	p.Times = 3
	s := must[*synth.Squat](t)(synth.NewSquat(p))
	path := filepath.Join(t.TempDir(), "squats.mp4")
	writeFilm(t, must[*synth.Film](t)(synth.NewSquatFilm(s, synth.NewCamera(clip.Front, 360, 480, 4), synth.Clock(rate, s.DurationS()), synth.Look{})), rate, path, nil)
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "squats.mp4", fileOf(t, path)))
	c.Facts.View, c.Facts.Test = "front", "single_leg_squat"
	c = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	before := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	ask := func() app.PageJob {
		return must[app.PageJob](t)(st.ReadExamFilm(bg, "", v.ID, app.PageExamFilm{Clip: c.ID, Test: "single_leg_squat", Side: "right"}))
	}
	same := func(what string, pids []int) {
		t.Helper()
		allGone(t, what, pids)
		if left, err := os.ReadDir(filepath.Join(st.Dir(), "errands")); len(left) > 0 {
			t.Errorf("%s: left behind %v, %v", what, left, err)
		}
		got := must[app.PageVisit](t)(st.Visit(bg, v.ID))
		if e := must[app.PageExam](t)(st.Exam(bg, v.ID)); len(e.Filmed) != 0 || len(e.Entries) != 0 || got.Undo != before.Undo || got.Clips[0].Version != before.Clips[0].Version || got.Clips[0].Track != "none" {
			t.Errorf("%s: the visit is not as it was: %+v, %+v", what, got, e)
		}
	}

	events, leave := st.Events()
	defer leave()
	work(t, st)
	// halfway waits until some frames are done.
	halfway := func(id string) app.PageJob {
		for e := range events {
			var j app.PageJob
			if e.Name != "job" || json.Unmarshal(e.Data, &j) != nil || j.ID != id {
				continue
			}
			if j.State != "queued" && j.State != "running" {
				t.Fatalf("the job ended early: %+v", j)
			}
			if j.Share > 0.05 {
				return j
			}
		}
		t.Fatal("the events ended")
		return app.PageJob{}
	}
	j := ask()
	if live := halfway(j.ID); live.Message != "finding landmarks in squats.mp4" || live.Test != "single_leg_squat" || live.Side != "right" {
		t.Errorf("while it runs: %+v", live)
	}
	pids := descendants(t, os.Getpid(), "")
	must[app.PageJob](t)(st.CancelJob(bg, "", j.ID))
	if j = ended(t, st, j.ID); j.State != "cancelled" {
		t.Errorf("cancelled: %+v", j)
	}
	same("cancelled", pids)
	for _, by := range []struct {
		name  string
		words []string
	}{{"ffmpeg", []string{"squats.mp4", "ended from outside"}}, {"gaitwright-aid", []string{"was ended from outside", "Close other programs"}}} {
		j := ask()
		halfway(j.ID)
		pids := descendants(t, os.Getpid(), "")
		kill(t, atWork(t, os.Getpid(), by.name), syscall.SIGKILL)
		j = ended(t, st, j.ID)
		for _, w := range by.words {
			if j.State != "failed" || !strings.Contains(j.Message, w) {
				t.Errorf("%s killed: %s, %q has not a word of %q", by.name, j.State, j.Message, w)
			}
		}
		same(by.name+" killed", pids)
	}

	// The program itself is killed, at work.
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	j = ask()
	first := serve(t, st.Dir())
	atWork(t, first.cmd.Process.Pid, "ffmpeg")
	pids = descendants(t, first.cmd.Process.Pid, "")
	kill(t, first.cmd.Process.Pid, syscall.SIGKILL)
	allGone(t, "the program killed", pids)
	if got := must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(got.Jobs) != 1 || got.Jobs[0].ID != j.ID || got.Jobs[0].State != "running" {
		t.Errorf("the program killed: the visit tells %+v", got.Jobs)
	}
	serve(t, st.Dir())
	if got := stored(t, st, j.ID); got.State != store.JobDone {
		t.Fatalf("after the next start the job is %s: %s", got.State, got.Message)
	}
	filmed := must[app.PageExam](t)(st.Exam(bg, v.ID)).Filmed
	if len(filmed) != 1 || len(filmed[0].Trials) != p.Times {
		t.Fatalf("read: %+v", filmed)
	}
}
