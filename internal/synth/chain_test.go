package synth_test

import (
	"math"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// TestTruthAgreesWithMeasures puts exact landmarks and exact contacts through
// the measures and holds the result against the truth, which is worked out
// without them. What is left is interpolation between frames.
func TestTruthAgreesWithMeasures(t *testing.T) {
	r, err := synth.New(synth.Demo())
	if err != nil {
		t.Fatal(err)
	}
	const seconds = 12
	times := synth.Clock(480, seconds)
	last := times[len(times)-1]
	for _, see := range []synth.See{synth.HipPoints, synth.Spines} {
		spatial := r.Spatial(times)
		if see == synth.HipPoints {
			spatial = synth.WithoutStickers(spatial)
		}
		truth := r.Truth(0, last, see)
		p := r.Params()
		out := measure.Compute(measure.Input{
			Info:     clip.Info{View: clip.Spatial, FrameRateHz: 480, Slowdown: 1, BeltSpeedMPS: p.SpeedMPS, Scale: clip.Scale{PixelsPerM: 1, Source: clip.ScaleFromFile}},
			Track:    spatial,
			Contacts: truth.Contacts,
			Runner:   measure.Runner{HeightM: p.HeightM, LegLengthM: p.LegLengthM, MassKG: p.MassKG, Female: p.Female, SexKnown: true},
			Origin:   track.Synthetic,
		})
		seen := 0
		for _, m := range out.Measures {
			want, ok := truth.Value(m.Name, m.Side)
			if !ok {
				t.Logf("no truth for %s %s", m.Name, m.Side)
				continue
			}
			if m.Withheld() {
				if see == synth.Spines {
					t.Errorf("%s %s withheld: %s", m.Name, m.Side, m.Reason)
				}
				continue
			}
			seen++
			tolerance := map[string]float64{"deg": 0.15, "m": 0.0006, "s": 1e-9, "steps/min": 1e-6}[m.Unit]
			switch m.Name {
			case "com_vertical_excursion", "vertical_oscillation", "heel_to_com_at_contact", "knee_separation", "arm_cross", "heel_whip", "rearfoot_eversion":
				tolerance = math.Max(tolerance, 0.004*math.Max(1, math.Abs(want)))
			}
			if m.Name == "peak_vertical_force" { // the estimate takes every step for the same
				tolerance = 0.01 * want
			}
			if tolerance == 0 {
				tolerance = 1e-6 * math.Max(1, math.Abs(want))
			}
			if d := m.Value - want; !(math.Abs(d) <= tolerance) {
				t.Errorf("%v: %s %s: measured %.5f, true %.5f %s (off by %.2g, %d strides)", see, m.Name, m.Side, m.Value, want, m.Unit, d, m.Strides)
			}
		}
		if seen < 75 {
			t.Errorf("only %d measures could be compared", seen)
		}
	}
}
