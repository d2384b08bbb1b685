package agree

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a confidence interval.
type Interval struct{ Low, High float64 }

// Limits are the limits of agreement of two methods or two occasions (Bland &
// Altman 1986, Lancet 327:307-310). Differences are first minus second.
type Limits struct {
	N           int
	Bias, SD    float64 // mean and standard deviation of the differences
	SE          float64 // standard error of the bias, SD/√n
	Lower       float64 // bias - 1.96 SD
	Upper       float64 // bias + 1.96 SD
	LimitSE     float64 // standard error of a limit, √(3 SD²/n)
	BiasCI      Interval
	LowerCI     Interval
	UpperCI     Interval
	R           float64 // Pearson correlation of the two, which is not agreement
	Means       []float64
	Differences []float64
}

// At returns the limits bias ± z·SD; z is 1.96 for Lower and Upper, and was 2 in
// the paper of 1986.
func (l Limits) At(z float64) (lower, upper float64) { return l.Bias - z*l.SD, l.Bias + z*l.SD }

// BlandAltman compares two series of single readings of the same targets, with
// 95 % confidence intervals by Student's t on n-1 degrees of freedom.
func BlandAltman(first, second []float64) (Limits, error) {
	if len(first) != len(second) {
		return Limits{}, fmt.Errorf("the two series have %d and %d readings: each needs its partner", len(first), len(second))
	}
	n := len(first)
	if n < 3 {
		return Limits{}, fmt.Errorf("limits of agreement need at least three pairs, not %d", n)
	}
	l := Limits{N: n, Means: make([]float64, n), Differences: make([]float64, n)}
	for i := range first {
		l.Differences[i] = first[i] - second[i]
		l.Means[i] = (first[i] + second[i]) / 2
		if math.IsNaN(l.Differences[i]) || math.IsInf(l.Differences[i], 0) {
			return Limits{}, fmt.Errorf("pair %d has a missing reading: leave that pair out", i+1)
		}
	}
	l.Bias, l.SD = stat.MeanStdDev(l.Differences, nil)
	l.R = stat.Correlation(first, second, nil)
	l.finish(l.SD)
	return l, nil
}

// finish fills the limits and intervals from the bias and SD; meanSD is the
// standard deviation whose n-th part is the variance of the bias.
func (l *Limits) finish(meanSD float64) {
	n := float64(l.N)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(0.975)
	l.SE = meanSD / math.Sqrt(n)
	l.LimitSE = math.Sqrt(3 * sq(l.SD) / n)
	l.Lower, l.Upper = l.At(1.96)
	l.BiasCI = Interval{l.Bias - t*l.SE, l.Bias + t*l.SE}
	l.LowerCI = Interval{l.Lower - t*l.LimitSE, l.Lower + t*l.LimitSE}
	l.UpperCI = Interval{l.Upper - t*l.LimitSE, l.Upper + t*l.LimitSE}
}

// BlandAltmanRepeated compares two methods that each measured every target
// several times, the target standing still meanwhile: limits for single
// readings, from the means of each target's readings and the within-target
// variances (Bland & Altman 1986; unequal numbers of readings as in Bland &
// Altman 2007, J Biopharm Stat 17:571-582, from memory):
// SD² = var(mean differences) + (1-1/m₁)·s₁² + (1-1/m₂)·s₂².
func BlandAltmanRepeated(first, second [][]float64) (Limits, error) {
	if len(first) != len(second) {
		return Limits{}, fmt.Errorf("the two methods have %d and %d targets", len(first), len(second))
	}
	a, b := make([]float64, len(first)), make([]float64, len(first))
	inverse := [2]float64{}
	for i := range first {
		if len(first[i]) == 0 || len(second[i]) == 0 {
			return Limits{}, fmt.Errorf("target %d has no readings by one method", i+1)
		}
		a[i], b[i] = stat.Mean(first[i], nil), stat.Mean(second[i], nil)
		inverse[0] += 1 / float64(len(first[i]))
		inverse[1] += 1 / float64(len(second[i]))
	}
	l, err := BlandAltman(a, b)
	if err != nil {
		return Limits{}, err
	}
	meanSD, variance := l.SD, sq(l.SD)
	for m, readings := range [2][][]float64{first, second} {
		if s, err := WithinSD(readings); err == nil {
			variance += (1 - inverse[m]/float64(len(first))) * sq(s)
		}
	}
	l.SD = math.Sqrt(variance)
	l.finish(meanSD)
	return l, nil
}

// WithinSD is the standard deviation of repeated readings of the same target,
// pooled over targets: √(mean squares within). It is the SEM of one reading.
func WithinSD(readings [][]float64) (float64, error) {
	ss, df := 0.0, 0
	for i, r := range readings {
		mean := stat.Mean(r, nil)
		for _, v := range r {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return 0, fmt.Errorf("target %d has a missing reading: leave it out", i+1)
			}
			ss += sq(v - mean)
		}
		if len(r) > 0 {
			df += len(r) - 1
		}
	}
	if df == 0 {
		return 0, fmt.Errorf("no target was measured twice: a within-target error needs repeated readings")
	}
	return math.Sqrt(ss / float64(df)), nil
}

// Repeatability is the spread of one method about itself from pairs of readings
// of the same target, taking the mean difference as zero (Bland & Altman 1986):
// the standard deviation of the differences √(Σd²/n), the coefficient of
// repeatability of twice that, and the within-target standard deviation √(Σd²/2n).
type Repeatability struct {
	SD, Coefficient, WithinSD float64
}

// RepeatabilityOf returns the repeatability of paired readings.
func RepeatabilityOf(first, second []float64) (Repeatability, error) {
	if len(first) != len(second) || len(first) == 0 {
		return Repeatability{}, fmt.Errorf("repeatability needs pairs: the series have %d and %d readings", len(first), len(second))
	}
	ss := 0.0
	for i := range first {
		ss += sq(first[i] - second[i])
	}
	if math.IsNaN(ss) || math.IsInf(ss, 0) {
		return Repeatability{}, fmt.Errorf("a reading is missing: leave that pair out")
	}
	sd := math.Sqrt(ss / float64(len(first)))
	return Repeatability{SD: sd, Coefficient: 2 * sd, WithinSD: sd / math.Sqrt2}, nil
}
