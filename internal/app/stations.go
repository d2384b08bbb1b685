package app

import (
	"fmt"
	"hash/fnv"
	"slices"

	"gaitwright/internal/store"
)

// Stations are the steps of a visit, in order.
var stationNames = []string{"intake", "film", "measure", "exam", "findings", "plan", "handout", "return"}

// lack is one rule: what a station lacks where it holds. The first needed one
// that holds is the next thing to do.
type lack struct {
	station, code string
	needed        bool // the station is unfinished without it
	holds         func(*visitRecords) bool
	text          func(*visitRecords) string // what to do, one sentence
}

func say(s string) func(*visitRecords) string { return func(*visitRecords) string { return s } }

// lacks are the rules, in the order in which a coach would do things.
var lacks = []lack{
	{"intake", "refer", true, func(f *visitRecords) bool { return f.intake.refer().stops() }, func(f *visitRecords) string { return f.intake.refer().Text }},
	{"intake", "consent_filming", true, func(f *visitRecords) bool { return f.runner.ConsentFilming.IsZero() },
		say("Note the runner's consent to filming, with its day; no film is taken in without it.")},
	{"intake", "consent_records", true, func(f *visitRecords) bool { return f.runner.ConsentRecords.IsZero() },
		say("Note the runner's consent to keeping records, with its day; no film is kept without it.")},
	{"intake", "signs", true, func(f *visitRecords) bool { return f.unanswered() > 0 }, func(f *visitRecords) string {
		return fmt.Sprintf("Ask the warning signs; %d of %d are not answered.", f.unanswered(), len(theForm().Signs))
	}},
	{"intake", "height", true, func(f *visitRecords) bool { return f.runner.HeightM == 0 && f.runner.LegLengthM == 0 },
		say("Measure the height or the leg length; lengths in the film rest on it.")},
	{"intake", "pain", false, func(f *visitRecords) bool {
		return f.intake == nil || len(f.intake.Pain) == 0 && !f.intake.NoPain
	}, say("Mark on the body map what hurts, or tick that nothing does.")},
	{"intake", "mass", false, func(f *visitRecords) bool { return f.runner.MassKG == 0 }, say("Weigh the runner; forces and stiffness need it.")},
	{"intake", "sex", false, func(f *visitRecords) bool { return f.runner.Sex == "" }, say("Say female or male; it chooses the table of segment masses and the ranges.")},
	{"intake", "training", false, func(f *visitRecords) bool { return f.intake == nil || f.intake.Training == (PageTraining{}) }, say("Ask how the runner trains.")},
	{"intake", "shoes", false, func(f *visitRecords) bool { return f.intake == nil || f.intake.Shoes == "" }, say("Note the shoes.")},
	{"intake", "goals", false, func(f *visitRecords) bool { return f.intake == nil || f.intake.Goals == "" }, say("Ask what the runner wants.")},

	{"film", "film_none", true, func(f *visitRecords) bool { return f.running() == 0 }, say("Film the runner from the side, and take the film in.")},
	{"film", "clip_facts", true, func(f *visitRecords) bool { return f.firstLack() != nil }, func(f *visitRecords) string { return f.firstLack().Text }},
	{"film", "side_none", false, func(f *visitRecords) bool { return f.running() > 0 && !f.hasView("left", "right", "spatial") },
		say("Film from the side too: most measures are read there.")},
	{"film", "rear_none", false, func(f *visitRecords) bool { return f.running() > 0 && !f.hasView("rear", "front", "spatial") },
		say("Film from behind too: pelvis, hip and step width are read there.")},

	{"measure", "working", true, func(f *visitRecords) bool { return f.working() }, say("The films are being measured; go on with something else meanwhile.")},
	{"measure", "failed", true, func(f *visitRecords) bool { return f.failed() != nil }, func(f *visitRecords) string { return f.failed().Message }},
	{"measure", "not_measured", true, func(f *visitRecords) bool { return len(f.results) == 0 && f.running() > 0 && !f.working() }, say("Measure the films.")},
	{"measure", "stale", true, func(f *visitRecords) bool { return len(f.results) > 0 && f.stale(f.results[0]) },
		say("Measure again: a film, what is said of it, its stickers or the runner's body was changed since.")},
	{"measure", "some_left", true, func(f *visitRecords) bool { return len(f.results) > 0 && f.unmeasured() != "" }, func(f *visitRecords) string {
		return "Measure again with " + f.unmeasured() + "; it is not in the last measurement."
	}},

	{"exam", "exam_none", true, func(f *visitRecords) bool { return f.tested() == 0 }, say("Test what the film cannot show: strength, mobility and control.")},
	{"exam", "exam_side", true, func(f *visitRecords) bool { return f.oneSided() != "" }, func(f *visitRecords) string {
		return f.oneSided() + ": test the other side too; a side is judged by the other."
	}},
	{"exam", "exam_mass", false, func(f *visitRecords) bool { return f.runner.MassKG == 0 && f.testedStrength() },
		say("Weigh the runner: without the body mass strength is not compared with anybody's.")},
	{"exam", "exam_filmed", false, func(f *visitRecords) bool { return f.waitsToBeKept() != "" }, func(f *visitRecords) string {
		return "Keep what was read from " + f.waitsToBeKept() + ", or put it aside."
	}},

	{"findings", "findings_none", true, func(f *visitRecords) bool {
		return f.findings == nil || len(f.findings.Decisions)+len(f.findings.Own) == 0
	}, say("Look through the findings and decide: accept, or reject with a reason.")},
	{"findings", "findings_open", true, func(f *visitRecords) bool {
		open, _ := f.undecided()
		return open > 0 && len(f.findings.Decisions)+len(f.findings.Own) > 0
	}, func(f *visitRecords) string {
		open, all := f.undecided()
		return fmt.Sprintf("%d of %s decided; decide the rest: accept, or reject with a reason.", all-open, plural(all, "finding is", "findings are"))
	}},
	{"findings", "findings_accept", false, func(f *visitRecords) bool { return f.findings != nil && !f.accepts() },
		say("Nothing is accepted; a plan is made of what was accepted.")},

	{"plan", "plan_none", true, func(f *visitRecords) bool { return f.plan == nil && f.accepts() }, say("Make the plan from what was accepted.")},
	{"plan", "plan_stale", true, func(f *visitRecords) bool { return f.plan != nil && f.accepts() && f.plan.Rests != f.findings.mark() },
		say("Bring the plan up to date: the findings were changed since; what you changed by hand is kept.")},

	{"handout", "handout_none", false, func(f *visitRecords) bool { return !f.takesHome() }, say("Make a plan or a step-rate ramp; there is nothing to take home yet.")},
	{"handout", "handout_log", false, func(f *visitRecords) bool { return f.takesHome() && f.log == nil }, say("Give the homework to the runner; its log comes back here.")},
}

// stations tells how far each station is.
func (f *visitRecords) stations() []PageStation {
	stopped := f.intake.refer().stops()
	out := make([]PageStation, 0, len(stationNames))
	for _, name := range stationNames {
		s := PageStation{Name: name, Missing: f.missing(name)}
		s.State = f.state(name, s.Missing)
		if stopped && name != "intake" && s.State != "done" || stopped && name == "intake" {
			s.State = "stopped"
		}
		out = append(out, s)
	}
	return out
}

// missing is what a station lacks. What single clips lack stands in the place of
// the rule that sums it up.
func (f *visitRecords) missing(station string) []PageMissing {
	out := []PageMissing{}
	for _, l := range lacks {
		switch {
		case l.station != station:
		case l.code == "clip_facts":
			for _, c := range f.clips {
				out = append(out, c.missing(f)...)
			}
		case l.holds(f):
			out = append(out, PageMissing{Code: l.code, Text: l.text(f), Needed: l.needed})
		}
	}
	return out
}

func (f *visitRecords) state(station string, missing []PageMissing) string {
	begun := map[string]bool{
		"intake":   f.intake != nil || !f.runner.ConsentFilming.IsZero() || !f.runner.ConsentRecords.IsZero(),
		"film":     len(f.clips) > 0,
		"measure":  len(f.results) > 0 || f.working() || f.failed() != nil,
		"exam":     f.tested() > 0,
		"findings": f.findings != nil,
		"plan":     f.plan != nil,
		"handout":  f.log != nil,
		"return":   f.returned != nil,
	}[station]
	switch {
	case !begun:
		return "empty"
	case slices.ContainsFunc(missing, func(m PageMissing) bool { return m.Needed }):
		return "part"
	}
	return "done"
}

// next is the next thing to do.
func (f *visitRecords) next() PageNext {
	for _, l := range lacks {
		if l.needed && l.holds(f) {
			return PageNext{Station: l.station, Code: l.code, Text: l.text(f)}
		}
	}
	switch {
	case f.log != nil:
		return PageNext{Station: "return", Code: "come_again", Text: "The next visit tells whether it helped: begin it from the runner's page."}
	case f.takesHome():
		return PageNext{Station: "handout", Code: "handout_log", Text: "Give the homework to the runner; its log comes back here."}
	}
	return PageNext{Station: "handout", Code: "handout_report", Text: "Give the report to the runner."}
}

// unanswered counts the warning signs without an answer.
func (f *visitRecords) unanswered() int {
	n := 0
	for _, s := range theForm().Signs {
		if f.intake == nil || f.intake.Signs[s.ID] == "" {
			n++
		}
	}
	return n
}

// running counts the clips that show running.
func (f *visitRecords) running() int {
	n := 0
	for _, c := range f.clips {
		if c.facts.Test == "" {
			n++
		}
	}
	return n
}

func (f *visitRecords) hasView(views ...string) bool {
	return slices.ContainsFunc(f.clips, func(c clipRecord) bool { return c.facts.Test == "" && slices.Contains(views, c.view()) })
}

// firstLack is the first thing that a clip cannot do without.
func (f *visitRecords) firstLack() *PageMissing {
	for _, c := range f.clips {
		for _, m := range c.missing(f) {
			if m.Needed {
				return &m
			}
		}
	}
	return nil
}

func (f *visitRecords) working() bool {
	return slices.ContainsFunc(f.jobs, func(j store.Job) bool {
		return j.Kind != jobDraw && j.Kind != jobExamFilm && (j.State == store.JobQueued || j.State == store.JobRunning)
	})
}

func (f *visitRecords) failed() *store.Job {
	for i := len(f.jobs) - 1; i >= 0; i-- {
		if f.jobs[i].Kind != jobDraw && f.jobs[i].Kind != jobExamFilm && f.jobs[i].State == store.JobFailed {
			return &f.jobs[i]
		}
	}
	return nil
}

// rests is a mark of all that a result of these clips rests on: their files, what
// is said of them, the paths of their stickers, their standing trials and the
// runner's body.
func (f *visitRecords) rests(clipIDs []string) string {
	h := fnv.New64a()
	r := f.runner
	fmt.Fprintf(h, "%g %g %g %s", r.HeightM, r.LegLengthM, r.MassKG, r.Sex)
	for _, c := range f.clips {
		if slices.Contains(clipIDs, c.ID) || slices.Contains(clipIDs, c.facts.StaticOf) {
			fmt.Fprintf(h, "|%s %s", c.Hash, c.said())
			if c.stickers != "" {
				fmt.Fprintf(h, " %s", c.stickers)
			}
		}
	}
	return fmt.Sprintf("%016x", h.Sum64())
}

// stale tells whether something that a result rests on was changed since.
func (f *visitRecords) stale(r resultRecord) bool { return r.line.Rests != f.rests(r.ClipIDs) }

// unmeasured names the first clip that the newest result leaves out; empty where
// there is none.
func (f *visitRecords) unmeasured() string {
	for _, c := range f.clips {
		if !c.aside() && !slices.Contains(f.results[0].ClipIDs, c.ID) {
			return c.Name
		}
	}
	return ""
}
