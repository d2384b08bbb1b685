package cli

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/schollz/progressbar/v3"

	"gaitwright/internal/app"
)

type trialsCommand struct {
	Dir string `arg:"" optional:"" name:"folder" help:"Folder of the set." type:"path"`

	Layout string `help:"How the set's files are named: a built-in layout, or a file of your own. Told from the names where left out." placeholder:"NAME|FILE"`
	List   bool   `help:"Say what was found, and measure nothing."`
	Show   string `help:"Print a built-in layout as YAML, to copy and edit." placeholder:"NAME"`
	Check  string `help:"Check a layout of your own." type:"path" placeholder:"FILE"`

	Out     string `help:"Folder for the results; finished trials are kept in it, so that the same command goes on where it was stopped." type:"path" placeholder:"DIR"`
	Again   bool   `help:"Measure finished trials, too."`
	Workers int    `help:"Trials measured at a time; 0 is one a core." default:"0"`
	Norms   string `help:"Write reference ranges over the participants, by speed (YAML), for the ranges of your own." type:"path" placeholder:"FILE"`
	All     bool   `help:"Print all measures, not the main ones alone. The tables always hold all."`
	Quiet   bool   `short:"q" help:"Print no summary and no progress."`
}

// Run measures all trials of a research set.
func (c *trialsCommand) Run(r *run) error {
	if c.Dir == "" {
		if c.Show == "" && c.Check == "" {
			r.say("name the folder of a set and --out DIR for the results")
		}
		text, err := app.TrialLayouts(c.Show, c.Check)
		if err != nil {
			return err
		}
		r.printf("%s", text)
		return nil
	}
	req := app.TrialsRequest{Dir: c.Dir, Layout: c.Layout, Out: c.Out, Again: c.Again, Workers: c.Workers, Norms: c.Norms}
	if c.List {
		return r.listTrials(req)
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	start := time.Now()
	show := r.trialsProgress(c.Quiet)
	done, failed := studio.MeasureTrials(r.ctx, req, show)
	if done == nil {
		return failed
	}
	if !c.Quiet {
		r.printTrials(done, c.All, c.Out)
	}
	for _, n := range done.Notes {
		r.say("note: %s", n)
	}
	for i, b := range done.Broken {
		if i == mostFaults {
			r.say("and %d more, in %s/left-out.csv", len(done.Broken)-i, c.Out)
			break
		}
		r.say("%s", wrap(b.Reason, "left out: ", pageWidth))
	}
	if !c.Quiet {
		r.say("%d measured, %d finished before, in %s", done.Measured, done.Kept, time.Since(start).Round(100*time.Millisecond))
	}
	return failed
}

// mostFaults is how many trials without a result are named at the end.
const mostFaults = 20

func (r *run) listTrials(req app.TrialsRequest) error {
	layout, set, err := app.FindTrials(req)
	if err != nil {
		return err
	}
	r.printf("%s · %s\n%s of %s\n\n", layout.Name, layout.Source, count(len(set.Trials), "trial", "trials"), count(set.Subjects(), "participant", "participants"))
	for _, t := range set.Trials {
		speed := "measured"
		if t.SpeedMPS > 0 {
			speed = fmt.Sprintf("%.2f m/s", t.SpeedMPS)
		}
		standing := ""
		if t.Standing != "" {
			standing = "standing " + t.Standing
		}
		for _, f := range t.Files {
			r.printf("  %-10s %-9s %-40s %s %s\n", t.Subject, speed, f.Path, f.View, standing)
		}
	}
	for _, n := range set.Notes {
		r.say("note: %s", n)
	}
	return nil
}

// trialsProgress shows how far a batch is: as a bar on a terminal, and else as a line
// now and then.
func (r *run) trialsProgress(quiet bool) func(app.TrialsProgress) {
	if quiet {
		return nil
	}
	left := func(p app.TrialsProgress) string {
		s := fmt.Sprintf("%d of %d trials", p.Done, p.Total)
		if p.Kept > 0 {
			s += fmt.Sprintf(", %d finished before", p.Kept)
		}
		if p.Broken > 0 {
			s += fmt.Sprintf(", %d without a result", p.Broken)
		}
		if p.Left > 0 {
			s += ", " + p.Left.Round(time.Second).String() + " left"
		}
		return s
	}
	if r.env.Terminal {
		var bar *progressbar.ProgressBar
		return func(p app.TrialsProgress) {
			if bar == nil {
				bar = progressbar.NewOptions(p.Total, progressbar.OptionSetWriter(r.env.Stderr), progressbar.OptionSetWidth(24), progressbar.OptionSetPredictTime(false),
					progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
			}
			bar.Describe(left(p))
			_ = bar.Set(p.Done) // a bar that cannot be drawn is no reason to stop
		}
	}
	last := time.Now()
	return func(p app.TrialsProgress) {
		if now := time.Now(); now.Sub(last) >= 5*time.Second || p.Done == p.Total {
			last = now
			r.say("%s", left(p))
		}
	}
}

func (r *run) printTrials(d *app.TrialsDone, all bool, out string) {
	r.printf("%s: %s of %s\n", d.Set, count(d.Trials, "trial", "trials"), count(d.Subjects, "participant", "participants"))
	if d.Source != "" {
		r.printf("%s\n", d.Source)
	}
	r.printf("\n%-44s %8s %5s %20s   %s\n", "Mean ± SD over participants", "m/s", "n", "", "literature")
	last := ""
	var sources []string
	for _, s := range d.Summary {
		if !all && !s.Main() {
			continue
		}
		title, _, _ := strings.Cut(s.Measure.Title, ":")
		title, _, _ = strings.Cut(title, " (")
		if s.Measure.Unit != "" {
			title += ", " + s.Measure.Unit
		}
		if title == last {
			title = ""
		} else {
			last = title
		}
		speed := "–"
		if s.SpeedMPS > 0 {
			speed = fmt.Sprintf("%.2f", s.SpeedMPS)
		}
		value := s.Measure.Format(s.Mean)
		if !math.IsNaN(s.SD) {
			value += " ± " + s.Measure.Format(s.SD)
		}
		ref := ""
		if s.Ref != nil {
			ref = s.Ref.RangeText()
			if s.Ref.Mean != nil {
				ref += fmt.Sprintf(" (%s ± %s)", s.Measure.Format(*s.Ref.Mean), s.Measure.Format(*s.Ref.SD))
			}
			k := -1
			for i, text := range sources {
				if text == s.Ref.Source {
					k = i
				}
			}
			if k < 0 {
				k = len(sources)
				sources = append(sources, s.Ref.Source)
			}
			ref += " " + app.Mark(k)
		}
		r.printf("%s\n", strings.TrimRight(fmt.Sprintf("%-44s %8s %5d %20s   %s", "  "+title, speed, s.N, value, ref), " "))
	}
	r.printf("\n")
	for i, text := range sources {
		r.printf("%s\n", wrap(text, "  "+app.Mark(i)+"  ", pageWidth))
	}
	r.printf("%s\n", wrap("A participant counts once, with the mean of both legs and of repeated trials. Ranges are what was common among other people, measured by other means, not what is good; a set is never held against ranges that come from itself.", "", pageWidth))
	r.printf("\n%s with %s: %s\n", out, count(d.Rows, "row", "rows"), strings.Join(d.Files, ", "))
}
