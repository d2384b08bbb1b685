package web

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/runfile/runtest"
)

// TestRunsInBrowser takes three weeks of runs in, in a real Chromium with the
// script ui/e2e/runs.e2e.mjs: one week true, one just faster, one missed.
func TestRunsInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel() // a browser often waits
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
	another := runtest.Easy(time.Date(2026, 3, 11, 6, 45, 0, 0, time.UTC), 91, 20, 2.4, 184)
	another.Serial = 2002
	write(files, "another.fit", another.FIT())
	write(watched, "sunday.fit", whole)
	old := time.Now().Add(-time.Hour)
	if err := os.Chtimes(filepath.Join(watched, "sunday.fit"), old, old); err != nil {
		t.Fatal(err)
	}
	browsertest.Script(t, "runs", 3*time.Minute, "PAGE="+start(t, st), "FILES="+files, "WATCHED="+watched)
}
