package synth

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// frames draws a short film and returns copies of its pictures.
func frames(t testing.TB, r *Runner, cam Camera, times []float64, look Look) [][]byte {
	t.Helper()
	f, err := NewFilm(r, cam, times, look)
	if err != nil {
		t.Fatal(err)
	}
	var out [][]byte
	err = f.Render(context.Background(), func(i int, at float64, rgb []byte) error {
		if i != len(out) || at != times[i] {
			t.Errorf("picture %d at %g s came as number %d", i, at, len(out))
		}
		out = append(out, bytes.Clone(rgb))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(out) != len(times) {
		t.Fatalf("%d pictures of %d", len(out), len(times))
	}
	return out
}

// TestContactSheets writes sheets of drawn frames for the eye into the folder
// named by GAITWRIGHT_SHEETS.
func TestContactSheets(t *testing.T) {
	dir := os.Getenv("GAITWRIGHT_SHEETS")
	if dir == "" {
		t.Skip("set GAITWRIGHT_SHEETS to a folder to look at drawn frames")
	}
	r := mustNew(t, Demo())
	for _, c := range []struct {
		name string
		cam  Camera
		look Look
	}{
		{"left", NewCamera(clip.LeftSide, 720, 1280, 4.8), Look{}},
		{"right", NewCamera(clip.RightSide, 1280, 720, 4.8), Look{Shutter: 0.3}},
		{"rear", NewCamera(clip.Rear, 720, 1280, 4), Look{}},
		{"front", NewCamera(clip.Front, 720, 1280, 4), Look{}},
	} {
		var times []float64
		for i := range 8 {
			times = append(times, 1+float64(i)*0.095)
		}
		w, h := c.cam.WidthPX, c.cam.HeightPX
		sheet := image.NewRGBA(image.Rect(0, 0, 4*w, 2*h))
		for i, rgb := range frames(t, r, c.cam, times, c.look) {
			for y := range h {
				for x := range w {
					k := 3 * (y*w + x)
					sheet.SetRGBA(i%4*w+x, i/4*h+y, color.RGBA{rgb[k], rgb[k+1], rgb[k+2], 255})
				}
			}
		}
		var b bytes.Buffer
		if err := png.Encode(&b, sheet); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "sheet-"+c.name+".png"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestFigureIsDrawnWhereTheLandmarksAre: in each frame the exact pose landmarks
// in full sight fall on the drawn body, and points well away from it do not.
func TestFigureIsDrawnWhereTheLandmarksAre(t *testing.T) {
	r := mustNew(t, Demo())
	times := []float64{1, 1.09, 1.2, 1.31, 1.55}
	for _, v := range []clip.View{clip.LeftSide, clip.RightSide, clip.Rear, clip.Front} {
		cam := NewCamera(v, 180, 320, 4.5)
		cam.RollDeg, cam.YawDeg = 2, -3
		f, err := NewFilm(r, cam, times, Look{})
		if err != nil {
			t.Fatal(err)
		}
		still := f.newPainter().still
		truth := r.Track(times, cam)
		on, all := 0, 0
		for i, rgb := range frames(t, r, cam, times, Look{}) {
			drawn := func(x, y float64) bool {
				k := 3 * (int(y)*cam.WidthPX + int(x))
				d := 0
				for c := range 3 {
					d += int(math.Abs(float64(rgb[k+c]) - float64(still[k+c])))
				}
				return d > 12
			}
			for l := range body.NumPose {
				p := truth.Paths[l]
				if p.Confidence[i] < 0.9 {
					continue
				}
				all++
				if drawn(p.X[i], p.Y[i]) {
					on++
				}
			}
			for _, away := range [][2]float64{{5, 100}, {175, 30}, {90, 15}} {
				if drawn(away[0], away[1]) {
					t.Errorf("%s: something is drawn at %v", v, away)
				}
			}
		}
		// The knuckles of the loose fist and the nose's tip lie at its edge.
		if float64(on) < 0.93*float64(all) {
			t.Errorf("%s: %d of %d landmarks in sight fall on the body", v, on, all)
		}
	}
}

// TestBeltMarksMoveAtBeltSpeed finds the seam in two pictures and compares.
func TestBeltMarksMoveAtBeltSpeed(t *testing.T) {
	const span = 0.05
	p := NewParams(1.75, 3, 0)
	for _, travel := range []float64{0.3, 1.7, 2.9} {
		at := func(along float64) float64 { return beltMarking(along, 0, 0.004) }
		// The seam lies where the belt's own coordinate is a multiple of its length.
		best, where := 0.0, 0.0
		for x := -1.6; x < 1.6; x += 0.0005 {
			if m := at(x + travel); m > best {
				best, where = m, x
			}
		}
		next, moved := 0.0, 0.0
		for x := -1.7; x < 1.6; x += 0.0005 {
			if m := at(x + travel + p.SpeedMPS*span); m > next {
				next, moved = m, x
			}
		}
		d := where - moved
		if d < 0 {
			d += BeltLoopM
		}
		if best < 0.8 || math.Abs(d-p.SpeedMPS*span) > 0.002 {
			t.Errorf("the seam went back %.4f m in %g s at %g m/s", d, span, p.SpeedMPS)
		}
	}
}

func TestFilmIsTheSameEachTime(t *testing.T) {
	r := mustNew(t, Demo())
	cam := NewCamera(clip.LeftSide, 90, 160, 4.8)
	times := Clock(30, 0.4)
	a, b := frames(t, r, cam, times, Look{Shutter: 0.5}), frames(t, r, cam, times, Look{Shutter: 0.5})
	sharp := frames(t, r, cam, times, Look{})
	for i := range a {
		if !bytes.Equal(a[i], b[i]) {
			t.Fatalf("picture %d differs from one film to the next", i)
		}
		if bytes.Equal(a[i], sharp[i]) {
			t.Fatalf("picture %d is as sharp with the shutter open", i)
		}
	}
	if bytes.Equal(a[0], a[5]) {
		t.Error("the runner does not move")
	}
}

func TestRenderStops(t *testing.T) {
	r := mustNew(t, Demo())
	f, err := NewFilm(r, NewCamera(clip.Rear, 90, 160, 4), Clock(30, 2), Look{})
	if err != nil {
		t.Fatal(err)
	}
	full := errors.New("disk full")
	n := 0
	if err := f.Render(context.Background(), func(int, float64, []byte) error {
		n++
		if n == 3 {
			return full
		}
		return nil
	}); !errors.Is(err, full) || n != 3 {
		t.Errorf("after %d pictures: %v", n, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	if err := f.Render(ctx, func(int, float64, []byte) error { cancel(); return nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	for _, c := range []struct {
		cam  Camera
		at   float64
		look Look
	}{
		{Camera{View: clip.Spatial, WidthPX: 100, HeightPX: 100, FocalPX: 100}, 1, Look{}},
		{Camera{View: clip.Rear, WidthPX: 1, HeightPX: 100, FocalPX: 100}, 1, Look{}},
		{Camera{View: clip.Rear, WidthPX: 100, HeightPX: 100, FocalPX: math.NaN()}, 1, Look{}},
		{NewCamera(clip.Rear, 90, 160, 4), 99, Look{}},
		{NewCamera(clip.Rear, 90, 160, 4), 1, Look{Shutter: 2}},
	} {
		if _, err := NewFilm(r, c.cam, []float64{c.at}, c.look); err == nil {
			t.Errorf("%+v at %g s is taken", c.cam, c.at)
		}
	}
}

// BenchmarkFilm draws upright phone pictures; time is per picture.
func BenchmarkFilm(b *testing.B) {
	r := mustNew(b, Demo())
	for _, v := range []clip.View{clip.LeftSide, clip.Rear} {
		b.Run(v.String(), func(b *testing.B) {
			times := make([]float64, b.N)
			for i := range times {
				times[i] = math.Mod(float64(i)/60, 29)
			}
			f, err := NewFilm(r, NewCamera(v, 720, 1280, 4.8), times, Look{})
			if err != nil {
				b.Fatal(err)
			}
			b.ResetTimer()
			if err := f.Render(context.Background(), func(int, float64, []byte) error { return nil }); err != nil {
				b.Fatal(err)
			}
		})
	}
}
