package agree

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// PredictionInterval is where the value of one more member of the same, about
// normal, population lies with 95 % probability, given the mean and standard
// deviation of n of them: mean ± t·SD·√(1+1/n) with t on n-1 degrees of freedom.
// It is wider than mean ± 1.96 SD because a small sample knows neither mean nor
// SD well. With n of 0, not known, it is mean ± 1.96 SD; with n of 1 it is
// endless.
func PredictionInterval(mean, sd float64, n int) Interval {
	half := 1.96 * sd
	switch {
	case n == 1:
		half = math.Inf(1)
	case n > 1:
		t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(0.975)
		half = t * sd * math.Sqrt(1+1/float64(n))
	}
	return Interval{mean - half, mean + half}
}

// SDInterval is the 95 % confidence interval of a standard deviation estimated
// on df degrees of freedom from about normal values, by the chi-squared
// distribution.
func SDInterval(sd float64, df int) Interval {
	if df < 1 {
		return Interval{0, math.Inf(1)}
	}
	chi := distuv.ChiSquared{K: float64(df)}
	return Interval{sd * math.Sqrt(float64(df)/chi.Quantile(0.975)), sd * math.Sqrt(float64(df)/chi.Quantile(0.025))}
}
