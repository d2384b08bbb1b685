package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// smoothPlainly is ZeroLag.Apply for a run of finite values, there and back in one array.
func smoothPlainly(f *ZeroLag, x []float64) []float64 {
	n, c := len(x), f.c
	pad := min(f.pad, n-1)
	s := make([]float64, n+2*pad)
	for k := 1; k <= pad; k++ {
		s[pad-k] = 2*x[0] - x[k]
		s[pad+n-1+k] = 2*x[n-1] - x[n-1-k]
	}
	copy(s[pad:], x)
	lag := (c.A1 + 2*c.A2 + c.B1 + 2*c.B2) / (1 - c.B1 - c.B2)
	pass := func(first, step int) {
		m := (s[first+step*pad] - s[first]) / float64(max(pad, 1))
		x1, x2 := s[first]-m, s[first]-2*m
		y1, y2 := x1-m*lag, x2-m*lag
		for i := first; i >= 0 && i < len(s); i += step {
			y := c.A0*s[i] + c.A1*x1 + c.A2*x2 + c.B1*y1 + c.B2*y2
			x2, x1, y2, y1 = x1, s[i], y1, y
			s[i] = y
		}
	}
	pass(0, 1)
	pass(len(s)-1, -1)
	return s[pad : pad+n]
}

// However filters are put to work, side by side or one after the other in the memory of
// the one before, what comes out is the same, to the last bit.
func TestFiltersSideBySide(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(16, 400).Draw(t, "samples")
		rateHz := rapid.Float64Range(50, 250).Draw(t, "rate")
		wobble := rapid.SampledFrom([]float64{0, 0.3, 3, 20}).Draw(t, "wobble")
		x, timeS := make([]float64, n), make([]float64, n)
		for i := range x {
			timeS[i] = float64(i) / rateHz
			x[i] = 300 + 80*math.Sin(9*timeS[i]) + wobble*math.Sin(50*timeS[i]) + rng.NormFloat64()
		}
		r, err := ResidualAnalysis(x, rateHz, 2, 12)
		if err != nil {
			t.Fatal(err)
		}
		smoother, chosen := NewSmoother(timeS), -1
		for k, hz := range r.FrequenciesHz {
			f, err := NewZeroLag(Butterworth, hz, rateHz)
			if err != nil {
				t.Fatal(err)
			}
			plain, sum := smoothPlainly(f, x), 0.0
			for i, v := range x {
				sum += (v - plain[i]) * (v - plain[i])
			}
			rms := math.Sqrt(sum / float64(n))
			if r.RMS[k] != rms && !math.IsNaN(r.RMS[k]) {
				t.Fatalf("side by side %.1f Hz takes %v away, by itself %v", hz, r.RMS[k], rms)
			}
			if rms <= r.NoiseRMS && chosen < 0 {
				chosen = k
			}
			y := make([]float64, n)
			if f.Apply(y, x); !sameBits(y, plain) {
				t.Fatalf("at %.1f Hz Apply departs from the plain filter", hz)
			}
			if f, err = NewZeroLag(Butterworth, hz, smoother.RateHz()); err != nil {
				t.Fatal(err)
			}
			if err := smoother.LowPass(y, x, hz); err != nil {
				t.Fatal(err)
			}
			if !sameBits(y, smoothPlainly(f, x)) {
				t.Fatalf("at %.1f Hz LowPass departs from the plain filter", hz)
			}
		}
		// The cut-off lies before the first that takes no more away than the noise,
		// whether or not all were tried.
		least, most := 12.0, 12.0
		if chosen >= 0 {
			least, most = r.FrequenciesHz[max(chosen-1, 0)], r.FrequenciesHz[chosen]
		}
		if r.CutoffHz < math.Min(least, 12) || r.CutoffHz > math.Min(most, 12) {
			t.Fatalf("the cut-off is %v Hz, and should lie between %v and %v", r.CutoffHz, least, most)
		}
	})
}

func sameBits(a, b []float64) bool {
	for i := range a {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			return false
		}
	}
	return len(a) == len(b)
}
