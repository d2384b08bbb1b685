package tally

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.6g, want %.6g ± %g", what, got, want, within)
	}
}

// TestWilsonPublished holds the interval against the worked examples of Newcombe
// 1998, Stat Med 17:857, table I, method 3 (from memory).
func TestWilsonPublished(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		s := Wilson(c.k, c.n, 0.95)
		near(t, "low", s.Low, c.low, 5e-5)
		near(t, "high", s.High, c.high, 5e-5)
	}
}

// TestNewcombePublished holds the difference against the worked examples of Newcombe
// 1998, Stat Med 17:873, table II, method 10 (from memory).
func TestNewcombePublished(t *testing.T) {
	for _, c := range []struct {
		a, m, b, n int
		low, high  float64
	}{{56, 70, 48, 80, 0.0524, 0.3339}, {9, 10, 3, 10, 0.1705, 0.8090}, {10, 10, 0, 10, 0.6075, 1}} {
		d := Newcombe(Share{K: c.a, N: c.m}, Share{K: c.b, N: c.n}, 0.95)
		near(t, "low", d.Low, c.low, 6e-5)
		near(t, "high", d.High, c.high, 6e-5)
	}
}

// TestFisherPublished: the lady tasting tea, 3 of 4 cups right, one-sided 17/70 and
// two-sided 34/70 (Fisher 1935, The Design of Experiments, ch. 2); and the twins of
// convicts, one-sided p = 619/1330665 (Fisher 1935, J R Stat Soc 98:39), which is
// also two-sided since the other tail has nothing as unlikely.
func TestFisherPublished(t *testing.T) {
	near(t, "tea", Table{3, 1, 1, 3}.Fisher(), 34.0/70, 1e-12)
	near(t, "twins", Table{10, 3, 2, 15}.Fisher(), 0.00053, 2e-5)
	near(t, "nobody", Table{}.Fisher(), 1, 0)
}

// TestHolmPublished: the steps of the method by hand.
func TestHolmPublished(t *testing.T) {
	got := Holm([]float64{0.01, 0.04, 0.03, 0.005, math.NaN()})
	want := []float64{0.03, 0.06, 0.06, 0.02}
	for i := range want {
		near(t, "p", got[i], want[i], 1e-12)
	}
	if !math.IsNaN(got[4]) {
		t.Errorf("what was not tested became %g", got[4])
	}
}

// TestMeansPublished: Student's sleep data (Student 1908, Biometrika 6:1): mean gain
// 0.75 and 2.33 hours in ten patients; Welch's t is −1.8608 with 17.776 degrees of
// freedom, p = 0.07939, interval −3.3655 to 0.2055, as any statistics text has it.
func TestMeansPublished(t *testing.T) {
	a := MeanOf([]float64{0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0, 2}, 0.95)
	b := MeanOf([]float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}, 0.95)
	near(t, "mean", a.Value, 0.75, 1e-12)
	near(t, "SD", a.SD, 1.789010, 1e-6)
	near(t, "SD", b.SD, 2.002249, 1e-6)
	d, p := Welch(a, b, 0.95)
	near(t, "p", p, 0.07939, 5e-6)
	near(t, "low", d.Low, -3.3654832, 1e-6)
	near(t, "high", d.High, 0.2054832, 1e-6)
	near(t, "low of a mean", a.Low, 0.75-2.262157*1.789010/math.Sqrt(10), 1e-5)
}

func TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		s := Wilson(k, n, 0.95)
		if !(0 <= s.Low && s.Low <= s.Of() && s.Of() <= s.High && s.High <= 1) {
			t.Fatalf("%+v does not hold its own share", s)
		}
		if w := Wilson(n-k, n, 0.95); math.Abs(1-w.High-s.Low) > 1e-12 {
			t.Fatalf("the others' interval %+v is not the mirror of %+v", w, s)
		}
		cell := rapid.IntRange(0, 12)
		x := Table{cell.Draw(t, "a"), cell.Draw(t, "b"), cell.Draw(t, "c"), cell.Draw(t, "d")}
		y := Table{x.Both, x.Second, x.First, x.Neither}
		if p := x.Fisher(); !(p > 0 && p <= 1) || math.Abs(p-y.Fisher()) > 1e-12 {
			t.Fatalf("p of %+v is %g, turned %g", x, p, y.Fisher())
		}
		if p := x.Fisher(); math.Abs(p-byHand(x)) > 1e-9 {
			t.Fatalf("p of %+v is %g, counted out %g", x, p, byHand(x))
		}
		if o, r := x.OddsRatio(0.95), y.OddsRatio(0.95); math.Abs(o.Ratio-r.Ratio) > 1e-9 || !(o.Low < o.Ratio && o.Ratio < o.High) {
			t.Fatalf("odds %+v, turned %+v", o, r)
		}
	})
}

// byHand counts out the exact test with whole numbers, another way than the package.
func byHand(x Table) float64 {
	choose := func(n, k int) float64 {
		v := 1.0
		for i := 1; i <= k; i++ {
			v = v * float64(n-k+i) / float64(i)
		}
		return math.Round(v)
	}
	row, col, n := x.Both+x.First, x.Both+x.Second, x.Both+x.First+x.Second+x.Neither
	var ways []float64
	own := 0.0
	for k := 0; k <= min(row, col); k++ {
		if col-k > n-row {
			continue
		}
		w := choose(row, k) * choose(n-row, col-k)
		if k == x.Both {
			own = w
		}
		ways = append(ways, w)
	}
	slices.Sort(ways)
	sum, all := 0.0, 0.0
	for _, w := range ways {
		all += w
		if w <= own*(1+1e-9) {
			sum += w
		}
	}
	if all == 0 {
		return 1
	}
	return sum / all
}
