package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

const docFindings = "findings"

// maxOwnFindings bounds what a coach adds.
const maxOwnFindings = 12

// reasoned is a visit with the reasoning over its newest result.
type reasoned struct {
	visitRecords
	session *Session // nil where nothing was measured
	report  finding.Report
	note    string
}

// reason reads a visit and reasons over it.
func (st *Studio) reason(ctx context.Context, visitID string) (reasoned, error) {
	var f reasoned
	err := st.readRecords(ctx, func(r store.Reader) (err error) { f.visitRecords, _, err = openVisit(r, visitID); return err })
	if err != nil {
		return f, err
	}
	if len(f.results) > 0 {
		if f.session, err = st.Load(f.results[0].ID); err != nil {
			return f, err
		}
	}
	var sheet exam.Sheet
	if f.exam != nil {
		sheet = f.exam.Sheet()
	}
	rules, note := rulesInUse()
	f.note = note
	_, f.report = reasonsBy(rules, f.session, sheet, f.intake.told())
	return f, nil
}

func parseFindings(doc store.Document) (*PageFindingsKept, error) {
	var p PageFindingsKept
	if err := json.Unmarshal(doc.Body, &p); err != nil {
		return nil, fmt.Errorf("the findings of visit %s cannot be read: %w", doc.VisitID, err)
	}
	p.Version = doc.Version
	p.tidy()
	return &p, nil
}

func readFindings(r store.Reader, visitID string) (*PageFindingsKept, store.Document, error) {
	doc, err := r.Document(docFindings, visitID)
	if errors.Is(err, store.ErrNotFound) {
		return nil, store.Document{VisitID: visitID, Kind: docFindings, Owner: visitID}, nil
	}
	if err != nil {
		return nil, doc, err
	}
	p, err := parseFindings(doc)
	return p, doc, err
}

func (p *PageFindingsKept) tidy() {
	if p.Decisions == nil {
		p.Decisions = map[string]PageDecision{}
	}
	p.Own, p.Order, p.Proposed = emptyNotNil(p.Own), emptyNotNil(p.Order), emptyNotNil(p.Proposed)
	for i := range p.Own {
		p.Own[i].Aims = emptyNotNil(p.Own[i].Aims)
	}
}

// ownID is the shape of an own finding's name.
var ownID = regexp.MustCompile(`^own-[0-9a-z]{1,24}$`)

// check refuses what cannot be meant. known are the names of the findings.
func (p *PageFindingsKept) check(e *entries, rules *finding.Rules, lib *programme.Library) {
	known := func(name string) bool {
		return rules.Pattern(name) != nil || slices.ContainsFunc(rules.Chains, func(c *finding.Chain) bool { return c.Name == name })
	}
	p.tidy()
	for _, name := range slices.Sorted(maps.Keys(p.Decisions)) {
		d := p.Decisions[name]
		at := "decisions." + clean(name, 40)
		if !known(name) {
			e.fail(at, "", "there is no finding %q", clean(name, 40))
			continue
		}
		e.choice(at+".state", "the decision", d.State, "accepted", "rejected")
		e.prose(at+".reason", "the reason", &d.Reason, maxProse)
		if d.State == "rejected" && d.Reason == "" {
			e.fail(at+".reason", "Write why, in a few words.", "a finding is rejected with a reason")
		}
		p.Decisions[name] = d
	}
	if len(p.Own) > maxOwnFindings {
		e.fail("own", "", "%d own findings; at most %d are kept", len(p.Own), maxOwnFindings)
	}
	seen := map[string]bool{}
	for i := range p.Own {
		o := &p.Own[i]
		at := fmt.Sprintf("own.%d.", i)
		if !ownID.MatchString(o.ID) || seen[o.ID] {
			e.fail(at+"id", "", "%q cannot name an own finding, or names two", clean(o.ID, 40))
		}
		seen[o.ID] = true
		e.prose(at+"title", "the title", &o.Title, maxLine)
		if o.Title == "" {
			e.fail(at+"title", "Say in a few words what you found.", "an own finding needs its title")
		}
		e.prose(at+"text", "what it rests on", &o.Text, maxProse)
		e.choice(at+"side", "the side", o.Side, "left", "right", "both")
		if len(o.Aims) > 8 {
			e.fail(at+"aims", "", "%d aims; at most 8 are kept", len(o.Aims))
		}
		for k := range o.Aims {
			a := &o.Aims[k]
			if !slices.ContainsFunc(lib.Exercises, func(x *programme.Exercise) bool { return x.Block == a.Block && x.Area == a.Area }) {
				e.fail(at+"aims", "", "there is no exercise to %s %s", clean(a.Block, 20), clean(a.Area, 30))
			}
			a.Side, a.Of, a.Why = o.Side, "", ""
		}
	}
	if len(p.Order) > 60 {
		e.fail("order", "", "the order names %d findings; at most 60", len(p.Order))
	}
	for _, name := range p.Order {
		if !known(name) && !ownID.MatchString(name) {
			e.fail("order", "", "there is no finding %q", clean(name, 40))
		}
	}
}

// Findings gives the station Findings of a visit.
func (st *Studio) Findings(ctx context.Context, visitID string) (PageFindings, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageFindings{}, err
	}
	return f.page(), nil
}

func (f *reasoned) page() PageFindings {
	p := PageFindings{Exam: f.tested() > 0, Note: f.note}
	if f.findings != nil {
		p.PageFindingsKept = *f.findings
	}
	p.tidy()
	if len(f.results) > 0 {
		p.Result, p.Stale = f.results[0].ID, f.stale(f.results[0])
	}
	r := f.report
	p.Report = PageReasons{Findings: []PageFinding{}, Others: []PageFinding{}, None: r.None, Refer: []PageReferral{}, Loose: f.evidence(r.Loose), Looked: r.Looked, Blind: emptyNotNil(r.Blind), Rules: r.Rules, Aims: aimChoices()}
	for _, x := range r.Findings {
		p.Report.Findings = append(p.Report.Findings, f.pageFinding(x))
	}
	for _, x := range r.Others {
		p.Report.Others = append(p.Report.Others, f.pageFinding(x))
	}
	for _, x := range r.Refer {
		p.Report.Refer = append(p.Report.Refer, PageReferral{Region: x.Region, Side: x.Side.String(), Why: x.Why})
	}
	return p
}

// aimChoices are the blocks and areas for which there are exercises.
func aimChoices() []PageAimChoice {
	lib, _ := exercisesInUse()
	var out []PageAimChoice
	for _, block := range programme.Blocks {
		for _, e := range lib.Exercises {
			if a := (PageAimChoice{e.Block, e.Area}); e.Block == block && !slices.Contains(out, a) {
				out = append(out, a)
			}
		}
	}
	return out
}

func testsNext(names []string) []PageTestNext {
	out := []PageTestNext{}
	for _, n := range names {
		if t, ok := exam.Lookup(n); ok {
			out = append(out, PageTestNext{n, t.Title})
		}
	}
	return out
}

func (f *reasoned) pageFinding(x finding.Finding) PageFinding {
	p := PageFinding{Name: x.Name, Title: x.Title, Text: x.Text, Sides: []string{}, Joined: x.Chain != nil, Parts: []PageFindingPart{}, Exam: f.evidence(x.Exam),
		Size: finding.Size(x.Size), SizeMDC: number(x.Size, 2), Confidence: string(x.Confidence), ConfidenceText: x.Confidence.Meaning(),
		TestNext: testsNext(x.TestNext), Overturn: emptyNotNil(x.Overturn), Disputed: disputed(f.report.Points, x.Contested), Aims: pageAims(x.Aims)}
	for _, s := range x.Sides {
		p.Sides = append(p.Sides, s.String())
	}
	for _, k := range []struct {
		name string
		v    float64
	}{{"size", x.Rank.Size}, {"breadth", x.Rank.Breadth}, {"complaint", x.Rank.Complaint}, {"change", x.Rank.Change}, {"safety", x.Rank.Safety}} {
		p.Rank = append(p.Rank, PageRankPart{k.name, number(k.v, 2)})
	}
	for _, part := range x.Parts {
		one := PageFindingPart{Pattern: part.Pattern.Name, Title: part.Pattern.Title, Side: part.Side.String(), Size: finding.Size(part.Size), Seen: f.evidence(part.Seen), Also: f.evidence(part.Also),
			Unclear: f.evidence(part.Unclear), Unmeasured: f.evidence(part.Unmeasured), Causes: []PageCause{}, Rivals: []PageRival{}, Change: part.Pattern.Change, ChangeText: part.Pattern.ChangeWhy}
		for _, c := range part.Causes {
			one.Causes = append(one.Causes, PageCause{Text: c.Cause.Text, State: string(c.State), For: f.evidence(c.For), Against: f.evidence(c.Against), OtherSide: f.evidence(c.OtherSide), Untested: testsNext(c.Untested)})
		}
		for _, v := range part.Pattern.Rivals {
			one.Rivals = append(one.Rivals, PageRival{v.Text, v.Settle})
		}
		p.Parts = append(p.Parts, one)
	}
	return p
}

func disputed(points map[int]finding.Contested, numbers []int) []PageDisputed {
	out := []PageDisputed{}
	for _, n := range numbers {
		if c, ok := points[n]; ok {
			out = append(out, PageDisputed{n, c.Text, c.Source})
		}
	}
	return out
}

func pageAims(aims []finding.SidedAim) []PageAim {
	out := []PageAim{}
	for _, a := range aims {
		out = append(out, PageAim{Block: a.Block, Area: a.Area, Side: a.Side.String(), Why: a.Why, Of: a.Of})
	}
	return out
}

func (f *reasoned) evidence(all []finding.Evidence) []PageEvidence {
	out := []PageEvidence{}
	for _, e := range all {
		p := PageEvidence{Text: e.Text, Measure: e.Condition.Measure, Test: e.Condition.Test, Side: e.Side.String(), Value: number(e.Value, 4), Limit: number(e.Limit, 4), Error: number(e.Error, 4),
			SizeMDC: number(e.Size, 2), Rule: e.Condition.InWords(), Source: e.Source, Tag: e.Condition.Tag, Flag: e.Flag, Origin: e.Origin}
		if d, ok := measure.Lookup(e.Condition.Measure); ok {
			p.Unit = d.Unit
		} else if t, ok := exam.Lookup(e.Condition.Test); ok {
			p.Unit = t.Unit
		}
		p.Picture = f.picture(e)
		out = append(out, p)
	}
	return out
}

// moments are where in the step a measure is read; what is not here is read in
// mid-stance, and what has no moment is empty.
var moments = map[string]string{
	"overstride": "contact", "heel_to_com_at_contact": "contact", "shank_angle_at_contact": "contact", "knee_flexion_at_contact": "contact", "foot_angle_at_contact": "contact",
	"step_width": "stance", "thigh_angle_at_toe_off": "toe_off", "hip_extension_at_toe_off": "toe_off", "triple_extension": "toe_off", "heel_whip": "swing", "ankle_dorsiflexion_peak": "late",
	"step_rate": "", "contact_time_asymmetry": "", "step_time_asymmetry": "", "vertical_oscillation": "", "step_length": "",
}

// picture finds the frame in which a number of the film is read.
func (f *reasoned) picture(e finding.Evidence) *PagePicture {
	if f.session == nil || e.Clip < 0 || e.Clip >= len(f.session.Clips) || e.Condition.Measure == "" {
		return nil
	}
	moment, ok := moments[e.Condition.Measure]
	if !ok {
		moment = "stance"
	}
	c := f.session.Clips[e.Clip]
	if moment == "" || !c.IsVideo() {
		return nil
	}
	side := e.Side
	if side == body.NoSide {
		side = body.Left
		if c.Info.View == clip.RightSide {
			side = body.Right
		}
	}
	k, ok := c.typicalContact(side)
	if !ok {
		return nil
	}
	at := map[string]float64{"contact": k.InitialContactS, "stance": (k.InitialContactS + k.ToeOffS) / 2, "late": k.InitialContactS + 0.65*k.DurationS(), "toe_off": k.ToeOffS, "swing": k.ToeOffS + 0.06}[moment]
	n := track.NearestFrame(c.Track.TimeS, at)
	id := f.results[0].ID
	return &PagePicture{Clip: e.Clip, Frame: n, Moment: moment, Side: side.String(), URL: fmt.Sprintf("/api/results/%s/clips/%d/shows/%d", id, e.Clip, n),
		Bench: fmt.Sprintf("/visits/%s/bench/%s/%d#frame=%d", f.visit.ID, id, e.Clip, n)}
}

// ShowsJPEG is a frame around the runner with the landmarks drawn.
func (st *Studio) ShowsJPEG(ctx context.Context, id string, n, frame int) ([]byte, error) {
	s, err := st.Load(id)
	if KindOf(err) == KindUsage && err != nil {
		return nil, &Problem{Kind: KindNotFound, What: "There is no such result.", Err: err}
	}
	if err != nil {
		return nil, err
	}
	if n < 0 || n >= len(s.Clips) || !s.Clips[n].IsVideo() || frame < 0 || frame >= s.Clips[n].Track.Frames() {
		return nil, &Problem{Kind: KindNotFound, What: "There is no such frame."}
	}
	c := s.Clips[n]
	raw, err := st.FrameJPEG(ctx, id, n, frame)
	if err != nil {
		return nil, err
	}
	plain, err := jpeg.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil, fmt.Errorf("frame %d: %w", frame, err)
	}
	picture := image.NewRGBA(plain.Bounds())
	draw.Draw(picture, picture.Rect, plain, plain.Bounds().Min, draw.Src)
	scale := float64(picture.Rect.Dy()) / float64(c.Info.HeightPX)
	o := c.overlayAt(frame, scale)
	o.Weight = keyFrameWeight
	video.Annotate(picture, o)
	var out bytes.Buffer
	part := c.around(frame, scale).Intersect(picture.Rect)
	if part.Dx() < 40 || part.Dy() < 40 {
		part = picture.Rect
	}
	if err := jpeg.Encode(&out, picture.SubImage(part), &jpeg.Options{Quality: frameQuality}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// accepted are the accepted findings in the coach's order: their titles, what
// they aim at, and what the exam speaks against.
func (f *reasoned) accepted() (titles []string, aims []finding.SidedAim, spared []finding.Aim) {
	if f.findings == nil {
		return nil, nil, nil
	}
	type one struct {
		name, title string
		aims        []finding.SidedAim
	}
	var all []one
	for _, x := range slices.Concat(f.report.Findings, f.report.Others) {
		if f.findings.Decisions[x.Name].State == "accepted" {
			all = append(all, one{x.Name, x.Title + sidesAfter(x.Sides), x.Aims})
			spared = append(spared, x.Spared...)
		}
	}
	for _, o := range f.findings.Own {
		side, _ := body.ParseSide(o.Side)
		x := one{name: o.ID, title: o.Title + sideAfter(o.Side)}
		for _, a := range o.Aims {
			why := ""
			if side == body.NoSide {
				why = "the coach's finding is of both sides"
			}
			x.aims = append(x.aims, finding.SidedAim{Aim: finding.Aim{Block: a.Block, Area: a.Area, Why: why}, Side: side, Of: o.Title})
		}
		all = append(all, x)
	}
	place := func(name string) int {
		if i := slices.Index(f.findings.Order, name); i >= 0 {
			return i
		}
		return math.MaxInt
	}
	slices.SortStableFunc(all, func(a, b one) int {
		switch x, y := place(a.name), place(b.name); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	for _, x := range all {
		titles = append(titles, x.title)
		for _, a := range x.aims {
			if i := slices.IndexFunc(aims, func(y finding.SidedAim) bool { return y.Block == a.Block && y.Area == a.Area }); i >= 0 {
				if aims[i].Side != a.Side && aims[i].Side != body.NoSide {
					aims[i].Side, aims[i].Why = body.NoSide, "found on both sides"
				}
				continue
			}
			aims = append(aims, a)
		}
	}
	return titles, aims, spared
}

// proposed are the findings that a report gives to decide.
func proposed(r finding.Report) []string {
	out := []string{}
	for _, x := range r.Findings {
		out = append(out, x.Name)
	}
	return out
}

// undecided counts the findings of which nothing was decided, and all that there
// are to decide.
func (f *visitRecords) undecided() (open, all int) {
	if f.findings == nil {
		return 0, 0
	}
	for _, name := range f.findings.Proposed {
		if f.findings.Decisions[name].State == "" {
			open++
		}
	}
	return open, len(f.findings.Proposed)
}

// ChangeFindings writes what the coach decided.
func (st *Studio) ChangeFindings(ctx context.Context, who, visitID string, p PageFindingsKept) (PageFindings, error) {
	rules, _ := rulesInUse()
	lib, _ := exercisesInUse()
	var e entries
	p.check(&e, rules, lib)
	if e.err != nil {
		return PageFindings{}, e.err
	}
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageFindings{}, err
	}
	deed := findingsDeed(f.findings, &p, rules)
	if deed == "" && f.findings != nil && f.findings.Version == p.Version {
		return f.page(), nil
	}
	if deed == "" {
		deed = "Looked through the findings"
	}
	p.Proposed = proposed(f.report)
	f.findings = &p
	titles := acceptedTags(&p, rules)
	err = st.change(ctx, who, deed, visitID, func(w store.Writer) error {
		visit, err := w.Visit(visitID)
		if err != nil {
			return err
		}
		_, doc, err := readFindings(w, visitID)
		if err != nil {
			return err
		}
		if doc.Version != p.Version {
			return stale("The list of findings", doc.Version)
		}
		if doc.Body, err = json.Marshal(p); err != nil {
			return err
		}
		if err := w.PutDocument(&doc); err != nil {
			return err
		}
		p.Version = doc.Version
		tags := append(f.intake.tags(), titles...)
		if !slices.Equal(tags, visit.Tags) {
			visit.Tags = tags
			return w.PutVisit(&visit)
		}
		return nil
	})
	if err != nil {
		return PageFindings{}, missingRecord(err, "visit")
	}
	return st.Findings(ctx, visitID)
}

// acceptedTags are what a visit can be found by: the titles of what was accepted
// and the coach's own.
func acceptedTags(p *PageFindingsKept, rules *finding.Rules) []string {
	var out []string
	if p == nil {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(p.Decisions)) {
		if t := findingTitle(name, rules); p.Decisions[name].State == "accepted" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	for _, o := range p.Own {
		if !slices.Contains(out, o.Title) {
			out = append(out, o.Title)
		}
	}
	return out
}

func findingTitle(name string, rules *finding.Rules) string {
	if p := rules.Pattern(name); p != nil {
		return p.Title
	}
	for _, c := range rules.Chains {
		if c.Name == name {
			return c.Title
		}
	}
	return name
}

// findingsDeed names what was decided; empty where nothing was.
func findingsDeed(before, after *PageFindingsKept, rules *finding.Rules) string {
	if before == nil {
		before = &PageFindingsKept{}
		before.tidy()
	}
	var what []string
	for _, name := range slices.Sorted(maps.Keys(after.Decisions)) {
		if d := after.Decisions[name]; d != before.Decisions[name] {
			what = append(what, d.State+" "+small(findingTitle(name, rules)))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(before.Decisions)) {
		if _, ok := after.Decisions[name]; !ok {
			what = append(what, "reopened "+small(findingTitle(name, rules)))
		}
	}
	same := func(a, b []PageOwnFinding) bool {
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		return bytes.Equal(x, y)
	}
	if !same(before.Own, after.Own) {
		what = append(what, "changed own findings")
	}
	if !slices.Equal(before.Order, after.Order) {
		what = append(what, "changed the order of the findings")
	}
	if len(what) == 0 {
		return ""
	}
	s := strings.Join(what, "; ")
	return strings.ToUpper(s[:1]) + s[1:]
}
