package cli

import (
	"bytes"
	"io"

	"gaitwright/internal/app"
)

type homeworkCommand struct {
	Of    string `arg:"" help:"A visit, or a kept result of one: its name in the page's address."`
	Out   string `help:"File to write." type:"path" default:"homework.html"`
	Lang  string `help:"Language of the sheet: ${enum}." enum:"en,de" default:"en"`
	Units string `help:"Units of speed, pace and length: ${enum}." enum:"metric,us" default:"metric"`
}

// Run writes the file.
func (c *homeworkCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	data, err := studio.HomeworkFor(r.ctx, c.Of, c.Lang, c.Units)
	if err != nil {
		return err
	}
	if err := app.WriteFileWhole(c.Out, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
		return err
	}
	r.say("%s: %d kB, opens on a phone without a network", c.Out, len(data)/1000)
	return nil
}

type logCommand struct {
	Visit string   `arg:"" help:"The visit that the homework was made at: its name in the page's address."`
	File  []string `arg:"" optional:"" help:"What came back: the file of the phone, the code as text, or pictures of its QR codes. Without one, what came back before is printed." type:"path"`
}

// Run takes a log in and prints what is kept of the weeks.
func (c *logCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	p, err := studio.TakeLogFiles(r.ctx, "command line", c.Visit, c.File)
	if err != nil {
		return err
	}
	return app.WriteLogWeeks(r.env.Stdout, p)
}

type calendarCommand struct {
	Visit string `arg:"" help:"A visit: its name in the page's address."`
	Out   string `help:"File to write." type:"path" default:"running-plan.ics"`
	Lang  string `help:"Language of the calendar: ${enum}." enum:"en,de" default:"en"`
	Units string `help:"Units of speed and pace: ${enum}." enum:"metric,us" default:"metric"`
}

// Run writes the calendar.
func (c *calendarCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	data, _, err := studio.PlanCalendar(r.ctx, c.Visit, c.Lang, c.Units)
	if err != nil {
		return err
	}
	if err := app.WriteFileWhole(c.Out, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
		return err
	}
	r.say("%s: %d days", c.Out, bytes.Count(data, []byte("BEGIN:VEVENT")))
	return nil
}

type rampCommand struct {
	Base    float64  `help:"Step rate at the easy pace, steps a minute of both feet." default:"0"`
	Count   int      `help:"Contacts counted, instead of --base." default:"0"`
	Seconds float64  `help:"Seconds over which they were counted." default:"30"`
	OneFoot bool     `name:"one-foot" help:"Only one foot was counted."`
	FromRun []string `name:"from-run" help:"A run file of the watch that gives the step rate at the easy pace; may be given again." type:"path" placeholder:"FILE"`
	Speed   string   `help:"Easy pace, as 10km/h, 2.8m/s or 6:00/km." default:""`
	Tempo   []string `help:"Another pace beside it; may be given again."`
	Height  string   `help:"Height, as 175cm; points to the target." default:""`
	To      float64  `help:"Target, steps a minute; proposed where absent." default:"0"`
	Step    float64  `help:"Steps a minute more each week." default:"1"`
	Minutes float64  `help:"Minutes of a run." default:"30"`
	Fade    int      `help:"Weeks over which the click is faded; the whole ramp where 0." default:"0"`
	Hold    int      `help:"Weeks at the target at the end." default:"2"`
	Visit   string   `help:"Show the ramp of this visit instead: its name in the page's address." placeholder:"ID"`
	Format  string   `help:"Form: ${enum}." enum:"table,csv,json" default:"table"`
}

// Run prints the ramp.
func (c *rampCommand) Run(r *run) error {
	if c.Visit != "" {
		if c.Base != 0 || c.Count != 0 || len(c.FromRun) > 0 || c.To != 0 {
			return &app.Problem{Kind: app.KindUsage, What: "a visit has its own baseline and target", Mend: "Leave --base, --count, --from-run and --to out, or change them at the station Plan."}
		}
		studio, err := r.studio()
		if err != nil {
			return err
		}
		p, err := studio.StepRate(r.ctx, c.Visit)
		if err != nil {
			return err
		}
		return app.WriteStepRate(r.env.Stdout, p, c.Format)
	}
	ask := app.RampAsk{Runs: c.FromRun, Base: c.Base, Count: c.Count, Seconds: c.Seconds, OneFoot: c.OneFoot, To: c.To, Step: c.Step, RunMin: c.Minutes, Fade: c.Fade, Hold: c.Hold}
	var err error
	if c.Speed != "" {
		if ask.SpeedMPS, err = app.ParseSpeed(c.Speed); err != nil {
			return err
		}
	}
	for _, t := range c.Tempo {
		v, err := app.ParseSpeed(t)
		if err != nil {
			return err
		}
		ask.Tempo = append(ask.Tempo, v)
	}
	if c.Height != "" {
		if ask.HeightM, err = app.ParseHeight(c.Height); err != nil {
			return err
		}
	}
	m, err := app.MakeRamp(ask)
	if err != nil {
		return err
	}
	return app.WriteRamp(r.env.Stdout, m, c.Format)
}
