package steprate

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestCompareRates(t *testing.T) {
	at := func(perMin, speed float64) Rate { return Rate{PerMin: perMin, SEM: 0.7, SpeedMPS: speed} }
	for _, c := range []struct {
		name        string
		before, now Rate
		want        Verdict
	}{
		{"quicker", at(160, 2.8), at(168, 2.8), Quicker},
		{"quicker and a little faster", at(160, 2.8), at(168, 2.85), Quicker},
		{"just faster", at(160, 2.8), at(163, 3.3), JustFaster},
		{"the same", at(160, 2.8), at(160.5, 2.8), NoChange},
		{"slower", at(160, 2.8), at(154, 2.8), Slower},
		{"speed not known", at(160, 2.8), at(168, 0), CannotTell},
		{"far apart", at(160, 2.0), at(163, 5.0), JustFaster},
		{"far slower", at(160, 5.0), at(160, 2.0), CannotTell},
	} {
		if got := CompareRates(c.before, c.now); got.Verdict != c.want || got.Text == "" {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	// Only what speed brings is taken off: 5.6 for 1 m/s (Burns 2019).
	if c := CompareRates(at(160, 2.5), at(165.6, 3.5)); math.Abs(c.Change) > 1e-9 {
		t.Errorf("%+v", c)
	}
}

// Of runners who only ran faster hardly any is called quicker.
func TestJustFasterIsSeldomCalledQuicker(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	wrong := 0
	const n = 5000
	for range n {
		d := 0.2 + r.Float64()
		slope := burnsPerMPS + slopeSD*r.NormFloat64()
		c := CompareRates(Rate{PerMin: 160 + 0.7*r.NormFloat64(), SEM: 0.7, SpeedMPS: 2.8}, Rate{PerMin: 160 + slope*d + 0.7*r.NormFloat64(), SEM: 0.7, SpeedMPS: 2.8 + d})
		if c.Verdict == Quicker {
			wrong++
		}
	}
	if share := float64(wrong) / n; share > 0.03 {
		t.Errorf("%.3f", share)
	}
}
