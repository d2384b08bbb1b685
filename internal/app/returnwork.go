package app

import (
	"math"
	"slices"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
	"gaitwright/gait/retest"
	"gaitwright/internal/handout"
)

func (w *PageReturnWork) empty() {
	w.Weeks, w.Findings, w.Pain = []PageLogWeek{}, []string{}, []PagePainThen{}
}

// logUntil is the last day of the log that lies before a day; zero where there is no
// log.
func (f *visitRecords) logUntil(end time.Time) time.Time {
	var last time.Time
	if f.log == nil {
		return last
	}
	for _, d := range f.log.Days {
		if day, err := time.Parse(dayForm, d.Date); err == nil && !day.After(end) && day.After(last) {
			last = day
		}
	}
	return last
}

// logDays are the days of the log up to a day.
func (f *visitRecords) logDays(end time.Time) []handout.Day {
	if f.log == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(f.log.Days), func(d handout.Day) bool { return d.Date > end.Format(dayForm) })
}

// work is what was planned, done and felt between two visits.
func (v *seenVisit) work(here *seenVisit, f *reasoned) PageReturnWork {
	w := PageReturnWork{Plan: v.plan != nil, Ramp: v.steprate != nil, Before: v.visit.Note}
	w.empty()
	end := here.visit.Date
	titles, _, _ := f.accepted()
	w.Findings = emptyNotNil(titles)
	if v.plan != nil {
		w.Start, w.PlanWeeks = v.plan.Plan.Start.Format(dayForm), len(v.plan.Plan.Weeks)
	}
	if v.steprate != nil {
		w.RampWeeks = len(f.pageStepRate().Weeks)
	}
	if last := v.logUntil(end); !last.IsZero() {
		w.LogTo = last.Format(dayForm)
		for _, k := range f.logWeeks() {
			if k.From <= w.LogTo {
				w.Weeks = append(w.Weeks, k)
			}
		}
		w.LogWeeks = len(w.Weeks)
		planned, done := 0, 0
		for _, t := range v.tally(end) {
			planned, done = planned+t.planned, done+t.done
		}
		if planned > 0 {
			w.Share = number(float64(done)/float64(planned), 3)
		}
		runs, due := 0, 0
		for _, k := range w.Weeks {
			runs, due = runs+min(k.Runs, max(k.Planned, k.Runs)), due+k.Planned
			if k.PainWorst != nil && (w.PainWorst == nil || *k.PainWorst > *w.PainWorst) {
				w.PainWorst = k.PainWorst
			}
		}
		if due > 0 {
			w.RunShare = number(float64(runs)/float64(due), 3)
		}
	}
	type place struct{ region, side string }
	var order []place
	then := map[place]*PagePainThen{}
	for k, in := range []*PageIntake{v.intake, here.intake} {
		if in == nil {
			continue
		}
		w.Complaint[k] = in.Complaint
		for _, x := range in.Pain {
			at := place{x.Region, x.Side}
			if then[at] == nil {
				r, _ := theForm().region(x.Region)
				then[at] = &PagePainThen{Region: x.Region, Title: r.Title, Side: x.Side}
				order = append(order, at)
			}
			score := x.Score
			if k == 0 {
				then[at].Before = &score
			} else {
				then[at].After = &score
			}
		}
	}
	for _, at := range order {
		one := *then[at]
		zero := 0
		// What is not marked any more, where pain was asked for, is gone.
		if one.After == nil && here.intake != nil && (here.intake.NoPain || len(here.intake.Pain) > 0) {
			one.After = &zero
		}
		if one.Before == nil && v.intake != nil && (v.intake.NoPain || len(v.intake.Pain) > 0) {
			one.Before = &zero
		}
		w.Pain = append(w.Pain, one)
	}
	return w
}

// tallied is how often an exercise was due and done.
type tallied struct {
	exercise      string
	side          body.Side
	of            string
	planned, done int
}

// tally counts of each exercise of the plan on how many days it was due until the
// last day that came back, and on how many it was done.
func (f *visitRecords) tally(end time.Time) []tallied {
	last := f.logUntil(end)
	if f.plan == nil || last.IsZero() {
		return nil
	}
	did := map[string]bool{}
	for _, d := range f.log.Days {
		for _, id := range d.Done {
			did[d.Date+" "+id] = true
		}
	}
	var out []tallied
	plan := f.plan.Plan
	for n, w := range plan.Weeks {
		due := map[[2]string]map[int]programme.Item{}
		add := func(items []programme.Item, days []int) {
			for _, i := range items {
				k := [2]string{i.Exercise, sideName(i.Side)}
				if due[k] == nil {
					due[k] = map[int]programme.Item{}
				}
				for _, d := range days {
					due[k][d] = i
				}
			}
		}
		add(w.Full, plan.FullDays)
		add(w.Warm, plan.RunDays)
		for k, d := range plan.RunDays {
			add(programme.DrillsOn(w.Running, k, len(plan.RunDays)), []int{d})
		}
		for _, i := range slices.Concat(w.Full, w.Warm, w.Running) {
			k := [2]string{i.Exercise, sideName(i.Side)}
			days, ok := due[k]
			if !ok {
				continue
			}
			delete(due, k)
			t := tallied{exercise: i.Exercise, side: i.Side, of: i.Of}
			for d := range days {
				if day := plan.Start.AddDate(0, 0, 7*n+d); !day.After(last) {
					t.planned++
				}
			}
			// Done on whatever day of the week, but no oftener than was due.
			for d := range 7 {
				if did[plan.Start.AddDate(0, 0, 7*n+d).Format(dayForm)+" "+k[0]+"/"+k[1]] {
					t.done++
				}
			}
			t.done = min(t.done, t.planned)
			at := slices.IndexFunc(out, func(o tallied) bool { return o.exercise == t.exercise && o.side == t.side })
			if at < 0 {
				out = append(out, t)
				continue
			}
			out[at].planned, out[at].done = out[at].planned+t.planned, out[at].done+t.done
		}
	}
	return out
}

// blocks proposes for each block of the plan how to go on.
func (v *seenVisit) blocks(here *seenVisit, f *reasoned, c retest.Comparison) []PageReturnBlock {
	out := []PageReturnBlock{}
	if v.plan == nil || v.plan.Plan.None != "" {
		return out
	}
	lib, _ := exercisesInUse()
	aims := f.aims()
	end := here.visit.Date
	counts := v.tally(end)
	worst, bone := v.painOf(here)
	for _, block := range programme.Blocks {
		b := PageReturnBlock{Block: block, Areas: []string{}, Findings: []string{}, Changes: []int{}}
		seen, of := false, map[string]bool{}
		for _, w := range v.plan.Plan.Weeks {
			for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
				e := lib.Lookup(i.Exercise)
				if e == nil || e.Block != block {
					continue
				}
				// What only prepares for running was meant to better nothing.
				seen = seen || i.Of != programme.General
				of[i.Of] = true
				if !slices.Contains(b.Areas, e.Area) {
					b.Areas = append(b.Areas, e.Area)
				}
			}
		}
		if !seen {
			continue
		}
		for _, x := range f.taken() {
			if slices.ContainsFunc(x.Aims, func(a finding.SidedAim) bool {
				return a.Block == block && slices.Contains(b.Areas, a.Area) || a.Of != "" && of[a.Of]
			}) {
				b.Findings = append(b.Findings, x.Title+sidesAfter(x.Sides))
			}
		}
		if f.findings != nil {
			for _, o := range f.findings.Own {
				if slices.ContainsFunc(o.Aims, func(a PageAim) bool { return a.Block == block && slices.Contains(b.Areas, a.Area) }) {
					b.Findings = append(b.Findings, o.Title+sideAfter(o.Side))
				}
			}
		}
		for _, t := range counts {
			if e := lib.Lookup(t.exercise); e != nil && e.Block == block {
				b.Planned, b.Done = b.Planned+t.planned, b.Done+t.done
			}
		}
		share := math.NaN()
		if b.Planned > 0 {
			share = float64(b.Done) / float64(b.Planned)
			b.Share = number(share, 3)
		}
		var outcomes []retest.Outcome
		take := func(want func(aim) bool) {
			for i, x := range c.Changes {
				for _, a := range aims {
					if a.test == x.Test && a.name == x.Name && a.side == x.Side && a.toward != 0 && want(a) {
						outcomes, b.Changes = append(outcomes, retest.Outcome{Change: x, Toward: a.toward}), append(b.Changes, i)
						break
					}
				}
			}
		}
		// A block is judged by the tests that speak of what it works on, and where
		// there are none, and in running itself, by what was seen on film.
		serves := func(a aim) bool {
			return slices.ContainsFunc(b.Areas, func(area string) bool { return slices.Contains(a.blocks, block+"/"+area) }) ||
				!a.test && slices.ContainsFunc(a.of, func(title string) bool { return slices.Contains(b.Findings, title) })
		}
		if block != "integrate" {
			take(func(a aim) bool { return a.test && serves(a) })
		}
		if len(outcomes) == 0 {
			take(func(a aim) bool { return !a.test && serves(a) })
		}
		p := retest.Propose(outcomes, retest.Done{Share: share, PainWorst: worst, BonePain: bone})
		if here.intake.refer().stops() {
			p = retest.Proposal{Do: "step back", Code: "refer", Why: "A warning sign stops this visit: nothing is trained before a clinician has cleared it."}
		}
		b.Do, b.Code, b.Number, b.Better, b.Worse, b.Told, b.Why = p.Do, p.Code, p.Number, p.Better, p.Worse, p.Told, p.Why
		if here.returned != nil && here.returned.Against == v.visit.ID {
			d := here.returned.Blocks[block]
			b.Decided, b.Note = d.Do, d.Note
		}
		out = append(out, b)
	}
	return out
}

// painOf is the worst pain of the last two weeks that came back and of today, and
// whether any pain was on one spot of a bone.
func (v *seenVisit) painOf(here *seenVisit) (worst int, bone bool) {
	end := here.visit.Date
	from := v.logUntil(end).AddDate(0, 0, -13).Format(dayForm)
	for _, d := range v.logDays(end) {
		if d.Pain != nil && d.Date >= from {
			worst = max(worst, *d.Pain)
		}
		bone = bone || d.Bone
	}
	if here.intake != nil {
		for _, x := range here.intake.Pain {
			worst = max(worst, x.Score)
		}
	}
	return worst, bone
}
