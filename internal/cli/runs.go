package cli

import (
	"os"

	"gaitwright/internal/app"
)

type runsCommand struct {
	Files  []string `arg:"" optional:"" help:"Run files: FIT, TCX or GPX, packed (.gz) or not." type:"path"`
	Runner string   `help:"Take the files in for this runner, by name." placeholder:"NAME"`
	Visit  string   `help:"Show what the runs say of this visit's ramp: its name in the page's address." placeholder:"ID"`
	Speed  string   `help:"Pace at which the step rate is asked for, as 10km/h, 2.8m/s or 6:00/km." default:""`
	Watch  string   `help:"Watch this folder for run files; the page offers what is found in it." type:"path" placeholder:"DIR"`
	Format string   `help:"Form: ${enum}." enum:"table,json" default:"table"`
}

// Run reads run files, takes them in, or shows what was taken in.
func (c *runsCommand) Run(r *run) error {
	usage := func(what, mend string) error {
		return &app.Problem{Kind: app.KindUsage, What: what, Mend: mend}
	}
	if c.Runner == "" && c.Visit == "" && c.Watch == "" {
		if len(c.Files) == 0 {
			return usage("no run file was named", "Write gaitwright runs FILE…, or --visit with a visit's name.")
		}
		var pace *float64
		if c.Speed != "" {
			v, err := app.ParseSpeed(c.Speed)
			if err != nil {
				return err
			}
			pace = &v
		}
		read, err := app.ReadRuns(c.Files, pace)
		if err != nil && len(c.Files) == 1 {
			return err
		}
		if len(read.Runs) > 0 || err == nil {
			if werr := app.WriteRuns(r.env.Stdout, read, c.Format); werr != nil || err == nil {
				return werr
			}
		}
		for _, wrong := range read.Wrong {
			r.say("%v", wrong)
		}
		return &app.Problem{Kind: app.KindOf(err), What: "not every file was read", Mend: "What was wrong is said above.", Err: err}
	}
	if c.Runner == "" && len(c.Files) > 0 {
		return usage("whose runs these are was not said", "Add --runner with the runner's name.")
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	if c.Watch != "" {
		f, err := studio.SetRunFolder(r.ctx, "", c.Watch)
		if err != nil {
			return err
		}
		r.say("%s is watched: %d files to take in, %d taken in already", f.Dir, len(f.Files)+f.More, f.Taken)
	}
	if c.Runner != "" {
		if err := c.takeIn(r, studio); err != nil {
			return err
		}
	}
	if c.Visit == "" {
		return nil
	}
	p, err := studio.Runs(r.ctx, c.Visit)
	if err != nil {
		return err
	}
	return app.WriteRunProof(r.env.Stdout, p, c.Format)
}

// takeIn takes the files in one after the other. One that cannot be is told, and
// the others are taken in.
func (c *runsCommand) takeIn(r *run, studio *app.Studio) error {
	if len(c.Files) == 0 {
		return &app.Problem{Kind: app.KindUsage, What: "no run file was named", Mend: "Write gaitwright runs FILE… --runner NAME."}
	}
	runner, err := studio.RunnerNamed(r.ctx, c.Runner)
	if err != nil {
		return err
	}
	var first error
	for _, name := range c.Files {
		taken, err := func() (app.PageRunTaken, error) {
			f, err := os.Open(name)
			if err != nil {
				return app.PageRunTaken{}, &app.Problem{Kind: app.KindUsage, File: name, What: "it cannot be opened", Mend: "Check the name.", Err: err}
			}
			defer f.Close()
			return studio.TakeInRun(r.ctx, "", runner.ID, "", name, f)
		}()
		if r.ctx.Err() != nil {
			return r.ctx.Err()
		}
		if err != nil {
			r.say("%v", err)
			if first == nil {
				first = err
			}
			continue
		}
		r.printf("%s: %s %s, %.1f km. %s\n", taken.Run.Name, taken.Said, taken.Run.Day, taken.Run.KM, taken.Run.LeftOut)
		for _, n := range taken.Run.Notes {
			r.printf("  %s\n", n)
		}
	}
	if first != nil {
		return &app.Problem{Kind: app.KindOf(first), What: "not every file was taken in", Mend: "What was wrong is said above.", Err: first}
	}
	return nil
}
