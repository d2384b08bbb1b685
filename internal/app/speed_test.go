package app_test

import (
	"context"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/pose"
	"gaitwright/internal/video"
)

// BenchmarkMeasureFilm times the main job on a 10 s film of 1080p at 60 frames a
// second with the full model, and in the same run what cannot be less: ffmpeg
// decoding to the same raw frames, and the network alone on as many frames. The
// metric "ratio" is the whole over their sum.
//
//	go test -run '^$' -bench MeasureFilm -benchtime 1x ./internal/app
func BenchmarkMeasureFilm(b *testing.B) {
	if err := pose.Locate("").Ready(pose.Full); err != nil {
		b.Skip("the pose model is not installed: ", err)
	}
	film := filepath.Join(b.TempDir(), "hd.mp4")
	source := sharedData(b, "clips", "RBDS001-35-side.mp4")
	out, err := exec.Command("ffmpeg", "-v", "error", "-i", source, "-vf", "fps=60,scale=-2:1080,pad=1920:1080:(ow-iw)/2:0,noise=alls=6:allf=t",
		"-c:v", "libx264", "-preset", "veryfast", "-b:v", "17M", "-pix_fmt", "yuv420p", film).CombinedOutput()
	if err != nil {
		b.Skipf("ffmpeg cannot make the film: %v %s", err, out)
	}
	st, err := app.OpenStudio(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	engine, err := pose.Open(pose.Options{Model: pose.Full})
	if err != nil {
		b.Fatal(err)
	}
	defer engine.Close()
	var decode, network, whole time.Duration
	for b.Loop() {
		start := time.Now()
		frames := decodeAlone(b, film)
		decode += time.Since(start)

		frame, region := firstFrame(b, engine, film)
		start = time.Now()
		for range frames {
			if _, err := engine.Landmarks(frame, region); err != nil {
				b.Fatal(err)
			}
		}
		network += time.Since(start)

		start = time.Now()
		_, err := st.Measure(context.Background(), app.Request{Files: []string{film}, SpeedMPS: 3.536, Runner: app.RunnerFacts{HeightM: 1.81}}, app.NoProgress{})
		if err != nil {
			b.Fatal(err)
		}
		whole += time.Since(start)
	}
	n := float64(b.N)
	b.ReportMetric(decode.Seconds()/n, "s-decode")
	b.ReportMetric(network.Seconds()/n, "s-network")
	b.ReportMetric(whole.Seconds()/n, "s-whole")
	b.ReportMetric(whole.Seconds()/(decode+network).Seconds(), "ratio")
}

// decodeAlone lets ffmpeg decode the film to raw frames into a pipe and returns
// their number.
func decodeAlone(b *testing.B, film string) int {
	b.Helper()
	cmd := exec.Command("ffmpeg", "-v", "error", "-i", film, "-f", "rawvideo", "-pix_fmt", "rgb24", "-fps_mode", "passthrough", "-")
	cmd.Stderr = os.Stderr
	pipe, err := cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	n, err := io.CopyBuffer(io.Discard, pipe, make([]byte, 1<<20))
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		b.Fatal(err)
	}
	return int(n / (1920 * 1080 * 3))
}

// firstFrame returns a frame of the film and where the person is in it.
func firstFrame(b *testing.B, e *pose.Engine, film string) (pose.Frame, pose.Region) {
	b.Helper()
	facts, err := video.Probe(context.Background(), film)
	if err != nil {
		b.Fatal(err)
	}
	r, err := video.Decode(context.Background(), facts, video.Options{From: 30, To: 31})
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	f, err := r.Next()
	if err != nil {
		b.Fatal(err)
	}
	frame := pose.Frame{Width: f.WidthPX, Height: f.HeightPX, RGB: append([]byte(nil), f.RGB...)}
	f.Release()
	found, err := e.Detect(frame)
	if err != nil || len(found) == 0 {
		b.Fatalf("nobody was found: %v", err)
	}
	return frame, found[0].Region
}
