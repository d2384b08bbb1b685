package cli_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/internal/app"
	"gaitwright/internal/cli"
)

func runIn(t *testing.T, results string, args ...string) (code int, out, said string) {
	t.Helper()
	var o, e bytes.Buffer
	code = cli.Run(t.Context(), append([]string{"--results", results}, args...), cli.Environment{Stdin: strings.NewReader(""), Stdout: &o, Stderr: &e, Version: "test"})
	return code, o.String(), e.String()
}

// TestRampCommand prints the ramp of the trade: 160 to 180 at one a week is twenty
// weeks (common practice), and 15 km/h are 4:00 a kilometre.
func TestRampCommand(t *testing.T) {
	dir := t.TempDir()
	code, out, said := runIn(t, dir, "ramp", "--base", "160", "--to", "180", "--speed", "15km/h", "--height", "175cm", "--format", "csv")
	if code != 0 {
		t.Fatalf("%d: %s", code, said)
	}
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil || len(rows) != 23 || rows[20][2] != "180.0" || rows[1][5] != "4:00" {
		t.Errorf("%v\n%s", err, out)
	}
	code, out, _ = runIn(t, dir, "ramp", "--count", "28", "--seconds", "20", "--one-foot", "--speed", "6:00/km", "--format", "json")
	var m app.RampMade
	if err := json.Unmarshal([]byte(out), &m); code != 0 || err != nil || m.Base.PerMin != 168 || m.Base.SEM < 2.4 || !strings.Contains(m.Base.Text, "Count for 60 seconds") {
		t.Errorf("%d, %v: %+v", code, err, m.Base)
	}
	for _, bad := range [][]string{{"ramp"}, {"ramp", "--base", "160", "--speed", "fast"}, {"ramp", "--base", "160", "--height", "9"}, {"ramp", "--base", "1e9"}, {"homework", "nothing"}} {
		if code, _, said := runIn(t, dir, bad...); code != 2 || said == "" {
			t.Errorf("%v ends with %d: %s", bad, code, said)
		}
	}
}

func TestHomeworkCommand(t *testing.T) {
	dir := t.TempDir()
	st, err := app.OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	r, err := st.NewRunner(t.Context(), "test", "Ada (invented)")
	if err != nil {
		t.Fatal(err)
	}
	v, err := st.NewVisit(t.Context(), "test", r.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	count, seconds, speed := 160, 60.0, 2.8
	if _, err := st.ChangeStepRate(t.Context(), "test", v.ID, app.PageStepRateChange{Ask: app.PageStepRateAsk{How: "count", Count: &count, Seconds: &seconds, SpeedMPS: &speed, Landing: "yes"}}); err != nil {
		t.Fatal(err)
	}
	st.Close()
	file := filepath.Join(dir, "sheet.html")
	if code, _, said := runIn(t, dir, "homework", v.ID, "--out", file, "--lang", "de"); code != 0 {
		t.Fatalf("%d: %s", code, said)
	}
	page, err := os.ReadFile(file)
	if err != nil || !bytes.Contains(page, []byte("Hausaufgaben · Ada")) {
		t.Errorf("%v: %.200s", err, page)
	}
}
