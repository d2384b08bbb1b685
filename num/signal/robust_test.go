package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// rejectPlainly is RejectOutliers with the limit of every sample worked out first.
func rejectPlainly(dst, x, confidence []float64, o Outliers) (dropped int) {
	n := len(x)
	for i, v := range x {
		dst[i] = v
		if confidence != nil && !(confidence[i] >= o.MinConfidence) && !math.IsNaN(v) {
			dst[i] = math.NaN()
			dropped++
		}
	}
	source := slices.Clone(dst)
	rough := make([]float64, n)
	for i := range rough {
		sum := 0.0
		for k, w := range roughWeights {
			if i-k-1 < 0 || i+k+1 >= n {
				sum = math.NaN()
				break
			}
			sum += w * (source[i-k-1] + source[i+k+1])
		}
		rough[i] = source[i] - sum
	}
	var some []float64
	for i := 0; i < n; i += max(n/512, 1) {
		some = append(some, math.Abs(rough[i]))
	}
	least := 0.5 * Median(some)
	if math.IsNaN(least) {
		least = 0
	}
	for i, d := range rough {
		c := 1.0
		if confidence != nil {
			c = min(max(confidence[i], 0), 1)
		}
		k := o.Deviations * madToSD * (1 + c) / 2
		limit := math.Max(k*least, o.Floor)
		if math.Abs(d) <= limit {
			continue
		}
		d, ok := surprise(source, i)
		if !ok || math.Abs(d) <= limit {
			continue
		}
		var nearby []float64
		for j := max(i-spreadReach, 0); j <= min(i+spreadReach, n-1); j++ {
			if v, ok := surprise(source, j); ok {
				nearby = append(nearby, math.Abs(v))
			}
		}
		if math.Abs(d) > k*insertionMedian(nearby) {
			dst[i] = math.NaN()
			dropped++
		}
	}
	return dropped
}

// Outliers are those that are found when no sample is passed over early, whatever the
// floor, with holes, single jumps and samples that were hardly seen.
func TestOutliersAsWhenNoneIsPassedOver(t *testing.T) {
	clean, found := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(0, 1500).Draw(t, "samples")
		noise := rapid.SampledFrom([]float64{0, 0.1, 1}).Draw(t, "noise")
		jumps := rapid.SampledFrom([]float64{0, 0.003, 0.1}).Draw(t, "share of jumps")
		holes := rapid.SampledFrom([]float64{0, 0.02, 0.4, 1}).Draw(t, "share of holes")
		o := DefaultOutliers
		o.Floor = rapid.SampledFrom([]float64{0, 0.3, 6, 1000}).Draw(t, "floor")
		x, confidence := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i] = 100*math.Sin(float64(i)/30) + noise*rng.NormFloat64()
			if rng.Float64() < jumps {
				x[i] += 80 * rng.NormFloat64()
			}
			if rng.Float64() < holes {
				x[i] = math.NaN()
			}
			confidence[i] = min(1, 10*rng.Float64())
			if rng.IntN(200) == 0 {
				confidence[i] = 0.1 * rng.Float64()
			}
		}
		if rapid.Bool().Draw(t, "all trusted") {
			confidence = nil
		}
		got, want := make([]float64, n), make([]float64, n)
		a, b := RejectOutliers(got, x, confidence, o), rejectPlainly(want, x, confidence, o)
		if a != b {
			t.Fatalf("%d samples dropped, %d when none is passed over", a, b)
		}
		for i := range got {
			if got[i] != want[i] && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
				t.Fatalf("sample %d is %g, and %g when none is passed over", i, got[i], want[i])
			}
		}
		if a == 0 {
			clean++
		} else {
			found++
		}
	})
	if clean == 0 || found == 0 {
		t.Errorf("%d draws are clean, in %d outliers were found: both should come", clean, found)
	}
}

// A value chosen stands where sorting would put it, with none larger before it and none
// smaller behind, however many are alike and in whatever order they come.
func TestChooseAgainstSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(1, 300).Draw(t, "values")
		kinds := rapid.SampledFrom([]int{1, 2, 5, 100, 1e9}).Draw(t, "kinds of value")
		s := make([]float64, n)
		for i := range s {
			s[i] = float64(rng.IntN(kinds) - kinds/2)
		}
		sorted := slices.Sorted(slices.Values(s))
		switch rapid.IntRange(0, 3).Draw(t, "order") {
		case 0:
			copy(s, sorted)
		case 1:
			for i, v := range sorted {
				s[n-1-i] = v
			}
		case 2: // up and down again
			for i, v := range sorted {
				s[min(i/2+i%2*n, n-1-i/2)] = v
			}
		}
		k := rapid.IntRange(0, n-1).Draw(t, "k")
		if got := choose(s, k); got != sorted[k] || s[k] != got {
			t.Fatalf("value %d of %d is %g and stands as %g, by sorting it is %g", k, n, got, s[k], sorted[k])
		}
		if slices.Max(s[:k+1]) > sorted[k] || slices.Min(s[k:]) < sorted[k] {
			t.Fatalf("a larger value stands before value %d, or a smaller one behind it", k)
		}
		if slices.Sort(s); !slices.Equal(s, sorted) {
			t.Fatal("the values are no longer the same")
		}
	})
}

// No order of the values may be a slow one.
func BenchmarkMedian7200(b *testing.B) {
	orders := map[string]func(i int) float64{
		"drawn":           func(i int) float64 { return math.Sin(float64(i * i)) },
		"rising":          func(i int) float64 { return float64(i) },
		"up and down":     func(i int) float64 { return float64(min(i, 7200-i)) },
		"again and again": func(i int) float64 { return float64(i % 170) },
	}
	for name, at := range orders {
		b.Run(name, func(b *testing.B) {
			x := make([]float64, 7200)
			for i := range x {
				x[i] = at(i)
			}
			s := make([]float64, len(x))
			for b.Loop() {
				copy(s, x)
				MedianInPlace(s)
			}
		})
	}
}
