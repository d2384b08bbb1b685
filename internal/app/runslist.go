package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/runfile"
	"gaitwright/internal/store"
)

// RunsRead are run files that were read without keeping them.
type RunsRead struct {
	Runs []PageRun `json:"runs"`
	// Base is the step rate that they show at a pace; null for nothing.
	Base *PageRate `json:"base"`
	// Wrong says which files could not be read, and why.
	Wrong []error `json:"-"`
}

// ReadRuns reads run files without keeping them, and what they show of the step
// rate at a pace; nil takes that of most of the running. The error is of the first
// file that cannot be read; the others are read all the same.
func ReadRuns(files []string, pace *float64) (RunsRead, error) {
	var f visitRecords
	out := RunsRead{Runs: []PageRun{}}
	for _, file := range files {
		in, err := os.Open(file)
		if err != nil {
			out.Wrong = append(out.Wrong, &Problem{Kind: KindUsage, File: file, What: "it cannot be opened: " + plainPathError(err), Err: err})
			continue
		}
		one, err := runfile.Read(in)
		in.Close()
		if err != nil {
			out.Wrong = append(out.Wrong, runProblem(file, err))
			continue
		}
		f.runs = append(f.runs, runRecord{Run: store.Run{Name: displayName(file), Start: one.Start}, facts: factsOf(one)})
	}
	now := time.Now()
	doubts, counts := runsCounted(f.runs, now)
	first, last := time.Time{}, time.Time{}
	for i, r := range f.runs {
		p := r.page(now.Location())
		p.Doubt, p.DoubtKind, p.DoubtOther, p.DoubtBy, p.Counts = doubts[i].Text, doubts[i].Kind, doubts[i].Other, doubts[i].By, counts[i]
		out.Runs = append(out.Runs, p)
		if day := dayOf(r.local(now.Location())); first.IsZero() || day.Before(first) {
			first = day
		}
		if day := dayOf(r.local(now.Location())); day.After(last) {
			last = day
		}
	}
	if l, ok := runLine(f.runs, counts, first, last, now.Location(), nil); ok {
		out.Base = l.rate(pace)
	}
	if len(out.Wrong) > 0 {
		return out, out.Wrong[0]
	}
	return out, nil
}

// RunnerNamed finds a runner by name or ID.
func (st *Studio) RunnerNamed(ctx context.Context, name string) (PageRunner, error) {
	if store.ValidID(name) {
		return st.Runner(ctx, name)
	}
	rows, err := st.Runners(ctx, RunnerQuery{Text: name, Limit: maxRows})
	if err != nil {
		return PageRunner{}, err
	}
	var found []string
	for _, r := range rows.Rows {
		if sameName(r.Name, name) || len(rows.Rows) == 1 {
			found = append(found, r.ID)
		}
	}
	switch len(found) {
	case 0:
		return PageRunner{}, problem(KindUsage, "", "Take the runner in on the page first, or write the whole name.", "there is no runner %q", clean(name, 60))
	case 1:
		return st.Runner(ctx, found[0])
	}
	return PageRunner{}, problem(KindUsage, "", "Give the runner's name as it stands in the page's address.", "%d runners are called %q", len(found), clean(name, 60))
}

// WriteRuns writes runs as a table or json.
func WriteRuns(w io.Writer, r RunsRead, form string) error {
	if form == "json" {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(r)
	}
	var b strings.Builder
	b.WriteString("Step rates are of both feet, of the steady and level parts.\n\n")
	writeRunTable(&b, r.Runs)
	if r.Base != nil {
		fmt.Fprintf(&b, "\n%s\n", r.Base.Text)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writeRunTable(b *strings.Builder, runs []PageRun) {
	fmt.Fprintf(b, "%-10s  %6s  %6s  %10s  %7s  %9s  %s\n", "day", "km", "min", "steady min", "m/s", "steps/min", "file")
	for _, r := range runs {
		speed, rate := "-", "-"
		if r.SpeedMPS != nil {
			speed, rate = fmt.Sprintf("%.2f", *r.SpeedMPS), fmt.Sprintf("%.1f", *r.PerMin)
		}
		fmt.Fprintf(b, "%-10s  %6.1f  %6.0f  %10.0f  %7s  %9s  %s\n", r.Day, r.KM, r.Minutes, r.SteadyMin, speed, rate, r.Name)
		fmt.Fprintf(b, "            %s\n", r.LeftOut)
		if r.ContactMS != nil {
			fmt.Fprintf(b, "            Contact %.0f ms", *r.ContactMS)
			if r.BounceCM != nil {
				fmt.Fprintf(b, ", oscillation %.1f cm", *r.BounceCM)
			}
			b.WriteString(", as the watch says.\n")
		} else if r.BounceCM != nil {
			fmt.Fprintf(b, "            Oscillation %.1f cm, as the watch says.\n", *r.BounceCM)
		}
		if r.Places {
			b.WriteString("            Where it was is kept.\n")
		}
		for _, n := range r.Notes {
			fmt.Fprintf(b, "            %s\n", n)
		}
		if r.Doubt != "" {
			fmt.Fprintf(b, "          ! %s\n", r.Doubt)
		}
		if !r.Counts {
			b.WriteString("            It does not count.\n")
		}
	}
}

// WriteRunProof writes what the runs of a visit's runner show, as a table or json.
func WriteRunProof(w io.Writer, p PageRuns, form string) error {
	if form == "json" {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(p)
	}
	var b strings.Builder
	b.WriteString("Step rates are of both feet, of the steady and level parts.\n\n")
	fmt.Fprintf(&b, "%s\n", p.Proof.Change.Text)
	if p.Proof.Told != "" {
		fmt.Fprintf(&b, "%s\n", p.Proof.Told)
	}
	fmt.Fprintf(&b, "\n%-10s  %4s  %5s  %6s  %4s  %5s  %6s  %-14s  %6s  %s\n", "week from", "ramp", "runs", "km", "min", "asked", "taken", "95 %", "at m/s", "how it went")
	steep := false
	for _, k := range p.Proof.Weeks {
		n, went := "-", "before the ramp"
		if k.After {
			went = "after the ramp"
		}
		if k.RampWeek > 0 {
			n, went = fmt.Sprint(k.RampWeek), k.Verdict
		}
		runs, band := fmt.Sprint(k.Runs), "-"
		if k.Planned > 0 {
			runs = fmt.Sprintf("%d/%d", k.Runs, k.Planned)
		}
		if k.Low != nil && k.High != nil {
			band = fmt.Sprintf("%.1f to %.1f", *k.Low, *k.High)
		}
		fmt.Fprintf(&b, "%-10s  %4s  %5s  %6.1f  %4.0f  %5s  %6s  %-14s  %6s  %s\n", k.From, n, runs, k.KM, k.Minutes, orDash(k.Asked, 1), orDash(k.Taken, 1), band, orDash(k.SpeedMPS, 2), went)
		if k.Share != nil {
			fmt.Fprintf(&b, "            %.0f %% of the steady running at the asked step rate.\n", 100**k.Share)
		}
		if k.Text != "" {
			fmt.Fprintf(&b, "            %s\n", k.Text)
		}
		if k.Do != "" {
			fmt.Fprintf(&b, "            %s. %s\n", upperFirst(k.Do), k.Why)
		}
		if k.Load != "" {
			fmt.Fprintf(&b, "            %s\n", k.Load)
			steep = true
		}
	}
	if steep {
		fmt.Fprintf(&b, "\n%s\n", steprate.LoadSource)
	}
	for _, s := range p.Proof.Spikes {
		fmt.Fprintf(&b, "\n%s: %s\n", s.Day, s.Text)
	}
	if len(p.Runs) > 0 {
		b.WriteString("\n")
		writeRunTable(&b, p.Runs)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// rate is the baseline that a line gives at a pace.
func (l line) rate(pace *float64) *PageRate {
	v := round2(l.AtSpeedMPS)
	if pace != nil {
		v = *pace
	}
	rate, se := l.At(v)
	p := &PageRate{PerMin: round2(rate), SEM: round2(se), How: "runs", SpeedMPS: &v}
	_, low, high := l.Interval(v)
	p.Text = fmt.Sprintf("From %s of the watch, %s to %s: %s; at %.2f m/s (%s min/km) %.1f steps a minute of both feet, %.1f to %.1f (95 %%).",
		plural(l.Runs, "run", "runs"), l.from.Format(dayForm), l.to.Format(dayForm), plural(l.N, "steady part", "steady parts"), v, PaceText(v), rate, low, high)
	if v < l.Low-0.2 || v > l.High+0.2 {
		p.Text += fmt.Sprintf(" The runs were of %.2f to %.2f m/s, so this pace lies beyond them.", l.Low, l.High)
	}
	return p
}
