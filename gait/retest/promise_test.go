package retest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/measure"

	"gonum.org/v1/gonum/stat/distuv"

	"gaitwright/num/agree"
)

// filmed draws a visit of some clips, each with every measure of the catalogue: the
// true values, and an error drawn anew with each clip's own SEM.
func filmed(r *rand.Rand, clips int, truth map[string]float64, df int) []Seen {
	var out []Seen
	for range clips {
		at := film
		at.View = []clip.View{clip.LeftSide, clip.Rear}[r.IntN(2)]
		at.Click = []string{"", WithClick, WithoutClick}[r.IntN(3)]
		at.Shoes = []string{"", "blue", "red"}[r.IntN(3)]
		s := Seen{Conditions: at}
		for _, d := range measure.Catalogue() {
			sides := []body.Side{body.NoSide}
			if d.Sided {
				sides = body.Sides[:]
			}
			for _, side := range sides {
				sem := 0.5 + r.Float64()
				m := measure.Measure{Name: d.Name, Side: side, Value: truth[fmt.Sprint(d.Name, side)] + sem*r.NormFloat64(), SEM: sem}
				if df > 0 {
					// What is stated was itself found from so many degrees of freedom.
					m.SEM = sem * math.Sqrt(distuv.ChiSquared{K: float64(df), Src: r}.Rand()/float64(df))
					if s.DF == nil {
						s.DF = map[string]int{}
					}
					s.DF[d.Name] = df
				}
				s.Measures = append(s.Measures, m)
			}
		}
		out = append(out, s)
	}
	return out
}

// Thousands of pairs through the whole of Compare, several films a visit to choose
// among: of those without a change at most 5 of 100 are called changed (half of one
// more for the draw), of those changed by twice their MDC at least 95.
func TestVisitsKeepThePromise(t *testing.T) {
	for _, c := range []struct {
		name string
		df   int
	}{{"errors known", 0}, {"the studio's own error from 20 degrees of freedom", 20}} {
		r := rand.New(rand.NewPCG(20, 26))
		called, compared, stands, visits := 0, 0, 0, 0
		for range 400 {
			x := Compare(filmed(r, 1+r.IntN(3), nil, c.df), filmed(r, 1+r.IntN(3), nil, c.df), Options{})
			called, compared = called+x.Called, compared+x.Compared
			if visits++; x.Stand > 0 {
				stands++
			}
		}
		share := float64(called) / float64(compared)
		t.Logf("%s: %d pairs without a change, %.2f %% called changed; in %d of %d visits one stands after Holm", c.name, compared, 100*share, stands, visits)
		if compared < 5000 || share > 0.055 || share < 0.04 {
			t.Errorf("%s: %.4f of %d pairs without a change are called changed", c.name, share, compared)
		}
		if s := float64(stands) / float64(visits); s > 0.08 {
			t.Errorf("%s: in %.3f of visits without any change one stands", c.name, s)
		}
	}
}

func TestTwiceTheMDCIsFound(t *testing.T) {
	r := rand.New(rand.NewPCG(20, 27))
	found, compared := 0, 0
	for range 300 {
		before, after := filmed(r, 1, nil, 0), filmed(r, 1, nil, 0)
		after[0].Conditions = before[0].Conditions
		for i, m := range after[0].Measures {
			up := 2 * 1.96 * math.Hypot(m.SEM, before[0].Measures[i].SEM)
			if r.IntN(2) == 0 {
				up = -up
			}
			after[0].Measures[i].Value += up
		}
		x := Compare(before, after, Options{})
		found, compared = found+x.Called, compared+x.Compared
	}
	share := float64(found) / float64(compared)
	t.Logf("%d pairs changed by twice the MDC: %.2f %% called changed", compared, 100*share)
	if compared < 5000 || share < 0.95 {
		t.Errorf("%.4f of %d", share, compared)
	}
}

// Weir 2005 (J Strength Cond Res 19:231): two trials of eight people leave a mean
// square error of 57.2 (from memory), so SEM = 7.6 and the least difference that is
// real is 21: 20 is none, 22 is one.
func TestWeirsExample(t *testing.T) {
	sem := math.Sqrt(57.2)
	if mdc := agree.MDC95(sem); math.Abs(mdc-21) > 0.1 {
		t.Fatalf("MDC %.2f", mdc)
	}
	for d, want := range map[float64]Verdict{20: NoChange, 22: Changed, -22: Changed} {
		x := Compare(seen(film, rate(160, sem)), seen(film, rate(160+d, sem)), Options{}).Changes[0]
		if x.Verdict != want || math.Abs(x.MDC95-agree.MDC95(sem)) > 1e-9 {
			t.Errorf("%+.0f: %s, MDC %.3f", d, x.Verdict, x.MDC95)
		}
	}
}

// Galton 1886 (J Anthropol Inst 15:246, from memory): the grown child deviates from
// the mean of 68.25 inches by two thirds of what the parents do. With an error
// variance of a third of the variance, a third of the distance is returned.
func TestGaltonsParents(t *testing.T) {
	sd := 1.79 // inches, Galton's parents; it cancels
	o := Options{Chosen: []string{"step_rate"}, Norms: map[string]Norm{"step_rate": {68.25, sd}}}
	sem := sd / math.Sqrt(3)
	x := Compare(seen(film, rate(71.25, sem)), seen(film, rate(70.25, sem)), o).Changes[0]
	if math.Abs(x.Return+1) > 1e-9 {
		t.Errorf("return %.4f, want -1", x.Return)
	}
}

// norris are the values of the reference set Norris of the National Institute of
// Standards and Technology (Statistical Reference Datasets, linear regression,
// lower difficulty): y, x.
var norris = [][2]float64{
	{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6},
	{778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4}, {0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3}, {0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1},
	{888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
}

// The certified slope is 1.00211681802045 with a standard deviation of
// 0.000429796848199937 on 34 degrees of freedom (t = 2.0322 at 95 %).
func TestTrendAgainstCertifiedValues(t *testing.T) {
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	var points []Point
	for _, p := range norris {
		points = append(points, Point{At: start.Add(time.Duration(math.Round(p[1] * 168 * float64(time.Hour)))), Value: p[0], SEM: 0.01})
	}
	got := TrendOf(points)
	if math.Abs(got.PerWeek-1.00211681802045) > 1e-10 {
		t.Errorf("slope %.14f", got.PerWeek)
	}
	half := distuv.StudentsT{Sigma: 1, Nu: 34}.Quantile(0.975) * 0.000429796848199937
	if math.Abs((got.High-got.Low)/2-half) > 1e-9 {
		t.Errorf("half width %.12f, want %.12f", (got.High-got.Low)/2, half)
	}
}

func TestCourseKeepsLikeWithLike(t *testing.T) {
	at := func(change func(*Conditions)) Conditions { c := film; change(&c); return c }
	visits := [][]Seen{
		seen(at(func(c *Conditions) { c.SpeedMPS = 3.4 }), rate(170, 1)),
		append(seen(at(func(c *Conditions) { c.SpeedMPS = 3.4 }), rate(171, 0.1)), seen(film, rate(161, 1))...),
		nil,
		append(seen(at(func(c *Conditions) { c.Click = WithClick }), rate(175, 0.1)), seen(film, rate(165, 1))...),
	}
	got := Course(visits, "step_rate", body.NoSide)
	if got[3].Value != 165 || got[1].Value != 161 || !math.IsNaN(got[0].Value) || got[0].Why.Code != "speed" || got[2].Why.Code != "not_measured" {
		t.Errorf("%+v", got)
	}
}

// What was tested again is held against the error of the test, what pain stopped is
// not, and both count among what was looked at.
func TestExamAgain(t *testing.T) {
	score := func(entries ...exam.Entry) exam.Report {
		return exam.Score(exam.Sheet{Entries: entries}, exam.Body{MassKG: 60, Sex: "female"})
	}
	entry := func(test string, side body.Side, pain int, values ...float64) exam.Entry {
		e := exam.Entry{Test: test, Side: side}
		for _, v := range values {
			e.Trials = append(e.Trials, exam.Trial{Value: v, ForceN: math.NaN(), LeverM: math.NaN(), Pain: pain})
		}
		return e
	}
	before := score(entry("heel_raise", body.Left, 0, 15), entry("heel_raise", body.Right, 0, 20), entry("lunge_cm", body.Left, 0, 8), entry("single_leg_bridge", body.Left, 0, 20))
	after := score(entry("heel_raise", body.Left, 0, 28), entry("heel_raise", body.Right, 3, 25), entry("lunge_cm", body.Left, 0, 8.2), entry("lunge_cm", body.Right, 0, 9))
	c := Compare(seen(film, rate(160, 1)), seen(film, rate(161, 1)), Options{}).WithExam(before, after)
	want := map[string]string{"heel_raise left": "changed", "heel_raise right": "pain", "lunge_cm left": "no real change", "lunge_cm right": "not_before", "single_leg_bridge left": "not_now"}
	for _, x := range c.Changes {
		if !x.Test {
			continue
		}
		key := x.Name + " " + x.Side.String()
		if got := string(x.Verdict); got != want[key] && x.Why.Code != want[key] {
			t.Errorf("%s: %s, %s (%.2f to %.2f, MDC %.2f)", key, got, x.Why.Code, x.Before, x.After, x.MDC95)
		}
		delete(want, key)
	}
	if len(want) > 0 || c.Compared != 3 || c.Called != 1 {
		t.Errorf("missing %v; compared %d, called %d", want, c.Compared, c.Called)
	}
}

// Another choice of films must not come from the values: with equal errors the
// chosen pair is the same whatever was measured.
func TestChoiceIsBlindToTheChange(t *testing.T) {
	a := [][]Seen{{}, {}}
	for i := range a {
		for k := range 3 {
			at := film
			at.SpeedMPS = 2.8 + 0.01*float64(k)
			a[i] = append(a[i], Seen{Conditions: at, Measures: []measure.Measure{rate(160, 1)}})
		}
	}
	x := Compare(a[0], a[1], Options{}).Changes[0]
	first := [2]int{x.BeforeClip, x.AfterClip}
	r := rand.New(rand.NewPCG(1, 9))
	for range 50 {
		for i := range a {
			for k := range a[i] {
				a[i][k].Measures = slices.Clone(a[i][k].Measures)
				a[i][k].Measures[0].Value = 160 + r.NormFloat64()
			}
		}
		if x := Compare(a[0], a[1], Options{}).Changes[0]; [2]int{x.BeforeClip, x.AfterClip} != first {
			t.Fatalf("%v, was %v", [2]int{x.BeforeClip, x.AfterClip}, first)
		}
	}
}

// What was named beforehand is adjusted among itself: 0.01 of two stands, and would
// not among ten.
func TestNamedBeforehand(t *testing.T) {
	c := Comparison{}
	for i, p := range []float64{0.01, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1} {
		v := NoChange
		if p < 0.05 {
			v = Changed
		}
		c.Changes = append(c.Changes, Change{Name: fmt.Sprint(i), P: p, Verdict: v})
	}
	c.count()
	if c.Stand != 0 || math.Abs(c.Changes[0].Adjusted-0.1) > 1e-12 {
		t.Errorf("together: %+v", c.Changes[0])
	}
	a := c.Apart(func(x Change) bool { return x.Name < "2" })
	if a.Stand != 1 || math.Abs(a.Changes[0].Adjusted-0.02) > 1e-12 || math.Abs(a.Changes[2].Adjusted-1) > 1e-12 || c.Stand != 0 {
		t.Errorf("apart: %+v", a.Changes[:3])
	}
}
