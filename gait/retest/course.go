package retest

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gaitwright/gait/body"

	"gonum.org/v1/gonum/stat/distuv"
)

// Point is a measure at one visit.
type Point struct {
	At         time.Time
	Value, SEM float64
}

// Trend is the line through a measure over visits.
type Trend struct {
	PerWeek, Low, High float64 // slope in the unit a week, with its 95 % interval
	Visits             int
	Verdict            Verdict
	Why                Reason
}

// TrendOf fits a line weighted by 1/SEM². The spread about the line widens the
// interval where it is larger than the errors explain. Fewer than three visits
// have no trend.
func TrendOf(points []Point) Trend {
	var used []Point
	for _, p := range points {
		if !math.IsNaN(p.Value) && p.SEM > 0 {
			used = append(used, p)
		}
	}
	slices.SortFunc(used, func(a, b Point) int { return a.At.Compare(b.At) })
	t := Trend{PerWeek: math.NaN(), Low: math.NaN(), High: math.NaN(), Visits: len(used), Verdict: CannotTell}
	if len(used) < 3 {
		t.Why = Reason{Code: "few_visits", Before: fmt.Sprint(len(used))}
		return t
	}
	week := func(p Point) float64 { return p.At.Sub(used[0].At).Hours() / 168 }
	sw, mx, my := 0.0, 0.0, 0.0
	for _, p := range used {
		w := 1 / (p.SEM * p.SEM)
		sw += w
		mx += w * week(p)
		my += w * p.Value
	}
	mx, my = mx/sw, my/sw
	sxx, sxy := 0.0, 0.0
	for _, p := range used {
		w := 1 / (p.SEM * p.SEM)
		sxx += w * (week(p) - mx) * (week(p) - mx)
		sxy += w * (week(p) - mx) * (p.Value - my)
	}
	if !(sxx > 0) {
		t.Why = Reason{Code: "one_day"}
		return t
	}
	t.PerWeek = sxy / sxx
	chi := 0.0
	for _, p := range used {
		e := (p.Value - my - t.PerWeek*(week(p)-mx)) / p.SEM
		chi += e * e
	}
	df := float64(len(used) - 2)
	// Where the points spread no more than their errors say, those errors are known
	// and the interval is normal; where more, the spread itself is all there is.
	half := 1.96 * math.Sqrt(1/sxx)
	if f := chi / df; f > 1 {
		q := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.975)
		half = max(half, q*math.Sqrt(f/sxx))
	}
	t.Low, t.High = t.PerWeek-half, t.PerWeek+half
	t.Verdict = NoChange
	if t.Low > 0 || t.High < 0 {
		t.Verdict = Changed
	}
	return t
}

// Course gives what a measure was at each of several visits, under the conditions
// of the newest one that has it. Where a visit has nothing like that, its value is
// NaN and the reason says why.
func Course(visits [][]Seen, name string, side body.Side) []Stage {
	out := make([]Stage, len(visits))
	var anchor *observation
	for i := len(visits) - 1; i >= 0; i-- {
		out[i] = Stage{Value: math.NaN(), SEM: math.NaN(), Clip: -1, Why: Reason{Code: "not_measured"}}
		here := usable(observations(visits[i], name, side))
		if len(here) == 0 {
			continue
		}
		x := anchor
		if x == nil {
			x, _, _, _ = best(here, here)
			anchor = x
		} else {
			var why Reason
			if x, _, out[i].Said, why = best(here, []observation{*anchor}); x == nil {
				out[i].Why = why
				continue
			}
		}
		out[i].Value, out[i].SEM, out[i].Clip, out[i].Why = x.m.Value, x.m.SEM, x.clip, Reason{}
	}
	return out
}

// Stage is a measure at one visit of a course.
type Stage struct {
	Value, SEM float64
	Clip       int // among what was seen at the visit; −1 for none
	Why        Reason
	Said       []Reason
}
