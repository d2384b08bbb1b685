package web

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
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
		from := []string{"-i", filepath.Join(shared, "data", "clips", "RBDS001-35-"+view+".mp4"), "-t", "4", "-vf", "scale=-2:540,fps=60"}
		if _, err := os.Stat(from[1]); err != nil {
			t.Logf("no film of a runner at %s: nothing is measured in this test", from[1])
			from, measure = []string{"-f", "lavfi", "-i", "testsrc2=size=640x360:rate=60:duration=2", "-pix_fmt", "yuv420p"}, ""
		}
		if said, err := exec.CommandContext(t.Context(), ffmpeg, append(append([]string{"-v", "error", "-y"}, from...), out)...).CombinedOutput(); err != nil {
			t.Fatalf("making a short film: %v\n%s", err, said)
		}
		films[view] = out
	}

	// While the file cut is there, an ffmpeg that reads a film is killed soon after
	// it starts; one that is only asked for its release is not, however long it takes.
	shim := t.TempDir()
	cut := filepath.Join(shim, "cut")
	script := fmt.Sprintf("#!/bin/sh\nif [ -e '%s' ]; then case \" $* \" in *' -i '*) (sleep 0.4; kill -9 $$) >/dev/null 2>&1 </dev/null & esac; fi\nexec '%s' \"$@\"\n", cut, ffmpeg)
	if runtime.GOOS == "windows" {
		cut = ""
	} else if err := os.WriteFile(filepath.Join(shim, "ffmpeg"), []byte(script), 0o755); err != nil {
		t.Fatal(err)
	} else {
		t.Setenv("PATH", shim+string(os.PathListSeparator)+os.Getenv("PATH"))
	}

	// The program ends and begins again at the same address whenever the file
	// restart appears.
	studio, restart := filepath.Join(t.TempDir(), "studio"), filepath.Join(shim, "restart")
	page, end := run(t, studio, 0)
	over := make(chan struct{})
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		for {
			select {
			case <-over:
				end()
				return
			case <-time.After(100 * time.Millisecond):
			}
			if _, err := os.Stat(restart); err != nil {
				continue
			}
			end()
			u, err := url.Parse(page)
			if err != nil {
				t.Error(err)
				return
			}
			port, _ := strconv.Atoi(u.Port())
			var again string
			if again, end = run(t, studio, port); again != page {
				t.Errorf("the program is at %s and was at %s", again, page)
			}
			if err := os.Remove(restart); err != nil {
				t.Error(err)
			}
		}
	}()
	t.Cleanup(func() { close(over); <-watched })

	// Marker files with a standing trial, and a table of keypoints.
	extra := []string{filepath.Join(shared, "data", "rbds", "RBDS001runT35.c3d"), filepath.Join(shared, "data", "rbds", "RBDS001static.c3d"), filepath.Join("..", "keypoint", "testdata", "sample.csv")}
	for i, name := range extra {
		if _, err := os.Stat(name); err != nil {
			t.Log("no marker files are taken in: ", err)
			extra = nil
			break
		}
		if extra[i], err = filepath.Abs(name); err != nil {
			t.Fatal(err)
		}
	}
	browsertest.Script(t, "studio", 15*time.Minute, "PAGE="+page, "SIDE="+films["side"], "REAR="+films["rear"], "MEASURE="+measure, "STUDIO="+studio, "CUT="+cut,
		"RESTART="+restart, "EXTRA="+strings.Join(extra, ","))
}

// run starts the whole program on a studio's folder and returns its address and
// what ends it. With port 0 any free one is taken.
func run(t *testing.T, studio string, port int) (page string, end func()) {
	st, err := app.OpenStudio(studio)
	if err != nil {
		t.Error(err)
		return "", func() {}
	}
	st.SetDrawing(270, 480, 60, 2.5) // the invented runner's films
	st.StartWork(t.Context())
	s := New(st, Options{Log: quiet(), Port: port})
	if err := s.Listen(); err != nil {
		t.Error(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	return s.URL(), func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		st.Close()
	}
}
