package web

import (
	"os/exec"
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
	t.Parallel() // a browser often waits
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	// A moment of a picture with nobody in it, for what arrives late.
	film := ""
	if ffmpeg, err := exec.LookPath("ffmpeg"); err == nil {
		film = filepath.Join(t.TempDir(), "step.mp4")
		if said, err := exec.CommandContext(t.Context(), ffmpeg, "-v", "error", "-y", "-f", "lavfi", "-i", "testsrc2=size=320x240:rate=10:duration=1", "-pix_fmt", "yuv420p", film).CombinedOutput(); err != nil {
			t.Fatalf("making a short film: %v\n%s", err, said)
		}
	}
	browsertest.Script(t, "exam", 5*time.Minute, "PAGE="+start(t, st), "FILM="+film)
}
