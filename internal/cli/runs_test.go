package cli_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/runfile/runtest"
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
	for _, bad := range [][]string{{"runs"}, {"runs", "--visit", v.ID, before[0]}, {"runs", "--runner", "Nobody", before[0]}, {"runs", filepath.Join(files, "none.fit")}, {"runs", bad}, {"runs", "--watch", filepath.Join(files, "none")}} {
		if code, _, said := runIn(t, dir, bad...); code != app.KindUsage.ExitCode() || said == "" {
			t.Errorf("%v: %d %s", bad, code, said)
		}
	}
}
