package synth

import (
	"math"
	"testing"

	"gaitwright/gait/body"
)

// The squat has the angles it was asked for at its lowest points, stands with a
// straight line of the leg between them, keeps its foot and its bones' lengths,
// and never moves by a jump.
func TestSquatHasTheAngleItWasAskedFor(t *testing.T) {
	for _, side := range body.Sides {
		for _, p := range []SquatParams{NewSquatParams(side, -8), NewSquatParams(side, 0), NewSquatParams(side, 22), NewStepDownParams(side, 18)} {
			inward := p.InwardDeg
			s, err := NewSquat(p)
			if err != nil {
				t.Fatal(err)
			}
			lows := s.LowS()
			if len(lows) != p.Times || lows[p.Times-1] >= s.DurationS() {
				t.Fatalf("lowest points at %v in %g s", lows, s.DurationS())
			}
			for _, low := range lows {
				if got := s.InwardDeg(low); math.Abs(got-inward) > 0.1 {
					t.Errorf("%s: %.2f degrees at the lowest point, want %g", side, got, inward)
				}
			}
			if got := s.InwardDeg(0); math.Abs(got) > 0.1 {
				t.Errorf("%s: %.2f degrees standing", side, got)
			}
			var before Posture
			for i := range int(100 * s.DurationS()) {
				at := s.At(float64(i) / 100)
				for k := range at.legs {
					l := &at.legs[k]
					if math.Abs(l.knee.sub(l.hip).norm()-s.thigh) > 1e-9 || math.Abs(l.ankle.sub(l.knee).norm()-s.shank) > 1e-9 {
						t.Fatalf("the bones of leg %d change at %g s", k, at.TimeS)
					}
					if low := l.foot.point(0, 0, 0).Y - p.StepM; low < -1e-9-p.StepM || body.Sides[k] == side && low > 1e-9 {
						t.Fatalf("the sole of leg %d is at %g m at %g s", k, low, at.TimeS)
					}
				}
				if i > 0 && at.skull.sub(before.skull).norm() > 0.02 {
					t.Fatalf("a jump of %g m at %g s", at.skull.sub(before.skull).norm(), at.TimeS)
				}
				before = at
			}
		}
	}
	// The heel of a step-down reaches the floor at the lowest point, and leaves it.
	s, err := NewSquat(NewStepDownParams(body.Left, 5))
	if err != nil {
		t.Fatal(err)
	}
	heel := func(t float64) float64 {
		at := s.At(t)
		return at.legs[1].foot.point(0, 0, 0).Y
	}
	if low, top := heel(s.LowS()[0]), heel(0); low > 0.02 || top < 0.18 {
		t.Errorf("the heel is at %.3f m at the lowest point and at %.3f m above", low, top)
	}
	for _, p := range []SquatParams{{}, {HeightM: 1.7, Side: body.Left}, NewSquatParams(body.NoSide, 5), NewSquatParams(body.Left, math.NaN())} {
		if _, err := NewSquat(p); err == nil {
			t.Errorf("%+v was taken", p)
		}
	}
}
