package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"gaitwright/internal/app"
)

// Environment is the world outside as the program sees it; tests put their own
// in place.
type Environment struct {
	Stdin          io.Reader
	Stdout, Stderr io.Writer
	Terminal       bool // standard error is a terminal: draw progress
	Interactive    bool // standard input is a terminal: questions may be asked
	Version        string
	// Serve runs the browser pages until ctx ends.
	Serve func(ctx context.Context, studio *app.Studio, ask ServeRequest) error
}

// exitHelp is printed under the commands.
const exitHelp = `Exit codes: 0 done; 1 something failed unexpectedly; 2 the command was not understood; 3 the input gives no result; 4 a part is not installed (see check); 5 an answer is needed first, such as the capture rate; 130 stopped.`

type commands struct {
	Results string           `help:"Folder in which results are kept." placeholder:"DIR" env:"GAITWRIGHT_RESULTS"`
	Version kong.VersionFlag `help:"Print the version."`

	Serve       serveCommand       `cmd:"" default:"1" help:"Open the pages in the browser (what the bare command does)."`
	Measure     measureCommand     `cmd:"" help:"Measure films or marker files of one runner."`
	Demo        demoCommand        `cmd:"" help:"Film the synthetic runner, measure it and keep the result."`
	Truth       truthCommand       `cmd:"" help:"Run the whole chain on the synthetic runner and print each measure's error."`
	Accuracy    accuracyCommand    `cmd:"" help:"Tell what to trust and what not: the program tried on everything whose truth is known."`
	Exam        examCommand        `cmd:"" help:"Score a hands-on exam from a table of trials."`
	Findings    findingsCommand    `cmd:"" help:"What matters in a result and an exam, with its reasons, and the programme that follows."`
	Exercises   exercisesCommand   `cmd:"" help:"The exercises of a programme; check a file of your own."`
	Rules       rulesCommand       `cmd:"" help:"The rules of the findings; check a file of your own."`
	Retest      retestCommand      `cmd:"" help:"What really changed between two visits or two results, and what did not."`
	Report      visitReportCommand `cmd:"" help:"Write the report of a visit: for the runner, or for a clinician or another coach."`
	Homework    homeworkCommand    `cmd:"" help:"Write a visit's homework as one file for the runner's phone."`
	Log         logCommand         `cmd:"" help:"Take in the log that came back with a runner's homework."`
	Calendar    calendarCommand    `cmd:"" help:"Write a visit's plan and runs with the click as a calendar (iCalendar)."`
	Ramp        rampCommand        `cmd:"" help:"A step-rate ramp, week by week, at a fixed pace."`
	Runs        runsCommand        `cmd:"" help:"Run files of a watch: read them, take them in, hold them against the ramp."`
	Click       clickCommand       `cmd:"" help:"Write a click track for running at a step rate."`
	Belt        beltCommand        `cmd:"" help:"Tell the true belt speed from the belt's length and the passes of its seam."`
	Norms       normsCommand       `cmd:"" help:"Reference ranges: list, check, print, compute."`
	Reliability reliabilityCommand `cmd:"" help:"How well repeated measurements agree: ICC, SEM, smallest real change, limits of agreement."`
	Explain     explainCommand     `cmd:"" help:"Explain a measure: definition, sign, formula, source."`
	Markers     markersCommand     `cmd:"" help:"List or check the mapping of marker names to landmarks."`
	Trials      trialsCommand      `cmd:"" help:"Measure all trials of a research set, on all cores, and write one table of them."`
	Together    togetherCommand    `cmd:"" help:"All consenting runners together: what is common, what comes together, what happened under programmes; or their measures without names."`
	Backup      backupCommand      `cmd:"" help:"Write the whole studio into one encrypted file, while it is in use; or check one."`
	Restore     restoreCommand     `cmd:"" help:"Put a backup into a studio that holds nothing."`
	Takeaway    takeawayCommand    `cmd:"" help:"Write everything that is kept of one runner into one archive."`
	Erase       eraseCommand       `cmd:"" help:"Erase one runner for good, and search for what might be left."`
	Trail       trailCommand       `cmd:"" help:"Who saw and changed what, newest first."`
	Check       checkCommand       `cmd:"" help:"Tell what is installed, what is missing and how to get it."`
	Where       whereCommand       `cmd:"" help:"Tell where everything lives on this machine."`
	Manual      manualCommand      `cmd:"" help:"Print all of this as a manual page (gaitwright manual | man -l -)."`
	Completion  completionCommand  `cmd:"" help:"Print the script with which a shell completes commands."`
	Complete    completeCommand    `cmd:"" hidden:"" help:"What the scripts of completion ask."`
}

// Run parses args (without the program's name), carries the command out and
// returns the process's exit code.
func Run(ctx context.Context, args []string, env Environment) int {
	var cmd commands
	exit := -1
	parser, err := newParser(&cmd, env, func(code int) { exit = code })
	if err != nil {
		fmt.Fprintln(env.Stderr, "gaitwright:", err)
		return 1
	}
	if len(args) > 0 && args[0] == "help" { // as it is often asked for
		args = append(slices.Clone(args[1:]), "--help")
	}
	k, err := parser.Parse(args)
	if exit >= 0 {
		return exit
	}
	if err != nil {
		for _, a := range args {
			if _, statErr := os.Stat(a); strings.HasPrefix(a, "-") && statErr == nil {
				fmt.Fprintf(env.Stderr, "gaitwright: a file whose name begins with a dash is written ./%s\n", a)
				return app.KindUsage.ExitCode()
			}
		}
		fmt.Fprintf(env.Stderr, "gaitwright: %v\n  `gaitwright --help` lists the commands, `gaitwright COMMAND --help` its options.\n", err)
		return app.KindUsage.ExitCode()
	}
	r := &run{ctx: ctx, env: env, resultsDir: cmd.Results, model: parser.Model}
	defer r.close()
	return r.report(k.Run(r))
}

func newParser(cmd *commands, env Environment, exit func(code int)) (*kong.Kong, error) {
	return kong.New(cmd,
		kong.Name("gaitwright"),
		kong.Description("Measures how a person runs from films taken from the side and from behind.\n\n"+exitHelp),
		kong.Writers(env.Stdout, env.Stderr),
		kong.Exit(exit),
		kong.Vars{"version": "gaitwright " + env.Version, "person": app.DefaultPerson},
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, NoExpandSubcommands: true}),
	)
}

// run is one run of one command.
type run struct {
	ctx        context.Context
	env        Environment
	resultsDir string
	model      *kong.Application // all commands and their options
	opened     *app.Studio       // nil until a command needs it
}

// studio names the studio's folder; its records are opened when they are needed.
func (r *run) studio() (*app.Studio, error) {
	st, err := app.OpenStudio(r.resultsDir)
	r.opened = st
	return st, err
}

func (r *run) close() {
	if r.opened != nil {
		r.opened.Close()
	}
}

func (r *run) report(err error) int {
	switch {
	case err == nil:
		return 0
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(r.env.Stderr, "gaitwright: stopped; nothing half-written was left behind")
		return app.KindStopped.ExitCode()
	}
	fmt.Fprintln(r.env.Stderr, "gaitwright:", err)
	return app.KindOf(err).ExitCode()
}

func (r *run) printf(format string, args ...any) { fmt.Fprintf(r.env.Stdout, format, args...) }
func (r *run) say(format string, args ...any)    { fmt.Fprintf(r.env.Stderr, format+"\n", args...) }
