package exam

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/num/agree"
)

// StandardGravityMPS2 turns kilograms of mass into newtons of weight (3rd CGPM
// 1901).
const StandardGravityMPS2 = 9.80665

// Verdict is where a reading lies against a range.
type Verdict string

// The verdicts. AtBorder means that the error reaches across the limit.
const (
	Unknown  Verdict = "cannot be said"
	Inside   Verdict = "inside"
	AtBorder Verdict = "at the border"
	Below    Verdict = "below"
	Above    Verdict = "above"
)

// Reading is the outcome of a test on one side.
type Reading struct {
	Test  *Test
	Side  body.Side
	Stage string
	// Value is in the test's unit; NaN where there is none, and then Reason says
	// why.
	Value  float64
	Reason string
	// Valid and Trials count the trials that count and all of them; Spread is the
	// sample SD of the valid ones (NaN below two).
	Valid, Trials int
	Spread        float64
	// SEM and MDC95 are in the test's unit: 1.96·√2·SEM = MDC95 (Weir 2005, J
	// Strength Cond Res 19:231). ErrorSource says whence.
	SEM, MDC95  float64
	ErrorSource string
	// ForceN, TorqueNm and ForcePerMass (percent of body mass, 100·kgf/kg) are of
	// strength; NaN else or where the mass is not known.
	ForceN, TorqueNm, ForcePerMass float64
	// Pain is the worst of any trial; from 1 the test counts as stopped.
	Pain    int
	Stopped bool
	Felt    string
	// Range is the one it was held against, nil for none.
	Range     *Range
	Low, High float64 // of that range; infinite where open
	Verdict   Verdict
	// Cautions are said wherever the reading is.
	Cautions []string
}

// HasValue tells whether there is a number.
func (r Reading) HasValue() bool { return !math.IsNaN(r.Value) }

// Worse is positive by how much the reading lies beyond the poor end of its
// range, in standard errors; 0 inside or where nothing can be said.
func (r Reading) Worse() float64 {
	if !r.HasValue() || r.Range == nil || !(r.SEM > 0) {
		return 0
	}
	v, sem := r.judged()
	d := r.Low - v
	if r.Test.Better == "lower" {
		d = v - r.High
	}
	if math.IsInf(d, 0) || math.IsNaN(d) {
		return 0
	}
	return max(0, d/sem)
}

// judged returns the value and SEM in the unit of the range.
func (r Reading) judged() (value, sem float64) {
	if r.Range != nil && r.Range.Of == "force_per_mass" {
		return r.ForcePerMass, r.SEM / r.Value * r.ForcePerMass
	}
	return r.Value, r.SEM
}

// Pair is a test left and right.
type Pair struct {
	Test        *Test
	Stage       string
	Left, Right Reading
	// RatioPercent is weaker over stronger of a test in which more is better and
	// nothing is below zero; NaN else.
	RatioPercent float64
	// Difference is left − right in the test's unit, Margin the error of it at
	// 95 %: 1.96·√(SEMl² + SEMr²). Weaker is the side with the poorer value where
	// the difference is beyond the margin, NoSide else.
	Difference, Margin float64
	Weaker             body.Side
}

// Report is a scored exam, in the order of the catalogue whatever the order of
// the entries.
type Report struct {
	Readings []Reading
	Pairs    []Pair
	// Pains are the readings stopped by pain.
	Pains []Reading
}

// Find returns the reading of a test on a side, the one before release first.
func (r Report) Find(test string, side body.Side) (Reading, bool) {
	for _, x := range r.Readings {
		if x.Test.Name == test && x.Side == side {
			return x, true
		}
	}
	return Reading{}, false
}

// Score judges a sheet. Entries that Check refuses must have been mended; it
// panics on a test that does not exist.
func Score(s Sheet, b Body) Report {
	var out Report
	order := map[string]int{}
	for i, t := range catalogue() {
		order[t.Name] = i
	}
	for _, e := range s.Entries {
		t, ok := Lookup(e.Test)
		if !ok {
			panic("exam: no test " + e.Test)
		}
		out.Readings = append(out.Readings, score(t, e, b))
	}
	stage := map[string]int{"": 0, "before": 0, "after": 1}
	slices.SortStableFunc(out.Readings, func(a, b Reading) int {
		if d := order[a.Test.Name] - order[b.Test.Name]; d != 0 {
			return d
		}
		if d := stage[a.Stage] - stage[b.Stage]; d != 0 {
			return d
		}
		return int(a.Side) - int(b.Side)
	})
	for i, l := range out.Readings {
		if l.Stopped {
			out.Pains = append(out.Pains, l)
		}
		for _, r := range out.Readings[i+1:] {
			if l.Test == r.Test && l.Stage == r.Stage && l.Side != r.Side {
				a, b := l, r
				if a.Side == body.Right {
					a, b = b, a
				}
				out.Pairs = append(out.Pairs, pair(a, b))
			}
		}
	}
	return out
}

func score(t *Test, e Entry, b Body) Reading {
	nan := math.NaN()
	r := Reading{Test: t, Side: e.Side, Stage: e.Stage, Value: nan, Spread: nan, SEM: nan, MDC95: nan,
		ForceN: nan, TorqueNm: nan, ForcePerMass: nan, Felt: e.Felt, Trials: len(e.Trials), Verdict: Unknown, Low: math.Inf(-1), High: math.Inf(1)}
	var values, forces, torques []float64
	for _, tr := range e.Trials {
		r.Pain = max(r.Pain, tr.Pain)
		if tr.Invalid != "" || tr.Pain > 0 {
			continue
		}
		if t.Kind == Strength {
			forces = append(forces, tr.ForceN)
			torques = append(torques, tr.ForceN*tr.LeverM)
		} else {
			values = append(values, tr.Value)
		}
	}
	if t.Kind == Strength {
		values = torques
	}
	r.Valid = len(values)
	switch {
	case r.Pain > 0:
		r.Stopped = true
		r.Reason = fmt.Sprintf("stopped: pain %d of 10; leave it until it no longer hurts, and refer where it is strong or stays", r.Pain)
		return r
	case len(values) == 0:
		r.Reason = "no valid trial"
		return r
	}
	best := pick(t, values)
	if t.Kind == Strength {
		r.ForceN, r.TorqueNm = pick(t, forces), best
		if !(b.MassKG > 0) {
			r.Reason = fmt.Sprintf("torque %.0f Nm; give the body mass for Nm/kg", r.TorqueNm)
			return r
		}
		r.Value = best / b.MassKG
		r.ForcePerMass = 100 * r.ForceN / StandardGravityMPS2 / b.MassKG
		for i := range values {
			values[i] /= b.MassKG
		}
	} else {
		r.Value = best
	}
	r.Spread = agree.MeanOf(values).SD
	f := t.Errors[0]
	r.MDC95, r.ErrorSource = f.Value, f.Source+" ("+f.Tag+")"
	if f.Percent > 0 {
		r.MDC95 = max(f.Percent/100*math.Abs(r.Value), f.Least)
	}
	r.SEM = r.MDC95 / (1.96 * math.Sqrt2)
	if len(values) < t.Trials {
		r.Cautions = append(r.Cautions, fmt.Sprintf("%d of %d trials advised", len(values), t.Trials))
	}
	r.hold(b.Sex)
	return r
}

// pick returns the best or the mean of values.
func pick(t *Test, values []float64) float64 {
	if t.Pick == "mean" {
		return agree.MeanOf(values).Value
	}
	if t.Better == "lower" {
		return slices.Min(values)
	}
	return slices.Max(values)
}

// hold holds the reading against the first range listed that serves the sex. A
// range of one sex is not used for the other or for a runner whose sex is not
// told; a typical value is no limit.
func (r *Reading) hold(sex string) {
	i := slices.IndexFunc(r.Test.Ranges, func(x Range) bool { return (x.Sex == "" || x.Sex == sex) && x.Typical == nil })
	if i < 0 {
		return
	}
	r.Range = &r.Test.Ranges[i]
	r.Low, r.High = r.Range.Limits()
	v, sem := r.judged()
	if math.IsNaN(v) || !(sem >= 0) {
		return
	}
	m := 1.96 * sem
	switch {
	case v < r.Low-m:
		r.Verdict = Below
	case v > r.High+m:
		r.Verdict = Above
	case v < r.Low+m || v > r.High-m:
		r.Verdict = AtBorder
	default:
		r.Verdict = Inside
	}
}

// Good tells whether the reading is on the good side of its range's poor border by more
// than the error: inside the range, or better than it.
func (r *Reading) Good() bool {
	if r.Verdict == Unknown {
		return false
	}
	v, sem := r.judged()
	m := 1.96 * sem
	switch r.Test.Better {
	case "higher":
		return v >= r.Low+m
	case "lower":
		return v <= r.High-m
	}
	return r.Verdict == Inside
}

func pair(l, r Reading) Pair {
	p := Pair{Test: l.Test, Stage: l.Stage, Left: l, Right: r, RatioPercent: math.NaN(), Difference: math.NaN(), Margin: math.NaN()}
	if !l.HasValue() || !r.HasValue() {
		return p
	}
	p.Difference = l.Value - r.Value
	p.Margin = 1.96 * math.Hypot(l.SEM, r.SEM)
	higher := l.Test.Better == "higher"
	if higher && l.Test.Low >= 0 && l.Value > 0 && r.Value > 0 {
		p.RatioPercent = 100 * min(l.Value, r.Value) / max(l.Value, r.Value)
	}
	if math.Abs(p.Difference) > p.Margin {
		if p.Weaker = body.Right; (p.Difference < 0) == higher {
			p.Weaker = body.Left
		}
	}
	return p
}
