package track

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/num/signal"
)

// markFarPlainly is markFarFromPhase with the medians of all bins worked out.
func markFarPlainly(bad []bool, x, centre []float64, bin []int, floor float64) {
	p := placesOf(x, centre, bin)
	typical := signal.Median(p.spread[:])
	for i, b := range bin {
		if b < 0 {
			continue
		}
		limit := math.Max(floor, rhythmDeviations*math.Max(p.spread[b], typical))
		if v := math.Abs(x[i] - centre[i] - p.mid[b]); v > limit {
			bad[i] = true
		}
	}
}

// Samples are marked as they would be if the medians of all bins were known, however
// wide the bins are, with holes, empty bins and samples that are in none.
func TestMarkedAsWithAllMediansKnown(t *testing.T) {
	var draws struct{ near, far, some int }
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(0, 2000).Draw(t, "frames")
		bins := rapid.IntRange(1, phaseBins).Draw(t, "bins that hold samples")
		steady := rapid.Float64Range(0, 0.5).Draw(t, "spread of the steady bins")
		restless := rapid.Float64Range(0, 5).Draw(t, "spread of the others")
		outliers := rapid.SampledFrom([]float64{0, 0.001, 0.02, 0.3}).Draw(t, "share of outliers")
		holes := rapid.SampledFrom([]float64{0, 0.02, 0.5, 1}).Draw(t, "share of holes")
		x, centre, bin := make([]float64, n), make([]float64, n), make([]int, n)
		for i := range x {
			bin[i] = rng.IntN(bins+1) - 1
			spread := steady
			if bin[i]%3 == 0 {
				spread = restless
			}
			centre[i] = 300 + rng.Float64()
			x[i] = centre[i] + float64(bin[i]) + spread*rng.NormFloat64()
			if rng.Float64() < outliers {
				x[i] += 40 * rng.NormFloat64()
			}
			switch {
			case rng.Float64() >= holes:
			case rng.IntN(2) == 0:
				x[i] = math.NaN()
			default:
				centre[i] = math.NaN()
			}
		}
		want, got := make([]bool, n), make([]bool, n)
		markFarPlainly(want, x, centre, bin, 1)
		markFarFromPhase(got, x, centre, bin, 1)
		if !slices.Equal(got, want) {
			t.Fatalf("marked otherwise than with all medians known: %v, not %v", got, want)
		}
		low, high := phaseRanges(x, centre, bin)
		near := true
		for b := range low {
			near = near && !(high[b]-low[b] > 1)
		}
		switch {
		case near:
			draws.near++
		case !slices.Contains(want, true):
			draws.far++
		default:
			draws.some++
		}
	})
	if draws.near == 0 || draws.far == 0 || draws.some == 0 {
		t.Errorf("of the draws %d are narrow, %d wide with none marked, %d with some: each should come", draws.near, draws.far, draws.some)
	}
}
