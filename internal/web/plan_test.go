package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/programme"
	"gaitwright/internal/app"
)

// told decodes an answer of status want.
func told[T any](t *testing.T, c *client, want int, method, path string, body any) T {
	t.Helper()
	status, _, data := c.do(method, path, body)
	if status != want {
		t.Fatalf("%s %s: %d %s, want %d", method, path, status, data, want)
	}
	var out T
	if err := json.Unmarshal(data, &out); err != nil {
		t.Fatalf("%s %s: %v in %s", method, path, err, data)
	}
	return out
}

// visitAt begins a visit of a new runner.
func visitAt(t *testing.T, c *client) (id string, v app.PageVisit) {
	t.Helper()
	r := told[app.PageRunner](t, c, 200, "POST", "/api/runners", map[string]string{"name": "Ida Invented"})
	v = told[app.PageVisit](t, c, 200, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{})
	return v.ID, v
}

// ownFinding is a coach's own, aimed at one area.
func ownFinding(id, title, side, block, area string) app.PageOwnFinding {
	return app.PageOwnFinding{ID: id, Title: title, Side: side, Aims: []app.PageAim{{Block: block, Area: area}}}
}

func askOf() app.PagePlanAsk {
	return app.PagePlanAsk{Start: "2026-03-16", Weeks: 8, FullMin: 20, WarmMin: 7, FullDays: 3, RunDays: 3, Equipment: []string{"band"}}
}

func TestFromAFindingToAPlan(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	f := told[app.PageFindings](t, c, 200, "GET", at+"/findings", nil)
	if f.Version != 0 || f.Report.None == "" || len(f.Report.Aims) < 15 {
		t.Fatalf("empty visit: %+v", f)
	}
	if p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil); p.Version != 0 || len(p.Weeks) != 0 || p.Ask.Weeks != 8 || p.Ask.Start != "2026-03-16" {
		t.Fatalf("no plan yet: %+v", p.Ask)
	}
	// Without an accepted finding there is nothing to make.
	if status, _, _ := c.do("PUT", at+"/plan", app.PagePlanChange{Ask: askOf()}); status != 422 {
		t.Errorf("a plan of nothing: %d", status)
	}
	f = told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak right hip", "right", "strengthen", "glute_med")}})
	if f.Version != 1 || len(f.Own) != 1 || f.Own[0].Aims[0].Side != "right" {
		t.Fatalf("kept %+v", f.PageFindingsKept)
	}
	rows := told[app.PageRunners](t, c, 200, "GET", "/api/runners?tag=Weak+right+hip", nil)
	if len(rows.Rows) != 1 {
		t.Errorf("not found by its finding: %+v", rows)
	}
	p := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	if len(p.Weeks) != 8 || p.Retest != "2026-05-11" || p.Stale || len(p.Disputed) == 0 || len(p.Accepted) != 1 {
		t.Fatalf("plan: %d weeks, re-test %s, disputed %d", len(p.Weeks), p.Retest, len(p.Disputed))
	}
	for n, m := range p.Minutes {
		if m.Full > 20 || m.Warm > 7 {
			t.Errorf("week %d takes %+v minutes", n+1, m)
		}
	}

	// By hand: a dose in week 1, an exercise taken out of all weeks.
	weeks := p.Weeks
	out := weeks[0].Full[len(weeks[0].Full)-1].Exercise
	for n := range weeks {
		var full []programme.Item
		for _, i := range weeks[n].Full {
			if i.Exercise != out {
				full = append(full, i)
			}
		}
		weeks[n].Full = full
	}
	mine := weeks[0].Full[0].Exercise
	weeks[0].Full[0].Dose.Sets = 7
	p = told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: weeks})
	if !p.Weeks[0].Full[0].Hand || p.Weeks[0].Full[0].Dose.Sets != 7 || p.Weeks[1].Hand {
		t.Fatalf("by hand: %+v", p.Weeks[0].Full[0])
	}
	// New findings: the plan is behind; brought up to date it keeps the hand's work.
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Version: f.Version, Own: []app.PageOwnFinding{
		ownFinding("own-1", "Weak right hip", "right", "strengthen", "glute_med"), ownFinding("own-2", "Short calf", "both", "lengthen", "calf")}})
	p = told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
	if !p.Stale {
		t.Error("the plan does not say that it is behind")
	}
	p = told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask})
	kept := false
	for _, w := range p.Weeks {
		for _, i := range w.Full {
			kept = kept || i.Exercise == mine && i.Dose.Sets == 7
			if i.Exercise == out {
				t.Errorf("week %d: %s is back", w.Number, out)
			}
		}
	}
	if !kept || p.Stale {
		t.Errorf("kept %v, stale %v", kept, p.Stale)
	}
	// Undo takes the last deed back.
	v := told[app.PageVisit](t, c, 200, "POST", at+"/undo", "{}")
	if v.Deed != "Brought the plan up to date" || !told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil).Stale {
		t.Errorf("undone %q", v.Deed)
	}
	status, head, ics := c.do("GET", at+"/plan.ics", nil)
	if status != 200 || !strings.HasPrefix(head.Get("Content-Type"), "text/calendar") || strings.Count(string(ics), "BEGIN:VEVENT") != 8*6+1 {
		t.Errorf("calendar: %d %s, %d events", status, head.Get("Content-Type"), strings.Count(string(ics), "BEGIN:VEVENT"))
	}
	for _, file := range []string{"plan.ics", "homework.html", "report/html"} {
		if status, _, body := c.do("GET", at+"/"+file+"?units=ells", nil); status != 400 || !strings.Contains(string(body), "units=ells") || !strings.Contains(string(body), "units=metric or units=us") {
			t.Errorf("%s in ells: %d %.200s", file, status, body)
		}
	}
	if status, _, page := c.do("GET", at+"/homework.html?units=us", nil); status != 200 || !strings.Contains(string(page), `"units":"us"`) {
		t.Errorf("homework in US units: %d", status)
	}
	for _, s := range v.Stations {
		if s.Name == "findings" && s.State != "done" || s.Name == "plan" && s.State == "empty" {
			t.Errorf("station %+v", s)
		}
	}
}

// A warning sign overrides the plan that is there, in the page and the calendar,
// until it is cleared.
func TestWarningSignClosesThePlan(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Short calf", "left", "lengthen", "calf")}})
	told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	v := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Signs: map[string]string{"bone_point": "yes"}})
	p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
	if p.None == "" || len(p.Weeks) != 0 || len(p.Refer) == 0 {
		t.Fatalf("plan in spite of a warning sign: %q, %d weeks", p.None, len(p.Weeks))
	}
	for _, change := range []app.PagePlanChange{{Version: p.Version, Ask: askOf()}} {
		if status, _, body := c.do("PUT", at+"/plan", change); status != http.StatusPreconditionFailed || !strings.Contains(string(body), "clinician") {
			t.Errorf("%d %s", status, body)
		}
	}
	if status, _, _ := c.do("GET", at+"/plan.ics", nil); status != 404 {
		t.Errorf("calendar: %d", status)
	}
	told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Version: v.Intake.Version, Signs: map[string]string{"bone_point": "yes"}, Cleared: &app.PageClearance{By: "Dr Invented", Date: "2026-03-14"}})
	if p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil); p.None != "" || len(p.Weeks) != 8 {
		t.Errorf("cleared: %q, %d weeks", p.None, len(p.Weeks))
	}
}

// A warning sign of one region closes that region and running; the rest of the
// plan stays, what the coach changes meanwhile is kept, and when a clinician has
// cleared it all is back.
func TestWarningSignOfOneRegion(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak trunk", "both", "strengthen", "trunk"), ownFinding("own-2", "Short calf", "left", "lengthen", "calf")}})
	whole := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	sign := app.PageIntake{Signs: map[string]string{"bone_point": "yes"}, Places: map[string]app.PageSignPlace{"bone_point": {Region: "shin", Side: "left"}}}
	v := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", sign)
	p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
	if p.None != "" || !strings.Contains(p.NoRun, "shin") || len(p.RunDays) != 0 || len(p.Refer) != 1 || p.Refer[0].Region != "shin" || p.Refer[0].Side != "left" {
		t.Fatalf("plan %q, no run %q on %v, referred %+v", p.None, p.NoRun, p.RunDays, p.Refer)
	}
	by := map[string]app.PageExercise{}
	for _, e := range p.Exercises {
		by[e.Name] = e
	}
	floor := 0
	for _, w := range p.Weeks {
		if len(w.Warm)+len(w.Running) > 0 {
			t.Errorf("week %d: runs are planned", w.Number)
		}
		for _, i := range w.Full {
			floor++
			if e := by[i.Exercise]; e.Refused != "" || e.Area == "calf" {
				t.Errorf("week %d: %s is there: %s", w.Number, e.Title, e.Refused)
			}
		}
	}
	if floor == 0 || len(p.Left) == 0 {
		t.Fatalf("%d exercises on the floor, %d left out", floor, len(p.Left))
	}
	_, _, ics := c.do("GET", at+"/plan.ics", nil)
	if n := strings.Count(string(ics), "BEGIN:VEVENT"); n != 8*3+1 || strings.Contains(string(ics), "Warm-up") {
		t.Errorf("calendar: %d events", n)
	}
	// No run can be put in by hand, and another change is kept.
	weeks := p.Weeks
	weeks[0].Warm = whole.Weeks[0].Warm
	if status, _, body := c.do("PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: weeks}); status < 400 {
		t.Errorf("a warm-up put in: %d %.200s", status, body)
	}
	weeks[0].Warm = nil
	weeks[0].Full[0].Dose.Sets = 6
	mine := weeks[0].Full[0].Exercise
	p = told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: weeks})
	sign.Version, sign.Cleared = v.Intake.Version, &app.PageClearance{By: "Dr Invented", Date: "2026-03-14"}
	told[app.PageVisit](t, c, 200, "PUT", at+"/intake", sign)
	p = told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
	if p.NoRun != "" || len(p.RunDays) != 3 || len(p.Refer) != 0 || len(p.Left) != 0 {
		t.Fatalf("cleared: no run %q on %v, referred %+v", p.NoRun, p.RunDays, p.Refer)
	}
	for n, w := range p.Weeks {
		if len(w.Full) != len(whole.Weeks[n].Full) || len(w.Warm) != len(whole.Weeks[n].Warm) || len(w.Running) != len(whole.Weeks[n].Running) {
			t.Errorf("week %d: %d, %d and %d exercises, were %d, %d and %d", w.Number, len(w.Warm), len(w.Full), len(w.Running), len(whole.Weeks[n].Warm), len(whole.Weeks[n].Full), len(whole.Weeks[n].Running))
		}
	}
	kept := false
	for _, i := range p.Weeks[0].Full {
		kept = kept || i.Exercise == mine && i.Dose.Sets == 6 && i.Hand
	}
	if !kept {
		t.Errorf("the change of %s is lost", mine)
	}
}

// While a sign stands the plan can be fitted to what may be done; the coach's work on
// what may not is kept, and is there again when a clinician has cleared it.
func TestPlanFittedWhileASignStands(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	plan := func() app.PagePlan { return told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil) }
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak calf", "left", "strengthen", "calf")}})
	p := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	area := map[string]string{}
	for _, e := range p.Exercises {
		area[e.Name] = e.Block + " " + e.Area
	}
	weeks, mine := p.Weeks, ""
	for k := range weeks[0].Full {
		if i := &weeks[0].Full[k]; area[i.Exercise] == "strengthen calf" {
			i.Dose.Sets, mine = 6, i.Exercise
		}
	}
	if mine == "" {
		t.Fatalf("no work for the calf: %+v", weeks[0].Full)
	}
	p = told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: weeks})
	has := func(p app.PagePlan) bool {
		return slices.ContainsFunc(p.Weeks[0].Full, func(i programme.Item) bool { return i.Exercise == mine && i.Dose.Sets == 6 && i.Hand })
	}
	if !has(p) || p.Behind != "" {
		t.Fatalf("by hand: behind %q", p.Behind)
	}
	sign := app.PageIntake{Signs: map[string]string{"bone_point": "yes"}, Places: map[string]app.PageSignPlace{"bone_point": {Region: "calf", Side: "left"}}}
	v := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", sign)
	cut := plan()
	if cut.Behind != "shut" || !cut.Stale || has(cut) || cut.Short == "" {
		t.Fatalf("cut down: behind %q, there %v, short %q", cut.Behind, has(cut), cut.Short)
	}
	fitted := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: cut.Version, Ask: cut.Ask})
	if fitted.Behind != "" || has(fitted) || len(fitted.Left) != 1 || fitted.Left[0].Exercise != mine || fitted.Minutes[0].Full <= cut.Minutes[0].Full {
		t.Fatalf("fitted: behind %q, left %+v, %v minutes after %v", fitted.Behind, fitted.Left, fitted.Minutes[0].Full, cut.Minutes[0].Full)
	}
	sign.Version, sign.Cleared = v.Intake.Version, &app.PageClearance{By: "Dr Invented", Date: "2026-03-14"}
	told[app.PageVisit](t, c, 200, "PUT", at+"/intake", sign)
	if p = plan(); p.Behind != "opened" || !has(p) {
		t.Fatalf("cleared: behind %q, the hand's work there %v", p.Behind, has(p))
	}
	p = told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask})
	if p.Behind != "" || !has(p) || len(p.RunDays) != 3 || len(p.Weeks[0].Warm) == 0 || len(p.Left) != 0 {
		t.Errorf("whole again: behind %q, the hand's work there %v, runs on %v, left %+v", p.Behind, has(p), p.RunDays, p.Left)
	}
}

// A sign that asks for its place and got none is of the whole body, one that has
// regions is of those; a place must be one of the body map.
func TestPlacesOfWarningSigns(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	version := int64(0)
	for _, x := range []struct {
		sign  string
		place app.PageSignPlace
		want  []string // regions referred
	}{
		{"bone_point", app.PageSignPlace{}, []string{""}}, {"chest", app.PageSignPlace{}, []string{""}}, {"groin_load", app.PageSignPlace{}, []string{"hip"}},
		{"numb_weak", app.PageSignPlace{}, []string{"leg", "low_back"}}, {"joint", app.PageSignPlace{Region: "knee_inner", Side: "right"}, []string{"knee_inner"}},
	} {
		v := told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Version: version, Signs: map[string]string{x.sign: "yes"}, Places: map[string]app.PageSignPlace{x.sign: x.place}})
		version = v.Intake.Version
		var got []string
		for _, r := range told[app.PageFindings](t, c, 200, "GET", at+"/findings", nil).Report.Refer {
			got = append(got, r.Region)
		}
		if !slices.Equal(got, x.want) {
			t.Errorf("%s: referred %q, want %q", x.sign, got, x.want)
		}
	}
	for _, bad := range []app.PageIntake{
		{Signs: map[string]string{"joint": "yes"}, Places: map[string]app.PageSignPlace{"joint": {Region: "soul", Side: "left"}}},
		{Signs: map[string]string{"joint": "yes"}, Places: map[string]app.PageSignPlace{"joint": {Region: "shin", Side: "top"}}},
		{Signs: map[string]string{"chest": "yes"}, Places: map[string]app.PageSignPlace{"chest": {Region: "shin", Side: "left"}}},
	} {
		bad.Version = version
		if status, _, body := c.do("PUT", at+"/intake", bad); status != 422 || !strings.Contains(string(body), "places") {
			t.Errorf("%+v: %d %s", bad.Places, status, body)
		}
	}
}

// A test that hurt too much closes its region; a clinician's clearance opens it,
// and not for what hurts later.
func TestClearanceOfAPainfulTest(t *testing.T) {
	_, c := visitServer(t)
	id, v := visitAt(t, c)
	at := "/api/visits/" + id
	hurts := func(test string, version int64, more map[string]app.PageExamEntry) (app.PageExam, map[string]app.PageExamEntry) {
		seven := 7.0
		all := map[string]app.PageExamEntry{test + "/left": {Trials: []app.PageExamTrial{{Value: &seven, Pain: 7}}}}
		for k, e := range more {
			all[k] = e
		}
		return told[app.PageExam](t, c, 200, "PUT", at+"/exam", app.PageExam{Version: version, Entries: all}), all
	}
	regions := func() (out []string) {
		for _, r := range told[app.PageFindings](t, c, 200, "GET", at+"/findings", nil).Report.Refer {
			out = append(out, r.Region+" "+r.Side)
		}
		return out
	}
	e, all := hurts("heel_raise", 0, nil)
	if got := regions(); !slices.Equal(got, []string{"calf left"}) {
		t.Fatalf("referred %q", got)
	}
	intake := app.PageIntake{Cleared: &app.PageClearance{By: "Dr Invented", Date: "2026-03-14"}}
	if v.Intake != nil {
		intake.Version = v.Intake.Version
	}
	told[app.PageVisit](t, c, 200, "PUT", at+"/intake", intake)
	if got := regions(); len(got) != 0 {
		t.Errorf("cleared, and still referred %q", got)
	}
	hurts("adductor_length", e.Version, all)
	if got := regions(); !slices.Equal(got, []string{"groin left"}) {
		t.Errorf("after another test: referred %q", got)
	}
}

// A told pain above the scale's limit closes its region and the runs until it is
// cleared or less; what rises later is not covered.
func TestTooMuchPainIsReferred(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak trunk", "both", "strengthen", "trunk")}})
	told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	version := int64(0)
	for _, x := range []struct {
		score   int
		cleared string
		refer   bool
	}{{5, "", false}, {6, "", true}, {6, "Dr Invented", false}, {8, "Dr Invented", true}, {8, "Dr Other", false}, {4, "", false}} {
		in := app.PageIntake{Version: version, Pain: []app.PagePain{{Region: "knee_front", Side: "left", Face: "front", Score: x.score}}}
		if x.cleared != "" {
			in.Cleared = &app.PageClearance{By: x.cleared, Date: "2026-03-14"}
		}
		version = told[app.PageVisit](t, c, 200, "PUT", at+"/intake", in).Intake.Version
		p := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
		if (len(p.Refer) == 1) != x.refer || (p.NoRun != "") != x.refer || x.refer && (p.Refer[0].Region != "knee_front" || p.Refer[0].Side != "left" || !strings.Contains(p.NoRun, "front of the knee")) {
			t.Errorf("pain of %d, cleared by %q: referred %+v, %q", x.score, x.cleared, p.Refer, p.NoRun)
		}
		if x.refer != (len(p.Weeks[0].Warm) == 0) {
			t.Errorf("pain of %d, cleared by %q: a warm-up of %d", x.score, x.cleared, len(p.Weeks[0].Warm))
		}
	}
}

// Pain closes what loads the place: it is left out of a plan that is there, and
// cannot be put in.
func TestPainLeavesExercisesOut(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak calf", "left", "strengthen", "calf")}})
	p := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	full := p.Weeks
	told[app.PageVisit](t, c, 200, "PUT", at+"/intake", app.PageIntake{Pain: []app.PagePain{{Region: "achilles", Side: "left", Face: "back", Score: 4}}})
	p = told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil)
	if len(p.Left) == 0 || !strings.Contains(p.Left[0].Why, "4 of 10") {
		t.Fatalf("left out %+v", p.Left)
	}
	status, _, body := c.do("PUT", at+"/plan", app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: full})
	if status != 422 || !strings.Contains(string(body), "Achilles tendon") {
		t.Errorf("put in all the same: %d %s", status, body)
	}
}

func TestTwoScreensAtFindingsAndPlan(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	one := app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Short calf", "left", "lengthen", "calf")}}
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", one)
	if status, _, body := c.do("PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-2", "Other", "left", "lengthen", "calf")}}); status != 409 || !strings.Contains(string(body), `"version":1`) {
		t.Errorf("stale findings: %d %s", status, body)
	}
	told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	if status, _, body := c.do("PUT", at+"/plan", app.PagePlanChange{Ask: askOf()}); status != 409 || !strings.Contains(string(body), `"version":1`) {
		t.Errorf("stale plan: %d %s", status, body)
	}
}

func TestHostileFindingsAndPlans(t *testing.T) {
	_, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Short calf", "left", "lengthen", "calf")}})
	p := told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	week := func(change func(*programme.Week)) string {
		var weeks []programme.Week
		data, _ := json.Marshal(p.Weeks)
		if err := json.Unmarshal(data, &weeks); err != nil {
			t.Fatal(err)
		}
		change(&weeks[0])
		out, _ := json.Marshal(app.PagePlanChange{Version: p.Version, Ask: p.Ask, Weeks: weeks})
		return string(out)
	}
	ask := func(change func(*app.PagePlanAsk)) string {
		a := askOf()
		change(&a)
		out, _ := json.Marshal(app.PagePlanChange{Version: p.Version, Ask: a})
		return string(out)
	}
	many := make([]app.PageOwnFinding, 13)
	for i := range many {
		many[i] = ownFinding(fmt.Sprintf("own-%d", i), "x", "left", "lengthen", "calf")
	}
	for _, x := range []struct {
		want int
		path string
		body any
	}{
		{422, "/findings", `{"version":1,"decisions":{"nonsense":{"state":"accepted"}}}`},
		{422, "/findings", `{"version":1,"decisions":{"inward_knee":{"state":"perhaps"}}}`},
		{422, "/findings", `{"version":1,"decisions":{"inward_knee":{"state":"rejected"}}}`},
		{422, "/findings", `{"version":1,"order":["'; drop table"]}`},
		{400, "/findings", `{"version":1,"report":{}}`},
		{400, "/findings", `{"version":1`},
		{422, "/findings", app.PageFindingsKept{Version: 1, Own: many}},
		{422, "/findings", app.PageFindingsKept{Version: 1, Own: []app.PageOwnFinding{ownFinding("../x", "x", "left", "lengthen", "calf")}}},
		{422, "/findings", app.PageFindingsKept{Version: 1, Own: []app.PageOwnFinding{ownFinding("own-1", "x", "top", "lengthen", "calf")}}},
		{422, "/findings", app.PageFindingsKept{Version: 1, Own: []app.PageOwnFinding{ownFinding("own-1", "x", "left", "lengthen", "nose")}}},
		{422, "/findings", app.PageFindingsKept{Version: 1, Own: []app.PageOwnFinding{ownFinding("own-1", "", "left", "lengthen", "calf")}}},
		{422, "/plan", ask(func(a *app.PagePlanAsk) { a.Start = "tomorrow" })},
		{422, "/plan", ask(func(a *app.PagePlanAsk) { a.Start = "1926-03-16" })},
		{422, "/plan", ask(func(a *app.PagePlanAsk) { a.Weeks = 4000 })},
		{422, "/plan", ask(func(a *app.PagePlanAsk) { a.FullMin = -1 })},
		{422, "/plan", ask(func(a *app.PagePlanAsk) { a.Equipment = []string{"trampoline"} })},
		{422, "/plan", week(func(w *programme.Week) { w.Full[0].Exercise = "nothing" })},
		{422, "/plan", week(func(w *programme.Week) { w.Full[0].Dose.Sets = 1000 })},
		{422, "/plan", week(func(w *programme.Week) { w.Full = append(w.Full, w.Full[0]) })},
		{422, "/plan", week(func(w *programme.Week) { w.Running = w.Full })},
		{422, "/plan", week(func(w *programme.Week) { w.Note = strings.Repeat("x", 700) })},
		{422, "/plan", week(func(w *programme.Week) { w.Full[0].Dose.Pace = "9-9" })},
		{400, "/plan", `{"version":1,"weeks":[{"full":[{"side":"upside"}]}]}`},
		{404, "X/plan", `{}`},
	} {
		path := at + x.path
		if strings.HasPrefix(x.path, "X") {
			path = "/api/visits/" + x.path
		}
		status, _, body := c.do("PUT", path, x.body)
		if status != x.want || !strings.Contains(string(body), `"error"`) {
			t.Errorf("PUT %s %.80v: %d %s, want %d", x.path, x.body, status, body, x.want)
		}
	}
	if q := told[app.PagePlan](t, c, 200, "GET", at+"/plan", nil); q.Version != p.Version {
		t.Error("something was written")
	}
	for path, want := range map[string]int{
		"/api/exercises/bridge/start.svg?side=left&look=dark": 200, "/api/exercises/bridge/end.svg": 200, "/api/exercises/bridge/middle.svg": 404,
		"/api/exercises/..%2f/start.svg": 404, "/api/exercises/nothing/start.svg": 404, "/api/exercises/bridge/start.svg?side=up": 400, "/api/exercises/bridge/start.svg?look=grey": 400,
		"/api/results/01M89BXZA2098N8N033N78YSYV/clips/0/shows/1": 404, "/api/results/x/clips/0/shows/1": 404,
	} {
		if status, _, body := c.do("GET", path, nil); status != want {
			t.Errorf("GET %s: %d %.120s, want %d", path, status, body, want)
		}
	}
	_, _, left := c.do("GET", "/api/exercises/roll_calf/start.svg?side=left", nil)
	_, _, right := c.do("GET", "/api/exercises/roll_calf/start.svg?side=right", nil)
	if string(left) == string(right) {
		t.Error("left and right are drawn alike")
	}
}
