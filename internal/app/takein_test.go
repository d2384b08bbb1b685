package app_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"gaitwright/internal/app"
)

// treeOf lists every file of a folder with its content.
func treeOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			var b []byte
			b, err = os.ReadFile(path)
			out[path] = string(b)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// Results of versions that kept folders are taken in once, in their order, and the
// folders stay as they are; one that is damaged does not hold up the others.
func TestFoldersOfEarlierVersionsAreTakenIn(t *testing.T) {
	st := openStudio(t)
	s := measureSynthetic(t, st)
	older, newer := "20260301-101010", "20260302-101010"
	for _, name := range []string{newer, older, older + "-10", older + "-2"} {
		if err := app.WriteFolder(st.Dir(), name, s); err != nil {
			t.Fatal(err)
		}
	}
	damaged := filepath.Join(st.Dir(), "20260303-101010")
	for path, text := range map[string]string{filepath.Join(damaged, "session.gob.gz"): "nothing", filepath.Join(st.Dir(), "notes", "session.gob.gz"): "mine"} {
		if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(text), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
	before := treeOf(t, st.Dir())
	for round := range 2 {
		ids, err := st.IDs()
		if err != nil || len(ids) != 4 {
			t.Fatalf("round %d: %v, %v", round, ids, err)
		}
		got, err := st.Load(newer)
		if err != nil {
			t.Fatalf("by its old name: %v", err)
		}
		if got.ID != ids[0] || !reflect.DeepEqual(got.Document(), s.Document()) {
			t.Errorf("round %d: the result changed, or %s is not the newest of %v", round, got.ID, ids)
		}
		for i, name := range []string{older + "-10", older + "-2", older} {
			if got, err := st.Load(name); err != nil || got.ID != ids[1+i] {
				t.Errorf("round %d: %s is not number %d of %v: %v", round, name, 1+i, ids, err)
			}
		}
		if page, err := st.Result(newer); err != nil || page.ID != ids[0] || page.VisitID != "" {
			t.Errorf("its page: %+v, %v", page.PageSummary, err)
		}
		st.Close()
		st, err = app.OpenStudio(st.Dir())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(st.Close)
	}
	after := treeOf(t, st.Dir())
	for path, text := range before {
		if after[path] != text {
			t.Errorf("%s was changed or deleted", path)
		}
	}
	// A folder that is mended later is taken in then.
	if err := app.WriteFolder(st.Dir(), filepath.Base(damaged), s); err != nil {
		t.Fatal(err)
	}
	if ids, err := st.IDs(); err != nil || len(ids) != 5 {
		t.Errorf("after it was mended: %v, %v", ids, err)
	}
}

// Measuring without keeping opens no records and leaves nothing.
func TestMeasuringWithoutKeepingLeavesNothing(t *testing.T) {
	st := openStudio(t)
	measureSynthetic(t, st)
	st.Close()
	if _, err := os.Stat(st.Dir()); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the studio's folder: %v", err)
	}
}

// The demonstration leaves a runner with a whole visit, and a second run adds a
// visit to the same runner. Exact landmarks stand in for its films.
func TestTheDemonstrationLeavesAWholeVisit(t *testing.T) {
	st := openStudio(t)
	side, rear, p := syntheticFiles(t, 60, 6)
	var last string
	for round := range 2 {
		s, err := st.DemoVisit(p, side, rear)
		if err != nil {
			t.Fatal(err)
		}
		last = s.VisitID
		v := must[app.PageVisit](t)(st.Visit(bg, s.VisitID))
		for _, name := range []string{"intake", "film", "measure", "exam"} {
			if s := station(t, v, name); s.State != "done" {
				t.Errorf("%s is %s: %+v", name, s.State, s.Missing)
			}
		}
		if v.Next.Code != "findings_none" || len(v.Clips) != 2 || len(v.Results) != 1 || v.Results[0].ID != s.ID || v.Intake == nil || *v.Runner.HeightM != p.HeightM {
			t.Errorf("visit %+v", v.Next)
		}
		list := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Text: "invented"}))
		if len(list.Rows) != 1 || list.Rows[0].Visits != round+1 {
			t.Errorf("runners %+v", list.Rows)
		}
	}
	if s := must[app.PageSettings](t)(st.Settings(bg)); s.Studio != "" {
		t.Errorf("the demonstration named the studio %q", s.Studio)
	}
	// From the findings on the next thing leads through plan and handout to the
	// next visit, and never back to what is done.
	s := must[app.PageVisit](t)(st.Visit(bg, last))
	next := func(want, code string) {
		t.Helper()
		if v := must[app.PageVisit](t)(st.Visit(bg, s.ID)); v.Next.Station != want || v.Next.Code != code {
			t.Errorf("the next thing is %+v, wanted %s at %s", v.Next, code, want)
		}
	}
	f := must[app.PageFindings](t)(st.Findings(bg, s.ID))
	kept := f.PageFindingsKept
	kept.Decisions = map[string]app.PageDecision{}
	for _, x := range f.Report.Findings {
		kept.Decisions[x.Name] = app.PageDecision{State: "rejected", Reason: "invented"}
	}
	f = must[app.PageFindings](t)(st.ChangeFindings(bg, "test", s.ID, kept))
	next("handout", "handout_report")
	kept = f.PageFindingsKept
	for name := range kept.Decisions {
		kept.Decisions[name] = app.PageDecision{State: "accepted"}
	}
	must[app.PageFindings](t)(st.ChangeFindings(bg, "test", s.ID, kept))
	next("plan", "plan_none")
	must[app.PagePlan](t)(st.ChangePlan(bg, "test", s.ID, app.PagePlanChange{Ask: must[app.PagePlan](t)(st.Plan(bg, s.ID)).Ask}))
	next("handout", "handout_log")
	must[app.PageHandout](t)(st.AddLog(bg, "test", s.ID, app.PageLogAsk{Text: `{"gaitwright_log":1,"visit":"` + s.ID + `","sheet":"0123ABCD","days":[{"date":"` + s.Date + `","done":[],"ran":true,"run_min":30,"pain":0,"next_day":false,"bone":false,"effort":4,"per_min":161,"note":""}]}`}))
	next("return", "come_again")
}
