package web

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// examVisit is a visit of a runner of 70 kg.
func examVisit(t testing.TB, c *client) app.PageVisit {
	t.Helper()
	r := get[app.PageRunner](c, "POST", "/api/runners", map[string]string{"name": "Invented"})
	mass := 70.0
	r.MassKG, r.Sex = &mass, "male"
	get[app.PageRunner](c, "PUT", "/api/runners/"+r.ID, r)
	return get[app.PageVisit](c, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{})
}

func force(n, lever float64) app.PageExamTrial { return app.PageExamTrial{ForceN: &n, LeverM: &lever} }
func trialOf(v float64) app.PageExamTrial      { return app.PageExamTrial{Value: &v} }

func entry(trials ...app.PageExamTrial) app.PageExamEntry { return app.PageExamEntry{Trials: trials} }

func stationOf(t testing.TB, v app.PageVisit, name string) app.PageStation {
	t.Helper()
	for _, s := range v.Stations {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no station %s", name)
	return app.PageStation{}
}

func TestExamTests(t *testing.T) {
	_, c := visitServer(t)
	tests := get[app.PageExamTests](c, "GET", "/api/exam/tests", nil).Tests
	if len(tests) < 25 {
		t.Fatalf("%d tests", len(tests))
	}
	for _, x := range tests {
		g := x.Guide
		if len(g.Shapes) < 8 || !(g.Width > 300 && g.Width < 4000 && g.Height > 200 && g.Height < 3000) || g.Side != "left" && g.Side != "right" {
			t.Errorf("%s: the guide is %g by %g mm of %d shapes, side %q", x.Name, g.Width, g.Height, len(g.Shapes), g.Side)
		}
		for _, s := range g.Shapes {
			for _, p := range s.Points {
				if p[0] < g.X || p[0] > g.X+g.Width || p[1] < g.Y || p[1] > g.Y+g.Height {
					t.Errorf("%s: %v lies outside of the drawing", x.Name, p)
				}
			}
		}
		if (x.Kind == "strength") != (x.Lever != nil) || x.Error.Source == "" {
			t.Errorf("%s: %+v", x.Name, x.Error)
		}
	}
}

// Best of three over the lever arm and the mass, sides against their error, the
// state of the station, and undo.
func TestExamIsKeptAndScored(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	e := get[app.PageExam](c, "GET", at, nil)
	if e.Version != 0 || len(e.Entries) != 0 || len(e.Suggested) == 0 || stationOf(t, v, "exam").State != "empty" {
		t.Fatalf("before: %+v", e)
	}
	e.Entries = map[string]app.PageExamEntry{"hip_abduction_strength/left": entry(force(190, 0.8), force(205.94, 0.8), force(200, 0.8))}
	e = get[app.PageExam](c, "PUT", at, e)
	v = get[app.PageVisit](c, "GET", "/api/visits/"+v.ID, nil)
	if s := stationOf(t, v, "exam"); s.State != "part" || len(s.Missing) != 1 || s.Missing[0].Code != "exam_side" {
		t.Errorf("with one side: %+v", s)
	}
	if v.Undo != "Exam: hip abduction strength, left" {
		t.Errorf("the deed reads %q", v.Undo)
	}
	slipped := force(300, 0.8)
	slipped.Invalid = "strap slipped"
	e.Entries["hip_abduction_strength/right"] = entry(force(140, 0.8), slipped, force(143, 0.8))
	e = get[app.PageExam](c, "PUT", at, e)
	// 205.94 N · 0.8 m / 70 kg = 2.354 Nm/kg and 143 N: 1.634 Nm/kg.
	r := e.Report.Readings
	if len(r) != 2 || math.Abs(*r[0].Value-2.3536) > 1e-3 || math.Abs(*r[1].Value-1.6343) > 1e-3 || r[1].Valid != 2 || r[1].Trials != 3 {
		t.Fatalf("readings %+v", r)
	}
	p := e.Report.Pairs[0]
	if math.Abs(*p.RatioPercent-69.4) > 0.05 || p.Weaker != "right" || !strings.Contains(p.Text, "beyond its error") {
		t.Errorf("pair %+v", p)
	}
	v = get[app.PageVisit](c, "GET", "/api/visits/"+v.ID, nil)
	if s := stationOf(t, v, "exam"); s.State != "done" {
		t.Errorf("with both sides: %+v", s)
	}
	// Nothing new is no deed.
	if again := get[app.PageExam](c, "PUT", at, e); again.Version != e.Version {
		t.Errorf("version %d after %d", again.Version, e.Version)
	}
	v = get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", map[string]any{})
	e = get[app.PageExam](c, "GET", at, nil)
	if v.Deed != "Exam: hip abduction strength, right" || len(e.Entries) != 1 {
		t.Errorf("undo did %q and left %v", v.Deed, e.Entries)
	}
	get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/redo", map[string]any{})
	if e = get[app.PageExam](c, "GET", at, nil); len(e.Entries) != 2 {
		t.Errorf("redo left %v", e.Entries)
	}
	get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", map[string]any{})
	get[app.PageVisit](c, "POST", "/api/visits/"+v.ID+"/undo", map[string]any{})
	if e = get[app.PageExam](c, "GET", at, nil); e.Version != 0 || len(e.Entries) != 0 {
		t.Errorf("all taken back: %+v", e)
	}
}

func TestPainStopsATest(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	for pain, refer := range map[int]bool{1: false, 5: false, 6: true, 10: true} {
		e := get[app.PageExam](c, "GET", at, nil)
		e.Entries = map[string]app.PageExamEntry{"knee_extension_strength/right": entry(force(300, 0.35), app.PageExamTrial{Pain: pain})}
		e = get[app.PageExam](c, "PUT", at, e)
		r := e.Report.Readings[0]
		if !r.Stopped || r.Value != nil || r.Pain != pain || len(e.Report.Pains) != 1 || e.Report.Pains[0].Refer != refer || strings.Contains(e.Report.Pains[0].Text, "refer") != refer {
			t.Errorf("pain %d: %+v %+v", pain, r, e.Report.Pains)
		}
	}
}

// Two people write at once: the second is told and nothing is lost.
func TestTwoPeopleAtOneExam(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	one := app.PageExam{Entries: map[string]app.PageExamEntry{"lunge_cm/left": entry(trialOf(11))}}
	two := app.PageExam{Entries: map[string]app.PageExamEntry{"lunge_cm/right": entry(trialOf(9))}}
	kept := get[app.PageExam](c, "PUT", at, one)
	status, _, body := c.do("PUT", at, two)
	var said refusal
	if err := json.Unmarshal(body, &said); err != nil || status != http.StatusConflict || said.Version != kept.Version || said.Error == "" {
		t.Fatalf("%d %s", status, body)
	}
	status, _, _ = c.do("POST", at+"/table", app.PageExamTable{Version: 0, Table: "test,side,value\nlunge_cm,right,9\n"})
	if status != http.StatusConflict {
		t.Errorf("an old table was taken in: %d", status)
	}
	if e := get[app.PageExam](c, "GET", at, nil); len(e.Entries) != 1 || *e.Entries["lunge_cm/left"].Trials[0].Value != 11 {
		t.Errorf("kept %+v", e.Entries)
	}
}

func TestExamTable(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	table := "test;side;value;lever;felt;stage\nhip_abduction_strength;left;200 N;0.8 m;;\nsingle_leg_bridge;right;18;;hamstring;before\n"
	e := get[app.PageExam](c, "POST", at+"/table", app.PageExamTable{Table: table})
	if len(e.Entries) != 2 || e.Entries["single_leg_bridge/right/before"].Felt != "hamstring" || *e.Entries["hip_abduction_strength/left"].Trials[0].ForceN != 200 {
		t.Fatalf("%+v", e.Entries)
	}
	// The same table once more adds nothing; a new trial is added.
	again := get[app.PageExam](c, "POST", at+"/table", app.PageExamTable{Version: e.Version, Table: table})
	if again.Version != e.Version {
		t.Errorf("the same table made version %d of %d", again.Version, e.Version)
	}
	more := get[app.PageExam](c, "POST", at+"/table", app.PageExamTable{Version: e.Version, Table: table + "hip_abduction_strength;left;210 N;0.8 m;;\n"})
	if n := len(more.Entries["hip_abduction_strength/left"].Trials); n != 2 {
		t.Errorf("%d trials", n)
	}
}

// Nothing that a page, or somebody else, may send is kept where it cannot be
// meant, and nothing brings the server down.
func TestHostileExams(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	put := func(entries string) string { return `{"version":0,"entries":` + entries + `}` }
	many := strings.TrimSuffix(strings.Repeat(`{"value":3},`, 21), ",")
	for name, body := range map[string]string{
		"no such test":     put(`{"flying/left":{"trials":[{"value":3}]}}`),
		"no side":          put(`{"lunge_cm":{"trials":[{"value":3}]}}`),
		"a third side":     put(`{"lunge_cm/middle":{"trials":[{"value":3}]}}`),
		"side of the body": put(`{"front_plank/left":{"trials":[{"value":3}]}}`),
		"no such stage":    put(`{"single_leg_bridge/left/during":{"trials":[{"value":3}]}}`),
		"stage of none":    put(`{"lunge_cm/left/before":{"trials":[{"value":3}]}}`),
		"too deep":         put(`{"single_leg_bridge/left/before/x":{"trials":[{"value":3}]}}`),
		"out of bounds":    put(`{"lunge_cm/left":{"trials":[{"value":1e9}]}}`),
		"no value":         put(`{"lunge_cm/left":{"trials":[{}]}}`),
		"no lever":         put(`{"hip_abduction_strength/left":{"trials":[{"force_n":200}]}}`),
		"negative force":   put(`{"hip_abduction_strength/left":{"trials":[{"force_n":-200,"lever_m":0.8}]}}`),
		"pain of 11":       put(`{"lunge_cm/left":{"trials":[{"value":3,"pain":11}]}}`),
		"felt elsewhere":   put(`{"single_leg_bridge/left":{"trials":[{"value":3}],"felt":"soul"}}`),
		"many trials":      put(`{"lunge_cm/left":{"trials":[` + many + `]}}`),
		"a long note":      put(`{"lunge_cm/left":{"trials":[{"value":3}],"note":"` + strings.Repeat("x", 5000) + `"}}`),
		"a control letter": put(`{"lunge_cm/left":{"trials":[{"value":3}],"note":"\u0007"}}`),
		"a foreign clip":   put(`{"lunge_cm/left":{"trials":[{"value":3,"clip":"../../etc"}]}}`),
		"a long key":       put(`{"` + strings.Repeat("x", 9000) + `":{"trials":[{"value":3}]}}`),
		"an empty key":     put(`{"":{"trials":[{"value":3}]}}`),
	} {
		status, _, out := c.do("PUT", at, body)
		var said refusal
		if err := json.Unmarshal(out, &said); err != nil || status != http.StatusUnprocessableEntity || said.Error == "" || len(said.Error) > 600 {
			t.Errorf("%s: %d %.300s", name, status, out)
		}
	}
	for name, body := range map[string]string{
		"no number": put(`{"lunge_cm/left":{"trials":[{"value":"3"}]}}`), "half": `{"version":0,"entries":{`, "a list": `[]`,
		"unknown name": `{"version":0,"entries":{},"admin":true}`, "not finite": put(`{"lunge_cm/left":{"trials":[{"value":1e999}]}}`),
	} {
		if status, _, out := c.do("PUT", at, body); status != http.StatusBadRequest {
			t.Errorf("%s: %d %s", name, status, out)
		}
	}
	if status, _, _ := c.do("PUT", at, put(`{}`), func(r *http.Request) { r.Header.Set("Content-Type", "text/plain") }); status != http.StatusUnsupportedMediaType {
		t.Errorf("a form of another site: %d", status)
	}
	for _, table := range []string{"", "a,b\n", "test,side,value\nlunge_cm,left,NaN\n", "test,side,value\n\"lunge_cm,left\n", "\x00\xff", strings.Repeat("test,", 5000)} {
		if status, _, out := c.do("POST", at+"/table", app.PageExamTable{Table: table}); status != http.StatusUnprocessableEntity {
			t.Errorf("table %.20q: %d %s", table, status, out)
		}
	}
	for name, ask := range map[string]struct {
		app.PageExamFilm
		status int
	}{
		"no clip":      {app.PageExamFilm{Test: "single_leg_squat", Side: "left", Clip: v.ID}, http.StatusNotFound},
		"no film test": {app.PageExamFilm{Test: "lunge_cm", Side: "left", Clip: v.ID}, http.StatusUnprocessableEntity},
		"no side":      {app.PageExamFilm{Test: "step_down", Clip: v.ID}, http.StatusUnprocessableEntity},
	} {
		if status, _, out := c.do("POST", at+"/film", ask.PageExamFilm); status != ask.status {
			t.Errorf("%s: %d %s", name, status, out)
		}
	}
	for _, path := range []string{"/api/visits/" + strings.Repeat("0", 26) + "/exam", "/api/visits/nobody/exam"} {
		if status, _, _ := c.do("GET", path, nil); status != http.StatusNotFound {
			t.Errorf("%s: %d", path, status)
		}
	}
	if e := get[app.PageExam](c, "GET", at, nil); e.Version != 0 || len(e.Entries) != 0 {
		t.Errorf("something was kept: %+v", e)
	}
}

// A warning sign stops testing; a sign of bone leaves out the hop for good.
func TestSignsAndTheExam(t *testing.T) {
	_, c := visitServer(t)
	v := examVisit(t, c)
	at := "/api/visits/" + v.ID + "/exam"
	intake := app.PageIntake{Signs: map[string]string{"bone_point": "yes"}}
	v = get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", intake)
	if s := stationOf(t, v, "exam"); s.State != "stopped" {
		t.Errorf("the station is %s", s.State)
	}
	lunge := app.PageExam{Entries: map[string]app.PageExamEntry{"lunge_cm/left": entry(trialOf(11))}}
	if status, _, out := c.do("PUT", at, lunge); status != http.StatusPreconditionFailed {
		t.Errorf("tested in spite of a sign: %d %s", status, out)
	}
	intake = *v.Intake
	intake.Cleared = &app.PageClearance{By: "Dr Invented", Date: v.Date}
	get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", intake)
	e := get[app.PageExam](c, "PUT", at, lunge)
	if len(e.LeftOut) != 1 || e.LeftOut[0].Test != "hop" || e.LeftOut[0].Source == "" {
		t.Errorf("left out: %+v", e.LeftOut)
	}
	for i, s := range e.Suggested {
		if s.Test == "hop" {
			t.Errorf("suggested, %d: %+v", i, s)
		}
	}
	e.Entries["hop/left"] = entry(trialOf(120))
	if status, _, out := c.do("PUT", at, e); status != http.StatusPreconditionFailed {
		t.Errorf("hopped in spite of a sign of bone: %d %s", status, out)
	}
}

func FuzzExam(f *testing.F) {
	f.Add(`{"version":0,"entries":{"lunge_cm/left":{"trials":[{"value":3}]}}}`)
	f.Add(`{"version":0,"entries":{"hip_abduction_strength/left":{"trials":[{"force_n":200,"lever_m":0.8,"pain":3,"invalid":"x"}],"felt":"","note":"n"}}}`)
	f.Add(`{"entries":{"//":null}}`)
	f.Add(fmt.Sprintf(`{"entries":{%q:{}}}`, "single_leg_bridge/left/after"))
	_, c := visitServer(f)
	v := examVisit(f, c)
	f.Fuzz(func(t *testing.T, body string) {
		c := &client{t: t, base: c.base, who: "nobody"}
		status, _, out := c.do("PUT", "/api/visits/"+v.ID+"/exam", body)
		if status >= 500 {
			t.Fatalf("%d %s", status, out)
		}
		if status, _, out := c.do("GET", "/api/visits/"+v.ID+"/exam", nil); status != http.StatusOK {
			t.Fatalf("unreadable afterwards: %d %s", status, out)
		}
	})
}
