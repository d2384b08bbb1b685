package cli

import (
	"os"

	"gaitwright/internal/app"
)

type visitReportCommand struct {
	Of       string `arg:"" help:"A visit, or a kept result of one: its name in the page's address."`
	File     string `arg:"" help:"File to write; its ending says the kind: .pdf, .html, .png or .svg. Of the last two each page is a file of its own, with its number." type:"path"`
	For      string `help:"Whom it is for: ${enum}. The runner's is two pages in plain language." enum:"runner,clinician" default:"runner"`
	Paper    string `help:"Paper: ${enum}." enum:"a4,letter" default:"a4"`
	Language string `help:"Language of the report: ${enum}." enum:"en,de" default:"en"`
	Units    string `help:"Units of speed, pace, length and mass: ${enum}." enum:"metric,us" default:"metric"`
}

// Run writes the file, or the files.
func (c *visitReportCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	paths, err := studio.WriteVisitReport(r.ctx, c.Of, c.File, app.ReportAsk{For: c.For, Paper: c.Paper, Language: c.Language, Units: c.Units})
	for _, path := range paths {
		if i, err := os.Stat(path); err == nil {
			r.say("%s: %d kB", path, (i.Size()+999)/1000)
		}
	}
	return err
}
