package app_test

import (
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gaitwright/internal/app"
	"gaitwright/internal/store"
)

// What was reasoned over a visit is kept, for the next time it is opened and for another
// start of the program, until anything changes that the findings follow from.
func TestWhatWasReasonedIsKeptUntilItsGroundsChange(t *testing.T) {
	t.Setenv("GAITWRIGHT_RULES", filepath.Join(t.TempDir(), "rules.yaml"))
	st, _, v, _ := fullStudio(t)
	decide := func() {
		t.Helper()
		f := must[app.PageFindings](t)(st.Findings(bg, v.ID))
		kept := f.PageFindingsKept
		for _, x := range f.Report.Findings {
			kept.Decisions[x.Name] = app.PageDecision{State: "accepted"}
		}
		must[app.PageFindings](t)(st.ChangeFindings(bg, "", v.ID, kept))
	}
	open := func(st *app.Studio) bool {
		t.Helper()
		return slices.ContainsFunc(station(t, must[app.PageVisit](t)(st.Visit(bg, v.ID)), "findings").Missing, func(m app.PageMissing) bool { return m.Code == "findings_open" })
	}
	// One more name, which no reasoning gives, in what is kept.
	mark := func() {
		t.Helper()
		records, _, err := st.Records()
		if err != nil {
			t.Fatal(err)
		}
		id := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Results[0].ID
		err = records.Change(bg, store.Deed{}, func(w store.Writer) error {
			var d map[string]any
			if err := w.EachDigest([]string{id}, func(_ string, b []byte) error { return json.Unmarshal(b, &d) }); err != nil {
				return err
			}
			r := d["r"].(map[string]any)
			r["f"] = append(r["f"].([]any), "invented")
			b, err := json.Marshal(d)
			if err != nil {
				return err
			}
			return w.PutDigest(id, b)
		})
		if err != nil {
			t.Fatal(err)
		}
		if !open(st) {
			t.Fatal("what is kept is not used")
		}
	}

	if decide(); open(st) {
		t.Fatal("there is something left to decide")
	}
	mark()
	again, err := app.OpenStudio(st.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if !open(again) {
		t.Error("another start of the program reasons anew")
	}
	// What the findings do not follow from.
	i := *must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake
	i.Goals = "a half marathon"
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, i))
	if !open(st) {
		t.Error("the runner's goals are no ground of the findings")
	}

	for _, c := range []struct {
		what   string
		change func(t *testing.T)
	}{
		{"a test of the exam", func(t *testing.T) {
			e := must[app.PageExam](t)(st.Exam(bg, v.ID))
			e.Entries["side_plank/left"] = app.PageExamEntry{Trials: []app.PageExamTrial{{Value: ptr(90.0)}}}
			must[app.PageExam](t)(st.ChangeExam(bg, "", v.ID, e))
		}},
		{"a place of pain", func(t *testing.T) {
			i := *must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake
			i.Pain, i.NoPain = []app.PagePain{{Region: "knee_front", Side: "left", Face: "front", Score: 2}}, false
			must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, i))
		}},
		{"a correction", func(t *testing.T) {
			r := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Results[0].ID
			contacts := must[app.PageSession](t)(st.Result(r)).Clips[0].Contacts
			if _, err := st.Correct(bg, r, 0, app.PageCorrection{Edits: app.PageEdits{Removed: contacts[len(contacts)-1:]}}); err != nil {
				t.Fatal(err)
			}
		}},
		{"rules of one's own", func(t *testing.T) {
			if err := os.WriteFile(app.RulesFile(), []byte(app.ShowRules()), 0o600); err != nil {
				t.Fatal(err)
			}
		}},
		{"another measurement", func(t *testing.T) {
			ctx, stop := context.WithCancel(bg)
			defer stop()
			st.StartWork(ctx)
			job := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{Clips: []string{v.Clips[0].ID}}))
			if job = ended(t, st, job.ID); job.State != "done" {
				t.Fatalf("%+v", job)
			}
		}},
	} {
		mark()
		t.Log(c.what)
		c.change(t)
		if decide(); open(st) {
			t.Errorf("%s changes nothing", c.what)
		}
	}
}
