package signal_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gaitwright/num/signal"
	"pgregory.net/rapid"
)

// The coefficients of Winter 2009, Biomechanics and Motor Control of Human
// Movement, 4th ed.; those for two passes with the cut-off raised by 1/0.802243
// are computed from the same formulas (C; check values 8 to 10).
func TestDesignAgainstPublishedCoefficients(t *testing.T) {
	for _, c := range []struct {
		fs, fc         float64
		passes         int
		a0, a1, b1, b2 float64
	}{
		{60, 6, 1, 0.06745527, 0.13491055, 1.14298050, -0.41280160}, // Winter's own example
		{100, 10, 1, 0.06745527, 0.13491055, 1.14298050, -0.41280160},
		{60, 6, 2, 0.09444674, 0.18889349, 0.96264131, -0.34042828},
		{100, 6, 1, 0.02785977, 0.05571953, 1.47548044, -0.58691951},
		{100, 6, 2, 0.04059468, 0.08118936, 1.35474882, -0.51712754},
		{120, 8, 2, 0.04858466, 0.09716932, 1.28700977, -0.48134840},
		{120, 10, 2, 0.07043104, 0.14086208, 1.12184136, -0.40356553},
		{240, 8, 2, 0.01427457, 0.02854915, 1.63472909, -0.69182739},
		{240, 10, 2, 0.02139029, 0.04278057, 1.54576820, -0.63132934},
		{240, 12, 2, 0.02956907, 0.05913815, 1.45810386, -0.57638016},
		{30, 6, 2, 0.26449377, 0.52898755, 0.11597653, -0.17395162},
	} {
		got, err := signal.Design(signal.Butterworth, c.fc, c.fs, c.passes)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range [][2]float64{{got.A0, c.a0}, {got.A1, c.a1}, {got.A2, c.a0}, {got.B1, c.b1}, {got.B2, c.b2}} {
			if math.Abs(p[0]-p[1]) > 6e-9 {
				t.Errorf("%g/%g Hz, %d passes: coefficient %.8f, published %.8f", c.fs, c.fc, c.passes, p[0], p[1])
			}
		}
	}
}

func TestGainAtCutoff(t *testing.T) {
	for _, d := range []signal.Damping{signal.Butterworth, signal.CriticallyDamped} {
		one, _ := signal.Design(d, 6, 60, 1)
		two, _ := signal.Design(d, 6, 60, 2)
		if g := one.Gain(6, 60); math.Abs(g-0.707107) > 1e-6 {
			t.Errorf("damping %d: one pass has gain %.6f at the cut-off, want 0.707107", d, g)
		}
		if g := two.Gain(6, 60); math.Abs(g*g-0.707107) > 1e-6 {
			t.Errorf("damping %d: two corrected passes have gain %.6f at the cut-off, want 0.707107", d, g*g)
		}
		if g := two.Gain(0, 60); math.Abs(g-1) > 1e-12 {
			t.Errorf("damping %d: gain at rest %.15f", d, g)
		}
	}
}

func TestDesignRefuses(t *testing.T) {
	for _, c := range [][2]float64{{0, 60}, {30, 60}, {-1, 60}, {6, 0}, {math.NaN(), 60}, {6, math.NaN()}, {6, math.Inf(1)}} {
		if _, err := signal.Design(signal.Butterworth, c[0], c[1], 2); err == nil {
			t.Errorf("cut-off %g at %g Hz was accepted", c[0], c[1])
		}
	}
}

// A sine of the cut-off frequency comes out with 1/√2 of its amplitude and
// without delay.
func TestLowPassOfSine(t *testing.T) {
	const fs, fc = 150.0, 8.0
	x := make([]float64, 900)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * fc * float64(i) / fs)
	}
	y, err := signal.LowPass(x, fc, fs)
	if err != nil {
		t.Fatal(err)
	}
	for i := 300; i < 600; i++ {
		if math.Abs(y[i]-x[i]/math.Sqrt2) > 1e-6 {
			t.Fatalf("sample %d: %.8f, want %.8f", i, y[i], x[i]/math.Sqrt2)
		}
	}
}

func finiteSignal(min int) *rapid.Generator[[]float64] {
	return rapid.Custom(func(t *rapid.T) []float64 {
		n := rapid.IntRange(min, 120).Draw(t, "n")
		seed := rapid.Uint64().Draw(t, "seed")
		r := rand.New(rand.NewPCG(seed, 1))
		x := make([]float64, n)
		for i := range x {
			x[i] = r.NormFloat64()
		}
		return x
	})
}

func lowPass(t *rapid.T, x []float64, fc float64) []float64 {
	y, err := signal.LowPass(x, fc, 100)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

func close(t *rapid.T, what string, a, b []float64, tol float64) {
	t.Helper()
	for i := range a {
		if math.IsNaN(a[i]) != math.IsNaN(b[i]) || math.Abs(a[i]-b[i]) > tol {
			t.Fatalf("%s: sample %d is %g, want %g", what, i, a[i], b[i])
		}
	}
}

func TestLowPassProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := finiteSignal(4).Draw(t, "x")
		fc := rapid.Float64Range(2, 40).Draw(t, "fc")
		k := rapid.Float64Range(-50, 50).Draw(t, "k")
		slope := rapid.Float64Range(-3, 3).Draw(t, "slope")
		y := lowPass(t, x, fc)

		// Linear: scaling, adding a constant and adding a straight line pass through.
		z := make([]float64, len(x))
		want := make([]float64, len(x))
		for i := range x {
			line := k + slope*float64(i)
			z[i], want[i] = 2*x[i]+line, 2*y[i]+line
		}
		got := lowPass(t, z, fc)
		close(t, "line", got, want, 1e-8*(1+math.Abs(slope)))
		for i := range z {
			z[i], want[i] = 2*x[i]+k, 2*y[i]+k
		}
		close(t, "constant", lowPass(t, z, fc), want, 1e-8)
	})
}

func TestLowPassTimeReversal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := finiteSignal(60).Draw(t, "x")
		fc := rapid.Float64Range(6, 35).Draw(t, "fc")
		y := lowPass(t, x, fc)
		r := make([]float64, len(x))
		for i := range x {
			r[i] = x[len(x)-1-i]
		}
		z := lowPass(t, r, fc)
		for i := range y {
			if math.Abs(y[i]-z[len(z)-1-i]) > 2e-3 {
				t.Fatalf("sample %d: %g forward, %g reversed", i, y[i], z[len(z)-1-i])
			}
		}
	})
}

func TestLowPassKeepsGaps(t *testing.T) {
	x := []float64{math.NaN(), 1, 1, 1, 1, 1, 1, math.NaN(), 5, 5, 5, 5, 5, math.NaN(), 7, 8, math.NaN()}
	y, err := signal.LowPass(x, 8, 60)
	if err != nil {
		t.Fatal(err)
	}
	for i := range x {
		if math.IsNaN(x[i]) != math.IsNaN(y[i]) || math.Abs(x[i]-y[i]) > 1e-9 {
			t.Errorf("sample %d: %g, want %g", i, y[i], x[i])
		}
	}
}

func TestFillGaps(t *testing.T) {
	nan := math.NaN()
	ts := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
	x := []float64{nan, 0, 1, nan, 9, 16, nan, nan, nan, 64}
	filled := signal.FillGaps(ts, x, 2.5, signal.Cubic)
	if filled == nil || !filled[3] || filled[6] || filled[0] {
		t.Fatalf("filled %v", filled)
	}
	if math.Abs(x[3]-4) > 1 {
		t.Errorf("the parabola's missing value came out as %g, want about 4", x[3])
	}
	if !math.IsNaN(x[6]) || !math.IsNaN(x[0]) {
		t.Error("a gap over the limit, or at the start, was filled")
	}
	y := []float64{0, 1, nan, nan, 1, 0}
	signal.FillGaps(ts[:6], y, 5, signal.Cubic)
	if y[2] <= 1.05 {
		t.Errorf("the cubic bridge should arch over the gap, got %g", y[2])
	}
	z := []float64{0, 1, nan, nan, 1, 0}
	signal.FillGaps(ts[:6], z, 5, signal.Monotone)
	if z[2] != 1 {
		t.Errorf("the monotone bridge should stay at 1, got %g", z[2])
	}
	if signal.FillGaps(ts[:3], []float64{1, 2, 3}, 1, signal.Cubic) != nil {
		t.Error("nothing to fill, yet samples are marked")
	}
	if g := signal.Gaps([]float64{nan, 1, nan, nan, 2, nan}); len(g) != 3 || g[1] != (signal.Span{From: 2, To: 4}) {
		t.Errorf("gaps %v", g)
	}
}

func unevenClock(t *rapid.T, n int) []float64 {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "clock"), 2))
	ts := make([]float64, n)
	at := 0.0
	for i := range ts {
		ts[i] = at
		at += 0.01 * (0.4 + 1.2*r.Float64())
	}
	return ts
}

// Both derivatives are exact for a quadratic on any clock.
func TestDerivativesOfQuadratic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ts := unevenClock(t, 30)
		a := rapid.Float64Range(-9, 9).Draw(t, "a")
		b := rapid.Float64Range(-9, 9).Draw(t, "b")
		x := make([]float64, len(ts))
		for i, s := range ts {
			x[i] = 1 + b*s + a*s*s
		}
		x[14] = math.NaN()
		d, dd := make([]float64, len(x)), make([]float64, len(x))
		signal.Derivative(d, ts, x)
		signal.SecondDerivative(dd, ts, x)
		for i, s := range ts {
			if i == 14 {
				if !math.IsNaN(d[i]) || !math.IsNaN(dd[i]) {
					t.Fatal("a missing sample was given a derivative")
				}
				continue
			}
			if math.Abs(d[i]-b-2*a*s) > 1e-6 || math.Abs(dd[i]-2*a) > 1e-5 {
				t.Fatalf("at %g: %g and %g, want %g and %g", s, d[i], dd[i], b+2*a*s, 2*a)
			}
		}
	})
}

// Resampling to an even grid and back returns a smooth signal.
func TestResampleThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ts := unevenClock(t, 200)
		x := make([]float64, len(ts))
		for i, s := range ts {
			x[i] = math.Sin(2 * math.Pi * 2 * s)
		}
		grid := signal.EvenGrid(ts)
		if !signal.Even(grid) || grid[0] != ts[0] || math.Abs(grid[len(grid)-1]-ts[len(ts)-1]) > 1e-9 {
			t.Fatal("the grid is not even or does not span the clock")
		}
		on, back := make([]float64, len(grid)), make([]float64, len(ts))
		signal.Resample(on, ts, x, grid)
		signal.Resample(back, grid, on, ts)
		for i := range x {
			if !math.IsNaN(back[i]) && math.Abs(back[i]-x[i]) > 5e-3 {
				t.Fatalf("at %g: %g, want %g", ts[i], back[i], x[i])
			}
		}
	})
}

// On an uneven clock the smoother gives what filtering the same motion on an
// even clock gives.
func TestSmootherOnUnevenClock(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	even, uneven := make([]float64, 600), make([]float64, 600)
	for i := range even {
		even[i] = float64(i) / 120
		uneven[i] = (float64(i) + 0.3*(r.Float64()-0.5)) / 120
	}
	motion := func(s float64) float64 { return math.Sin(2*math.Pi*1.4*s) + 0.4*math.Cos(2*math.Pi*5*s) }
	a, b := make([]float64, 600), make([]float64, 600)
	for i := range even {
		a[i], b[i] = motion(even[i]), motion(uneven[i])
	}
	se, su := signal.NewSmoother(even), signal.NewSmoother(uneven)
	if err := se.LowPass(a, a, 6); err != nil {
		t.Fatal(err)
	}
	if err := su.LowPass(b, b, 6); err != nil {
		t.Fatal(err)
	}
	for i := 60; i < 540; i++ {
		want := signal.At(even, a, uneven[i])
		if math.Abs(b[i]-want) > 4e-3 {
			t.Fatalf("at %.3f s: %.5f, want %.5f", uneven[i], b[i], want)
		}
	}
	if err := se.LowPass(a, a, -1); err == nil {
		t.Error("a negative cut-off was accepted")
	}
}

func TestNormalise(t *testing.T) {
	ts, x := make([]float64, 80), make([]float64, 80)
	for i := range ts {
		ts[i] = float64(i) / 60
		x[i] = 3*ts[i] - 1
	}
	var out [101]float64
	signal.Normalise(out[:], ts, x, 0.305, 0.955)
	for k, v := range out {
		if want := 3*(0.305+0.0065*float64(k)) - 1; math.Abs(v-want) > 1e-9 {
			t.Fatalf("point %d: %g, want %g", k, v, want)
		}
	}
	signal.Normalise(out[:], ts, x, 1, 2)
	if !math.IsNaN(out[100]) {
		t.Error("a point outside the clock was given a value")
	}
}

func TestPeaksBetweenSamples(t *testing.T) {
	const f, fs, phase = 2.7, 60.0, 0.31
	ts, x := make([]float64, 240), make([]float64, 240)
	for i := range ts {
		ts[i] = float64(i) / fs
		x[i] = math.Cos(2*math.Pi*f*ts[i]-phase) + 0.02*math.Cos(2*math.Pi*21*ts[i])
	}
	peaks := signal.Peaks(x, 0.5)
	valleys := signal.Valleys(x, 0.5)
	// The first top, 0.018 s in, has no ground before it to rise from.
	if len(peaks) != 10 || len(valleys) != 11 {
		t.Fatalf("%d peaks and %d valleys, want 10 and 11", len(peaks), len(valleys))
	}
	for k, p := range peaks {
		want := (float64(k+1) + phase/(2*math.Pi)) / f
		if math.Abs(p.At(ts)-want) > 0.012 {
			t.Errorf("peak %d at %.4f, want %.4f", k, p.At(ts), want)
		}
	}
}

// Prominence as found by the stack agrees with its definition.
func TestPeaksAgainstDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := finiteSignal(5).Draw(t, "x")
		prominence := rapid.Float64Range(0.1, 2).Draw(t, "prominence")
		got := map[int]bool{}
		for _, p := range signal.Peaks(x, prominence) {
			got[p.Index] = true
		}
		for i := 1; i+1 < len(x); i++ {
			isTop := x[i] > x[i-1] && x[i] >= x[i+1]
			lowL, lowR := x[i], x[i]
			for k := i - 1; k >= 0 && x[k] < x[i]; k-- {
				lowL = math.Min(lowL, x[k])
			}
			for k := i + 1; k < len(x) && x[k] <= x[i]; k++ {
				lowR = math.Min(lowR, x[k])
			}
			want := isTop && x[i]-math.Max(lowL, lowR) >= prominence
			if want != got[i] {
				t.Fatalf("sample %d: peak %v, want %v", i, got[i], want)
			}
		}
	})
}

func TestCrossings(t *testing.T) {
	ts := []float64{0, 1, 2, 3, 5}
	c := signal.Crossings(ts, []float64{-1, 3, math.NaN(), 2, -2}, 0)
	if len(c) != 2 || c[0].TimeS != 0.25 || !c[0].Rising || c[1].TimeS != 4 || c[1].Rising {
		t.Errorf("%+v", c)
	}
}

func TestPeriod(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	x := make([]float64, 900)
	for i := range x {
		s := float64(i) / 150
		x[i] = math.Sin(2*math.Pi*1.42*s) + 0.7*math.Sin(2*math.Pi*2.84*s+1) + 0.2*r.NormFloat64()
	}
	p, corr := signal.Period(x, 150, 0.4, 1.6)
	if math.Abs(p-1/1.42) > 0.003 || corr < 0.9 {
		t.Errorf("period %.4f s (correlation %.2f), want %.4f", p, corr, 1/1.42)
	}
	if p, _ := signal.Period(make([]float64, 100), 100, 0.1, 0.4); p != 0 {
		t.Error("a resting signal was given a period")
	}
	if p, _ := signal.Period(nil, 100, 0.1, 0.4); p != 0 {
		t.Error("an empty signal was given a period")
	}
}

func TestRobustStatistics(t *testing.T) {
	x := []float64{3, math.NaN(), 1, 2, 100, 4}
	if m := signal.Median(x); m != 3 {
		t.Errorf("median %g", m)
	}
	if m := signal.MAD(x); math.Abs(m-1.4826022) > 1e-6 {
		t.Errorf("MAD %g, want 1.4826", m)
	}
	if q := signal.Quantile(x, 0.25); q != 2 {
		t.Errorf("quartile %g", q)
	}
	if mean, sd, n := signal.MeanSD([]float64{1, 2, 3, math.NaN()}); mean != 2 || sd != 1 || n != 3 {
		t.Errorf("%g %g %d", mean, sd, n)
	}
	if !math.IsNaN(signal.Median(nil)) || !math.IsNaN(signal.Quantile(nil, 0.5)) {
		t.Error("no values must give no median")
	}
}

func TestRejectOutliers(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	x, conf, dst := make([]float64, 300), make([]float64, 300), make([]float64, 300)
	for i := range x {
		x[i] = 200*math.Sin(2*math.Pi*1.4*float64(i)/60) + r.NormFloat64()
		conf[i] = 1
	}
	bad := []int{40, 41, 133, 250}
	for _, i := range bad {
		x[i] += 120
	}
	conf[77] = 0.01
	n := signal.RejectOutliers(dst, x, conf, signal.DefaultOutliers)
	for _, i := range append(bad, 77) {
		if !math.IsNaN(dst[i]) {
			t.Errorf("outlier at %d was kept", i)
		}
	}
	if n > 20 {
		t.Errorf("%d of 300 samples dropped, of which 5 were bad", n)
	}
}

// Where signal and noise are known, the chosen cut-off lies between the
// signal's highest frequency and the noise that the filter can remove, and
// smoothing with it brings the signal nearer to the truth.
func TestResidualAnalysis(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	truth, x := make([]float64, 1200), make([]float64, 1200)
	for i := range x {
		s := float64(i) / 150
		truth[i] = 100*math.Sin(2*math.Pi*1.4*s) + 40*math.Sin(2*math.Pi*2.8*s) + 8*math.Sin(2*math.Pi*4.2*s)
		x[i] = truth[i] + r.NormFloat64()
	}
	res, err := signal.ResidualAnalysis(x, 150, 2, 20)
	if err != nil {
		t.Fatal(err)
	}
	if res.CutoffHz < 4.5 || res.CutoffHz > 14 {
		t.Errorf("cut-off %.1f Hz, want between 4.5 and 14", res.CutoffHz)
	}
	if res.NoiseRMS < 0.7 || res.NoiseRMS > 1.15 {
		t.Errorf("noise read as %.2f, is 1", res.NoiseRMS)
	}
	y, _ := signal.LowPass(x, res.CutoffHz, 150)
	var before, after float64
	for i := range x {
		before += (x[i] - truth[i]) * (x[i] - truth[i])
		after += (y[i] - truth[i]) * (y[i] - truth[i])
	}
	if after > 0.5*before {
		t.Errorf("smoothing left %.2f of the squared error", after/before)
	}
	if _, err := signal.ResidualAnalysis(x[:10], 150, 2, 20); err == nil {
		t.Error("ten samples were accepted")
	}
	if _, err := signal.ResidualAnalysis(x, 5, 2, 20); err == nil {
		t.Error("5 Hz was accepted")
	}
}

func BenchmarkSmoother30s240Hz(b *testing.B) {
	ts, x, y := make([]float64, 7200), make([]float64, 7200), make([]float64, 7200)
	for i := range ts {
		ts[i] = float64(i) / 240
		x[i] = math.Sin(ts[i])
	}
	s := signal.NewSmoother(ts)
	b.ReportAllocs()
	for b.Loop() {
		if err := s.LowPass(y, x, 8); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRejectOutliers30s240Hz(b *testing.B) {
	x, y := make([]float64, 7200), make([]float64, 7200)
	for i := range x {
		x[i] = math.Sin(float64(i) / 40)
	}
	b.ReportAllocs()
	for b.Loop() {
		signal.RejectOutliers(y, x, nil, signal.DefaultOutliers)
	}
}

func BenchmarkResidualAnalysis30s240Hz(b *testing.B) {
	x := make([]float64, 7200)
	for i := range x {
		x[i] = math.Sin(float64(i)/40) + 0.01*math.Sin(float64(i*i))
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := signal.ResidualAnalysis(x, 240, 2, 20); err != nil {
			b.Fatal(err)
		}
	}
}

// The spline passes through its points, is exact for a line, and comes near a
// smooth motion between them; runs are kept apart.
func TestSpline(t *testing.T) {
	ts, x := make([]float64, 60), make([]float64, 60)
	for i := range ts {
		ts[i] = float64(i) / 30
		x[i] = math.Sin(2 * math.Pi * 3 * ts[i])
	}
	x[30] = math.NaN()
	at, y := make([]float64, 400), make([]float64, 400)
	for i := range at {
		at[i] = float64(i)/200 - 0.01
	}
	signal.Spline(y, ts, x, at, nil)
	for i, s := range at {
		inGap := s < 0 || s > ts[29] && s < ts[31] || s > ts[59]
		if math.IsNaN(y[i]) != inGap {
			t.Fatalf("at %.3f s: %g", s, y[i])
		}
		away := s > 0.15 && s < 0.8 || s > 1.2 && s < 1.8
		if away && math.Abs(y[i]-math.Sin(2*math.Pi*3*s)) > 0.004 {
			t.Errorf("at %.3f s: %.4f, want %.4f", s, y[i], math.Sin(2*math.Pi*3*s))
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		ts := unevenClock(t, 20)
		x := make([]float64, 20)
		for i, s := range ts {
			x[i] = 4 - 3*s
		}
		at := signal.EvenGrid(ts)
		y := make([]float64, len(at))
		signal.Spline(y, ts, x, at, nil)
		for i, s := range at {
			if !math.IsNaN(y[i]) && math.Abs(y[i]-(4-3*s)) > 1e-9 {
				t.Fatalf("line at %g: %g", s, y[i])
			}
		}
	})
}
