package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// lagged is the correlation of d with itself lag samples later, by itself.
func lagged(d []float64, lag int) float64 {
	var ab, aa, bb float64
	for i := 0; i+lag < len(d); i++ {
		if p := d[i] * d[i+lag]; !math.IsNaN(p) {
			ab += p
			aa += d[i] * d[i]
			bb += d[i+lag] * d[i+lag]
		}
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// Two lags looked at together read what each reads by itself, to the last bit.
func TestLagsTogetherAsAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		d := make([]float64, rapid.IntRange(0, 300).Draw(t, "samples"))
		holes := rapid.SampledFrom([]float64{0, 0.05, 0.9, 1}).Draw(t, "share of holes")
		for i := range d {
			d[i] = math.Sin(float64(i)/9) + rng.NormFloat64()
			if rng.Float64() < holes {
				d[i] = math.NaN()
			}
		}
		lag := rapid.IntRange(0, len(d)+2).Draw(t, "lag")
		r, next := laggedPair(d, lag)
		if r != lagged(d, lag) || next != lagged(d, lag+1) {
			t.Fatalf("lags %d and %d of %d samples read %v and %v, alone %v and %v", lag, lag+1, len(d), r, next, lagged(d, lag), lagged(d, lag+1))
		}
	})
}
