package track

import (
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
)

// backward returns the track as a film of it run backward shows it.
func backward(t *Track) *Track {
	r := t.Clone()
	last := t.TimeS[len(t.TimeS)-1]
	for i := range r.TimeS {
		r.TimeS[i] = last - t.TimeS[len(t.TimeS)-1-i]
	}
	for _, p := range r.Paths {
		if p != nil {
			for _, c := range [...][]float64{p.X, p.Y, p.Z, p.Confidence} {
				slices.Reverse(c)
			}
		}
	}
	return r
}

// Mending and smoothing have no direction in time: a film run backward gives the
// same paths run backward, to a thousandth of a pixel, gaps and all, but for the
// first and last quarter of a second, where the filter starts.
func TestTreatmentHasNoDirectionInTime(t *testing.T) {
	seen := running(900, 120, 0.7, 2, 8)
	for i := 400; i < 406; i++ {
		seen.Paths[body.LeftKnee].drop(i)
	}
	o := DefaultClean(MarkerFile)
	treat := func(t *testing.T, in *Track) *Track {
		mended, report := Mend(in, o)
		if report.Filled == 0 {
			t.Error("the gap was not bridged")
		}
		out, err := Smooth(mended, o, &report)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	a, b := treat(t, seen), backward(treat(t, backward(seen)))
	for l, p := range a.Paths {
		if p == nil {
			continue
		}
		q := b.Paths[l]
		for i := 30; i < a.Frames()-30; i++ {
			if d := math.Hypot(p.X[i]-q.X[i], p.Y[i]-q.Y[i]); !(d < 1e-3) {
				t.Fatalf("%v frame %d: %.5f px apart", body.Landmark(l), i, d)
			}
		}
	}
}

// The same film gives the same paths every time, to the last bit.
func TestTreatmentIsRepeated(t *testing.T) {
	seen := running(600, 60, 1, 2, 8)
	for l, p := range seen.Paths {
		if p == nil {
			continue
		}
		for i := 7 + l%5; i < len(p.X); i += 23 { // jumps on one axis and, beside them, on the other
			p.X[i] += 25
			p.Y[i+1-i%3] -= 18
		}
	}
	first, _ := Mend(seen, DefaultClean(PoseModel))
	for range 10 {
		again, _ := Mend(seen, DefaultClean(PoseModel))
		for l, p := range first.Paths {
			if p == nil {
				continue
			}
			for i := range p.X {
				if math.Float64bits(p.X[i]) != math.Float64bits(again.Paths[l].X[i]) || math.Float64bits(p.Y[i]) != math.Float64bits(again.Paths[l].Y[i]) {
					t.Fatalf("%v frame %d: %v, %v at first and %v, %v later", body.Landmark(l), i, p.X[i], p.Y[i], again.Paths[l].X[i], again.Paths[l].Y[i])
				}
			}
		}
	}
}
