package retest

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"

	"pgregory.net/rapid"
)

var film = Conditions{View: clip.LeftSide, SpeedMPS: 2.8, Origin: "pose model", Shoes: "Blue"}

func said(all []Reason) string {
	var out []string
	for _, r := range all {
		out = append(out, r.String())
	}
	return strings.Join(out, ";")
}

func seen(at Conditions, ms ...measure.Measure) []Seen { return []Seen{{Conditions: at, Measures: ms}} }

func rate(v, sem float64) measure.Measure {
	return measure.Measure{Name: "step_rate", Value: v, SEM: sem, MDC95: 1.96 * math.Sqrt2 * sem}
}

// Of pairs with no change at most 5 in 100 are called changed (one more for the
// draw), of pairs changed by twice the MDC at least 95.
func TestVerdictsKeepTheirPromise(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	const trials = 20000
	for _, c := range []struct {
		mdcs     float64
		low, top float64
	}{{0, 0.045, 0.055}, {2, 0.95, 1}} {
		called := 0
		for range trials {
			s1, s2 := 0.5+r.Float64(), 0.5+r.Float64()
			mdc := 1.96 * math.Hypot(s1, s2)
			x := Compare(seen(film, rate(165+s1*r.NormFloat64(), s1)), seen(film, rate(165+c.mdcs*mdc+s2*r.NormFloat64(), s2)), Options{})
			if x.Changes[0].Verdict == Changed {
				called++
			}
		}
		if share := float64(called) / trials; share < c.low || share > c.top {
			t.Errorf("changed by %.0f MDC: %.2f %% called changed", c.mdcs, 100*share)
		}
	}
}

func TestJustInsideAndOutside(t *testing.T) {
	mdc := 1.96 * math.Sqrt2
	for _, c := range []struct {
		d    float64
		want Verdict
	}{{mdc - 1e-9, NoChange}, {mdc + 1e-9, Changed}, {-mdc - 1e-9, Changed}} {
		x := Compare(seen(film, rate(160, 1)), seen(film, rate(160+c.d, 1)), Options{}).Changes[0]
		if x.Verdict != c.want || math.Abs(x.MDC95-mdc) > 1e-9 {
			t.Errorf("%.4f: %s, MDC %.4f", c.d, x.Verdict, x.MDC95)
		}
	}
}

func TestUnlikeFilmsAreNotCompared(t *testing.T) {
	for _, c := range []struct {
		change func(*Conditions)
		want   string // in Why; empty where compared
		said   string
	}{
		{func(*Conditions) {}, "", ""},
		{func(c *Conditions) { c.Model = "lite" }, "pose model", ""},
		{func(c *Conditions) { c.Click = WithClick }, "", "filmed without the click before and with it now"},
		{func(c *Conditions) { c.Click = WithoutClick }, "", ""},
		{func(c *Conditions) { c.SpeedMPS = 2.85 }, "", ""},
		{func(c *Conditions) { c.SpeedMPS = 3.1 }, "speed", ""},
		{func(c *Conditions) { c.SpeedMPS = 0 }, "", "taken to be the same"},
		{func(c *Conditions) { c.View = clip.RightSide }, "filmed from", ""},
		{func(c *Conditions) { c.Origin = "marker file" }, "landmarks", ""},
		{func(c *Conditions) { c.InclinePercent = 2 }, "incline", ""},
		{func(c *Conditions) { c.Overground = true }, "treadmill", ""},
		{func(c *Conditions) { c.Shoes = "Red" }, "", "other shoes"},
		{func(c *Conditions) { c.Shoes = " blue" }, "", ""},
	} {
		after := film
		c.change(&after)
		out := Compare(seen(film, rate(160, 1)), seen(after, rate(170, 1)), Options{})
		x := out.Changes[0]
		if (x.Verdict == CannotTell) != (c.want != "") || !strings.Contains(x.Why.String(), c.want) || !strings.Contains(said(x.Cautions), c.said) {
			t.Errorf("%+v: %s, %q, %v", after, x.Verdict, x.Why, x.Cautions)
		}
		p := out.Pairs[0]
		if c.want == "" && (p.Before != 0 || said(p.Said) != said(x.Cautions)) || c.want != "" && (p.Before != -1 || p.Why.String() == "") {
			t.Errorf("%+v: pair %+v", after, p)
		}
	}
	withheld := rate(math.NaN(), math.NaN())
	if x := Compare(seen(film, withheld), seen(film, rate(170, 1)), Options{}).Changes[0]; x.Verdict != CannotTell || !strings.Contains(x.Why.String(), "before") {
		t.Errorf("%+v", x)
	}
}

// Holm's own small example of the method: p of 0.01, 0.04, 0.03, 0.005 become
// 0.03, 0.06, 0.06, 0.02 (computed by hand from the definition).
func TestHolm(t *testing.T) {
	c := []Change{{P: 0.01, Verdict: Changed}, {P: 0.04, Verdict: Changed}, {Verdict: CannotTell, Adjusted: -1}, {P: 0.03, Verdict: Changed}, {P: 0.005, Verdict: Changed}}
	holm(c, func(Change) bool { return true })
	for i, want := range []float64{0.03, 0.06, -1, 0.06, 0.02} {
		if math.Abs(c[i].Adjusted-want) > 1e-12 {
			t.Errorf("p %d: %.4f, want %.4f", i, c[i].Adjusted, want)
		}
	}
}

func TestReturnToTheMeanIsSaid(t *testing.T) {
	o := Options{Chosen: []string{"step_rate"}, Norms: map[string]Norm{"step_rate": {172, 4}}}
	x := Compare(seen(film, rate(158, 2)), seen(film, rate(164.5, 2)), o).Changes[0]
	// r = 1 − 4/16 = 0.75; a quarter of the 14 to the mean.
	if math.Abs(x.Return-3.5) > 1e-9 || x.Verdict != Changed || len(x.Cautions) != 1 {
		t.Errorf("%+v", x)
	}
	if y := Compare(seen(film, rate(158, 2)), seen(film, rate(170, 2)), o).Changes[0]; len(y.Cautions) != 0 {
		t.Errorf("%+v", y)
	}
	o.Chosen = nil
	if y := Compare(seen(film, rate(158, 2)), seen(film, rate(164.5, 2)), o).Changes[0]; y.Return != 0 {
		t.Errorf("%+v", y)
	}
}

// Without any change about one of twenty measures is called changed, and the
// summary says so; after adjustment hardly ever one.
func TestTwentyMeasuresAreHandledHonestly(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	var names []measure.Definition
	for _, d := range measure.Catalogue() {
		if d.Sided && len(names) < 20 {
			names = append(names, d)
		}
	}
	called, compared, sure := 0, 0, 0
	const trials = 400
	for range trials {
		var a, b []measure.Measure
		for _, d := range names {
			a = append(a, measure.Measure{Name: d.Name, Side: body.Left, Value: r.NormFloat64(), SEM: 1})
			b = append(b, measure.Measure{Name: d.Name, Side: body.Left, Value: r.NormFloat64(), SEM: 1})
		}
		x := Compare(seen(film, a...), seen(film, b...), Options{})
		called, compared = called+x.Called, compared+x.Compared
		if slices.ContainsFunc(x.Changes, func(c Change) bool { return c.Adjusted < 0.05 }) {
			sure++
		}
		if math.Abs(x.ByChance-1) > 1e-9 || !strings.Contains(x.Summary(), "chance alone would call about 1.0") {
			t.Fatalf("%s", x.Summary())
		}
	}
	if share := float64(called) / float64(compared); math.Abs(share-0.05) > 0.01 {
		t.Errorf("%.3f called changed", share)
	}
	if share := float64(sure) / trials; share > 0.08 {
		t.Errorf("%.3f of visits without change have one that stands", share)
	}
}

func TestOrderNeverMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var a, b []Seen
		for range rapid.IntRange(1, 4).Draw(t, "clips") {
			at := film
			at.View = rapid.SampledFrom([]clip.View{clip.LeftSide, clip.RightSide, clip.Rear}).Draw(t, "view")
			one := Seen{Conditions: at, Measures: []measure.Measure{rate(rapid.Float64Range(150, 190).Draw(t, "v"), rapid.SampledFrom([]float64{0.5, 1}).Draw(t, "s"))}}
			two := Seen{Conditions: at, Measures: []measure.Measure{rate(rapid.Float64Range(150, 190).Draw(t, "w"), 1)}}
			a, b = append(a, one), append(b, two)
		}
		x := Compare(a, b, Options{})
		slices.Reverse(a)
		slices.Reverse(b)
		y := Compare(a, b, Options{})
		if len(x.Changes) != len(y.Changes) || x.Called != y.Called || x.Changes[0].Before != y.Changes[0].Before || x.Changes[0].After != y.Changes[0].After {
			t.Fatalf("%+v\n%+v", x, y)
		}
	})
}

func TestTrend(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 1, 1, 9, 0, 0, 0, time.UTC).AddDate(0, 0, n) }
	up := TrendOf([]Point{{day(28), 166, 0.7}, {day(0), 160, 0.7}, {day(56), 171, 0.7}, {day(14), 163, 0.7}})
	if up.Verdict != Changed || math.Abs(up.PerWeek-1.4) > 0.1 {
		t.Errorf("%+v", up)
	}
	if flat := TrendOf([]Point{{day(0), 160, 1}, {day(7), 161, 1}, {day(14), 160, 1}}); flat.Verdict != NoChange {
		t.Errorf("%+v", flat)
	}
	if two := TrendOf([]Point{{day(0), 160, 1}, {day(7), 170, 1}}); two.Verdict != CannotTell || two.Why.String() == "" {
		t.Errorf("%+v", two)
	}
	if same := TrendOf([]Point{{day(0), 160, 1}, {day(0), 170, 1}, {day(0), 165, 1}}); same.Verdict != CannotTell {
		t.Errorf("%+v", same)
	}
	// Without a trend few are called one.
	r := rand.New(rand.NewPCG(6, 1))
	called := 0
	for range 4000 {
		var p []Point
		for k := range 5 {
			p = append(p, Point{day(7 * k), 160 + r.NormFloat64(), 1})
		}
		if TrendOf(p).Verdict == Changed {
			called++
		}
	}
	if share := float64(called) / 4000; share > 0.055 {
		t.Errorf("%.3f of flat courses are called a trend", share)
	}
}

func TestPropose(t *testing.T) {
	changed := func(d float64) Change { return Change{Verdict: Changed, Difference: d} }
	for _, c := range []struct {
		c    Change
		d    Done
		want string
	}{
		{changed(5), Done{Share: 0.9}, "progress"},
		{changed(-5), Done{Share: 0.9}, "step back"},
		{changed(-5), Done{Share: 0.2}, "hold"},
		{changed(5), Done{Share: 0.9, PainWorst: 4}, "hold"},
		{changed(5), Done{Share: 0.9, PainWorst: 7}, "step back"},
		{changed(5), Done{Share: 0.9, BonePain: true}, "step back"},
		{Change{Verdict: NoChange}, Done{Share: 1}, "progress"},
		{Change{Verdict: NoChange}, Done{Share: math.NaN()}, "hold"},
		{changed(5), Done{Share: math.NaN()}, "progress"},
		{Change{Verdict: CannotTell, Why: Reason{Code: "speed"}}, Done{Share: 1}, "hold"},
	} {
		if p := Propose([]Outcome{{c.c, 1}}, c.d); p.Do != c.want || p.Why == "" || p.Code == "" {
			t.Errorf("%+v %+v: %+v, want %s", c.c, c.d, p, c.want)
		}
	}
}
