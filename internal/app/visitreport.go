package app

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/figure"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/internal/render"
)

// ReportAsk says which report of a visit is wanted.
type ReportAsk struct {
	For      string // runner or clinician
	Paper    string // a4 or letter
	Language string // en or de
	Units    string // metric or us
}

// check fills in what is empty and refuses what is not known.
func (a *ReportAsk) check() error {
	a.For, a.Paper, a.Language = cmp.Or(a.For, "runner"), cmp.Or(strings.ToLower(a.Paper), "a4"), cmp.Or(a.Language, "en")
	units, err := knownUnits(a.Units)
	switch {
	case a.For != "runner" && a.For != "clinician":
		return problem(KindUsage, "", "It is for the runner or a clinician.", "there is no report for %q", clean(a.For, 40))
	case a.Paper != "a4" && a.Paper != "letter":
		return problem(KindUsage, "", "Choose a4 or letter.", "there is no paper %q", clean(a.Paper, 40))
	case err != nil:
		return err
	case !slices.Contains(ReportLanguages, a.Language):
		return problem(KindUsage, "", "Choose en or de.", "there is no report in the language %q", clean(a.Language, 40))
	}
	a.Units = units
	return nil
}

func (a ReportAsk) paper() render.Size {
	if a.Paper == "letter" {
		return render.Letter
	}
	return render.A4
}

// ReportFile is a report in one form.
type ReportFile struct {
	Data  []byte
	Kind  string // content type
	Name  string // of the file
	Pages int
}

// visitReportDPI is how fine a page is as PNG.
const visitReportDPI = 150

// VisitReport draws the report of a visit. The format is pdf, html, svg or png; of
// the last two one page is drawn, counted from 1.
func (st *Studio) VisitReport(ctx context.Context, visitID string, ask ReportAsk, format string, page int) (ReportFile, error) {
	if err := ask.check(); err != nil {
		return ReportFile{}, err
	}
	d, name, err := st.visitDocumentFor(ctx, visitID, ask)
	if err != nil {
		return ReportFile{}, err
	}
	out := ReportFile{Pages: len(d.Pages), Name: name}
	var b bytes.Buffer
	switch format {
	case "pdf":
		out.Kind, out.Name, err = "application/pdf", name+".pdf", d.WritePDF(&b)
	case "html":
		out.Kind, out.Name, err = "text/html; charset=utf-8", name+".html", d.WriteHTML(&b)
	case "svg", "png":
		if page < 1 || page > len(d.Pages) {
			return out, problem(KindNotFound, "", "", "The report has %s; there is no page %d.", plural(len(d.Pages), "page", "pages"), page)
		}
		p := d.Pages[page-1]
		out.Name = fmt.Sprintf("%s-%d.%s", name, page, format)
		if format == "svg" {
			out.Kind, err = "image/svg+xml", p.WriteSVG(&b)
		} else {
			out.Kind, err = "image/png", p.WritePNG(&b, visitReportDPI)
		}
	default:
		return out, problem(KindUsage, "", "Choose pdf, png, svg or html.", "a report cannot be written as %q", clean(format, 20))
	}
	out.Data = b.Bytes()
	return out, err
}

// WriteVisitReport draws the report of a visit, or of the visit of a kept result,
// to a file whose ending says the kind. Of PNG and SVG a report of several pages
// makes a file each, their number before the ending. It returns the paths.
func (st *Studio) WriteVisitReport(ctx context.Context, name, path string, ask ReportAsk) ([]string, error) {
	ending := filepath.Ext(path)
	format := strings.TrimPrefix(strings.ToLower(ending), ".")
	if err := ask.check(); err != nil {
		return nil, err
	}
	visit, err := st.visitNamed(ctx, name)
	if err != nil {
		return nil, err
	}
	write := func(path string, data []byte) error {
		return WriteFileWhole(path, func(w io.Writer) error { _, err := w.Write(data); return err })
	}
	first, err := st.VisitReport(ctx, visit, ask, format, 1)
	if err != nil {
		return nil, err
	}
	if format == "pdf" || format == "html" {
		return []string{path}, write(path, first.Data)
	}
	var paths []string
	for n := 1; n <= first.Pages; n++ {
		one := first
		if n > 1 {
			if one, err = st.VisitReport(ctx, visit, ask, format, n); err != nil {
				return paths, err
			}
		}
		at := fmt.Sprintf("%s-%d%s", strings.TrimSuffix(path, ending), n, ending)
		if err := write(at, one.Data); err != nil {
			return paths, err
		}
		paths = append(paths, at)
	}
	return paths, nil
}

// visitDocumentFor lays the report out and names its file.
func (st *Studio) visitDocumentFor(ctx context.Context, visitID string, ask ReportAsk) (*render.Document, string, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return nil, "", err
	}
	settings, err := st.Settings(ctx)
	if err != nil {
		return nil, "", err
	}
	logo, err := st.logo(ctx)
	if err != nil {
		return nil, "", err
	}
	head := render.Letterhead{Studio: settings.Studio, Logo: logo}
	name := fmt.Sprintf("report-%s-%s", ask.For, f.visit.Date.Format(dayForm))
	var d *render.Document
	if ask.For == "clinician" {
		d, err = st.clinicianReport(ctx, &f, ask, head)
	} else {
		d, err = st.runnerReport(ctx, &f, ask, head)
	}
	if err != nil {
		return nil, "", &Problem{Kind: KindNoResult, What: err.Error(), Err: err}
	}
	return d, name, nil
}

// agreed is a finding that the coach accepted or added.
type agreed struct {
	name string
	of   *finding.Finding // nil where it is the coach's own
	own  *PageOwnFinding
}

// agreedFindings are the accepted and own findings in the coach's order.
func (f *reasoned) agreedFindings() []agreed {
	var out []agreed
	if f.findings == nil {
		return nil
	}
	for _, list := range [][]finding.Finding{f.report.Findings, f.report.Others} {
		for i := range list {
			if x := &list[i]; f.findings.Decisions[x.Name].State == "accepted" {
				out = append(out, agreed{name: x.Name, of: x})
			}
		}
	}
	for i := range f.findings.Own {
		o := &f.findings.Own[i]
		out = append(out, agreed{name: o.ID, own: o})
	}
	place := func(name string) int {
		if i := slices.Index(f.findings.Order, name); i >= 0 {
			return i
		}
		return math.MaxInt
	}
	slices.SortStableFunc(out, func(a, b agreed) int { return cmp.Compare(place(a.name), place(b.name)) })
	return out
}

// mostSights is how many findings the first page shows with a picture.
const mostSights = 3

// runnerReport is the report that the runner takes home.
func (st *Studio) runnerReport(ctx context.Context, f *reasoned, ask ReportAsk, head render.Letterhead) (*render.Document, error) {
	w := wordsOf(ask)
	head.Title = w.Title
	version := ""
	if f.session != nil {
		version = f.session.Version
	}
	h := &render.Handover{Paper: ask.paper(), Lang: w.language, Made: f.visit.Date, Letterhead: head, Runner: cmp.Or(f.runner.Name, w.NoName),
		Page: w.Page, Foot: strings.TrimSpace(fmt.Sprintf(w.Foot, version))}
	h.Line = w.day(f.visit.Date)
	if f.intake.refer().stops() {
		w.refer(h, f)
		return h.Document()
	}
	if s := f.session; s != nil {
		for _, c := range s.Clips {
			if v := c.Info.BeltSpeedMPS; v > 0 {
				h.Line += " · " + w.speed(v)
				break
			}
		}
	}
	h.Lead = []string{w.Lead}
	if rate := f.filmRate(); rate != nil {
		h.Lead = append(h.Lead, filled(w.Figures, "rate", w.figure(rate.PerMin, 0), "error", w.errorWords(1.96*rate.SEM, 0, "steps/min")))
	}
	h.SawTitle = w.SawTitle
	all := f.agreedFindings()
	pictures, err := st.reportPictures(ctx, f, all[:min(len(all), mostSights)])
	if err != nil && ctx.Err() != nil {
		return nil, ctx.Err() // without its pictures the report is worth having, but not when it was given up
	}
	for i, a := range all {
		if i >= mostSights {
			h.More = append(h.More, w.titleOf(a)+".")
			continue
		}
		h.Saw = append(h.Saw, w.sight(f, a, pictures[a.name]))
	}
	if len(h.More) > 0 {
		h.More = append([]string{w.More + ": " + strings.Join(h.More, " ")}, h.More[len(h.More):]...)
	}
	if len(all) == 0 {
		none := w.NoneUndecided
		switch {
		case f.session == nil && f.tested() == 0:
			none = w.NoneNothing
		case f.session != nil && len(f.report.Findings) == 0:
			none = w.NoneMeasured
		}
		h.Saw = []render.Sight{{Paragraphs: []render.Said{{Text: none}}}}
	}
	w.nextSteps(st, h, f)
	return h.Document()
}

// titleOf names a finding in the runner's words.
func (w *reportWords) titleOf(a agreed) string {
	if a.own != nil {
		if a.own.Side == "both" || a.own.Side == "" || strings.Contains(strings.ToLower(a.own.Title), w.Sides[a.own.Side]) {
			return a.own.Title
		}
		return a.own.Title + ", " + w.Side[a.own.Side]
	}
	if t, ok := w.Findings[a.name]; ok {
		return sided(t.Title, w.sidesOf(a.of.Sides))
	}
	return a.of.Title
}

func (w *reportWords) sidesOf(sides []body.Side) string {
	var out []string
	for _, s := range sides {
		out = append(out, w.Sides[s.String()])
	}
	return strings.Join(out, " "+w.And+" ")
}

// sided puts the side into a text that asks for it.
func sided(text, side string) string {
	if strings.Contains(text, "%s") {
		text = strings.ReplaceAll(text, "%s", side)
	}
	return strings.Join(strings.Fields(text), " ")
}

// mainEvidence is the number that stands for a finding: one that can be shown in
// the film before others, and the largest.
func (f *reasoned) mainEvidence(x *finding.Finding) (finding.Evidence, bool) {
	var best finding.Evidence
	found, shows := false, false
	for _, p := range x.Parts {
		for _, e := range p.Seen {
			if e.Condition.Measure == "" || math.IsNaN(e.Value) || math.IsNaN(e.Error) {
				continue
			}
			in := f.picture(e) != nil
			if !found || in && !shows || in == shows && e.Size > best.Size {
				best, found, shows = e, true, in
			}
		}
	}
	return best, found
}

// aim is what a number is held against: the ends of what is aimed at, in its unit,
// and whether they are a reference range's.
func aimOf(e finding.Evidence) (low, high float64, usual, ok bool) {
	low, high = math.Inf(-1), math.Inf(1)
	if math.IsNaN(e.Limit) {
		return low, high, false, false
	}
	switch e.Condition.Is {
	case "above":
		high = e.Limit
	case "below":
		low = e.Limit
	case "outside", "unequal":
		if e.Limit >= 0 && e.Value >= e.Limit {
			high = e.Limit
		} else if e.Value <= e.Limit {
			low = e.Limit
		} else {
			return low, high, false, false
		}
		if e.Condition.Limit != nil && math.Abs(*e.Condition.Limit) == math.Abs(e.Limit) {
			low, high = -math.Abs(e.Limit), math.Abs(e.Limit)
		}
	default:
		return low, high, false, false
	}
	usual = e.Condition.Range && (e.Condition.Limit == nil || *e.Condition.Limit != e.Limit)
	return low, high, usual, true
}

// sight is a finding in the runner's words, with its picture.
func (w *reportWords) sight(f *reasoned, a agreed, picture *reportPicture) render.Sight {
	s := render.Sight{Title: w.titleOf(a)}
	say := func(head, text string) {
		if strings.TrimSpace(text) != "" {
			s.Paragraphs = append(s.Paragraphs, render.Said{Head: head, Text: text})
		}
	}
	if a.own != nil {
		say("", cmp.Or(a.own.Text, w.Coach))
		return s
	}
	x := a.of
	words, known := w.Findings[a.name]
	if !known { // of the studio's own rules
		words = findingWords{Saw: x.Text}
	}
	saw := sided(words.Saw, w.sidesOf(x.Sides))
	if e, ok := f.mainEvidence(x); ok {
		text, ruler := w.number(e)
		saw += " " + text
		s.Ruler = ruler
		if picture != nil {
			s.Picture, s.Focus, s.Caption = picture.image, picture.focus, w.Picture
		}
		if low, high, _, ok := aimOf(e); ok {
			at := high
			if math.IsInf(high, 1) {
				at = low
			}
			if d, ok := measure.Target(e.Condition.Measure, at); ok {
				if picture != nil && picture.mirrored || e.Side == body.Left && !f.sagittal(e) {
					d = d.Mirrored()
				}
				s.Target, s.TargetCaption = d, filled(w.Target, "aim", ruler.Aim)
			}
		}
	}
	say("", strings.TrimSpace(saw))
	say(w.Likely, w.behind(x))
	say(w.Why, words.Why)
	return s
}

func (f *reasoned) sagittal(e finding.Evidence) bool {
	return f.session != nil && e.Clip >= 0 && e.Clip < len(f.session.Clips) && f.session.Clips[e.Clip].Info.View.Sagittal()
}

// backward are measures that count forward, and of which a runner reads how far
// behind.
var backward = map[string]bool{"thigh_angle_at_toe_off": true, "hip_extension_at_toe_off": true}

// number says a number of the record with its error and what it is held against.
func (w *reportWords) number(e finding.Evidence) (string, *render.Ruler) {
	d, _ := measure.Lookup(e.Condition.Measure)
	unit := d.Unit
	low, high, usual, ok := aimOf(e)
	v, half := w.shown(e.Value, unit), w.shown(e.Error, unit)
	decimals := shownDecimals(half, unit)
	m, known := w.Measures[e.Condition.Measure]
	text, size := m.Plus, v
	if v < 0 && m.Minus != "" {
		text, size = m.Minus, -v
	}
	if !known {
		text = d.Title + ": {value}, {error}."
	}
	said := filled(text, "side", w.Sides[e.Side.String()], "value", w.amount(size, decimals, unit), "error", w.errorWords(half, decimals, unit))
	said = strings.ToUpper(said[:1]) + said[1:]
	if backward[e.Condition.Measure] {
		v, low, high = -v, -high, -low
	}
	r := &render.Ruler{Value: v, Error: half, Low: math.Inf(-1), High: math.Inf(1), You: filled(w.You, "value", w.short(v, decimals, unit))}
	if !ok {
		return said, r
	}
	low, high = w.shown(low, unit), w.shown(high, unit)
	// A limit is printed to the decimal that keeps it apart from the value.
	places := decimals
	for _, b := range []float64{low, high} {
		if !math.IsInf(b, 0) && places == 0 && math.Abs(b-math.Round(b)) > 0.05 && math.Abs(b-v) < 1 {
			places = 1
		}
	}
	r.Low, r.High = low, high
	line, aim := w.LineBetween, w.AimBetween
	switch {
	case math.IsInf(low, -1):
		line, aim = w.LineUpTo, w.AimUpTo
		if usual {
			line = w.UsualUpTo
		}
	case math.IsInf(high, 1):
		line, aim = w.LineFrom, w.AimFrom
		if usual {
			line = w.UsualFrom
		}
	case usual:
		line = w.UsualBetween
	}
	one := high
	if math.IsInf(high, 1) {
		one = low
	}
	said += " " + filled(line, "value", w.amount(one, places, unit), "low", w.figure(low, places), "high", w.amount(high, places, unit))
	r.Aim = filled(aim, "value", w.short(one, places, unit), "low", w.figure(low, places), "high", w.short(high, places, unit))
	return said, r
}

// behind says what tests speak for of a finding's causes.
func (w *reportWords) behind(x *finding.Finding) string {
	var causes, tests []string
	for _, p := range x.Parts {
		for _, c := range p.Causes {
			if c.State != finding.CauseSupported {
				continue
			}
			text, ok := w.Causes[p.Pattern.Name+"/"+c.Cause.Name]
			if !ok {
				text = c.Cause.Text
			}
			if !slices.Contains(causes, text) && len(causes) < 2 {
				causes = append(causes, text)
			}
			for _, e := range c.For {
				if t := w.Tests[e.Condition.Test]; t != "" && e.State == finding.Holds && !slices.Contains(tests, t) {
					tests = append(tests, t)
				}
			}
		}
	}
	if len(causes) == 0 {
		return ""
	}
	out := strings.Join(causes, " ")
	if len(tests) > 0 {
		out += " " + filled(w.TestsToo, "tests", w.listed(tests[:min(len(tests), 3)]))
	}
	return out
}

// nextSteps fills the second page.
func (w *reportWords) nextSteps(st *Studio, h *render.Handover, f *reasoned) {
	lib, _ := exercisesInUse()
	sheet := st.sheet(f, w.language)
	h.DoTitle, h.Left = w.DoTitle, w.LeftOut
	plan := sheet.Plan
	if plan.None == "" && len(plan.Weeks) > 0 {
		week := plan.Weeks[0]
		h.DoLead = []string{filled(w.Week, "date", w.day(plan.Start), "weeks", fmt.Sprint(len(plan.Weeks))) + " " + w.Learn}
		days := fmt.Sprint(len(plan.FullDays))
		in := func(items []programme.Item, like programme.Item) int {
			return slices.IndexFunc(items, func(x programme.Item) bool { return x.Exercise == like.Exercise && x.Side == like.Side })
		}
		add := func(title string, items []programme.Item, wanted func(programme.Item) bool) {
			g := render.ExerciseGroup{Title: title}
			for _, i := range items {
				if e := lib.Lookup(i.Exercise); e != nil && wanted(i) {
					dose := w.dose(i.Dose)
					if k := in(week.Full, i); k >= 0 && in(week.Warm, i) >= 0 {
						if other := w.dose(week.Full[k].Dose); other != dose {
							dose = filled(w.TwoDoses, "warm", dose, "full", other)
						}
					}
					g.Items = append(g.Items, w.card(e, i, dose))
				}
			}
			if len(g.Items) > 0 {
				h.Groups = append(h.Groups, g)
			}
		}
		add(filled(w.Both, "days", days), week.Warm, func(i programme.Item) bool { return in(week.Full, i) >= 0 })
		add(w.Warm, week.Warm, func(i programme.Item) bool { return in(week.Full, i) < 0 })
		add(filled(w.Full, "days", days), week.Full, func(i programme.Item) bool { return in(week.Warm, i) < 0 })
		add(w.Running, week.Running, func(programme.Item) bool { return true })
	}
	if len(h.Groups) == 0 {
		h.DoLead = []string{w.NoPlan}
	}
	if f.steprate != nil {
		if page := f.pageStepRate(); len(page.Weeks) > 0 && page.Base != nil {
			k := page.Weeks[0]
			for _, x := range page.Weeks { // what is asked of the week of the plan
				if len(plan.Weeks) > 0 && x.From <= plan.Start.Format(dayForm) {
					k = x
				}
			}
			minutes := filled(w.RateWhole, "run", w.figure(k.RunMin, 0))
			if k.OffMin > 0 {
				minutes = filled(w.RateParts, "on", w.figure(k.OnMin, 0), "off", w.figure(k.OffMin, 0), "run", w.figure(k.RunMin, 0))
			}
			lines := []string{filled(w.Rate, "base", w.figure(page.Base.PerMin, 0), "to", w.figure(k.PerMin, 0), "minutes", minutes)}
			goal := page.Weeks[0]
			for _, x := range page.Weeks {
				if x.PerMin > goal.PerMin {
					goal = x
				}
			}
			lines = append(lines, filled(w.RateGoal, "goal", w.figure(goal.PerMin, 0), "week", fmt.Sprint(goal.Number)))
			h.Notes = append(h.Notes, render.NoteBox{Title: w.RateTitle, Lines: lines})
		}
	}
	when := []string{w.WhenNone}
	if plan.None == "" && len(plan.Weeks) > 0 {
		when = []string{filled(w.When, "date", w.day(plan.Retest))}
	}
	h.Notes = append(h.Notes, render.NoteBox{Title: w.WhenTitle, Lines: append(when, w.WhenEarly, w.Change)})
	pain := slices.Clone(w.Pain)
	worst := 0
	if f.intake != nil {
		for _, p := range f.intake.Pain {
			worst = max(worst, p.Score)
		}
	}
	if worst > 0 {
		pain = append([]string{filled(w.PainNow, "score", fmt.Sprint(worst))}, pain...)
	}
	h.Notes = append(h.Notes, render.NoteBox{Title: w.PainTitle, Lines: pain})
	h.Care = render.NoteBox{Title: w.CareTitle, Lines: w.Care, Warn: true}
}

// card is an exercise with its dose and cue.
func (w *reportWords) card(e *programme.Exercise, i programme.Item, dose string) render.ExerciseCard {
	said := e.In(w.language) // the same words as on the page and on the homework
	if e.Each {
		dose = capital(w.Side[cmp.Or(i.Side.String(), "both")]) + ": " + dose
	}
	c := render.ExerciseCard{Title: said.Title, Cue: said.Cue, Dose: dose}
	drawn := func(p figure.Pose) figure.Drawing {
		d, err := p.Draw()
		if err != nil {
			return figure.Drawing{}
		}
		if e.Each && i.Side != body.NoSide && i.Side != p.NearSide() {
			d = d.Mirrored()
		}
		return d
	}
	c.Start, c.End = drawn(e.Start), drawn(e.End)
	return c
}

// refer fills both pages where a warning sign stops the visit: nothing is to be
// done but to see a doctor, and the second page is for that doctor.
func (w *reportWords) refer(h *render.Handover, f *reasoned) {
	r := f.intake.refer()
	h.Lead = []string{w.ReferLead}
	h.SawTitle = w.ReferTitle
	do := w.ReferSoon
	var signs []string
	for _, s := range r.Signs {
		if f.intake.Cleared.covers(s.ID) {
			continue
		}
		if s.Act == "emergency" {
			do = w.ReferEmergency
		}
		text := strings.TrimSuffix(s.Question, "?")
		if t := w.Signs[s.ID]; t != "" {
			text = t
		}
		signs = append(signs, text+".")
	}
	told := render.Sight{Title: w.ReferSigns}
	for _, s := range signs {
		told.Paragraphs = append(told.Paragraphs, render.Said{Text: s})
	}
	told.Paragraphs = append(told.Paragraphs, render.Said{Text: w.ReferNoName})
	h.Saw = []render.Sight{{Title: w.ReferDo, Paragraphs: []render.Said{{Text: do}, {Text: w.ReferBack}}}, told}
	h.DoTitle = w.ReferPage
	h.DoLead = []string{w.ReferPageLead}
	h.Notes = append(h.Notes, render.NoteBox{Title: w.ReferTold, Lines: signs})
	pains := []string{w.ReferNoPain}
	if len(f.intake.Pain) > 0 {
		pains = nil
		form := theForm()
		for _, p := range f.intake.Pain {
			region, _ := form.region(p.Region)
			line := fmt.Sprintf("%s: %d / 10", w.place(p, region), p.Score)
			for _, more := range []string{w.answer(p.Since), w.answer(p.When), p.Note} {
				if more != "" {
					line += "; " + more
				}
			}
			pains = append(pains, line)
		}
	}
	h.Notes = append(h.Notes, render.NoteBox{Title: w.ReferPain, Lines: pains})
	if c := strings.TrimSpace(f.intake.Complaint); c != "" {
		h.Notes = append(h.Notes, render.NoteBox{Title: w.ReferComplaint, Lines: []string{c}})
	}
	if t := f.intake.Training; t.KMPerWeek != nil && t.RunsPerWeek != nil {
		h.Notes = append(h.Notes, render.NoteBox{Title: w.ReferTraining, Lines: []string{filled(w.Training, "km", w.figure(*t.KMPerWeek, 0), "miles", w.figure(1000/metresPerMile**t.KMPerWeek, 0), "runs", w.figure(*t.RunsPerWeek, 0))}})
	}
	h.Care = render.NoteBox{Title: w.CareTitle, Lines: []string{w.ReferReply, w.Care[len(w.Care)-1]}, Warn: true}
}

// visitNamed is a visit's ID, or that of the visit of a kept result.
func (st *Studio) visitNamed(ctx context.Context, name string) (string, error) {
	if _, err := st.Visit(ctx, name); err == nil {
		return name, nil
	}
	s, err := st.Load(name)
	if err != nil {
		return "", &Problem{Kind: KindUsage, What: fmt.Sprintf("%q is neither a visit nor a kept result", clean(name, 60)), Mend: "Take the name from the page's address, or from the list of results.", Err: err}
	}
	if s.VisitID == "" {
		return "", &Problem{Kind: KindUsage, What: "this result belongs to no visit, so there is no report of one", Mend: "`measure --report` draws the page of a result."}
	}
	return s.VisitID, nil
}
