package web_test

import (
	"bytes"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/cli"
	"gaitwright/internal/runfile/runtest"
	"gaitwright/internal/web"
)

// TestReturnInBrowser drives the station Return in a real Chromium with the script
// ui/e2e/return.e2e.mjs, on the runner of the demonstration who comes back. Then, with
// ui/e2e/demo.e2e.mjs, her plan goes home: its file plays on a phone without a network,
// its log comes back, three weeks of runs do, one true, one just faster and one missed,
// and the visit after them tells the three apart, in the page and at the command line.
func TestReturnInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel() // a browser often waits
	dir := filepath.Join(t.TempDir(), "studio")
	st, err := app.OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	visit, err := st.DemoReturn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	served := httptest.NewServer(web.New(st, web.Options{}).Handler())
	t.Cleanup(served.Close)
	page := "PAGE=" + served.URL + "/"
	browsertest.Script(t, "return", 5*time.Minute, page, "VISIT="+visit)

	first := firstVisit(t, st, visit)
	ramp, err := st.StepRate(t.Context(), first.ID)
	if err != nil || len(ramp.Weeks) < 3 {
		t.Fatalf("no ramp of three weeks: %v", err)
	}
	begin, err := time.Parse(time.DateOnly, ramp.Weeks[0].From)
	if err != nil {
		t.Fatal(err)
	}
	easy, files := ramp.Weeks[0].At[0], t.TempDir()
	for i, form := range []string{"fit", "tcx", "gpx"} {
		for _, run := range []struct {
			name          string
			day           int
			speed, perMin float64
		}{{"true", 1 + 2*i, easy.SpeedMPS, easy.PerMin + 0.3}, {"faster", 8 + 2*i, easy.SpeedMPS + 0.8, ramp.Base.PerMin + 6*0.8}} {
			r := runtest.Easy(begin.AddDate(0, 0, run.day).Add(390*time.Minute), uint64(10*i+run.day), 32, run.speed, run.perMin)
			data := map[string]func() []byte{"fit": r.FIT, "tcx": r.TCX, "gpx": r.GPX}[form]()
			if err := os.WriteFile(filepath.Join(files, fmt.Sprintf("%s-%d.%s", run.name, i, form)), data, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	back, err := st.NewVisit(t.Context(), "the desk", first.Runner.ID, begin.AddDate(0, 0, 21).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	browsertest.Script(t, "demo", 3*time.Minute, page, "VISIT="+first.ID, "BACK="+back.ID, "FILES="+files, "MONDAY="+begin.Format(time.DateOnly))

	var out, said bytes.Buffer
	if code := cli.Run(t.Context(), []string{"--results", dir, "retest", back.ID}, cli.Environment{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &said, Version: "test"}); code != 0 {
		t.Fatalf("%d: %s", code, said.String())
	}
	if !regexp.MustCompile(`(?s)1 reached, 1 just faster, 1 missed.*\b1\b[^\n]*reached.*\b2\b[^\n]*just faster.*\b3\b[^\n]*missed`).MatchString(out.String()) {
		t.Errorf("the command line does not tell the weeks apart:\n%s", out.String())
	}
}

// firstVisit is the earliest visit of a visit's runner.
func firstVisit(t *testing.T, st *app.Studio, of string) app.PageVisit {
	t.Helper()
	p, err := st.Return(t.Context(), of, "")
	if err != nil {
		t.Fatal(err)
	}
	v, err := st.Visit(t.Context(), p.Visits[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
