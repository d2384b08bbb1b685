package app_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/programme"
	"gaitwright/internal/app"
)

// counted is a visit whose runner was counted at 160 and decided to be led to 168.
func counted(t *testing.T) (*app.Studio, app.PageVisit, app.PageStepRate) {
	t.Helper()
	st := openStudio(t)
	_, v := consented(t, st)
	in := healthy(st)
	in.Training.RunsPerWeek = ptr(3.0)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, in))
	p := must[app.PageStepRate](t)(st.StepRate(bg, v.ID))
	if p.Base != nil || p.None == "" || p.Version != 0 {
		t.Fatalf("a step rate nobody found: %+v", p)
	}
	p.Ask.How, p.Ask.Count, p.Ask.Seconds, p.Ask.SpeedMPS, p.Ask.Landing = "count", ptr(160), ptr(60.0), ptr(10/3.6), "yes"
	p.Ask.Paces = []app.PageAtPace{{Name: "tempo", SpeedMPS: 15 / 3.6}}
	return st, v, must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Ask: p.Ask}))
}

func TestStepRateOfAVisit(t *testing.T) {
	st, v, p := counted(t)
	// Sixty seconds of both feet: counting alone is (60/60)/√6 = 0.41 a minute.
	if p.Base == nil || p.Base.PerMin != 160 || p.Base.SEM < 0.4 || p.Base.SEM > 0.8 {
		t.Fatalf("the baseline is %+v", p.Base)
	}
	if p.Target.PerMin == nil || *p.Target.PerMin < 168 || *p.Target.PerMin > 176 || len(p.Target.Anchors) != 2 {
		t.Errorf("the target is %+v", p.Target)
	}
	w := p.Weeks[0]
	if w.PerMin != 161 || len(w.At) != 2 || w.At[1].Pace != "4:00" || w.At[1].SpeedKMH != 15 || w.At[0].Pace != "6:00" {
		t.Errorf("the first week is %+v", w)
	}
	if got := w.At[0].StepLengthM; got != 1.035 { // 60 · (10/3.6) / 161
		t.Errorf("a step of %.3f m", got)
	}
	// The landing needs none: no target, no weeks.
	ask := p.Ask
	ask.Landing = "no"
	none := must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: p.Version, Ask: ask}))
	if len(none.Weeks) > 0 || none.None == "" || none.Target.PerMin != nil {
		t.Errorf("a ramp that the landing does not ask for: %+v", none)
	}
	// The analyst decides all the same, and edits a week by hand; both are kept.
	ask.Target = ptr(170.0)
	p = must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: none.Version, Ask: ask}))
	if len(p.Weeks) != 12 || p.Weeks[9].PerMin != 170 {
		t.Fatalf("a ramp to 170 has weeks %+v", p.Weeks)
	}
	p.Weeks[2].PerMin, p.Weeks[2].Hand, p.Weeks[2].Note = 162, true, "a race"
	p = must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: p.Version, Ask: p.Ask, Weeks: p.Weeks}))
	if w := p.Weeks[2]; w.PerMin != 162 || !w.Hand || w.At[0].PerMin != 162 || w.Note != "a race" || p.Weeks[3].PerMin != 164 {
		t.Errorf("the week set by hand is %+v", w)
	}
	if _, err := st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: p.Version - 1, Ask: p.Ask}); kindOf(t, err) != app.KindStale {
		t.Errorf("an older version was taken: %v", err)
	}
	for name, spoil := range map[string]func(*app.PageStepRateAsk){
		"a count of a walker":  func(a *app.PageStepRateAsk) { a.Count = ptr(20) },
		"a count of a second":  func(a *app.PageStepRateAsk) { a.Seconds = ptr(1.0) },
		"a target of 300":      func(a *app.PageStepRateAsk) { a.Target = ptr(300.0) },
		"a target below":       func(a *app.PageStepRateAsk) { a.Target = ptr(150.0) },
		"film without a film":  func(a *app.PageStepRateAsk) { a.How = "film" },
		"a pace of no name":    func(a *app.PageStepRateAsk) { a.Paces[0].Name = " " },
		"a turn that is none":  func(a *app.PageStepRateAsk) { a.Turns = []app.PageTurn{{Week: 1, Do: "jump"}} },
		"a fade of -1 week":    func(a *app.PageStepRateAsk) { a.FadeWeeks = ptr(-1) },
		"a rise of 50 a week":  func(a *app.PageStepRateAsk) { a.StepAWeek = ptr(50.0) },
		"a landing of perhaps": func(a *app.PageStepRateAsk) { a.Landing = "perhaps" },
	} {
		ask := p.Ask
		ask.Paces = append([]app.PageAtPace(nil), ask.Paces...)
		spoil(&ask)
		if _, err := st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: p.Version, Ask: ask}); err == nil {
			t.Errorf("%s was taken", name)
		} else {
			kindOf(t, err)
		}
	}
}

// TestThreeWeeksComeBack sends logs of a week done, one that hurt and one missed,
// and reads what is proposed for the next.
func TestThreeWeeksComeBack(t *testing.T) {
	st, v, ramp := counted(t)
	page, name, err := st.Homework(bg, v.ID, "en", "")
	if err != nil || !strings.HasPrefix(name, "homework-") || !bytes.Contains(page, []byte(`"visit":"`+v.ID+`"`)) {
		t.Fatalf("the homework: %v, %s", err, name)
	}
	again, _, _ := st.Homework(bg, v.ID, "en", "")
	if !bytes.Equal(page, again) {
		t.Error("the same homework has other bytes")
	}
	var track bytes.Buffer
	write, _, size, err := st.ClickTrack(bg, v.ID, 0, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := write(&track); err != nil || int64(track.Len()) != size {
		t.Errorf("the click track has %d bytes, said were %d (%v)", track.Len(), size, err)
	}
	// The weeks of the ramp begin after the visit; a visit of three weeks ago has
	// them behind it.
	begin, err := time.Parse(time.DateOnly, ramp.Weeks[0].From)
	if err != nil || begin.Weekday() != time.Monday {
		t.Fatalf("the first week begins on %s", ramp.Weeks[0].From)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	today, _ := time.Parse(time.DateOnly, v.Date)
	past := today.AddDate(0, 0, -28).Format(time.DateOnly)
	must[app.PageVisit](t)(st.ChangeVisit(bg, "test", v.ID, app.PageVisitFacts{Version: v.Version, Date: past}))
	ramp = must[app.PageStepRate](t)(st.StepRate(bg, v.ID))
	begin, _ = time.Parse(time.DateOnly, ramp.Weeks[0].From)
	day := func(n, pain int, rate string) string {
		return fmt.Sprintf(`{"date":%q,"done":[],"ran":true,"run_min":30,"pain":%d,"next_day":false,"bone":false,"effort":4,"per_min":%s,"note":""}`, begin.AddDate(0, 0, n).Format(time.DateOnly), pain, rate)
	}
	log := func(days ...string) app.PageLogAsk {
		return app.PageLogAsk{Text: `{"gaitwright_log":1,"visit":"` + v.ID + `","sheet":"0123ABCD","days":[` + strings.Join(days, ",") + `]}`}
	}
	// True; then the old rate all week long; then pain of 6.
	p := must[app.PageHandout](t)(st.AddLog(bg, "test", v.ID, log(day(0, 0, "161"), day(2, 1, "162"), day(4, 0, "161"), day(7, 0, "156"), day(9, 0, "156"), day(11, 0, "157"), day(14, 6, "163"))))
	if len(p.Weeks) != 3 || !p.Ready || len(p.Said) == 0 {
		t.Fatalf("came back as %+v", p)
	}
	if s := station(t, must[app.PageVisit](t)(st.Visit(bg, v.ID)), "handout"); s.State != "done" || len(s.Missing) != 0 {
		t.Errorf("after the log came back the handout is %+v", s)
	}
	for i, want := range []string{"go on", "hold", "step back"} {
		if w := p.Weeks[i]; w.Do != want || w.RampWeek != i+1 || w.Asked == nil || *w.Asked != float64(161+i) || w.Planned != 3 {
			t.Errorf("week %d proposes %q (%s): %+v, wanted %q", i+1, w.Do, w.Why, w, want)
		}
	}
	// The same log again is told, and is no deed.
	before := must[app.PageHandout](t)(st.Handout(bg, v.ID)).Version
	again2 := must[app.PageHandout](t)(st.AddLog(bg, "test", v.ID, log(day(0, 0, "161"), day(2, 1, "162"))))
	if len(again2.Said) != 1 || !strings.Contains(again2.Said[0], "here already") || again2.Version != before {
		t.Errorf("a log taken in twice says %q at version %d after %d", again2.Said, again2.Version, before)
	}
	more := must[app.PageHandout](t)(st.AddLog(bg, "test", v.ID, log(day(0, 0, "161"), day(2, 0, "162"), day(5, 0, "162"))))
	if len(more.Said) != 1 || more.Said[0] != "3 days taken in: 1 new, 1 changed, 1 here already." {
		t.Errorf("a longer log says %q", more.Said)
	}
	must[app.PageHandout](t)(st.AddLog(bg, "test", v.ID, log(day(2, 1, "162"))))
	must[app.PageVisit](t)(st.Undo(bg, "test", v.ID))
	must[app.PageVisit](t)(st.Undo(bg, "test", v.ID))
	// One run of three is a week missed.
	p = must[app.PageHandout](t)(st.AddLog(bg, "test", v.ID, log(day(14, 0, "163"))))
	if w := p.Weeks[2]; w.Do != "hold" || !strings.Contains(w.Why, "1 of 3") {
		t.Errorf("a missed week proposes %q: %s", w.Do, w.Why)
	}
	// Holding the second week puts it in twice; a later week set by hand moves along.
	ramp.Weeks[4].PerMin, ramp.Weeks[4].Hand = 163, true
	ramp = must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: ramp.Version, Ask: ramp.Ask, Weeks: ramp.Weeks}))
	ramp.Ask.Turns = []app.PageTurn{{Week: 2, Do: "hold"}}
	held := must[app.PageStepRate](t)(st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: ramp.Version, Ask: ramp.Ask}))
	if len(held.Weeks) != len(ramp.Weeks)+1 || held.Weeks[1].PerMin != 162 || held.Weeks[2].PerMin != 162 || held.Weeks[3].PerMin != 163 || !held.Weeks[5].Hand || held.Weeks[5].PerMin != 163 || held.Weeks[4].Hand {
		t.Errorf("held: %+v", held.Weeks[:6])
	}
	if p = must[app.PageHandout](t)(st.Handout(bg, v.ID)); !p.Weeks[1].Turned {
		t.Error("the held week does not say so")
	}
	for name, text := range map[string]string{
		"another visit":  strings.ReplaceAll(log(day(0, 0, "161")).Text, v.ID, strings.Repeat("A", 26)),
		"the future":     log(day(400, 0, "161")).Text,
		"nothing in it":  log().Text,
		"no log":         "hello",
		"another's code": "GW1:",
	} {
		if _, err := st.AddLog(bg, "test", v.ID, app.PageLogAsk{Text: text}); kindOf(t, err) != app.KindUsage {
			t.Errorf("a log of %s: %v", name, err)
		}
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); station(t, v, "handout").State != "done" {
		t.Errorf("the station Handout is %+v", station(t, v, "handout"))
	}
	v = must[app.PageVisit](t)(st.Undo(bg, "test", v.ID))
	if ramp = must[app.PageStepRate](t)(st.StepRate(bg, v.ID)); len(ramp.Ask.Turns) != 0 {
		t.Error("undo left the held week")
	}
}

func TestNoHomeworkBehindAWarningSign(t *testing.T) {
	st, v, p := counted(t)
	in := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake
	for id := range in.Signs {
		in.Signs[id] = "yes"
		break
	}
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, *in))
	if _, _, err := st.Homework(bg, v.ID, "en", ""); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("homework was given: %v", err)
	}
	if _, err := st.ChangeStepRate(bg, "test", v.ID, app.PageStepRateChange{Version: p.Version, Ask: p.Ask}); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("a ramp was made: %v", err)
	}
}

func TestRampOfTheTrade(t *testing.T) {
	// 160 to 180 at one a week is twenty weeks (common practice); two more are held.
	m, err := app.MakeRamp(app.RampAsk{Base: 160, To: 180, SpeedMPS: 15 / 3.6})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Weeks) != 22 || m.Weeks[19].PerMin != 180 || m.Weeks[18].PerMin != 179 || m.Weeks[0].At[0].Pace != "4:00" {
		t.Errorf("the ramp has %d weeks", len(m.Weeks))
	}
	for _, text := range []string{"table", "csv", "json"} {
		var b bytes.Buffer
		if err := app.WriteRamp(&b, m, text); err != nil || !strings.Contains(b.String(), "4:00") {
			t.Errorf("%s: %v\n%s", text, err, b.String())
		}
	}
	for text, want := range map[string]float64{"10km/h": 10 / 3.6, "2.8m/s": 2.8, "6:00/km": 1000.0 / 360, "4:00": 1000.0 / 240} {
		if v, err := app.ParseSpeed(text); err != nil || v < want-1e-9 || v > want+1e-9 {
			t.Errorf("%s is %.4f (%v)", text, v, err)
		}
	}
	for _, text := range []string{"", "fast", "1000km/h", "0:00", "-3m/s", "6:75", "10furlongs"} {
		if v, err := app.ParseSpeed(text); err == nil {
			t.Errorf("%q is %.3f", text, v)
		}
	}
	for _, a := range []app.RampAsk{{}, {Base: 160, Count: 80}, {Count: 80, Seconds: 2}, {Base: 160, HeightM: 17.5}, {Base: 160, To: 150}, {Base: 160, To: 168, Step: 99}} {
		if _, err := app.MakeRamp(a); err == nil {
			t.Errorf("%+v was taken", a)
		}
	}
}

// metricWord is a metric unit of speed, pace, length or mass, as people read it.
var metricWord = regexp.MustCompile(`(?i)\bk(m|mh|g|ilomet\w+|ilogram\w*)\b|\b(cm|mm)\b|centimet|zentimet|\bmet(re|er)s?\b|\d\s*m(/s)?\b`)

// TestCalendarSaysTheClick reads the calendar of a ramp as the standard folds and
// escapes it: each run day says its rate, its minutes with the click and the pace
// to keep.
func TestCalendarSaysTheClick(t *testing.T) {
	st, v, ramp := counted(t)
	data, _, err := st.PlanCalendar(bg, v.ID, "en", "")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("\r\n ", "", `\,`, ",", `\;`, ";", `\n`, "\n").Replace(string(data))
	if n := strings.Count(text, "BEGIN:VEVENT"); n != 3*len(ramp.Weeks) {
		t.Errorf("%d events for %d weeks of three runs", n, len(ramp.Weeks))
	}
	for i, w := range ramp.Weeks {
		from := strings.ReplaceAll(w.From, "-", "")
		at := strings.Index(text, "DTSTART:"+from+"T070000")
		if at < 0 {
			t.Fatalf("no run on %s", from)
		}
		event, _, _ := strings.Cut(text[at:], "END:VEVENT")
		for _, want := range []string{fmt.Sprintf("SUMMARY:Run with the click: %.0f steps/min, week %d", w.PerMin, i+1), fmt.Sprintf("%.0f steps a minute, both feet, at %.1f km/h (%s min/km)", w.PerMin, w.At[0].SpeedKMH, w.At[0].Pace),
			fmt.Sprintf("Run %.0f min", w.RunMin), "Keep the pace", "see a clinician"} {
			if !strings.Contains(event, want) {
				t.Errorf("week %d does not say %q:\n%s", i+1, want, event)
			}
		}
		if w.OffMin > 0 && !strings.Contains(event, "min without, in turn") {
			t.Errorf("week %d does not say the minutes without the click:\n%s", i+1, event)
		}
	}
	// With a plan the warm-up stands in the same event.
	must[app.PageFindings](t)(st.ChangeFindings(bg, "test", v.ID, app.PageFindingsKept{Own: []app.PageOwnFinding{{ID: "own-1", Title: "Short calf", Side: "left", Aims: []app.PageAim{{Block: "lengthen", Area: "calf"}}}}}))
	plan := must[app.PagePlan](t)(st.Plan(bg, v.ID))
	plan = must[app.PagePlan](t)(st.ChangePlan(bg, "test", v.ID, app.PagePlanChange{Ask: plan.Ask}))
	if data, _, err = st.PlanCalendar(bg, v.ID, "en", ""); err != nil {
		t.Fatal(err)
	}
	runs := strings.Count(string(data), "SUMMARY:Run with the click")
	if all := strings.Count(string(data), "BEGIN:VEVENT"); runs < 3*(min(len(plan.Weeks), len(ramp.Weeks))-1) || all <= runs || !strings.Contains(string(data), "SUMMARY:Re-test") {
		t.Errorf("%d runs with the click of %d events for a plan of %d weeks", runs, all, len(plan.Weeks))
	}
	// In German the same events, and nothing of the library's English.
	german, _, err := st.PlanCalendar(bg, v.ID, "de", "")
	if err != nil {
		t.Fatal(err)
	}
	ids := regexp.MustCompile(`(?m)^(UID|DTSTART|DTEND):.*$`)
	if fmt.Sprint(ids.FindAllString(string(german), -1)) != fmt.Sprint(ids.FindAllString(string(data), -1)) {
		t.Error("the German calendar has other events")
	}
	text = strings.NewReplacer("\r\n ", "", `\,`, ",", `\;`, ";", `\n`, "\n").Replace(string(german))
	for _, want := range []string{fmt.Sprintf("SUMMARY:Lauf mit dem Klick: %.0f Schritte/min, Woche 1", ramp.Weeks[0].PerMin), "SUMMARY:Übungen, Woche 1", "SUMMARY:Zweiter Test", programme.Say("de", plan.Weeks[0].Note), "zum Arzt"} {
		if !strings.Contains(text, want) {
			t.Errorf("the German calendar lacks %q", want)
		}
	}
	for _, not := range []string{" the ", ", left", ", right", "hold ", ": easy", "week"} {
		if at := strings.Index(text, not); at >= 0 {
			t.Errorf("English in the German calendar: …%s…", text[max(0, at-30):min(len(text), at+30)])
		}
	}
	if _, _, err := st.PlanCalendar(bg, v.ID, "fr", ""); kindOf(t, err) != app.KindUsage {
		t.Errorf("a language that is not known: %v", err)
	}
	// In US units the same but for the speed and the pace: 10 km/h are 6.2 mph, and a
	// mile of 1609.344 m takes 579 s.
	for language, want := range map[string][3]string{"en": {", at 10.0 km/h (6:00 min/km)", ", at 6.2 mph (9:39 min/mile)", "min/mile"}, "de": {", bei 10,0 km/h (6:00 min/km)", ", bei 6,2 mph (9:39 min/Meile)", "min/Meile"}} {
		said := map[string]string{}
		for _, units := range []string{"", "metric", "us"} {
			data, _, err := st.PlanCalendar(bg, v.ID, language, units)
			if err != nil {
				t.Fatal(err)
			}
			said[units] = strings.NewReplacer("\r\n ", "", `\,`, ",").Replace(string(data))
		}
		stamp := regexp.MustCompile(`(?m)^DTSTAMP:.*$`)
		if stamp.ReplaceAllString(said[""], "") != stamp.ReplaceAllString(said["metric"], "") {
			t.Errorf("%s: metric is not what is written where nothing is asked", language)
		}
		if !strings.Contains(said["metric"], want[0]) || !strings.Contains(said["us"], want[1]) {
			t.Errorf("%s: %q or %q is missing", language, want[0], want[1])
		}
		if left := metricWord.FindAllString(said["us"], -1); len(left) > 0 {
			t.Errorf("%s: metric in the US calendar: %q", language, left)
		}
		if a, b := ids.FindAllString(said["us"], -1), ids.FindAllString(said["metric"], -1); len(a) == 0 || fmt.Sprint(a) != fmt.Sprint(b) {
			t.Errorf("%s: the US calendar has other events", language)
		}
	}
	for _, units := range []string{"ells", "US"} {
		if _, _, err := st.PlanCalendar(bg, v.ID, "en", units); kindOf(t, err) != app.KindUsage || !strings.Contains(err.Error(), units) {
			t.Errorf("units that are not known: %v", err)
		}
		if _, _, err := st.Homework(bg, v.ID, "en", units); kindOf(t, err) != app.KindUsage || !strings.Contains(err.Error(), units) {
			t.Errorf("units that are not known: %v", err)
		}
	}
}
