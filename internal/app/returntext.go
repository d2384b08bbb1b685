package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/retest"
	"gaitwright/internal/store"
)

// Retest compares two visits, or two kept results, and tells it as text, or as the
// JSON that the page gets. The names are those in the page's addresses; before may
// be empty for the visit that is most likely meant.
func (st *Studio) Retest(ctx context.Context, now, before string, asJSON bool) (string, error) {
	p, err := st.retest(ctx, now, before)
	if err != nil {
		return "", err
	}
	if asJSON {
		b, err := json.MarshalIndent(p, "", "  ")
		return string(b) + "\n", err
	}
	return p.text(), nil
}

func (st *Studio) retest(ctx context.Context, now, before string) (PageReturn, error) {
	isVisit := func(id string) (bool, error) {
		if id == "" {
			return true, nil
		}
		err := st.readRecords(ctx, func(r store.Reader) error { _, err := r.Visit(id); return err })
		if KindOf(err) == KindNotFound {
			return false, nil
		}
		return err == nil, err
	}
	a, errA := isVisit(now)
	b, errB := isVisit(before)
	switch {
	case errors.Join(errA, errB) != nil:
		return PageReturn{}, errors.Join(errA, errB)
	case a && b:
		return st.Return(ctx, now, before)
	case a != b:
		return PageReturn{}, problem(KindUsage, "", "Name two visits or two results.", "%s is a visit and %s is none", clean(now, 40), clean(before, 40))
	case before == "":
		return PageReturn{}, problem(KindUsage, "", "Name the earlier result too.", "%s is no visit, so it is not known with what to compare", clean(now, 40))
	}
	return st.compareResults(ctx, now, before)
}

// compareResults compares two kept results, whether they belong to visits or not.
func (st *Studio) compareResults(ctx context.Context, now, before string) (PageReturn, error) {
	own, _ := st.OwnErrors()
	var two [2]seenVisit
	for i, id := range []string{before, now} {
		s, err := st.Load(id)
		if err != nil {
			return PageReturn{}, err
		}
		v := &two[i]
		var said []clipRecord
		var result store.Result
		err = st.readRecords(ctx, func(r store.Reader) (err error) {
			if result, err = r.Result(s.ID); err != nil {
				return err
			}
			for _, id := range result.ClipIDs {
				c, err := r.Clip(id)
				if errors.Is(err, store.ErrNotFound) {
					continue // removed since
				}
				if err != nil {
					return err
				}
				one, err := parseClip(c)
				if err != nil {
					return err
				}
				said = append(said, one)
			}
			return nil
		})
		if err != nil {
			return PageReturn{}, err
		}
		if v.clips, err = st.seenOf(ctx, result); err != nil {
			return PageReturn{}, err
		}
		v.result, v.seen = s.ID, comparable(v.clips, said, own)
		v.visit.Date = s.Created
		if i == 1 && two[0].runner.Name != s.Runner.Name {
			return PageReturn{}, problem(KindUsage, "", "Name two results of one runner.", "the results are of two runners, %q and %q", clean(two[0].runner.Name, 60), clean(s.Runner.Name, 60))
		}
		v.runner.Name, v.runner.HeightM, v.runner.Sex = s.Runner.Name, s.Runner.HeightM, s.Runner.Sex
	}
	p := emptyReturn()
	for i := range two {
		v := &two[i]
		p.Visits = append(p.Visits, PageReturnVisit{ID: v.result, Date: v.visit.Date.Format(dayForm), Result: v.result, Here: i == 1})
	}
	p.Against, p.Looked.Visits = two[0].result, 2
	c := retest.Compare(two[0].seen, two[1].seen, retest.Options{}).WithExam(exam.Report{}, exam.Report{})
	p.compared(c, &two[0], &two[1], nil, own)
	p.curves(c, &two[0], &two[1])
	p.Steps = two[0].steps(&two[1], &reasoned{}, c)
	return p, nil
}

// ReturnNone says in words why nothing can be compared.
var ReturnNone = map[string]string{
	"first":               "There is no earlier visit of this runner to compare with.",
	"not_measured":        "Nothing was measured or tested at this visit yet.",
	"not_measured_before": "Nothing was measured or tested at an earlier visit.",
}

// mdcWords say where a smallest real change comes from.
var mdcWords = map[string]string{"studio": "studio's own", "bench": "films of known motion", "literature": "literature", "times": "contacts and frames"}

func (p PageReturn) text() string {
	var b strings.Builder
	day := func(id string) string {
		for _, v := range p.Visits {
			if v.ID == id || id == "" && v.Here {
				return v.Date
			}
		}
		return id
	}
	if p.None != "" {
		return ReturnNone[p.None] + "\n"
	}
	fmt.Fprintf(&b, "%s against %s\n", day(""), day(p.Against))
	if p.NoFilm != "" {
		fmt.Fprintf(&b, "Films are not compared: %s\n", small(ReturnNone[p.NoFilm]))
	}
	for _, x := range p.Pairs {
		if x.Before == nil {
			fmt.Fprintf(&b, "%s is not compared: %s.\n", x.After.Name, x.Text)
		}
	}
	list := func(title string, want func(PageReturnChange) bool) {
		first := true
		for _, c := range p.Changes {
			if !want(c) {
				continue
			}
			if first {
				fmt.Fprintf(&b, "\n%s\n", title)
				first = false
			}
			b.WriteString(c.line())
		}
	}
	changed, same := string(retest.Changed), string(retest.NoChange)
	list("Changed, and meant to", func(c PageReturnChange) bool { return c.Verdict == changed && c.Aim })
	list("Meant to change and not really changed", func(c PageReturnChange) bool { return c.Verdict == same && c.Aim })
	list("Changed beside that, even when all that is taken together", func(c PageReturnChange) bool { return c.Verdict == changed && !c.Aim && c.Stands })
	list("Changed beside that, and may be chance", func(c PageReturnChange) bool { return c.Verdict == changed && !c.Aim && !c.Stands })
	list("No real change", func(c PageReturnChange) bool { return c.Verdict == same && !c.Aim })
	list("Cannot be told", func(c PageReturnChange) bool { return c.Verdict == string(retest.CannotTell) })
	fmt.Fprintf(&b, "\n%d compared, %d called changed; chance alone would call about %.1f. %d stand when taken together, what the plan was for among itself.\n", p.Looked.Compared, p.Looked.Called, p.Looked.ByChance, p.Looked.Stand)
	if p.Looked.Visits > 2 {
		fmt.Fprintf(&b, "Measured at %d visits so far.\n", p.Looked.Visits)
	}
	p.Steps.text(&b)
	for i, k := range p.Blocks {
		if i == 0 {
			b.WriteString("\nThe plan's blocks\n")
		}
		done := ""
		if k.Share != nil {
			done = fmt.Sprintf(", %.0f %% done", 100**k.Share)
		}
		fmt.Fprintf(&b, "  %s%s: %s. %s", upperFirst(k.Block), done, k.Do, k.Why)
		if k.Decided != "" {
			fmt.Fprintf(&b, " Decided: %s. %s", k.Decided, k.Note)
		}
		b.WriteString("\n")
	}
	p.Work.text(&b)
	for i, x := range p.Trends {
		if i == 0 {
			b.WriteString("\nOver the visits\n")
		}
		b.WriteString(x.line())
	}
	return b.String()
}

// text tells of the step rate what the page tells.
func (s *PageReturnSteps) text(b *strings.Builder) {
	if s == nil {
		return
	}
	b.WriteString("\nStep rate, both feet\n")
	at := func(v *float64) string {
		if v == nil {
			return ""
		}
		return fmt.Sprintf(" at %.2f m/s", *v)
	}
	then := func(x *PageStepsThen) string {
		return fmt.Sprintf("%.1f%s → %.1f%s. %s", x.Before, at(x.BeforeMPS), x.After, at(x.AfterMPS), x.Text)
	}
	if s.Film != nil {
		fmt.Fprintf(b, "  %s\n", then(s.Film))
	}
	if s.Click != nil {
		fmt.Fprintf(b, "  With the click: %s\n", then(s.Click))
	}
	if s.Target != nil {
		fmt.Fprintf(b, "  Asked by now: %.0f.\n", *s.Target)
	}
	if s.Kept != "" {
		fmt.Fprintf(b, "  Without the click: %s", map[string]string{"kept": "kept", "partly": "partly kept", "lost": "not kept"}[s.Kept])
		if s.KeptPct != nil {
			fmt.Fprintf(b, ", %.0f %% of the change", *s.KeptPct)
		}
		b.WriteString(".\n")
	}
	if s.Runs == nil {
		return
	}
	fmt.Fprintf(b, "  Runs: %s %s\n", s.Runs.Told, s.Runs.Change.Text)
	for i, k := range s.Runs.Weeks {
		if i == 0 {
			fmt.Fprintf(b, "    %4s  %-10s  %4s  %5s  %s\n", "week", "from", "runs", "asked", "taken")
		}
		taken := ""
		if k.Taken != nil {
			taken = fmt.Sprintf("%.1f (%.1f to %.1f)%s, ", *k.Taken, *k.Low, *k.High, at(k.SpeedMPS))
		}
		fmt.Fprintf(b, "    %4d  %-10s  %4d  %5s  %s%s\n", k.RampWeek, k.From, k.Runs, orDash(k.Asked, 1), taken, k.Verdict)
	}
}

// orDash is a number with some decimals, or a dash where there is none.
func orDash(v *float64, decimals int) string {
	if v == nil {
		return "-"
	}
	return strconv.FormatFloat(*v, 'f', decimals, 64)
}

// text tells what was planned, done and felt between the visits.
func (k PageReturnWork) text(b *strings.Builder) {
	b.WriteString("\nBetween the visits\n")
	var what []string
	if k.Plan {
		what = append(what, fmt.Sprintf("a plan of %s from %s", plural(k.PlanWeeks, "week", "weeks"), k.Start))
	}
	if k.Ramp {
		what = append(what, fmt.Sprintf("a ramp of %s", plural(k.RampWeeks, "week", "weeks")))
	}
	if len(what) == 0 {
		b.WriteString("  Nothing was planned.\n")
	} else {
		fmt.Fprintf(b, "  %s", upperFirst(strings.Join(what, ", ")))
		if len(k.Findings) > 0 {
			fmt.Fprintf(b, ", for: %s", strings.Join(k.Findings, "; "))
		}
		b.WriteString(".\n")
	}
	switch {
	case k.LogTo != "":
		fmt.Fprintf(b, "  %s came back, up to %s", plural(k.LogWeeks, "week", "weeks"), k.LogTo)
		if k.Share != nil {
			fmt.Fprintf(b, "; %.0f %% of the exercises done", 100**k.Share)
		}
		if k.RunShare != nil {
			fmt.Fprintf(b, "; %.0f %% of the runs", 100**k.RunShare)
		}
		if k.PainWorst != nil {
			fmt.Fprintf(b, "; worst pain %d of 10", *k.PainWorst)
		}
		b.WriteString(".\n")
	case len(what) > 0:
		b.WriteString("  No log came back.\n")
	}
	score := func(v *int) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprint(*v)
	}
	for _, x := range k.Pain {
		fmt.Fprintf(b, "  Pain, %s%s: %s → %s of 10\n", small(x.Title), sideAfter(x.Side), score(x.Before), score(x.After))
	}
	for i, c := range k.Complaint {
		if c != "" {
			fmt.Fprintf(b, "  %s: %s\n", [2]string{"Said then", "Said now"}[i], c)
		}
	}
	for _, w := range k.Weeks {
		fmt.Fprintf(b, "    week from %s: %d of %d runs, %s, pain %s, counted %s of %s steps/min\n", w.From, w.Runs, w.Planned, plural(w.Exercises, "exercise", "exercises"), score(w.PainWorst), orDash(w.PerMin, 0), orDash(w.Asked, 0))
		for _, n := range w.Notes {
			fmt.Fprintf(b, "      note: %s\n", n)
		}
	}
}

// line is the course of a measure over the visits.
func (x PageTrend) line() string {
	var at []string
	for _, v := range x.Points {
		if v.Value != nil {
			at = append(at, v.Date+" "+measure.Definition{Decimals: x.Decimals}.Format(*v.Value))
		}
	}
	s := fmt.Sprintf("  %-40s %s %s", x.Title+sideAfter(x.Side), strings.Join(at, ", "), x.Unit)
	if x.PerWeek != nil {
		s += fmt.Sprintf("; %+.*f a week", x.Decimals+1, *x.PerWeek)
		if x.Low != nil && x.High != nil {
			s += fmt.Sprintf(" (%+.*f to %+.*f)", x.Decimals+1, *x.Low, x.Decimals+1, *x.High)
		}
	}
	if x.Verdict != "" {
		s += ": " + x.Verdict
	}
	if x.WhyText != "" {
		s += ". " + x.WhyText
	}
	return s + "\n"
}

// line is a change in one line, and a second one where there is something to say.
func (c PageReturnChange) line() string {
	name := c.Title + sideAfter(c.Side)
	if c.Stage != "" {
		name += " (" + c.Stage + " release)"
	}
	if c.Verdict == string(retest.CannotTell) {
		return fmt.Sprintf("  %-58s %s\n", name, c.WhyText)
	}
	f := func(v *float64) string { return measure.Definition{Decimals: c.Decimals}.Format(*v) }
	s := fmt.Sprintf("  %-58s %8s → %-8s %-9s %+.*f (%s to %s), counts from %s, %s", name, f(c.Before), f(c.After), c.Unit, c.Decimals, *c.Difference, f(c.Low), f(c.High), f(c.MDC95), mdcWords[c.MDC.From])
	if c.Better != "" {
		s += "; " + c.Better
	}
	for _, x := range c.Said {
		s += "\n      " + x
	}
	return s + "\n"
}
