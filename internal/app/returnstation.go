package app

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
	"gaitwright/gait/retest"
	"gaitwright/internal/store"
)

const docReturn = "return"

// maxCourse is how many visits a trend goes back.
const maxCourse = 40

// keptReturn is what the coach decided at a return.
type keptReturn struct {
	Version int64                         `json:"-"`
	Against string                        `json:"against"`
	Blocks  map[string]PageReturnDecision `json:"blocks"`
	Note    string                        `json:"note"`
}

func parseReturn(doc store.Document) (*keptReturn, error) {
	var k keptReturn
	if err := json.Unmarshal(doc.Body, &k); err != nil {
		return nil, fmt.Errorf("the return of visit %s cannot be read: %w", doc.VisitID, err)
	}
	k.Version = doc.Version
	return &k, nil
}

// seenVisit is a visit with what was seen at it.
type seenVisit struct {
	visitRecords
	clips []seenClip // of the newest result; nil where nothing was measured
	seen  []retest.Seen
	exam  exam.Report
	// result is the newest result's name; empty where there is none.
	result string
}

func (v *seenVisit) measured() bool { return v.result != "" }

// course reads a visit and those of its runner before it, oldest first.
func (st *Studio) course(ctx context.Context, visitID string) ([]seenVisit, error) {
	var all []seenVisit
	err := st.readRecords(ctx, func(r store.Reader) error {
		here, err := r.Visit(visitID)
		if err != nil {
			return missingRecord(err, "visit")
		}
		runner, err := r.Runner(here.RunnerID)
		if err != nil {
			return err
		}
		visits, err := r.VisitsOf(runner.ID)
		if err != nil {
			return err
		}
		slices.SortStableFunc(visits, func(a, b store.Visit) int {
			if d := a.Date.Compare(b.Date); d != 0 {
				return d
			}
			return strings.Compare(a.ID, b.ID)
		})
		at := slices.IndexFunc(visits, func(v store.Visit) bool { return v.ID == visitID })
		visits = visits[max(0, at+1-maxCourse) : at+1]
		for _, v := range visits {
			f, err := readVisit(r, v, runner)
			if err != nil {
				return err
			}
			all = append(all, seenVisit{visitRecords: f})
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	own, _ := st.OwnErrors() // a file with a fault leaves the published errors; the station Measure says so
	for i := range all {
		v := &all[i]
		v.exam = exam.Score(v.visitRecords.exam.Sheet(), exam.Body{MassKG: v.runner.MassKG, Sex: v.runner.Sex})
		if len(v.results) == 0 {
			continue
		}
		v.result = v.results[0].ID
		if v.clips, err = st.seenOf(ctx, v.results[0].Result); err != nil {
			return nil, err
		}
		v.seen = comparable(v.clips, v.visitRecords.clips, own)
	}
	return all, nil
}

// emptyReturn has lists that are lists in JSON too.
func emptyReturn() PageReturn {
	p := PageReturn{Visits: []PageReturnVisit{}, Pairs: []PageReturnPair{}, Changes: []PageReturnChange{}, Curves: []PageReturnCurve{}, Trends: []PageTrend{}, Phases: []PagePhase{}, Blocks: []PageReturnBlock{}}
	p.Work.empty()
	return p
}

// Return gives the station Return of a visit: it against an earlier one, which is
// the one named, the one the coach took, or the one that is most likely meant.
func (st *Studio) Return(ctx context.Context, visitID, against string) (PageReturn, error) {
	all, err := st.course(ctx, visitID)
	if err != nil {
		return PageReturn{}, err
	}
	here := &all[len(all)-1]
	p := emptyReturn()
	for i := range all {
		v := &all[i]
		p.Visits = append(p.Visits, PageReturnVisit{ID: v.visit.ID, Date: v.visit.Date.Format(dayForm), Result: v.result, Exam: v.tested() > 0, Plan: v.plan != nil, StepRate: v.steprate != nil, Here: v == here,
			Stale: v.measured() && v.stale(v.results[0])})
		if v.measured() {
			p.Looked.Visits++
		}
	}
	if k := here.returned; k != nil {
		p.Version, p.Note = k.Version, k.Note
	}
	if against != "" && !slices.ContainsFunc(all[:len(all)-1], func(v seenVisit) bool { return v.visit.ID == against }) {
		return PageReturn{}, &Problem{Kind: KindNotFound, What: "The visit to compare with is none of this runner's earlier visits.", Mend: "Choose another one."}
	}
	before := here.comparedWith(all[:len(all)-1], against)
	if before == nil {
		p.None = "first"
		if len(all) > 1 {
			p.None = "not_measured_before"
		}
		return p, nil
	}
	p.Against = before.visit.ID
	switch {
	case !here.measured():
		p.NoFilm = "not_measured"
	case !before.measured():
		p.NoFilm = "not_measured_before"
	}
	f, err := st.reason(ctx, before.visit.ID)
	if err != nil {
		return PageReturn{}, err
	}
	aims := f.aims()
	table, _ := normsOrBuiltIn()
	o := retest.Options{Norms: normsFor(table, before)}
	for _, a := range aims {
		if !a.test && !slices.Contains(o.Chosen, a.name) {
			o.Chosen = append(o.Chosen, a.name)
		}
	}
	own, _ := st.OwnErrors()
	c := retest.Compare(before.seen, here.seen, o).WithExam(before.exam, here.exam).Apart(func(x retest.Change) bool {
		return slices.ContainsFunc(aims, func(a aim) bool { return a.test == x.Test && a.name == x.Name && a.side == x.Side })
	})
	p.compared(c, before, here, aims, own)
	p.curves(c, before, here)
	p.trends(all, c, aims)
	for i := range all {
		p.Phases = append(p.Phases, all[i].phases()...)
	}
	p.Work = before.work(here, &f)
	p.Blocks = before.blocks(here, &f, c)
	p.Steps = before.steps(here, &f, c)
	if c.Compared == 0 && !here.measured() && here.tested() == 0 && p.Steps == nil {
		p.None = "not_measured"
	}
	return p, nil
}

// comparedWith chooses the earlier visit: the one named, the one that was taken
// before, the newest with a plan or a ramp, the newest that was measured or tested.
func (v *seenVisit) comparedWith(earlier []seenVisit, against string) *seenVisit {
	if against == "" && v.returned != nil {
		against = v.returned.Against
	}
	var plain *seenVisit
	for i := len(earlier) - 1; i >= 0; i-- {
		x := &earlier[i]
		if x.visit.ID == against {
			return x
		}
	}
	for i := len(earlier) - 1; i >= 0; i-- {
		x := &earlier[i]
		if x.plan != nil || x.steprate != nil {
			return x
		}
		if plain == nil && (x.measured() || x.tested() > 0) {
			plain = x
		}
	}
	return plain
}

// aim is a measure or test that a finding rests on, with the way it should go.
type aim struct {
	name   string
	test   bool
	side   body.Side
	toward float64
	// of are the titles of its findings; empty for what the ramp of step rate is for.
	of []string
	// blocks are what a plan does for it, as block/area.
	blocks []string
}

// aims are what the accepted findings of a visit rest on.
func (f *reasoned) aims() []aim {
	var out []aim
	add := func(e finding.Evidence, side body.Side, title string, blocks []string) {
		a := aim{name: e.Condition.Measure, side: side}
		switch {
		case a.name != "":
			d, ok := measure.Lookup(a.name)
			if !ok {
				return
			}
			if !d.Sided {
				a.side = body.NoSide
			}
			if e.Condition.Is != "unequal" && !math.IsNaN(e.Value) && !math.IsNaN(e.Limit) && e.Value != e.Limit {
				a.toward = math.Copysign(1, e.Limit-e.Value)
			}
		case e.Condition.Test != "":
			t, ok := exam.Lookup(e.Condition.Test)
			if !ok || len(e.Condition.Where) > 0 {
				return
			}
			a.name, a.test, a.toward = t.Name, true, 1
			if t.Better == "lower" {
				a.toward = -1
			}
			if !t.HasSides() {
				a.side = body.NoSide
			}
		default:
			return
		}
		i := slices.IndexFunc(out, func(x aim) bool { return x.name == a.name && x.side == a.side })
		if i < 0 {
			out, i = append(out, a), len(out)
		}
		if !slices.Contains(out[i].of, title) {
			out[i].of = append(out[i].of, title)
		}
		for _, b := range blocks {
			if !slices.Contains(out[i].blocks, b) {
				out[i].blocks = append(out[i].blocks, b)
			}
		}
	}
	for _, x := range f.taken() {
		title := x.Title + sidesAfter(x.Sides)
		var whole []string
		for _, a := range x.Aims {
			whole = append(whole, a.Block+"/"+a.Area)
		}
		for _, part := range x.Parts {
			for _, e := range part.Seen {
				add(e, sideOr(e.Side, part.Side), title, whole)
			}
			for _, c := range part.Causes {
				var blocks []string
				for _, a := range c.Cause.Aims {
					blocks = append(blocks, a.Block+"/"+a.Area)
				}
				for _, e := range c.For {
					add(e, sideOr(e.Side, c.Side), title, blocks)
				}
			}
		}
		for _, e := range x.Exam {
			add(e, e.Side, title, whole)
		}
	}
	if f.steprate == nil {
		return out
	}
	for _, r := range rampAims {
		d, _ := measure.Lookup(r.name)
		for _, side := range body.Sides {
			if !d.Sided {
				side = body.NoSide
			}
			if !slices.ContainsFunc(out, func(x aim) bool { return x.name == r.name && x.side == side }) {
				out = append(out, aim{name: r.name, side: side, toward: r.toward, blocks: []string{"integrate/quicker_steps", "integrate/land_under"}})
			}
		}
	}
	return out
}

// rampAims are what a ramp of the step rate at the same pace is for: quicker steps
// that are shorter and land nearer below the body.
var rampAims = []struct {
	name   string
	toward float64
}{{"step_rate", 1}, {"step_length", -1}, {"overstride", -1}}

// taken are the findings that were accepted.
func (f *reasoned) taken() []finding.Finding {
	if f.findings == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Concat(f.report.Findings, f.report.Others), func(x finding.Finding) bool { return f.findings.Decisions[x.Name].State != "accepted" })
}

func sideOr(a, b body.Side) body.Side {
	if a == body.NoSide {
		return b
	}
	return a
}

// normsFor are means and SDs of measures for the conditions of a visit, from rows
// that have them.
func normsFor(table *norm.Table, v *seenVisit) map[string]retest.Norm {
	out := map[string]retest.Norm{}
	for _, c := range v.clips {
		at := norm.Conditions{View: c.at.View, SpeedMPS: c.at.SpeedMPS, HeightM: v.runner.HeightM, Sex: v.runner.Sex}
		for _, m := range c.measures {
			if _, ok := out[m.Name]; ok || m.Text != "" {
				continue
			}
			rows := table.Lookup(m.Name, at)
			if len(rows) > 0 && rows[0].Usable() && rows[0].Mean != nil && rows[0].SD != nil && *rows[0].SD > 0 {
				out[m.Name] = retest.Norm{Mean: *rows[0].Mean, SD: *rows[0].SD}
			}
		}
	}
	return out
}

// clip is a clip of the visit as the page gets it; nil for none.
func (v *seenVisit) pageClip(n int) *PageReturnClip {
	if n < 0 || n >= len(v.clips) {
		return nil
	}
	c, at := v.clips[n], v.seen[n].Conditions
	return &PageReturnClip{Result: v.result, Clip: c.index, Name: c.name, View: at.View.String(), SpeedMPS: number(at.SpeedMPS, 3), Incline: at.InclinePercent, Shoes: at.Shoes, Click: at.Click, Video: c.video}
}

// beside is the address at which two films are seen together, of a foot.
func (v *seenVisit) beside(a, b *PageReturnClip, foot body.Side) string {
	if a == nil || b == nil || !a.Video || !b.Video {
		return ""
	}
	if foot == body.NoSide {
		foot = body.Left
		if b.View == clip.RightSide.String() {
			foot = body.Right
		}
	}
	at := "/visits/" + v.visit.ID
	if v.visit.ID == "" {
		at = "/results/" + v.result
	}
	return fmt.Sprintf("%s/beside#a=%s/%d/0&b=%s/%d/0&foot=%s", at, a.Result, a.Clip, b.Result, b.Clip, foot)
}

// inSentences says reasons in words.
func inSentences(all []retest.Reason) []string {
	out := []string{}
	for _, r := range all {
		out = append(out, upperFirst(r.String())+".")
	}
	return out
}

// compared writes what was compared.
func (p *PageReturn) compared(c retest.Comparison, before, here *seenVisit, aims []aim, own *OwnErrors) {
	p.Looked.Compared, p.Looked.Called, p.Looked.Stand, p.Looked.ByChance = c.Compared, c.Called, c.Stand, *number(c.ByChance, 2)
	for _, x := range c.Pairs {
		one := PageReturnPair{After: *here.pageClip(x.After), Before: before.pageClip(x.Before), Why: x.Why, Text: x.Why.String(), Said: emptyNotNil(x.Said)}
		one.Beside = here.beside(one.Before, &one.After, body.NoSide)
		p.Pairs = append(p.Pairs, one)
	}
	for _, x := range c.Changes {
		one := PageReturnChange{Name: x.Name, Test: x.Test, Stage: x.Stage, Side: x.Side.String(), Unit: x.Unit, Verdict: string(x.Verdict), Why: x.Why, WhyText: x.Why.String(),
			Cautions: emptyNotNil(x.Cautions), Said: inSentences(x.Cautions), Stands: x.Stands(), P: number(x.P, 5), Adjusted: number(x.Adjusted, 5)}
		if x.Test {
			t, _ := exam.Lookup(x.Name)
			one.Title, one.Group, one.Decimals = t.Title, upperFirst(string(t.Kind)), examDecimals(t)
			if r, ok := before.exam.Find(x.Name, x.Side); ok && r.ErrorSource != "" {
				one.MDC = PageMDC{From: "literature", Source: r.ErrorSource}
			}
		} else {
			d, _ := measure.Lookup(x.Name)
			one.Title, one.Group, one.Decimals = d.Title, d.Group, d.Decimals
			one.BeforeClip, one.AfterClip = before.pageClip(x.BeforeClip), here.pageClip(x.AfterClip)
			one.Beside = here.beside(one.BeforeClip, one.AfterClip, x.Side)
			if x.AfterClip >= 0 {
				ms := here.seen[x.AfterClip].Measures
				if i := slices.IndexFunc(ms, func(m measure.Measure) bool { return m.Name == x.Name && m.Side == x.Side }); i >= 0 {
					one.MDC = mdcOf(ms[i], own)
				}
			}
		}
		one.Before, one.After, one.Difference = number(x.Before, 5), number(x.After, 5), number(x.Difference, 5)
		one.Low, one.High, one.MDC95 = number(x.Low, 5), number(x.High, 5), number(x.MDC95, 5)
		if x.Return != 0 {
			one.Return = number(x.Return, 5)
		}
		if i := slices.IndexFunc(aims, func(a aim) bool { return a.test == x.Test && a.name == x.Name && a.side == x.Side }); i >= 0 {
			one.Aim, one.Toward = true, aims[i].toward
		} else if x.Test {
			one.Toward = toward(x)
		}
		switch o := (retest.Outcome{Change: x, Toward: one.Toward}); {
		case o.Better():
			one.Better = "better"
		case o.Worse():
			one.Better = "worse"
		}
		p.Changes = append(p.Changes, one)
	}
}

// toward is the way a test of the exam should go.
func toward(c retest.Change) float64 {
	if t, ok := exam.Lookup(c.Name); ok && t.Better == "lower" {
		return -1
	}
	return 1
}

// examDecimals is how many digits of a test are worth showing.
func examDecimals(t *exam.Test) int {
	switch t.Unit {
	case "Nm/kg":
		return 2
	case "cm", "deg":
		return 1
	}
	return 0
}

// curves lays the curves of matched films over each other.
func (p *PageReturn) curves(c retest.Comparison, before, here *seenVisit) {
	done := map[string]bool{}
	for _, x := range c.Pairs {
		if x.Before < 0 {
			continue
		}
		a, b := before.clips[x.Before], here.clips[x.After]
		for _, k := range b.curves {
			i := slices.IndexFunc(a.curves, func(o measure.Curve) bool { return o.Name == k.Name && o.Side == k.Side })
			key := k.Name + "/" + k.Side.String()
			if i < 0 || done[key] {
				continue
			}
			done[key] = true
			one := PageReturnCurve{Name: k.Name, Title: measure.CurveTitle(k.Name), Side: k.Side.String(), Unit: k.Unit, Before: pageCurve(a.curves[i]), After: pageCurve(k)}
			one.Beside = here.beside(before.pageClip(x.Before), here.pageClip(x.After), k.Side)
			p.Curves = append(p.Curves, one)
		}
	}
}

// trends lists the measures over all visits: what findings rest on first, then what
// changed, then the step rate's.
func (p *PageReturn) trends(all []seenVisit, c retest.Comparison, aims []aim) {
	visits := make([][]retest.Seen, len(all))
	for i := range all {
		visits[i] = all[i].seen
	}
	var order []retest.Change
	for _, want := range []func(retest.Change) bool{
		func(x retest.Change) bool {
			return slices.ContainsFunc(aims, func(a aim) bool { return !a.test && a.name == x.Name && a.side == x.Side })
		},
		func(x retest.Change) bool { return slices.Contains(stepMeasures, x.Name) },
		func(x retest.Change) bool { return x.Verdict == retest.Changed },
		func(x retest.Change) bool { return x.Verdict == retest.NoChange },
	} {
		for _, x := range c.Changes {
			if !x.Test && want(x) && !slices.ContainsFunc(order, func(o retest.Change) bool { return o.Name == x.Name && o.Side == x.Side }) {
				order = append(order, x)
			}
		}
	}
	for _, x := range order {
		d, _ := measure.Lookup(x.Name)
		one := PageTrend{Name: x.Name, Title: d.Title, Side: x.Side.String(), Unit: d.Unit, Decimals: d.Decimals, Points: []PageTrendPoint{},
			Aim: slices.ContainsFunc(aims, func(a aim) bool { return !a.test && a.name == x.Name && a.side == x.Side })}
		var points []retest.Point
		for i, s := range retest.Course(visits, x.Name, x.Side) {
			v := &all[i]
			if !v.measured() {
				s.Why = retest.Reason{Code: "not_measured"}
			}
			one.Points = append(one.Points, PageTrendPoint{Visit: v.visit.ID, Date: v.visit.Date.Format(dayForm), Value: number(s.Value, 5), SEM: number(s.SEM, 5), Why: s.Why, WhyText: s.Why.String()})
			if !math.IsNaN(s.Value) {
				points = append(points, retest.Point{At: v.visit.Date, Value: s.Value, SEM: s.SEM})
			}
		}
		t := retest.TrendOf(points)
		one.PerWeek, one.Low, one.High, one.Verdict, one.Why, one.WhyText = number(t.PerWeek, 5), number(t.Low, 5), number(t.High, 5), string(t.Verdict), t.Why, t.Why.String()
		p.Trends = append(p.Trends, one)
	}
}

// phases are the parts of the visit's plan and ramp.
func (v *seenVisit) phases() []PagePhase {
	var out []PagePhase
	add := func(kind string, from time.Time, weeks int) {
		out = append(out, PagePhase{Visit: v.visit.ID, Kind: kind, From: from.Format(dayForm), To: from.AddDate(0, 0, 7*weeks).Format(dayForm), Weeks: weeks})
	}
	if v.plan != nil && v.plan.Plan.None == "" && !v.plan.Plan.Start.IsZero() {
		for i, w := range programme.Phases(len(v.plan.Plan.Weeks)) {
			if w[1] >= w[0] {
				add([]string{"learn", "build", "load"}[min(i, 2)], v.plan.Plan.Start.AddDate(0, 0, 7*(w[0]-1)), w[1]-w[0]+1)
			}
		}
	}
	f := reasoned{visitRecords: v.visitRecords}
	if v.steprate != nil {
		if n := len(f.pageStepRate().Weeks); n > 0 {
			add("ramp", f.rampStart(), n)
		}
	}
	return out
}

// ChangeReturn keeps what the coach decides for the blocks, and what the runner says.
func (st *Studio) ChangeReturn(ctx context.Context, who, visitID string, c PageReturnChoice) (PageReturn, error) {
	var e entries
	next := keptReturn{Against: c.Against, Blocks: map[string]PageReturnDecision{}, Note: c.Note}
	e.prose("note", "the note", &next.Note, maxProse)
	for _, block := range programme.Blocks {
		d, ok := c.Blocks[block]
		if !ok {
			continue
		}
		e.choice("blocks."+block+".do", "what is decided", d.Do, "", "progress", "hold", "step back")
		e.prose("blocks."+block+".note", "the reason", &d.Note, maxLine)
		if d.Do != "" || d.Note != "" {
			next.Blocks[block] = d
		}
	}
	for name := range c.Blocks {
		if !slices.Contains(programme.Blocks, name) {
			e.fail("blocks", "", "there is no block %q", clean(name, 30))
		}
	}
	if e.err != nil {
		return PageReturn{}, e.err
	}
	now, err := st.Return(ctx, visitID, c.Against)
	if err != nil {
		return PageReturn{}, err
	}
	next.Against = now.Against
	var before keptReturn
	err = st.readRecords(ctx, func(r store.Reader) error {
		doc, err := visitDocument(r, docReturn, visitID)
		if err != nil || doc.Version == 0 {
			return err
		}
		k, err := parseReturn(doc)
		if err == nil {
			before = *k
		}
		return err
	})
	if err != nil {
		return PageReturn{}, err
	}
	if before.Version == c.Version && before.Against == next.Against && before.Note == next.Note && reflect.DeepEqual(before.Blocks, next.Blocks) {
		return now, nil
	}
	err = st.change(ctx, who, returnDeed(before, next), visitID, func(w store.Writer) error {
		f, _, err := openVisit(w, visitID)
		if err != nil {
			return err
		}
		for block, d := range next.Blocks {
			if d.Do == "progress" && before.Blocks[block].Do != d.Do && f.intake.refer().stops() {
				return problem(KindNotAllowed, "", "It goes on when a clinician's clearance is noted at the station Intake.", "a warning sign stops this visit: nothing is made harder")
			}
		}
		doc, err := visitDocument(w, docReturn, visitID)
		if err != nil {
			return err
		}
		if doc.Version != c.Version {
			return stale("The return", doc.Version)
		}
		doc.Body = rawJSON(next)
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PageReturn{}, missingRecord(err, "visit")
	}
	return st.Return(ctx, visitID, c.Against)
}

// returnDeed names what was decided.
func returnDeed(before, after keptReturn) string {
	var what []string
	for _, block := range programme.Blocks {
		if d := after.Blocks[block]; d != before.Blocks[block] && d.Do != "" {
			what = append(what, block+": "+d.Do)
		}
	}
	switch {
	case len(what) > 0:
		return "Return: " + strings.Join(what, "; ")
	case before.Note != after.Note:
		return "Return: changed the note"
	}
	return "Return: changed what was decided"
}
