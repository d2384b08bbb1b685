package app_test

import (
	"context"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/video"
)

// counting counts the frames that were followed, and how many there were.
type counting struct {
	app.NoProgress
	all, done int
}

func (c *counting) Stage(_, _ string, total int) { c.all += total }
func (c *counting) Advance(n int)                { c.done += n }

// A wrong view and a slowed clock are told after seconds of film: half of a film
// of ten seconds at the most.
func TestWrongViewAndSlowedFilmAreToldEarly(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes and follows several seconds of film")
	}
	needModel(t)
	t.Parallel()
	film := sharedData(t, "clips", "RBDS001-35-side.mp4")
	tools, err := video.Locate(context.Background())
	if err != nil {
		t.Skip(err)
	}
	slowed := filepath.Join(t.TempDir(), "slowed.mp4")
	if out, err := exec.Command(tools.FFmpeg, "-v", "error", "-itsscale", "4", "-i", film, "-c", "copy", slowed).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	st := openStudio(t)
	for _, tt := range []struct {
		name, file string
		view       clip.View
		exit       int
		says       string
	}{
		{"behind for the side", film, clip.Rear, 2, "looks like"},
		{"the other side", film, clip.RightSide, 2, "looks like"},
		{"four times slow", slowed, clip.UnknownView, 5, "--capture-rate 150"},
	} {
		var c counting
		_, err := st.Measure(context.Background(), app.Request{Files: []string{tt.file}, Views: []clip.View{tt.view}, Model: "lite"}, &c)
		if err == nil || app.KindOf(err).ExitCode() != tt.exit || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s: %v", tt.name, err)
		}
		if c.done == 0 || c.done > c.all/2 {
			t.Errorf("%s: told after %d of %d frames", tt.name, c.done, c.all)
		}
	}
}
