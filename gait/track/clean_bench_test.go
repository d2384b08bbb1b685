package track_test

import (
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// studioRunner is the invented runner from the left as a camera of 240 frames a second
// and noisy landmarks show him for half a minute, with the legs exchanged in some frames.
func studioRunner(tb testing.TB) *track.Track {
	tb.Helper()
	const rateHz, seconds = 240, 30
	p := synth.Demo()
	p.DurationS = seconds + 1
	runner, err := synth.New(p)
	if err != nil {
		tb.Fatal(err)
	}
	cam := synth.NewCamera(clip.LeftSide, 720, 1280, 4.5)
	t := synth.WithoutStickers(runner.Track(synth.Clock(rateHz, seconds), cam))
	t = synth.Noisy(t, synth.Noise{SD: 1, HiddenFactor: 2, Seed: 7})
	for _, path := range t.Paths {
		if path != nil {
			path.Origin = track.PoseModel
		}
	}
	return track.Exchanged(t, []track.Exchange{{From: 1000, To: 1040, Part: track.Legs}})
}

func BenchmarkMend30s240Hz(b *testing.B) {
	t, o := studioRunner(b), track.DefaultClean(track.PoseModel)
	b.ReportAllocs()
	for b.Loop() {
		track.Mend(t, o)
	}
}

// All paths are smoothed.
func BenchmarkSmooth30s240Hz(b *testing.B) {
	o := track.DefaultClean(track.PoseModel)
	t, _ := track.Mend(studioRunner(b), o)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := track.Smooth(t, o, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// The legs are exchanged in some more frames, and what did not change is shared.
func BenchmarkSmoothAgain30s240Hz(b *testing.B) {
	o := track.DefaultClean(track.PoseModel)
	raw := studioRunner(b)
	report := track.CleanReport{CutoffHz: map[string]float64{}}
	from, _ := track.Mend(raw, o)
	to, err := track.Smooth(from, o, &report)
	if err != nil {
		b.Fatal(err)
	}
	was := &track.Smoothed{From: from, To: to, CutoffHz: report.CutoffHz}
	t, _ := track.Mend(track.Exchanged(raw, []track.Exchange{{From: 3000, To: 3050, Part: track.Legs}}), o)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := track.SmoothAgain(t, was, o, nil); err != nil {
			b.Fatal(err)
		}
	}
}
