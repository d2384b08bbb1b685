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

// The period is the one that is found when all lags are looked at, though the search ends
// early where the signal repeats itself well.
func TestPeriodAsOfAllLags(t *testing.T) {
	regular, irregular := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		x := make([]float64, rapid.IntRange(20, 600).Draw(t, "samples"))
		every := rapid.Float64Range(5, 200).Draw(t, "period")
		noise := rapid.SampledFrom([]float64{0, 0.1, 0.3, 1, 5}).Draw(t, "noise")
		half := rapid.SampledFrom([]float64{0, 0.5, 2, 3}).Draw(t, "share of half the period")
		drift := rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "drift")
		for i := range x {
			at := 2 * math.Pi * float64(i) / every
			x[i] = math.Sin(at) + half*math.Sin(2*at) + drift*float64(i) + noise*rng.NormFloat64()
			if rng.IntN(40) == 0 {
				x[i] = math.NaN()
			}
		}
		minS, maxS := rapid.Float64Range(1, 20).Draw(t, "from"), rapid.Float64Range(20, 400).Draw(t, "to")
		gotS, got := Period(x, 1, minS, maxS)
		wantS, want := periodOfAllLags(x, minS, maxS)
		if gotS != wantS || got != want {
			t.Fatalf("a period of %v (%v), of all lags %v (%v)", gotS, got, wantS, want)
		}
		if got > 0.92 {
			regular++
		} else {
			irregular++
		}
	})
	if regular == 0 || irregular == 0 {
		t.Errorf("%d draws are regular, %d are not: both should come", regular, irregular)
	}
}

// periodOfAllLags is Period at one sample a second.
func periodOfAllLags(x []float64, minS, maxS float64) (periodS, correlation float64) {
	lo, hi := max(int(math.Ceil(minS)), 1), min(int(maxS), len(x)*2/3)
	mean, sd, _ := MeanSD(x)
	if hi < lo || !(sd > 0) {
		return 0, 0
	}
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = v - mean
	}
	peak := func(lag int) bool {
		r := lagged(d, lag)
		return r >= lagged(d, lag-1) && r >= lagged(d, lag+1)
	}
	best := math.Inf(-1)
	for lag := lo; lag <= hi; lag++ {
		if peak(lag) {
			best = math.Max(best, lagged(d, lag))
		}
	}
	for lag := lo; lag <= hi; lag++ {
		if r := lagged(d, lag); peak(lag) && r >= best-0.1*math.Abs(best) {
			off, v := Vertex(lagged(d, lag-1), r, lagged(d, lag+1))
			return float64(lag) + off, math.Min(v, 1)
		}
	}
	return 0, 0
}
