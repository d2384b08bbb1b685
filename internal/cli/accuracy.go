package cli

import (
	"fmt"
	"io"

	"gaitwright/internal/app"
)

type accuracyCommand struct {
	Contacts string `help:"Only compare contacts by motion with force, for all marker files in this folder; fails where a bar is missed." type:"path" placeholder:"DIR"`
	Data     string `help:"Folder of marker files with force platforms, for the whole account." placeholder:"DIR"`
	Runners  int    `help:"Synthetic runners in each condition." default:"6"`
	Film     bool   `help:"Render the synthetic runner and follow it with the pose model too; takes some minutes."`
	Model    string `help:"Pose model." enum:"lite,full,heavy" default:"full"`
	Out      string `help:"Write the account to this file." placeholder:"FILE"`
}

// Run prints how far the measures can be trusted, measured anew.
func (c *accuracyCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	defer bar.Done()
	if c.Contacts != "" {
		trials, err := studio.ContactTrials(r.ctx, c.Contacts, bar)
		bar.Done()
		if err != nil {
			return err
		}
		r.printf("%s", app.ContactTable(trials))
		if n := app.FailedTrials(trials); n > 0 {
			return &app.Problem{Kind: app.KindNoResult, File: c.Contacts, What: fmt.Sprintf("%d of %d runs miss a bar", n, len(trials))}
		}
		r.printf("\nall %d runs meet the bars\n", len(trials))
		return nil
	}
	q := app.AccuracyRequest{ForceDir: c.Data, Runners: c.Runners, Film: c.Film, Model: c.Model, Command: c.command()}
	write := func(w io.Writer) error { return studio.WriteAccuracy(r.ctx, w, q, bar) }
	if c.Out == "" || c.Out == "-" {
		return write(r.env.Stdout)
	}
	return app.WriteFileWhole(c.Out, write)
}

// command is how the account is made again.
func (c *accuracyCommand) command() string {
	s := "gaitwright accuracy"
	if c.Data != "" {
		s += " --data " + c.Data
	}
	if c.Film {
		s += " --film"
	}
	s += fmt.Sprintf(" --runners %d", c.Runners)
	if c.Out != "" {
		s += " --out " + c.Out
	}
	return s
}
