package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// running returns a picture-space side view of two legs swinging in antiphase
// (an invented pendulum with a lifted swing foot), n frames at rate, with jitter
// in pixels.
func running(n int, rateHz, strideS, jitterPX float64, seed uint64) *Track {
	rng := rand.New(rand.NewPCG(seed, 1))
	t := New(Picture, Pixel, nil)
	for i := range n {
		t.TimeS = append(t.TimeS, float64(i)/rateHz)
	}
	for _, s := range body.Sides {
		phase0 := 0.0
		if s == body.Right {
			phase0 = math.Pi
		}
		put := func(l body.Landmark, reach, drop, lift float64) {
			p := &Path{Origin: Synthetic}
			for _, at := range t.TimeS {
				ph := 2*math.Pi*at/strideS + phase0
				up := lift * math.Max(0, math.Cos(ph))
				p.X = append(p.X, 600-reach*math.Sin(ph)+jitterPX*rng.NormFloat64())
				p.Y = append(p.Y, 400+drop-up+jitterPX*rng.NormFloat64())
			}
			t.Paths[l.On(s)] = p
		}
		put(body.LeftHip, 2, 0, 0)
		put(body.LeftKnee, 70, 180, 30)
		put(body.LeftAnkle, 160, 360, 140)
		put(body.LeftHeel, 160, 390, 150)
		put(body.LeftToe, 165, 400, 120)
	}
	return t
}

func worst(a, b *Track, ls ...body.Landmark) float64 {
	w := 0.0
	for _, l := range ls {
		for _, l := range []body.Landmark{l, l.Mirror()} {
			for i := range a.TimeS {
				w = math.Max(w, math.Hypot(a.Paths[l].X[i]-b.Paths[l].X[i], a.Paths[l].Y[i]-b.Paths[l].Y[i]))
			}
		}
	}
	return w
}

func TestMendSwapsUndoesExchanges(t *testing.T) {
	truth := running(900, 120, 0.7, 1.5, 1)
	legs := []body.Landmark{body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe}
	feet := legs[1:]
	for _, c := range []struct {
		name  string
		parts []body.Landmark
		at    func(i int) bool
	}{
		{"whole legs, in bursts", legs, func(i int) bool { return i%131 < 9 && i > 40 }},
		{"feet alone, in bursts", feet, func(i int) bool { return i%97 < 6 && i > 40 }},
		{"feet at one crossing of every stride", feet, func(i int) bool { return math.Mod(float64(i)/120, 0.7) < 0.045 }},
		{"one long stretch", legs, func(i int) bool { return i > 300 && i < 360 }},
		{"none", legs, func(int) bool { return false }},
	} {
		seen := truth.Clone()
		n := 0
		for i := range seen.TimeS {
			if c.at(i) {
				n++
				for _, l := range c.parts {
					exchangeAt(seen, l, i)
				}
			}
		}
		mended, changed := MendSwaps(seen)
		bad := 0
		for i := range truth.TimeS {
			if math.Hypot(mended.Paths[body.LeftAnkle].X[i]-truth.Paths[body.LeftAnkle].X[i], mended.Paths[body.LeftAnkle].Y[i]-truth.Paths[body.LeftAnkle].Y[i]) > 40 {
				bad++
			}
		}
		if bad > n/50 {
			t.Errorf("%s: %d of %d exchanged frames are still wrong (%d changed)", c.name, bad, n, changed)
		}
		if n == 0 && changed != 0 {
			t.Errorf("%s: %d frames were changed where none was wrong", c.name, changed)
		}
	}
}

func TestMendDropsAFootThatJumpedToTheOther(t *testing.T) {
	truth := running(900, 120, 0.7, 1, 2)
	seen := truth.Clone()
	for i := 400; i < 406; i++ { // the left foot lies on the right one
		for _, l := range []body.Landmark{body.LeftAnkle, body.LeftHeel, body.LeftToe} {
			seen.Paths[l].X[i], seen.Paths[l].Y[i] = seen.Paths[l.Mirror()].X[i], seen.Paths[l.Mirror()].Y[i]
		}
	}
	mended, report := Mend(seen, DefaultClean(PoseModel))
	if report.Outliers < 12 {
		t.Errorf("only %d samples were rejected", report.Outliers)
	}
	if w := worst(mended, truth, body.LeftAnkle, body.LeftHeel, body.LeftToe); w > 25 {
		t.Errorf("after mending a foot is %.0f px off", w)
	}
	if !mended.Paths[body.LeftAnkle].Filled[402] {
		t.Error("the bridged frames are not marked")
	}
	if seen.Paths[body.LeftAnkle].Filled != nil {
		t.Error("mending changed the track it was given")
	}
}

func TestSmoothTakesNoiseAwayAndKeepsTheMotion(t *testing.T) {
	clean := running(900, 120, 0.7, 0, 3)
	noisy := running(900, 120, 0.7, 4, 3)
	rms := func(a *Track) float64 {
		sum := 0.0
		p, q := a.Paths[body.LeftKnee], clean.Paths[body.LeftKnee]
		for i := range a.TimeS {
			sum += (p.X[i] - q.X[i]) * (p.X[i] - q.X[i])
		}
		return math.Sqrt(sum / float64(a.Frames()))
	}
	var report CleanReport
	report.CutoffHz = map[string]float64{}
	smooth, err := Smooth(noisy, DefaultClean(PoseModel), &report)
	if err != nil {
		t.Fatal(err)
	}
	if before, after := rms(noisy), rms(smooth); after > before/2 {
		t.Errorf("the error was %.2f px and is %.2f px", before, after)
	}
	o := DefaultClean(PoseModel)
	for name, hz := range report.CutoffHz {
		if hz < o.MinCutoffHz || hz > o.MaxFootCutoffHz {
			t.Errorf("%s is cut at %.1f Hz, outside %.0f-%.0f", name, hz, o.MinCutoffHz, o.MaxFootCutoffHz)
		}
	}
	if len(report.CutoffHz) != 20 {
		t.Errorf("%d cut-offs reported for 10 points of 2 axes", len(report.CutoffHz))
	}
}

func TestFindRhythm(t *testing.T) {
	for _, c := range []struct{ rateHz, strideS float64 }{{30, 0.7}, {60, 0.75}, {240, 0.62}, {30, 5.6}} {
		r, ok := FindRhythm(running(int(12*c.strideS*c.rateHz), c.rateHz, c.strideS, 2, 4))
		if !ok || math.Abs(r.StrideS/c.strideS-1) > 0.02 {
			t.Errorf("at %.0f Hz a stride of %.2f s was found as %.3f s (%v)", c.rateHz, c.strideS, r.StrideS, ok)
		}
	}
	still := running(300, 60, 0.7, 0, 5)
	for _, p := range still.Paths {
		if p != nil {
			for i := range p.X {
				p.X[i], p.Y[i] = p.X[0], p.Y[0]
			}
		}
	}
	if _, ok := FindRhythm(still); ok {
		t.Error("a runner who stands still was given a rhythm")
	}
}

// TestTreatmentsLeaveTheirInputAlone: what was seen first is never changed.
func TestTreatmentsLeaveTheirInputAlone(t *testing.T) {
	seen := running(900, 120, 0.7, 2, 6)
	for _, p := range seen.Paths {
		if p != nil {
			p.Origin = PoseModel
		}
	}
	for i := 300; i < 308; i++ {
		for _, l := range []body.Landmark{body.LeftAnkle, body.LeftHeel, body.LeftToe} {
			exchangeAt(seen, l, i)
		}
	}
	before := seen.Clone()
	same := func(what string, a, b *Track) {
		t.Helper()
		for l := range a.Paths {
			if a.Paths[l] == nil {
				continue
			}
			for i := range a.TimeS {
				if a.Paths[l].X[i] != b.Paths[l].X[i] || a.Paths[l].Y[i] != b.Paths[l].Y[i] {
					t.Fatalf("%s changed %v in frame %d", what, body.Landmark(l), i)
				}
			}
		}
	}
	swapped, _ := MendSwaps(seen)
	same("MendSwaps", before, seen)
	kept := swapped.Clone()
	mended, report := Mend(swapped, DefaultClean(PoseModel))
	same("Mend", kept, swapped)
	kept = mended.Clone()
	if _, err := Smooth(mended, DefaultClean(PoseModel), &report); err != nil {
		t.Fatal(err)
	}
	runner, err := ToRunner(mended, clip.LeftSide, 400, 1)
	if err != nil {
		t.Fatal(err)
	}
	same("Smooth or ToRunner", kept, mended)
	kept = runner.Clone()
	Anatomical(runner)
	same("Anatomical", kept, runner)
}
