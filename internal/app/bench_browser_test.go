package app_test

import (
	"testing"
	"time"

	"gaitwright/internal/app"
)

// TestBenchInBrowser drives the frame bench of the built page in a real Chromium
// against real films whose frames show their number, with the script
// ui/e2e/bench.e2e.mjs: exact frames, a landmark drawn elsewhere and back, contacts
// moved, sides exchanged, keys, accessibility.
func TestBenchInBrowser(t *testing.T) {
	needsBrowser(t)
	t.Parallel() // a browser often waits
	st := emptyStudio(t)
	s := app.NumberedResult(t, st, t.TempDir(), 3)
	inBrowser(t, st, "bench", 8*time.Minute, "RESULT="+s.ID)
}
