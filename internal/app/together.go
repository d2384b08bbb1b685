package app

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/cohort"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/internal/store"
	"gaitwright/num/tally"
)

// PageTogether is all consenting runners together: GET /api/together.
type PageTogether struct {
	Runners  int `json:"runners"`
	LeftOut  int `json:"left_out"` // who did not agree to be in summaries
	Visits   int `json:"visits"`
	Returned int `json:"returned"`
	// Waiting are results whose numbers are still being gathered in the background.
	Waiting        int                 `json:"waiting"`
	Findings       []PageShare         `json:"findings"`
	Pairs          []PageTogetherPair  `json:"pairs"`
	PairsTried     int                 `json:"pairs_tried"`
	Contrasts      []PageContrast      `json:"contrasts"`
	ContrastsTried int                 `json:"contrasts_tried"`
	Programmes     []PageCourseOf      `json:"programmes"`
	Usual          []PageUsual         `json:"usual"`
	Reliability    []PageOwnReliable   `json:"reliability"`
	Few            string              `json:"few"` // said where there are few runners; empty else
	Notes          []PageTogetherNote  `json:"notes"`
	Measures       map[string][]string `json:"measures"` // title and unit by name
}

// PageTogetherNote is something to keep in mind, with its source.
type PageTogetherNote struct {
	Text   string `json:"text"`
	Source string `json:"source"`
}

// PageShare is k of n runners with its 95 % interval.
type PageShare struct {
	Name  string   `json:"name,omitempty"`
	Title string   `json:"title,omitempty"`
	K     int      `json:"k"`
	N     int      `json:"n"`
	Share *float64 `json:"share"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

// PageTogetherPair is two findings in the same runners. Told says that more have both
// than chance would bring, or fewer.
type PageTogetherPair struct {
	A        string  `json:"a"`
	B        string  `json:"b"`
	Both     int     `json:"both"`
	Expected float64 `json:"expected"`
	Odds     float64 `json:"odds"`
	OddsLow  float64 `json:"odds_low"`
	OddsHigh float64 `json:"odds_high"`
	P        float64 `json:"p"`
	Told     bool    `json:"told"`
}

// PageContrast is a finding in two groups of runners.
type PageContrast struct {
	Finding string    `json:"finding"`
	Factor  string    `json:"factor"` // sex, height, speed or complaint
	First   string    `json:"first"`
	Second  string    `json:"second"`
	A       PageShare `json:"a"`
	B       PageShare `json:"b"`
	Value   float64   `json:"difference"`
	Low     float64   `json:"low"`
	High    float64   `json:"high"`
	P       float64   `json:"p"`
	Told    bool      `json:"told"`
}

// PageCourseOf is what happened under the programmes for a finding.
type PageCourseOf struct {
	Finding  string            `json:"finding"`
	Given    int               `json:"given"`
	Returned int               `json:"returned"`
	Waiting  int               `json:"waiting"`
	DropOut  PageShare         `json:"drop_out"`
	Outcomes []PageTogetherOut `json:"outcomes"`
}

// PageTogetherOut is what became of one measure.
type PageTogetherOut struct {
	Measure string    `json:"measure"`
	Better  int       `json:"better"` // +1 more was wanted, -1 less
	As      int       `json:"as"`
	Within  int       `json:"within"`
	Against int       `json:"against"`
	Share   PageShare `json:"share"`
	Change  *float64  `json:"change"`
	Low     *float64  `json:"low"`
	High    *float64  `json:"high"`
	Kept    PageShare `json:"kept"`
}

// PageUsual is the studio's own usual range of a measure and the literature's.
type PageUsual struct {
	Measure string    `json:"measure"`
	FromMPS float64   `json:"from_mps"`
	ToMPS   float64   `json:"to_mps"`
	N       int       `json:"n"`
	Women   int       `json:"women"`
	Men     int       `json:"men"`
	Mean    float64   `json:"mean"`
	SD      float64   `json:"sd"`
	Low     float64   `json:"low"`
	High    float64   `json:"high"`
	SEM     *float64  `json:"sem"`
	Values  []float64 `json:"values"`
	// Of the literature, null where it has none that holds for any runner at this
	// speed; Inside counts own runners within it.
	RefLow  *float64 `json:"ref_low"`
	RefHigh *float64 `json:"ref_high"`
	Source  string   `json:"source"`
	Inside  int      `json:"inside"`
}

// PageOwnReliable is one of the studio's own errors beside the published one.
type PageOwnReliable struct {
	Measure string  `json:"measure"`
	Origin  string  `json:"origin"`
	SEM     float64 `json:"sem"`
	MDC95   float64 `json:"mdc95"`
	Runners int     `json:"runners"`
	Date    string  `json:"date"`
}

// fewRunners is below which the page says that hardly anything can be told.
const fewRunners = 30

// told is the adjusted p below which a difference is called one.
const told = 0.05

// digest is a result's numbers as they are kept in short.
type digest struct {
	Version int           `json:"v"`
	Values  []digestValue `json:"m"`
	// Proposal is what was reasoned over the result last; nil before.
	Proposal *proposal `json:"r,omitempty"`
}

type digestValue struct {
	Name   string  `json:"n"`
	Side   string  `json:"s,omitempty"`
	View   string  `json:"w"`
	Speed  float64 `json:"p,omitempty"`
	Value  float64 `json:"x"`
	SEM    float64 `json:"e"`
	Origin string  `json:"o"`
}

const digestVersion = 1

// digestOf gathers what of a session is looked at together with others.
func digestOf(s *Session) []byte {
	d := digest{Version: digestVersion, Values: []digestValue{}}
	for _, c := range s.Clips {
		for _, m := range c.Measures {
			if m.Withheld() || math.IsNaN(m.SEM) || math.IsInf(m.Value, 0) {
				continue
			}
			v := digestValue{Name: m.Name, View: c.Info.View.String(), Speed: c.Info.BeltSpeedMPS, Value: m.Value, SEM: m.SEM, Origin: m.Origin}
			if m.Side != body.NoSide {
				v.Side = m.Side.String()
			}
			d.Values = append(d.Values, v)
		}
	}
	return rawJSON(d)
}

func (d digest) values() []cohort.Value {
	out := make([]cohort.Value, 0, len(d.Values))
	for _, v := range d.Values {
		side := body.NoSide
		switch v.Side {
		case body.Left.String():
			side = body.Left
		case body.Right.String():
			side = body.Right
		}
		out = append(out, cohort.Value{Name: v.Name, Side: side, View: v.View, SpeedMPS: v.Speed, Value: v.Value, SEM: v.SEM, Origin: v.Origin})
	}
	return out
}

// together is what is held in memory of all runners, so that looking again reads
// only what changed.
type together struct {
	mu      sync.Mutex
	values  map[string][]cohort.Value // by result
	docs    map[string]seenDoc        // by document
	people  map[string]*person        // who agreed, by runner
	apart   map[string]bool           // who did not
	at      store.Mark                // of people and apart
	asStamp string                    // the same moment
	page    *PageTogether             // as last made, of the records at stamp
	stamp   string
	day     string
}

// person is a runner who agreed.
type person struct {
	runner  store.Runner
	of      cohort.Runner
	waiting int // visits whose numbers are not gathered yet
}

// seenDoc is what matters here of a document.
type seenDoc struct {
	version  int64
	findings []string // accepted
	pains    []string
	dueBy    time.Time
	planned  bool
}

func (t *together) drop() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.values, t.docs, t.people, t.apart, t.page, t.at = nil, nil, nil, nil, nil, store.Mark{}
}

// gathered is the cohort with what it was gathered from.
type gathered struct {
	runners []cohort.Runner
	people  []store.Runner // in the same order
	leftOut int
	waiting int
}

// mostTouched is how many runners are read one by one; of more, everything is read.
const mostTouched = 300

// gather reads all consenting runners: all of them the first time, and then only those
// of whom something was written since.
func (st *Studio) gather(ctx context.Context) (gathered, error) {
	var g gathered
	t := &st.together
	t.mu.Lock()
	defer t.mu.Unlock()
	err := st.readRecords(ctx, func(r store.Reader) error {
		stamp, err := r.Stamp()
		if err != nil {
			return err
		}
		touched, now, whole, err := r.Touched(t.at)
		if err != nil {
			return err
		}
		if whole && t.people != nil && (len(touched) > 0 || stamp == t.asStamp) {
			whole, err = t.readTouched(r, touched)
		} else {
			whole = false
		}
		if err == nil && !whole {
			err = t.readAll(r)
		}
		if err != nil {
			t.people, t.at = nil, store.Mark{}
			return err
		}
		t.at, t.asStamp = now, stamp
		return nil
	})
	if err != nil {
		return g, err
	}
	g.leftOut = len(t.apart)
	g.runners, g.people = make([]cohort.Runner, 0, len(t.people)), make([]store.Runner, 0, len(t.people))
	for _, id := range slices.Sorted(maps.Keys(t.people)) {
		p := t.people[id]
		g.runners, g.people = append(g.runners, p.of), append(g.people, p.runner)
		g.waiting += p.waiting
	}
	return g, nil
}

// mayBeCounted tells whether a runner may be looked at together with others.
func mayBeCounted(v store.Runner) bool {
	return !v.ConsentResearch.IsZero() && !v.ConsentRecords.IsZero()
}

// readTouched reads those runners anew of whom something was touched; whole is false
// where they are too many.
func (t *together) readTouched(r store.Reader, touched []store.Touched) (whole bool, err error) {
	ids := map[string]bool{}
	for _, x := range touched {
		switch {
		case x.Kind == store.KindRunner:
			ids[x.ID] = true
		case x.Kind == store.KindVisit || x.Kind == store.KindRun:
			ids[x.Parent] = true
		case x.Parent != "":
			v, err := r.Visit(x.Parent)
			if errors.Is(err, store.ErrNotFound) { // removed, and then it was touched itself
				continue
			}
			if err != nil {
				return false, err
			}
			ids[v.RunnerID] = true
		}
		if len(ids) > mostTouched {
			return false, nil
		}
	}
	for id := range ids {
		delete(t.people, id)
		delete(t.apart, id)
		v, err := r.Runner(id)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return false, err
		}
		if !mayBeCounted(v) {
			t.apart[id] = true
			continue
		}
		if t.people[id], err = t.readPerson(r, v); err != nil {
			return false, err
		}
	}
	return true, nil
}

// readPerson reads all of one runner.
func (t *together) readPerson(r store.Reader, runner store.Runner) (*person, error) {
	p := &person{runner: runner, of: cohort.Runner{Sex: runner.Sex, HeightM: runner.HeightM}}
	visits, err := r.VisitsOf(runner.ID)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(visits, func(a, b store.Visit) int { return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.ID, b.ID)) })
	for _, v := range visits {
		one := cohort.Visit{Day: v.Date}
		docs, err := r.DocumentsOf(v.ID)
		if err != nil {
			return nil, err
		}
		for _, kind := range seenKinds {
			for _, d := range docs {
				if d.Kind != kind || d.Owner != v.ID {
					continue
				}
				if err := t.takeDoc(&one, d); err != nil {
					return nil, err
				}
			}
		}
		results, err := r.ResultsOf(v.ID)
		if err != nil {
			return nil, err
		}
		if len(results) > 0 {
			delete(t.values, results[0].ID) // it may have been made anew
			if err := t.readValues(r, []string{results[0].ID}); err != nil {
				return nil, err
			}
			if one.Values = t.values[results[0].ID]; one.Values == nil {
				p.waiting++
			}
		}
		p.of.Visits = append(p.of.Visits, one)
	}
	return p, nil
}

// seenKinds are the documents that matter here, in the order in which they are taken.
var seenKinds = []string{docIntake, docFindings, docPlan}

// takeDoc takes into a visit what matters of a document; one without a body is known.
func (t *together) takeDoc(v *cohort.Visit, d store.Document) error {
	if d.Body != nil {
		one, err := seen(d)
		if err != nil {
			return err
		}
		t.docs[d.ID] = one
	}
	one := t.docs[d.ID]
	v.Complaints = append(v.Complaints, one.pains...)
	v.Findings = append(v.Findings, one.findings...)
	if one.planned {
		v.DueBy = one.dueBy
		v.Planned = v.Findings
	}
	return nil
}

// readValues reads the numbers in short of results.
func (t *together) readValues(r store.Reader, results []string) error {
	return r.EachDigest(results, func(id string, b []byte) error {
		var d digest
		if err := json.Unmarshal(b, &d); err != nil {
			return fmt.Errorf("the numbers in short of result %s: %w", id, err)
		}
		t.values[id] = d.values()
		return nil
	})
}

// readAll reads everybody, as far as it is not known.
func (t *together) readAll(r store.Reader) error {
	if t.values == nil {
		t.values, t.docs = map[string][]cohort.Value{}, map[string]seenDoc{}
	}
	t.people, t.apart = map[string]*person{}, map[string]bool{}
	err := r.EachRunner(func(v store.Runner) error {
		if !mayBeCounted(v) {
			t.apart[v.ID] = true
			return nil
		}
		t.people[v.ID] = &person{runner: v, of: cohort.Runner{Sex: v.Sex, HeightM: v.HeightM}}
		return nil
	})
	if err != nil {
		return err
	}
	visits := map[string]*cohort.Visit{}
	whose := map[string]*person{} // by visit
	order := map[*person][]*cohort.Visit{}
	err = r.EachVisit(func(v store.Visit) error {
		if p := t.people[v.RunnerID]; p != nil {
			one := &cohort.Visit{Day: v.Date}
			visits[v.ID], whose[v.ID] = one, p
			order[p] = append(order[p], one)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, kind := range seenKinds {
		known := func(id string, version int64) bool { d, ok := t.docs[id]; return ok && d.version == version }
		err := r.EachDocument(kind, known, func(d store.Document) error {
			if v := visits[d.VisitID]; v != nil && d.Owner == d.VisitID {
				return t.takeDoc(v, d)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	of := map[string]string{} // visit by result
	newest := map[string]string{}
	results, err := r.Results(0)
	if err != nil {
		return err
	}
	var unread []string
	for _, one := range results { // newest first: a visit measured again counts once
		if visits[one.VisitID] != nil && newest[one.VisitID] == "" {
			newest[one.VisitID] = one.ID
			of[one.ID] = one.VisitID
			if t.values[one.ID] == nil {
				unread = append(unread, one.ID)
			}
		}
	}
	if err := t.readValues(r, unread); err != nil {
		return err
	}
	for id, visit := range of {
		if v, ok := t.values[id]; ok {
			visits[visit].Values = v
		} else {
			whose[visit].waiting++
		}
	}
	for p, list := range order {
		slices.SortStableFunc(list, func(a, b *cohort.Visit) int { return a.Day.Compare(b.Day) })
		for _, v := range list {
			p.of.Visits = append(p.of.Visits, *v)
		}
	}
	return nil
}

// seen reads what matters here of a document.
func seen(d store.Document) (seenDoc, error) {
	out := seenDoc{version: d.Version}
	switch d.Kind {
	case docIntake:
		p, err := parseIntake(d)
		if err != nil {
			return out, err
		}
		out.pains = p.tags()
	case docFindings:
		p, err := parseFindings(d)
		if err != nil {
			return out, err
		}
		for name, x := range p.Decisions {
			if x.State == "accepted" {
				out.findings = append(out.findings, name)
			}
		}
		slices.Sort(out.findings)
	case docPlan:
		var p struct {
			Plan struct {
				Retest time.Time         `json:"retest"`
				Weeks  []json.RawMessage `json:"weeks"`
			} `json:"plan"`
		}
		if err := json.Unmarshal(d.Body, &p); err != nil {
			return out, fmt.Errorf("the plan of visit %s cannot be read: %w", d.VisitID, err)
		}
		out.planned, out.dueBy = len(p.Plan.Weeks) > 0, p.Plan.Retest
	}
	return out, nil
}

// DigestMissing gathers the numbers of results that have none in short yet, one after
// the other, until ctx ends. It returns how many it could not read.
func (st *Studio) DigestMissing(ctx context.Context) (failed int, err error) {
	kept, err := st.records()
	if err != nil {
		return 0, err
	}
	var ids []string
	if err := kept.Read(ctx, func(r store.Reader) (err error) { ids, err = r.Undigested(); return err }); err != nil {
		return 0, recordProblem(err, "")
	}
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			return failed, err
		}
		body := rawJSON(digest{Version: digestVersion, Values: []digestValue{}})
		if s, err := st.loadKept(id); err == nil {
			body = digestOf(s)
		} else if failed++; KindOf(err) == KindNotFound {
			continue
		}
		err := kept.Change(ctx, store.Deed{}, func(w store.Writer) error { return w.PutDigest(id, body) })
		if err != nil && !errors.Is(err, store.ErrNotFound) { // removed meanwhile
			return failed, recordProblem(err, "")
		}
	}
	return failed, nil
}

// aimsOf are the measures that a finding is about.
func aimsOf(rules *finding.Rules) map[string][]cohort.Aim {
	out := map[string][]cohort.Aim{}
	add := func(to string, list []finding.Condition) {
		for _, c := range list {
			better := 0
			switch c.Is {
			case "above":
				better = -1
			case "below":
				better = 1
			}
			if c.Measure == "" || better == 0 || slices.ContainsFunc(out[to], func(a cohort.Aim) bool { return a.Measure == c.Measure }) {
				continue
			}
			out[to] = append(out[to], cohort.Aim{Measure: c.Measure, Better: better})
		}
	}
	for _, p := range rules.Patterns {
		add(p.Name, p.Core)
	}
	for _, c := range rules.Chains {
		for _, n := range append(slices.Clone(c.Needs), c.Patterns...) {
			if p := rules.Pattern(n); p != nil {
				add(c.Name, p.Core)
			}
		}
	}
	return out
}

// Together looks at all consenting runners; where nothing was written since, it gives
// what it gave before.
func (st *Studio) Together(ctx context.Context) (PageTogether, error) {
	t := &st.together
	day := st.now().Format(dayForm)
	var stamp string
	err := st.readRecords(ctx, func(r store.Reader) (err error) { stamp, err = r.Stamp(); return err })
	if err != nil {
		return PageTogether{}, err
	}
	t.mu.Lock()
	page := t.page
	if t.stamp != stamp || t.day != day {
		page = nil
	}
	t.mu.Unlock()
	if page != nil {
		return *page, nil
	}
	out, err := st.lookTogether(ctx)
	if err == nil {
		t.mu.Lock()
		t.page, t.stamp, t.day = &out, stamp, day
		t.mu.Unlock()
	}
	return out, err
}

func (st *Studio) lookTogether(ctx context.Context) (PageTogether, error) {
	g, err := st.gather(ctx)
	if err != nil {
		return PageTogether{}, err
	}
	rules, _ := rulesInUse()
	s := cohort.Summarise(g.runners, cohort.Options{Aims: aimsOf(rules), Now: st.now()})
	title := func(name string) string { return findingTitle(name, rules) }
	out := PageTogether{Runners: s.Runners, LeftOut: g.leftOut, Visits: s.Visits, Returned: s.Returned, Waiting: g.waiting, PairsTried: s.PairsTried, ContrastsTried: s.ContrastsTried,
		Findings: []PageShare{}, Pairs: []PageTogetherPair{}, Contrasts: []PageContrast{}, Programmes: []PageCourseOf{}, Usual: []PageUsual{}, Reliability: []PageOwnReliable{},
		Measures: map[string][]string{}, Notes: togetherNotes}
	if s.Runners < fewRunners {
		out.Few = fmt.Sprintf("%s are few: every share here may be far off, and hardly any difference can be told. The intervals say how far.", plural(s.Runners, "runner", "runners"))
	}
	name := func(m string) {
		if d, ok := measure.Lookup(m); ok {
			out.Measures[m] = []string{d.Title, d.Unit}
		}
	}
	for _, f := range s.Findings {
		p := pageShare(f.Share)
		p.Name, p.Title = f.Name, title(f.Name)
		out.Findings = append(out.Findings, p)
	}
	for _, p := range s.Pairs {
		out.Pairs = append(out.Pairs, PageTogetherPair{A: title(p.A), B: title(p.B), Both: p.Table.Both, Expected: p.Expected, Odds: p.Odds.Ratio, OddsLow: p.Odds.Low, OddsHigh: p.Odds.High, P: p.P, Told: p.P < told})
	}
	for _, c := range s.Contrasts {
		out.Contrasts = append(out.Contrasts, PageContrast{Finding: title(c.Finding), Factor: c.Factor, First: c.First, Second: c.Second, A: pageShare(c.A), B: pageShare(c.B),
			Value: c.Value, Low: c.Low, High: c.High, P: c.P, Told: c.P < told})
	}
	for _, p := range s.Programmes {
		one := PageCourseOf{Finding: title(p.Finding), Given: p.Given, Returned: p.Returned, Waiting: p.Waiting, DropOut: pageShare(p.DropOut), Outcomes: []PageTogetherOut{}}
		for _, o := range p.Outcomes {
			name(o.Measure)
			one.Outcomes = append(one.Outcomes, PageTogetherOut{Measure: o.Measure, Better: o.Better, As: o.As, Within: o.Within, Against: o.Against, Share: pageShare(o.Share),
				Change: finiteOrNil(o.Change.Value), Low: finiteOrNil(o.Change.Low), High: finiteOrNil(o.Change.High), Kept: pageShare(o.Kept)})
		}
		out.Programmes = append(out.Programmes, one)
	}
	table, _ := normsOrBuiltIn()
	// The main measures first, as everywhere.
	rank := func(u cohort.Usual) int {
		if i := slices.Index(mainMeasures, u.Measure); i >= 0 {
			return i
		}
		return len(mainMeasures)
	}
	slices.SortStableFunc(s.Usual, func(a, b cohort.Usual) int { return rank(a) - rank(b) })
	for _, u := range s.Usual {
		name(u.Measure)
		out.Usual = append(out.Usual, pageUsual(u, table))
	}
	own, err := st.OwnErrors()
	if err == nil && own != nil {
		for _, e := range own.Errors {
			name(e.Measure)
			out.Reliability = append(out.Reliability, PageOwnReliable{Measure: e.Measure, Origin: e.Origin, SEM: e.SEM, MDC95: 1.96 * math.Sqrt2 * e.SEM, Runners: e.Runners, Date: e.Date})
		}
	}
	return out, err
}

// togetherNotes are what has to be kept in mind.
var togetherNotes = []PageTogetherNote{
	{"There is no group without a programme to compare with. People come when they are at their worst and would be nearer their usual the next time without any help, so what happened under a programme is not all its doing.", "Barnett 2005, Int J Epidemiol 34:215, from memory"},
	{"Those who come back are not those who stay away; the share that stayed away stands beside each programme.", "common practice"},
	{"These are the people who come to this studio, not runners at large.", "common practice"},
	{"Where many comparisons are made together their p-values are adjusted, so that all of them together have one chance in twenty of a false difference.", "Holm 1979, Scand J Stat 6:65"},
	{"Shares have score intervals.", "Wilson 1927, J Am Stat Assoc 22:209; Newcombe 1998, Stat Med 17:857 and 17:873"},
}

func pageShare(s tally.Share) PageShare {
	return PageShare{K: s.K, N: s.N, Share: finiteOrNil(s.Of()), Low: finiteOrNil(s.Low), High: finiteOrNil(s.High)}
}

func finiteOrNil(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// maxDots bounds how many single values of a measure are drawn.
const maxDots = 400

func pageUsual(u cohort.Usual, table *norm.Table) PageUsual {
	p := PageUsual{Measure: u.Measure, FromMPS: u.FromMPS, ToMPS: u.ToMPS, N: u.N, Women: u.Women, Men: u.Men, Mean: u.Mean, SD: u.SD, Low: u.Low, High: u.High, SEM: finiteOrNil(u.SEM)}
	step := max(1, (len(u.Values)+maxDots-1)/maxDots)
	for i := 0; i < len(u.Values); i += step { // in rising order, so that each stands for as many
		p.Values = append(p.Values, u.Values[i])
	}
	for _, v := range []clip.View{clip.LeftSide, clip.Rear} {
		rows := table.Lookup(u.Measure, norm.Conditions{View: v, SpeedMPS: (u.FromMPS + u.ToMPS) / 2})
		if len(rows) == 0 {
			continue
		}
		low, high := rows[0].Range()
		p.RefLow, p.RefHigh, p.Source = finiteOrNil(low), finiteOrNil(high), rangeSource(rows[0])
		for _, x := range u.Values {
			if !(x < low) && !(x > high) {
				p.Inside++
			}
		}
		break
	}
	return p
}
