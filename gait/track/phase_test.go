package track

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Where no two samples of a bin are farther apart than the floor, none is marked:
// looking at the medians would mark none either.
func TestNoneIsMarkedWhereAllAreNear(t *testing.T) {
	near, far := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "frames")
		x, centre, bin := make([]float64, n), make([]float64, n), make([]int, n)
		spread := rapid.Float64Range(0, 3).Draw(t, "spread")
		for i := range x {
			x[i] = spread * rapid.Float64Range(-1, 1).Draw(t, "x")
			if rapid.IntRange(0, 30).Draw(t, "hole") == 0 {
				x[i] = math.NaN()
			}
			bin[i] = rapid.IntRange(-1, phaseBins-1).Draw(t, "bin")
		}
		marked := 0
		p := placesOf(x, centre, bin)
		for i, b := range bin {
			if b >= 0 && math.Abs(x[i]-centre[i]-p.mid[b]) > 1 {
				marked++
			}
		}
		if !allNearPhase(x, centre, bin, 1) {
			far++
			return
		}
		near++
		if marked > 0 {
			t.Fatalf("%d samples are farther than the floor from where their bin is, and all were told to be near", marked)
		}
	})
	if near == 0 || far == 0 {
		t.Errorf("%d draws are all near, %d are not: both should come", near, far)
	}
}
