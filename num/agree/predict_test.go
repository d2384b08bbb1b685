package agree

import (
	"math"
	"testing"
)

// Quantiles from printed tables: t(5, 0.975) = 2.5706, t(16, 0.975) = 2.1199;
// chi-squared(20) 9.5908 and 34.1696 at 2.5 and 97.5 %.
func TestPredictionInterval(t *testing.T) {
	for _, tt := range []struct {
		n    int
		half float64
	}{{6, 2.5706 * math.Sqrt(7.0/6)}, {17, 2.1199 * math.Sqrt(18.0/17)}, {0, 1.96}} {
		got := PredictionInterval(10, 1, tt.n)
		near(t, "upper", got.High, 10+tt.half, 1e-4)
		near(t, "lower", got.Low, 10-tt.half, 1e-4)
	}
	if got := PredictionInterval(10, 1, 1); !math.IsInf(got.High, 1) {
		t.Errorf("one value says %v about the next", got)
	}
}

func TestSDInterval(t *testing.T) {
	got := SDInterval(1, 20)
	near(t, "low", got.Low, math.Sqrt(20/34.1696), 1e-5)
	near(t, "high", got.High, math.Sqrt(20/9.5908), 1e-5)
	if got := SDInterval(1, 0); !math.IsInf(got.High, 1) {
		t.Errorf("no degrees of freedom give %v", got)
	}
}
