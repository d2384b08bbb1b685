package app

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
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
	return reasonsBy(rules, s, sheet, pains, stops)
}

func reasonsBy(rules *finding.Rules, s *Session, sheet exam.Sheet, pains []finding.Pain, stops []finding.Stop) (exam.Report, finding.Report) {
	var runner RunnerFacts
	in := finding.Input{Pains: pains, Stops: stops}
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
		ask.Aims = append(ask.Aims, f.Aims...)
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
	return b.String()
}

// FindingsText prints findings with their reasons for the terminal.
func FindingsText(r finding.Report) string {
	var b strings.Builder
	for _, x := range r.Refer {
		where := x.Region
		if where == "" {
			where = "the whole"
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
	for _, w := range p.Weeks {
		fmt.Fprintf(&b, "Week %d. %s\n", w.Number, w.Note)
		list("before each run", w.Warm)
		list(fmt.Sprintf("full session, %d days", len(p.FullDays)), w.Full)
		for _, i := range w.Running {
			fmt.Fprintf(&b, "  while running: %s, %s\n", lib.Lookup(i.Exercise).Title, DoseText(i.Dose))
		}
	}
	for _, u := range p.Unmet {
		fmt.Fprintf(&b, "Nothing was found for %s: %s.\n", u.What, u.Why)
	}
	fmt.Fprintf(&b, "Re-test on %s.\n", p.Retest.Format("2 January 2006"))
	for _, r := range programme.ProgressRules() {
		fmt.Fprintf(&b, "%s: %s\n", r.If, r.Then)
	}
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

// FindingsOf reasons on a kept result ("last" is the newest) and an exam file
// (empty for none) by a file of rules (empty for those in use), and makes the
// programme that follows.
func (st *Studio) FindingsOf(result, examFile, rulesFile string, ask PlanAsked) (findings, plan string, err error) {
	for _, have := range ask.Equipment {
		if !slices.Contains(programme.Equipment, have) {
			return "", "", problem(KindUsage, "", "Known are "+strings.Join(programme.Equipment, ", ")+".", "%q is not known", have)
		}
	}
	if ask.FullMin < 5 || ask.FullMin > 90 || ask.FullDays < 1 || ask.FullDays > 7 || ask.Weeks < 1 || ask.Weeks > 26 {
		return "", "", problem(KindUsage, "", "", "5 to 90 minutes, 1 to 7 days a week, 1 to 26 weeks")
	}
	if result == "last" {
		ids, err := st.IDs()
		if err != nil {
			return "", "", err
		}
		if len(ids) == 0 {
			return "", "", problem(KindUsage, "", "Measure a film first.", "there is no kept result")
		}
		result = ids[0]
	}
	s, err := st.Load(result)
	if err != nil {
		return "", "", err
	}
	var sheet exam.Sheet
	if examFile != "" {
		if sheet, err = ReadExam(examFile); err != nil {
			return "", "", err
		}
	}
	rules, note := rulesInUse()
	if rulesFile != "" {
		note = ""
		if rules, err = rulesFrom(rulesFile); err != nil {
			return "", "", err
		}
	}
	if note != "" {
		note += "\n"
	}
	_, report := reasonsBy(rules, s, sheet, nil, nil)
	return note + FindingsText(report), PlanText(PlanFor(report, nil, ask)), nil
}
