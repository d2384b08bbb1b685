package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"gaitwright/internal/app"
)

type reliabilityCommand struct {
	Files []string `arg:"" name:"file" help:"Tables (CSV) or results written by measure --json." type:"path"`

	Measure string   `help:"Only this measure; names what a wide table holds." placeholder:"NAME"`
	Side    string   `help:"Only this side: left, right or both." enum:"left,right,both," default:""`
	Raters  []string `help:"Only these raters or columns, in this order: A,B." placeholder:"NAME"`

	JSON   string `help:"Write everything as JSON ('-' for standard output)." placeholder:"FILE"`
	Plot   string `help:"Draw the differences of the first two raters against their means: .png, .svg, .pdf or .html." type:"path" placeholder:"FILE"`
	Adopt  bool   `help:"Let the errors found stand in for the published ones from now on."`
	Repeat string `help:"What was done anew for each reading, needed to adopt: film (the runner filmed anew), clip (the same film digitised anew), analyst (the same film by another analyst)." enum:"film,clip,analyst," default:""`
}

// Help tells the forms of the input.
func (c *reliabilityCommand) Help() string {
	return `A table is CSV in one of two forms.

Long: a header with the columns subject, rater (or session, visit, analyst) and value, and where wanted measure, side, unit and origin; one reading a line.

  subject,rater,measure,side,value
  Ann,day 1,contact_time,left,0.251

Wide: one row a subject, one column a rater, for one measure; a first column headed subject names the subjects.

  subject,first,second
  Ann,0.251,0.248

Results of measure --json are gathered by the runner's name (measure --name): a runner's first file is the first reading, the second the second.

` + app.OwnErrorRule + ` They are kept in the folder of results and used by measure from then on.`
}

// Run prints how well the readings agree.
func (c *reliabilityCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	found, notes, err := app.CheckReliability(app.ReliabilityRequest{Files: c.Files, Measure: c.Measure, Side: c.Side, Raters: c.Raters})
	if err != nil {
		return err
	}
	for _, n := range notes {
		r.say("%s", wrap(n, "note: ", 100))
	}
	if c.Plot != "" {
		if len(found) > 1 {
			return &app.Problem{Kind: app.KindUsage, What: fmt.Sprintf("there are %d measures and sides, and a plot shows one", len(found)), Mend: "Choose with --measure and --side."}
		}
		if err := studio.WriteAgreementPlot(found[0], c.Plot); err != nil {
			return err
		}
		r.say("plot: %s", c.Plot)
	}
	if c.JSON != "" {
		if err := r.write(c.JSON, func(w io.Writer) error { return writeReliabilityJSON(w, found) }); err != nil {
			return err
		}
	}
	if c.JSON != "-" {
		writeReliability(r.env.Stdout, found)
	}
	if !c.Adopt {
		return nil
	}
	adopted, kept, err := studio.AdoptOwnErrors(found, app.Repeat(c.Repeat), c.Files)
	if err != nil {
		return err
	}
	for _, e := range adopted {
		r.say("adopted: %s ± %s %s (smallest real change %s), %d runners", e.Measure, app.AgreementFigure(e.SEM), e.Unit, app.AgreementFigure(e.MDC95), e.Runners)
	}
	for _, n := range kept {
		r.say("%s", wrap(n, "note: ", 100))
	}
	return nil
}

func writeReliabilityJSON(w io.Writer, found []app.Reliability) error {
	out := struct {
		Schema int                       `json:"schema"`
		Series []app.ReliabilityDocument `json:"series"`
	}{Schema: 1}
	for _, f := range found {
		out.Series = append(out.Series, f.Document())
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

// fullReports is up to how many measures and sides are printed in full.
const fullReports = 2

func writeReliability(w io.Writer, found []app.Reliability) {
	if len(found) > fullReports {
		writeReliabilityTable(w, found)
		return
	}
	for i, f := range found {
		if i > 0 {
			fmt.Fprintln(w)
		}
		writeOneReliability(w, f)
	}
}

var iccMeaning = []string{
	"one rating, each subject by other raters", "one rating, agreement of raters drawn at random", "one rating, consistency of these raters alone",
	"mean of the ratings, as ICC(1,1)", "mean of the ratings, as ICC(2,1)", "mean of the ratings, as ICC(3,1)",
}

func writeOneReliability(w io.Writer, f app.Reliability) {
	unit := ""
	if f.Unit != "" {
		unit = " " + f.Unit
	}
	fmt.Fprintf(w, "%s: %d subjects, %d raters (%s)\n", f.Title(), len(f.Subjects), len(f.Raters), strings.Join(f.Raters, ", "))
	if len(f.LeftOut) > 0 {
		fmt.Fprintln(w, wrap(strings.Join(f.LeftOut, ", "), "  left out for want of a reading: ", 100))
	}
	fmt.Fprintln(w)
	for _, sentence := range f.InWords() {
		fmt.Fprintln(w, wrap(sentence, "  ", 100))
	}
	fmt.Fprintln(w)
	for i, c := range f.ICC {
		fmt.Fprintf(w, "  %s  %6s   95 %% interval %6s to %6s   %s\n", c.Form, signed("%.3f", c.Value), signed("%.3f", c.Low), signed("%.3f", c.High), iccMeaning[i])
	}
	fig := app.AgreementFigure
	fmt.Fprintf(w, "\n  SEM    %s%s (95 %% interval %s to %s), smallest real change MDC95 %s%s: differences between raters counted\n", fig(f.SEM), unit, fig(f.SEMInterval.Low), fig(f.SEMInterval.High), fig(f.MDC95), unit)
	fmt.Fprintf(w, "         %s%s, MDC95 %s%s: steady differences between raters left out\n", fig(f.SEMConsistency), unit, fig(f.MDC95Consistency), unit)
	for _, p := range f.Pairs {
		fmt.Fprintf(w, "\n  %s - %s\n", p.First, p.Second)
		fmt.Fprintf(w, "    bias         %s%s (95 %% interval %s to %s)\n", fig(p.Bias), unit, fig(p.BiasCI.Low), fig(p.BiasCI.High))
		fmt.Fprintf(w, "    upper limit  %s%s (%s to %s)\n", fig(p.Upper), unit, fig(p.UpperCI.Low), fig(p.UpperCI.High))
		fmt.Fprintf(w, "    lower limit  %s%s (%s to %s)\n", fig(p.Lower), unit, fig(p.LowerCI.Low), fig(p.LowerCI.High))
	}
	fmt.Fprintf(w, "\n%s\n", wrap("ICC: Shrout & Fleiss 1979, Psychol Bull 86:420. SEM and MDC95: Weir 2005, J Strength Cond Res 19:231 (from memory). Limits of agreement (bias ± 1.96 SD): Bland & Altman 1986, Lancet 327:307.", "", 100))
}

// signed prints a coefficient with a true minus, as the other figures have it.
func signed(format string, v float64) string {
	if v >= 0 {
		return figure(format, v)
	}
	return "−" + figure(format, -v)
}

// writeReliabilityTable prints one line a measure and side.
func writeReliabilityTable(w io.Writer, found []app.Reliability) {
	wide := 0
	for _, f := range found {
		wide = max(wide, utf8.RuneCountInString(f.Title()))
	}
	fmt.Fprintf(w, "  %s  %s  %s  %s  %s\n", padRight("", wide), padRight("n × k", 7), padRight("ICC(2,1) (95 % interval)", 26), padLeft("SEM", 9), padLeft("MDC95", 9))
	for _, f := range found {
		c := f.ICC[1]
		icc := fmt.Sprintf("%6s (%s to %s)", signed("%.3f", c.Value), signed("%.2f", c.Low), signed("%.2f", c.High))
		fmt.Fprintf(w, "  %s  %s  %s  %s  %s  %s\n", padRight(f.Title(), wide), padRight(fmt.Sprintf("%d × %d", len(f.Subjects), len(f.Raters)), 7), padRight(icc, 26),
			padLeft(app.AgreementFigure(f.SEM), 9), padLeft(app.AgreementFigure(f.MDC95), 9), f.Unit)
	}
	fmt.Fprintf(w, "%s\n", wrap("All six coefficients and the limits of agreement: choose one with --measure and --side, or write --json.", "", 100))
}
