// Package tally is the statistics of counts: shares with their intervals, two
// shares held against each other, and tables of two by two.
//
// Intervals are for a level such as 0.95. A share of nobody has no interval: NaN.
package tally

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Share is k of n with its interval.
type Share struct {
	K, N      int
	Low, High float64 // 0 to 1
}

// Of returns the share k/n; NaN where n is 0.
func (s Share) Of() float64 { return float64(s.K) / float64(s.N) }

// quantile of the standard normal, two-sided.
func quantile(level float64) float64 { return distuv.UnitNormal.Quantile(0.5 + level/2) }

// Wilson is the share k/n with the score interval without correction for
// continuity (Wilson 1927, J Am Stat Assoc 22:209; formula in Newcombe 1998, Stat
// Med 17:857, method 3). It panics where k is not within 0 to n.
func Wilson(k, n int, level float64) Share {
	if k < 0 || k > n {
		panic("tally: a part that is not within the whole")
	}
	s := Share{K: k, N: n, Low: math.NaN(), High: math.NaN()}
	if n == 0 {
		return s
	}
	z := quantile(level)
	p, m := float64(k)/float64(n), float64(n)
	mid := p + z*z/(2*m)
	half := z * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	s.Low, s.High = math.Max(0, (mid-half)/(1+z*z/m)), math.Min(1, (mid+half)/(1+z*z/m))
	if k == 0 {
		s.Low = 0
	}
	if k == n {
		s.High = 1
	}
	return s
}

// Difference is one share minus another with its interval, −1 to 1.
type Difference struct{ Value, Low, High float64 }

// Newcombe is a − b with the hybrid score interval (Newcombe 1998, Stat Med
// 17:873, method 10). NaN where one of them is a share of nobody.
func Newcombe(a, b Share, level float64) Difference {
	a, b = Wilson(a.K, a.N, level), Wilson(b.K, b.N, level)
	p, q := a.Of(), b.Of()
	return Difference{
		Value: p - q,
		Low:   p - q - math.Hypot(p-a.Low, b.High-q),
		High:  p - q + math.Hypot(a.High-p, q-b.Low),
	}
}

// Table is a table of two by two: of those with the first property Both have the
// second too, and First do not; of the others Second have the second, Neither not.
type Table struct{ Both, First, Second, Neither int }

// Odds is a ratio of odds with its interval.
type Odds struct{ Ratio, Low, High float64 }

// OddsRatio is Both·Neither/(First·Second) with Woolf's interval (Woolf 1955, Ann Hum
// Genet 19:251), one half added to each cell (Haldane 1956, Ann Hum Genet 20:309;
// Anscombe 1956, Biometrika 43:461), so that an empty cell has an answer.
func (t Table) OddsRatio(level float64) Odds {
	a, b, c, d := float64(t.Both)+0.5, float64(t.First)+0.5, float64(t.Second)+0.5, float64(t.Neither)+0.5
	ln := math.Log(a * d / (b * c))
	half := quantile(level) * math.Sqrt(1/a+1/b+1/c+1/d)
	return Odds{Ratio: math.Exp(ln), Low: math.Exp(ln - half), High: math.Exp(ln + half)}
}

// Expected is how many would have both if the two had nothing to do with each other.
func (t Table) Expected() float64 {
	n := t.Both + t.First + t.Second + t.Neither
	return float64(t.Both+t.First) * float64(t.Both+t.Second) / float64(n)
}

// Fisher is the two-sided p-value of the exact test (Fisher 1935, J R Stat Soc
// 98:39): the probability of all tables with the same margins that are no more
// likely than this one. 1 for a table of nobody.
func (t Table) Fisher() float64 {
	row, col := t.Both+t.First, t.Both+t.Second
	n := row + t.Second + t.Neither
	if n == 0 {
		return 1
	}
	ln := func(k int) float64 { v, _ := math.Lgamma(float64(k) + 1); return v }
	base := ln(row) + ln(n-row) + ln(col) + ln(n-col) - ln(n)
	chance := func(both int) float64 {
		return base - ln(both) - ln(row-both) - ln(col-both) - ln(n-row-col+both)
	}
	own, p := chance(t.Both), 0.0
	for k := max(0, row+col-n); k <= min(row, col); k++ {
		if c := chance(k); c <= own+1e-9 {
			p += math.Exp(c)
		}
	}
	return math.Min(1, p)
}

// Holm adjusts p-values of tests made together, so that the chance of even one false
// "different" is at most the level (Holm 1979, Scand J Stat 6:65). The result is in
// the order given; NaN stays, and is not counted.
func Holm(p []float64) []float64 {
	order := []int{}
	for i, v := range p {
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	out := slices.Clone(p)
	highest := 0.0
	for rank, i := range order {
		highest = math.Max(highest, math.Min(1, p[i]*float64(len(order)-rank)))
		out[i] = highest
	}
	return out
}

// Mean is a mean with the interval of Student's t.
type Mean struct {
	N                    int
	Value, SD, Low, High float64
}

// MeanOf works out the mean; the interval is NaN for fewer than two values.
func MeanOf(x []float64, level float64) Mean {
	m := Mean{N: len(x), Value: math.NaN(), SD: math.NaN(), Low: math.NaN(), High: math.NaN()}
	if m.N == 0 {
		return m
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	m.Value = sum / float64(m.N)
	if m.N < 2 {
		return m
	}
	ss := 0.0
	for _, v := range x {
		ss += (v - m.Value) * (v - m.Value)
	}
	m.SD = math.Sqrt(ss / float64(m.N-1))
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(m.N - 1)}.Quantile(0.5+level/2) * m.SD / math.Sqrt(float64(m.N))
	m.Low, m.High = m.Value-half, m.Value+half
	return m
}

// Welch is a − b of two means with its interval and two-sided p-value, variances not
// taken to be alike (Welch 1947, Biometrika 34:28). NaN where one has fewer than two
// values, or nothing varies.
func Welch(a, b Mean, level float64) (d Difference, p float64) {
	d = Difference{Value: a.Value - b.Value, Low: math.NaN(), High: math.NaN()}
	if a.N < 2 || b.N < 2 {
		return d, math.NaN()
	}
	va, vb := a.SD*a.SD/float64(a.N), b.SD*b.SD/float64(b.N)
	se := math.Sqrt(va + vb)
	if se == 0 {
		return d, math.NaN()
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: (va + vb) * (va + vb) / (va*va/float64(a.N-1) + vb*vb/float64(b.N-1))}
	half := t.Quantile(0.5+level/2) * se
	d.Low, d.High = d.Value-half, d.Value+half
	return d, 2 * t.CDF(-math.Abs(d.Value)/se)
}
