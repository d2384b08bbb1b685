package agree

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Table is the two-way analysis of variance of n targets rated k times each.
type Table struct {
	N, K               int // targets, ratings a target
	GrandMean          float64
	SSB, SSJ, SSE, SSW float64 // sums of squares: targets, raters, residual, within targets
	BMS, JMS, EMS, WMS float64 // mean squares of the same
}

// Analyse returns the analysis of variance of ratings, one row a target and one
// column a rating. It wants two targets and two ratings at least, rows of equal
// length and no missing cell.
func Analyse(ratings [][]float64) (Table, error) {
	n := len(ratings)
	if n < 2 {
		return Table{}, fmt.Errorf("reliability needs at least two targets (rows), not %d", n)
	}
	k := len(ratings[0])
	if k < 2 {
		return Table{}, fmt.Errorf("reliability needs at least two ratings (columns) of each target, not %d", k)
	}
	t := Table{N: n, K: k}
	columns := make([]float64, k)
	rows := make([]float64, n)
	for i, row := range ratings {
		if len(row) != k {
			return Table{}, fmt.Errorf("row %d has %d ratings where the first has %d: every target needs the same number", i+1, len(row), k)
		}
		for j, v := range row {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return Table{}, fmt.Errorf("row %d, column %d is missing or not a number: leave that target out", i+1, j+1)
			}
			rows[i] += v / float64(k)
			columns[j] += v / float64(n)
			t.GrandMean += v / float64(n*k)
		}
	}
	for i, row := range ratings {
		t.SSB += float64(k) * sq(rows[i]-t.GrandMean)
		for j, v := range row {
			t.SSW += sq(v - rows[i])
			t.SSE += sq(v - rows[i] - columns[j] + t.GrandMean)
		}
	}
	for _, c := range columns {
		t.SSJ += float64(n) * sq(c-t.GrandMean)
	}
	t.BMS = t.SSB / float64(n-1)
	t.JMS = t.SSJ / float64(k-1)
	t.EMS = t.SSE / float64((n-1)*(k-1))
	t.WMS = t.SSW / float64(n*(k-1))
	return t, nil
}

// Form is one of the six coefficients of Shrout & Fleiss.
type Form uint8

// The forms, in the order in which they are printed.
const (
	ICC11 Form = iota // one rating, each target by other raters
	ICC21             // one rating, agreement of raters drawn at random
	ICC31             // one rating, consistency of these raters
	ICC1K             // mean of k ratings, as ICC11
	ICC2K             // mean of k ratings, as ICC21
	ICC3K             // mean of k ratings, as ICC31
)

// Forms lists the six forms in printing order.
var Forms = [...]Form{ICC11, ICC21, ICC31, ICC1K, ICC2K, ICC3K}

// String returns the form's usual name, such as "ICC(2,1)".
func (f Form) String() string {
	return [...]string{"ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"}[f]
}

// Coefficient is an intraclass correlation with its confidence interval and the
// F test of its being zero.
type Coefficient struct {
	Form      Form
	Value     float64
	Low, High float64 // confidence interval
	F         float64
	DF1, DF2  float64
	P         float64
}

// ICC returns one coefficient with the confidence interval of the given level,
// such as 0.95 (Shrout & Fleiss 1979). With no variance at all every value is
// NaN.
func (t Table) ICC(form Form, level float64) Coefficient {
	n, k := float64(t.N), float64(t.K)
	upper := 1 - (1-level)/2
	c := Coefficient{Form: form, DF1: n - 1}
	switch form {
	case ICC11, ICC1K:
		c.F, c.DF2 = t.BMS/t.WMS, n*(k-1)
	default:
		c.F, c.DF2 = t.BMS/t.EMS, (n-1)*(k-1)
	}
	c.P = 1 - distuv.F{D1: c.DF1, D2: c.DF2}.CDF(c.F)
	switch form {
	case ICC11, ICC1K, ICC31, ICC3K:
		// For both, an F ratio stands for the coefficient: ICC = (F-1)/(F+k-1)
		// for one rating and 1-1/F for their mean.
		low := c.F / quantileF(upper, c.DF1, c.DF2)
		high := c.F * quantileF(upper, c.DF2, c.DF1)
		of := func(f float64) float64 { return (f - 1) / (f + k - 1) }
		if form == ICC1K || form == ICC3K {
			of = func(f float64) float64 { return 1 - 1/f }
		}
		c.Value, c.Low, c.High = of(c.F), of(low), of(high)
		if math.IsInf(c.F, 1) {
			c.Value, c.Low, c.High = 1, 1, 1
		}
	case ICC21, ICC2K:
		c.Value = (t.BMS - t.EMS) / (t.BMS + (k-1)*t.EMS + k*(t.JMS-t.EMS)/n)
		c.Low, c.High = t.agreementInterval(c.Value, upper)
		if form == ICC2K {
			// Spearman-Brown for the interval; the value from its own formula.
			c.Value = (t.BMS - t.EMS) / (t.BMS + (t.JMS-t.EMS)/n)
			c.Low, c.High = k*c.Low/(1+(k-1)*c.Low), k*c.High/(1+(k-1)*c.High)
		}
	}
	return c
}

// agreementInterval is the interval of ICC(2,1) with Satterthwaite's degrees of
// freedom (Shrout & Fleiss 1979, p. 424).
func (t Table) agreementInterval(icc, upper float64) (low, high float64) {
	n, k := float64(t.N), float64(t.K)
	fj := t.JMS / t.EMS
	if math.IsInf(fj, 0) || math.IsNaN(fj) {
		return math.NaN(), math.NaN()
	}
	u := n*(1+(k-1)*icc) - k*icc
	v := (k - 1) * (n - 1) * sq(k*icc*fj+u) / ((n-1)*sq(k*icc*fj) + sq(u))
	fu, fl := quantileF(upper, n-1, v), quantileF(upper, v, n-1)
	rest := k*t.JMS + (k*n-k-n)*t.EMS
	low = n * (t.BMS - fu*t.EMS) / (fu*rest + n*t.BMS)
	high = n * (fl*t.BMS - t.EMS) / (rest + n*fl*t.BMS)
	return low, high
}

// SEMConsistency is the standard error of measurement when systematic
// differences between ratings are left out: √EMS.
func (t Table) SEMConsistency() float64 { return math.Sqrt(t.EMS) }

// SEMAgreement is the standard error of measurement with systematic differences
// between ratings included: √(EMS + (JMS-EMS)/n).
func (t Table) SEMAgreement() float64 {
	return math.Sqrt(t.EMS + (t.JMS-t.EMS)/float64(t.N))
}

// SEMFromICC is SD·√(1-ICC) (Weir 2005); NaN for an ICC above 1.
func SEMFromICC(sd, icc float64) float64 { return sd * math.Sqrt(1-icc) }

// MDC95 is the smallest detectable change at 95 %: 1.96·√2·SEM (Weir 2005).
func MDC95(sem float64) float64 { return 1.96 * math.Sqrt2 * sem }

// MDC90 is the smallest detectable change at 90 %: 1.645·√2·SEM (Weir 2005).
func MDC90(sem float64) float64 { return 1.645 * math.Sqrt2 * sem }

func quantileF(p, d1, d2 float64) float64 {
	return distuv.F{D1: d1, D2: d2}.Quantile(p)
}

func sq(x float64) float64 { return x * x }
