package web

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	gait "gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/pose"
	"gaitwright/internal/synth"
)

// TestLiveInBrowser runs an invented runner past a real Chromium's camera with the
// script ui/e2e/live.e2e.mjs: step rate and overstride are read live by the pose
// model, each within its stated error, and nothing is kept.
func TestLiveInBrowser(t *testing.T) {
	browsertest.Need(t)
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg to make the camera's film")
	}
	t.Setenv(pose.DirEnv, filepath.Join("..", "..", "setup"))
	if pose.Locate("").Ready(pose.Lite) != nil && pose.Locate("").Ready(pose.Full) != nil {
		t.Skip("needs the pose model; install it with `make setup`")
	}
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	// Eight strides in six seconds, each like the other, so that the film joins its
	// own beginning; the browser's stand-in for a camera plays it at 30 a second.
	const rate, seconds, hz, width, height = 160.0, 6.0, 30.0, 480, 360
	p := synth.NewParams(1.75, 2.8, rate)
	p.Variation = synth.Variation{}
	p.DurationS = seconds + 1
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	times := synth.Clock(hz, seconds)[:int(seconds*hz)]
	film, err := synth.NewFilm(r, synth.NewCamera(clip.LeftSide, width, height, 4.8), times, synth.Look{})
	if err != nil {
		t.Fatal(err)
	}
	out := t.TempDir()
	camera := filepath.Join(out, "runner.mjpeg")
	cmd := exec.CommandContext(t.Context(), ffmpeg, "-v", "error", "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", fmt.Sprintf("%dx%d", width, height), "-r", "30", "-i", "pipe:0", "-pix_fmt", "yuvj420p", "-q:v", "3", camera)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	err = film.Render(t.Context(), func(frame int, _ float64, rgb []byte) error {
		// Eight blocks in the corner are the number of the picture, white for a one: a
		// stand-in that stalls slows its runner, and the script sees by how much.
		for y := range 16 {
			for x := range 8 * 16 {
				grey := byte(255 * (frame >> (x / 16) & 1))
				copy(rgb[3*(y*width+x):], []byte{grey, grey, grey})
			}
		}
		_, err := in.Write(rgb)
		return err
	})
	in.Close()
	if waited := cmd.Wait(); err != nil || waited != nil {
		t.Fatal(err, waited)
	}
	truth := r.Truth(0.5, seconds, synth.HipPoints)
	left, _ := truth.Value("overstride", gait.Left)
	right, _ := truth.Value("overstride", gait.Right)
	browsertest.Script(t, "live", 8*time.Minute, "PAGE="+start(t, st), "CAMERA="+camera, fmt.Sprintf("RATE=%g", rate), fmt.Sprintf("LEFT=%g", left), fmt.Sprintf("RIGHT=%g", right))
}
