package app_test

import (
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gaitwright/internal/app"
)

// TestClickFilesSound writes a click as each kind of file and hears it again
// through ffmpeg's decoder: the number of clicks, their rate, and that none is off
// by more than 2 ms of its place.
func TestClickFilesSound(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg; install it to try the files that it makes")
	}
	p := app.ClickPattern{PerMin: 161, Minutes: 1, CountIn: 8, Accent: "both"}
	for _, ending := range app.ClickFormats {
		file := filepath.Join(t.TempDir(), "click"+ending)
		if err := app.MakeClick(bg, p, file); err != nil {
			t.Errorf("%s: %v", ending, err)
			continue
		}
		const rate = 44100
		raw, err := exec.Command(ffmpeg, "-v", "error", "-i", file, "-f", "s16le", "-ac", "1", "-ar", "44100", "-").Output()
		if err != nil {
			t.Errorf("%s: %v", ending, err)
			continue
		}
		var at []float64
		last := -rate
		for i := 0; i+1 < len(raw); i += 2 {
			if v := int16(binary.LittleEndian.Uint16(raw[i:])); (v > 4000 || v < -4000) && i/2-last > rate/10 {
				at = append(at, float64(i/2))
				last = i / 2
			} else if v > 4000 || v < -4000 {
				last = i / 2
			}
		}
		if len(at) != 8+161 {
			t.Errorf("%s: %d clicks are heard, wanted %d", ending, len(at), 8+161)
			continue
		}
		worst := 0.0
		for n, a := range at[8:] {
			worst = max(worst, math.Abs(a-at[8]-float64(n)*60*rate/161)/rate*1000)
		}
		perMin := 60 * 160 * rate / (at[168] - at[8])
		info, _ := os.Stat(file)
		t.Logf("%s: %d kB, %.4f a minute, worst click %.2f ms off", ending, info.Size()/1000, perMin, worst)
		if worst > 2 || math.Abs(perMin-161) > 0.02 {
			t.Errorf("%s: %.3f a minute, worst click %.2f ms off", ending, perMin, worst)
		}
	}
	if err := app.MakeClick(bg, p, filepath.Join(t.TempDir(), "click.flac")); kindOf(t, err) != app.KindUsage {
		t.Errorf("an unknown ending: %v", err)
	}
}
