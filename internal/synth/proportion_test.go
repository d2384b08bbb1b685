package synth

import (
	"math"
	"testing"
)

// Check value 22 (M-high: Drillis & Contini 1966 in Winter 2009, from memory): hip,
// knee and ankle stand at 0.530, 0.285 and 0.039 of stature: 0.9275, 0.49875 and
// 0.06825 m at 1.75 m.
func TestHeightsOfTheJoints(t *testing.T) {
	const height = 1.75
	for _, q := range []struct {
		what      string
		got, want float64
	}{
		{"hip", (thighFraction + shankFraction + ankleFraction) * height, 0.9275},
		{"knee", (shankFraction + ankleFraction) * height, 0.49875},
		{"ankle", ankleFraction * height, 0.06825},
		{"leg", legFraction * height, NewParams(height, 3, 0).LegLengthM},
	} {
		if math.Abs(q.got-q.want) > 1e-9 {
			t.Errorf("%s at %.5f m, want %.5f", q.what, q.got, q.want)
		}
	}
}
