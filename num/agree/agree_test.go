package agree

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// shroutFleiss is the table of Shrout & Fleiss (1979, Psychol Bull 86:420-428):
// six targets rated by four judges.
var shroutFleiss = [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}

// Peak expiratory flow in l/min of 17 people by two meters, twice each (Bland &
// Altman 1986, Lancet 327:307-310).
var (
	wright1 = []float64{494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427}
	wright2 = []float64{490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421}
	mini1   = []float64{512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451}
	mini2   = []float64{525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443}
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.7g, want %.7g ± %.1g", what, got, want, tolerance)
	}
}

// Check values 1-3: table of Shrout & Fleiss 1979, Psychol Bull 86:420 (S, seen),
// results computed from it (C) to these digits; the paper prints
// .17 .29 .71 .44 .62 .91.
func TestShroutFleiss(t *testing.T) {
	a, err := Analyse(shroutFleiss)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "grand mean", a.GrandMean, 5.291667, 5e-7)
	near(t, "SSB", a.SSB, 56.2083, 5e-5)
	near(t, "SSJ", a.SSJ, 97.4583, 5e-5)
	near(t, "SSE", a.SSE, 15.2917, 5e-5)
	near(t, "SSW", a.SSW, 112.7500, 5e-5)
	near(t, "BMS", a.BMS, 11.241667, 5e-7)
	near(t, "WMS", a.WMS, 6.263889, 5e-7)
	near(t, "JMS", a.JMS, 32.486111, 5e-7)
	near(t, "EMS", a.EMS, 1.019444, 5e-7)
	for i, want := range []float64{0.165742, 0.289764, 0.714841, 0.442797, 0.620051, 0.909316} {
		near(t, Forms[i].String(), a.ICC(Forms[i], 0.95).Value, want, 5e-7)
	}
	for form, want := range map[Form]Interval{ICC11: {-0.1329, 0.7226}, ICC21: {0.0188, 0.7611}, ICC31: {0.3425, 0.9459}} {
		c := a.ICC(form, 0.95)
		near(t, form.String()+" low", c.Low, want.Low, 5e-5)
		near(t, form.String()+" high", c.High, want.High, 5e-5)
	}
	near(t, "F of ICC(1,1)", a.ICC(ICC11, 0.95).F, 1.7947, 5e-5)
	near(t, "F of ICC(3,1)", a.ICC(ICC31, 0.95).F, 11.0273, 1e-4)
	near(t, "P of ICC(3,1)", a.ICC(ICC31, 0.95).P, 1.35e-4, 5e-7)
	near(t, "SEM consistency", a.SEMConsistency(), 1.00968, 5e-6)
	near(t, "its MDC95", MDC95(a.SEMConsistency()), 2.79868, 3e-5)
	near(t, "SEM agreement", a.SEMAgreement(), 2.50277, 1e-5)
	near(t, "its MDC95", MDC95(a.SEMAgreement()), 6.93732, 5e-5)
}

// The shared table with the six forms and intervals from a reference
// implementation.
func TestSharedReliabilityTable(t *testing.T) {
	ratings := numbers(t, "shrout_fleiss_1979.csv")
	a, err := Analyse(ratings)
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range records(t, "shrout_fleiss_1979_ICC_reference.csv") {
		c := a.ICC(Forms[i], 0.95)
		got := []float64{c.Value, c.F, c.DF1, c.DF2, c.P, c.Low, c.High}
		for j, name := range []string{"ICC", "F", "df1", "df2", "p", "lower", "upper"} {
			want, err := strconv.ParseFloat(row[j+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			near(t, Forms[i].String()+" "+name, got[j], want, 1e-8*math.Max(1, math.Abs(want)))
		}
	}
}

// Check values 4-5: 17 pairs of Bland & Altman 1986, Lancet 327:307 (S, seen), and
// the rest of the worked example; exact figures (C) with the
// paper's own (-2.1, 38.8, -79.7 to 75.5, 9.4, -22.0 to 17.8, 43.2, 56.4) within
// its rounding.
func TestBlandAltman(t *testing.T) {
	l, err := BlandAltman(wright1, mini1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", l.Bias, -2.117647, 5e-7)
	near(t, "SD", l.SD, 38.765130, 5e-7)
	lower, upper := l.At(2)
	near(t, "lower 2 SD", lower, -79.648, 5e-4)
	near(t, "upper 2 SD", upper, 75.413, 5e-4)
	near(t, "lower 1.96 SD", l.Lower, -78.097, 5e-4)
	near(t, "upper 1.96 SD", l.Upper, 73.862, 5e-4)
	near(t, "SE", l.SE, 9.4019, 5e-5)
	near(t, "bias low", l.BiasCI.Low, -22.05, 5e-3)
	near(t, "bias high", l.BiasCI.High, 17.81, 5e-3)
	near(t, "SE of a limit", l.LimitSE, 16.2846, 5e-4)
	near(t, "r", l.R, 0.943279, 5e-7)
	// The printed intervals of the limits are those about bias ± 2 SD.
	half := l.UpperCI.High - l.Upper
	near(t, "lower limit, low", lower-half, -114.17, 5e-3)
	near(t, "upper limit, high", upper+half, 109.93, 5e-3)

	for _, tt := range []struct {
		name                  string
		a, b                  []float64
		sd, coef, w, i21, i31 float64
	}{
		{"Wright", wright1, wright2, 21.6469, 43.29, 15.3067, 0.98316, 0.98305},
		{"Mini", mini1, mini2, 28.1582, 56.32, 19.9108, 0.96847, 0.96690},
	} {
		r, err := RepeatabilityOf(tt.a, tt.b)
		if err != nil {
			t.Fatal(err)
		}
		near(t, tt.name+" repeatability SD", r.SD, tt.sd, 5e-5)
		near(t, tt.name+" repeatability", r.Coefficient, tt.coef, 5e-3)
		near(t, tt.name+" within SD", r.WithinSD, tt.w, 5e-5)
		w, err := WithinSD(pair(tt.a, tt.b))
		if err != nil {
			t.Fatal(err)
		}
		near(t, tt.name+" pooled within SD", w, tt.w, 5e-5)
		a, err := Analyse(pair(tt.a, tt.b))
		if err != nil {
			t.Fatal(err)
		}
		near(t, tt.name+" ICC(2,1)", a.ICC(ICC21, 0.95).Value, tt.i21, 5e-6)
		near(t, tt.name+" ICC(3,1)", a.ICC(ICC31, 0.95).Value, tt.i31, 5e-6)
	}

	// Means of two readings: SD of the differences 33.2041; for single readings
	// the paper prints 37.7.
	rep, err := BlandAltmanRepeated(pair(wright1, wright2), pair(mini1, mini2))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "SD of differences of means", rep.SE*math.Sqrt(17), 33.2041, 5e-5)
	near(t, "SD corrected for single readings", rep.SD, 37.7, 0.06)
}

func TestSharedPeakFlow(t *testing.T) {
	table := numbers(t, "bland_altman_1986_pefr.csv")
	var first, second []float64
	for _, row := range table {
		first, second = append(first, row[0]), append(second, row[2])
	}
	l, err := BlandAltman(first, second)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bias", l.Bias, -2.117647, 5e-7)
	near(t, "SD", l.SD, 38.765130, 5e-7)
}

// Check value 6: SEM = SD·√(1-ICC), MDC95 = 1.96·√2·SEM (Weir 2005, J Strength
// Cond Res 19:231); figures computed (C).
func TestMDC(t *testing.T) {
	for _, tt := range []struct{ sd, icc, sem, mdc95, mdc90 float64 }{
		{5, 0.90, 1.5811, 4.3827, 3.6783}, {2, 0.75, 1, 2.7719, 2.3264}, {10, 0.95, 2.2361, 6.1981, 5.2019},
	} {
		sem := SEMFromICC(tt.sd, tt.icc)
		near(t, "SEM", sem, tt.sem, 5e-5)
		near(t, "MDC95", MDC95(sem), tt.mdc95, 5e-5)
		near(t, "MDC90", MDC90(sem), tt.mdc90, 5e-5)
	}
}

// Check value 7: index of Robinson 1987, angle of Zifchock 2008; figures computed
// from the formulas (C).
func TestSymmetry(t *testing.T) {
	for _, tt := range []struct{ left, right, index, angle float64 }{
		{100, 110, 9.5238, 3.0292}, {90, 110, 20, 6.3451}, {50, 100, 66.6667, 20.4833},
		{277.39, 280.34, 1.0579, 0.3367}, {5, 5, 0, 0},
	} {
		near(t, "index", SymmetryIndex(tt.left, tt.right), tt.index, 5e-5)
		near(t, "angle", SymmetryAngle(tt.left, tt.right), tt.angle, 5e-5)
	}
	if v := SymmetryIndex(-5, 5); !math.IsNaN(v) {
		t.Errorf("index about zero = %v, want NaN", v)
	}
	near(t, "angle of -5, 5", SymmetryAngle(-5, 5), 100, 1e-9)
	if v := SymmetryAngle(0, 0); !math.IsNaN(v) {
		t.Errorf("angle of nothing = %v, want NaN", v)
	}
}

func TestSymmetryProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, r := rapid.Float64Range(0.01, 1e4).Draw(t, "left"), rapid.Float64Range(0.01, 1e4).Draw(t, "right")
		k := rapid.Float64Range(0.01, 100).Draw(t, "scale")
		for name, f := range map[string]func(a, b float64) float64{"index": SymmetryIndex, "angle": SymmetryAngle} {
			if d := f(l, r) + f(r, l); math.Abs(d) > 1e-9 {
				t.Fatalf("%s: exchanging sides does not change the sign alone: %v", name, d)
			}
			if d := f(k*l, k*r) - f(l, r); math.Abs(d) > 1e-9 {
				t.Fatalf("%s depends on the unit: %v", name, d)
			}
			if f(l, r) > 0 != (r > l) {
				t.Fatalf("%s(%v, %v) = %v has the wrong sign", name, l, r, f(l, r))
			}
		}
	})
}

// ICC(3,1) ignores a rater's constant, ICC(2,1) and ICC(1,1) do not; none
// depends on unit or origin.
func TestReliabilityProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, k := rapid.IntRange(3, 12).Draw(t, "n"), rapid.IntRange(2, 5).Draw(t, "k")
		x := make([][]float64, n)
		for i := range x {
			x[i] = rapid.SliceOfN(rapid.Float64Range(-10, 10), k, k).Draw(t, "row")
		}
		gain, offset := rapid.Float64Range(0.1, 10).Draw(t, "gain"), rapid.Float64Range(-5, 5).Draw(t, "offset")
		y, z := make([][]float64, n), make([][]float64, n)
		for i := range x {
			for j, v := range x[i] {
				y[i] = append(y[i], gain*v+offset)
				if j == 0 {
					v += offset
				}
				z[i] = append(z[i], v)
			}
		}
		a, err := Analyse(x)
		if err != nil {
			t.Fatal(err)
		}
		if a.EMS < 1e-3 || a.BMS < 1e-3 {
			t.Skip("hardly any variance")
		}
		b, _ := Analyse(y)
		c, _ := Analyse(z)
		if d := a.SSW - a.SSJ - a.SSE; math.Abs(d) > 1e-9*(1+a.SSW) {
			t.Fatalf("sums of squares do not add up: %v", d)
		}
		for _, f := range Forms {
			p, q := a.ICC(f, 0.95), b.ICC(f, 0.95)
			if math.Abs(p.Value-q.Value) > 1e-6*(1+math.Abs(p.Value)) {
				t.Fatalf("%v depends on unit or origin: %v, %v", f, p.Value, q.Value)
			}
			if f != ICC21 && f != ICC2K && !(p.Low <= p.Value && p.Value <= p.High) {
				t.Fatalf("%v = %v lies outside %v to %v", f, p.Value, p.Low, p.High)
			}
		}
		if d := a.ICC(ICC31, 0.95).Value - c.ICC(ICC31, 0.95).Value; math.Abs(d) > 1e-6 {
			t.Fatalf("ICC(3,1) saw a rater's constant: %v", d)
		}
	})
}

func TestCMC(t *testing.T) {
	base := make([]float64, 101)
	for j := range base {
		base[j] = 40 * math.Sin(2*math.Pi*float64(j)/100)
	}
	same, err := CMC([][]float64{base, base, base})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "identical curves", same, 1, 1e-12)
	// Two curves c ± d about each other: the mean square about the mean curve is
	// 2d², the total is that of the curve plus d², so CMC² = 1-2d²/(V+d²) up to
	// the sample corrections.
	up, down := make([]float64, 101), make([]float64, 101)
	total, ss := 0.0, 0.0
	for j, v := range base {
		up[j], down[j] = v+3, v-3
		total += 2 * (v*v + 9)
	}
	ss = 2 * 9 * 101 / float64(101*(2-1))
	want := math.Sqrt(1 - ss/(total/float64(2*101-1)))
	got, _ := CMC([][]float64{up, down})
	near(t, "shifted curves", got, want, 1e-12)
	flat := [][]float64{{1, 1, 1}, {2, 2, 2}}
	if v, err := CMC(flat); err != nil || !math.IsNaN(v) {
		t.Errorf("curves without range: %v, %v; want NaN", v, err)
	}
	for _, bad := range [][][]float64{nil, {base}, {base, base[:50]}, {base, append([]float64{math.NaN()}, base[1:]...)}} {
		if _, err := CMC(bad); err == nil {
			t.Errorf("%d curves were accepted", len(bad))
		}
	}
}

func TestMeanOfKnowsAutocorrelation(t *testing.T) {
	// First-order autoregression with r = 0.6: the mean of n has variance
	// σ²/n·(1+r)/(1-r) for large n, so the effective number is n/4.
	const n, r = 4000, 0.6
	random := newNoise(7)
	x, white, zig := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		white[i] = random()
		x[i] = white[i]
		if i > 0 {
			x[i] += r * x[i-1]
		}
		zig[i] = white[i]
		if i%2 == 0 {
			zig[i] += 5
		}
	}
	near(t, "effective number", MeanOf(x).Effective, n/4, n/20)
	near(t, "effective number of independent values", MeanOf(white).Effective, n, n/8)
	if e := MeanOf(zig).Effective; e > n {
		t.Errorf("alternation made the mean surer: %v of %d", e, n)
	}
	m := MeanOf([]float64{1, math.NaN(), 3})
	near(t, "mean", m.Value, 2, 0)
	near(t, "SD", m.SD, math.Sqrt2, 1e-12)
	if m.N != 2 {
		t.Errorf("N = %d", m.N)
	}
	if m := MeanOf(nil); !math.IsNaN(m.Value) || m.N != 0 {
		t.Errorf("mean of nothing: %+v", m)
	}
	if m := MeanOf([]float64{4}); m.Value != 4 || !math.IsNaN(m.SE) {
		t.Errorf("mean of one: %+v", m)
	}
}

// The error claimed is the error made: over many short autocorrelated series the
// spread of the mean matches the mean claimed SE within a quarter, and is no
// smaller than SD/√n would say.
func TestMeanOfErrorIsHonest(t *testing.T) {
	random := newNoise(3)
	var means, claimed, naive []float64
	for range 600 {
		x := make([]float64, 40)
		v := random() / math.Sqrt(1-0.25)
		for i := range x {
			v = 0.5*v + random()
			x[i] = v
		}
		m := MeanOf(x)
		means, claimed, naive = append(means, m.Value), append(claimed, m.SE), append(naive, m.SD/math.Sqrt(40))
	}
	spread := MeanOf(means).SD
	near(t, "claimed over true error", MeanOf(claimed).Value/spread, 1, 0.25)
	if MeanOf(naive).Value >= MeanOf(claimed).Value {
		t.Error("autocorrelation did not widen the error")
	}
}

func TestStrides(t *testing.T) {
	// SD 5 within ±1 at 95 %: (1.96·5)² = 96.04.
	if n := NeededFor(5, 1); n != 97 {
		t.Errorf("NeededFor(5, 1) = %d", n)
	}
	for _, bad := range []int{NeededFor(5, 0), NeededFor(math.NaN(), 1), NeededFor(5, math.NaN())} {
		if bad != 0 {
			t.Errorf("NeededFor of nonsense = %d", bad)
		}
	}
	if n := StableFrom([]float64{3, 3, 3, 3}, 0.25); n != 1 {
		t.Errorf("constant series stable from %d", n)
	}
	drift := make([]float64, 50)
	for i := range drift {
		drift[i] = float64(i)
	}
	// Running mean i/2 enters 24.5 ± 0.25·14.577 = 20.856 at its 43rd value (21).
	if n := StableFrom(drift, 0.25); n != 43 {
		t.Errorf("drifting series stable from %d", n)
	}
}

func TestRefusals(t *testing.T) {
	nan := math.NaN()
	for _, bad := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {1}}, {{1, nan}, {1, 2}}} {
		if _, err := Analyse(bad); err == nil {
			t.Errorf("Analyse(%v) was accepted", bad)
		}
	}
	if _, err := BlandAltman([]float64{1, 2}, []float64{1, 2}); err == nil {
		t.Error("two pairs were accepted")
	}
	if _, err := BlandAltman([]float64{1, 2, 3}, []float64{1, 2}); err == nil {
		t.Error("unequal series were accepted")
	}
	if _, err := BlandAltman([]float64{1, 2, nan}, []float64{1, 2, 3}); err == nil || !strings.Contains(err.Error(), "pair 3") {
		t.Errorf("a missing reading: %v", err)
	}
	if _, err := WithinSD([][]float64{{1}, {2}}); err == nil {
		t.Error("single readings gave a within-target error")
	}
}

func ExampleTable_ICC() {
	t, _ := Analyse(shroutFleiss)
	for _, f := range Forms {
		c := t.ICC(f, 0.95)
		fmt.Printf("%v %.2f (%.2f to %.2f)\n", f, c.Value, c.Low, c.High)
	}
	// Output:
	// ICC(1,1) 0.17 (-0.13 to 0.72)
	// ICC(2,1) 0.29 (0.02 to 0.76)
	// ICC(3,1) 0.71 (0.34 to 0.95)
	// ICC(1,k) 0.44 (-0.88 to 0.91)
	// ICC(2,k) 0.62 (0.07 to 0.93)
	// ICC(3,k) 0.91 (0.68 to 0.99)
}

func pair(a, b []float64) [][]float64 {
	out := make([][]float64, len(a))
	for i := range a {
		out[i] = []float64{a[i], b[i]}
	}
	return out
}

// newNoise returns a repeatable source of about normal numbers with SD 1.
func newNoise(seed uint64) func() float64 {
	s := seed
	uniform := func() float64 {
		s = s*6364136223846793005 + 1442695040888963407
		return float64(s>>11) / (1 << 53)
	}
	return func() float64 {
		sum := -6.0
		for range 12 {
			sum += uniform()
		}
		return sum
	}
}

// records reads a shared table without its header, and skips where it is absent.
func records(t *testing.T, name string) [][]string {
	t.Helper()
	dir := os.Getenv("GAITWRIGHT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	f, err := os.Open(filepath.Join(dir, "data", "agreement", name))
	if err != nil {
		t.Skipf("the shared table is absent: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func numbers(t *testing.T, name string) [][]float64 {
	t.Helper()
	var out [][]float64
	for _, row := range records(t, name) {
		var v []float64
		for _, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, x)
		}
		out = append(out, v)
	}
	return out
}
