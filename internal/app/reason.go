package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
	"gaitwright/internal/store"
)

// Observed gathers what the clips of a session show, each measure with its
// reference range for the clip's speed and the runner.
func (s *Session) Observed(table *norm.Table) []finding.Observed {
	var out []finding.Observed
	for n, c := range s.Clips {
		at := s.conditions(c)
		for _, m := range c.Measures {
			if m.Text != "" {
				continue
			}
			o := finding.Observed{Measure: m, Low: math.NaN(), High: math.NaN(), Clip: n}
			if rows := table.Lookup(m.Name, at); len(rows) > 0 && rows[0].Usable() {
				k := norm.Compare(m, rows[0])
				o.Low, o.High, o.RangeSource = k.Low, k.High, rangeSource(rows[0])
			}
			out = append(out, o)
		}
	}
	return out
}

// ReadExam reads a table of trials (see exam.ReadTable) from a file.
func ReadExam(file string) (exam.Sheet, error) {
	f, err := os.Open(file)
	if err != nil {
		return exam.Sheet{}, &Problem{Kind: KindUsage, File: file, What: "the exam cannot be read: " + err.Error(), Mend: "Check the name and the folder.", Err: err}
	}
	defer f.Close()
	sheet, err := exam.ReadTable(f)
	if err != nil {
		return sheet, &Problem{Kind: KindUsage, File: file, What: err.Error(), Mend: "The columns are " + strings.Join(exam.Columns(), ", ") + ".", Err: err}
	}
	return sheet, nil
}

// Reasons finds what matters in a session and an exam; sheet may be empty and
// the session nil.
func Reasons(s *Session, sheet exam.Sheet, pains []finding.Pain, stops []finding.Stop) (exam.Report, finding.Report) {
	rules, _ := rulesInUse()
	return reasonsBy(rules, s, sheet, finding.Input{Pains: pains, Stops: stops})
}

// reasonsBy adds the measures of a session and a scored exam to what was told.
func reasonsBy(rules *finding.Rules, s *Session, sheet exam.Sheet, in finding.Input) (exam.Report, finding.Report) {
	var runner RunnerFacts
	if s != nil {
		runner = s.Runner
		table, _ := normsOrBuiltIn()
		in.Measures = s.Observed(table)
	}
	in.Exam = exam.Score(sheet, exam.Body{MassKG: runner.MassKG, Sex: runner.Sex})
	return in.Exam, finding.Reason(rules, in)
}

// PlanFor makes the programme of a report's findings.
func PlanFor(r finding.Report, pains []finding.Pain, ask programme.Input) programme.Plan {
	for _, f := range r.Findings {
		ask.Aims, ask.Spared = append(ask.Aims, f.Aims...), append(ask.Spared, f.Spared...)
	}
	ask.Refer, ask.Pains = r.Refer, pains
	if ask.Start.IsZero() {
		ask.Start = time.Now()
	}
	lib, _ := exercisesInUse()
	return programme.Make(lib, ask)
}

// ExamText prints a scored exam as a table for the terminal.
func ExamText(r exam.Report) string {
	var b strings.Builder
	for _, x := range r.Readings {
		name := x.Test.Title
		if x.Side.String() != "" && x.Test.HasSides() {
			name += ", " + x.Side.String()
		}
		if x.Stage != "" {
			name += " (" + x.Stage + " release)"
		}
		if !x.HasValue() {
			fmt.Fprintf(&b, "%-52s %s\n", name, x.Reason)
			continue
		}
		said := string(x.Verdict)
		if x.Range == nil {
			said = "no reference"
		}
		fmt.Fprintf(&b, "%-52s %8.4g %-11s a change counts from %.2g; %s", name, x.Value, x.Test.Unit, x.MDC95, said)
		if !math.IsNaN(x.ForcePerMass) {
			fmt.Fprintf(&b, "; force %.0f %% of body mass", x.ForcePerMass)
		}
		if x.Felt != "" {
			fmt.Fprintf(&b, "; felt in the %s", x.Felt)
		}
		for _, c := range x.Cautions {
			fmt.Fprintf(&b, "; %s", c)
		}
		b.WriteString("\n")
	}
	for _, p := range r.Pairs {
		if math.IsNaN(p.Difference) {
			continue
		}
		fmt.Fprintf(&b, "%-52s left − right %.3g %s (error %.2g)", p.Test.Title+", sides", p.Difference, p.Test.Unit, p.Margin)
		if !math.IsNaN(p.RatioPercent) {
			fmt.Fprintf(&b, ", weaker is %.0f %% of stronger", p.RatioPercent)
		}
		if p.Weaker.String() != "" && p.Weaker != 0 {
			fmt.Fprintf(&b, ": %s is the poorer side beyond error", p.Weaker)
		} else {
			b.WriteString(": within error")
		}
		b.WriteString("\n")
	}
	points, _ := rulesInUse()
	touched := map[int]bool{}
	for _, x := range r.Readings {
		c, ok := points.Contested[x.Test.Contested]
		if !ok || touched[x.Test.Contested] {
			continue
		}
		if len(touched) == 0 {
			b.WriteString("\nWhat the literature disputes here:\n")
		}
		touched[x.Test.Contested] = true
		fmt.Fprintf(&b, "  %s [%s]\n", c.Text, c.Source)
	}
	return b.String()
}

// FindingsText prints findings with their reasons for the terminal.
func FindingsText(r finding.Report) string {
	var b strings.Builder
	for _, x := range r.Refer {
		where := x.Region
		if where == "" {
			where = "the whole body"
		}
		fmt.Fprintf(&b, "REFER, DO NOT COACH (%s%s): %s. No programme before a clinician has cleared it.\n\n", strings.ReplaceAll(where, "_", " "), sideAfter(x.Side.String()), strings.Join(x.Why, "; "))
	}
	if r.None != "" {
		fmt.Fprintf(&b, "No finding: %s.\n", r.None)
	}
	list := func(f finding.Finding, n int) {
		fmt.Fprintf(&b, "%d. %s", n, f.Title)
		b.WriteString(sidesAfter(f.Sides))
		fmt.Fprintf(&b, "  [%s, %s: %s]\n   %s\n", finding.Size(f.Size), f.Confidence, f.Confidence.Meaning(), f.Text)
		for _, p := range f.Parts {
			for _, e := range p.Seen {
				fmt.Fprintf(&b, "   seen     %s [limit: %s]\n", e.Text, e.Source)
			}
			for _, e := range p.Also {
				fmt.Fprintf(&b, "   and      %s\n", e.Text)
			}
			for _, c := range p.Causes {
				fmt.Fprintf(&b, "   cause    %s %s\n", c.Cause.Text, "("+string(c.State)+")")
				for _, e := range c.For {
					fmt.Fprintf(&b, "     for     %s\n", e.Text)
				}
				for _, e := range c.OtherSide {
					fmt.Fprintf(&b, "     both    %s\n", e.Text)
				}
				for _, e := range c.Against {
					fmt.Fprintf(&b, "     against %s\n", e.Text)
				}
			}
			for _, v := range p.Pattern.Rivals {
				fmt.Fprintf(&b, "   or       %s To tell: %s\n", v.Text, v.Settle)
			}
		}
		for _, e := range f.Exam {
			fmt.Fprintf(&b, "   exam     %s\n", e.Text)
		}
		for _, o := range f.Overturn {
			fmt.Fprintf(&b, "   undone by %s\n", o)
		}
		if len(f.TestNext) > 0 {
			var titles []string
			for _, name := range f.TestNext {
				if t, ok := exam.Lookup(name); ok {
					titles = append(titles, t.Title)
				}
			}
			fmt.Fprintf(&b, "   test next %s\n", strings.Join(titles, ", "))
		}
		for _, k := range f.Contested {
			c := r.Points[k]
			fmt.Fprintf(&b, "   disputed %s [%s]\n", c.Text, c.Source)
		}
		b.WriteString("\n")
	}
	for i, f := range r.Findings {
		list(f, i+1)
	}
	if len(r.Loose) > 0 {
		b.WriteString("The exam shows, and no finding rests on it:\n")
		for _, e := range r.Loose {
			fmt.Fprintf(&b, "   %s\n", e.Text)
		}
	}
	if len(r.Others) > 0 {
		b.WriteString("Also seen, and left for later:\n")
		for _, f := range r.Others {
			fmt.Fprintf(&b, "   %s%s (%s)\n", f.Title, sidesAfter(f.Sides), finding.Size(f.Size))
		}
	}
	return b.String()
}

func sidesAfter(sides []body.Side) string {
	var names []string
	for _, s := range sides {
		names = append(names, s.String())
	}
	return sideAfter(strings.Join(names, " and "))
}

func sideAfter(side string) string {
	if side == "" || side == "both" {
		return ""
	}
	return ", " + side
}

// PlanText prints a programme for the terminal.
func PlanText(p programme.Plan) string {
	var b strings.Builder
	if p.None != "" {
		return p.None + "\n"
	}
	lib, _ := exercisesInUse()
	list := func(what string, items []programme.Item) {
		if len(items) == 0 {
			return
		}
		fmt.Fprintf(&b, "  %s, %.0f min\n", what, math.Ceil(float64(programme.TimeS(lib, items))/60))
		for _, i := range items {
			e := lib.Lookup(i.Exercise)
			fmt.Fprintf(&b, "    %-10s %s%s: %s\n", e.Block, e.Title, sideAfter(i.Side.String()), DoseText(i.Dose))
		}
	}
	if p.NoRun != "" {
		fmt.Fprintf(&b, "%s\n", p.NoRun)
	}
	if p.Short != "" {
		fmt.Fprintf(&b, "%s\n", p.Short)
	}
	for _, w := range p.Weeks {
		fmt.Fprintf(&b, "Week %d. %s\n", w.Number, w.Note)
		list("before each run", w.Warm)
		list(fmt.Sprintf("full session, %d days", len(p.FullDays)), w.Full)
		for _, i := range w.Running {
			fmt.Fprintf(&b, "  while running: %s, %s, on %s\n", lib.Lookup(i.Exercise).Title, DoseText(i.Dose), plural(i.Dose.PerWeek, "run a week", "runs a week"))
		}
	}
	for _, u := range p.Unmet {
		fmt.Fprintf(&b, "No exercise fits for %s: %s.\n", u.What, u.Why)
	}
	fmt.Fprintf(&b, "Re-test on %s.\n\nWhy each exercise:\n", p.Retest.Format("2 January 2006"))
	told := map[string]bool{}
	for _, w := range p.Weeks {
		for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
			e := lib.Lookup(i.Exercise)
			if told[e.Name] {
				continue
			}
			told[e.Name] = true
			fmt.Fprintf(&b, "  %s: %s.", e.Title, strings.TrimSuffix(small(i.Of), "."))
			if i.Side == body.NoSide && i.Why != "" {
				fmt.Fprintf(&b, " Both sides: %s.", i.Why)
			}
			fmt.Fprintf(&b, " Felt in %s. %s [%s]\n", strings.TrimSuffix(e.Felt, "."), e.Evidence, e.Tag)
		}
	}
	b.WriteString("\nWhen to go on, and when to step back:\n")
	for _, r := range programme.ProgressRules() {
		fmt.Fprintf(&b, "  %s: %s [%s]\n", r.If, r.Then, r.Source)
	}
	b.WriteString("\nWhat the literature disputes here:\n")
	points, _ := rulesInUse()
	for _, k := range p.Disputed(lib) {
		if c, ok := points.Contested[k]; ok {
			fmt.Fprintf(&b, "  %s [%s]\n", c.Text, c.Source)
		}
	}
	b.WriteString("\nStop when:\n")
	for _, s := range programme.StopSigns {
		fmt.Fprintf(&b, "  %s\n", s)
	}
	b.WriteString("This is no diagnosis and no substitute for medical care. Where a clinician says otherwise, that counts.\n")
	return b.String()
}

// DoseText says a dose in words.
func DoseText(d programme.Dose) string {
	s := fmt.Sprintf("%d × %d", d.Sets, d.Reps)
	if d.Seconds > 0 {
		s = fmt.Sprintf("%d × %d s", d.Sets, d.Seconds)
	}
	if d.HoldS > 0 {
		s += fmt.Sprintf(", hold %d s", d.HoldS)
	}
	if d.Pace != "" {
		s += ", pace " + d.Pace
	}
	if d.RestS > 0 && d.Sets > 1 {
		s += fmt.Sprintf(", rest %d s", d.RestS)
	}
	return s
}

// ExamTests lists the tests of an exam with their units.
func ExamTests() string {
	var b strings.Builder
	kind := exam.Kind("")
	for _, t := range exam.Catalogue() {
		if t.Kind != kind {
			kind = t.Kind
			fmt.Fprintf(&b, "\n%s\n", strings.ToUpper(string(kind)[:1])+string(kind)[1:])
		}
		entry := t.Unit
		if t.Kind == exam.Strength {
			entry = "force and lever arm"
		}
		sides := "left and right"
		if !t.HasSides() {
			sides = "once"
		}
		fmt.Fprintf(&b, "  %-32s %-20s %-15s %s\n", t.Name, entry, sides, t.Title)
	}
	fmt.Fprintf(&b, "\nColumns of the table: %s\n", strings.Join(exam.Columns(), ", "))
	return strings.TrimPrefix(b.String(), "\n")
}

// ScoreExam reads and scores a table of trials; asJSON gives what the page gets of
// it, and else it is a table for the terminal.
func ScoreExam(file string, massKG float64, sex string, asJSON bool) (string, error) {
	if massKG != 0 && !(massKG >= 15 && massKG <= 300) {
		return "", problem(KindUsage, "", "Give kilograms.", "a mass of %.4g kg cannot be right", massKG)
	}
	sheet, err := ReadExam(file)
	if err != nil {
		return "", err
	}
	if asJSON {
		b, err := json.MarshalIndent(examReport(sheet, massKG, sex), "", "  ")
		return string(b) + "\n", err
	}
	return ExamText(exam.Score(sheet, exam.Body{MassKG: massKG, Sex: sex})), nil
}

// PlanAsked is what a programme has to fit.
type PlanAsked = programme.Input

// ReasonAsked is what findings are asked of.
type ReasonAsked struct {
	Result string // its name; "last" is the newest
	// Exam and Rules are files; empty for the exam of the result's visit and the
	// rules in use.
	Exam, Rules string
	// Pains are told as region:side:score, Signs (warning signs that were met) as
	// their name, with :region:side behind it where it asks for a place. They are
	// added to those of the visit's intake.
	Pains, Signs []string
	Plan         PlanAsked
}

// FindingsOf reasons on a kept result and makes the programme that follows.
func (st *Studio) FindingsOf(ctx context.Context, ask ReasonAsked) (findings, plan string, err error) {
	for _, have := range ask.Plan.Equipment {
		if !slices.Contains(programme.Equipment, have) {
			return "", "", problem(KindUsage, "", "Known are "+strings.Join(programme.Equipment, ", ")+".", "%q is not known", have)
		}
	}
	if ask.Plan.FullMin < 5 || ask.Plan.FullMin > 90 || ask.Plan.FullDays < 1 || ask.Plan.FullDays > 7 || ask.Plan.Weeks < 1 || ask.Plan.Weeks > 26 {
		return "", "", problem(KindUsage, "", "", "5 to 90 minutes, 1 to 7 days a week, 1 to 26 weeks")
	}
	told, err := toldIntake(ask.Pains, ask.Signs)
	if err != nil {
		return "", "", err
	}
	if ask.Result == "last" {
		ids, err := st.IDs()
		if err != nil {
			return "", "", err
		}
		if len(ids) == 0 {
			return "", "", problem(KindUsage, "", "Measure a film first.", "there is no kept result")
		}
		ask.Result = ids[0]
	}
	s, err := st.Load(ask.Result)
	if err != nil {
		return "", "", err
	}
	var f visitRecords
	err = st.readRecords(ctx, func(r store.Reader) error {
		kept, err := r.Result(ask.Result)
		if errors.Is(err, store.ErrNotFound) || err == nil && kept.VisitID == "" {
			return nil // measured without a visit
		}
		if err != nil {
			return err
		}
		f, _, err = openVisit(r, kept.VisitID)
		return err
	})
	if err != nil {
		return "", "", err
	}
	var sheet exam.Sheet
	switch {
	case ask.Exam != "":
		if sheet, err = ReadExam(ask.Exam); err != nil {
			return "", "", err
		}
	case f.exam != nil:
		sheet = f.exam.Sheet()
	}
	rules, note := rulesInUse()
	if ask.Rules != "" {
		note = ""
		if rules, err = rulesFrom(ask.Rules); err != nil {
			return "", "", err
		}
	}
	if note != "" {
		note += "\n"
	}
	in := f.intake.told()
	in.Pains, in.Stops = append(in.Pains, told.findingPains()...), append(in.Stops, told.findingStops()...)
	_, report := reasonsBy(rules, s, sheet, in)
	return note + FindingsText(report), PlanText(PlanFor(report, in.Pains, ask.Plan)), nil
}

// toldIntake reads pains (region:side:score) and warning signs (name, or
// name:region:side) as the intake has them.
func toldIntake(pains, signs []string) (*PageIntake, error) {
	p := &PageIntake{Signs: map[string]string{}, Places: map[string]PageSignPlace{}}
	form := theForm()
	place := func(text, id, side string) (PageSignPlace, error) {
		r, ok := form.region(id)
		if !ok {
			var known []string
			for _, r := range form.Regions {
				known = append(known, r.ID)
			}
			return PageSignPlace{}, problem(KindUsage, "", "Known are "+strings.Join(known, ", ")+".", "%q: there is no region %q", clean(text, 60), clean(id, 30))
		}
		if !r.Sided {
			side = "middle"
		}
		if r.Sided && side != "left" && side != "right" {
			return PageSignPlace{}, problem(KindUsage, "", "", "%q: the side of the %s is left or right", clean(text, 60), strings.ReplaceAll(id, "_", " "))
		}
		return PageSignPlace{id, side}, nil
	}
	for _, text := range pains {
		parts := strings.Split(text, ":")
		score, err := strconv.Atoi(parts[len(parts)-1])
		if len(parts) != 3 || err != nil || score < 0 || score > 10 {
			return nil, problem(KindUsage, "", "", "%q: a pain is told as region:side:score, such as knee_front:right:4; the score is 0 to 10", clean(text, 60))
		}
		at, err := place(text, parts[0], parts[1])
		if err != nil {
			return nil, err
		}
		p.Pain = append(p.Pain, PagePain{Region: at.Region, Side: at.Side, Score: score})
	}
	for _, text := range signs {
		parts := strings.Split(text, ":")
		s, ok := form.sign(parts[0])
		if !ok {
			var known []string
			for _, s := range form.Signs {
				known = append(known, s.ID)
			}
			return nil, problem(KindUsage, "", "Known are "+strings.Join(known, ", ")+".", "there is no warning sign %q", clean(parts[0], 40))
		}
		p.Signs[s.ID] = "yes"
		switch {
		case len(parts) == 1:
		case !s.Ask || len(parts) > 3:
			return nil, problem(KindUsage, "", "", "%q: a warning sign is told by its name, and by name:region:side where it asks for the place", clean(text, 60))
		default:
			at, err := place(text, parts[1], append(parts, "")[2])
			if err != nil {
				return nil, err
			}
			p.Places[s.ID] = at
		}
	}
	return p, nil
}
