package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"gaitwright/internal/app"
)

type truthCommand struct {
	Film   bool    `help:"Render the runner and find the landmarks with the pose model, as with any film. Without it the exact landmarks are used, which tries all but the model." default:"true" negatable:""`
	Secs   float64 `name:"seconds" help:"Length of each film." default:"8"`
	Rate   float64 `help:"Frames a second." default:"120"`
	Model  string  `help:"Pose model." enum:"lite,full,heavy" default:"full"`
	Speed  float64 `help:"Belt speed in m/s; 0 is the demonstration runner's own." default:"0"`
	Steps  float64 `help:"Steps a minute; 0 is the usual rate for height and speed." default:"0"`
	Width  int     `help:"Width of the picture in pixels." default:"720"`
	Height int     `help:"Height of the picture in pixels." default:"1280"`
	Yaw    float64 `help:"Degrees by which the side camera stands off square." default:"0"`
	Noise  float64 `help:"Random error of each landmark in pixels, with --no-film." default:"0"`
	Seed   uint64  `help:"Start of the random numbers: another seed is another run." default:"1"`

	Grid      bool   `help:"Run a whole grid of speeds, frame rates, pictures, cameras, noise and faults on exact landmarks instead."`
	Runners   int    `help:"With --grid: runners in each cell." default:"6"`
	FilmCells bool   `help:"With --grid: render and follow a few cells with the pose model too, which takes long."`
	Out       string `help:"With --grid: file for the errors; .csv or .json holds every figure, .md the summary." placeholder:"FILE"`

	JSON string `help:"Write the errors as JSON ('-' for standard output)." placeholder:"FILE"`
}

// Run prints each measure's error on the synthetic runner.
func (c *truthCommand) Run(r *run) error {
	if err := c.check(); err != nil {
		return err
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	if c.Grid {
		return c.runGrid(r, studio, bar)
	}
	result, err := studio.Truth(r.ctx, app.TruthRequest{Film: c.Film, Model: c.Model, SpeedMPS: c.Speed, StepRate: c.Steps, RateHz: c.Rate, Seconds: c.Secs,
		WidthPX: c.Width, HeightPX: c.Height, YawDeg: c.Yaw, NoisePX: c.Noise, Seed: c.Seed}, bar)
	bar.Done()
	if err != nil {
		return err
	}
	if c.JSON != "" {
		err := r.write(c.JSON, func(w io.Writer) error {
			e := json.NewEncoder(w)
			e.SetIndent("", " ")
			return e.Encode(result.Document())
		})
		if err != nil || c.JSON == "-" {
			return err
		}
	}
	writeTruth(r.env.Stdout, result)
	return nil
}

// check refuses numbers that no camera or runner has.
func (c *truthCommand) check() error {
	for _, q := range []struct {
		flag           string
		v, least, most float64
		orZero         bool
	}{
		{"--width", float64(c.Width), 160, 4096, false}, {"--height", float64(c.Height), 160, 4096, false},
		{"--speed", c.Speed, 1.5, 8, true}, {"--steps", c.Steps, 120, 260, true},
		{"--yaw", c.Yaw, -35, 35, false}, {"--noise", c.Noise, 0, 50, false}, {"--runners", float64(c.Runners), 1, 100, false},
	} {
		if !(q.v >= q.least && q.v <= q.most) && !(q.orZero && q.v == 0) {
			return &app.Problem{Kind: app.KindUsage, What: fmt.Sprintf("%s %g cannot be used: give %g to %g", q.flag, q.v, q.least, q.most)}
		}
	}
	return nil
}

// runGrid writes the errors of the whole grid.
func (c *truthCommand) runGrid(r *run, studio *app.Studio, bar app.Progress) error {
	q := app.GridRequest{Runners: c.Runners, Seconds: c.Secs, FilmCells: c.FilmCells, Model: c.Model}
	cells, err := studio.TruthGrid(r.ctx, q, bar)
	bar.Done()
	if err != nil {
		return err
	}
	if c.Out == "" || c.Out == "-" {
		return app.WriteGrid(r.env.Stdout, "summary.md", q, cells)
	}
	return app.WriteFileWhole(c.Out, func(w io.Writer) error { return app.WriteGrid(w, c.Out, q, cells) })
}

func writeTruth(w io.Writer, t *app.TruthResult) {
	fmt.Fprintf(w, "The synthetic runner, whose every movement is known: %s\n", t.Request.Summary())
	view := ""
	for _, m := range t.Measures {
		if m.View != view {
			view = m.View
			fmt.Fprintf(w, "\nview %s\n  %-56s %-6s %10s %10s %10s %8s\n", view, "", "side", "true", "measured", "error", "± stated")
		}
		num := func(v float64) string {
			if math.IsNaN(v) {
				return "-"
			}
			return fmt.Sprintf("%.*f", m.Decimals, v)
		}
		fmt.Fprintf(w, "  %-56s %-6s %10s %10s %10s %8s %s\n", m.Title, m.Side, num(m.True), num(m.Measured), num(m.Error()), num(m.SEM), m.Unit)
	}
	for _, c := range t.Contacts {
		fmt.Fprintf(w, "\ncontacts, view %s: %d missed, %d extra\n", c.View, c.Missed, c.Extra)
		for _, row := range c.Rows {
			fmt.Fprintf(w, "  %-16s bias %6s ms   SD %5s ms   %d pairs\n", row.What, figure("%+.1f", row.BiasS*1000), figure("%.1f", row.SDS*1000), row.Pairs)
		}
	}
	view = ""
	for _, l := range t.Landmarks {
		if l.View != view {
			view = l.View
			fmt.Fprintf(w, "\nlandmarks, view %s, millimetres at the runner\n  %-22s %8s %8s %10s %8s %9s\n", view, "", "median", "95 %", "rightward", "upward", "missing")
		}
		fmt.Fprintf(w, "  %-22s %8.0f %8.0f %+10.0f %+8.0f %8.1f%%\n", l.Landmark, l.MedianMM, l.Percentile95MM, l.BiasForwardMM, l.BiasUpMM, l.MissingPercent)
	}
}
