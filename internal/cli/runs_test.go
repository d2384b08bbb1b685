package cli_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/runfile/runtest"
	"gaitwright/internal/web"
)

// TestRunsCommand reads files of each format, takes them in once and shows the
// weeks of a ramp as the page does.
func TestRunsCommand(t *testing.T) {
	dir, files := t.TempDir(), t.TempDir()
	var before []string
	write := func(name string, data []byte) string {
		t.Helper()
		p := filepath.Join(files, name)
		if err := os.WriteFile(p, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	for i := range 4 {
		speed := 2.6 + 0.1*float64(i)
		r := runtest.Easy(time.Date(2026, 2, 10+4*i, 6, 30, 0, 0, time.UTC), uint64(i+1), 32, speed, 160+6*(speed-2.78))
		before = append(before, write(fmt.Sprintf("b%d.fit", i), r.FIT()))
	}
	code, out, said := runIn(t, dir, append([]string{"runs", "--speed", "2.78m/s"}, before...)...)
	if code != 0 || !strings.Contains(out, "Left out: stops and walking 1, hills 2") || !strings.Contains(out, "From 4 runs of the watch") {
		t.Fatalf("%d: %s\n%s", code, said, out)
	}
	code, out, _ = runIn(t, dir, "ramp", "--from-run", before[0], "--from-run", before[1], "--from-run", before[2], "--speed", "2.78m/s", "--format", "json")
	var m app.RampMade
	if err := json.Unmarshal([]byte(out), &m); code != 0 || err != nil || m.Base.PerMin < 159 || m.Base.PerMin > 161 || m.Base.SEM <= 0 {
		t.Errorf("%d, %v: %+v", code, err, m.Base)
	}
	st, err := app.OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	r, err := st.NewRunner(t.Context(), "", "Ada (invented)")
	if err != nil {
		t.Fatal(err)
	}
	agreed := "2026-03-07"
	r.Consent.Records = &agreed
	if _, err := st.ChangeRunner(t.Context(), "", r.ID, "", r); err != nil {
		t.Fatal(err)
	}
	v, err := st.NewVisit(t.Context(), "", r.ID, "2026-03-07")
	if err != nil {
		t.Fatal(err)
	}
	st.Close()
	if code, out, said = runIn(t, dir, "ramp", "--visit", v.ID); code != 0 || !strings.Contains(out, "not known yet") {
		t.Errorf("%d: %s\n%s", code, said, out)
	}
	bad := write("letter.fit", []byte("Dear Ida"))
	code, out, said = runIn(t, dir, append([]string{"runs", "--runner", "ada (invented)", bad}, before...)...)
	if code != app.KindUsage.ExitCode() || strings.Count(out, "Taken in; where it was is dropped.") != 4 || !strings.Contains(said, "no run file") {
		t.Errorf("%d: %s\n%s", code, said, out)
	}
	if code, out, said = runIn(t, dir, "runs", "--runner", "Ada (invented)", before[0]); code != 0 || !strings.Contains(out, "not taken in twice") {
		t.Errorf("%d: %s\n%s", code, said, out)
	}
	code, out, _ = runIn(t, dir, "runs", "--visit", v.ID)
	if code != 0 || !strings.Contains(out, "There is no ramp yet") || strings.Count(out, "before the ramp") < 2 {
		t.Errorf("%d:\n%s", code, out)
	}
	if code, out, said = runIn(t, dir, "runs", bad, before[0]); code != app.KindUsage.ExitCode() || !strings.Contains(out, "b0.fit") || !strings.Contains(said, "letter.fit: this is no run file") {
		t.Errorf("%d: %s\n%s", code, said, out)
	}
	sameAsThePage(t, dir, v.ID)
	for _, bad := range [][]string{{"runs"}, {"ramp", "--visit", v.ID, "--base", "160"}, {"runs", "--visit", v.ID, before[0]}, {"runs", "--runner", "Nobody", before[0]}, {"runs", filepath.Join(files, "none.fit")}, {"runs", bad}, {"runs", "--watch", filepath.Join(files, "none")}} {
		if code, _, said := runIn(t, dir, bad...); code != app.KindUsage.ExitCode() || said == "" {
			t.Errorf("%v: %d %s", bad, code, said)
		}
	}
}

// sameAsThePage makes a ramp at the visit, takes in a week of runs, and holds every
// number that the commands print of baseline, target, ramp and runs against what the
// page gets over HTTP.
func sameAsThePage(t *testing.T, dir, visit string) {
	t.Helper()
	st, err := app.OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	pace, step, target := 2.78, 3.0, 172.0
	rate, err := st.ChangeStepRate(t.Context(), "", visit, app.PageStepRateChange{Ask: app.PageStepRateAsk{How: "runs", SpeedMPS: &pace, Landing: "yes", Target: &target, StepAWeek: &step, Paces: []app.PageAtPace{{Name: "tempo", SpeedMPS: 3.4}}}})
	if err != nil || rate.Base == nil || len(rate.Weeks) < 4 {
		t.Fatalf("%v: %+v", err, rate)
	}
	runner, err := st.RunnerNamed(t.Context(), "Ada (invented)")
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		run := runtest.Easy(time.Date(2026, 3, 9+2*i, 6, 30, 0, 0, time.UTC), uint64(50+i), 32, 2.78, 163.3)
		if _, err := st.TakeInRun(t.Context(), "", runner.ID, "", fmt.Sprintf("w%d.tcx", i), bytes.NewReader(run.TCX())); err != nil {
			t.Fatal(err)
		}
	}
	page := httptest.NewServer(web.New(st, web.Options{}).Handler())
	defer page.Close()
	for _, c := range []struct {
		address string
		args    []string
	}{{"/steprate", []string{"ramp", "--visit", visit}}, {"/runs", []string{"runs", "--visit", visit}}} {
		res, err := http.Get(page.URL + "/api/visits/" + visit + c.address)
		if err != nil {
			t.Fatal(err)
		}
		var onPage, printed any
		err = json.NewDecoder(res.Body).Decode(&onPage)
		res.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		code, out, said := runIn(t, dir, append(c.args, "--format", "json")...)
		if err := json.Unmarshal([]byte(out), &printed); code != 0 || err != nil || !reflect.DeepEqual(printed, onPage) {
			t.Errorf("%v says other than the page: %d, %v, %s", c.args, code, err, said)
		}
	}
	_, table, _ := runIn(t, dir, "ramp", "--visit", visit)
	lines := strings.Split(table, "\n")
	for _, want := range []string{"from    " + rate.Base.Text, "to      172 steps a minute (as decided)", fmt.Sprintf("bounds  %.1f to %.1f", *rate.Target.Least, *rate.Target.Most)} {
		if !strings.Contains(table, want) {
			t.Errorf("the table lacks %q:\n%s", want, table)
		}
	}
	for _, w := range rate.Weeks {
		i := slices.IndexFunc(lines, func(l string) bool {
			f := strings.Fields(l)
			return len(f) > 2 && f[0] == fmt.Sprint(w.Number) && f[1] == w.From
		})
		if i < 0 {
			t.Fatalf("no line of week %d:\n%s", w.Number, table)
		}
		for k, a := range w.At {
			got := strings.Fields(lines[i+k])
			if k == 0 {
				got = got[2:]
			}
			if want := []string{a.Name, fmt.Sprintf("%.1f", a.PerMin), fmt.Sprintf("%.2f", a.StepLengthM), fmt.Sprintf("%.1f", a.SpeedKMH), a.Pace}; !reflect.DeepEqual(got[:5], want) {
				t.Errorf("week %d, %s: %v, on the page %v", w.Number, a.Name, got, want)
			}
		}
	}
	proof, err := st.Runs(t.Context(), visit)
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ = runIn(t, dir, "runs", "--visit", visit)
	reached := 0
	for _, w := range proof.Proof.Weeks {
		if w.Taken == nil {
			continue
		}
		reached++
		band := fmt.Sprintf("%.1f to %.1f", *w.Low, *w.High)
		for _, want := range []string{
			fmt.Sprintf("%-10s  %4d  %5s  %6.1f  %4.0f  %5.1f  %6.1f  %-14s  %6.2f  %s", w.From, w.RampWeek, fmt.Sprint(w.Runs), w.KM, w.Minutes, *w.Asked, *w.Taken, band, *w.SpeedMPS, w.Verdict),
			fmt.Sprintf("%.0f %% of the steady running at the asked step rate", 100**w.Share),
		} {
			if !strings.Contains(table, want) {
				t.Errorf("the table lacks %q:\n%s", want, table)
			}
		}
	}
	if reached == 0 {
		t.Error("no week was judged")
	}
	for _, r := range proof.Runs {
		if r.ContactMS != nil && !strings.Contains(table, fmt.Sprintf("Contact %.0f ms, oscillation %.1f cm", *r.ContactMS, *r.BounceCM)) {
			t.Errorf("the table lacks what the watch says of %s:\n%s", r.Name, table)
		}
	}
}
