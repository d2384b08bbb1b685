package live_test

import (
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/live"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// seen is the invented runner as a slow, uneven camera and noisy landmarks show
// him.
func seen(t testing.TB, p synth.Params, view clip.View, rateHz, seconds, noisePX float64, seed uint64) (*track.Track, *synth.Runner, synth.Camera) {
	t.Helper()
	p.DurationS = seconds + 1
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	cam := synth.NewCamera(view, 640, 480, 4.5)
	times := synth.UnevenClock(rateHz, seconds, 0.3, 0.05, seed)
	return synth.Noisy(synth.WithoutStickers(r.Track(times, cam)), synth.Noise{SD: noisePX, HiddenFactor: 2, Seed: seed}), r, cam
}

// TestRateWithinItsError reads many runners at many frame rates: the error stated
// holds in about 95 of 100.
func TestRateWithinItsError(t *testing.T) {
	in, all, worst := 0, 0, 0.0
	for _, view := range []clip.View{clip.LeftSide, clip.RightSide, clip.Rear} {
		for _, hz := range []float64{8, 12, 20, 30} {
			for k, rate := range []float64{152, 168.5, 188} {
				p := synth.NewParams(1.75, 2.8, rate)
				p.Variation = synth.Usual()
				p.Seed = uint64(100*k) + uint64(hz)
				pic, r, _ := seen(t, p, view, hz, 9, 2, p.Seed)
				got := live.Read(pic, live.Options{})
				if math.IsNaN(got.PerMin) {
					t.Errorf("%v, %.0f a second, %.1f: withheld, %s", view, hz, rate, got.Why)
					continue
				}
				end := pic.TimeS[pic.Frames()-1]
				truth := rateOf(r, end-live.WindowS, end)
				off := math.Abs(got.PerMin - truth)
				worst = max(worst, off)
				all++
				if off <= 1.96*got.SEM {
					in++
				}
				if got.SEM > 1.5 {
					t.Errorf("%v, %.0f a second, %.1f: ± %.2f is no help", view, hz, rate, 1.96*got.SEM)
				}
			}
		}
	}
	t.Logf("%d of %d within the stated error; worst %.2f steps a minute off", in, all, worst)
	if float64(in) < 0.88*float64(all) {
		t.Errorf("only %d of %d within the stated error", in, all)
	}
}

// rateOf is the true step rate between two instants, by the runner's contacts.
func rateOf(r *synth.Runner, from, to float64) float64 {
	c := r.Contacts(from, to).Contacts
	n := len(c) - 1
	return 60 * float64(n) / (c[n].InitialContactS - c[0].InitialContactS)
}

func TestOverstrideWithinItsError(t *testing.T) {
	in, all := 0, 0
	for _, hz := range []float64{15, 30} {
		for k, rate := range []float64{155, 165, 176} {
			p := synth.NewParams(1.75, 2.8, rate)
			p.Variation = synth.Usual()
			p.Seed = uint64(k) + 7
			pic, r, cam := seen(t, p, clip.LeftSide, hz, 10, 1.5, p.Seed)
			leg := 0.0
			exact := r.Track(synth.Clock(50, 5), cam)
			for i := range exact.TimeS {
				d := func(a, b body.Landmark) float64 {
					return math.Hypot(exact.Paths[a].X[i]-exact.Paths[b].X[i], exact.Paths[a].Y[i]-exact.Paths[b].Y[i])
				}
				leg = max(leg, d(body.LeftHip, body.LeftKnee)+d(body.LeftKnee, body.LeftAnkle))
			}
			got := live.Read(pic, live.Options{LegM: leg / cam.PixelsPerM(), LegRelativeSD: 0.045})
			truth := r.Truth(2, 10, synth.HipPoints)
			for _, s := range body.Sides {
				want, ok := truth.Value("overstride", s)
				a := got.Of(s)
				if !ok || math.IsNaN(a.M) {
					t.Errorf("%.0f a second, %.0f, %v: withheld, %s (truth known: %v)", hz, rate, s, a.Why, ok)
					continue
				}
				t.Logf("%.0f a second, %.0f, %v: %.0f ± %.0f mm, exact %.0f", hz, rate, s, 1000*a.M, 1960*a.SEM, 1000*want)
				all++
				if math.Abs(a.M-want) <= 1.96*a.SEM {
					in++
				}
			}
		}
	}
	if all < 10 || float64(in) < 0.85*float64(all) {
		t.Errorf("%d of %d within the stated error", in, all)
	}
}

func TestNothingSureNothingSaid(t *testing.T) {
	p := synth.NewParams(1.75, 2.8, 165)
	pic, _, _ := seen(t, p, clip.LeftSide, 20, 9, 1.5, 3)
	short := pic.Slice(0, 40)
	if got := live.Read(short, live.Options{}); got.Why != "wait" || !math.IsNaN(got.PerMin) {
		t.Errorf("two seconds: %+v", got)
	}
	slow, _, _ := seen(t, p, clip.LeftSide, 4, 9, 1.5, 3)
	if got := live.Read(slow, live.Options{}); got.Why != "slow" {
		t.Errorf("four a second: %+v", got)
	}
	still := pic.Clone()
	for _, q := range still.Paths {
		if q == nil {
			continue
		}
		for i := range q.X {
			q.X[i] = q.X[0] + 2*math.Sin(float64(i*i))
			q.Y[i] = q.Y[0] + 2*math.Cos(float64(i*i*i))
		}
	}
	if got := live.Read(still, live.Options{LegM: 0.8}); !math.IsNaN(got.PerMin) || got.Why == "" {
		t.Errorf("somebody who stands: %+v", got)
	}
	noFeet := pic.Clone()
	for i := range noFeet.TimeS {
		noFeet.Paths[body.LeftAnkle].Confidence[i] = 0.05
	}
	if got := live.Read(noFeet, live.Options{}); got.Why != "unseen" {
		t.Errorf("no feet: %+v", got)
	}
	if got := live.Read(pic, live.Options{}); got.Left.Why != "scale" || !math.IsNaN(got.Left.M) || math.IsNaN(got.PerMin) {
		t.Errorf("no leg length: %+v", got)
	}
	if got := live.Read(track.New(track.Picture, track.Pixel, nil), live.Options{}); got.Why != "wait" {
		t.Errorf("nothing at all: %+v", got)
	}
}

func BenchmarkRead(b *testing.B) {
	pic, _, _ := seen(b, synth.NewParams(1.75, 2.8, 165), clip.LeftSide, 30, 9, 1.5, 3)
	for b.Loop() {
		live.Read(pic, live.Options{LegM: 0.8, LegRelativeSD: 0.05})
	}
}
