package app_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/pose"
	"gaitwright/internal/synth"
)

// TestPoseOnSyntheticClip runs the real pose networks on drawn frames of the
// synthetic runner and holds the raw landmarks against the exact ones. The
// person has to be found in more than 98 frames of 100; from the side the median
// error of the near knee and ankle has to stay below 4 % of leg length. The
// errors of all landmarks are printed: a part of those of hip, heel, toe and
// shoulder is a difference of definition.
func TestPoseOnSyntheticClip(t *testing.T) {
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	t.Parallel()
	const setup = "../../setup"
	if err := pose.Locate(setup).Ready(pose.Full); err != nil {
		t.Skip(err)
	}
	r, err := synth.New(synth.Demo())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		view      clip.View
		distanceM float64
		// limits of the median error, percent of leg length
		limits map[body.Landmark]float64
	}{
		{clip.LeftSide, 4.8, map[body.Landmark]float64{body.LeftKnee: 4, body.LeftAnkle: 4, body.RightKnee: 7, body.RightAnkle: 7, body.LeftHeel: 8, body.LeftToe: 8}},
		{clip.Rear, 4, map[body.Landmark]float64{body.LeftKnee: 6, body.RightKnee: 6, body.LeftAnkle: 6, body.RightAnkle: 6}},
	} {
		t.Run(c.view.String(), func(t *testing.T) {
			e, err := pose.Open(pose.Options{Model: pose.Full, Dir: setup})
			if err != nil {
				t.Fatal(err)
			}
			defer e.Close()
			cam := synth.NewCamera(c.view, 432, 768, c.distanceM)
			times := synth.Clock(30, 1.6)
			film, err := synth.NewFilm(r, cam, times, synth.Look{Shutter: 0.2})
			if err != nil {
				t.Fatal(err)
			}
			tr := pose.NewTracker(e, nil)
			err = film.Render(context.Background(), func(i int, timeS float64, rgb []byte) error {
				_, err := tr.Next(pose.Frame{Index: i, TimeS: timeS, Width: cam.WidthPX, Height: cam.HeightPX, RGB: rgb})
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			person, notes := tr.Runner()
			if person == nil {
				t.Fatal("nobody was found")
			}
			if seen := person.Seen(); float64(seen) <= 0.98*float64(len(times)) {
				t.Errorf("found in %d of %d frames (%v)", seen, len(times), notes)
			}
			found, truth := tr.Track(person), r.Track(times, cam)
			leg := r.Params().LegLengthM * cam.PixelsPerM()
			t.Logf("leg %.0f px; seen in %d of %d frames; error against the exact landmark:", leg, person.Seen(), len(times))
			t.Logf("%-16s %9s %8s %8s   %s", "", "median px", "% of leg", "95 % px", "bias px right, down")
			for l := range body.NumPose {
				var d, dx, dy []float64
				for i := range times {
					x, y := found.Paths[l].X[i]-truth.Paths[l].X[i], found.Paths[l].Y[i]-truth.Paths[l].Y[i]
					if math.IsNaN(x) {
						continue
					}
					d, dx, dy = append(d, math.Hypot(x, y)), append(dx, x), append(dy, y)
				}
				slices.Sort(d)
				slices.Sort(dx)
				slices.Sort(dy)
				n := len(d)
				share := 100 * d[n/2] / leg
				t.Logf("%-16s %9.1f %8.1f %8.1f   %+6.1f %+6.1f", l, d[n/2], share, d[n*95/100], dx[n/2], dy[n/2])
				if limit, ok := c.limits[l]; ok && !(share <= limit) {
					t.Errorf("%s: median error %.1f %% of leg length, above %.1f %%", l, share, limit)
				}
			}
		})
	}
}
