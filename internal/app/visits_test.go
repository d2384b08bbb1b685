package app_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
)

var bg = context.Background()

func ptr[T any](v T) *T { return &v }

// kindOf is the kind of a problem, and fails where err is none.
func kindOf(t *testing.T, err error) app.Kind {
	t.Helper()
	var p *app.Problem
	if !errors.As(err, &p) {
		t.Fatalf("%v is no problem in words", err)
	}
	return p.Kind
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// consented takes a runner in who agrees to all, and begins a visit.
func consented(t testing.TB, st *app.Studio) (app.PageRunner, app.PageVisit) {
	t.Helper()
	r := must[app.PageRunner](t)(st.NewRunner(bg, "test", "Åse Øygard (invented)"))
	r.Consent = app.PageConsent{Filming: ptr("2026-03-01"), Records: ptr("2026-03-01")}
	r.HeightM, r.MassKG, r.Sex = ptr(1.7), ptr(61.0), "female"
	r = must[app.PageRunner](t)(st.ChangeRunner(bg, "test", r.ID, "", r))
	return r, must[app.PageVisit](t)(st.NewVisit(bg, "test", r.ID, ""))
}

// healthy is an intake with no sign met.
func healthy(st *app.Studio) app.PageIntake {
	p := app.PageIntake{Signs: map[string]string{}}
	for _, s := range st.IntakeForm().Signs {
		p.Signs[s.ID] = "no"
	}
	return p
}

func station(t *testing.T, v app.PageVisit, name string) app.PageStation {
	t.Helper()
	for _, s := range v.Stations {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("there is no station %s", name)
	return app.PageStation{}
}

func TestEveryStationOfANewVisit(t *testing.T) {
	st := openStudio(t)
	r := must[app.PageRunner](t)(st.NewRunner(bg, "", "  Åse  Øygard (invented) "))
	if r.Name != "Åse Øygard (invented)" {
		t.Errorf("name %q", r.Name)
	}
	v := must[app.PageVisit](t)(st.NewVisit(bg, "", r.ID, ""))
	if v.Date != "2026-03-14" {
		t.Errorf("the day is %s", v.Date)
	}
	want := map[string]string{"intake": "empty", "film": "empty", "measure": "empty", "exam": "empty", "findings": "empty", "plan": "empty", "handout": "empty", "return": "empty"}
	if len(v.Stations) != len(want) {
		t.Errorf("%d stations", len(v.Stations))
	}
	for _, s := range v.Stations {
		if s.State != want[s.Name] {
			t.Errorf("%s is %s, want %s", s.Name, s.State, want[s.Name])
		}
	}
	if v.Next.Code != "consent_filming" || v.Next.Text == "" {
		t.Errorf("next is %+v", v.Next)
	}
}

// The next thing to do follows what a coach does in order.
func TestNextThingToDo(t *testing.T) {
	st := openStudio(t)
	r := must[app.PageRunner](t)(st.NewRunner(bg, "", "Invented"))
	v := must[app.PageVisit](t)(st.NewVisit(bg, "", r.ID, ""))
	next := func(want string) {
		t.Helper()
		v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
		if v.Next.Code != want {
			t.Errorf("next is %+v, want %s", v.Next, want)
		}
	}
	next("consent_filming")
	r.Consent.Filming = ptr("2026-03-14")
	r = must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, v.ID, r))
	next("consent_records")
	r.Consent.Records = ptr("2026-03-14")
	r = must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, v.ID, r))
	next("signs")
	p := healthy(st)
	p = must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	next("height")
	r.HeightM = ptr(1.8)
	r = must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, v.ID, r))
	next("film_none")
	if s := station(t, v, "intake"); s.State != "done" {
		t.Errorf("intake %+v", s)
	}
	if v.Undo != "Changed height of Invented" {
		t.Errorf("undo %q", v.Undo)
	}
	p.Signs["hop"] = "yes"
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	next("refer")
}

func TestAWarningSignStopsTheVisit(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	p := healthy(st)
	p.Signs["hop"] = "yes"
	p = must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if v.Refer == nil || v.Refer.Cleared != nil || len(v.Refer.Signs) != 1 || v.Refer.Signs[0].ID != "hop" || v.Refer.Signs[0].Source == "" {
		t.Fatalf("refer %+v", v.Refer)
	}
	for _, name := range []string{"intake", "film", "measure"} {
		if s := station(t, v, name); s.State != "stopped" {
			t.Errorf("%s is %s", name, s.State)
		}
	}
	if v.Undo != "Noted a warning sign (bone)" {
		t.Errorf("the deed reads %q", v.Undo)
	}
	if _, err := st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: 10}); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("a film is taken in: %v", err)
	}
	if _, err := st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("it is measured: %v", err)
	}
	// A clinician's word lets it go on, for the signs it was given for.
	p.Cleared = &app.PageClearance{By: "Dr. Invented", Date: "2026-03-13", Signs: []string{"chest"}}
	p = must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	if len(p.Cleared.Signs) != 1 || p.Cleared.Signs[0] != "hop" {
		t.Errorf("the clearance speaks of %v", p.Cleared.Signs)
	}
	if _, err := st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: 10}); err != nil {
		t.Errorf("still stopped: %v", err)
	}
	// A sign that is met later is not covered by it.
	p.Signs["chest"] = "yes"
	p.Cleared.Note = "said by telephone"
	p = must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if v.Refer.Cleared != nil || !strings.Contains(v.Refer.Text, "medical help") {
		t.Errorf("an old clearance covers a new sign: %+v", v.Refer)
	}
	p.Cleared.Date = "2026-03-14"
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); v.Refer.Cleared == nil {
		t.Errorf("a new clearance does not count: %+v", v.Refer)
	}
}

// The form never names what a sign may come from, and says where each is from.
func TestTheFormIsWholeAndNamesNoDiagnosis(t *testing.T) {
	f := openStudio(t).IntakeForm()
	seen := map[string]bool{}
	for _, s := range f.Signs {
		if s.ID == "" || seen[s.ID] || s.Group == "" || !strings.HasSuffix(s.Question, "?") || s.Why == "" || s.Source == "" || s.Act != "emergency" && s.Act != "refer" {
			t.Errorf("sign %+v", s)
		}
		seen[s.ID] = true
		for _, word := range []string{"fracture", "thrombosis", "infarct", "rupture", "tumour", "syndrome", "cauda"} {
			if strings.Contains(strings.ToLower(s.Question+s.Why), word) {
				t.Errorf("%s names %q", s.ID, word)
			}
		}
	}
	want := strings.Fields("head neck shoulder arm chest belly upper_back low_back sacrum pelvis_front groin buttock hip_outer thigh_front thigh_inner thigh_outer thigh_back " +
		"knee_front knee_inner knee_outer knee_back shin calf achilles ankle_inner ankle_outer heel arch forefoot toes")
	if len(f.Regions) != len(want) {
		t.Errorf("%d regions, want %d", len(f.Regions), len(want))
	}
	for i, r := range f.Regions {
		if i < len(want) && r.ID != want[i] || r.Title == "" || r.Face != "front" && r.Face != "back" {
			t.Errorf("region %+v", r)
		}
	}
	at := 0
	for _, s := range f.PainScale.Steps {
		if s.From != at || s.To < s.From || s.Text == "" {
			t.Errorf("step %+v", s)
		}
		at = s.To + 1
	}
	if at != 11 || f.PainScale.Source == "" {
		t.Errorf("the scale ends at %d", at-1)
	}
}

// The cut-offs are those of the pain-monitoring model: 0-2 safe, 3-5 acceptable,
// above 5 too much (Thomeé 1997, Phys Ther 77:1690; Silbernagel 2007, Am J Sports
// Med 35:897).
func TestPainSaysWhatItMeans(t *testing.T) {
	for score, want := range map[int]string{0: "", 2: "", 3: "pain_some", 5: "pain_some", 6: "pain_high", 10: "pain_high"} {
		st := openStudio(t)
		_, v := consented(t, st)
		p := healthy(st)
		p.Pain = []app.PagePain{{Region: "low_back", Side: "middle", Face: "back", Score: 1}, {Region: "shin", Side: "left", Face: "front", Score: score}}
		must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
		v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
		got := ""
		for _, c := range v.Cautions {
			got = c.Code
			if c.Source == "" || !strings.Contains(c.Text, "left shin") {
				t.Errorf("caution %+v", c)
			}
		}
		if got != want {
			t.Errorf("pain of %d: %q, want %q", score, got, want)
		}
		if v.Refer != nil {
			t.Errorf("pain of %d alone refers", score)
		}
	}
}

func TestWhatTheIntakeRefuses(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	tests := []struct {
		field  string
		change func(*app.PageIntake)
	}{
		{"training.km_per_week", func(p *app.PageIntake) { p.Training.KMPerWeek = ptr(-1.0) }},
		{"training.km_per_week", func(p *app.PageIntake) { p.Training.KMPerWeek = ptr(1e9) }},
		{"training.easy_pace_s_per_km", func(p *app.PageIntake) { p.Training.EasyPaceSPKM = ptr(5.0) }},
		{"goals", func(p *app.PageIntake) { p.Goals = strings.Repeat("x", 5000) }},
		{"history", func(p *app.PageIntake) { p.History = "a\x00b" }},
		{"pain.0.region", func(p *app.PageIntake) {
			p.Pain = []app.PagePain{{Region: "soul", Side: "left", Face: "front", Score: 3}}
		}},
		{"pain.0.side", func(p *app.PageIntake) {
			p.Pain = []app.PagePain{{Region: "shin", Side: "middle", Face: "front", Score: 3}}
		}},
		{"pain.0.score", func(p *app.PageIntake) {
			p.Pain = []app.PagePain{{Region: "shin", Side: "left", Face: "front", Score: 11}}
		}},
		{"pain", func(p *app.PageIntake) { p.Pain = make([]app.PagePain, 41) }},
		{"signs", func(p *app.PageIntake) { p.Signs["unheard_of"] = "no" }},
		{"signs.hop", func(p *app.PageIntake) { p.Signs["hop"] = "maybe" }},
		{"cleared.by", func(p *app.PageIntake) { p.Cleared = &app.PageClearance{Date: "2026-03-01"} }},
		{"cleared.date", func(p *app.PageIntake) { p.Cleared = &app.PageClearance{By: "Dr. Invented"} }},
		{"cleared.date", func(p *app.PageIntake) { p.Cleared = &app.PageClearance{By: "Dr. Invented", Date: "2027-01-01"} }},
	}
	for _, tt := range tests {
		p := healthy(st)
		tt.change(&p)
		_, err := st.ChangeIntake(bg, "", v.ID, p)
		var pr *app.Problem
		if !errors.As(err, &pr) || pr.Kind != app.KindUsage || pr.Field != tt.field {
			t.Errorf("%s: %v", tt.field, err)
		}
	}
	if got := must[app.PageVisit](t)(st.Visit(bg, v.ID)); got.Intake != nil || got.Undo != "" {
		t.Error("something of it was kept")
	}
}

func TestWhatARunnerCannotBe(t *testing.T) {
	st := openStudio(t)
	r, _ := consented(t, st)
	for field, change := range map[string]func(*app.PageRunner){
		"name":            func(p *app.PageRunner) { p.Name = " \t" },
		"sex":             func(p *app.PageRunner) { p.Sex = "yes" },
		"born_year":       func(p *app.PageRunner) { p.BornYear = ptr(1801) },
		"height_m":        func(p *app.PageRunner) { p.HeightM = ptr(170.0) },
		"mass_kg":         func(p *app.PageRunner) { p.MassKG = ptr(2.0) },
		"leg_length_m":    func(p *app.PageRunner) { p.LegLengthM = ptr(1.3) },
		"consent.filming": func(p *app.PageRunner) { p.Consent.Filming = ptr("14.3.2026") },
		"consent.records": func(p *app.PageRunner) { p.Consent.Records = ptr("2027-03-14") },
		"leg_length_how":  func(p *app.PageRunner) { p.LegLengthHow = "guessed" },
		"note":            func(p *app.PageRunner) { p.Note = strings.Repeat("long ", 1000) },
	} {
		p := r
		change(&p)
		_, err := st.ChangeRunner(bg, "", r.ID, "", p)
		var pr *app.Problem
		if !errors.As(err, &pr) || pr.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}

// Two people at two screens: the second is told, and nothing is lost.
func TestTheSecondIsTold(t *testing.T) {
	st := openStudio(t)
	r, v := consented(t, st)
	p := healthy(st)
	p.Shoes = "blue"
	first := must[app.PageIntake](t)(st.ChangeIntake(bg, "laptop", v.ID, p))
	p.Shoes = "red"
	_, err := st.ChangeIntake(bg, "tablet", v.ID, p) // had seen none
	if s, ok := app.AsStale(err); !ok || s.Kept != first.Version {
		t.Errorf("a second new intake: %v", err)
	}
	first.Goals = "run"
	second := must[app.PageIntake](t)(st.ChangeIntake(bg, "laptop", v.ID, first))
	first.Goals = "walk"
	_, err = st.ChangeIntake(bg, "tablet", v.ID, first)
	if s, ok := app.AsStale(err); !ok || s.Kept != second.Version || kindOf(t, err) != app.KindStale {
		t.Errorf("a second change: %v", err)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if v.Intake.Shoes != "blue" || v.Intake.Goals != "run" {
		t.Errorf("kept is %+v", v.Intake)
	}
	a, b := r, r
	a.MassKG, b.MassKG = ptr(60.0), ptr(65.0)
	a = must[app.PageRunner](t)(st.ChangeRunner(bg, "laptop", r.ID, "", a))
	_, err = st.ChangeRunner(bg, "tablet", r.ID, "", b)
	if s, ok := app.AsStale(err); !ok || s.Kept != a.Version {
		t.Errorf("a second change of the runner: %v", err)
	}
}

func TestUndoAndRedoOfAVisit(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	if _, err := st.Undo(bg, "", v.ID); kindOf(t, err) != app.KindUsage {
		t.Errorf("undo of nothing: %v", err)
	}
	p := healthy(st)
	p = must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	p.Pain = []app.PagePain{{Region: "shin", Side: "left", Face: "front", Score: 4}}
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, p))
	if list := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Tag: "Shin"})); len(list.Rows) != 1 {
		t.Errorf("the visit is not found by what hurts: %+v", list)
	}
	v = must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
	if v.Deed != "Wrote pain into the intake" || len(v.Intake.Pain) != 0 || v.Redo != v.Deed {
		t.Errorf("undone: %+v", v)
	}
	if list := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Tag: "Shin"})); len(list.Rows) != 0 {
		t.Error("the visit is still found by what was taken back")
	}
	v = must[app.PageVisit](t)(st.Redo(bg, "", v.ID))
	if len(v.Intake.Pain) != 1 || v.Redo != "" {
		t.Errorf("redone: %+v", v.Intake)
	}
}

func TestWithdrawnConsentSaysWhatItMeans(t *testing.T) {
	st := openStudio(t)
	r, v := consented(t, st)
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.csv", Size: 3}))
	if _, err := st.AddToUpload(bg, up.Upload, 0, strings.NewReader("abc")); err != nil {
		t.Fatal(err)
	}
	r.Consent.Filming = nil
	r = must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, v.ID, r))
	if !strings.Contains(r.ConsentText, "no film is taken in") {
		t.Errorf("it says %q", r.ConsentText)
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); !strings.Contains(v.Undo, "withdrew") {
		t.Errorf("the deed reads %q", v.Undo)
	}
	// A film that was on its way is gone too.
	if _, err := st.FinishUpload(bg, "", up.Upload); kindOf(t, err) != app.KindNotFound {
		t.Errorf("taken in after all: %v", err)
	}
}

func TestRunnersAreFound(t *testing.T) {
	st := openStudio(t)
	at := time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)
	for _, name := range []string{"Berta Invented", "Carl Invented", "Bertram Invented"} {
		st.SetClock(func() time.Time { return at })
		r := must[app.PageRunner](t)(st.NewRunner(bg, "", name))
		must[app.PageVisit](t)(st.NewVisit(bg, "", r.ID, at.Format("2006-01-02")))
		at = at.AddDate(0, 0, 1)
	}
	names := func(q app.RunnerQuery) string {
		t.Helper()
		var out []string
		for _, r := range must[app.PageRunners](t)(st.Runners(bg, q)).Rows {
			out = append(out, strings.Fields(r.Name)[0])
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct {
		q    app.RunnerQuery
		want string
	}{
		{app.RunnerQuery{}, "Bertram Carl Berta"},
		{app.RunnerQuery{Text: "bert"}, "Bertram Berta"},
		{app.RunnerQuery{Text: "inv carl"}, "Carl"},
		{app.RunnerQuery{From: "2026-03-15", To: "2026-03-15"}, "Carl"},
		{app.RunnerQuery{Text: `" OR 1=1 --`}, ""},
	} {
		if got := names(tt.q); got != tt.want {
			t.Errorf("%+v finds %q, want %q", tt.q, got, tt.want)
		}
	}
	part := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Limit: 2}))
	rest := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Limit: 2, After: part.Next}))
	if len(part.Rows) != 2 || len(rest.Rows) != 1 || rest.Next != "" || rest.Rows[0].Name != "Berta Invented" {
		t.Errorf("in parts: %+v then %+v", part, rest)
	}
	for _, q := range []app.RunnerQuery{{From: "yesterday"}, {Limit: 10000}, {Limit: -1}} {
		if _, err := st.Runners(bg, q); err == nil {
			t.Errorf("%+v is answered", q)
		}
	}
}

// What a runner said at the intake in their own words finds them.
func TestFoundByTheComplaint(t *testing.T) {
	st := openStudio(t)
	r, v := consented(t, st)
	p := healthy(st)
	p.Complaint = "It pulls behind the left knee since the marathon"
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, p))
	for text, want := range map[string]int{"pulls marathon": 1, "ase behind": 1, "swims": 0} {
		if got := must[app.PageRunners](t)(st.Runners(bg, app.RunnerQuery{Text: text})); len(got.Rows) != want || want > 0 && got.Rows[0].ID != r.ID {
			t.Errorf("%q finds %+v", text, got.Rows)
		}
	}
}
