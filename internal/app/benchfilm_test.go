package app

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
	"gaitwright/internal/video"
)

// NumberedResult films the synthetic runner from the left at 1280 by 720 and from
// behind, each frame with its number as twelve blocks of colour along the top
// (orange is one, blue nought, the least first), and keeps a result of the two
// films with the exact landmarks and a pixel of noise.
func NumberedResult(tb testing.TB, st *Studio, dir string, seconds float64) *Session {
	tb.Helper()
	return numberedResult(tb, st, dir, seconds, 1280, 720, 50)
}

// LargeNumberedResult is the same with 1080p from the left, and LongNumberedResult
// with half a minute of 240 pictures a second.
func LargeNumberedResult(tb testing.TB, st *Studio, dir string) *Session {
	tb.Helper()
	return numberedResult(tb, st, dir, 3, 1920, 1080, 50)
}

func LongNumberedResult(tb testing.TB, st *Studio, dir string) *Session {
	tb.Helper()
	return numberedResult(tb, st, dir, 30, 640, 360, 240)
}

// numberedResult is the same with another size of the film from the left, and
// another frame rate of both.
func numberedResult(tb testing.TB, st *Studio, dir string, seconds float64, width, height int, rate float64) *Session {
	tb.Helper()
	p := synth.Demo()
	p.DurationS = seconds + 1
	runner, err := synth.New(p)
	if err != nil {
		tb.Fatal(err)
	}
	r := Request{SpeedMPS: p.SpeedMPS, Runner: RunnerFacts{Name: "Invented Runner", HeightM: p.HeightM, MassKG: p.MassKG}}
	s := &Session{Created: st.now(), Runner: r.Runner, Version: Version, Asked: &r}
	for _, film := range []struct {
		view          clip.View
		width, height int
	}{{clip.LeftSide, width, height}, {clip.Rear, 360, 640}} {
		cam := synth.NewCamera(film.view, film.width, film.height, 4)
		times := synth.Clock(rate, seconds)
		path := filepath.Join(dir, film.view.String()+".mp4")
		numberedFilm(tb, runner, cam, times, path)
		raw := synth.Noisy(synth.WithoutStickers(runner.Track(times, cam)), synth.Noise{SD: 1, HiddenFactor: 2, Seed: 5})
		for _, p := range raw.Paths {
			if p != nil {
				p.Origin = track.PoseModel
			}
		}
		c := &Clip{Path: path, Model: "full", Raw: raw, Info: clip.Info{Name: path, View: film.view, FrameRateHz: rate, Slowdown: 1, WidthPX: film.width, HeightPX: film.height}}
		s.Clips = append(s.Clips, c)
	}
	keepFinished(tb, st, s)
	return s
}

// numberedFilms are the films that were shot already, by view, size and length, in a
// folder of their own: several tests show the same.
var numberedFilms struct {
	sync.Mutex
	dir  string
	shot map[string]string
}

// numberedFilm puts a film of the demonstration's runner at path.
func numberedFilm(tb testing.TB, runner *synth.Runner, cam synth.Camera, times []float64, path string) {
	tb.Helper()
	n := &numberedFilms
	n.Lock()
	defer n.Unlock()
	if n.dir == "" {
		dir, err := os.MkdirTemp("", "numbered-films-*")
		if err != nil {
			tb.Fatal(err)
		}
		n.dir, n.shot = dir, map[string]string{}
	}
	name := fmt.Sprintf("%s-%dx%d-%d-%.0f.mp4", cam.View, cam.WidthPX, cam.HeightPX, len(times), 1/(times[1]-times[0]))
	if n.shot[name] == "" {
		file := filepath.Join(n.dir, name)
		shootNumbered(tb, runner, cam, times, file)
		n.shot[name] = file
	}
	data, err := os.ReadFile(n.shot[name])
	if err == nil {
		err = os.WriteFile(path, data, 0o600)
	}
	if err != nil {
		tb.Fatal(err)
	}
}

// RemoveNumberedFilms removes them when all tests are over.
func RemoveNumberedFilms() {
	if numberedFilms.dir != "" {
		os.RemoveAll(numberedFilms.dir)
	}
}

func shootNumbered(tb testing.TB, runner *synth.Runner, cam synth.Camera, times []float64, path string) {
	tb.Helper()
	film, err := synth.NewFilm(runner, cam, times, synth.Look{})
	if err != nil {
		tb.Fatal(err)
	}
	e, err := video.NewEncoder(tb.Context(), path, video.EncodeOptions{WidthPX: cam.WidthPX, HeightPX: cam.HeightPX, RateHz: 1 / (times[1] - times[0]), Quality: 20})
	if err != nil {
		tb.Skip("needs ffmpeg: ", err)
	}
	defer e.Abort()
	picture := image.NewRGBA(image.Rect(0, 0, cam.WidthPX, cam.HeightPX))
	err = film.Render(context.WithoutCancel(tb.Context()), func(i int, timeS float64, rgb []byte) error {
		for k, j := 0, 0; j+2 < len(rgb); k, j = k+4, j+3 {
			picture.Pix[k], picture.Pix[k+1], picture.Pix[k+2], picture.Pix[k+3] = rgb[j], rgb[j+1], rgb[j+2], 255
		}
		for bit := range 12 {
			c := color.RGBA{20, 60, 220, 255}
			if i>>bit&1 == 1 {
				c = color.RGBA{250, 140, 20, 255}
			}
			draw.Draw(picture, image.Rect(16+bit*32, 16, 48+bit*32, 48), image.NewUniform(c), image.Point{}, draw.Src)
		}
		return e.Write(picture, timeS)
	})
	if err == nil {
		err = e.Finish()
	}
	if err != nil {
		tb.Fatal(err)
	}
}
