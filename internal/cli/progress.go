package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/schollz/progressbar/v3"

	"gaitwright/internal/app"
)

// newProgress returns a progress that draws a bar with the time left on w when
// w is a terminal, and prints nothing otherwise.
func newProgress(w io.Writer, terminal bool) app.Progress {
	if !terminal {
		return app.NoProgress{}
	}
	return &bar{w: w}
}

type bar struct {
	w   io.Writer
	bar *progressbar.ProgressBar
}

// Stage begins a bar for one part of the work.
func (b *bar) Stage(what, file string, units int) {
	b.Done()
	if units <= 0 {
		units = -1
	}
	b.bar = progressbar.NewOptions(units,
		progressbar.OptionSetWriter(b.w),
		progressbar.OptionSetDescription(fmt.Sprintf("%s %s", filepath.Base(file), what)),
		progressbar.OptionShowCount(), progressbar.OptionSetPredictTime(true), progressbar.OptionSetElapsedTime(false),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionSetWidth(24), progressbar.OptionClearOnFinish(),
		progressbar.OptionSetTheme(progressbar.Theme{Saucer: "=", SaucerHead: ">", SaucerPadding: " ", BarStart: "[", BarEnd: "]"}))
}

// Advance moves the bar on.
func (b *bar) Advance(n int) {
	if b.bar != nil {
		_ = b.bar.Add(n) // a bar that cannot be drawn is no reason to stop
	}
}

// Done clears the bar.
func (b *bar) Done() {
	if b.bar != nil {
		_ = b.bar.Finish()
		b.bar = nil
	}
}
