package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
	"gaitwright/gait/steprate"
	"gaitwright/internal/store"
)

const docStepRate = "steprate"

// maxTurns bounds how often weeks of a ramp are done again.
const maxTurns = 40

// keptStepRate is the step-rate part of a visit as it is kept. A baseline from
// film is kept as it was read, so that it stays when the film is measured anew.
type keptStepRate struct {
	Version int64           `json:"-"`
	Ask     PageStepRateAsk `json:"ask"`
	Base    *PageRate       `json:"base"`
	Weeks   []PageRampWeek  `json:"weeks"`
}

func parseStepRate(doc store.Document) (*keptStepRate, error) {
	var k keptStepRate
	if err := json.Unmarshal(doc.Body, &k); err != nil {
		return nil, fmt.Errorf("the step rate of visit %s cannot be read: %w", doc.VisitID, err)
	}
	k.Version = doc.Version
	return &k, nil
}

func visitDocument(r store.Reader, kind, visitID string) (store.Document, error) {
	doc, err := r.Document(kind, visitID)
	if errors.Is(err, store.ErrNotFound) {
		return store.Document{VisitID: visitID, Kind: kind, Owner: visitID}, nil
	}
	return doc, err
}

// check refuses what cannot be meant.
func (a *PageStepRateAsk) check(e *entries) {
	if a.How != "" {
		e.choice("how", "where the step rate comes from", a.How, "film", "count", "runs")
	}
	if a.Landing != "" {
		e.choice("landing", "what is said of the landing", a.Landing, "yes", "no")
	}
	e.number("seconds", "a count", a.Seconds, 5, 3600, " s")
	if a.Count != nil && (*a.Count < 1 || *a.Count > 20000) {
		e.fail("count", "Count the contacts.", "%d steps cannot be right", *a.Count)
	}
	e.number("speed_mps", "a speed", a.SpeedMPS, 0.5, 12, " m/s")
	e.number("target", "a target", a.Target, 100, 240, " steps a minute")
	e.number("step_a_week", "a rise", a.StepAWeek, 0.5, 10, " steps a minute each week")
	e.number("run_min", "a run", a.RunMin, 5, 600, " minutes")
	for _, n := range []struct {
		field string
		v     *int
		low   int
		top   int
	}{{"fade_weeks", a.FadeWeeks, 1, 104}, {"hold_weeks", a.HoldWeeks, 1, 26}} {
		if n.v != nil && (*n.v < n.low || *n.v > n.top) {
			e.fail(n.field, "", "%d weeks are not %d to %d", *n.v, n.low, n.top)
		}
	}
	if len(a.Paces) > 4 {
		e.fail("paces", "", "at most 4 paces beside the easy one")
	}
	for i := range a.Paces {
		p := &a.Paces[i]
		at := fmt.Sprintf("paces.%d.", i)
		p.Name = clean(p.Name, 40)
		if p.Name == "" {
			e.fail(at+"name", "Name it, such as tempo.", "a pace has no name")
		}
		e.number(at+"speed_mps", "a speed", &p.SpeedMPS, 0.5, 12, " m/s")
		e.number(at+"base", "a step rate", p.Base, 100, 240, " steps a minute")
	}
	if len(a.Turns) > maxTurns {
		e.fail("turns", "", "at most %d weeks are done again", maxTurns)
	}
	for i, t := range a.Turns {
		e.choice(fmt.Sprintf("turns.%d.do", i), "what follows the week", t.Do, "hold", "step back")
		if t.Week < 1 || t.Week > steprate.MaxWeeks+2*maxTurns {
			e.fail(fmt.Sprintf("turns.%d.week", i), "", "there is no week %d", t.Week)
		}
	}
	if a.Paces == nil {
		a.Paces = []PageAtPace{}
	}
	if a.Turns == nil {
		a.Turns = []PageTurn{}
	}
}

// filmRate is the step rate of the newest measurement: of the clip in which it is
// known best. Nil for none.
func (f *reasoned) filmRate() *PageRate {
	var out *PageRate
	if f.session == nil {
		return nil
	}
	for _, c := range f.session.Clips {
		for _, m := range c.Measures {
			if m.Name != "step_rate" || m.Withheld() || math.IsNaN(m.SEM) || out != nil && out.SEM <= m.SEM {
				continue
			}
			out = &PageRate{PerMin: round2(m.Value), SEM: round2(m.SEM), How: "film", SpeedMPS: known(f.session.conditions(c).SpeedMPS)}
			out.Text = fmt.Sprintf("From film: %d steps.", m.Strides)
		}
	}
	return out
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }

// base is what the ramp starts from.
func (a PageStepRateAsk) base(film, runs, kept *PageRate) (*PageRate, error) {
	switch a.How {
	case "runs":
		if runs == nil {
			return nil, &Problem{Kind: KindUsage, Field: "how", What: "No run from before the ramp has a steady part with speed and step rate.", Mend: "Take run files in below, or count steps."}
		}
		return runs, nil
	case "film":
		if film == nil {
			film = kept
		}
		if film == nil || film.How != "film" {
			return nil, &Problem{Kind: KindUsage, Field: "how", What: "No film of this visit shows a step rate.", Mend: "Measure a film, or count steps."}
		}
		return film, nil
	case "count":
		if a.Count == nil || a.Seconds == nil {
			return nil, nil
		}
		r, err := steprate.Counted(*a.Count, *a.Seconds, a.OneFoot)
		if err != nil {
			return nil, &Problem{Kind: KindUsage, Field: "count", What: err.Error(), Err: err}
		}
		return &PageRate{PerMin: round2(r.PerMin), SEM: round2(r.SEM), How: "count", SpeedMPS: a.SpeedMPS, Text: countText(r, *a.Seconds, a.OneFoot)}, nil
	}
	return nil, nil
}

// countText says what a count is worth.
func countText(r steprate.Rate, seconds float64, oneFoot bool) string {
	s := fmt.Sprintf("%.0f steps a minute of both feet, ± %.1f (95 %%): one step more or less counted makes %.1f.", r.PerMin, 1.96*r.SEM, steprate.Resolution(seconds, oneFoot))
	if r.SEM > 1 {
		s += fmt.Sprintf(" Count for %.0f seconds for a standard error of one.", fives(r.SEM*seconds))
	}
	return s
}

// fives rounds up to five seconds.
func fives(s float64) float64 { return math.Ceil(s/5-1e-9) * 5 }

// CountAdvice says how long to count for a standard error of one step a minute, a
// stop-watch pressed by hand included; the error falls as the time grows.
func CountAdvice() PageCountAdvice {
	const s = 60
	both, _ := steprate.Counted(160, s, false)
	one, _ := steprate.Counted(80, s, true)
	p := PageCountAdvice{BothS: fives(both.SEM * s), OneS: fives(one.SEM * s)}
	p.Text = fmt.Sprintf("Count both feet for %.0f seconds or more, or one foot for %.0f, at the runner's own easy pace: a standard error of about one step a minute. Ten seconds of one foot tell only steps of %.0f a minute apart.", p.BothS, p.OneS, steprate.Resolution(10, true))
	return p
}

// landing is what the analyst, or the findings, say of the landing.
func (f *reasoned) landing(ask string) steprate.Landing {
	asks := func(a finding.SidedAim) bool { return a.Area == "quicker_steps" || a.Area == "land_under" }
	var of []string
	_, aims, _ := f.accepted()
	for _, a := range aims {
		if said := strings.TrimSuffix(a.Of, "."); asks(a) && said != "" && !slices.Contains(of, said) {
			of = append(of, said)
		}
	}
	l := steprate.Landing{Overstriding: len(of) > 0, Reason: strings.Join(of, "; ")}
	switch ask {
	case "yes":
		l.Overstriding = true
	case "no":
		l.Overstriding = false
	default:
		var open []string
		for _, x := range f.report.Findings {
			if (f.findings == nil || f.findings.Decisions[x.Name].State == "") && slices.ContainsFunc(x.Aims, asks) {
				open = append(open, x.Title)
			}
		}
		l.Undecided = strings.Join(open, ", ")
	}
	return l
}

// ramp works out the weeks; none says why there are none.
func (f *reasoned) ramp(k keptStepRate) (target steprate.Target, weeks []PageRampWeek, none string) {
	if why := programme.NoRun(programme.Input{Refer: f.report.Refer}); why != "" {
		return target, nil, why
	}
	if k.Base == nil {
		return target, nil, "The step rate at the runner's own easy pace is not known yet."
	}
	base := steprate.Rate{PerMin: k.Base.PerMin, SEM: k.Base.SEM, How: k.Base.How, SpeedMPS: orZero(k.Base.SpeedMPS)}
	target = steprate.TargetFor(base, f.runner.HeightM, f.landing(k.Ask.Landing))
	to := target.PerMin
	if k.Ask.Target != nil {
		to = *k.Ask.Target
	}
	if to == 0 {
		return target, nil, target.None
	}
	paces := []steprate.Pace{{Name: "easy", SpeedMPS: base.SpeedMPS, Base: base.PerMin}}
	for _, p := range k.Ask.Paces {
		paces = append(paces, steprate.Pace{Name: p.Name, SpeedMPS: p.SpeedMPS, Base: orZero(p.Base)})
	}
	o := steprate.Options{StepAWeek: orZero(k.Ask.StepAWeek), RunMin: orZero(k.Ask.RunMin)}
	if k.Ask.FadeWeeks != nil {
		o.FadeWeeks = *k.Ask.FadeWeeks
	}
	if k.Ask.HoldWeeks != nil {
		o.HoldWeeks = *k.Ask.HoldWeeks
	}
	made, err := steprate.Ramp(base, to, paces, o)
	if err != nil {
		return target, nil, upperFirst(err.Error()) + "."
	}
	for _, t := range k.Ask.Turns {
		made = turned(made, t)
	}
	for i, w := range made {
		p := pageRampWeek(w)
		p.Number, p.From = i+1, f.rampStart().AddDate(0, 0, 7*i).Format(dayForm)
		weeks = append(weeks, p)
	}
	return target, weeks, ""
}

// turned repeats a week, or goes back to the one before it.
func turned(weeks []steprate.Week, t PageTurn) []steprate.Week {
	n := t.Week
	if n < 1 || n > len(weeks) {
		return weeks
	}
	again := []steprate.Week{weeks[n-1]}
	if t.Do == "step back" && n > 1 {
		again = []steprate.Week{weeks[n-2], weeks[n-1]}
	}
	for i := range again {
		again[i].Note = "Done again."
	}
	return slices.Insert(slices.Clone(weeks), n, again...)
}

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func pageRampWeek(w steprate.Week) PageRampWeek {
	p := PageRampWeek{Number: w.Number, PerMin: round2(w.PerMin), RunMin: w.RunMin, OnMin: w.OnMin, OffMin: w.OffMin, RisePercent: round2(w.RisePercent), Note: w.Note, At: []PageWeekAt{}}
	for _, a := range w.At {
		p.At = append(p.At, weekAt(a.Name, a.SpeedMPS, a.PerMin))
	}
	return p
}

func weekAt(name string, speedMPS, perMin float64) PageWeekAt {
	a := PageWeekAt{Name: name, SpeedMPS: speedMPS, PerMin: round2(perMin), SpeedKMH: round2(speedMPS * 3.6), Pace: PaceText(speedMPS)}
	if speedMPS > 0 {
		a.StepLengthM = math.Round(1000*steprate.StepLengthM(speedMPS, perMin)) / 1000
	}
	return a
}

// PaceText writes a speed as minutes and seconds a kilometre; empty for none.
func PaceText(speedMPS float64) string {
	if !(speedMPS > 0) {
		return ""
	}
	return paceText(1000, speedMPS)
}

// rampStart is the Monday on which the ramp begins: the plan's, or that after the
// visit.
func (f *visitRecords) rampStart() time.Time {
	start := f.visit.Date
	if f.plan != nil && !f.plan.Plan.Start.IsZero() {
		start = f.plan.Plan.Start
	}
	back := (int(start.Weekday()) + 6) % 7
	if f.plan == nil && back > 0 {
		back -= 7
	}
	return time.Date(start.Year(), start.Month(), start.Day()-back, 0, 0, 0, 0, time.UTC)
}

// StepRate gives the step-rate part of a visit.
func (st *Studio) StepRate(ctx context.Context, visitID string) (PageStepRate, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageStepRate{}, err
	}
	p := f.pageStepRate()
	p.Runs = f.runsBase(p.Ask.SpeedMPS, st.now())
	return p, nil
}

func (f *reasoned) pageStepRate() PageStepRate {
	p := PageStepRate{Ask: PageStepRateAsk{Paces: []PageAtPace{}, Turns: []PageTurn{}}, Film: f.filmRate(), Weeks: []PageRampWeek{}, Count: CountAdvice(), Disputed: []PageDisputed{}}
	var k keptStepRate
	if f.steprate != nil {
		k = *f.steprate
		p.Version, p.Ask = k.Version, k.Ask
	} else if p.Film != nil {
		p.Ask.How, k.Ask.How, k.Base = "film", "film", p.Film
	}
	p.Base = k.Base
	target, weeks, none := f.ramp(k)
	p.None = none
	for i, w := range weeks {
		if i < len(k.Weeks) && k.Weeks[i].Hand {
			w = byHand(w, k.Weeks[i], p.Base.PerMin)
		}
		p.Weeks = append(p.Weeks, w)
	}
	p.Target = PageStepTarget{None: target.None, PerMin: known(target.PerMin), Least: known(round2(target.Least)), Most: known(round2(target.Most)), Why: target.Why, Anchors: pageAnchors(target), Landing: f.landing("").Reason}
	p.Disputed = emptyNotNil(disputed(f.report.Points, target.Contested))
	return p
}

// byHand puts what the analyst set into a week; the other paces follow in
// proportion.
func byHand(w, hand PageRampWeek, base float64) PageRampWeek {
	share := hand.PerMin / w.PerMin
	w.PerMin, w.RunMin, w.OnMin, w.OffMin, w.Note, w.Hand = hand.PerMin, hand.RunMin, hand.OnMin, hand.OffMin, hand.Note, true
	w.RisePercent = round2(100 * (hand.PerMin/base - 1))
	for i, a := range w.At {
		w.At[i] = weekAt(a.Name, a.SpeedMPS, a.PerMin*share)
	}
	return w
}

// noStepRate is why a visit that a warning sign stops has no ramp and no click.
func (f *visitRecords) noStepRate() error {
	return problem(KindNotAllowed, "", "It goes on when a clinician's clearance is noted at the station Intake.", "a warning sign stops this visit: no step rate is trained")
}

// ChangeStepRate writes what the analyst decided.
func (st *Studio) ChangeStepRate(ctx context.Context, who, visitID string, c PageStepRateChange) (PageStepRate, error) {
	var e entries
	c.Ask.check(&e)
	if len(c.Weeks) > steprate.MaxWeeks+2*maxTurns {
		e.fail("weeks", "", "%d weeks are too many", len(c.Weeks))
	}
	for i := range c.Weeks {
		w, at := &c.Weeks[i], fmt.Sprintf("weeks.%d.", i)
		if !w.Hand {
			continue
		}
		e.number(at+"per_min", "a step rate", &w.PerMin, 100, 240, " steps a minute")
		e.number(at+"run_min", "a run", &w.RunMin, 1, 600, " minutes")
		e.number(at+"on_min", "a part with the click", &w.OnMin, 0, 600, " minutes")
		e.number(at+"off_min", "a part without the click", &w.OffMin, 0, 600, " minutes")
		e.prose(at+"note", "the note", &w.Note, 400)
	}
	if e.err != nil {
		return PageStepRate{}, e.err
	}
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageStepRate{}, err
	}
	if f.intake.refer().stops() {
		return PageStepRate{}, f.noStepRate()
	}
	var before keptStepRate
	if f.steprate != nil {
		before = *f.steprate
	}
	next := keptStepRate{Ask: c.Ask, Weeks: before.Weeks}
	if c.Weeks != nil {
		next.Weeks = c.Weeks
	}
	if c.Weeks == nil {
		next.Weeks = shifted(before, c.Ask.Turns)
	}
	if next.Base, err = c.Ask.base(f.filmRate(), f.runsBase(c.Ask.SpeedMPS, st.now()), before.Base); err != nil {
		return PageStepRate{}, err
	}
	if _, _, none := f.ramp(next); none != "" && c.Ask.Target != nil && next.Base != nil {
		return PageStepRate{}, &Problem{Kind: KindUsage, Field: "target", What: none}
	}
	if before.Version == c.Version && reflect.DeepEqual(before.Ask, next.Ask) && reflect.DeepEqual(before.Weeks, next.Weeks) {
		return f.pageStepRate(), nil
	}
	err = st.change(ctx, who, stepRateDeed(before, next), visitID, func(w store.Writer) error {
		if _, err := w.Visit(visitID); err != nil {
			return err
		}
		doc, err := visitDocument(w, docStepRate, visitID)
		if err != nil {
			return err
		}
		if doc.Version != c.Version {
			return stale("The step rate", doc.Version)
		}
		doc.Body = rawJSON(next)
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PageStepRate{}, missingRecord(err, "visit")
	}
	return st.StepRate(ctx, visitID)
}

// shifted gives the weeks set by hand their places after a turn was added. Where
// turns were changed otherwise nobody can say which week is which, and they go.
func shifted(before keptStepRate, turns []PageTurn) []PageRampWeek {
	n := len(before.Ask.Turns)
	switch {
	case slices.Equal(turns, before.Ask.Turns):
		return before.Weeks
	case len(turns) != n+1 || !slices.Equal(turns[:n], before.Ask.Turns) || turns[n].Week > len(before.Weeks):
		return nil
	}
	again := make([]PageRampWeek, 1)
	if turns[n].Do == "step back" && turns[n].Week > 1 {
		again = make([]PageRampWeek, 2)
	}
	return slices.Insert(slices.Clone(before.Weeks), turns[n].Week, again...)
}

func stepRateDeed(before, after keptStepRate) string {
	switch {
	case len(after.Ask.Turns) > len(before.Ask.Turns):
		t := after.Ask.Turns[len(after.Ask.Turns)-1]
		if t.Do == "hold" {
			return fmt.Sprintf("Step rate: week %d again", t.Week)
		}
		return fmt.Sprintf("Step rate: back before week %d", t.Week)
	case !reflect.DeepEqual(before.Ask.Target, after.Ask.Target):
		if after.Ask.Target == nil {
			return "Step rate: target as proposed"
		}
		return fmt.Sprintf("Step rate: target %.0f", *after.Ask.Target)
	case !reflect.DeepEqual(before.Base, after.Base) && after.Base != nil:
		return fmt.Sprintf("Step rate: baseline %.0f", after.Base.PerMin)
	}
	return "Step rate: changed the ramp"
}
