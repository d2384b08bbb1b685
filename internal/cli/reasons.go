package cli

import (
	"fmt"
	"strings"
	"time"

	"gaitwright/internal/app"
)

type clickCommand struct {
	Rate    float64 `help:"Steps a minute, both feet." required:""`
	To      float64 `help:"Steps a minute at the end; the rate rises to it in a line." default:"0"`
	Minutes float64 `help:"Length in minutes." default:"20"`
	On      float64 `help:"Minutes with the click, in turn with --off minutes without." default:"0"`
	Off     float64 `help:"Minutes without the click; the rhythm goes on unheard." default:"0"`
	CountIn int     `name:"count-in" help:"Clicks before it begins." default:"8"`
	Accent  string  `help:"Which steps sound lower: ${enum}." enum:"none,left,right,both" default:"both"`
	Sound   string  `help:"How it sounds: ${enum}." enum:"click,wood,rhythm" default:"click"`
	Out     string  `arg:"" optional:"" help:"File to write; .wav, or .mp3, .ogg, .m4a where ffmpeg is installed." default:"click.wav"`
}

// Run writes a click track.
func (c *clickCommand) Run(r *run) error {
	err := app.MakeClick(r.ctx, app.ClickPattern{PerMin: c.Rate, EndPerMin: c.To, Minutes: c.Minutes, OnMin: c.On, OffMin: c.Off, CountIn: c.CountIn,
		Accent: strings.TrimPrefix(c.Accent, "none"), Sound: app.ClickSound(c.Sound)}, c.Out)
	if err == nil {
		rate := fmt.Sprintf("%.4g", c.Rate)
		if c.To != 0 && c.To != c.Rate {
			rate += fmt.Sprintf(" to %.4g", c.To)
		}
		r.say("%s: %s steps a minute (both feet), %.4g minutes", c.Out, rate, c.Minutes)
	}
	return err
}

type examCommand struct {
	File  string  `arg:"" optional:"" help:"Table of trials (CSV); see --tests for the names."`
	Mass  float64 `help:"Body mass in kg, for torque per mass." default:"0"`
	Sex   string  `help:"female or male, for the reference ranges." enum:"female,male," default:""`
	Tests bool    `help:"List the tests and their units."`
	JSON  bool    `name:"json" help:"Print the scores as JSON."`
}

// Run scores an exam.
func (c *examCommand) Run(r *run) error {
	if c.Tests || c.File == "" {
		r.printf("%s", app.ExamTests())
		return nil
	}
	text, err := app.ScoreExam(c.File, c.Mass, c.Sex, c.JSON)
	if err != nil {
		return err
	}
	r.printf("%s", text)
	return nil
}

type findingsCommand struct {
	Result string   `arg:"" help:"A kept result: its name in the list of results, or 'last'."`
	Exam   string   `help:"Table of trials (CSV) of the exam." placeholder:"FILE"`
	Rules  string   `help:"File of rules instead of those in use." placeholder:"FILE"`
	Plan   bool     `help:"Print the programme that follows too."`
	Full   int      `help:"Minutes of a full session." default:"20"`
	Days   int      `help:"Days a week for it." default:"3"`
	Weeks  int      `help:"Weeks until the re-test." default:"8"`
	Have   []string `help:"What is at hand: roller, ball, band, step, bench, weight." default:""`
	Pain   []string `help:"A place that hurts, as region:side:score, such as knee_front:right:4; with those of the visit's intake." placeholder:"PAIN"`
	Sign   []string `help:"A warning sign that was met, by its name, such as hop or bone_point:shin:left; with those of the visit's intake. No programme is made for its region." placeholder:"SIGN"`
	Start  string   `help:"First day of the programme, as 2026-03-02; today where absent." placeholder:"DAY"`
}

// Run prints what matters in a result, and the programme.
func (c *findingsCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	defer studio.Close()
	ask := app.PlanAsked{FullMin: c.Full, FullDays: c.Days, Weeks: c.Weeks, Start: time.Now()}
	if c.Start != "" {
		if ask.Start, err = time.Parse(time.DateOnly, c.Start); err != nil {
			return &app.Problem{Kind: app.KindUsage, What: fmt.Sprintf("the first day is written as 2026-03-02, not %q", c.Start), Err: err}
		}
	}
	for _, h := range c.Have {
		if h != "" {
			ask.Equipment = append(ask.Equipment, h)
		}
	}
	findings, plan, err := studio.FindingsOf(r.ctx, app.ReasonAsked{Result: c.Result, Exam: c.Exam, Rules: c.Rules, Pains: c.Pain, Signs: c.Sign, Plan: ask})
	if err != nil {
		return err
	}
	r.printf("%s", findings)
	if c.Plan {
		r.printf("\n%s", plan)
	}
	return nil
}

type exercisesCommand struct {
	Area  string `help:"List those for one area alone, such as glute_med."`
	Show  bool   `help:"Print the built-in exercises as YAML to copy."`
	Check string `help:"Say whether a file of own exercises is sound." placeholder:"FILE"`
}

// Run lists, prints or checks exercises.
func (c *exercisesCommand) Run(r *run) error {
	switch {
	case c.Check != "":
		text, err := app.CheckExercises(c.Check)
		if err != nil {
			return err
		}
		r.printf("%s", text)
	case c.Show:
		r.printf("%s", app.ShowExercises())
	default:
		r.printf("%s", app.ListExercises(c.Area))
	}
	return nil
}

type rulesCommand struct {
	Check string `help:"Say whether a file of own rules is sound." placeholder:"FILE"`
	Show  bool   `help:"Print the built-in rules as YAML to copy."`
}

// Run prints or checks rules.
func (c *rulesCommand) Run(r *run) error {
	if c.Check == "" {
		r.printf("%s", app.ShowRules())
		return nil
	}
	text, err := app.CheckRules(c.Check)
	if err != nil {
		return err
	}
	r.printf("%s", text)
	return nil
}
