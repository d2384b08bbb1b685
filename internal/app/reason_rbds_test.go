package app_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
	"gaitwright/internal/app"
)

// TestReasonsOfRealRunners takes the six runners of the open treadmill set with
// the exam of its participants' table, at three speeds, through exam, findings
// and programme.
func TestReasonsOfRealRunners(t *testing.T) {
	dir := sharedData(t, "rbds")
	f, err := os.Open(filepath.Join(dir, "participants.csv"))
	if err != nil {
		t.Skip(err)
	}
	defer f.Close()
	people, err := exam.ReadParticipants(f)
	if err != nil {
		t.Fatal(err)
	}
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	runs := 0
	dropped := map[string]int{} // runners with a pelvis that drops, by speed
	for _, p := range people {
		for _, speed := range []string{"25", "35", "45"} {
			file := filepath.Join(dir, fmt.Sprintf("RBDS%03srunT%s.c3d", p.Subject, speed))
			if _, err := os.Stat(file); err != nil {
				continue
			}
			runs++
			s, err := st.Measure(context.Background(), app.Request{Files: []string{file}, Contacts: event.FromForce,
				Runner: app.RunnerFacts{Name: p.Subject, HeightM: p.HeightM, MassKG: p.Body.MassKG, Sex: p.Body.Sex}}, app.NoProgress{})
			if err != nil {
				t.Fatal(err)
			}
			scored, report := app.Reasons(s, p.Sheet, nil, nil)
			plan := app.PlanFor(report, nil, programme.Input{Start: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), Equipment: programme.Equipment})
			if len(scored.Readings) < 10 {
				t.Errorf("%s: %d readings of the exam", p.Subject, len(scored.Readings))
			}
			// Of sixteen patterns this file shows all but those that need a camera's
			// second view or stickers it has not.
			if report.Looked < 12 {
				t.Errorf("%s at %s: only %d patterns could be judged; not %s", p.Subject, speed, report.Looked, strings.Join(report.Blind, ", "))
			}
			if len(report.Findings) > finding.MaxFindings {
				t.Errorf("%d findings", len(report.Findings))
			}
			for _, f := range append(slices.Clone(report.Findings), report.Others...) {
				for _, part := range f.Parts {
					if part.Pattern.Name == "pelvic_drop" {
						dropped[speed]++
					}
				}
			}
			if len(report.Findings) == 0 && (report.None == "" || plan.None == "") {
				t.Errorf("%s at %s: nothing found and nothing said", p.Subject, speed)
			}
			for _, w := range plan.Weeks {
				for _, i := range w.Full {
					if e := programme.Default().Lookup(i.Exercise); e.Each && i.Side == body.NoSide && i.Why == "" {
						t.Errorf("%s at %s: %s on both sides without a reason", p.Subject, speed, i.Exercise)
					}
				}
			}
			t.Logf("=== %s at %s: %s\n%s%s", p.Subject, speed, p.Injured, app.ExamText(scored), app.FindingsText(report))
			if testing.Verbose() && speed == "35" {
				t.Log(app.PlanText(plan))
			}
		}
	}
	if runs == 0 {
		t.Skip("no runs at hand")
	}
	// The pelvis moves more the faster one runs; that is no finding.
	for speed, n := range dropped {
		if n > 1 {
			t.Errorf("at %s the pelvis of %d runners of six is found to drop", speed, n)
		}
	}
}
