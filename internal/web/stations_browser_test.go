package web

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestStationsInBrowser drives the stations of a visit in a real Chromium with
// the script ui/e2e/studio.e2e.mjs: a new runner, intake with pain and a warning
// sign, consent, films sent and described; measured where the pose model is
// installed, a landmark moved at the bench, what changed shown and taken back; two
// browsers at once, broken connections, films that are damaged or gone,
// accessibility.
func TestStationsInBrowser(t *testing.T) {
	browsertest.Need(t)
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg, which reads films; install it")
	}

	// Two short films: of a runner where there are some, else of a test card.
	shared := os.Getenv("GAITWRIGHT_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "..", "shared")
	}
	films, measure := map[string]string{}, "1"
	if os.Getenv("GAITWRIGHT_MODELS") == "" {
		models, err := filepath.Abs(filepath.Join("..", "..", "setup", "node_modules"))
		if err != nil {
			t.Fatal(err)
		}
		t.Setenv("GAITWRIGHT_MODELS", models)
	}
	if !app.Check(t.Context()).Complete() {
		t.Log("the pose model is not installed: nothing is measured in this test")
		measure = ""
	}
	for _, view := range []string{"side", "rear"} {
		out := filepath.Join(t.TempDir(), view+".mp4")
		from := []string{"-i", filepath.Join(shared, "data", "clips", "RBDS001-35-"+view+".mp4"), "-t", "3", "-vf", "scale=-2:540,fps=60"}
		if _, err := os.Stat(from[1]); err != nil {
			t.Logf("no film of a runner at %s: nothing is measured in this test", from[1])
			from, measure = []string{"-f", "lavfi", "-i", "testsrc2=size=640x360:rate=60:duration=2", "-pix_fmt", "yuv420p"}, ""
		}
		if said, err := exec.CommandContext(t.Context(), ffmpeg, append(append([]string{"-v", "error", "-y"}, from...), out)...).CombinedOutput(); err != nil {
			t.Fatalf("making a short film: %v\n%s", err, said)
		}
		films[view] = out
	}

	// While the file cut is there, ffmpeg is killed soon after it starts.
	shim := t.TempDir()
	cut := filepath.Join(shim, "cut")
	script := fmt.Sprintf("#!/bin/sh\nif [ -e '%s' ]; then (sleep 0.4; kill -9 $$) >/dev/null 2>&1 </dev/null & fi\nexec '%s' \"$@\"\n", cut, ffmpeg)
	if runtime.GOOS == "windows" {
		cut = ""
	} else if err := os.WriteFile(filepath.Join(shim, "ffmpeg"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	} else {
		t.Setenv("PATH", shim+string(os.PathListSeparator)+os.Getenv("PATH"))
	}

	studio := filepath.Join(t.TempDir(), "studio")
	st, err := app.OpenStudio(studio)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	st.StartWork(t.Context())
	page := start(t, st)
	browsertest.Script(t, "studio", 15*time.Minute, "PAGE="+page, "SIDE="+films["side"], "REAR="+films["rear"], "MEASURE="+measure, "STUDIO="+studio, "CUT="+cut, "PATIENCE=300000")
}
