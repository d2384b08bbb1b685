package web

import (
	"testing"

	"gaitwright/internal/app"
)

// A warning sign that is met after everything was made stops every station: nothing
// is filmed, measured, tested, trained, taken home or made harder until a clinician's
// clearance is noted, and what was there comes back with it.
func TestTheStopHoldsInEveryStation(t *testing.T) {
	st, c := visitServer(t)
	id, v := visitAt(t, c)
	at := "/api/visits/" + id
	r := v.Runner
	day := v.Date
	r.Consent.Filming, r.Consent.Records, r.Visits, r.ConsentText = &day, &day, nil, ""
	told[app.PageRunner](t, c, 200, "PUT", "/api/runners/"+r.ID, r)
	signs := map[string]string{}
	for _, s := range st.IntakeForm().Signs {
		signs[s.ID] = "no"
	}
	intake := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Signs: signs}).Intake
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak right hip", "right", "strengthen", "glute_med")}})
	plan := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	count, seconds, speed := 75, 30.0, 3.0
	ramp := app.PageStepRateChange{Ask: app.PageStepRateAsk{How: "count", Count: &count, Seconds: &seconds, SpeedMPS: &speed, Landing: "yes"}}
	made := told[app.PageStepRate](t, c, 200, "PUT", at+"/steprate", ramp)
	if len(plan.Weeks) == 0 || len(made.Weeks) == 0 {
		t.Fatalf("%d weeks of plan, %d of ramp", len(plan.Weeks), len(made.Weeks))
	}
	ramp.Version = made.Version
	exam := func() app.PageExam {
		e := told[app.PageExam](t, c, 200, "GET", at+"/exam", nil)
		value := 24.0
		e.Entries = map[string]app.PageExamEntry{"heel_raise/left": {Trials: []app.PageExamTrial{{Value: &value}}}}
		return e
	}
	asks := []struct {
		what, method, path string
		body               any
		open               int // status where nothing stops it; 0 where that rests on what is installed
	}{
		{"a film", "POST", at + "/uploads", app.PageUploadAsk{Name: "a.mp4", Size: 10}, 200},
		{"measuring", "POST", at + "/measure", app.PageMeasureAsk{}, 422}, // there is no film
		{"the live view", "POST", at + "/live", map[string]any{}, 0},
		{"a test", "PUT", at + "/exam", exam(), 200},
		{"a test from a film", "POST", at + "/exam/film", app.PageExamFilm{Test: "single_leg_squat", Side: "left", Clip: "none"}, 404},
		{"the step rate", "PUT", at + "/steprate", ramp, 200},
		{"the click", "GET", at + "/click.wav?week=0&pace=0", nil, 200},
		{"the homework", "GET", at + "/homework.html", nil, 200},
		{"the plan", "PUT", at + "/plan", app.PagePlanChange{Version: plan.Version, Ask: plan.Ask}, 200},
		{"the return", "PUT", at + "/return", app.PageReturnChoice{Blocks: map[string]app.PageReturnDecision{"strengthen": {Do: "progress"}}}, 200},
	}
	signs["chest"] = "yes"
	stopped := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Version: intake.Version, Signs: signs})
	for _, s := range stopped.Stations {
		if s.State != "stopped" && s.State != "done" {
			t.Errorf("the station %s is %s", s.Name, s.State)
		}
	}
	for _, a := range asks {
		if status, _, data := c.do(a.method, a.path, a.body); status != 412 {
			t.Errorf("stopped, %s: %d %.200s", a.what, status, data)
		}
	}
	if p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil); p.None == "" {
		t.Error("the plan is shown as if nothing stopped it")
	}
	cleared := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Version: stopped.Intake.Version, Signs: signs, Cleared: &app.PageClearance{By: "Dr. Invented", Date: day}})
	if cleared.Refer == nil || cleared.Refer.Cleared == nil {
		t.Fatalf("not cleared: %+v", cleared.Refer)
	}
	for _, a := range asks {
		if status, _, data := c.do(a.method, a.path, a.body); a.open != 0 && status != a.open || status == 412 {
			t.Errorf("cleared, %s: %d %.200s", a.what, status, data)
		}
	}
}
