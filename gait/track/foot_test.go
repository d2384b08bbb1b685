package track

import (
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
)

// stiffLegs is a side view, to the left, of two legs of rigid links swinging in
// antiphase (an invented runner): thigh and shank of 180 pixels, a foot of 110.
func stiffLegs(n int, rateHz, strideS float64) *Track {
	t := New(Picture, Pixel, nil)
	for i := range n {
		t.TimeS = append(t.TimeS, float64(i)/rateHz)
	}
	for _, s := range body.Sides {
		paths := map[body.Landmark]*Path{}
		add := func(l body.Landmark, x, y float64) {
			if paths[l] == nil {
				paths[l] = &Path{Origin: PoseModel}
			}
			paths[l].X, paths[l].Y = append(paths[l].X, x), append(paths[l].Y, y)
		}
		for _, at := range t.TimeS {
			ph := 2 * math.Pi * at / strideS
			if s == body.Right {
				ph += math.Pi
			}
			thigh := 0.1 + 0.55*math.Sin(ph)
			shank := thigh - 0.4 - 0.5*math.Cos(ph)
			foot := 0.8 * (shank + 0.3)
			add(body.LeftShoulder, 600, 150)
			add(body.LeftHip, 600, 400)
			kx, ky := 600-180*math.Sin(thigh), 400+180*math.Cos(thigh)
			add(body.LeftKnee, kx, ky)
			ax, ay := kx-180*math.Sin(shank), ky+180*math.Cos(shank)
			add(body.LeftAnkle, ax, ay)
			sin, cos := math.Sincos(foot)
			put := func(l body.Landmark, forward, down float64) {
				add(l, ax-forward*cos-down*sin, ay-forward*sin+down*cos)
			}
			put(body.LeftHeel, -28, 30)
			put(body.LeftToe, 82, 34)
		}
		for l, p := range paths {
			t.Paths[l.On(s)] = p
		}
	}
	return t
}

// At every passing of the feet the left heel and toe are put on the right foot for
// a twelfth of a second, in every stride alike, so that rhythm cannot tell.
func TestMendPutsFootTogether(t *testing.T) {
	const strideS = 0.7
	truth := stiffLegs(600, 120, strideS)
	broken := truth.Clone()
	n := 0
	for i, at := range truth.TimeS {
		a, b := truth.Paths[body.LeftAnkle], truth.Paths[body.RightAnkle]
		near := math.Hypot(a.X[i]-b.X[i], a.Y[i]-b.Y[i]) < 130
		if ph := math.Mod(at/strideS, 1); !near || ph < 0.35 || ph > 0.65 {
			continue
		}
		n++
		for _, l := range []body.Landmark{body.LeftHeel, body.LeftToe} {
			p, q := broken.Paths[l], truth.Paths[l.On(body.Right)]
			p.X[i], p.Y[i] = q.X[i]+10, q.Y[i]-15
		}
	}
	if n < 40 {
		t.Fatalf("only %d frames were broken", n)
	}
	feet := []body.Landmark{body.LeftAnkle, body.LeftHeel, body.LeftToe}
	before := worst(truth, broken, feet...)
	mended, report := Mend(broken, DefaultClean(PoseModel))
	after := worst(truth, mended, feet...)
	t.Logf("%d frames broken: %.0f pixels off at worst, %.1f after mending (%d samples rejected)", n, before, after, report.Outliers)
	if !(after < 0.2*before) {
		t.Errorf("%.1f pixels off before, %.1f after", before, after)
	}
	if !slices.Contains(mended.Paths[body.LeftToe].Filled, true) {
		t.Error("what was bridged is not marked")
	}
}

// A sound foot is left alone, and so is any view but a picture from the side.
func TestSoundFeetAreLeftAlone(t *testing.T) {
	sound := stiffLegs(600, 120, 0.7)
	if n := rejectBrokenFeet(sound.Clone()); n != 0 {
		t.Errorf("%d samples of sound feet were dropped", n)
	}
	spatial := stiffLegs(100, 120, 0.7)
	spatial.Space = Runner
	spatial.Paths[body.LeftToe].X[50] += 500
	if n := rejectBrokenFeet(spatial); n != 0 {
		t.Errorf("%d samples of a track in runner space were dropped", n)
	}
}

func TestFitCubic(t *testing.T) {
	cubic := func(s float64) float64 { return 3 - 2*s + 5*s*s - 40*s*s*s }
	var at, x []float64
	for i := range 12 {
		s := 0.5 + float64(i)/120
		at, x = append(at, s), append(x, cubic(s))
		if i == 5 || i == 6 {
			x[i] = math.NaN()
		}
	}
	fit, ok := fitCubic(at, x)
	if !ok || math.Abs(fit(at[5])-cubic(at[5])) > 1e-9 {
		t.Errorf("fitted: %v", ok)
	}
	for i := range 7 {
		x[i] = math.NaN()
	}
	if _, ok := fitCubic(at, x); ok {
		t.Error("five samples are said to fix a cubic")
	}
	if _, ok := fitCubic(at[:0], x[:0]); ok {
		t.Error("no sample is said to fix a cubic")
	}
}
