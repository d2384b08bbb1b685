package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/internal/store"
)

const docExam = "exam"

// ExamCatalogue lists the tests of an exam with their guides.
func (st *Studio) ExamCatalogue() PageExamTests { return examCatalogue() }

var examCatalogue = sync.OnceValue(func() PageExamTests {
	var out PageExamTests
	for _, t := range exam.Catalogue() {
		p := PageExamTest{Name: t.Name, Title: t.Title, Kind: string(t.Kind), Unit: t.Unit, Better: t.Better, Sided: t.HasSides(), Low: t.Low, High: t.High,
			Trials: t.Trials, Pick: t.Pick, Sign: t.Sign, Counter: t.Counter, Timer: t.Timer, Click: t.Click, Film: t.Film != "", Felt: emptyNotNil(t.Felt),
			Stages: t.Stages, Position: t.Position, How: t.How, Watch: emptyNotNil(t.Watch), Ranges: []PageExamRange{}, Notes: emptyNotNil(t.Notes), Guide: pageFigure(t.Guide)}
		if t.Lever != nil {
			p.Lever = &PageExamLever{From: t.Lever.From, To: t.Lever.To}
		}
		e := t.Errors[0]
		p.Error = PageExamError{Value: known(e.Value), Percent: known(e.Percent), Least: known(e.Least), Source: e.Source, Tag: e.Tag}
		for i := range t.Ranges {
			p.Ranges = append(p.Ranges, *pageExamRange(&t.Ranges[i]))
		}
		if c, ok := finding.Default().Contested[t.Contested]; ok {
			p.Contested = &PageExamDispute{Text: c.Text, Source: c.Source}
		}
		out.Tests = append(out.Tests, p)
	}
	return out
})

func pageExamRange(r *exam.Range) *PageExamRange {
	low, high := r.Limits()
	p := &PageExamRange{Sex: r.Sex, Of: r.Of, Low: number(low, 3), High: number(high, 3), N: r.N, Unit: r.Unit, Source: r.Source, Tag: r.Tag, Note: r.Note}
	if r.Typical != nil {
		p.Typical = number(*r.Typical, 3)
	}
	return p
}

// examKey names the entry of a test on a side in a stage.
func examKey(e exam.Entry) string {
	key := e.Test
	if e.Side != body.NoSide || e.Stage != "" {
		key += "/" + sideName(e.Side)
	}
	if e.Stage != "" {
		key += "/" + e.Stage
	}
	return key
}

// sideName is left, right or, for no side, empty.
func sideName(s body.Side) string {
	if s == body.NoSide {
		return ""
	}
	return s.String()
}

// sheet turns what a page keeps into what is scored; it refuses what cannot be
// meant.
func (p *PageExam) sheet(e *entries) exam.Sheet {
	var s exam.Sheet
	var keys []string
	for _, key := range slices.Sorted(maps.Keys(p.Entries)) {
		kept := p.Entries[key]
		at := "entries." + clean(key, 80)
		parts := strings.Split(key, "/")
		one := exam.Entry{Test: parts[0], Felt: kept.Felt, Note: kept.Note}
		if len(parts) > 3 {
			e.fail(at, "", "%q names no test", clean(key, 80))
			continue
		}
		if len(parts) > 1 && parts[1] != "" {
			e.choice(at, "the side", parts[1], "left", "right")
			one.Side, _ = body.ParseSide(parts[1])
		}
		if len(parts) > 2 {
			one.Stage = parts[2]
		}
		e.prose(at+".note", "the note", &one.Note, maxProse)
		e.prose(at+".felt", "where it was felt", &one.Felt, maxLine)
		for i, t := range kept.Trials {
			tr := exam.Trial{Value: orNaN(t.Value), ForceN: orNaN(t.ForceN), LeverM: orNaN(t.LeverM), Invalid: t.Invalid, Pain: t.Pain}
			e.prose(fmt.Sprintf("%s.trials.%d.invalid", at, i), "why it does not count", &tr.Invalid, maxLine)
			if t.Clip != "" && !store.ValidID(t.Clip) {
				e.fail(fmt.Sprintf("%s.trials.%d.clip", at, i), "", "the clip that was named is none")
			}
			one.Trials = append(one.Trials, tr)
		}
		s.Entries = append(s.Entries, one)
		keys = append(keys, at)
	}
	for _, err := range s.Check() {
		var at *exam.Problem
		if !errors.As(err, &at) {
			e.fail("entries", "", "%v", err)
			continue
		}
		field := keys[at.Entry]
		if at.Trial >= 0 {
			field += fmt.Sprintf(".trials.%d", at.Trial)
		}
		title := s.Entries[at.Entry].Test
		if t, ok := exam.Lookup(title); ok {
			title = t.Title
		}
		e.fail(field, "Check the number and its unit.", "%s: %s", clean(title, 60), at.What)
	}
	return s
}

func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

// tidy cuts blanks and makes lists out of nothing, so that what is kept has one
// form.
func (p *PageExam) tidy() {
	out := map[string]PageExamEntry{}
	for key, e := range p.Entries {
		e.Felt, e.Note = strings.TrimSpace(e.Felt), strings.TrimSpace(e.Note)
		e.Trials = append([]PageExamTrial{}, e.Trials...)
		for i := range e.Trials {
			e.Trials[i].Invalid = strings.TrimSpace(e.Trials[i].Invalid)
		}
		if len(e.Trials) > 0 || e.Felt != "" || e.Note != "" {
			out[key] = e
		}
	}
	p.Entries = out
}

// keptExam is an exam as it is kept.
type keptExam struct {
	Entries map[string]PageExamEntry `json:"entries"`
}

// examOf returns the exam of a visit, without its report; nil where there is none.
func examOf(r store.Reader, visitID string) (*PageExam, store.Document, error) {
	doc, err := r.Document(docExam, visitID)
	if errors.Is(err, store.ErrNotFound) {
		return nil, store.Document{VisitID: visitID, Kind: docExam, Owner: visitID}, nil
	}
	if err != nil {
		return nil, doc, err
	}
	p, err := parseExam(doc)
	return p, doc, err
}

func parseExam(doc store.Document) (*PageExam, error) {
	var k keptExam
	if err := json.Unmarshal(doc.Body, &k); err != nil {
		return nil, fmt.Errorf("the exam of visit %s cannot be read: %w", doc.VisitID, err)
	}
	return &PageExam{Version: doc.Version, Entries: k.Entries}, nil
}

// Sheet is the exam as it is scored; empty where there is none or where what was
// kept can no longer be read as an exam.
func (p *PageExam) Sheet() exam.Sheet {
	if p == nil {
		return exam.Sheet{}
	}
	var e entries
	if s := p.sheet(&e); e.err == nil {
		return s
	}
	return exam.Sheet{}
}

// Exam gives the exam of a visit with its scores.
func (st *Studio) Exam(ctx context.Context, visitID string) (PageExam, error) {
	var f visitRecords
	err := st.readRecords(ctx, func(r store.Reader) (err error) { f, _, err = openVisit(r, visitID); return err })
	if err != nil {
		return PageExam{}, err
	}
	p := PageExam{Entries: map[string]PageExamEntry{}}
	if f.exam != nil {
		p = *f.exam
	}
	sheet := f.exam.Sheet()
	p.Report = examReport(sheet, f.runner.MassKG, f.runner.Sex)
	p.LeftOut = f.leftOut()
	p.Filmed = []PageExamFilmed{}
	for _, one := range f.filmed {
		p.Filmed = append(p.Filmed, one.PageExamFilmed)
	}
	p.Suggested = st.suggestedTests(&f, sheet, p.LeftOut)
	return p, nil
}

// boneSigns are the warning signs that speak of bone; where one was met, nobody
// hops.
var boneSigns = []string{"bone_point", "bone_night", "hop", "groin_load", "bone_places"}

// leftOut are the tests that are not done with this runner.
func (f *visitRecords) leftOut() []PageExamPointer {
	out := []PageExamPointer{}
	if f.intake == nil {
		return out
	}
	for _, id := range boneSigns {
		if s, ok := theForm().sign(id); ok && f.intake.Signs[id] == "yes" {
			return append(out, PageExamPointer{Test: "hop", Why: "Left out: a sign of bone pain was answered with yes. Hopping is not tested, cleared or not.", Source: s.Source})
		}
	}
	return out
}

// usualTests are a short exam where the film does not point anywhere yet.
var usualTests = []string{"hip_abduction_strength", "thomas_hip", "lunge_cm", "single_leg_squat", "single_leg_bridge", "heel_raise"}

// suggestedTests are what the findings of the newest measurement ask for, and
// else a short exam. A test that was taken stays in the list.
func (st *Studio) suggestedTests(f *visitRecords, sheet exam.Sheet, without []PageExamPointer) []PageExamPointer {
	out := []PageExamPointer{}
	add := func(test, why, source string) {
		same := func(p PageExamPointer) bool { return p.Test == test }
		if !slices.ContainsFunc(out, same) && !slices.ContainsFunc(without, same) {
			if _, ok := exam.Lookup(test); ok {
				out = append(out, PageExamPointer{Test: test, Why: why, Source: source})
			}
		}
	}
	if len(f.results) > 0 {
		if s, err := st.Load(f.results[0].ID); err == nil {
			// Without the exam, so that the list stays while it is worked through.
			_, r := Reasons(s, exam.Sheet{}, f.intake.findingPains(), nil)
			for _, x := range slices.Concat(r.Findings, r.Others) {
				for _, test := range x.TestNext {
					add(test, "To tell more about: "+x.Title, "")
				}
			}
		}
	}
	if len(out) == 0 {
		for _, test := range usualTests {
			add(test, "A short exam to begin with", "common practice")
		}
	}
	return out
}

// findingPains are the pains told, as the reasoning takes them.
func (p *PageIntake) findingPains() []finding.Pain {
	if p == nil {
		return nil
	}
	var out []finding.Pain
	for _, a := range p.Pain {
		out = append(out, a.told())
	}
	return out
}

// told is the pain as the reasoning takes it.
func (a PagePain) told() finding.Pain {
	side, err := body.ParseSide(a.Side)
	if err != nil {
		side = body.NoSide
	}
	return finding.Pain{Region: a.Region, Side: side, Score: a.Score}
}

// ChangeExam writes the exam of a visit.
func (st *Studio) ChangeExam(ctx context.Context, who, visitID string, p PageExam) (PageExam, error) {
	p.tidy()
	var e entries
	p.sheet(&e)
	if e.err != nil {
		return PageExam{}, e.err
	}
	return st.writeExam(ctx, who, visitID, p.Version, func(*PageExam) (map[string]PageExamEntry, error) { return p.Entries, nil })
}

// AddExamTable takes in a table of trials. They are added to what is there; a
// trial that is there already is not added again.
func (st *Studio) AddExamTable(ctx context.Context, who, visitID string, ask PageExamTable) (PageExam, error) {
	sheet, err := exam.ReadTable(strings.NewReader(ask.Table))
	if err != nil {
		return PageExam{}, &Problem{Kind: KindUsage, Field: "table", What: "the table cannot be taken in: " + err.Error(), Mend: "The columns are " + strings.Join(exam.Columns(), ", ") + ".", Err: err}
	}
	return st.writeExam(ctx, who, visitID, ask.Version, func(before *PageExam) (map[string]PageExamEntry, error) {
		p := PageExam{Entries: map[string]PageExamEntry{}}
		maps.Copy(p.Entries, before.Entries)
		for _, x := range sheet.Entries {
			one := p.Entries[examKey(x)]
			one.Trials = slices.Clone(one.Trials)
			had := len(one.Trials)
			for _, tr := range x.Trials {
				t := pageTrial(x.Test, tr)
				if !slices.ContainsFunc(one.Trials[:had], func(o PageExamTrial) bool { return reflect.DeepEqual(o, t) }) {
					one.Trials = append(one.Trials, t)
				}
			}
			if x.Felt != "" {
				one.Felt = x.Felt
			}
			if x.Note != "" && !strings.Contains(one.Note, x.Note) {
				one.Note = strings.TrimPrefix(one.Note+"; "+x.Note, "; ")
			}
			p.Entries[examKey(x)] = one
		}
		p.tidy()
		var e entries
		p.sheet(&e)
		return p.Entries, e.err
	})
}

// pageTrial is a trial as the page has it: a force or a value of nought is none.
func pageTrial(test string, tr exam.Trial) PageExamTrial {
	t := PageExamTrial{Invalid: tr.Invalid, Pain: tr.Pain}
	if k, ok := exam.Lookup(test); ok && k.Kind == exam.Strength {
		t.ForceN, t.LeverM = known(tr.ForceN), known(tr.LeverM)
	} else if tr.Value != 0 || tr.Invalid == "" && tr.Pain == 0 {
		t.Value = number(tr.Value, 6)
	}
	return t
}

// writeExam carries out one change of an exam that was read at a version.
func (st *Studio) writeExam(ctx context.Context, who, visitID string, version int64, edit func(*PageExam) (map[string]PageExamEntry, error)) (PageExam, error) {
	var f visitRecords
	if err := st.readRecords(ctx, func(r store.Reader) (err error) { f, _, err = openVisit(r, visitID); return err }); err != nil {
		return PageExam{}, err
	}
	before := f.exam
	if before == nil {
		before = &PageExam{}
	}
	if before.Version != version {
		return PageExam{}, stale("The exam", before.Version)
	}
	after, err := edit(before)
	if err != nil {
		return PageExam{}, err
	}
	if err := f.mayTest(before.Entries, after); err != nil {
		return PageExam{}, err
	}
	deed := examDeed(before.Entries, after)
	if deed == "" {
		return st.Exam(ctx, visitID)
	}
	err = st.change(ctx, who, deed, visitID, func(w store.Writer) error {
		_, doc, err := examOf(w, visitID)
		if err != nil {
			return err
		}
		if doc.Version != version {
			return stale("The exam", doc.Version)
		}
		doc.Body = rawJSON(keptExam{Entries: after})
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PageExam{}, missingRecord(err, "visit")
	}
	return st.Exam(ctx, visitID)
}

// mayTest refuses new trials where a warning sign stops the visit, and of tests
// that are left out. What is there may be mended.
func (f *visitRecords) mayTest(before, after map[string]PageExamEntry) error {
	for key, e := range after {
		if len(e.Trials) <= len(before[key].Trials) {
			continue
		}
		if f.intake.refer().stops() {
			return problem(KindNotAllowed, "", "It goes on when a clinician's clearance is noted at the station Intake.", "a warning sign stops this visit: nothing is tested")
		}
		for _, out := range f.leftOut() {
			if test, _, _ := strings.Cut(key, "/"); test == out.Test {
				return problem(KindNotAllowed, "", "Choose another test.", "this test is not done with this runner: a sign of bone pain was answered with yes")
			}
		}
	}
	return nil
}

// examDeed names what was changed; empty where nothing was.
func examDeed(before, after map[string]PageExamEntry) string {
	var names []string
	keys := slices.Sorted(maps.Keys(after))
	for key := range before {
		if _, ok := after[key]; !ok {
			keys = append(keys, key)
		}
	}
	for _, key := range keys {
		if reflect.DeepEqual(before[key], after[key]) {
			continue
		}
		parts := strings.Split(key, "/")
		name := parts[0]
		if t, ok := exam.Lookup(name); ok {
			name = small(t.Title)
		}
		for _, more := range parts[1:] {
			if more != "" {
				name += ", " + more
			}
		}
		names = append(names, name)
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return "Exam: " + names[0]
	}
	return fmt.Sprintf("Exam: %s and %d more", names[0], len(names)-1)
}

// examReport scores a sheet for the page.
func examReport(sheet exam.Sheet, massKG float64, sex string) PageExamReport {
	r := exam.Score(sheet, exam.Body{MassKG: massKG, Sex: sex})
	out := PageExamReport{MassKG: known(massKG), Sex: sex, Readings: []PageExamReading{}, Pairs: []PageExamPair{}, Pains: []PageExamPain{}}
	for _, x := range r.Readings {
		out.Readings = append(out.Readings, pageReading(x))
	}
	for _, p := range r.Pairs {
		out.Pairs = append(out.Pairs, PageExamPair{Test: p.Test.Name, Stage: p.Stage, RatioPercent: number(p.RatioPercent, 1), Difference: number(p.Difference, 4),
			Margin: number(p.Margin, 4), Weaker: sideName(p.Weaker), Text: pairText(p)})
	}
	for _, x := range r.Pains {
		one := PageExamPain{Test: x.Test.Name, Side: sideName(x.Side), Pain: x.Pain, Refer: x.Pain > finding.TooMuchPain,
			Text: "The test was stopped; it is left out until it no longer hurts."}
		if one.Refer {
			one.Text = fmt.Sprintf("A pain of %d in a test is more than %d: refer this to a clinician; no programme is made for this region before.", x.Pain, finding.TooMuchPain)
		}
		out.Pains = append(out.Pains, one)
	}
	return out
}

func pageReading(x exam.Reading) PageExamReading {
	p := PageExamReading{Test: x.Test.Name, Side: sideName(x.Side), Stage: x.Stage, Value: number(x.Value, 4), Unit: x.Test.Unit, Reason: x.Reason, Valid: x.Valid,
		Trials: x.Trials, Spread: number(x.Spread, 4), SEM: number(x.SEM, 4), MDC95: number(x.MDC95, 4), ErrorSource: x.ErrorSource, ForceN: number(x.ForceN, 1),
		TorqueNm: number(x.TorqueNm, 2), ForcePerMass: number(x.ForcePerMass, 1), Pain: x.Pain, Stopped: x.Stopped, Felt: x.Felt, Verdict: string(x.Verdict), Cautions: emptyNotNil(x.Cautions)}
	if x.Range != nil {
		p.Range = pageExamRange(x.Range)
	}
	return p
}

// pairText says in words how the sides compare, with the error.
func pairText(p exam.Pair) string {
	if math.IsNaN(p.Difference) {
		return "The sides cannot be compared: one of them has no value."
	}
	unit := examUnit(p.Test.Unit)
	if p.Weaker == body.NoSide {
		return fmt.Sprintf("Left and right differ by %.2g %s; the error of a difference is %.2g %s, so this is no difference that counts.", math.Abs(p.Difference), unit, p.Margin, unit)
	}
	word := "weaker"
	if p.Test.Kind != exam.Strength {
		word = "poorer"
	}
	s := fmt.Sprintf("The %s side is the %s one: the difference of %.2g %s lies beyond its error of %.2g %s.", p.Weaker, word, math.Abs(p.Difference), unit, p.Margin, unit)
	if p.Test.Kind == exam.Strength {
		s += " Differences of this kind are common in runners without trouble."
	}
	return s
}

// examUnit is a unit as a sentence has it.
func examUnit(u string) string {
	if u == "deg" {
		return "degrees"
	}
	return u
}

// tooPainful lists the tests that hurt so much that they refer, as test/side.
func (p *PageExam) tooPainful() []string {
	if p == nil {
		return nil
	}
	var out []string
	for _, x := range exam.Score(p.Sheet(), exam.Body{}).Pains {
		if k := finding.TestKey(x.Test.Name, x.Side); x.Pain > finding.TooMuchPain && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out
}

// tested counts the entries of the exam that have a trial.
func (f *visitRecords) tested() int {
	n := 0
	if f.exam != nil {
		for _, e := range f.exam.Entries {
			if len(e.Trials) > 0 {
				n++
			}
		}
	}
	return n
}

func (f *visitRecords) testedStrength() bool {
	return slices.ContainsFunc(f.exam.Sheet().Entries, func(e exam.Entry) bool {
		t, ok := exam.Lookup(e.Test)
		return ok && t.Kind == exam.Strength && len(e.Trials) > 0
	})
}

// oneSided names the first test that was taken on one side only; empty where
// there is none. A test stopped by pain asks for no other side.
func (f *visitRecords) oneSided() string {
	if f.exam == nil {
		return ""
	}
	for _, t := range exam.Catalogue() {
		if !t.HasSides() {
			continue
		}
		taken, hurt := map[string]bool{}, false
		for key, e := range f.exam.Entries {
			parts := strings.Split(key, "/")
			if parts[0] != t.Name || len(parts) < 2 || len(e.Trials) == 0 {
				continue
			}
			taken[parts[1]] = true
			hurt = hurt || slices.ContainsFunc(e.Trials, func(t PageExamTrial) bool { return t.Pain > 0 })
		}
		if len(taken) == 1 && !hurt {
			return t.Title
		}
	}
	return ""
}
