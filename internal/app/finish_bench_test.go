package app

import (
	"context"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// BenchmarkLandmarksToTable times everything from raw landmarks to the finished
// measures: mending, contacts, scale, smoothing, measures; a side view at 240
// frames a second with noise, of the pose model's origin.
func BenchmarkLandmarksToTable(b *testing.B) {
	for _, c := range []struct {
		name    string
		seconds float64
	}{{"15s", 15}, {"30s", 30}, {"60s", 60}} {
		b.Run(c.name, func(b *testing.B) {
			p := synth.Demo()
			p.DurationS = c.seconds + 1
			runner, err := synth.New(p)
			if err != nil {
				b.Fatal(err)
			}
			st, err := OpenStudio(b.TempDir())
			if err != nil {
				b.Fatal(err)
			}
			r := Request{SpeedMPS: p.SpeedMPS, Runner: RunnerFacts{HeightM: p.HeightM}}
			q := TruthRequest{RateHz: 240, Seconds: c.seconds, WidthPX: 720, HeightPX: 1280, NoisePX: 1}
			made, _, err := st.syntheticClip(context.Background(), runner, clip.LeftSide, q, &r, NoProgress{})
			if err != nil {
				b.Fatal(err)
			}
			for _, path := range made.Raw.Paths {
				if path != nil {
					path.Origin = track.PoseModel
				}
			}
			b.ReportAllocs()
			for b.Loop() {
				k := *made
				k.Warnings = nil
				if _, err := k.finish(&r, nil, 0, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
