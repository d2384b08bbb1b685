package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
	"gaitwright/internal/render"
)

// clinicianReport is the report for a clinician or another coach: everything with
// its error, source and range.
func (st *Studio) clinicianReport(ctx context.Context, f *reasoned, ask ReportAsk, head render.Letterhead) (*render.Document, error) {
	head.Title = "Running gait report, in full"
	day := reportWordsBy[ask.Language]().day
	within := day // a sentence, where the point behind a German day would end it
	if ask.Language == "de" {
		within = func(t time.Time) string { return t.Format("2.1.2006") }
	}
	r := &render.Dossier{Paper: ask.paper(), Lang: ask.Language, Made: f.visit.Date, Letterhead: head, Runner: cmp.Or(f.runner.Name, "Runner (no name given)")}
	about := RunnerFacts{HeightM: f.runner.HeightM, LegLengthM: f.runner.LegLengthM, MassKG: f.runner.MassKG, Sex: f.runner.Sex}
	r.About = about.inWords()
	if ask.Units == "us" {
		r.About = about.inUSWords()
	}
	fact := func(label, value string) {
		r.Facts = append(r.Facts, render.Fact{Label: label, Value: strings.TrimSpace(value)})
	}
	fact("Visit", day(f.visit.Date))
	f.toldFacts(fact)
	var weeks []render.GridRow
	var grid *render.Grid
	stopped := f.intake.refer().stops()
	if stopped {
		part := render.Part{Title: "Referred", Blocks: []render.Block{{Warn: "A warning sign was told at intake and no clinician's clearance is noted. The visit was stopped; no exercise and no change of running is advised."}}}
		for _, s := range f.intake.refer().Signs {
			part.Blocks = append(part.Blocks, render.Block{List: []string{s.Question + " Yes. " + s.Why}}, render.Block{Small: s.Source})
		}
		r.Parts = append(r.Parts, part)
	}
	if !stopped {
		pictures, err := st.reportPictures(ctx, f, f.agreedFindings())
		if err != nil && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		r.Parts = append(r.Parts, f.findingsPart(pictures))
	}
	if f.session != nil {
		r.Foot = "gaitwright " + f.session.Version
		r.Parts = append(r.Parts, f.measuresPart(), f.curvesPart())
	}
	if f.tested() > 0 {
		r.Parts = append(r.Parts, f.examPart())
	}
	if !stopped && f.plan != nil {
		r.Parts = append(r.Parts, st.planPart(f, ask.Language, within, func(rows []render.GridRow, into *render.Grid) { weeks, grid = rows, into }))
	}
	r.Parts = append(r.Parts, f.methodPart(within))
	r.Day, r.Page = day(r.Made), "Page %d of %d"
	us := planUS(r)
	if ask.Language == "de" {
		inGerman(r, nil)
		if grid != nil {
			grid.Rows = weeks
		}
		r.Title, r.Page = "Laufanalyse, vollständiger Bericht", "Seite %d von %d"
	}
	if ask.Units == "us" {
		inUS(r, us, ask.Language)
	}
	return r.Document()
}

// toldFacts are the runner's own words.
func (f *reasoned) toldFacts(fact func(label, value string)) {
	p := f.intake
	if p == nil {
		return
	}
	fact("Complaint", p.Complaint)
	form := theForm()
	var pains []string
	for _, a := range p.Pain {
		region, _ := form.region(a.Region)
		s := fmt.Sprintf("%s %d of 10", a.inWords(region), a.Score)
		if more := strings.Join(slices.DeleteFunc([]string{a.Since, a.When, a.Note}, func(s string) bool { return s == "" }), ", "); more != "" {
			s += " (" + more + ")"
		}
		pains = append(pains, s)
	}
	if p.NoPain && len(pains) == 0 {
		pains = []string{"asked, nothing hurts now"}
	}
	fact("Pain", strings.Join(pains, "; "))
	fact("Goals", p.Goals)
	fact("History", p.History)
	fact("Shoes", p.Shoes)
	var t []string
	add := func(v *float64, format string) {
		if v != nil {
			t = append(t, fmt.Sprintf(format, *v))
		}
	}
	add(p.Training.KMPerWeek, "%.4g km a week")
	add(p.Training.RunsPerWeek, "%.3g runs a week")
	add(p.Training.LongestKM, "longest %.4g km")
	add(p.Training.Years, "%.3g years of running")
	if p.Training.RecentChange != "" {
		t = append(t, p.Training.RecentChange)
	}
	fact("Training", strings.Join(t, ", "))
	if c := p.Cleared; c != nil {
		fact("Clearance", fmt.Sprintf("%s, %s", c.By, c.Date))
	}
}

// findingsPart is what was found and decided, with evidence, rivals and what would
// overturn it.
func (f *reasoned) findingsPart(pictures map[string]*reportPicture) render.Part {
	p := render.Part{Title: "Findings"}
	add := func(b render.Block) { p.Blocks = append(p.Blocks, b) }
	state := func(name string) (string, string) {
		if f.findings == nil {
			return "", ""
		}
		d := f.findings.Decisions[name]
		return d.State, d.Reason
	}
	agreed := f.agreedFindings()
	if len(agreed) == 0 {
		add(render.Block{Text: "No finding was accepted by the coach."})
	}
	if f.report.None != "" {
		add(render.Block{Text: capital(f.report.None)})
	}
	for _, x := range f.report.Refer {
		where := cmp.Or(strings.ReplaceAll(x.Region, "_", " "), "the whole body")
		add(render.Block{Warn: "Refer, " + where + sideAfter(x.Side.String()) + ": " + strings.Join(x.Why, "; ") + ". No programme for it before a clinician has cleared it."})
	}
	for _, a := range agreed {
		if a.own != nil {
			add(render.Block{Head: a.own.Title + sideAfter(a.own.Side)})
			add(render.Block{Small: "The coach's own finding."})
			if a.own.Text != "" {
				add(render.Block{Text: a.own.Text})
			}
			continue
		}
		f.oneFinding(add, a.of, "Accepted by the coach", pictures[a.name])
	}
	for _, list := range [][]finding.Finding{f.report.Findings, f.report.Others} {
		for i := range list {
			x := &list[i]
			switch s, why := state(x.Name); s {
			case "accepted":
			case "rejected":
				add(render.Block{Head: x.Title + sidesAfter(x.Sides)})
				add(render.Block{Text: x.Text + " Rejected by the coach: " + why})
			default:
				f.oneFinding(add, x, "Not decided", nil)
			}
		}
	}
	if len(f.report.Blind) > 0 {
		add(render.Block{Small: "Not measured, or without a range: " + strings.Join(f.report.Blind, "; ") + "."})
	}
	return p
}

func (f *reasoned) oneFinding(add func(render.Block), x *finding.Finding, decided string, picture *reportPicture) {
	add(render.Block{Head: x.Title + sidesAfter(x.Sides)})
	add(render.Block{Small: fmt.Sprintf("%s; %s, %s: %s", decided, finding.Size(x.Size), x.Confidence, x.Confidence.Meaning())})
	add(render.Block{Text: x.Text})
	if picture != nil {
		if e, ok := f.mainEvidence(x); ok {
			add(render.Block{Frames: []render.KeyFrame{{Title: "A frame of the film", Image: picture.image, Focus: picture.focus, Label: e.Text}}})
		}
	}
	g := &render.Grid{Columns: []render.GridColumn{{Title: "Evidence", Share: 5}, {Title: "Beyond, in smallest real changes", Share: 1.4, End: true}, {Title: "Limit from", Share: 3.6}}}
	row := func(e finding.Evidence, kind string) {
		beyond := ""
		if e.Size > 0 {
			beyond = fmt.Sprintf("%.1f", e.Size)
		}
		text := e.Text
		if e.Flag != "" {
			text += " (" + e.Flag + ")"
		}
		g.Rows = append(g.Rows, render.GridRow{Cells: []string{kind + text, beyond, cmp.Or(e.Source, e.Condition.Tag)}})
	}
	var causes, rivals []string
	for _, part := range x.Parts {
		if len(x.Parts) > 1 {
			g.Rows = append(g.Rows, render.GridRow{Head: part.Pattern.Title + sideAfter(part.Side.String())})
		}
		for _, e := range part.Seen {
			row(e, "")
		}
		for _, e := range part.Also {
			row(e, "Also: ")
		}
		for _, e := range part.Unclear {
			row(e, "Unclear: ")
		}
		for _, c := range part.Causes {
			s := c.Cause.Text + " " + capital(string(c.State)) + "."
			for _, e := range c.For {
				s += " For: " + strings.TrimSuffix(e.Text, ".") + "."
			}
			for _, e := range c.Against {
				s += " Against: " + strings.TrimSuffix(e.Text, ".") + "."
			}
			causes = append(causes, s)
		}
		for _, v := range part.Pattern.Rivals {
			rivals = append(rivals, v.Text+" To settle it: "+v.Settle)
		}
	}
	for _, e := range x.Exam {
		row(e, "Exam: ")
	}
	if len(g.Rows) > 0 {
		add(render.Block{Table: g})
	}
	listed := func(title string, list []string) {
		if len(list) > 0 {
			add(render.Block{Small: title})
			add(render.Block{List: list})
		}
	}
	listed("Explanations", causes)
	listed("Rivals", rivals)
	listed("What would overturn it", x.Overturn)
	var points []string
	for _, n := range x.Contested {
		if c, ok := f.report.Points[n]; ok {
			points = append(points, c.Text+" ["+c.Source+"]")
		}
	}
	listed("What the literature disputes here", points)
}

// measuresPart is the whole table, with error, range and source.
func (f *reasoned) measuresPart() render.Part {
	p := render.Part{Title: "Measures"}
	g := &render.Grid{Columns: []render.GridColumn{{Title: "Measure", Share: 3.5}, {Title: "Side", Share: 0.8}, {Title: "Value", Share: 1.25, End: true}, {Title: "± SEM", Share: 1, End: true},
		{Title: "Real change from", Share: 1.1, End: true}, {Title: "n", Share: 0.55, End: true}, {Title: "Usual", Share: 1.6, End: true}, {Title: "Origin, caution", Share: 3.2}, {Title: "Source", Share: 0.75, End: true}}}
	table, notes := normsOrBuiltIn()
	var sources []string
	var withheld []string
	for _, c := range f.session.Clips {
		title := capital(viewInWords(c.Info.View))
		if v := c.Info.BeltSpeedMPS; v > 0 {
			title += fmt.Sprintf(", %.2f m/s", v)
		}
		g.Rows = append(g.Rows, render.GridRow{Head: title})
		at := f.session.conditions(c)
		for _, m := range c.Measures {
			d, _ := measure.Lookup(m.Name)
			if m.Withheld() && m.Text == "" {
				if !m.OtherView {
					withheld = append(withheld, fmt.Sprintf("%s%s (%s): %s", d.Title, sideAfter(m.Side.String()), small(title), m.Reason))
				}
				continue
			}
			usual, source := "", ""
			if rows := table.Lookup(m.Name, at); len(rows) > 0 && rows[0].Usable() && m.Text == "" {
				usual = rows[0].RangeText()
				s := rangeSource(rows[0])
				k := slices.Index(sources, s)
				if k < 0 {
					sources, k = append(sources, s), len(sources)
				}
				source = fmt.Sprint(k + 1)
			}
			value := m.Text
			if value == "" {
				value = d.FormatWithUnit(m.Value)
			}
			number := func(v float64) string {
				if math.IsNaN(v) {
					return "–"
				}
				return fmt.Sprintf("%.*f", max(1, d.Decimals), v)
			}
			side := m.Side.String()
			if !d.Sided {
				side = ""
			}
			origin := m.Origin
			if m.Flag != "" {
				origin += "; " + m.Flag
			}
			sem, mdc := number(m.SEM), number(m.MDC95)
			if m.Text != "" {
				sem, mdc = "", ""
			}
			g.Rows = append(g.Rows, render.GridRow{Cells: []string{d.Title, side, value, sem, mdc, fmt.Sprint(m.Strides), usual, origin, source}})
		}
	}
	p.Blocks = append(p.Blocks, render.Block{Table: g})
	p.Blocks = append(p.Blocks, render.Block{Small: "SEM: standard error of measurement with strides, origin, frame rate and scale. Real change from: 1.96·√2·SEM, the smallest change between two visits beyond error at 95 % (Weir 2005, J Strength Cond Res 19:231). n: strides or steps. A number outside the usual is not a fault."})
	if len(sources) > 0 {
		var list []string
		for i, s := range sources {
			list = append(list, fmt.Sprintf("%d: %s", i+1, s))
		}
		p.Blocks = append(p.Blocks, render.Block{Head: "Sources of the usual values"}, render.Block{List: list})
	}
	if len(withheld) > 0 {
		p.Blocks = append(p.Blocks, render.Block{Head: "Not given, and why"}, render.Block{List: withheld})
	}
	for _, n := range notes {
		p.Blocks = append(p.Blocks, render.Block{Warn: n})
	}
	return p
}

// curvesPart are the curves over the stride with the runner's own band.
func (f *reasoned) curvesPart() render.Part {
	p := render.Part{Title: "Curves over the stride"}
	var curves []measure.Curve
	of := map[string]*Clip{} // the clip that a curve is of
	for _, c := range f.session.Clips {
		for _, k := range c.Curves {
			if !hasCurve(curves, k) {
				curves = append(curves, k)
				if of[k.Name] == nil {
					of[k.Name] = c
				}
			}
		}
	}
	if len(curves) == 0 {
		p.Blocks = append(p.Blocks, render.Block{Text: "No curve could be made of this film."})
		return p
	}
	bands, fault := curveBands()
	references, bandSources := f.curveReferences(curves, of, bands)
	plots := render.CurvePlots(curves, references)
	table, _ := normsOrBuiltIn()
	var barSources []string
	for i := range plots {
		c := plots[i].Curves[0]
		bars, sources := f.curveBars(table, of[c.Name], plots[i].Curves)
		plots[i].Bars = bars
		for _, s := range sources {
			if !slices.Contains(barSources, s) {
				barSources = append(barSources, s)
			}
		}
	}
	legend := "0 % is initial contact. The line is the mean of the strides, its band one standard deviation from stride to stride; left solid, right dashed."
	if len(references) > 0 {
		legend += " The wide pale band without a line is where the curve of one more person like those measured would lie with 95 % probability at each moment: " + strings.Join(bandSources, "; ") + "."
	} else {
		legend += " No reference band is drawn: none is kept for these curves at this speed."
	}
	if len(barSources) > 0 {
		legend += " An upright bar is the usual range of a single value, drawn where this runner has it (contact, toe-off or the peak); an end without a stroke is open. From: " + strings.Join(barSources, "; ") + "."
	}
	p.Blocks = append(p.Blocks, render.Block{Small: legend}, render.Block{Plots: plots})
	if fault != "" {
		p.Blocks = append(p.Blocks, render.Block{Warn: fault})
	}
	return p
}

// curveReferences are the bands that are kept for the runner's curves, and whose
// they are.
func (f *reasoned) curveReferences(curves []measure.Curve, of map[string]*Clip, bands []norm.Band) (out []render.Reference, sources []string) {
	seen := map[string]bool{}
	for _, c := range curves {
		clip := of[c.Name]
		if seen[c.Name] || clip == nil {
			continue
		}
		seen[c.Name] = true
		b, ok := norm.BandOf(bands, c.Name, c.Unit, clip.Info.View, clip.Info.BeltSpeedMPS)
		if !ok {
			continue
		}
		r := render.Reference{Name: c.Name, Source: b.Source}
		r.Low, r.High = b.Ends()
		out = append(out, r)
		s := fmt.Sprintf("%s, %d people at %.2f to %.2f m/s; %s", b.Source, b.N, *b.SpeedMPS.Low, *b.SpeedMPS.High, b.Method)
		if !slices.Contains(sources, s) {
			sources = append(sources, s)
		}
	}
	return out, sources
}

// readOff are the measures that are read off a curve at one place of the stride.
var readOff = map[string][]struct{ measure, at string }{
	"knee_flexion":       {{"knee_flexion_at_contact", "contact"}, {"knee_flexion_peak_stance", "peak in stance"}, {"knee_flexion_at_toe_off", "toe-off"}, {"knee_flexion_peak_swing", "peak in swing"}},
	"ankle_dorsiflexion": {{"ankle_dorsiflexion_at_contact", "contact"}, {"ankle_dorsiflexion_peak", "peak in stance"}},
	"shank_angle":        {{"shank_angle_at_contact", "contact"}},
	"foot_angle":         {{"foot_angle_at_contact", "contact"}},
	"thigh_angle":        {{"thigh_angle_at_toe_off", "toe-off"}},
	"hip_adduction":      {{"hip_adduction", "peak in stance"}},
	"pelvic_obliquity":   {{"pelvic_drop", "peak in stance"}},
}

// curveBars are the usual ranges of single values on a plot of curves, each at the
// place of the stride where the runner has it.
func (f *reasoned) curveBars(table *norm.Table, c *Clip, curves []measure.Curve) (out []render.CurveBar, sources []string) {
	if c == nil {
		return nil, nil
	}
	at := f.session.conditions(c)
	for _, k := range readOff[curves[0].Name] {
		rows := table.Lookup(k.measure, at)
		d, ok := measure.Lookup(k.measure)
		if !ok || len(rows) == 0 || !rows[0].Usable() || d.Unit != curves[0].Unit {
			continue
		}
		place := 0.0
		for _, one := range curves {
			place += placeOf(one, k.at) / float64(len(curves))
		}
		if math.IsNaN(place) {
			continue
		}
		low, high := rows[0].Range()
		out = append(out, render.CurveBar{At: place, Low: low, High: high})
		if s := rangeSource(rows[0]); !slices.Contains(sources, s) {
			sources = append(sources, s)
		}
	}
	return out, sources
}

// placeOf is where in the stride a curve has what is asked, in percent; NaN where it
// cannot be told.
func placeOf(c measure.Curve, what string) float64 {
	from, to := 0, 100
	switch what {
	case "contact":
		return 0
	case "toe-off":
		if !(c.ToeOff > 0 && c.ToeOff < 100) {
			return math.NaN()
		}
		return c.ToeOff
	case "peak in stance":
		to = int(c.ToeOff)
	case "peak in swing":
		from = int(math.Ceil(c.ToeOff))
	}
	if !(c.ToeOff > 0 && c.ToeOff < 100) {
		return math.NaN()
	}
	best := from
	for i := from; i <= to; i++ {
		if c.Mean[i] > c.Mean[best] || math.IsNaN(c.Mean[best]) {
			best = i
		}
	}
	return float64(best)
}

// examPart is the scored exam.
func (f *reasoned) examPart() render.Part {
	p := render.Part{Title: "Exam"}
	x := examReport(f.exam.Sheet(), f.runner.MassKG, f.runner.Sex)
	g := &render.Grid{Columns: []render.GridColumn{{Title: "Test", Share: 3.4}, {Title: "Side", Share: 0.8}, {Title: "Value", Share: 1.5, End: true}, {Title: "Real change from", Share: 1.1, End: true},
		{Title: "Trials", Share: 0.7, End: true}, {Title: "Usual", Share: 1.5, End: true}, {Title: "Verdict, felt, caution", Share: 2.8}, {Title: "Source", Share: 0.8, End: true}}}
	title := func(name string) string {
		for _, t := range testsNext([]string{name}) {
			return t.Title
		}
		return name
	}
	var sources []string
	for _, r := range x.Readings {
		value, usual, source := cmp.Or(r.Reason, "–"), "", ""
		if r.Value != nil {
			value = fmt.Sprintf("%.4g %s", *r.Value, r.Unit)
		}
		if k := r.Range; k != nil {
			switch {
			case k.Low != nil && k.High != nil:
				usual = fmt.Sprintf("%.3g to %.3g", *k.Low, *k.High)
			case k.Low != nil:
				usual = fmt.Sprintf("from %.3g", *k.Low)
			case k.High != nil:
				usual = fmt.Sprintf("up to %.3g", *k.High)
			}
			s := k.Source
			if k.Tag != "" && !strings.Contains(s, k.Tag) {
				s += " [" + k.Tag + "]"
			}
			n := slices.Index(sources, s)
			if n < 0 {
				sources, n = append(sources, s), len(sources)
			}
			source = fmt.Sprint(n + 1)
		}
		mdc := "–"
		if r.MDC95 != nil {
			mdc = fmt.Sprintf("%.2g", *r.MDC95)
		}
		var said []string
		if r.Verdict != "" {
			said = append(said, r.Verdict)
		}
		if r.Felt != "" {
			said = append(said, "felt in the "+r.Felt)
		}
		if r.Pain > 0 {
			said = append(said, fmt.Sprintf("pain %d of 10", r.Pain))
		}
		said = append(said, r.Cautions...)
		side, name := r.Side, title(r.Test)
		if side == "both" {
			side = ""
		}
		if r.Stage != "" {
			name += " (" + r.Stage + " release)"
		}
		g.Rows = append(g.Rows, render.GridRow{Cells: []string{name, side, value, mdc, fmt.Sprintf("%d of %d", r.Valid, r.Trials), usual, strings.Join(said, "; "), source}})
	}
	p.Blocks = append(p.Blocks, render.Block{Table: g})
	var pairs []string
	for _, k := range x.Pairs {
		if k.Text != "" {
			pairs = append(pairs, title(k.Test)+": "+k.Text)
		}
	}
	if len(pairs) > 0 {
		p.Blocks = append(p.Blocks, render.Block{Head: "Left and right"}, render.Block{List: pairs})
	}
	if len(sources) > 0 {
		var list []string
		for i, s := range sources {
			list = append(list, fmt.Sprintf("%d: %s", i+1, s))
		}
		p.Blocks = append(p.Blocks, render.Block{Head: "Sources of the usual values of tests"}, render.Block{List: list})
	}
	return p
}

// planPart is the programme, week by week.
//
// Its rows are in the language, its other words in English; keep is told of them.
func (st *Studio) planPart(f *reasoned, language string, day func(time.Time) string, keep func([]render.GridRow, *render.Grid)) render.Part {
	w := reportWordsBy[language]()
	lib, _ := exercisesInUse()
	plan := st.sheet(f, "en").Plan
	p := render.Part{Title: "Programme"}
	if plan.None != "" {
		p.Blocks = append(p.Blocks, render.Block{Text: plan.None})
		return p
	}
	p.Blocks = append(p.Blocks, render.Block{Text: fmt.Sprintf("%s from %s; re-test on %s.", plural(len(plan.Weeks), "week", "weeks"), day(plan.Start), day(plan.Retest))})
	if plan.NoRun != "" {
		p.Blocks = append(p.Blocks, render.Block{Warn: plan.NoRun})
	}
	g := &render.Grid{Columns: []render.GridColumn{{Title: "Week", Share: 0.5}, {Title: "Before each run", Share: 3}, {Title: "Full session", Share: 3.6}, {Title: "While running", Share: 2}}}
	for _, k := range plan.Weeks {
		list := func(items []programme.Item) string {
			var out []string
			for _, i := range items {
				e := lib.Lookup(i.Exercise)
				if e == nil {
					continue
				}
				side, dose := sideAfter(i.Side.String()), DoseText(i.Dose)
				if language == "de" {
					e, side, dose = e.In("de"), clinicianGerman().Say(side), w.dose(i.Dose)
				}
				out = append(out, e.Title+side+" "+dose)
			}
			return strings.Join(out, "; ")
		}
		g.Rows = append(g.Rows, render.GridRow{Cells: []string{fmt.Sprint(k.Number), list(k.Warm), list(k.Full), list(k.Running)}})
	}
	keep(g.Rows, g)
	if language == "de" {
		g.Rows = nil
	}
	p.Blocks = append(p.Blocks, render.Block{Table: g})
	for _, u := range plan.Unmet {
		p.Blocks = append(p.Blocks, render.Block{Small: "No exercise fits for " + u.What + ": " + u.Why + "."})
	}
	return p
}

// methodPart says how it was measured and what it cannot say.
func (f *reasoned) methodPart(day func(time.Time) string) render.Part {
	p := render.Part{Title: "Method and equipment"}
	if s := f.session; s != nil {
		g := &render.Grid{Columns: []render.GridColumn{{Title: "Film", Share: 2}, {Title: "Camera", Share: 2.4}, {Title: "Speed", Share: 2}, {Title: "How it was measured", Share: 4.6}}}
		for _, c := range s.Clips {
			speed := "not known"
			if v := c.Info.BeltSpeedMPS; v > 0 {
				speed = fmt.Sprintf("%.2f m/s; %s", v, c.Info.BeltSpeedSource)
			}
			camera := "marker file"
			if c.IsVideo() {
				camera = fmt.Sprintf("%d × %d, %.4g frames a second", c.Info.WidthPX, c.Info.HeightPX, c.Info.FrameRateHz)
			}
			g.Rows = append(g.Rows, render.GridRow{Cells: []string{capital(viewInWords(c.Info.View)) + ", " + c.Info.Surface.String(), camera, strings.TrimSuffix(speed, "; "), c.howMeasured()}})
		}
		p.Blocks = append(p.Blocks, render.Block{Table: g})
		var warn []string
		for _, c := range s.Clips {
			for _, w := range c.Warnings {
				if !slices.Contains(warn, w) {
					warn = append(warn, w)
				}
			}
		}
		for _, w := range warn {
			p.Blocks = append(p.Blocks, render.Block{Warn: w})
		}
		p.Blocks = append(p.Blocks, render.Block{Text: "Measured with gaitwright " + s.Version + " on " + day(s.Created) + "."})
		if f.stale(f.results[0]) {
			p.Blocks = append(p.Blocks, render.Block{Warn: "What is said of the films was changed after this measurement; measure again before relying on it."})
		}
	} else {
		p.Blocks = append(p.Blocks, render.Block{Text: "No film was measured at this visit."})
	}
	table := norm.BuiltIn()
	p.Blocks = append(p.Blocks, render.Block{Small: "Usual values: " + table.Name + ". Rules of the findings: " + cmp.Or(strings.TrimSpace(f.note), "those built in") + "."},
		render.Block{Head: "What this report cannot say"},
		render.Block{Text: "It describes how a runner moved in these films and what was tested by hand. It is no diagnosis. A finding is a reason to look, not a cause of pain; what a film shows rarely foretells an injury. Where a clinician says otherwise, that counts, and local rules decide what a coach may assess and advise."})
	return p
}
