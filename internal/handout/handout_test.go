package handout_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rsc.io/qr/coding"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
	"gaitwright/gait/steprate"
	"gaitwright/internal/handout"
)

const visit = "01KA0000000000000000000000"

// sheet is a programme of eight weeks with a ramp from 160 to 170; the runner is
// invented.
func sheet(t testing.TB, language string) handout.Sheet {
	t.Helper()
	start := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	plan := programme.Make(programme.Default(), programme.Input{Aims: []finding.SidedAim{
		{Aim: finding.Aim{Block: "strengthen", Area: "glutes"}, Side: body.Left}, {Aim: finding.Aim{Block: "lengthen", Area: "hip_flexors"}, Side: body.Right},
		{Aim: finding.Aim{Block: "strengthen", Area: "calf"}}, {Aim: finding.Aim{Block: "integrate", Area: "step_rate"}}, {Aim: finding.Aim{Block: "activate", Area: "glutes"}, Side: body.Left},
	}, Equipment: []string{"band", "step", "click"}, Start: start})
	if len(plan.Weeks) != 8 || len(plan.Weeks[0].Full) == 0 {
		t.Fatalf("the programme for the test is empty: %+v", plan)
	}
	ramp, err := steprate.Ramp(steprate.Rate{PerMin: 160, SEM: 0.5, SpeedMPS: 10 / 3.6}, 170, []steprate.Pace{{Name: "easy", SpeedMPS: 10 / 3.6}, {Name: "tempo", SpeedMPS: 15 / 3.6}}, steprate.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return handout.Sheet{Visit: visit, Runner: "Ada </script> Example", Studio: "Studio & Co", Language: language, Made: start, Plan: plan, Library: programme.Default(), Ramp: ramp}
}

func written(t testing.TB, s handout.Sheet) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := handout.Write(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The German sheet speaks German: exercises, the easier ones, weeks, rules, signs, the
// ramp and pain that was told. What has no German words is marked as English.
func TestGermanSheetSpeaksGerman(t *testing.T) {
	s := sheet(t, "de")
	s.Plan.Weeks[1].Note = "Mind the left knee (by hand)."
	s.Cautions = []string{"Pain of 4 of 10 (left knee, front) is acceptable. Running may go on if the pain is back where it was the next morning."}
	type said struct{ T, L string }
	var told struct {
		Exercises map[string]struct {
			Title, Cue, Felt, Easier, L, Le string
			How                             []string
		}
		Weeks []struct {
			Note  said
			Click *struct{ Note said }
		}
		Rules          []struct{ If, Then said }
		Stop, Cautions []said
	}
	read := func(page []byte) {
		t.Helper()
		_, rest, _ := strings.Cut(string(page), `id="data">`)
		data, _, _ := strings.Cut(rest, "</script>")
		if err := json.Unmarshal([]byte(data), &told); err != nil {
			t.Fatal(err)
		}
	}
	read(written(t, s))
	easier := 0
	for name, x := range told.Exercises {
		e := programme.Default().Lookup(name)
		if x.L != "" || x.Le != "" || x.Title == e.Title || x.How[0] == e.How[0] || x.Cue == e.Cue || x.Felt == e.Felt {
			t.Errorf("%s is not in German: %+v", name, x)
		}
		if x.Easier != "" {
			easier++
			if x.Easier != programme.Default().Lookup(e.Easier).In("de").Title {
				t.Errorf("%s: the easier one is called %s", name, x.Easier)
			}
		}
	}
	if len(told.Exercises) < 4 || easier == 0 {
		t.Errorf("%d exercises, %d with an easier one", len(told.Exercises), easier)
	}
	ramp := 0
	for i, w := range told.Weeks {
		if want := i == 1; (w.Note.L == "en") != want {
			t.Errorf("week %d: %+v", i+1, w.Note)
		}
		if w.Click != nil && w.Click.Note.T != "" {
			if ramp++; w.Click.Note.L != "" {
				t.Errorf("week %d of the ramp: %+v", i+1, w.Click.Note)
			}
		}
	}
	if ramp == 0 {
		t.Error("no week of the ramp has a note")
	}
	for _, r := range told.Rules {
		if r.If.L != "" || r.Then.L != "" {
			t.Errorf("a rule is English: %+v", r)
		}
	}
	for _, x := range told.Stop {
		if x.L != "" {
			t.Errorf("a sign is English: %+v", x)
		}
	}
	if want := "Schmerz von 4 von 10 (Knie, vorn, links) ist vertretbar. Laufen darf weitergehen, wenn der Schmerz am nächsten Morgen wieder ist, wo er war."; len(told.Cautions) != 1 || told.Cautions[0] != (said{want, ""}) {
		t.Errorf("the caution is %+v", told.Cautions)
	}
	// A coach's own exercise stays as it was written, and is marked.
	own := *programme.Default().Lookup(s.Plan.Weeks[0].Full[0].Exercise)
	own.Own = true
	s.Library = &programme.Library{Exercises: slices.Clone(programme.Default().Exercises)}
	s.Library.Exercises[slices.Index(s.Library.Exercises, programme.Default().Lookup(own.Name))] = &own
	told.Exercises = nil
	read(written(t, s))
	if x := told.Exercises[own.Name]; x.L != "en" || x.Title != own.Title {
		t.Errorf("an exercise of one's own: %+v", x)
	}
}

// TestFileAsksForNothing looks for whatever a browser would fetch, and that what
// is entered cannot end the script.
func TestFileAsksForNothing(t *testing.T) {
	for _, language := range []string{"en", "de"} {
		page := written(t, sheet(t, language))
		text := string(page)
		t.Logf("%s: %d kB", language, len(page)/1000)
		if len(page) > handout.MaxBytes {
			t.Errorf("%d bytes are more than %d", len(page), handout.MaxBytes)
		}
		addresses := regexp.MustCompile(`(?i)(https?:)?//[a-z0-9.-]+\.[a-z]{2,}[^"'\s]*`)
		for _, a := range addresses.FindAllString(text, -1) {
			if a != "http://www.w3.org/2000/svg" { // the name of a language, no address
				t.Errorf("the file names an address: %s", a)
			}
		}
		for _, bad := range []string{"fetch(", "XMLHttpRequest", "sendBeacon", "WebSocket", "import(", "src=", "@import", "url(", "\nexport ", "eval("} {
			if strings.Contains(text, bad) {
				t.Errorf("the file holds %q", bad)
			}
		}
		if n := strings.Count(text, "</script>"); n != 2 {
			t.Errorf("%d ends of scripts, 2 wanted: what was entered ends one", n)
		}
		if !strings.Contains(text, "default-src 'none'") {
			t.Error("no content security policy")
		}
		if again := written(t, sheet(t, language)); !bytes.Equal(page, again) {
			t.Error("the same sheet gives other bytes")
		}
	}
}

// A sheet in US units has its data in SI units, the same name and no metric word among
// what it says, of every exercise; the metric one has no word of units in its data.
func TestSheetInUSUnits(t *testing.T) {
	data := func(s handout.Sheet) (text string, sheet string) {
		_, rest, _ := strings.Cut(string(written(t, s)), `id="data">`)
		text, _, _ = strings.Cut(rest, "</script>")
		var d struct{ Sheet string }
		if err := json.Unmarshal([]byte(text), &d); err != nil {
			t.Fatal(err)
		}
		return text, d.Sheet
	}
	// A step of 1.04 m may be in the data, but not in words.
	metric := regexp.MustCompile(`(?i)\bk(m|mh|g|ilomet\w+|ilogram\w*)\b|\b(cm|mm)\b|centimet|zentimet|\bmet(re|er)s?\b|\d\s*m(/s)?\b`)
	for language, inch := range map[string]string{"en": "about an inch is enough", "de": "etwa ein Zoll genügt"} {
		s := sheet(t, language)
		for _, e := range programme.Default().Exercises {
			s.Plan.Weeks[0].Full = append(s.Plan.Weeks[0].Full, programme.Item{Exercise: e.Name, Dose: e.Dose})
		}
		si, name := data(s)
		if !metric.MatchString(si) || strings.Contains(si, `"units"`) {
			t.Errorf("%s: the metric sheet has changed", language)
		}
		s.US = true
		us, same := data(s)
		if left := metric.FindAllString(us, -1); len(left) > 0 {
			t.Errorf("%s: metric in the US sheet: %q", language, left)
		}
		if !strings.Contains(us, inch) || !strings.Contains(us, `"units":"us"`) || !strings.Contains(us, `"speed_mps":2.77`) {
			t.Errorf("%s: the US sheet lacks its units, or its data are not in SI units", language)
		}
		if same != name {
			t.Errorf("%s: the sheet is called %s in US units and %s in metric ones: its log would be lost", language, same, name)
		}
	}
}

func TestRefusedSheets(t *testing.T) {
	s := sheet(t, "en")
	s.Language = "xx"
	if err := handout.Write(&bytes.Buffer{}, s); err == nil {
		t.Error("an unknown language was taken")
	}
	if err := handout.Write(&bytes.Buffer{}, handout.Sheet{Library: programme.Default()}); err == nil {
		t.Error("an empty sheet was taken")
	}
	s = sheet(t, "en")
	s.Plan.Weeks[0].Full[0].Exercise = "no_such_thing"
	if err := handout.Write(&bytes.Buffer{}, s); err == nil || !strings.Contains(err.Error(), "no_such_thing") {
		t.Errorf("an unknown exercise: %v", err)
	}
}

func TestLogIsRead(t *testing.T) {
	text := `{"gaitwright_log":1,"visit":"` + visit + `","sheet":"0123ABCD","days":[
	 {"date":"2026-03-03","done":["glute_bridge/left","glute_bridge/left"],"ran":true,"run_min":30,"pain":3,"next_day":true,"bone":false,"effort":4,"per_min":162,"note":"warm\u0000"},
	 {"date":"2026-03-02","done":[],"ran":true,"run_min":null,"pain":1,"next_day":false,"bone":false,"effort":6,"per_min":164,"note":""},
	 {"date":"2026-03-09","done":[],"ran":false,"run_min":null,"pain":null,"next_day":false,"bone":false,"effort":null,"per_min":null,"note":"x"}]}`
	l, err := handout.ParseLog([]byte(text), programme.Default())
	if err != nil {
		t.Fatal(err)
	}
	weeks := l.Weeks()
	if len(weeks) != 2 {
		t.Fatalf("weeks: %+v", weeks)
	}
	k := weeks[0]
	if k.From != "2026-03-02" || k.Runs != 2 || k.RunMin != 30 || k.PainWorst != 3 || !k.PainNextDay || k.Effort != 6 || k.PerMin != 163 || k.Exercises != 1 || k.Notes[0] != "warm" {
		t.Errorf("the week is summed up as %+v", k)
	}
	if weeks[1].PainKnown || weeks[1].PerMin != 0 {
		t.Errorf("what was not entered is known: %+v", weeks[1])
	}
}

func TestLogsRefused(t *testing.T) {
	day := `{"date":"2026-03-03","done":[],"ran":false,"run_min":null,"pain":null,"next_day":false,"bone":false,"effort":null,"per_min":null,"note":""}`
	whole := func(days string) string {
		return `{"gaitwright_log":1,"visit":"` + visit + `","sheet":"0123ABCD","days":[` + days + `]}`
	}
	if _, err := handout.ParseLog([]byte(whole(day)), nil); err != nil {
		t.Fatalf("a plain log is refused: %v", err)
	}
	for name, text := range map[string]string{
		"empty":         " ",
		"no log":        `{"a":1}`,
		"later version": strings.Replace(whole(day), `log":1`, `log":2`, 1),
		"cut":           whole(day)[:80],
		"more after":    whole(day) + "{}",
		"twice":         whole(day + "," + day),
		"pain of 11":    whole(strings.Replace(day, `"pain":null`, `"pain":11`, 1)),
		"long run":      whole(strings.Replace(day, `"run_min":null`, `"run_min":99999`, 1)),
		"walker":        whole(strings.Replace(day, `"per_min":null`, `"per_min":20`, 1)),
		"path":          whole(strings.Replace(day, `"done":[]`, `"done":["../../x/left"]`, 1)),
		"no day":        whole(strings.Replace(day, "2026-03-03", "yesterday", 1)),
		"other visit":   strings.Replace(whole(day), visit, "<b>", 1),
		"code of air":   "GW1:",
		"code cut":      "GW1:" + visit + ":0123ABCD:260303.30.2.4.4.162.:00000000",
		"too large":     strings.Repeat(" ", handout.MaxLogBytes+1),
	} {
		if _, err := handout.ParseLog([]byte(text), programme.Default()); err == nil {
			t.Errorf("%s: was taken", name)
		}
	}
}

func FuzzParseLog(f *testing.F) {
	f.Add([]byte(`{"gaitwright_log":1,"visit":"","sheet":"0123ABCD","days":[{"date":"2026-03-03","done":["a/left"],"ran":true,"run_min":1,"pain":1,"next_day":true,"bone":true,"effort":1,"per_min":160,"note":"n"}]}`))
	f.Add([]byte("GW1:01KA0000000000000000000000:0123ABCD:260303.30.2.4.4.162.ABCD:12345678"))
	f.Add([]byte("GW2:2/2:12345678:260303.30.2.4.4.162.ABCD.NZ\nGW2:1/2:12345678:GW1:01KA0000000000000000000000:0123ABCD:"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := handout.ParseLog(text, programme.Default())
		if err != nil {
			return
		}
		for _, w := range l.Weeks() {
			if w.PainWorst < 0 || w.PainWorst > 10 || w.Runs > 7 {
				t.Errorf("a week that cannot be: %+v", w)
			}
		}
		again, err := json.Marshal(l)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := handout.ParseLog(again, programme.Default()); err != nil {
			t.Errorf("its own log is refused: %v\n%s", err, again)
		}
	})
}

// script runs a piece of the sheet's own scripts by Node and reads what it prints.
func script(t *testing.T, file, body string, out any) {
	t.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("needs Node 20 or later to try the sheet's scripts")
	}
	text, err := os.ReadFile(filepath.Join("page", file))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "try.mjs")
	if err := os.WriteFile(path, append(text, []byte("\n"+body)...), 0o644); err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command(node, path).Output()
	if err != nil {
		var exit *exec.ExitError
		if errors.As(err, &exit) {
			t.Fatalf("%v\n%s", err, exit.Stderr)
		}
		t.Fatal(err)
	}
	if err := json.Unmarshal(said, out); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
}

var idAndCode = regexp.MustCompile(`"id":"([a-z0-9_]+/(?:left|right)?)","code":"([A-Z2-7]{4})"`)

// TestCodeComesBack writes logs as codes by the sheet's script and reads them by
// ours: nothing is lost.
func TestCodeComesBack(t *testing.T) {
	id := "single_leg_calf_raise/left"
	for _, e := range programme.Default().Exercises {
		id = e.Name + "/left"
	}
	body := `const log = {gaitwright_log: 1, visit: "` + visit + `", sheet: "0123ABCD", days: [
	 {date: "2026-03-02", done: [ID], ran: true, run_min: 31.6, pain: 2, next_day: true, bone: false, effort: 4, per_min: 163, note: "n"},
	 {date: "2026-03-04", done: [], ran: false, run_min: null, pain: 0, next_day: false, bone: true, effort: null, per_min: null, note: ""}]};
	console.log(JSON.stringify(logCode(log, {[ID]: CODE})));`
	s := sheet(t, "en")
	page := string(written(t, s))
	m := idAndCode.FindStringSubmatch(page)
	if m == nil {
		t.Fatal("no exercise with a code is in the file")
	}
	id = m[1]
	var code string
	script(t, "code.js", strings.NewReplacer("[ID]", `["`+id+`"]`, "CODE", `"`+m[2]+`"`).Replace(body), &code)
	l, err := handout.ParseLog([]byte(strings.ToLower(code)), programme.Default())
	if err != nil {
		t.Fatalf("%v: %s", err, code)
	}
	a, b := l.Days[0], l.Days[1]
	if len(l.Days) != 2 || a.Done[0] != id || *a.RunMin != 32 || *a.Pain != 2 || !a.NextDay || a.Bone || !a.Ran || *a.Effort != 4 || *a.PerMin != 163 ||
		*b.Pain != 0 || b.Effort != nil || !b.Bone || b.Ran || l.Unknown != 0 || l.Short || a.Note != "n" || b.Note != "" {
		t.Errorf("came back as %+v", l)
	}
	for i := range code {
		spoiled := code[:i] + "0" + code[i+1:]
		if spoiled == code {
			continue
		}
		if got, err := handout.ParseLog([]byte(spoiled), programme.Default()); err == nil {
			t.Fatalf("a spoiled code was taken: %s as %+v", spoiled, got)
		}
	}
}

// TestQRAgainstALibrary draws QR codes of many lengths by the sheet's script and by
// rsc.io/qr: every module is the same.
func TestQRAgainstALibrary(t *testing.T) {
	const letters = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
	var texts []string
	for _, n := range []int{1, 10, 25, 26, 47, 100, 150, 200, 279, 335, 336, 400, 512, 700, 1000, 1700, 2500, 4000} {
		var b strings.Builder
		for i := range n {
			b.WriteByte(letters[(i*i+7*i+n)%len(letters)])
		}
		texts = append(texts, b.String())
	}
	in, _ := json.Marshal(texts)
	var got []struct {
		Rows []string
		Mask int
	}
	script(t, "code.js", `console.log(JSON.stringify(`+string(in)+`.map((x) => { const m = qrModules(x); return {Rows: m.map((r) => r.map((v) => v ? "1" : "0").join("")), Mask: 0}; })));`, &got)
	for i, text := range texts {
		rows := got[i].Rows
		version := coding.Version((len(rows) - 17) / 4)
		// The mask stands in the format beside the corner, bits 10 to 12 of 15.
		same := -1
		for mask := range coding.Mask(8) {
			plan, err := coding.NewPlan(version, coding.L, mask)
			if err != nil {
				t.Fatal(err)
			}
			c, err := plan.Encode(coding.Alpha(text))
			if err != nil {
				t.Fatalf("%d letters do not fit version %d: %v", len(text), version, err)
			}
			equal := true
			for y := range rows {
				for x := range rows[y] {
					equal = equal && c.Black(x, y) == (rows[y][x] == '1')
				}
			}
			if equal {
				same = int(mask)
			}
		}
		if same < 0 {
			t.Errorf("%d letters, version %d: drawn otherwise than by the library with any mask", len(text), version)
		}
		if version > 1 {
			if plan, err := coding.NewPlan(version-1, coding.L, 0); err == nil {
				if _, err := plan.Encode(coding.Alpha(text)); err == nil {
					t.Errorf("%d letters fit version %d already", len(text), version-1)
				}
			}
		}
	}
}

// TestClickLoop lays out loops for all step rates: an hour is off by less than a
// millisecond, and by the step to the sample.
func TestClickLoop(t *testing.T) {
	var got []struct {
		PerMin, Rate, DriftS float64
		Steps, Length        int
		At                   []int
	}
	script(t, "click.js", `const out = []; for (const rate of [44100, 48000]) for (let r = 120; r <= 220; r++) { const l = clickLoop(r, rate); out.push({PerMin: r, Rate: rate, DriftS: l.driftS, Steps: l.steps, Length: l.length, At: l.at}); } console.log(JSON.stringify(out));`, &got)
	worst := 0.0
	for _, l := range got {
		if l.Steps%2 != 0 {
			t.Fatalf("%.0f: an odd number of steps changes the feet over", l.PerMin)
		}
		step := 60 * l.Rate / l.PerMin
		for k, at := range l.At {
			if d := float64(at) - float64(k)*step; d > 0.5 || d < -0.5 {
				t.Fatalf("%.0f: step %d is %.2f samples off", l.PerMin, k, d)
			}
		}
		off := float64(l.Length)/float64(l.Steps) - step
		hour := 60 * l.PerMin * off / l.Rate
		if hour < 0 {
			hour = -hour
		}
		worst = max(worst, hour)
		if hour > l.DriftS+1e-9 {
			t.Errorf("%.0f: an hour is off by %.5f s, said were %.5f", l.PerMin, hour, l.DriftS)
		}
	}
	t.Logf("the worst of %d rates is off by %.2f ms in an hour", len(got), worst*1000)
	if worst > 0.005 {
		t.Errorf("an hour is off by %.4f s", worst)
	}
}

func TestTimer(t *testing.T) {
	var got struct {
		Phases []struct {
			Kind, Side string
			Seconds    float64
			Reps       int
		}
		At, Over any
	}
	script(t, "timer.js", `const p = phasesOf({sets: 2, reps: 10, pace: "3-1-1", rest_s: 60}, ["left", "right"]); console.log(JSON.stringify({Phases: p, At: phaseAt(p, 5 + 50 + 60 + 26), Over: phaseAt(p, 1e4)}));`, &got)
	want := []string{"ready", "work", "rest", "work", "change", "work", "rest", "work"}
	if len(got.Phases) != len(want) {
		t.Fatalf("phases %+v", got.Phases)
	}
	for i, p := range got.Phases {
		if p.Kind != want[i] || p.Kind == "work" && (p.Seconds != 50 || p.Reps != 10) {
			t.Errorf("phase %d is %+v", i, p)
		}
	}
	at, _ := got.At.(map[string]any)
	if at == nil || at["index"] != 3.0 || at["rep"] != 6.0 || got.Over != nil {
		t.Errorf("after 141 s: %v, at the end %v", got.At, got.Over)
	}
}
