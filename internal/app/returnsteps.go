package app

import (
	"math"
	"time"

	"gaitwright/gait/retest"
	"gaitwright/gait/steprate"
)

// stepMeasures are what a retraining of the step rate should change, or might.
var stepMeasures = []string{"step_rate", "step_length", "overstride", "knee_flexion_at_contact", "peak_vertical_force", "vertical_stiffness", "contact_time", "vertical_oscillation"}

// rate is the step rate known best among the clips of a visit that are wanted.
func (v *seenVisit) rate(want func(retest.Conditions) bool) (steprate.Rate, bool) {
	var out steprate.Rate
	found := false
	for _, s := range v.seen {
		if !want(s.Conditions) {
			continue
		}
		for _, m := range s.Measures {
			if m.Name != "step_rate" || m.Withheld() || math.IsNaN(m.SEM) || found && (out.SpeedMPS > 0 && s.Conditions.SpeedMPS == 0 || out.SEM <= m.SEM) {
				continue
			}
			out, found = steprate.Rate{PerMin: m.Value, SEM: m.SEM, SpeedMPS: s.Conditions.SpeedMPS, How: "film"}, true
		}
	}
	return out, found
}

// steps is the step-rate retraining before and after.
func (v *seenVisit) steps(here *seenVisit, f *reasoned, c retest.Comparison) *PageReturnSteps {
	out := &PageReturnSteps{Changes: []int{}}
	for _, name := range stepMeasures {
		for i, x := range c.Changes {
			if !x.Test && x.Name == name {
				out.Changes = append(out.Changes, i)
			}
		}
	}
	free := func(c retest.Conditions) bool { return c.Click != retest.WithClick }
	clicked := func(c retest.Conditions) bool { return c.Click == retest.WithClick }
	out.Runs = f.runsShown(here.visit.Date)
	before, known := v.rate(free)
	if !known && v.steprate != nil && v.steprate.Base != nil {
		b := v.steprate.Base
		before, known = steprate.Rate{PerMin: b.PerMin, SEM: b.SEM, SpeedMPS: orZero(b.SpeedMPS), How: b.How}, true
	}
	now, ok := here.rate(free)
	if known && ok {
		out.Film = stepsThen(before, now)
	}
	if with, ok := here.rate(clicked); known && ok {
		out.Click = stepsThen(before, with)
	}
	if out.Film == nil && out.Click == nil && out.Runs == nil && v.steprate == nil {
		return nil
	}
	out.Target = v.reached(here.visit.Date, f)
	if v.steprate == nil || out.Film == nil || out.Film.Change == nil {
		return out
	}
	// What was asked, or what is done with the click, is the measure of what stayed.
	asked := 0.0
	if out.Target != nil {
		asked = *out.Target - before.PerMin
	} else if out.Click != nil && out.Click.Change != nil {
		asked = *out.Click.Change
	}
	film := steprate.CompareRates(before, now)
	switch {
	case film.Verdict == steprate.CannotTell:
		return out
	case film.Verdict != steprate.Quicker:
		out.Kept = "lost"
	case asked <= 0 || film.High >= asked && film.Change >= 0.75*asked:
		out.Kept = "kept"
	default:
		out.Kept = "partly"
	}
	if asked > 0 {
		out.KeptPct = number(100*film.Change/asked, 0)
	}
	return out
}

// runsShown is what the runs from the ramp's beginning to a day show; nil where none
// was taken in.
func (f *reasoned) runsShown(day time.Time) *PageReturnRuns {
	if f.steprate == nil {
		return nil
	}
	p := f.runProof(day.Add(24*time.Hour - time.Second))
	out := &PageReturnRuns{Weeks: []PageRunWeek{}, Change: p.Change, Told: p.Told}
	for _, w := range p.Weeks {
		if w.RampWeek > 0 {
			out.Weeks = append(out.Weeks, w)
			out.Runs += w.Runs
		}
	}
	if out.Runs == 0 {
		return nil
	}
	return out
}

// reached is the step rate of the ramp's week that was on at a day, of its last one
// after that; nil where there is no ramp or it has not begun.
func (v *seenVisit) reached(day time.Time, f *reasoned) *float64 {
	if v.steprate == nil {
		return nil
	}
	var out *float64
	for _, w := range f.pageStepRate().Weeks {
		if w.From <= day.Format(dayForm) {
			out = number(w.PerMin, 1)
		}
	}
	return out
}

func stepsThen(before, now steprate.Rate) *PageStepsThen {
	c := steprate.CompareRates(before, now)
	return &PageStepsThen{Verdict: string(c.Verdict), Before: round2(before.PerMin), After: round2(now.PerMin), BeforeMPS: known(before.SpeedMPS), AfterMPS: known(now.SpeedMPS),
		Change: number(c.Change, 4), Low: number(c.Low, 4), High: number(c.High, 4), RawChange: number(c.RawChange, 4), SpeedChange: number(c.SpeedChange, 3), Text: c.Text}
}
