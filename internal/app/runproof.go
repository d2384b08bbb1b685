package app

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/store"
)

// How far back runs are taken for the line before the ramp, and over how long for
// the line of now, days: a week, or where that has but one run three. A week that
// was run otherwise than the one before it would be hidden in a mean of both.
const (
	beforeDays = 56
	nowDays    = 7
	nowAtMost  = 21
)

// Runs gives what the runs of a visit's runner show.
func (st *Studio) Runs(ctx context.Context, visitID string) (PageRuns, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageRuns{}, err
	}
	return f.pageRuns(st.now()), nil
}

// RunProof holds the runs of a visit's runner against that visit's ramp, up to
// until: week by week, and the last week with runs before until against those before
// the ramp, at equal speed. Return calls it with the visit that has the ramp and
// the day of the next visit. A zero until is now.
func (st *Studio) RunProof(ctx context.Context, visitID string, until time.Time) (RunProof, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return RunProof{}, err
	}
	now := st.now()
	if !until.IsZero() && until.Before(now) {
		now = until
	}
	return f.runProof(now), nil
}

func (f *reasoned) pageRuns(now time.Time) PageRuns {
	p := PageRuns{RunnerID: f.runner.ID, Runs: []PageRun{}, Positions: dayOrNil(f.runner.ConsentPositions), Records: !f.runner.ConsentRecords.IsZero(), Proof: f.runProof(now)}
	doubts, counts := runsCounted(f.runs, now)
	for i, r := range slices.Backward(f.runs) {
		one := r.page(now.Location())
		d := doubts[i]
		one.Doubt, one.DoubtKind, one.DoubtOther, one.DoubtBy, one.Counts = d.Text, d.Kind, d.Other, math.Round(d.By), counts[i]
		p.Runs = append(p.Runs, one)
	}
	return p
}

// page is a run as it is shown.
func (r runRecord) page(studio *time.Location) PageRun {
	at := r.local(studio)
	p := PageRun{ID: r.ID, Version: r.Version, Name: r.Name, Format: r.facts.Format, Start: at.Format(time.RFC3339), Day: at.Format(dayForm), Minutes: round1(r.facts.Seconds / 60),
		KM: round2(r.facts.DistanceM / 1000), SteadyMin: round1(r.facts.Parts.Steady / 60), Notes: []string{}, Use: r.Use, Places: r.Original != ""}
	if v, rate, ok := r.mean(); ok {
		p.SpeedMPS, p.PerMin = number(v, 3), number(rate, 1)
	}
	if c := r.facts.ContactS; c != nil {
		p.ContactMS = number(*c*1000, 0)
	}
	if b := r.facts.OscillationM; b != nil {
		p.BounceCM = number(*b*100, 1)
	}
	x := r.facts.Parts
	p.Left = PageLeft{Settling: round1(x.Settling / 60), Stopped: round1(x.Stopped / 60), Hills: round1(x.Hills / 60), Uneven: round1(x.Uneven / 60), Unknown: round1(x.Unknown / 60)}
	p.LeftOut = leftOut(x)
	for _, n := range r.facts.Notes {
		if !strings.HasSuffix(n, "?") {
			n += "."
		}
		p.Notes = append(p.Notes, upperFirst(n))
	}
	return p
}

func round1(v float64) float64 { return math.Round(v*10) / 10 }

// mean is the speed and step rate of the steady parts, weighted by time.
func (r runRecord) mean() (speedMPS, perMin float64, ok bool) {
	w := 0.0
	for _, s := range r.facts.Segments {
		w += s.Seconds
		speedMPS += s.Seconds * s.SpeedMPS
		perMin += s.Seconds * s.PerMin
	}
	return speedMPS / w, perMin / w, w > 0
}

// leftOut says in words how much of a run was left out.
func leftOut(p steprate.Parts) string {
	total := p.Total()
	if total <= 0 {
		return "The file has no time."
	}
	out := total - p.Steady
	var why []string
	for _, c := range []struct {
		s    float64
		what string
	}{{p.Stopped, "stops and walking"}, {p.Hills, "hills"}, {p.Uneven, "a pace that changes"}, {p.Unknown, "running without speed or step rate"}, {p.Settling, "the first minute"}} {
		if c.s >= 30 {
			why = append(why, fmt.Sprintf("%s %.0f", c.what, math.Round(c.s/60)))
		}
	}
	s := fmt.Sprintf("%.0f of %.0f minutes are steady and level.", p.Steady/60, total/60)
	if out >= 30 && len(why) > 0 {
		s += fmt.Sprintf(" Left out: %s min.", inWords(why))
	}
	return s
}

// runsCounted tells of each run why it is in doubt, and whether it counts.
func runsCounted(runs []runRecord, now time.Time) (doubts []steprate.Doubt, counts []bool) {
	doubts, counts = make([]steprate.Doubt, len(runs)), make([]bool, len(runs))
	var look []steprate.OfRunner
	var of []int
	for i, r := range runs {
		switch {
		case r.Use == "no":
			continue
		case r.Start.Year() < 2000:
			doubts[i] = steprate.Doubt{Kind: "day", Text: fmt.Sprintf("The file says %d: the watch did not know the day.", r.Start.Year())}
		case r.Start.After(now.Add(26 * time.Hour)):
			doubts[i] = steprate.Doubt{Kind: "day", Text: "The file says a day to come: the watch did not know the day."}
		default:
			look = append(look, steprate.OfRunner{Start: r.Start, Seconds: r.facts.Seconds, DistanceM: r.facts.DistanceM, Segments: r.segments(i), Device: r.facts.Device,
				Name: r.Name + " of " + r.local(now.Location()).Format(dayForm)})
			of = append(of, i)
		}
	}
	for k, d := range steprate.Mixed(look) {
		doubts[of[k]] = d
	}
	for i, r := range runs {
		counts[i] = r.Use == "yes" || r.Use == "" && doubts[i].Text == ""
	}
	return doubts, counts
}

// monday is the first day of a moment's week, as a day without a zone.
func monday(t time.Time) time.Time {
	back := (int(t.Weekday()) + 6) % 7
	return time.Date(t.Year(), t.Month(), t.Day()-back, 0, 0, 0, 0, time.UTC)
}

// dayOf is a moment's day as a day without a zone.
func dayOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// line is a fit with what it was made of.
type line struct {
	steprate.Fit
	from, to time.Time
	segments []steprate.Segment
	counted  bool
}

// runLine fits the counted runs of some days, both inclusive; ok is false where
// none has a steady part.
func runLine(runs []runRecord, counts []bool, from, to time.Time, studio *time.Location, like *steprate.Fit) (l line, ok bool) {
	for i, r := range runs {
		if day := dayOf(r.local(studio)); counts[i] && !day.Before(from) && !day.After(to) && len(r.facts.Segments) > 0 {
			if len(l.segments) == 0 {
				l.from = day
			}
			l.to = day
			l.segments = append(l.segments, r.segments(i)...)
		}
	}
	var err error
	if like != nil {
		l.Fit, err = like.Like(l.segments)
	} else {
		l.Fit, err = steprate.FitRate(l.segments)
	}
	return l, err == nil
}

// beforeRamp is the line that the ramp is held against: of the runs of the eight
// weeks before it, or of what was counted or filmed.
func (f *visitRecords) beforeRamp(counts []bool, studio *time.Location, base *PageRate) (line, bool) {
	start := f.rampStart()
	if l, ok := runLine(f.runs, counts, start.AddDate(0, 0, -beforeDays), start.AddDate(0, 0, -1), studio, nil); ok {
		return l, true
	}
	if base != nil && base.SpeedMPS != nil {
		if fit, err := steprate.FitOf(steprate.Rate{PerMin: base.PerMin, SEM: base.SEM, SpeedMPS: *base.SpeedMPS}); err == nil {
			return line{Fit: fit, from: dayOf(f.visit.Date), to: dayOf(f.visit.Date), counted: true}, true
		}
	}
	return line{}, false
}

func (l line) page() *PageRunLine {
	p := &PageRunLine{From: l.from.Format(dayForm), To: l.to.Format(dayForm), Runs: l.Runs, Slope: round2(l.Slope), Counted: l.counted}
	low, high := l.Low, l.High
	if high-low < 0.3 {
		low, high = low-0.15, high+0.15
	}
	const places = 9
	for k := range places {
		v := low + (high-low)*float64(k)/(places-1)
		rate, a, b := l.Interval(v)
		p.Points = append(p.Points, PageRunPlace{SpeedMPS: math.Round(v*1000) / 1000, PerMin: round2(rate), Low: round2(a), High: round2(b)})
	}
	return p
}

// runProof works the runs out up to a moment.
func (f *reasoned) runProof(now time.Time) RunProof {
	p := RunProof{Weeks: []PageRunWeek{}, Points: []PageRunPoint{}, Spikes: []PageRunSpike{}, Change: PageRunChanged{Verdict: string(steprate.NotRun), Text: "No runs were taken in."}}
	studio := now.Location()
	_, counts := runsCounted(f.runs, now)
	ramp := f.pageStepRate()
	before, known := f.beforeRamp(counts, studio, ramp.Base)
	today := dayOf(now)
	f.runWeeks(&p, ramp, before.Fit, known, counts, now)
	var lengths []steprate.RunLength
	for i, r := range f.runs {
		if counts[i] && !r.Start.After(now) {
			lengths = append(lengths, steprate.RunLength{At: r.Start, DistanceM: r.facts.DistanceM})
		}
	}
	for _, s := range steprate.Spikes(lengths) {
		p.Spikes = append(p.Spikes, PageRunSpike{Day: s.At.In(studio).Format(dayForm), KM: round2(s.DistanceM / 1000), Longest: round2(s.LongestM / 1000), Percent: math.Round(s.Percent), Text: s.Text})
	}
	if known {
		p.Before = before.page()
		for _, s := range before.segments {
			p.Points = append(p.Points, PageRunPoint{SpeedMPS: s.SpeedMPS, PerMin: s.PerMin})
		}
	}
	// Now is the last week in which there were runs, within the ramp.
	start := f.rampStart()
	if len(ramp.Weeks) == 0 || today.Before(start) {
		p.Change.Text = "The ramp has not begun."
		if len(ramp.Weeks) == 0 {
			p.Change.Text = "There is no ramp yet to hold the runs against."
		}
		return p
	}
	last := time.Time{}
	for i, r := range f.runs {
		if day := dayOf(r.local(studio)); counts[i] && len(r.facts.Segments) > 0 && !day.After(today) && day.After(last) {
			last = day
		}
	}
	var like *steprate.Fit
	if known {
		like = &before.Fit
	}
	since := func(days int) (line, bool) {
		from := last.AddDate(0, 0, 1-days)
		if from.Before(start) {
			from = start
		}
		return runLine(f.runs, counts, from, today, studio, like)
	}
	current, ok := since(nowDays)
	if ok && current.Runs < 2 {
		current, ok = since(nowAtMost)
	}
	if !ok {
		p.Change.Text = "No steady running came back since the ramp began."
		return p
	}
	p.Now = current.page()
	for _, s := range current.segments {
		p.Points = append(p.Points, PageRunPoint{Now: true, SpeedMPS: s.SpeedMPS, PerMin: s.PerMin})
	}
	if !known {
		p.Change = PageRunChanged{Verdict: string(steprate.CannotTell), Text: "There is nothing from before the ramp with a speed to hold these runs against: take in runs from before it, or count or film at a known speed."}
		return p
	}
	c := before.Compare(current.Fit)
	p.Change = PageRunChanged{Verdict: string(c.Verdict), SpeedMPS: round2(c.SpeedMPS), Change: round2(c.Change), Low: round2(c.Low), High: round2(c.High), RawChange: round2(c.RawChange), SpeedChange: round2(c.SpeedChange), Text: c.Text}
	return p
}

// runWeeks works out the weeks: those of the ramp up to today, and those before it
// with runs.
func (f *reasoned) runWeeks(p *RunProof, ramp PageStepRate, before steprate.Fit, known bool, counts []bool, now time.Time) {
	studio, today := now.Location(), dayOf(now)
	byWeek := map[time.Time][]int{}
	first := time.Time{}
	for i, r := range f.runs {
		if day := dayOf(r.local(studio)); counts[i] && !day.After(today) {
			m := monday(day)
			byWeek[m] = append(byWeek[m], i)
			if first.IsZero() || m.Before(first) {
				first = m
			}
		}
	}
	number, end := map[string]int{}, time.Time{}
	for i, w := range ramp.Weeks {
		number[w.From] = i + 1
		from, err := time.Parse(dayForm, w.From)
		if err == nil && !from.After(today) && (first.IsZero() || from.Before(first)) {
			first = from
		}
		if err == nil && from.After(end) {
			end = from
		}
	}
	if first.IsZero() {
		return
	}
	if limit := monday(today).AddDate(0, 0, -7*104); first.Before(limit) {
		first = limit
	}
	planned := f.runsPlanned()
	var lengths []float64
	tally := map[string]int{}
	for m := first; !m.After(today); m = m.AddDate(0, 0, 7) {
		w := PageRunWeek{From: m.Format(dayForm), RampWeek: number[m.Format(dayForm)], Planned: planned, Runs: len(byWeek[m])}
		var load steprate.Load
		var segments []steprate.Segment
		for _, i := range byWeek[m] {
			r := f.runs[i]
			load.DistanceM += r.facts.DistanceM
			load.Seconds += r.facts.Seconds - r.facts.Parts.Stopped
			load.LongestM = max(load.LongestM, r.facts.DistanceM)
			segments = append(segments, r.segments(i)...)
		}
		load.Weigh(lengths[max(0, len(lengths)-4):])
		lengths = append(lengths, load.DistanceM)
		w.KM, w.Minutes, w.Longest, w.Load = round1(load.DistanceM/1000), math.Round(load.Seconds/60), round1(load.LongestM/1000), load.Text
		if load.Text != "" {
			w.MoreThan = math.Round(100 * (load.DistanceM/load.UsualM - 1))
		}
		if w.RampWeek > 0 {
			f.judge(&w, ramp.Weeks[w.RampWeek-1], before, known, segments, m.AddDate(0, 0, 7).After(today))
			tally[w.Verdict]++
		}
		if w.RampWeek == 0 && w.Runs == 0 {
			continue // nothing was asked for and nothing was run
		}
		w.After = w.RampWeek == 0 && !end.IsZero() && m.After(end)
		p.Weeks = append(p.Weeks, w)
	}
	var told []string
	for _, v := range []steprate.WeekVerdict{steprate.WeekReached, steprate.WeekFaster, steprate.WeekShort, steprate.WeekMissed, steprate.WeekAlmost, steprate.WeekUnknown} {
		if n := tally[string(v)]; n > 0 {
			told = append(told, fmt.Sprintf("%d %s", n, v))
		}
	}
	if len(told) > 0 {
		p.Told = "Weeks of the ramp so far: " + strings.Join(told, ", ") + "."
	}
}

// judge says how a week of the ramp went.
func (f *reasoned) judge(w *PageRunWeek, asked PageRampWeek, before steprate.Fit, known bool, segments []steprate.Segment, going bool) {
	log := steprate.Log{Planned: w.Planned, Done: w.Runs}
	w.Asked = number(asked.PerMin, 1)
	if w.Runs == 0 {
		w.Verdict, w.Text = string(steprate.WeekMissed), "Missed: no run of this week came back."
		if going {
			w.Verdict, w.Text = string(steprate.WeekUnderway), "The week is under way; no run of it has come back yet."
			return
		}
		w.Do, w.Why = "hold", "Nothing was run: do this week again."
		return
	}
	at := asked.steprate().At
	if len(at) == 0 || !(at[0].SpeedMPS > 0) || !known {
		w.Verdict = string(steprate.WeekUnknown)
		w.Text = "The easy pace of the ramp is not known, so steps cannot be held against it at equal speed: enter it at the baseline."
		return
	}
	g := steprate.Judge(before, at, segments)
	w.Verdict, w.Text = string(g.Verdict), g.Text
	if g.Verdict == steprate.WeekUnknown {
		return
	}
	w.Asked, w.Taken, w.Low, w.High = number(g.Asked, 1), number(g.Taken, 1), number(g.Low, 1), number(g.High, 1)
	w.SpeedMPS, w.RanMPS, w.RanRate, w.Share = number(g.SpeedMPS, 2), number(g.RanMPS, 2), number(g.RanPerMin, 1), number(g.Share, 2)
	if going {
		log.Planned = 0 // the week is not over
	}
	log.Rate, log.RateSEM = g.Taken, (g.High-g.Low)/2/1.96
	next := steprate.Next(g.Asked, log)
	if next.Do == "go on" {
		next.Why = "On to the next week, at the same pace."
	}
	if next.Do == "go on" && (g.Verdict == steprate.WeekFaster || g.Verdict == steprate.WeekShort) {
		next.Do, next.Why = "hold", fmt.Sprintf("%.0f steps a minute were taken at this pace where %.0f were asked: do this week again, at the pace itself.", g.Taken, g.Asked)
	}
	w.Do, w.Why = next.Do, next.Why
}

// runsBase is the baseline that the runs before the ramp give at a pace; nil for
// none. Without a pace it is that of most of the running.
func (f *visitRecords) runsBase(pace *float64, now time.Time) *PageRate {
	_, counts := runsCounted(f.runs, now)
	start := f.rampStart()
	l, ok := runLine(f.runs, counts, start.AddDate(0, 0, -beforeDays), start.AddDate(0, 0, -1), now.Location(), nil)
	if !ok {
		return nil
	}
	return l.rate(pace)
}

// readRunsOf adds the runs of the visit's runner.
func (f *visitRecords) readRunsOf(r store.Reader) (err error) {
	f.runs, err = readRuns(r, f.runner.ID)
	return err
}
