package track

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func flat(n int, v float64) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = v
	}
	return s
}

func estimate(o Origin, x, y, sdX, sdY float64, n int) Estimate {
	return Estimate{Path: &Path{Origin: o, X: flat(n, x), Y: flat(n, y), Confidence: flat(n, 0.9)}, SDX: flat(n, sdX), SDY: flat(n, sdY)}
}

func TestFuseWeighsByErrorOnEachAxis(t *testing.T) {
	f, err := Fuse(estimate(PoseModel, 10, 20, 3, 1, 2), estimate(Sticker, 13, 22, 1, 3, 2))
	if err != nil {
		t.Fatal(err)
	}
	// By hand: x = (10/9 + 13)/(1/9 + 1) = 12.7, y = (20 + 22/9)/(1 + 1/9) = 20.2.
	if math.Abs(f.Path.X[1]-12.7) > 1e-12 || math.Abs(f.Path.Y[1]-20.2) > 1e-12 || math.Abs(f.SDX[1]-math.Sqrt(0.9)) > 1e-12 {
		t.Errorf("fused to %v, %v ± %v", f.Path.X[1], f.Path.Y[1], f.SDX[1])
	}
	if f.Disagreements() != 0 || math.Abs(f.Path.Confidence[0]-0.9) > 1e-12 {
		t.Errorf("disagreements %v, confidence %v", f.Disagrees, f.Path.Confidence)
	}
}

func TestFuseKeepsTheSurerWhereTheyDisagree(t *testing.T) {
	pose, sticker := estimate(PoseModel, 10, 20, 3, 3, 3), estimate(Sticker, 11, 20, 0.1, 0.1, 3)
	pose.Path.X[1] = 60 // the pose model jumped to the other leg
	sticker.Path.X[2], sticker.Path.Y[2] = math.NaN(), math.NaN()
	sticker.SDX[2], sticker.SDY[2] = math.NaN(), math.NaN()
	f, err := Fuse(pose, sticker)
	if err != nil {
		t.Fatal(err)
	}
	if f.Path.X[1] != 11 || f.SDX[1] != 0.1 || f.From[1] != Sticker || !f.Disagrees[1] || f.Disagrees[0] {
		t.Errorf("x %v ± %v from %v, disagrees %v", f.Path.X[1], f.SDX[1], f.From[1], f.Disagrees)
	}
	if f.Path.X[2] != 10 || f.From[2] != PoseModel || f.SDX[2] != 3 {
		t.Errorf("where the sticker was lost: x %v ± %v from %v", f.Path.X[2], f.SDX[2], f.From[2])
	}
	if f.Path.Origin != Sticker {
		t.Errorf("the whole is said to come from the %v", f.Path.Origin)
	}
	hand := estimate(Hand, 40, 20, 2, 2, 3)
	if f, err = Fuse(sticker, hand); err != nil || f.Path.X[0] != 40 || !f.Disagrees[0] {
		t.Errorf("a point placed by hand was overruled: %v %v", f.Path.X, err)
	}
}

func TestFuseLeavesMissingFramesMissing(t *testing.T) {
	a, b := estimate(PoseModel, 1, 1, 1, 1, 2), estimate(Sticker, 1, 1, 1, 1, 2)
	a.Path.X[0], b.Path.Y[0] = math.NaN(), math.NaN()
	f, err := Fuse(a, b)
	if err != nil {
		t.Fatal(err)
	}
	if f.Path.Seen(0) || !math.IsNaN(f.SDY[0]) || f.From[0] != NoOrigin || f.Path.Confidence[0] != 0 || !f.Path.Seen(1) {
		t.Errorf("a place was invented: %+v", f)
	}
}

func TestFuseRefuses(t *testing.T) {
	good := estimate(PoseModel, 1, 1, 1, 1, 2)
	zero, short, other := estimate(Sticker, 1, 1, 0, 1, 2), estimate(Sticker, 1, 1, 1, 1, 1), estimate(Sticker, 1, 1, 1, 1, 2)
	other.Path.Z, other.SDZ = flat(2, 1), flat(2, 1)
	for want, es := range map[string][]Estimate{
		"nothing to fuse":            nil,
		"greater than zero":          {good, zero},
		"the first has 2":            {good, short},
		"in one path and not":        {good, other},
		"estimate 1 has no path":     {good, {}},
		"0 errors for 2 frames":      {{Path: good.Path}},
		"the path has no axis":       {{Path: &Path{}}},
		"3 confidences for 2 frames": {{Path: &Path{X: flat(2, 1), Confidence: flat(3, 1)}, SDX: flat(2, 1)}},
	} {
		if _, err := Fuse(es...); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("wanted %q, got %v", want, err)
		}
	}
}

// The fused error is never larger than the best one's, the place lies among
// those that were fused, the order does not matter, and a shift of all shifts
// the result.
func TestFuseProperties(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		num := func(lo, hi float64, name string) float64 { return rapid.Float64Range(lo, hi).Draw(r, name) }
		var es, moved []Estimate
		lo, hi, best := math.Inf(1), math.Inf(-1), math.Inf(1)
		for i := range rapid.IntRange(1, 4).Draw(r, "origins") {
			x, sd := num(-5, 5, "x"), num(0.1, 5, "sd")
			lo, hi, best = min(lo, x), max(hi, x), min(best, sd)
			es = append(es, estimate(Origin(1+i), x, 0, sd, 1, 1))
			moved = append(moved, estimate(Origin(1+i), x+100, 7, sd, 1, 1))
		}
		f, err := Fuse(es...)
		if err != nil {
			r.Fatal(err)
		}
		if x := f.Path.X[0]; x < lo-1e-9 || x > hi+1e-9 {
			r.Fatalf("%v lies outside of %v to %v", x, lo, hi)
		}
		if !f.Disagrees[0] && f.SDX[0] > best+1e-9 {
			r.Fatalf("the error %v is larger than the best one's %v", f.SDX[0], best)
		}
		g, err := Fuse(moved...)
		if err != nil || math.Abs(g.Path.X[0]-f.Path.X[0]-100) > 1e-9 || math.Abs(g.SDX[0]-f.SDX[0]) > 1e-9 {
			r.Fatalf("moved by 100: %v from %v, %v", g.Path.X[0], f.Path.X[0], err)
		}
		for i, j := 0, len(es)-1; i < j; i, j = i+1, j-1 {
			es[i], es[j] = es[j], es[i]
		}
		if g, _ = Fuse(es...); math.Abs(g.Path.X[0]-f.Path.X[0]) > 1e-9 || g.Path.Origin != f.Path.Origin || g.From[0] != f.From[0] {
			r.Fatalf("in the other order: %v of %v, not %v of %v", g.Path.X[0], g.From[0], f.Path.X[0], f.From[0])
		}
	})
}

// Where the errors are what they are said to be, so is the fused one's.
func TestFusedErrorIsTrue(t *testing.T) {
	const n = 4000
	r := rand.New(rand.NewPCG(1, 2))
	a, b := estimate(PoseModel, 0, 0, 2, 2, n), estimate(Sticker, 0, 0, 1, 3, n)
	for i := range n {
		a.Path.X[i], a.Path.Y[i] = 2*r.NormFloat64(), 2*r.NormFloat64()
		b.Path.X[i], b.Path.Y[i] = r.NormFloat64(), 3*r.NormFloat64()
	}
	f, err := Fuse(a, b)
	if err != nil {
		t.Fatal(err)
	}
	zx, zy := 0.0, 0.0
	for i := range n {
		zx += f.Path.X[i] * f.Path.X[i] / f.SDX[i] / f.SDX[i] / n
		zy += f.Path.Y[i] * f.Path.Y[i] / f.SDY[i] / f.SDY[i] / n
	}
	// One in 500 frames disagrees by chance and keeps one error alone.
	if math.Abs(zx-1) > 0.08 || math.Abs(zy-1) > 0.08 {
		t.Errorf("mean square of error over stated error: x %.3f, y %.3f", zx, zy)
	}
	if share := float64(f.Disagreements()) / n; share > 0.005 {
		t.Errorf("%.2f %% of frames disagree by chance", 100*share)
	}
}
