package web

import (
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestExamInBrowser drives the station Exam in a real Chromium with the script
// ui/e2e/exam.e2e.mjs: both sides of a strength test, pain, counter and clock,
// tables, two screens, accessibility.
func TestExamInBrowser(t *testing.T) {
	browsertest.Need(t)
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	browsertest.Script(t, "exam", 5*time.Minute, "PAGE="+start(t, st))
}
