package cli_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rsc.io/qr"

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
	ics := filepath.Join(dir, "plan.ics")
	if code, _, said := runIn(t, dir, "calendar", v.ID, "--out", ics); code != 0 {
		t.Fatalf("%d: %s", code, said)
	}
	if text, err := os.ReadFile(ics); err != nil || !bytes.Contains(text, []byte("Run with the click: 161 steps/min")) {
		t.Errorf("%v: %.300s", err, text)
	}
	// In US units: 2.8 m/s are 6.3 mph.
	if code, _, said := runIn(t, dir, "calendar", v.ID, "--out", ics, "--units", "us"); code != 0 {
		t.Fatalf("%d: %s", code, said)
	}
	if text, err := os.ReadFile(ics); err != nil || !bytes.Contains(text, []byte("at 6.3 mph")) || bytes.Contains(text, []byte("km/h")) {
		t.Errorf("%v: %.300s", err, text)
	}
	us := filepath.Join(dir, "us.html")
	if code, _, said := runIn(t, dir, "homework", v.ID, "--out", us, "--units", "us"); code != 0 {
		t.Fatalf("%d: %s", code, said)
	}
	if text, err := os.ReadFile(us); err != nil || !bytes.Contains(text, []byte(`"units":"us"`)) || bytes.Contains(page, []byte(`"units":`)) {
		t.Errorf("the sheet in US units: %v", err)
	}
	for _, bad := range [][]string{{"homework", v.ID}, {"calendar", v.ID}, {"report", v.ID, filepath.Join(dir, "x.pdf")}} {
		if code, _, said := runIn(t, dir, append(bad, "--units", "ells")...); code == 0 || !strings.Contains(said, "--units") || !strings.Contains(said, "ells") {
			t.Errorf("%v in ells ends with %d: %s", bad, code, said)
		}
	}
	// The log comes back as a picture of its code, then as text, which is the same.
	code := "GW1:" + v.ID + ":0123ABCD:" + time.Now().Format("060102") + ".30.2.4.4.162..NRSWO4ZAN5VQ"
	code += fmt.Sprintf(":%08X", crc32.ChecksumIEEE([]byte(code)))
	drawn, err := qr.Encode(code, qr.L)
	if err != nil {
		t.Fatal(err)
	}
	picture, text := filepath.Join(dir, "code.png"), filepath.Join(dir, "code.txt")
	for name, data := range map[string][]byte{picture: drawn.PNG(), text: []byte(code + "\n")} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if code, out, said := runIn(t, dir, "log", v.ID, picture); code != 0 || !strings.Contains(out, "1 day taken in, 1 new.") || !strings.Contains(out, "1 of") || !strings.Contains(out, "counted 162") || !strings.Contains(out, "note: legs ok") {
		t.Errorf("%d: %s%s", code, out, said)
	}
	if code, out, said := runIn(t, dir, "log", v.ID, text); code != 0 || !strings.Contains(out, "here already") {
		t.Errorf("%d: %s%s", code, out, said)
	}
	for _, bad := range [][]string{{"log", v.ID, file}, {"log", v.ID, filepath.Join(dir, "none")}, {"log", strings.Repeat("A", 26), text}} {
		if code, _, said := runIn(t, dir, bad...); code == 0 || said == "" {
			t.Errorf("%v ends with %d: %s", bad, code, said)
		}
	}
}
