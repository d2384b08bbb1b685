package web

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/runfile/runtest"
)

// TestRunsInBrowser takes three weeks of runs in, in a real Chromium with the
// script ui/e2e/runs.e2e.mjs: one week true, one just faster, one missed.
func TestRunsInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("drives a browser; left out with -short")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("needs Node 20 or later; install it to test the page in a browser")
	}
	chromium := os.Getenv("CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if chromium == "" {
			chromium, _ = exec.LookPath(name)
		}
	}
	if chromium == "" {
		t.Skip("needs Chromium; install it, or name it in the environment variable CHROMIUM")
	}
	dir := filepath.Join("..", "..", "ui")
	if _, err := os.Stat(filepath.Join(dir, "node_modules", "playwright-core")); errors.Is(err, os.ErrNotExist) {
		t.Skip("needs the page's test packages; run `npm ci --ignore-scripts` in ui")
	}
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	st.SetClock(func() time.Time { return time.Date(2026, 3, 30, 8, 0, 0, 0, time.UTC) })
	files, watched := t.TempDir(), t.TempDir()
	write := func(dir, name string, data []byte) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 6 {
		speed := 2.6 + 0.1*float64(i%4)
		write(files, fmt.Sprintf("before-%d.fit", i), runtest.Easy(time.Date(2026, 2, 10+4*i, 6, 30, 0, 0, time.UTC), uint64(i+1), 32, speed, 160+6*(speed-2.78)).FIT())
	}
	for i := range 3 {
		at := time.Date(2026, 3, 9+2*i, 6, 30, 0, 0, time.UTC)
		write(files, fmt.Sprintf("true-%d.tcx", i), runtest.Easy(at, uint64(50+i), 32, 2.78, 163.3).TCX())
		write(files, fmt.Sprintf("faster-%d.gpx", i), runtest.Easy(at.AddDate(0, 0, 7), uint64(60+i), 32, 3.68, 160+6*0.9).GPX())
	}
	whole := runtest.Easy(time.Date(2026, 3, 8, 6, 30, 0, 0, time.UTC), 90, 32, 2.78, 160).FIT()
	write(files, "broken.fit", whole[:70])
	// Of another runner, at the time of one of the runs.
	write(files, "another.fit", runtest.Easy(time.Date(2026, 3, 11, 6, 45, 0, 0, time.UTC), 91, 20, 2.4, 184).FIT())
	write(watched, "sunday.fit", whole)
	old := time.Now().Add(-time.Hour)
	if err := os.Chtimes(filepath.Join(watched, "sunday.fit"), old, old); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), node, filepath.Join("e2e", "runs.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+start(t, st), "CHROMIUM="+chromium, "FILES="+files, "WATCHED="+watched)
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+filepath.Join(abs, "runs"))
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the runs in the browser: %v", err)
	}
}
