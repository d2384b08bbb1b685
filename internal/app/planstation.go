package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/programme"
	"gaitwright/internal/store"
)

const docPlan = "plan"

// Bounds of a plan.
const (
	maxItems    = 30 // in one list of a week
	maxPlanNote = 600
)

// keptPlan is the plan as it is kept.
type keptPlan struct {
	Version int64          `json:"-"`
	Ask     PagePlanAsk    `json:"ask"`
	Plan    programme.Plan `json:"plan"`
	// Rests is a mark of the findings it was made of.
	Rests string `json:"rests"`
}

func parsePlan(doc store.Document) (*keptPlan, error) {
	var p keptPlan
	if err := json.Unmarshal(doc.Body, &p); err != nil {
		return nil, fmt.Errorf("the plan of visit %s cannot be read: %w", doc.VisitID, err)
	}
	p.Version = doc.Version
	return &p, nil
}

func readPlan(r store.Reader, visitID string) (*keptPlan, store.Document, error) {
	doc, err := r.Document(docPlan, visitID)
	if errors.Is(err, store.ErrNotFound) {
		return nil, store.Document{VisitID: visitID, Kind: docPlan, Owner: visitID}, nil
	}
	if err != nil {
		return nil, doc, err
	}
	p, err := parsePlan(doc)
	return p, doc, err
}

// accepts tells whether any finding is accepted or added.
func (f *visitRecords) accepts() bool {
	if f.findings == nil {
		return false
	}
	for _, d := range f.findings.Decisions {
		if d.State == "accepted" {
			return true
		}
	}
	return len(f.findings.Own) > 0
}

// mark tells whether what a plan is made of was changed.
func (p *PageFindingsKept) mark() string {
	h := fnv.New64a()
	b, err := json.Marshal(struct {
		D map[string]PageDecision
		W []PageOwnFinding
		O []string
	}{p.Decisions, p.Own, p.Order})
	if err != nil {
		panic("app: " + err.Error()) // plain data
	}
	h.Write(b)
	return fmt.Sprintf("%016x", h.Sum64())
}

// usualAsk is what is asked of a plan before the coach says otherwise.
func (st *Studio) usualAsk() PagePlanAsk {
	day := st.now()
	for day.Weekday() != time.Monday {
		day = day.AddDate(0, 0, 1)
	}
	return PagePlanAsk{Start: day.Format(dayForm), Weeks: 8, FullMin: 20, WarmMin: 7, FullDays: 3, RunDays: 3, Equipment: []string{"mat", "roller", "band", "step"}}
}

func (a *PagePlanAsk) check(e *entries, now time.Time) time.Time {
	start, err := time.Parse(dayForm, a.Start)
	if err != nil {
		e.fail("ask.start", "", "the first day is %q; write the day as 2026-03-14", clean(a.Start, 40))
	} else if start.Before(now.AddDate(-1, 0, 0)) || start.After(now.AddDate(1, 0, 0)) {
		e.fail("ask.start", "Check the year.", "the first day of %s is more than a year away", a.Start)
	}
	between := func(field, what string, v, low, top int) {
		if v < low || v > top {
			e.fail("ask."+field, "", "%s: %d; it must be %d to %d", what, v, low, top)
		}
	}
	between("weeks", "weeks", a.Weeks, 1, 26)
	between("full_min", "minutes of a full session", a.FullMin, 5, 90)
	between("warm_min", "minutes of a warm-up", a.WarmMin, 3, 30)
	between("full_days", "days a week with a full session", a.FullDays, 1, 3)
	between("run_days", "days a week with a run", a.RunDays, 0, 7)
	if len(a.Equipment) > len(programme.Equipment) {
		e.fail("ask.equipment", "", "equipment is named twice")
	}
	for _, have := range a.Equipment {
		if !slices.Contains(programme.Equipment, have) {
			e.fail("ask.equipment", "", "%q is not known; known are %s", clean(have, 30), strings.Join(programme.Equipment, ", "))
		}
	}
	a.Equipment = emptyNotNil(a.Equipment)
	return start
}

// planInput is what a plan is made of as things stand.
func (f *reasoned) planInput(ask PagePlanAsk, start time.Time) programme.Input {
	_, aims, spared := f.accepted()
	if ask.RunDays == 0 {
		ask.RunDays = -1 // none, and not the usual
	}
	return programme.Input{Aims: aims, Spared: spared, Refer: f.report.Refer, Pains: f.intake.findingPains(), Equipment: ask.Equipment, FullMin: ask.FullMin, WarmMin: ask.WarmMin,
		FullDays: ask.FullDays, RunDays: ask.RunDays, Weeks: ask.Weeks, Start: start}
}

// Plan gives the station Plan of a visit.
func (st *Studio) Plan(ctx context.Context, visitID string) (PagePlan, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PagePlan{}, err
	}
	return st.pagePlan(&f), nil
}

func (st *Studio) pagePlan(f *reasoned) PagePlan {
	lib, note := exercisesInUse()
	titles, _, _ := f.accepted()
	p := PagePlan{Ask: st.usualAsk(), Weeks: []programme.Week{}, Minutes: []PagePlanMinutes{}, Left: []programme.Left{}, FullDays: []int{}, RunDays: []int{}, Unmet: []programme.Unmet{},
		Removed: []string{}, Closed: []string{}, Accepted: emptyNotNil(titles), Refer: []PageReferral{}, Rules: programme.ProgressRules(), Stops: programme.StopSigns, Note: note, Equipment: programme.Equipment, Disputed: []PageDisputed{}}
	for _, x := range f.report.Refer {
		p.Refer = append(p.Refer, PageReferral{Region: x.Region, Side: x.Side.String(), Why: x.Why})
	}
	if f.plan != nil {
		p.Version, p.Ask = f.plan.Version, f.plan.Ask
	}
	start, _ := time.Parse(dayForm, p.Ask.Start)
	in := f.planInput(p.Ask, start)
	for _, e := range lib.Exercises {
		one := pageExercise(e)
		one.Refused, one.Disputed = programme.Refused(e, in), emptyNotNil(programme.DisputedOf(e))
		p.Exercises = append(p.Exercises, one)
	}
	if f.plan == nil {
		// Said before it is asked for, so that nobody tries.
		if made := programme.Make(lib, in); made.None != "" && len(titles) > 0 {
			p.None = made.None
		}
		return p
	}
	kept, left := f.plan.Plan.Safe(lib, in)
	p.None, p.NoRun, p.Short, p.Retest = kept.None, kept.NoRun, kept.Short, kept.Retest.Format(dayForm)
	p.Left = emptyNotNil(left)
	if p.None != "" {
		return p
	}
	p.FullDays, p.RunDays, p.Unmet, p.Removed = emptyNotNil(kept.FullDays), emptyNotNil(kept.RunDays), emptyNotNil(kept.Unmet), emptyNotNil(kept.Removed)
	p.Closed = emptyNotNil(programme.Closed(in))
	p.Behind = f.plan.Plan.Behind(lib, in)
	if f.findings != nil && f.plan.Rests != f.findings.mark() {
		p.Behind = "findings"
	}
	p.Stale = p.Behind != ""
	for _, w := range kept.Weeks {
		w.Warm, w.Full, w.Running = emptyNotNil(w.Warm), emptyNotNil(w.Full), emptyNotNil(w.Running)
		p.Weeks = append(p.Weeks, w)
		p.Minutes = append(p.Minutes, PagePlanMinutes{Warm: minutes(programme.TimeS(lib, w.Warm)), Full: minutes(programme.TimeS(lib, w.Full))})
	}
	p.Disputed = disputed(f.report.Points, kept.Disputed(lib))
	return p
}

func minutes(s int) float64 { return math.Round(float64(s)/6) / 10 }

func pageExercise(e *programme.Exercise) PageExercise {
	return PageExercise{Name: e.Name, Title: e.Title, Block: e.Block, Area: e.Area, Level: e.Level, Each: e.Each, Warm: e.Warm, Run: e.Run, Dose: e.Dose, Needs: emptyNotNil(e.Needs),
		How: e.How, Cue: e.Cue, Felt: e.Felt, NotFelt: e.NotFelt, Easier: e.Easier, Harder: e.Harder, Evidence: e.Evidence, Tag: e.Tag, Own: e.Own}
}

// checkWeeks refuses what cannot be meant and what must not be done.
func checkWeeks(e *entries, lib *programme.Library, weeks []programme.Week, ask PagePlanAsk, in programme.Input) {
	if len(weeks) != ask.Weeks {
		e.fail("weeks", "", "%d weeks were sent of a plan of %d", len(weeks), ask.Weeks)
		return
	}
	for n := range weeks {
		w := &weeks[n]
		w.Number = n + 1
		e.prose(fmt.Sprintf("weeks.%d.note", n), "the note", &w.Note, maxPlanNote)
		for _, list := range []struct {
			name  string
			items []programme.Item
		}{{"warm", w.Warm}, {"full", w.Full}, {"running", w.Running}} {
			at := fmt.Sprintf("weeks.%d.%s", n, list.name)
			if len(list.items) > maxItems {
				e.fail(at, "", "week %d: %d exercises; at most %d", n+1, len(list.items), maxItems)
				continue
			}
			seen := map[string]bool{}
			for i := range list.items {
				x := &list.items[i]
				item := lib.Lookup(x.Exercise)
				place := fmt.Sprintf("%s.%d", at, i)
				if item == nil {
					e.fail(place, "", "week %d: there is no exercise %q", n+1, clean(x.Exercise, 40))
					continue
				}
				if seen[x.Exercise] {
					e.fail(place, "Give it more sets instead.", "week %d: %s is there twice", n+1, item.Title)
				}
				seen[x.Exercise] = true
				if err := x.Dose.Check(); err != nil {
					e.fail(place+".dose", "", "week %d: %s: %v", n+1, item.Title, err)
				}
				if item.Run != (list.name == "running") {
					e.fail(place, "", "week %d: %s is done %s", n+1, item.Title, map[bool]string{true: "while running", false: "on the floor, not while running"}[item.Run])
				}
				if !item.Each {
					x.Side = body.NoSide
				}
				if why := programme.Refused(item, in); why != "" {
					e.fail(place, "Leave it out until a clinician has cleared it, or the pain has gone.", "week %d: %s %s", n+1, item.Title, why)
				}
				e.prose(place+".of", "what it is for", &x.Of, maxProse)
				e.prose(place+".why", "why both sides", &x.Why, maxProse)
			}
		}
	}
}

// ChangePlan makes a plan, makes it anew around what was changed by hand, or
// keeps what the coach changed.
func (st *Studio) ChangePlan(ctx context.Context, who, visitID string, c PagePlanChange) (PagePlan, error) {
	var e entries
	start := c.Ask.check(&e, st.now())
	if e.err != nil {
		return PagePlan{}, e.err
	}
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PagePlan{}, err
	}
	if have := f.planVersion(); have != c.Version {
		return PagePlan{}, stale("The plan", have)
	}
	if !f.accepts() && f.plan == nil {
		return PagePlan{}, &Problem{Kind: KindUsage, What: "No finding is accepted, so there is nothing to make a plan of.", Mend: "Accept a finding or add one of your own."}
	}
	lib, _ := exercisesInUse()
	in := f.planInput(c.Ask, start)
	next := keptPlan{Ask: c.Ask}
	var deed string
	switch {
	case len(c.Weeks) > 0 && f.plan != nil:
		checkWeeks(&e, lib, c.Weeks, f.plan.Ask, in)
		if e.err != nil {
			return PagePlan{}, e.err
		}
		next.Ask, next.Rests = f.plan.Ask, f.plan.Rests
		safe, _ := f.plan.Plan.Safe(lib, in)
		if safe.None != "" {
			return PagePlan{}, &Problem{Kind: KindNotAllowed, What: safe.None}
		}
		if safe.NoRun != "" && slices.ContainsFunc(c.Weeks, func(w programme.Week) bool { return len(w.Warm)+len(w.Running) > 0 }) {
			return PagePlan{}, &Problem{Kind: KindNotAllowed, What: safe.NoRun}
		}
		// What must not be done now is back when it may be done again.
		next.Plan = safe.ByHand(c.Weeks).WithLeft(f.plan.Plan, safe)
		if deed = planDeed(lib, f.plan.Plan, next.Plan); deed == "" {
			return st.pagePlan(&f), nil
		}
	case f.plan != nil:
		next.Plan = programme.Revise(lib, f.plan.Plan, in)
		deed = "Brought the plan up to date"
	default:
		next.Plan = programme.Make(lib, in)
		deed = fmt.Sprintf("Made a plan of %s", plural(c.Ask.Weeks, "week", "weeks"))
	}
	if next.Plan.None != "" {
		return PagePlan{}, &Problem{Kind: KindNotAllowed, What: next.Plan.None}
	}
	if next.Rests == "" && f.findings != nil {
		next.Rests = f.findings.mark()
	}
	err = st.change(ctx, who, deed, visitID, func(w store.Writer) error {
		if _, err := w.Visit(visitID); err != nil {
			return err
		}
		_, doc, err := readPlan(w, visitID)
		if err != nil {
			return err
		}
		if doc.Version != c.Version {
			return stale("The plan", doc.Version)
		}
		if doc.Body, err = json.Marshal(next); err != nil {
			return err
		}
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PagePlan{}, missingRecord(err, "visit")
	}
	return st.Plan(ctx, visitID)
}

func (f *reasoned) planVersion() int64 {
	if f.plan == nil {
		return 0
	}
	return f.plan.Version
}

// planDeed names what the coach changed; empty where nothing was.
func planDeed(lib *programme.Library, before, after programme.Plan) string {
	var what []string
	add := func(s string) {
		if !slices.Contains(what, s) {
			what = append(what, s)
		}
	}
	names := func(p programme.Plan) map[string]bool {
		out := map[string]bool{}
		for _, w := range p.Weeks {
			for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
				out[i.Exercise] = true
			}
		}
		return out
	}
	title := func(name string) string {
		if e := lib.Lookup(name); e != nil {
			return small(e.Title)
		}
		return name
	}
	a, b := names(before), names(after)
	for _, e := range lib.Exercises {
		switch {
		case !a[e.Name] && b[e.Name]:
			add("put " + title(e.Name) + " into the plan")
		case a[e.Name] && !b[e.Name]:
			add("took " + title(e.Name) + " out of the plan")
		}
	}
	if len(what) == 0 {
		x, _ := json.Marshal(before.Weeks)
		y, _ := json.Marshal(after.Weeks)
		if bytes.Equal(x, y) {
			return ""
		}
		for n := range after.Weeks {
			if n < len(before.Weeks) {
				x, _ := json.Marshal(before.Weeks[n])
				y, _ := json.Marshal(after.Weeks[n])
				if !bytes.Equal(x, y) {
					add(fmt.Sprintf("changed week %d of the plan", n+1))
				}
			}
		}
	}
	if len(what) > 3 {
		return "Changed the plan in several places"
	}
	s := strings.Join(what, "; ")
	return strings.ToUpper(s[:1]) + s[1:]
}

func atLeast(s int) time.Duration { return max(time.Minute, time.Duration(s)*time.Second) }
