package cli

import (
	"context"
	"time"

	"gaitwright/internal/app"
)

type demoCommand struct {
	Dir    string  `help:"Folder for the demo films and the report." type:"path" default:"build/demo"`
	Open   bool    `help:"Stay, and serve the result to the browser until stopped."`
	Listen string  `help:"Address to listen on with --open." default:"127.0.0.1:8787"`
	Secs   float64 `name:"seconds" help:"Length of each film." default:"8"`
	Model  string  `help:"Pose model." enum:"lite,full,heavy" default:"full"`

	Year  bool `help:"A whole invented studio in place of one runner: some forty invented runners over a year, in a folder of its own, never among your own runners. With --open it is served; your own studio is what the bare command opens." group:"An invented year"`
	Films bool `help:"With --year: film one of its runners, so that there are pictures (takes some minutes)." group:"An invented year"`
	Anew  bool `help:"With --year: throw away the invented studio that is there and make another." group:"An invented year"`
}

// Run films the synthetic runner from the side and from behind, measures the
// films as any others and keeps the result.
func (c *demoCommand) Run(r *run) error {
	if c.Year {
		return c.year(r)
	}
	if c.Films || c.Anew {
		return &app.Problem{Kind: app.KindUsage, What: "--films and --anew go with --year", Mend: "Write gaitwright demo --year."}
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	start := time.Now()
	demo, err := studio.Demo(r.ctx, app.DemoRequest{Dir: c.Dir, Seconds: c.Secs, Model: c.Model}, bar)
	bar.Done()
	if err != nil {
		return err
	}
	if err := writeTable(r.env.Stdout, demo.Session, false); err != nil {
		return err
	}
	r.printf("\nfilms   %s\n        %s\nreport  %s\n", demo.SideFilm, demo.RearFilm, demo.Report)
	r.say("filmed and measured in %.0f s", time.Since(start).Seconds())
	page := "visits/" + demo.Session.VisitID
	if !c.Open {
		r.printf("page    run `gaitwright` and open %s; a runner who comes back is at visits/%s/return\n", page, demo.Returning)
		return nil
	}
	return r.serve(studio, ServeRequest{Listen: c.Listen}, page, r.env.Terminal)
}

// year opens the invented studio, which is filled the first time.
func (c *demoCommand) year(r *run) error {
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	start := time.Now()
	studio, made, err := app.OpenInvented(r.ctx, r.resultsDir, c.Films, c.Anew, bar)
	bar.Done()
	if err != nil {
		return err
	}
	r.opened = studio
	if made != nil {
		r.printf("%s with %s, all invented, made in %.0f s\n", count(len(made.Runners), "runner", "runners"), count(made.Visits, "visit", "visits"), time.Since(start).Seconds())
	}
	r.printf("folder  %s\n", studio.Dir())
	if !c.Open {
		r.printf("open    gaitwright demo --year --open\n        or any other command with --results %q, such as gaitwright together\n", studio.Dir())
		return nil
	}
	return r.serve(studio, ServeRequest{Listen: c.Listen}, "", r.env.Terminal)
}

type explainCommand struct {
	Measure string `arg:"" optional:"" help:"Name of the measure; the list of all where it is left out. 'landmarks' lists the landmarks." complete:"measure"`
}

// Run prints the explanation.
func (c *explainCommand) Run(r *run) error {
	text, err := app.Explain(c.Measure)
	if err != nil {
		return err
	}
	r.printf("%s", text)
	return nil
}

type markersCommand struct {
	Show  string `help:"Print an embedded mapping as YAML, to copy and edit." placeholder:"NAME"`
	Check string `help:"Check a mapping of your own." type:"path" placeholder:"FILE"`
}

// Run lists, prints or checks marker mappings.
func (c *markersCommand) Run(r *run) error {
	text, err := app.MarkerSets(c.Show, c.Check)
	if err != nil {
		return err
	}
	r.printf("%s", text)
	return nil
}

type checkCommand struct{}

// Run prints what is installed. It fails where the main job cannot be done.
func (c *checkCommand) Run(r *run) error {
	ctx, cancel := context.WithTimeout(r.ctx, 30*time.Second)
	defer cancel()
	report := app.Check(ctx)
	for _, p := range report.Parts {
		state := "ok     "
		if !p.Found {
			state = "missing"
		}
		if p.Faulty {
			state = "faulty "
		}
		if p.Found {
			r.printf("%s  %-42s %s\n", state, p.Name, p.Detail)
			for _, remark := range p.Remarks {
				r.printf("%s\n", wrap(remark, "         ", pageWidth))
			}
			continue
		}
		r.printf("%s  %s\n%s\n%s\n", state, p.Name, wrap(p.Detail, "         ", pageWidth), wrap(p.Mend, "         ", pageWidth))
	}
	if !report.Complete() {
		return &app.Problem{Kind: app.KindNotInstalled, What: "films cannot be measured until the missing parts are there; marker files, kept results and all else work"}
	}
	return nil
}

type whereCommand struct{}

// Run prints where things live.
func (c *whereCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	for _, p := range app.Places(studio) {
		r.printf("%-12s %s\n", p.Name, p.Path)
	}
	return nil
}
