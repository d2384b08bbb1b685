package app

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"gaitwright/internal/runfile/runtest"
	"gaitwright/internal/store"
)

// runStudio is a studio with a runner, whose visit on a Saturday has a ramp from
// 160 counted at 10 km/h, two steps more a week from the Monday after.
func runStudio(t testing.TB) (st *Studio, runner, visit string) {
	t.Helper()
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	day := time.Date(2026, 3, 7, 12, 0, 0, 0, time.UTC)
	st.SetClock(func() time.Time { return day })
	ctx := t.Context()
	r, err := st.NewRunner(ctx, "", "Ada (invented)")
	if err != nil {
		t.Fatal(err)
	}
	agreed := "2026-03-07"
	r.Consent = PageConsent{Filming: &agreed, Records: &agreed}
	if r, err = st.ChangeRunner(ctx, "", r.ID, "", r); err != nil {
		t.Fatal(err)
	}
	v, err := st.NewVisit(ctx, "", r.ID, "2026-03-07")
	if err != nil {
		t.Fatal(err)
	}
	st.SetClock(func() time.Time { return time.Date(2026, 3, 30, 8, 0, 0, 0, time.UTC) })
	return st, r.ID, v.ID
}

func takeIn(t testing.TB, st *Studio, runner, name string, data []byte) PageRunTaken {
	t.Helper()
	p, err := st.TakeInRun(context.Background(), "", runner, "", name, bytes.NewReader(data))
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return p
}

// beforeRuns are six runs before the ramp at 160 steps a minute and 2.78 m/s, six
// more for 1 m/s.
func beforeRuns(t *testing.T, st *Studio, runner string) {
	t.Helper()
	for i := range 6 {
		speed := 2.6 + 0.1*float64(i%4)
		r := runtest.Easy(time.Date(2026, 2, 10+4*i, 6, 30, 0, 0, time.UTC), uint64(i+1), 32, speed, 160+6*(speed-2.78))
		takeIn(t, st, runner, fmt.Sprintf("before-%d.fit", i), r.FIT())
	}
}

// makeRamp starts a ramp of three steps a week from the runs.
func makeRamp(t *testing.T, st *Studio, visit string) PageStepRate {
	t.Helper()
	pace, step, target := 2.78, 3.0, 172.0
	p, err := st.ChangeStepRate(t.Context(), "", visit, PageStepRateChange{Ask: PageStepRateAsk{How: "runs", SpeedMPS: &pace, Landing: "yes", Target: &target, StepAWeek: &step}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Three weeks come back: one truly quicker, one just faster, one missed, from
// files of each format to the words of the page.
func TestThreeWeeksToldApart(t *testing.T) {
	st, runner, visit := runStudio(t)
	beforeRuns(t, st, runner)
	ramp := makeRamp(t, st, visit)
	if b := ramp.Base; b == nil || b.How != "runs" || b.PerMin < 159 || b.PerMin > 161 || !(b.SEM > 0.3 && b.SEM < 2) {
		t.Fatalf("the baseline is %+v", b)
	}
	if len(ramp.Weeks) < 4 || ramp.Weeks[0].From != "2026-03-09" {
		t.Fatalf("the ramp begins %+v", ramp.Weeks[:1])
	}
	for i := range 3 {
		at := time.Date(2026, 3, 9+2*i, 6, 30, 0, 0, time.UTC)
		// Week 1 asks for 163 and gets it at the pace.
		true_ := runtest.Easy(at, uint64(50+i), 32, 2.78, 163.3)
		// Week 2 asks for 166; the runner runs 0.9 m/s faster and steps as before.
		fast := runtest.Easy(at.AddDate(0, 0, 7), uint64(60+i), 32, 3.68, 160+6*0.9)
		takeIn(t, st, runner, fmt.Sprintf("w1-%d.tcx", i), true_.TCX())
		takeIn(t, st, runner, fmt.Sprintf("w2-%d.gpx", i), fast.GPX())
	}
	p, err := st.Runs(t.Context(), visit)
	if err != nil {
		t.Fatal(err)
	}
	weeks := map[int]PageRunWeek{}
	for _, w := range p.Proof.Weeks {
		if w.RampWeek > 0 {
			weeks[w.RampWeek] = w
		}
	}
	for n, want := range map[int]struct{ verdict, words, do string }{
		1: {"reached", "Reached: 16", "go on"},
		2: {"just faster", "Just faster, not quicker steps", "hold"},
		3: {"missed", "Missed: no run", "hold"},
	} {
		w := weeks[n]
		if w.Verdict != want.verdict || !strings.Contains(w.Text, want.words) || w.Do != want.do {
			t.Errorf("week %d: %s, %s (%s: %s)", n, w.Verdict, w.Text, w.Do, w.Why)
		}
	}
	if w := weeks[4]; w.Verdict != "under way" {
		t.Errorf("the week that has just begun: %+v", w)
	}
	if w := weeks[2]; *w.RanMPS < 3.5 || *w.RanRate < 164.5 || *w.SpeedMPS < 3.5 || *w.High > *w.Asked-3 || !strings.Contains(w.Text, "was usual before") {
		t.Errorf("the faster week: %+v", w)
	}
	if !strings.Contains(p.Proof.Told, "1 reached, 1 just faster, 1 missed") {
		t.Errorf("told: %s", p.Proof.Told)
	}
	// The last week that was run is the one of now.
	if c := p.Proof.Change; c.Verdict != "just faster" || !strings.Contains(c.Text, "at the same") {
		t.Errorf("now: %+v", c)
	}
	if before, err := st.RunProof(t.Context(), visit, time.Date(2026, 3, 15, 20, 0, 0, 0, time.UTC)); err != nil || before.Change.Verdict != "quicker steps" {
		t.Errorf("after the first week: %v, %+v", err, before.Change)
	}
	if p.Proof.Before == nil || p.Proof.Now == nil || len(p.Proof.Points) < 20 {
		t.Errorf("the picture lacks a line: %+v", p.Proof)
	}
	// The visit that follows tells them apart too.
	later, err := st.NewVisit(t.Context(), "", runner, "2026-03-30")
	if err != nil {
		t.Fatal(err)
	}
	back, err := st.Return(t.Context(), later.ID, "")
	if err != nil || back.Against != visit || back.Steps == nil || back.Steps.Runs == nil {
		t.Fatalf("the return: %+v, %v", back.Steps, err)
	}
	for _, w := range back.Steps.Runs.Weeks {
		if w.Verdict != weeks[w.RampWeek].Verdict {
			t.Errorf("at the return week %d is %s", w.RampWeek, w.Verdict)
		}
	}
	if back.Steps.Runs.Runs != 6 || back.Steps.Runs.Told != p.Proof.Told {
		t.Errorf("at the return: %+v", back.Steps.Runs)
	}
	for _, r := range p.Runs {
		if !r.Counts || r.Doubt != "" || r.Places || !strings.Contains(r.LeftOut, "hills 2") {
			t.Errorf("run %s: %+v", r.Name, r)
		}
	}
}

// Weeks before and after the ramp are told as such, and listed only where something
// was run.
func TestWeeksAroundTheRamp(t *testing.T) {
	st, runner, visit := runStudio(t)
	beforeRuns(t, st, runner)
	ramp := makeRamp(t, st, visit)
	st.SetClock(func() time.Time { return time.Date(2026, 8, 12, 8, 0, 0, 0, time.UTC) })
	takeIn(t, st, runner, "late.fit", runtest.Easy(time.Date(2026, 8, 4, 6, 30, 0, 0, time.UTC), 9, 30, 2.8, 170).FIT())
	p, err := st.Runs(t.Context(), visit)
	if err != nil {
		t.Fatal(err)
	}
	of, after := 0, 0
	for _, w := range p.Proof.Weeks {
		switch {
		case w.RampWeek > 0:
			of++
		case w.Runs == 0:
			t.Errorf("the week of %s has neither a ramp nor a run", w.From)
		case w.After != (w.From > ramp.Weeks[len(ramp.Weeks)-1].From):
			t.Errorf("the week of %s: after is %v", w.From, w.After)
		}
		if w.After {
			after++
		}
	}
	if of != len(ramp.Weeks) || after != 1 {
		t.Errorf("%d weeks of the ramp's %d, %d after it", of, len(ramp.Weeks), after)
	}
}

func TestRunsAreTakenOnce(t *testing.T) {
	st, runner, visit := runStudio(t)
	data := runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 30, 2.8, 162).FIT()
	first := takeIn(t, st, runner, "a.fit", data)
	if again := takeIn(t, st, runner, "b.fit", data); !again.Already || again.Run.ID != first.Run.ID {
		t.Errorf("taken in twice: %+v", again)
	}
	other, err := st.NewRunner(t.Context(), "", "Ben (invented)")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := st.TakeInRun(t.Context(), "", other.ID, "", "c.fit", bytes.NewReader(data)); KindOf(err) != KindNotAllowed || !strings.Contains(err.Error(), "agreed") {
		t.Errorf("without consent: %v", err)
	}
	agreed := "2026-03-07"
	other.Consent.Records = &agreed
	if _, err := st.ChangeRunner(t.Context(), "", other.ID, "", other); err != nil {
		t.Fatal(err)
	}
	if _, err := st.TakeInRun(t.Context(), "", other.ID, "", "c.fit", bytes.NewReader(data)); err == nil || !strings.Contains(err.Error(), "Ada") {
		t.Errorf("another runner's file: %v", err)
	}
	for name, bad := range map[string][]byte{"empty": nil, "letter": []byte("Dear Ida, the run was fine."), "head": data[:60]} {
		if _, err := st.TakeInRun(t.Context(), "", runner, "", name, bytes.NewReader(bad)); KindOf(err) != KindUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
	p, err := st.Runs(t.Context(), visit)
	if err != nil || len(p.Runs) != 1 {
		t.Errorf("%d runs, %v", len(p.Runs), err)
	}
}

// Places are dropped, and kept as the file came where the runner agreed.
func TestPlacesOfRuns(t *testing.T) {
	st, runner, _ := runStudio(t)
	data := runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 30, 2.8, 162).GPX()
	first := takeIn(t, st, runner, "a.gpx", data)
	if !strings.Contains(first.Said, "dropped") || first.Run.Places {
		t.Errorf("%+v", first)
	}
	var kept store.Run
	read := func(id string) {
		t.Helper()
		if err := st.readRecords(t.Context(), func(r store.Reader) (err error) { kept, err = r.Run(id); return err }); err != nil {
			t.Fatal(err)
		}
	}
	read(first.Run.ID)
	if kept.Original != "" {
		t.Error("the file is kept without consent")
	}
	if _, err := st.kept.files.Open(kept.Hash); err == nil {
		t.Error("the file lies among the kept ones without consent")
	}
	r, err := st.Runner(t.Context(), runner)
	if err != nil {
		t.Fatal(err)
	}
	agreed := "2026-03-20"
	r.Consent.Positions = &agreed
	if _, err := st.ChangeRunner(t.Context(), "", runner, "", r); err != nil {
		t.Fatal(err)
	}
	data = runtest.Easy(time.Date(2026, 3, 3, 6, 30, 0, 0, time.UTC), 2, 30, 2.8, 162).GPX()
	second := takeIn(t, st, runner, "b.gpx", data)
	read(second.Run.ID)
	if kept.Original != kept.Hash || !second.Run.Places {
		t.Errorf("with consent: %+v", kept)
	}
	f, err := st.kept.files.Open(kept.Original)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b bytes.Buffer
	if _, err := b.ReadFrom(f); err != nil || !bytes.Equal(b.Bytes(), data) {
		t.Error("the file is not as it came")
	}
	r, err = st.Runner(t.Context(), runner)
	if err != nil {
		t.Fatal(err)
	}
	r.Consent.Positions = nil
	if _, err := st.ChangeRunner(t.Context(), "", runner, "", r); err != nil {
		t.Fatal(err)
	}
	read(second.Run.ID)
	if _, err := st.kept.files.Open(kept.Hash); err == nil || kept.Original != "" {
		t.Error("the file is still there after the consent was withdrawn")
	}
}

// The watched folder offers whole files alone, keeps them, and none is taken twice
// or under another's name.
func TestWatchedFolder(t *testing.T) {
	st, runner, _ := runStudio(t)
	dir := t.TempDir()
	write := func(name string, data []byte, age time.Duration) {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		at := time.Now().Add(-age)
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
	}
	one := runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 30, 2.8, 162).FIT()
	two := runtest.Easy(time.Date(2026, 3, 3, 6, 30, 0, 0, time.UTC), 2, 30, 2.8, 162).FIT()
	takeIn(t, st, runner, "one.fit", one)
	write("one.FIT", one, time.Hour)
	write("two.fit", two, time.Hour)
	write("copying.fit", two[:len(two)/2], 0)
	write("letter.gpx", []byte("Dear Ida"), time.Hour)
	write("notes.txt", []byte("no run file"), time.Hour)
	write("notes.gz", []byte("no run file"), time.Hour)
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(runtest.Easy(time.Date(2026, 3, 4, 6, 30, 0, 0, time.UTC), 4, 30, 2.8, 162).TCX())
	z.Close()
	write("three.TCX.gz", packed.Bytes(), time.Hour)
	for _, bad := range []string{"runs", filepath.Join(dir, "none"), filepath.Join(dir, "two.fit")} {
		if _, err := st.SetRunFolder(t.Context(), "", bad); KindOf(err) != KindUsage {
			t.Errorf("%s: %v", bad, err)
		}
	}
	p, err := st.SetRunFolder(t.Context(), "", dir)
	if err != nil || p.Taken != 1 || p.More != 1 || len(p.Files) != 3 {
		t.Fatalf("%v: %+v", err, p)
	}
	var ready, wrong PageRunFound
	for _, f := range p.Files {
		if f.Wrong == "" {
			ready = f
		} else {
			wrong = f
		}
	}
	if ready.Name != "two.fit" || ready.Runner != runner || ready.RunnerName == "" || wrong.Name != "letter.gpx" || !strings.Contains(wrong.Wrong, "no run file") {
		t.Errorf("ready %+v, wrong %+v", ready, wrong)
	}
	for _, name := range []string{"../one.FIT", "notes.txt", "none.fit", ""} {
		if _, err := st.TakeFound(t.Context(), "", runner, "", name, ready.Hash); KindOf(err) != KindNotFound {
			t.Errorf("%q: %v", name, err)
		}
	}
	if _, err := st.TakeFound(t.Context(), "", runner, "", "two.fit", strings.Repeat("0", 64)); KindOf(err) != KindStale {
		t.Errorf("another file under the name: %v", err)
	}
	for i, already := range []bool{false, true} {
		if got, err := st.TakeFound(t.Context(), "", runner, "", ready.Name, ready.Hash); err != nil || got.Already != already {
			t.Errorf("%d: %v, %+v", i, err, got)
		}
	}
	if p, err = st.RunFolder(t.Context()); err != nil || p.Taken != 2 || len(p.Files) != 2 {
		t.Errorf("%v: %+v", err, p)
	}
	if _, err := os.Stat(filepath.Join(dir, "two.fit")); err != nil {
		t.Error("the file was taken out of the folder")
	}
	os.RemoveAll(dir)
	if p, err = st.RunFolder(t.Context()); err != nil || p.Problem == "" {
		t.Errorf("a folder that is gone: %v, %+v", err, p)
	}
}

// The running program looks into the folder while no page is open: a whole file has
// been read when a page asks, one that breaks off is waited for, and none is anyone's
// before a person says so.
func TestWatchedWithoutAPage(t *testing.T) {
	st, runner, visit := runStudio(t)
	dir := t.TempDir()
	write := func(name string, data []byte, age time.Duration) {
		t.Helper()
		path, at := filepath.Join(dir, name), time.Now().Add(-age)
		if err := errors.Join(os.WriteFile(path+".part", data, 0o600), os.Chtimes(path+".part", at, at), os.Rename(path+".part", path)); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := st.SetRunFolder(t.Context(), "", dir); err != nil {
		t.Fatal(err)
	}
	takeIn(t, st, runner, "earlier.fit", runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 10, 2.8, 162).FIT())
	news, leave := st.Events()
	defer leave()
	ctx, end := context.WithCancel(t.Context())
	var done sync.WaitGroup
	done.Go(func() { st.watchFolder(ctx, 20*time.Millisecond) })
	defer done.Wait()
	defer end()
	heard := func(what string) {
		t.Helper()
		for {
			select {
			case e := <-news:
				if e.Name == "runs" {
					return
				}
			case <-time.After(5 * time.Minute):
				t.Fatalf("nothing was told of %s", what)
			}
		}
	}
	data := runtest.Easy(time.Date(2026, 3, 3, 6, 30, 0, 0, time.UTC), 2, 10, 2.8, 162).FIT()
	write("sunday.fit", data[:len(data)/2], 10*time.Second) // the copy stands still
	write("whole.fit", runtest.Easy(time.Date(2026, 3, 4, 6, 30, 0, 0, time.UTC), 3, 10, 2.8, 162).FIT(), 10*time.Second)
	heard("the whole file")
	st.foundMu.Lock()
	read := st.found[filepath.Join(dir, "whole.fit")]
	st.foundMu.Unlock()
	if read == nil || read.run == nil {
		t.Fatal("the file was told of and not read")
	}
	p, err := st.RunFolder(t.Context())
	if err != nil || len(p.Files) != 1 || p.Files[0].Name != "whole.fit" || p.Files[0].Runner != runner || p.Files[0].Visit != visit || p.More != 1 {
		t.Errorf("%v: %+v", err, p)
	}
	write("sunday.fit", data, 10*time.Second)
	heard("the copy that is done")
	if p, err = st.RunFolder(t.Context()); err != nil || len(p.Files) != 2 || p.More != 0 {
		t.Errorf("%v: %+v", err, p)
	}
	// What breaks off and has lain still for long is offered, as what it is.
	write("cut.fit", data[:len(data)/2+500], time.Hour)
	heard("a file that stays cut")
	if page, err := st.Runs(t.Context(), visit); err != nil || len(page.Runs) != 1 {
		t.Errorf("%v: %d runs, and one was taken in", err, len(page.Runs))
	}
}

// A run is given to the runner whose it is, and the visit takes it back.
func TestRunOfAnother(t *testing.T) {
	st, runner, visit := runStudio(t)
	ctx := t.Context()
	run := takeIn(t, st, runner, "a.fit", runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 10, 2.8, 162).FIT()).Run
	other, err := st.NewRunner(ctx, "", "Ben (invented)")
	if err != nil {
		t.Fatal(err)
	}
	give := PageRunChange{Version: run.Version, Runner: other.ID, Visit: visit}
	if err := st.ChangeRun(ctx, "", run.ID, give); KindOf(err) != KindNotAllowed || !strings.Contains(err.Error(), "Ben") {
		t.Errorf("to one who has not agreed: %v", err)
	}
	agreed := "2026-03-07"
	other.Consent.Records = &agreed
	if _, err := st.ChangeRunner(ctx, "", other.ID, "", other); err != nil {
		t.Fatal(err)
	}
	if err := st.ChangeRun(ctx, "", run.ID, give); err != nil {
		t.Fatal(err)
	}
	of := func(id string) int {
		t.Helper()
		n := 0
		if err := st.readRecords(ctx, func(r store.Reader) error { list, err := r.RunsOf(id); n = len(list); return err }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	if of(runner) != 0 || of(other.ID) != 1 {
		t.Errorf("%d and %d runs after it was given", of(runner), of(other.ID))
	}
	v, err := st.Undo(ctx, "", visit)
	if err != nil || of(runner) != 1 || of(other.ID) != 0 || v.Deed != "Gave the run a.fit to another runner" {
		t.Errorf("%v: %d and %d runs after it was taken back (%s)", err, of(runner), of(other.ID), v.Deed)
	}
	// A run removed comes back too, unless its file was taken in again meanwhile.
	page, err := st.Runs(ctx, visit)
	if err != nil {
		t.Fatal(err)
	}
	if err := st.RemoveRun(ctx, "", run.ID, visit, page.Runs[0].Version); err != nil || of(runner) != 0 {
		t.Fatalf("%v: %d runs", err, of(runner))
	}
	if _, err := st.Undo(ctx, "", visit); err != nil || of(runner) != 1 {
		t.Errorf("%v: %d runs", err, of(runner))
	}
	if page, err = st.Runs(ctx, visit); err != nil {
		t.Fatal(err)
	}
	if err := st.RemoveRun(ctx, "", run.ID, visit, page.Runs[0].Version); err != nil {
		t.Fatal(err)
	}
	takeIn(t, st, runner, "a.fit", runtest.Easy(time.Date(2026, 3, 1, 6, 30, 0, 0, time.UTC), 1, 10, 2.8, 162).FIT())
	if _, err := st.Undo(ctx, "", visit); err == nil || of(runner) != 1 {
		t.Errorf("the same file is there twice: %v, %d runs", err, of(runner))
	} else {
		t.Log(err)
	}
}

// What watches and people do wrong is said with the run, and nothing is made up.
func TestOddRunFiles(t *testing.T) {
	st, runner, visit := runStudio(t)
	at := func(day int) time.Time { return time.Date(2026, 2, day, 6, 30, 0, 0, time.UTC) }
	scaled := func(r runtest.Run, f float64) runtest.Run {
		for i := range r.Legs {
			r.Legs[i].PerMin *= f
		}
		return r
	}
	mute := runtest.Easy(at(3), 3, 30, 2.8, 162)
	mute.NoSpeed = true
	// 30 hours: half an hour run, and the watch left on.
	left := runtest.Easy(at(5), 5, 30, 2.8, 162)
	left.Legs = append(left.Legs, runtest.Leg{Seconds: 30 * 3600})
	for name, c := range map[string]struct {
		data   []byte
		note   string
		rate   float64 // 0 for none
		steady float64 // at most, minutes
	}{
		"one-foot.tcx":  {scaled(runtest.Easy(at(1), 1, 30, 2.8, 162), 0.5).TCX(), "one foot", 162, 31},
		"doubled.gpx":   {scaled(runtest.Easy(at(2), 2, 30, 2.8, 162), 2).GPX(), "twice", 162, 31},
		"no-speed.fit":  {mute.FIT(), "worked out from distance", 162, 31}, // by the places, which are then dropped
		"no-speed.tcx":  {regexp.MustCompile(`(?s)<Position>.*?</Position>`).ReplaceAll(mute.TCX(), nil), "no speed", 0, 0},
		"left-on.fit":   {left.FIT(), "left on", 162, 31},
		"cut.fit":       {runtest.Easy(at(8), 8, 30, 2.8, 162).FIT()[:30000], "breaks off", 162, 31},
		"stopped.fit":   {runtest.Easy(at(9), 9, 30, 2.8, 162).FIT(), "no steps, as at stops, left out of the step rate: 40", 162, 31},
		"of-a-year.fit": {runtest.Easy(time.Date(1999, 1, 1, 6, 0, 0, 0, time.UTC), 9, 30, 2.8, 162).FIT(), "", 162, 31},
	} {
		p := takeIn(t, st, runner, name, c.data).Run
		if !strings.Contains(strings.Join(p.Notes, " "), c.note) {
			t.Errorf("%s: notes %q, want %q", name, p.Notes, c.note)
		}
		if got := orZero(p.PerMin); math.Abs(got-c.rate) > 1.5 || p.SteadyMin > c.steady {
			t.Errorf("%s: %.1f steps a minute over %.0f min", name, got, p.SteadyMin)
		}
	}
	page, err := st.Runs(t.Context(), visit)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range page.Runs {
		if r.Name == "of-a-year.fit" && (r.Counts || !strings.Contains(r.Doubt, "1999")) {
			t.Errorf("a run of 1999: %+v", r)
		}
	}
}
