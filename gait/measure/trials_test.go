package measure

import (
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// A trial leaves out nothing that a point moves: with a landmark elsewhere for a
// while, all the values together, tried and plain, are those of the other track.
func TestTrialsLeaveNothingOut(t *testing.T) {
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		p := plainPuppet()
		p.seconds = 6
		in := p.input(view)
		trials := NewTrials(in)
		spared := 0
		for l, path := range in.Track.Paths {
			if path == nil {
				continue
			}
			other := *in.Track
			other.Paths[l] = path.Clone()
			for _, v := range [...][]float64{other.Paths[l].X, other.Paths[l].Y, other.Paths[l].Z} {
				for i := 200; i < min(900, len(v)); i++ {
					v[i] += 0.03 * math.Sin(float64(i)/9)
				}
			}
			tried := trials.With(&other, body.Landmark(l))
			in := in
			in.Track = &other
			for k, want := range NewTrials(in).Plain {
				got := tried[k].Values
				if !trials.RestOn(body.Landmark(l))[k] {
					got = trials.Plain[k].Values
					spared++
				}
				if !slices.EqualFunc(got, want.Values, func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }) {
					t.Errorf("%s, %s elsewhere: %s %s is %v, by trial %v", view, body.Landmark(l), want.Name, want.Side, want.Values, got)
				}
			}
		}
		if spared == 0 {
			t.Error("no trial spared a measure")
		}
	}
}
