package steprate

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
)

// recorded makes a run of a record a second: warm-up, ten minutes at 2.8 m/s, a
// stop, ten minutes at 3.2, a hill.
func recorded() *Run {
	nan := math.NaN()
	r := rand.New(rand.NewPCG(1, 9))
	run := &Run{}
	d, h := 0.0, 100.0
	for t := range 1800 {
		v, rate := 2.8, 164.0
		switch {
		case t < 60:
			v, rate = 1.2, 110
		case t >= 660 && t < 720:
			v, rate = 0, 0
		case t >= 720 && t < 1320:
			v, rate = 3.2, 167
		case t >= 1320:
			v, rate = 2.4, 162
			h += 0.12
		}
		d += v
		s := Sample{TimeS: float64(t), SpeedMPS: max(0, v+0.05*r.NormFloat64()), PerMin: rate, DistanceM: d, AltitudeM: h, ContactS: nan, OscillationM: nan}
		if rate > 120 {
			s.PerMin += r.NormFloat64()
		}
		run.Samples = append(run.Samples, s)
	}
	return run
}

func TestSteadyLeavesOutStopsAndHills(t *testing.T) {
	run := recorded()
	run.Settle()
	got := run.Steady(0)
	if len(got) < 4 || len(got) > 8 {
		t.Fatalf("%d segments", len(got))
	}
	for _, s := range got {
		if math.Abs(s.SpeedMPS-2.8) > 0.1 && math.Abs(s.SpeedMPS-3.2) > 0.1 {
			t.Errorf("a segment at %.2f m/s, grade %.1f %%", s.SpeedMPS, s.GradePercent)
		}
		want := 164.0
		if s.SpeedMPS > 3 {
			want = 167
		}
		if math.Abs(s.PerMin-want) > 0.5 {
			t.Errorf("%.1f steps at %.2f m/s", s.PerMin, s.SpeedMPS)
		}
	}
	_, p := run.Split(0)
	if p.Stopped < 55 || p.Stopped > 75 || p.Hills < 420 || p.Hills > 500 || p.Settling < 59 || math.Abs(p.Total()-1799) > 1 {
		t.Errorf("what became of the time: %+v", p)
	}
	if m, s := run.Distance(); math.Abs(m-(1.2*60+2.8*600+3.2*600+2.4*480)) > 20 || s != 1799 {
		t.Errorf("%.0f m in %.0f s", m, s)
	}
}

func TestWhatWatchesDo(t *testing.T) {
	scale := func(f float64) *Run {
		r := recorded()
		for i := range r.Samples {
			r.Samples[i].PerMin *= f
		}
		return r
	}
	for _, c := range []struct {
		run  *Run
		note string
	}{{scale(1), ""}, {scale(0.5), "doubled"}, {scale(2), "halved"}} {
		c.run.Settle()
		seg := c.run.Steady(0)
		if len(seg) == 0 || math.Abs(seg[0].PerMin-164) > 0.5 {
			t.Fatalf("%s: %+v", c.note, seg)
		}
		if has := strings.Contains(strings.Join(c.run.Notes, " "), c.note); !has {
			t.Errorf("notes %v, want %q", c.run.Notes, c.note)
		}
	}
	lost := recorded()
	for i := range lost.Samples {
		lost.Samples[i].SpeedMPS = math.NaN()
	}
	lost.Settle()
	if seg := lost.Steady(0); len(seg) < 4 || math.Abs(seg[0].SpeedMPS-2.8) > 0.1 || !slices.Contains(lost.Notes, "speed was worked out from distance") {
		t.Errorf("without speed: %+v, %v", seg, lost.Notes)
	}
	jump := recorded()
	for i := 500; i < 600; i++ {
		jump.Samples[i].TimeS -= 300
	}
	jump.Settle()
	if !strings.Contains(strings.Join(jump.Notes, " "), "went back") {
		t.Errorf("notes %v", jump.Notes)
	}
	for i := 1; i < len(jump.Samples); i++ {
		if jump.Samples[i].TimeS <= jump.Samples[i-1].TimeS {
			t.Fatal("the clock still goes back")
		}
	}
	ahead := recorded()
	for i := range 200 {
		ahead.Samples[i].TimeS -= 3 * 365 * 86400 // until the watch knew the time
	}
	ahead.Start = time.Date(2026, 3, 7, 6, 30, 0, 0, time.UTC).AddDate(-3, 0, 1)
	first := ahead.Samples[0].TimeS
	for i := range ahead.Samples {
		ahead.Samples[i].TimeS -= first
	}
	ahead.Settle()
	if d := ahead.Start.Sub(time.Date(2026, 3, 7, 6, 29, 1, 0, time.UTC)); len(ahead.Samples) != 1800 || d.Abs() > 2*time.Second || !strings.Contains(strings.Join(ahead.Notes, " "), "jumped ahead by 1095 days") {
		t.Errorf("%d samples from %s: %v", len(ahead.Samples), ahead.Start, ahead.Notes)
	}
	if _, s := ahead.Distance(); s > 1900 {
		t.Errorf("%.0f s", s)
	}
	bare := &Run{Samples: []Sample{{TimeS: 0, SpeedMPS: math.NaN(), PerMin: math.NaN()}, {TimeS: 1, SpeedMPS: math.NaN(), PerMin: math.NaN()}}}
	bare.Settle()
	if len(bare.Steady(0)) != 0 {
		t.Error("segments out of nothing")
	}
	(&Run{}).Settle()
}

func BenchmarkAMillionSamples(b *testing.B) {
	base := recorded()
	var long Run
	for k := range 556 {
		for _, s := range base.Samples {
			s.TimeS += float64(k) * 1800
			long.Samples = append(long.Samples, s)
		}
	}
	b.ReportMetric(float64(len(long.Samples)), "samples")
	for b.Loop() {
		r := Run{Samples: slices.Clone(long.Samples)}
		r.Settle()
		r.Steady(0)
	}
}

// What counts as level costs about what the level costs, by the two published
// equations for it, each at its own check values first.
func TestLevelIsLevel(t *testing.T) {
	// J/kg/m, grade as a share (Minetti and others 2002, J Appl Physiol 93:1039).
	minetti := func(i float64) float64 {
		return ((((155.4*i-30.4)*i-43.3)*i+46.3)*i+19.5)*i + 3.6
	}
	for grade, want := range map[float64]float64{0: 3.6, 0.10: 5.9682, 0.45: 19.4260, -0.20: 1.8} {
		if got := minetti(grade); math.Abs(got-want) > 5e-4 {
			t.Errorf("the equation gives %.4f at %.2f, published %.4f", got, grade, want)
		}
	}
	// ml/kg/min, metres a minute (ACSM's equation of running).
	acsm := func(mPerMin, grade float64) float64 { return 3.5 + 0.2*mPerMin + 0.9*mPerMin*grade }
	if a, b := acsm(200, 0), acsm(150, 0.05); math.Abs(a-43.5) > 1e-9 || math.Abs(b-40.25) > 1e-9 {
		t.Errorf("the equation gives %.2f and %.2f, published 43.5 and 40.25", a, b)
	}
	for _, grade := range []float64{steepPercent / 100.0, -steepPercent / 100.0} {
		if off := math.Abs(minetti(grade)/minetti(0) - 1); off > 0.115 {
			t.Errorf("a grade of %+.0f %% costs %.1f %% other than the level (Minetti)", 100*grade, 100*off)
		}
		if off := math.Abs(acsm(167, grade)/acsm(167, 0) - 1); off > 0.115 {
			t.Errorf("a grade of %+.0f %% costs %.1f %% other than the level (ACSM)", 100*grade, 100*off)
		}
	}
}
