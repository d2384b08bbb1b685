package web

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	gait "gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/pose"
	"gaitwright/internal/synth"
)

// TestExamInBrowser drives the station Exam in a real Chromium with the script
// ui/e2e/exam.e2e.mjs: both sides of a strength test, pain, counter and clock,
// tables, films of tests read in the background, two screens, accessibility.
func TestExamInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Setenv(pose.DirEnv, filepath.Join("..", "..", "setup"))
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	// Films are read once the file work is there.
	work := filepath.Join(t.TempDir(), "work")
	over, watched := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(watched)
		for {
			select {
			case <-over:
				return
			case <-time.After(50 * time.Millisecond):
			}
			if _, err := os.Stat(work); err == nil {
				st.StartWork(t.Context())
				return
			}
		}
	}()
	t.Cleanup(func() { close(over); <-watched })
	// A moment of a picture with nobody in it, and two squats on the right leg.
	film, squat := "", ""
	if ffmpeg, err := exec.LookPath("ffmpeg"); err == nil {
		film = filepath.Join(t.TempDir(), "nobody.mp4")
		if said, err := exec.CommandContext(t.Context(), ffmpeg, "-v", "error", "-y", "-f", "lavfi", "-i", "testsrc2=size=320x240:rate=10:duration=1", "-pix_fmt", "yuv420p", film).CombinedOutput(); err != nil {
			t.Fatalf("making a short film: %v\n%s", err, said)
		}
		if err := pose.Locate("").Ready(pose.Full); err != nil {
			t.Log("no film of a squat is read in this test: ", err)
		} else {
			squat = filepath.Join(t.TempDir(), "squat.mp4")
			drawSquats(t, ffmpeg, squat)
		}
	}
	browsertest.Script(t, "exam", 8*time.Minute, "PAGE="+start(t, st), "FILM="+film, "SQUAT="+squat, "WORK="+work)
}

// drawSquats makes a film from the front of two squats on the right leg, the knee inward
// by 22 degrees.
func drawSquats(t *testing.T, ffmpeg, path string) {
	t.Helper()
	const rate, width, height = 15, 360, 480
	p := synth.NewSquatParams(gait.Right, 22)
	p.Times = 2
	s, err := synth.NewSquat(p)
	if err != nil {
		t.Fatal(err)
	}
	film, err := synth.NewSquatFilm(s, synth.NewCamera(clip.Front, width, height, 4), synth.Clock(rate, s.DurationS()), synth.Look{})
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), ffmpeg, "-v", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", fmt.Sprintf("%dx%d", width, height), "-r", strconv.Itoa(rate), "-i", "pipe:0", "-pix_fmt", "yuv420p", path)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	err = film.Render(t.Context(), func(_ int, _ float64, rgb []byte) error {
		_, err := in.Write(rgb)
		return err
	})
	in.Close()
	if waited := cmd.Wait(); err != nil || waited != nil {
		t.Fatal(err, waited)
	}
}
