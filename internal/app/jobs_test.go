package app_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/store"
)

// visitWithKeypoints is a visit with the invented runner's two views as keypoint files.
func visitWithKeypoints(t testing.TB, st *app.Studio) app.PageVisit {
	t.Helper()
	_, v := consented(t, st)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, healthy(st)))
	side, rear, p := syntheticFiles(t, 120, 10)
	for _, path := range []string{side, rear} {
		c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, filepath.Base(path), fileOf(t, path)))
		c.Facts.SpeedMPS = ptr(p.SpeedMPS)
		must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	}
	return must[app.PageVisit](t)(st.Visit(bg, v.ID))
}

// ended waits until a job of the visit has ended, and returns it.
func ended(t testing.TB, st *app.Studio, id string) app.PageJob {
	t.Helper()
	for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(20 * time.Millisecond) {
		for _, j := range must[[]app.PageJob](t)(st.Jobs(bg)) {
			if j.ID == id && j.State != "queued" && j.State != "running" {
				return j
			}
		}
	}
	t.Fatal("the job does not end")
	return app.PageJob{}
}

func work(t testing.TB, st *app.Studio) {
	ctx, cancel := context.WithCancel(bg)
	t.Cleanup(cancel)
	st.StartWork(ctx)
}

func TestAVisitIsMeasured(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	if v.Next.Code != "not_measured" {
		t.Fatalf("next is %+v", v.Next)
	}
	events, leave := st.Events()
	defer leave()
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "laptop", v.ID, app.PageMeasureAsk{}))
	if again := must[app.PageJob](t)(st.MeasureVisit(bg, "tablet", v.ID, app.PageMeasureAsk{})); again.ID != j.ID {
		t.Error("the same work stands in the queue twice")
	}
	got := must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if got.Next.Code != "working" || got.Clips[0].Track != "queued" {
		t.Errorf("while it waits: %+v, %s", got.Next, got.Clips[0].Track)
	}
	// What is under way is not asked for as well.
	for _, s := range got.Stations {
		if s.Name == "measure" && (len(s.Missing) != 1 || s.Missing[0].Code != "working") {
			t.Errorf("while it waits the station lacks %+v", s.Missing)
		}
	}
	work(t, st)
	j = ended(t, st, j.ID)
	if j.State != "done" || j.Share != 1 || j.Outcome == "" || j.Started == nil || j.Ended == nil {
		t.Fatalf("job %+v", j)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(v.Results) != 1 || v.Results[0].ID != j.Outcome || !v.Results[0].Current || v.Results[0].Stale || len(v.Results[0].ClipIDs) != 2 || v.Next.Code != "exam_none" {
		t.Errorf("after it: %+v, next %+v", v.Results, v.Next)
	}
	if v.Undo != "Measured side.json, rear.csv" {
		t.Errorf("the deed reads %q", v.Undo)
	}
	r := must[app.PageSession](t)(st.Result(j.Outcome))
	if r.VisitID != v.ID || len(r.Clips) != 2 || r.Clips[0].Name != "side.json" || r.ClipIDs[1] != v.Clips[1].ID || r.Runner != v.Runner.Name {
		t.Errorf("result %+v", r.PageSummary)
	}
	// The same numbers as from the command line.
	side, rear, p := syntheticFiles(t, 120, 10)
	plain, err := st.Measure(bg, app.Request{Files: []string{side, rear}, SpeedMPS: p.SpeedMPS, Runner: app.RunnerFacts{HeightM: 1.7, MassKG: 61, Sex: "female"}}, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	kept, err := st.Load(j.Outcome)
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range plain.Clips {
		a, b := fmt.Sprintf("%+v", c.Measures), fmt.Sprintf("%+v", kept.Clips[i].Measures)
		if a != b || len(c.Measures) == 0 {
			t.Errorf("clip %d differs from the command line's:\n%s\n%s", i, a, b)
		}
	}
	// The pages heard of it.
	heard := map[string]int{}
	for len(events) > 0 {
		e := <-events
		heard[e.Name]++
		if !json.Valid(e.Data) || strings.ContainsRune(string(e.Data), '\n') {
			t.Errorf("event %s carries %q", e.Name, e.Data)
		}
	}
	if heard["job"] < 2 || heard["result"] != 1 || heard["visit"] < 2 {
		t.Errorf("heard %v", heard)
	}
}

// Whatever a result rests on, a change of it is told, and measuring again is the
// next thing.
func TestWhatMakesAResultStale(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	work(t, st)
	if j := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID); j.State != "done" {
		t.Fatal(j.Message)
	}
	now := func() app.PageVisit { return must[app.PageVisit](t)(st.Visit(bg, v.ID)) }
	clip := now().Clips[0].ID
	point := []app.StickerPoint{{Name: "left_psis", Clicks: []app.StickerClick{{Frame: 3, X: 100, Y: 120}}}}
	elsewhere := []app.StickerPoint{{Name: "left_psis", Clicks: []app.StickerClick{{Frame: 3, X: 140, Y: 120}}}}
	facts := func(change func(*app.PageClipFacts)) func() error {
		return func() error {
			c := now().Clips[0]
			change(&c.Facts)
			_, err := st.ChangeClip(bg, "", clip, app.PageClipChange{Version: c.Version, Facts: c.Facts})
			return err
		}
	}
	speed := *now().Clips[0].Facts.SpeedMPS
	for _, step := range []struct {
		what  string
		do    func() error
		stale bool
	}{
		{"nothing", func() error { return nil }, false},
		{"followed stickers", func() error { return st.RememberPaths(bg, clip, "one", point) }, true},
		{"other clicks", func() error { return st.RememberPaths(bg, clip, "two", elsewhere) }, true},
		{"no stickers any more", func() error { return st.RememberPaths(bg, clip, "two", nil) }, false},
		{"another speed", facts(func(f *app.PageClipFacts) { f.SpeedMPS = ptr(1.1 * speed) }), true},
		{"the speed of before", facts(func(f *app.PageClipFacts) { f.SpeedMPS = ptr(speed) }), false},
		{"other shoes", facts(func(f *app.PageClipFacts) { f.Shoes = "Invented Racer" }), false},
		{"another height", func() error {
			r := now().Runner
			r.HeightM = ptr(1.61)
			_, err := st.ChangeRunner(bg, "", r.ID, v.ID, r)
			return err
		}, true},
	} {
		if err := step.do(); err != nil {
			t.Fatalf("%s: %v", step.what, err)
		}
		got := now()
		if got.Results[0].Stale != step.stale || (got.Next.Code == "stale") != step.stale {
			t.Errorf("%s: stale %v, next %s; want %v", step.what, got.Results[0].Stale, got.Next.Code, step.stale)
		}
	}
}

func TestMeasuringAgainKeepsTheOlderResult(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	work(t, st)
	first := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	c := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Clips[0]
	c.Facts.SpeedMPS = ptr(*c.Facts.SpeedMPS * 1.1)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if !v.Results[0].Stale || v.Next.Code != "stale" {
		t.Errorf("a changed fact: %+v", v.Next)
	}
	second := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(v.Results) != 2 || v.Results[0].ID != second.Outcome || v.Results[1].ID != first.Outcome || v.Results[0].Stale || v.Results[1].Current {
		t.Errorf("results %+v", v.Results)
	}
	if _, err := st.Load(first.Outcome); err != nil {
		t.Errorf("the older result: %v", err)
	}
	// Undo takes the measurement back, then the fact; redo brings both.
	v = must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
	v = must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
	if len(v.Results) != 1 || v.Results[0].Stale || v.Next.Code != "exam_none" {
		t.Errorf("undone: %+v, %+v", v.Results, v.Next)
	}
	must[app.PageVisit](t)(st.Redo(bg, "", v.ID))
	if v = must[app.PageVisit](t)(st.Redo(bg, "", v.ID)); len(v.Results) != 2 || v.Next.Code != "exam_none" {
		t.Errorf("redone: %+v", v.Next)
	}
	// One clip alone leaves the other to be measured.
	j := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{Clips: []string{v.Clips[0].ID}})).ID)
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if j.State != "done" || j.ClipID != v.Clips[0].ID || v.Next.Code != "some_left" || !strings.Contains(v.Next.Text, "rear.csv") || v.Results[0].Stale {
		t.Errorf("one alone: %+v, %+v", j, v.Next)
	}
}

// unaltered fails where a file that was taken in does not lie in the studio as it was,
// byte for byte in the place that its content names.
func unaltered(t *testing.T, st *app.Studio, taken ...string) {
	t.Helper()
	missing := map[string]string{}
	for _, path := range taken {
		missing[fmt.Sprintf("%x", sha256.Sum256(must[[]byte](t)(os.ReadFile(path))))] = path
	}
	err := filepath.WalkDir(st.Dir(), func(path string, d fs.DirEntry, err error) error {
		name := filepath.Base(filepath.Dir(path)) + d.Name()
		if err != nil || d.IsDir() || missing[name] == "" {
			return err
		}
		if got := fmt.Sprintf("%x", sha256.Sum256(must[[]byte](t)(os.ReadFile(path)))); got != name {
			t.Errorf("%s was altered", missing[name])
		}
		delete(missing, name)
		return nil
	})
	if err != nil || len(missing) > 0 {
		t.Errorf("%v; not in the studio: %v", err, missing)
	}
}

// Corrections made at the bench are carried over to the next measurement of the
// same clip, and to no other clip. The files that were taken in stay as they were.
func TestCorrectionsAreCarriedOver(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	work(t, st)
	first := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	r := must[app.PageSession](t)(st.Result(first.Outcome))
	gone := r.Clips[0].Contacts[4]
	corrected := must[app.PageCorrected](t)(st.Correct(bg, first.Outcome, 0, app.PageCorrection{What: "Removed a contact", Edits: app.PageEdits{Removed: []app.PageContact{gone}}}))
	if n := len(corrected.Session.Clips[0].Contacts); n != len(r.Clips[0].Contacts)-1 {
		t.Fatalf("corrected: %d contacts of %d", n, len(r.Clips[0].Contacts))
	}
	c := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Clips[0]
	c.Facts.SpeedMPS = ptr(*c.Facts.SpeedMPS * 1.05)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	second := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	again := must[app.PageSession](t)(st.Result(second.Outcome))
	if n := len(again.Clips[0].Contacts); n != len(r.Clips[0].Contacts)-1 || slices.Contains(again.Clips[0].Contacts, gone) {
		t.Errorf("measured again: %d contacts, want %d without the removed one", n, len(r.Clips[0].Contacts)-1)
	}
	if len(again.Clips[1].Contacts) != len(r.Clips[1].Contacts) {
		t.Error("the other clip was corrected too")
	}
	side, rear, _ := syntheticFiles(t, 120, 10)
	unaltered(t, st, side, rear)
}

// What the program itself writes of a clip does not refuse a person's write.
func TestWorkInTheBackgroundDoesNotHoldUpAPerson(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	c := v.Clips[0]
	work(t, st)
	ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	c.Facts.Shoes = "blue"
	if _, err := st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}); err != nil {
		t.Errorf("what was read before the measurement cannot be written: %v", err)
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); v.Results[0].Stale {
		t.Error("other shoes make the result stale")
	}
}

// A program that broke down leaves a running job; the next one does it, but not one
// that was running each time when three broke down.
func TestARestartGoesOnWithTheJobs(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	a := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	b := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{Clips: []string{v.Clips[1].ID}}))
	c := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{Clips: []string{v.Clips[0].ID}}))
	records, _, err := st.Records()
	if err != nil {
		t.Fatal(err)
	}
	err = records.Change(bg, store.Deed{}, func(w store.Writer) error {
		for id, broken := range map[string]int{a.ID: 1, c.ID: 2} {
			j, err := w.Job(id)
			if err != nil {
				return err
			}
			j.State, j.Share, j.Started, j.Broken = store.JobRunning, 0.4, time.Now(), broken
			if err := w.PutJob(&j); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	work(t, st)
	if j := ended(t, st, a.ID); j.State != "done" {
		t.Errorf("the one that ran: %+v", j)
	}
	if j := ended(t, st, b.ID); j.State != "done" {
		t.Errorf("the one that waited: %+v", j)
	}
	if j := ended(t, st, c.ID); j.State != "failed" || !strings.Contains(j.Message, "three times") || j.Ended == nil {
		t.Errorf("the one that breaks the program: %+v", j)
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(v.Results) != 2 || len(v.Jobs) != 0 {
		t.Errorf("%d results, jobs %+v", len(v.Results), v.Jobs)
	}
}

// Of two programs with the same folder one works; when it ends, the other does.
func TestTwoProgramsDoNotWorkOnTheSameJob(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	work(t, st)
	ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	other := must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(other.Close)
	work(t, other)
	time.Sleep(50 * time.Millisecond)
	st.Close()
	j := must[app.PageJob](t)(other.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	if j = ended(t, other, j.ID); j.State != "done" {
		t.Errorf("job %+v", j)
	}
	if v = must[app.PageVisit](t)(other.Visit(bg, v.ID)); len(v.Results) != 2 {
		t.Errorf("%d results of two jobs", len(v.Results))
	}
}

func TestAQueuedJobIsCancelled(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	if j = must[app.PageJob](t)(st.CancelJob(bg, "", j.ID)); j.State != "cancelled" {
		t.Errorf("job %+v", j)
	}
	if again := must[app.PageJob](t)(st.CancelJob(bg, "", j.ID)); again.State != "cancelled" {
		t.Errorf("cancelled twice: %+v", again)
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(v.Jobs) != 0 || v.Next.Code != "not_measured" {
		t.Errorf("after it: jobs %+v, next %+v", v.Jobs, v.Next)
	}
	// What comes after it is worked on, and it alone.
	work(t, st)
	ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(v.Results) != 1 || len(v.Jobs) != 0 {
		t.Errorf("%d results, jobs %+v", len(v.Results), v.Jobs)
	}
	if _, err := st.CancelJob(bg, "", strings.Repeat("0", 26)); kindOf(t, err) != app.KindNotFound {
		t.Errorf("a job that is none: %v", err)
	}
}

// A job that another program with the same folder runs is cancelled from here too, and
// a runner whose films it works on is not erased under it.
func TestAJobOfAnotherProgramIsCancelled(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	work(t, st)
	other := must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(other.Close)
	running := func() app.PageJob {
		for {
			j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
			for j.State == "queued" {
				time.Sleep(time.Millisecond)
				for _, now := range must[[]app.PageJob](t)(st.Jobs(bg)) {
					if now.ID == j.ID {
						j = now
					}
				}
			}
			if j.State == "running" {
				return j
			} // it was done before it was seen
		}
	}
	cancelled := 0
	for range 20 { // it may be done before it is told
		j := running()
		must[app.PageJob](t)(other.CancelJob(bg, "", j.ID))
		results := len(must[app.PageVisit](t)(st.Visit(bg, v.ID)).Results)
		if j = ended(t, st, j.ID); j.State == "done" {
			continue
		}
		if j.State != "cancelled" || j.Message != "cancelled" {
			t.Errorf("the job %+v", j)
		}
		if now := len(must[app.PageVisit](t)(st.Visit(bg, v.ID)).Results); now != results {
			t.Errorf("a cancelled job left %d results where there were %d", now, results)
		}
		count := 0
		for _, one := range must[[]app.PageJob](t)(st.Jobs(bg)) {
			if one.ID == j.ID {
				count++
			}
		}
		if count != 1 {
			t.Errorf("the job stands in the list %d times", count)
		}
		if cancelled++; cancelled == 2 {
			break
		}
	}
	if cancelled == 0 {
		t.Error("no job could be cancelled")
	}
	// Nothing here knows of this one but its record, as of any that another program runs.
	j := runs(t, other, v)
	if _, err := other.EraseRunner(bg, "", v.Runner.ID, v.Runner.Name); kindOf(t, err) != app.KindBusy || !strings.Contains(err.Error(), "nothing was erased") {
		t.Errorf("a runner whose films another program works on: %v", err)
	}
	if _, err := other.Runner(bg, v.Runner.ID); err != nil {
		t.Errorf("nothing was erased: %v", err)
	}
	if j = ended(t, other, j.ID); j.State != "cancelled" {
		t.Errorf("the job that was told to stop: %+v", j)
	}
	if got := must[app.PageErased](t)(other.EraseRunner(bg, "", v.Runner.ID, v.Runner.Name)); len(got.Left) != 0 {
		t.Errorf("left is %q", got.Left)
	}
}

// runs puts a job into the records that some program runs.
func runs(t testing.TB, st *app.Studio, v app.PageVisit) app.PageJob {
	t.Helper()
	records, _, err := st.Records()
	if err != nil {
		t.Fatal(err)
	}
	job := store.Job{VisitID: v.ID, Kind: "measure", State: store.JobRunning, Started: time.Now(), Request: json.RawMessage(`{"clips": ["` + v.Clips[0].ID + `"]}`)}
	if err := records.Change(bg, store.Deed{}, func(w store.Writer) error { return w.PutJob(&job) }); err != nil {
		t.Fatal(err)
	}
	for _, j := range must[[]app.PageJob](t)(st.Jobs(bg)) {
		if j.ID == job.ID {
			return j
		}
	}
	t.Fatal("a running job is not in the list")
	return app.PageJob{}
}

// A program that was killed left a running job, and none works now: nobody waits for it.
func TestARunnerOfABrokenProgramIsErased(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	runs(t, st, v)
	if got := must[app.PageErased](t)(st.EraseRunner(bg, "", v.Runner.ID, v.Runner.Name)); len(got.Left) != 0 {
		t.Errorf("left is %q", got.Left)
	}
}

// Records that another program keeps to itself for a while do not cost the work of
// minutes.
func TestWorkWaitsForTheRecords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		busy := fmt.Errorf("%w; close it", store.ErrBusy)
		tries := 0
		err := app.Patiently(t.Context(), func() error {
			if tries++; tries < 100 {
				return busy
			}
			return nil
		})
		if err != nil || tries != 100 {
			t.Errorf("after %d tries: %v", tries, err)
		}
		begun := time.Now()
		if err := app.Patiently(t.Context(), func() error { return busy }); !errors.Is(err, store.ErrBusy) || time.Since(begun) < 5*time.Minute || time.Since(begun) > time.Hour {
			t.Errorf("for ever busy: %v after %v", err, time.Since(begun))
		}
		for _, other := range []error{store.ErrFull, store.ErrNotFound} {
			tries = 0
			if err := app.Patiently(t.Context(), func() error { tries++; return other }); err != other || tries != 1 {
				t.Errorf("%v: %v after %d tries", other, err, tries)
			}
		}
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(time.Minute, cancel)
		if err := app.Patiently(ctx, func() error { return busy }); !errors.Is(err, store.ErrBusy) || ctx.Err() == nil {
			t.Errorf("called off: %v", err)
		}
	})
}

// Work on a visit that was removed meanwhile ends in words and holds up nothing.
func TestAVisitRemovedBeforeItsWork(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	must[app.PageRunner](t)(st.RemoveVisit(bg, "", v.ID, v.Version))
	other := visitWithKeypoints(t, st)
	k := must[app.PageJob](t)(st.MeasureVisit(bg, "", other.ID, app.PageMeasureAsk{}))
	work(t, st)
	if j = ended(t, st, j.ID); j.State != "failed" || !strings.Contains(j.Message, "no such visit") {
		t.Errorf("the removed one: %+v", j)
	}
	if k = ended(t, st, k.ID); k.State != "done" {
		t.Errorf("the other: %+v", k)
	}
}

// A clip whose file goes between the queue and the work fails the job in clear
// words, and everything else stands.
func TestAMissingFileFailsTheJob(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	if err := os.RemoveAll(filepath.Join(st.Dir(), "files")); err != nil {
		t.Fatal(err)
	}
	work(t, st)
	j = ended(t, st, j.ID)
	if j.State != "failed" || !strings.Contains(j.Message, "side.json") || !strings.Contains(j.Message, "Take it in again") {
		t.Errorf("job %+v", j)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	// The next thing is to bring the file back, which measuring again waits for.
	if v.Next.Station != "film" || !strings.Contains(v.Next.Text, "side.json") || !strings.Contains(v.Next.Text, "take the same file in again") || len(v.Results) != 0 || v.Clips[0].Track != "failed" {
		t.Errorf("after it: %+v, %s", v.Next, v.Clips[0].Track)
	}
}

// What the chain says for the command line is said in the page's words.
func TestAFailureSpeaksThePagesLanguage(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	side, _, _ := syntheticFiles(t, 120, 10)
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "side.json", fileOf(t, side)))
	c.Facts.View = "rear" // wrong: it is a side view
	c.Facts.CaptureRateHz = ptr(480.0)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	work(t, st)
	j := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	if j.State != "failed" || j.Message == "" || strings.Contains(j.Message, "--") || strings.Contains(j.Message, st.Dir()) {
		t.Errorf("job %+v", j)
	}
}

// descendants are the running processes with a name that come of another; all, where
// the name is empty.
func descendants(t testing.TB, of int, name string) []int {
	t.Helper()
	stats, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	children := map[int][]int{}
	names := map[int]string{}
	for _, path := range stats {
		b, err := os.ReadFile(path)
		if err != nil {
			continue // it has ended
		}
		open, end := strings.IndexByte(string(b), '('), strings.LastIndexByte(string(b), ')')
		fields := strings.Fields(string(b[end+1:]))
		pid, err := strconv.Atoi(strings.TrimSpace(string(b[:open])))
		if err != nil || len(fields) < 2 {
			t.Fatalf("%s reads %q", path, b)
		}
		parent, err := strconv.Atoi(fields[1])
		if err != nil {
			t.Fatal(err)
		}
		if fields[0] != "Z" {
			names[pid] = string(b[open+1 : end])
			children[parent] = append(children[parent], pid)
		}
	}
	var out []int
	for next := children[of]; len(next) > 0; {
		pid := next[0]
		next = append(next[1:], children[pid]...)
		if name == "" || names[pid] == name {
			out = append(out, pid)
		}
	}
	return out
}

// kill sends a signal to a process.
func kill(t testing.TB, pid int, by syscall.Signal) {
	t.Helper()
	p, err := os.FindProcess(pid)
	if err == nil {
		err = p.Signal(by)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// atWork waits until a process of that name comes of another.
func atWork(t testing.TB, of int, name string) int {
	t.Helper()
	for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(20 * time.Millisecond) {
		if all := descendants(t, of, name); len(all) > 0 {
			return all[0]
		}
	}
	t.Fatalf("no %s is at work", name)
	return 0
}

// allGone waits until processes have ended.
func allGone(t testing.TB, what string, pids []int) {
	t.Helper()
	for begun := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		var left []int
		for _, pid := range pids {
			b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
			if err == nil && !strings.Contains(string(b), ") Z ") {
				left = append(left, pid)
			}
		}
		if len(left) == 0 {
			return
		}
		if time.Since(begun) > 10*time.Minute {
			t.Fatalf("%s: processes %v still run", what, left)
		}
	}
}

// filmedVisit is a visit with a film whose landmarks have to be found.
func filmedVisit(t *testing.T, st *app.Studio) app.PageVisit {
	t.Helper()
	needModel(t)
	if _, err := exec.LookPath("ffmpeg"); err != nil {
		t.Skip("needs ffmpeg")
	}
	path := sharedData(t, "clips", "RBDS001-35-side.mp4")
	_, v := consented(t, st)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, healthy(st)))
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "side.mp4", fileOf(t, path)))
	c.Facts.View, c.Facts.SpeedMPS, c.Facts.Model = "left", ptr(3.5), "lite"
	c.Facts.StartS, c.Facts.EndS = ptr(1.0), ptr(4.0)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	return must[app.PageVisit](t)(st.Visit(bg, v.ID))
}

// Landmarks are found once: a measurement with other facts begins from there. A
// job that is cancelled or whose ffmpeg is killed leaves everything whole.
func TestFilmsInTheBackground(t *testing.T) {
	if testing.Short() {
		t.Skip("finds landmarks in a film; left out with -short")
	}
	st := openStudio(t)
	v := filmedVisit(t, st)
	events, leave := st.Events()
	defer leave()
	work(t, st)
	// halfway waits until a tenth of the frames are done.
	halfway := func(id string) app.PageJob {
		for e := range events {
			var j app.PageJob
			if e.Name != "job" || json.Unmarshal(e.Data, &j) != nil || j.ID != id {
				continue
			}
			if j.State != "queued" && j.State != "running" {
				t.Fatalf("the job ended early: %+v", j)
			}
			if j.Share > 0.1 {
				return j
			}
		}
		t.Fatal("the events ended")
		return app.PageJob{}
	}
	same := func(what string) {
		t.Helper()
		if left, err := os.ReadDir(filepath.Join(st.Dir(), "errands")); len(left) > 0 {
			t.Errorf("%s: left behind %v, %v", what, left, err)
		}
		got := must[app.PageVisit](t)(st.Visit(bg, v.ID))
		if len(got.Results) != 0 || got.Undo != v.Undo || got.Clips[0].Version != v.Clips[0].Version || got.Clips[0].Track == "done" {
			t.Errorf("%s: the visit is not as it was: %+v", what, got)
		}
	}
	// What is killed, be it ffmpeg or the process that does the work, fails that job
	// alone, at once and in words; the next one is done.
	if runtime.GOOS == "linux" {
		for _, c := range []struct {
			what, name string
			by         syscall.Signal
			words      []string
		}{
			{"ffmpeg killed", "ffmpeg", syscall.SIGKILL, []string{"side.mp4", "ended from outside"}},
			{"the work killed", "gaitwright-aid", syscall.SIGKILL, []string{"was ended from outside", "run out of memory", "are as they were", "Close other programs"}},
			{"the work broken down", "gaitwright-aid", syscall.SIGSEGV, []string{"broke down (exit status 2)", "are as they were", "Start it again"}},
		} {
			j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
			halfway(j.ID)
			pids := descendants(t, os.Getpid(), "")
			kill(t, atWork(t, os.Getpid(), c.name), c.by)
			j = ended(t, st, j.ID)
			t.Logf("%s: %s", c.what, j.Message)
			for _, w := range c.words {
				if j.State != "failed" || !strings.Contains(j.Message, w) {
					t.Errorf("%s: %s, and not a word of %q", c.what, j.State, w)
				}
			}
			allGone(t, c.what, pids)
			same(c.what)
		}
	}
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	live := halfway(j.ID)
	if live.LeftS == nil && live.Share > 0.5 || !strings.Contains(live.Message, "side.mp4") {
		t.Errorf("while it runs: %+v", live)
	}
	pids := descendants(t, os.Getpid(), "")
	must[app.PageJob](t)(st.CancelJob(bg, "", j.ID))
	if j = ended(t, st, j.ID); j.State != "cancelled" {
		t.Errorf("cancelled: %+v", j)
	}
	allGone(t, "cancelled", pids)
	same("cancelled")

	// sought tells whether landmarks were looked for since it was last asked.
	sought := func() bool {
		found := false
		for len(events) > 0 {
			e := <-events
			found = found || strings.Contains(string(e.Data), "finding landmarks")
		}
		return found
	}
	if j = ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID); j.State != "done" || !sought() {
		t.Fatalf("measured: %+v", j)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	c := v.Clips[0]
	if c.Track != "done" {
		t.Errorf("the landmarks are %s", c.Track)
	}
	c.Facts.SpeedMPS, c.Facts.StartS = ptr(3.4), ptr(1.5)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	if j = ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID); j.State != "done" {
		t.Fatalf("measured again: %+v", j)
	}
	if sought() {
		t.Error("with other facts the landmarks were found anew")
	}
	r := must[app.PageSession](t)(st.Result(j.Outcome))
	if *r.Clips[0].BeltSpeedMPS != 3.4 || r.Clips[0].Frames != 375 && r.Clips[0].Frames != 376 {
		t.Errorf("%v m/s over %d frames", *r.Clips[0].BeltSpeedMPS, r.Clips[0].Frames)
	}
	unaltered(t, st, sharedData(t, "clips", "RBDS001-35-side.mp4"))
	// Undo is not held up by the landmarks that the program wrote.
	must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
	must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
}
