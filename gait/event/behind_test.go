package event

import (
	"fmt"
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"pgregory.net/rapid"
)

// hopper is an invented runner as a camera behind sees him, in pixels: the pelvis
// rises and falls once a step, lowest in the middle of each stance, and the
// swinging ankle is then swing higher than the standing one.
type hopper struct {
	stepS, swing, durationS float64
	first                   body.Side // who stands in the first stance
}

func (h hopper) track() (*track.Track, []step) {
	const rateHz = 120
	n := int(h.durationS * rateHz)
	t := track.New(track.Runner, track.Pixel, make([]float64, n))
	path := func(l body.Landmark, y func(at float64) float64) {
		p := &track.Path{Origin: track.PoseModel, Y: make([]float64, n), Z: make([]float64, n)}
		for i := range n {
			p.Y[i] = y(float64(i) / rateHz)
		}
		t.Paths[l] = p
	}
	for i := range n {
		t.TimeS[i] = float64(i) / rateHz
	}
	trunk := func(at float64) float64 { return 500 - 20*math.Cos(2*math.Pi*(at/h.stepS-0.5)) }
	for _, s := range body.Sides {
		sign := 1.0 // the left foot swings in the stances of the right one
		if s == h.first {
			sign = -1
		}
		ankle := func(at float64) float64 {
			return 100 + h.swing/2*sign*math.Cos(math.Pi*(at/h.stepS-0.5))
		}
		path(body.LeftHip.On(s), trunk)
		path(body.LeftAnkle.On(s), ankle)
		path(body.LeftKnee.On(s), func(at float64) float64 { return 0.6*trunk(at) + 0.4*ankle(at) })
	}
	var want []step
	side := h.first
	for k := 0; (float64(k)+0.5)*h.stepS < h.durationS; k++ {
		want = append(want, step{(float64(k) + 0.5) * h.stepS, side})
		side = side.Other()
	}
	return t, want
}

// Steps are found at the lowest points of the pelvis, on the right sides, whatever
// the step rate and whichever foot begins.
func TestSteppingFromBehind(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := hopper{stepS: rapid.Float64Range(0.26, 0.42).Draw(t, "step"), swing: rapid.Float64Range(30, 200).Draw(t, "swing"), durationS: 8,
			first: rapid.SampledFrom(body.Sides[:]).Draw(t, "first")}
		tr, want := h.track()
		got := newLimbs(tr, nil).stepping()
		if math.Abs(got.strideS-2*h.stepS) > 0.002 {
			t.Fatalf("stride of %.4f s, want %.4f", got.strideS, 2*h.stepS)
		}
		found := map[string]bool{}
		for _, s := range got.steps {
			found[fmt.Sprintf("%v %.0f", s.side, s.midS/h.stepS-0.5)] = true
		}
		for k, s := range want[1 : len(want)-1] { // the clip's ends may cut the first and the last
			if !found[fmt.Sprintf("%v %d", s.side, k+1)] {
				t.Fatalf("step %d of the %v foot at %.3f s was not found in %v", k+1, s.side, s.midS, got.steps)
			}
		}
		if len(got.steps) > len(want) {
			t.Fatalf("%d steps, want %d", len(got.steps), len(want))
		}
	})
}

// One stance in which the feet bear each other's names is left out, and the steps
// about it stay as they are.
func TestSteppingWithExchangedFeet(t *testing.T) {
	h := hopper{stepS: 0.35, swing: 120, durationS: 8, first: body.Left}
	tr, want := h.track()
	const bad = 9
	l, r := tr.Paths[body.LeftAnkle], tr.Paths[body.RightAnkle]
	for i, at := range tr.TimeS {
		if math.Abs(at-want[bad].midS) < 0.4*h.stepS {
			l.Y[i], r.Y[i] = r.Y[i], l.Y[i]
		}
	}
	got := newLimbs(tr, nil).stepping()
	for _, s := range got.steps {
		k := int(math.Round(s.midS/h.stepS - 0.5))
		if k == bad {
			t.Errorf("the step at %.2f s was taken for one of the %v foot", s.midS, s.side)
		}
		if s.side != want[k].side {
			t.Errorf("step %d is of the %v foot, want %v", k, s.side, want[k].side)
		}
	}
	if len(got.steps) < len(want)-3 {
		t.Errorf("%d steps, want about %d", len(got.steps), len(want)-1)
	}
}

// Feet that look alike in every stance give no contacts, and the error says so.
func TestStandingFootUnknown(t *testing.T) {
	tr, want := hopper{stepS: 0.35, swing: 120, durationS: 8, first: body.Left}.track()
	l, r := tr.Paths[body.LeftAnkle], tr.Paths[body.RightAnkle]
	for i, at := range tr.TimeS { // every second pair of stances bears the wrong names
		if int(at/0.7)%2 == 1 {
			l.Y[i], r.Y[i] = r.Y[i], l.Y[i]
		}
	}
	if s := newLimbs(tr, nil).stepping(); len(s.steps) > 0 {
		t.Errorf("%d of %d steps, though the ankles agree with no rhythm (%.2f)", len(s.steps), len(want), s.agreement)
	}
	if _, err := MotionContacts(tr, MotionOptions{View: clip.Rear}); err == nil {
		t.Error("contacts of feet that cannot be told apart")
	}
}

// Few steps a minute may be walking: from behind that is noted.
func TestStepRateFromBehindIsNoted(t *testing.T) {
	tr, _ := hopper{stepS: 0.55, swing: 100, durationS: 10, first: body.Left}.track()
	s, err := MotionContacts(tr, MotionOptions{View: clip.Rear})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range s.Notes {
		if len(n) > 20 && n[:20] == "109 steps a minute a" {
			return
		}
	}
	t.Errorf("109 steps a minute are not noted: %q", s.Notes)
}

func BenchmarkMotionContactsFromBehind30s240Hz(b *testing.B) {
	tr, _ := hopper{stepS: 0.35, swing: 120, durationS: 30, first: body.Left}.track()
	fast := track.New(tr.Space, tr.Unit, nil)
	for i, at := range tr.TimeS { // each frame twice as dense
		fast.TimeS = append(fast.TimeS, at)
		if i+1 < len(tr.TimeS) {
			fast.TimeS = append(fast.TimeS, (at+tr.TimeS[i+1])/2)
		}
	}
	for l, p := range tr.Paths {
		if p == nil {
			continue
		}
		q := &track.Path{Origin: p.Origin, Z: make([]float64, len(fast.TimeS))}
		for i := range fast.TimeS {
			q.Y = append(q.Y, (p.Y[i/2]+p.Y[(i+1)/2])/2)
		}
		fast.Paths[l] = q
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := MotionContacts(fast, MotionOptions{View: clip.Rear}); err != nil {
			b.Fatal(err)
		}
	}
}
