package cli

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"gaitwright/internal/app"
)

type togetherCommand struct {
	Format string `help:"How to print." enum:"text,json" default:"text"`
	Out    string `help:"Write the measured values without names as CSV, JSON and Parquet into this .zip instead." type:"path" placeholder:"FILE"`
}

// Run prints what is seen of all consenting runners, or writes their measures.
func (c *togetherCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	if _, err := studio.DigestMissing(r.ctx); err != nil {
		return err
	}
	if c.Out != "" {
		if err := app.CheckOutput(c.Out, ".zip"); err != nil {
			return err
		}
		var said string
		err := app.WriteFileWhole(c.Out, func(w io.Writer) (err error) { said, err = studio.ExportTogether(r.ctx, w); return err })
		if err != nil {
			return err
		}
		r.printf("written   %s\n", c.Out)
		r.say("%s", wrap(said, "", pageWidth))
		return nil
	}
	p, err := studio.Together(r.ctx)
	if err != nil {
		return err
	}
	if c.Format == "json" {
		e := json.NewEncoder(r.env.Stdout)
		e.SetIndent("", " ")
		return e.Encode(p)
	}
	r.printTogether(p)
	return nil
}

func (r *run) printTogether(p app.PageTogether) {
	r.printf("%s agreed to be looked at together, with %s; %d came back; %d did not agree and are left out\n", count(p.Runners, "runner", "runners"), count(p.Visits, "visit", "visits"), p.Returned, p.LeftOut)
	if p.Few != "" {
		r.printf("%s\n", wrap(p.Few, "", pageWidth))
	}
	percent := func(s app.PageShare) string {
		if s.Share == nil || s.Low == nil {
			return "–"
		}
		return fmt.Sprintf("%d of %d, %.0f %% (%.0f to %.0f)", s.K, s.N, 100**s.Share, 100**s.Low, 100**s.High)
	}
	if len(p.Findings) > 0 {
		r.printf("\nWhat is seen most (share of runners, 95 %% interval)\n")
	}
	for _, f := range p.Findings {
		r.printf("  %-60s %s\n", f.Title, percent(f))
	}
	if len(p.Pairs) > 0 {
		r.printf("\nWhat comes together (%d pairs tried, p adjusted for all of them)\n", p.PairsTried)
	}
	for _, x := range p.Pairs {
		if x.Told {
			r.printf("  %s\n  and %s: %d runners, %.1f by chance; p %s\n", x.A, x.B, x.Both, x.Expected, small(x.P))
		}
	}
	if len(p.Contrasts) > 0 {
		r.printf("\nWho differs (%d comparisons tried, p adjusted for all of them)\n", p.ContrastsTried)
	}
	for _, x := range p.Contrasts {
		if x.Told {
			r.printf("  %s, by %s\n    %s: %s\n    %s: %s\n    difference %.0f points (%.0f to %.0f); p %s\n", x.Finding, x.Factor, orOther(x.First), percent(x.A), orOther(x.Second), percent(x.B), 100*x.Value, 100*x.Low, 100*x.High, small(x.P))
		}
	}
	for i, x := range p.Programmes {
		if i == 0 {
			r.printf("\nWhat happened under programmes\n")
		}
		r.printf("  %s: given to %d, %d came back, %d not due yet; stayed away %s\n", x.Finding, x.Given, x.Returned, x.Waiting, percent(x.DropOut))
		for _, o := range x.Outcomes {
			title, _, _ := strings.Cut(p.Measures[o.Measure][0], " (")
			change := ""
			if o.Change != nil && o.Low != nil && o.High != nil {
				change = fmt.Sprintf("; mean change %+.3g (%+.3g to %+.3g) %s", *o.Change, *o.Low, *o.High, p.Measures[o.Measure][1])
			}
			r.printf("    %-36s as wanted %d, no real change %d, the other way %d%s\n", title, o.As, o.Within, o.Against, change)
		}
	}
	r.printf("\n")
	for _, n := range p.Notes {
		r.printf("%s\n", wrap(n.Text+" ("+n.Source+")", "", pageWidth))
	}
}

func orOther(name string) string {
	if name == "" {
		return "others"
	}
	return name
}

func small(p float64) string {
	if p < 0.001 {
		return "below 0.001"
	}
	return strings.TrimRight(fmt.Sprintf("%.3f", p), "0")
}
