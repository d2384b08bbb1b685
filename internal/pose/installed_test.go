package pose

import (
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
)

const setupDir = "../../setup"

// installed opens the networks, or skips where they are not installed.
func installed(t testing.TB, o Options) *Engine {
	t.Helper()
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	o.Dir = setupDir
	if o.Model == "" {
		o.Model = Full
	}
	if err := Locate(o.Dir).Ready(o.Model); err != nil {
		t.Skip(err)
	}
	e, err := Open(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(e.Close)
	return e
}

func installedLibrary(t testing.TB) *library {
	t.Helper()
	in := Locate(setupDir)
	if !in.Library.Found() {
		t.Skip("the inference library is not installed: run `make setup`")
	}
	l, err := loadLibrary(in.Library.Path)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// shared returns the path of a file of the shared test data, or skips.
func shared(t testing.TB, name string) string {
	t.Helper()
	dir := os.Getenv("GAITWRIGHT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(dir, "data", name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("shared test data absent: %v", err)
	}
	return path
}

const clipW, clipH, clipRateHz = 720, 1280, 150.0

// eachFrame decodes the first frames of one of the shared clips with ffmpeg,
// scaled to the given size, and hands them over one by one.
func eachFrame(t testing.TB, clip string, count, width, height int, do func(Frame)) {
	t.Helper()
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	path := shared(t, "clips/"+clip+".mp4")
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	cmd := exec.CommandContext(ctx, ffmpeg, "-v", "error", "-i", path, "-frames:v", strconv.Itoa(count), "-fps_mode", "passthrough",
		"-vf", "scale="+strconv.Itoa(width)+":"+strconv.Itoa(height), "-f", "rawvideo", "-pix_fmt", "rgb24", "-")
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for i := range count {
		f := Frame{Index: i, TimeS: float64(i) / clipRateHz, Width: width, Height: height, RGB: make([]byte, 3*width*height)}
		if _, err := io.ReadFull(out, f.RGB); err != nil {
			t.Fatalf("%s: frame %d: %v", clip, i, err)
		}
		do(f)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
}

// clipFrames returns the first frames of a clip in memory.
func clipFrames(t testing.TB, clip string, count, width, height int) (frames []Frame) {
	t.Helper()
	eachFrame(t, clip, count, width, height, func(f Frame) { frames = append(frames, f) })
	return frames
}

// clipTruth is what is known exactly of a rendered clip.
type clipTruth struct {
	Points    map[string][][2]float64 `json:"points_px"`
	PixelsPer float64                 `json:"px_per_m_midplane"`
}

func truthOf(t testing.TB, clip string) clipTruth {
	t.Helper()
	b, err := os.ReadFile(shared(t, "clips/"+clip+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var c clipTruth
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	if c.PixelsPer <= 0 || len(c.Points["Lknee"]) == 0 {
		t.Fatalf("%s: the truth has no scale or no points", clip)
	}
	return c
}
