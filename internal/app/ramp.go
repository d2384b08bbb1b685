package app

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"gaitwright/gait/steprate"
)

// RampAsk is what a ramp is made of.
type RampAsk struct {
	// Base in steps a minute of both feet, or Count contacts in Seconds.
	Base    float64
	Count   int
	Seconds float64
	OneFoot bool
	// Runs are run files that give the base at SpeedMPS, or where that is 0 at the
	// pace of most of the running.
	Runs []string
	// SpeedMPS is the easy pace; Tempo others beside it.
	SpeedMPS float64
	Tempo    []float64
	HeightM  float64
	To       float64 // the target; 0 for what is proposed
	Step     float64
	RunMin   float64
	Fade     int
	Hold     int
}

// RampMade is a ramp with what it rests on.
type RampMade struct {
	Base    PageRate       `json:"base"`
	Anchors []PageAnchor   `json:"-"`
	To      float64        `json:"target"`
	Why     string         `json:"why"`
	Least   float64        `json:"least"`
	Most    float64        `json:"most"`
	Weeks   []PageRampWeek `json:"weeks"`
}

// MakeRamp makes a ramp outside of any visit. Whoever asks for one says thereby
// that the landing needs it.
func MakeRamp(a RampAsk) (RampMade, error) {
	usage := func(err error) error { return &Problem{Kind: KindUsage, What: err.Error(), Err: err} }
	var base steprate.Rate
	var said string
	switch {
	case a.Base != 0 && a.Count != 0, len(a.Runs) > 0 && (a.Base != 0 || a.Count != 0):
		return RampMade{}, problem(KindUsage, "", "", "give one of --base, --count and --from-run")
	case len(a.Runs) > 0:
		read, err := ReadRuns(a.Runs, known(a.SpeedMPS))
		if err != nil {
			return RampMade{}, err
		}
		if read.Base == nil {
			return RampMade{}, problem(KindNoResult, "", "Take longer runs on level ground, or count steps.", "the run files have no steady part with speed and step rate")
		}
		base, said = steprate.Rate{PerMin: read.Base.PerMin, SEM: read.Base.SEM, How: "runs"}, read.Base.Text
		a.SpeedMPS = *read.Base.SpeedMPS
	case a.Count != 0:
		r, err := steprate.Counted(a.Count, a.Seconds, a.OneFoot)
		if err != nil {
			return RampMade{}, usage(err)
		}
		base, said = r, countText(r, a.Seconds, a.OneFoot)
	case a.Base >= 100 && a.Base <= 240:
		base = steprate.Rate{PerMin: a.Base, How: "given"}
		said = fmt.Sprintf("%.4g steps a minute of both feet, as given; its error is not known.", a.Base)
	default:
		return RampMade{}, problem(KindUsage, "", "Count the contacts of both feet for a minute at the easy pace, or give --count and --seconds.", "a baseline of %.4g steps a minute is not 100 to 240", a.Base)
	}
	if a.HeightM != 0 && !(a.HeightM >= 1 && a.HeightM <= 2.4) {
		return RampMade{}, problem(KindUsage, "", "Write it as 175cm or 1.75m.", "a height of %.3g m cannot be right", a.HeightM)
	}
	base.SpeedMPS = a.SpeedMPS
	t := steprate.TargetFor(base, a.HeightM, steprate.Landing{Overstriding: true})
	to := t.PerMin
	if a.To != 0 {
		to, t.Why = a.To, "as asked for"
	}
	if to == 0 {
		return RampMade{}, problem(KindNoResult, "", "Give a target with --to where you know better.", "%s", strings.TrimSuffix(t.None, "."))
	}
	paces := []steprate.Pace{{Name: "easy", SpeedMPS: a.SpeedMPS, Base: base.PerMin}}
	for i, v := range a.Tempo {
		name := "tempo"
		if i > 0 {
			name = fmt.Sprintf("tempo %d", i+1)
		}
		paces = append(paces, steprate.Pace{Name: name, SpeedMPS: v})
	}
	weeks, err := steprate.Ramp(base, to, paces, steprate.Options{StepAWeek: a.Step, RunMin: a.RunMin, FadeWeeks: a.Fade, HoldWeeks: a.Hold})
	if err != nil {
		return RampMade{}, usage(err)
	}
	m := RampMade{Base: PageRate{PerMin: round2(base.PerMin), SEM: round2(base.SEM), How: base.How, SpeedMPS: known(a.SpeedMPS), Text: said}, Anchors: pageAnchors(t), To: to, Why: t.Why, Least: round2(t.Least), Most: round2(t.Most)}
	for _, w := range weeks {
		m.Weeks = append(m.Weeks, pageRampWeek(w))
	}
	return m, nil
}

var quantityForm = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) *([a-z/]*)$`)

// ParseSpeed reads 10km/h, 2.8m/s or a pace such as 6:00/km, as m/s.
func ParseSpeed(text string) (float64, error) {
	s := strings.ToLower(strings.TrimSpace(text))
	v := math.NaN()
	if min, rest, ok := strings.Cut(strings.TrimSuffix(s, "/km"), ":"); ok {
		a, errA := strconv.Atoi(min)
		b, errB := strconv.Atoi(rest)
		if errA == nil && errB == nil && a >= 0 && b >= 0 && b < 60 && a+b > 0 {
			v = 1000 / float64(60*a+b)
		}
	} else if m := quantityForm.FindStringSubmatch(s); m != nil {
		n, _ := strconv.ParseFloat(m[1], 64)
		switch m[2] {
		case "km/h", "kmh", "kph":
			v = n / 3.6
		case "m/s", "":
			v = n
		case "mph":
			v = n * 0.44704
		}
	}
	if !(v >= 0.5 && v <= 12) {
		return 0, problem(KindUsage, "", "Write it as 10km/h, 2.8m/s or 6:00/km.", "the speed %q cannot be read, or is none of a runner", clean(text, 30))
	}
	return v, nil
}

// ParseHeight reads 175cm or 1.75m, as metres.
func ParseHeight(text string) (float64, error) {
	m := quantityForm.FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if m != nil {
		n, _ := strconv.ParseFloat(m[1], 64)
		if m[2] == "cm" || m[2] == "" && n > 3 {
			n /= 100
		}
		if (m[2] == "cm" || m[2] == "m" || m[2] == "") && n >= 1 && n <= 2.4 {
			return n, nil
		}
	}
	return 0, problem(KindUsage, "", "Write it as 175cm or 1.75m.", "the height %q cannot be read", clean(text, 30))
}

// WriteStepRate writes the step rate of a visit as the station Plan has it: as a
// table, csv or json, which is what the page gets.
func WriteStepRate(w io.Writer, p PageStepRate, form string) error {
	if form == "json" {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(p)
	}
	t := p.Target
	m := RampMade{Anchors: t.Anchors, Why: t.Why, Least: orZero(t.Least), Most: orZero(t.Most), Weeks: p.Weeks}
	if p.Base != nil {
		m.Base = *p.Base
	}
	if len(p.Weeks) > 0 || form == "csv" {
		switch {
		case p.Ask.Target != nil:
			m.To, m.Why = *p.Ask.Target, "as decided"
		case t.PerMin != nil:
			m.To = *t.PerMin
		}
		return WriteRamp(w, m, form)
	}
	var b strings.Builder
	if p.Base != nil {
		fmt.Fprintf(&b, "from    %s\n", p.Base.Text)
	}
	if t.None != "" {
		fmt.Fprintf(&b, "no target: %s\n", t.None)
	}
	if p.None != "" && p.None != t.None {
		fmt.Fprintf(&b, "%s\n", p.None)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// WriteRamp writes a ramp as a table, csv or json.
func WriteRamp(w io.Writer, m RampMade, form string) error {
	switch form {
	case "json":
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(m)
	case "csv":
		head := []string{"week", "pace_name", "steps_per_min", "step_length_m", "speed_kmh", "pace_min_per_km", "rise_percent", "run_min", "click_on_min", "click_off_min"}
		f := func(v float64, n int) string {
			if v == 0 {
				return ""
			}
			return strconv.FormatFloat(v, 'f', n, 64)
		}
		return writeCSV(w, head, func(put func(...string)) error {
			for _, k := range m.Weeks {
				for _, a := range k.At {
					put(strconv.Itoa(k.Number), a.Name, f(a.PerMin, 1), f(a.StepLengthM, 3), f(a.SpeedKMH, 1), a.Pace, f(k.RisePercent, 1), f(k.RunMin, 0), strconv.FormatFloat(k.OnMin, 'f', 1, 64), strconv.FormatFloat(k.OffMin, 'f', 1, 64))
				}
			}
			return nil
		})
	}
	var b strings.Builder
	fmt.Fprintf(&b, "from    %s\n", m.Base.Text)
	fmt.Fprintf(&b, "to      %.0f steps a minute (%s)\n", m.To, m.Why)
	if m.Most > 0 {
		fmt.Fprintf(&b, "bounds  %.1f to %.1f, 5 to 10 %% more; the trials changed no more\n", m.Least, m.Most)
		if m.To < m.Least-0.5 || m.To > m.Most+0.5 {
			fmt.Fprintf(&b, "        %.0f is outside of what the trials changed; it is yours to decide\n", m.To)
		}
	}
	for _, a := range m.Anchors {
		fmt.Fprintf(&b, "anchor  %.0f: %s (%s)\n", a.PerMin, a.Name, a.Source)
	}
	b.WriteString("Step rates are of both feet. Keep the pace: the step gets shorter, not the run faster.\n\n")
	from := func(string) string { return "" }
	if len(m.Weeks) > 0 && m.Weeks[0].From != "" {
		from = func(day string) string { return fmt.Sprintf("  %-10s", day) }
	}
	fmt.Fprintf(&b, "%4s%s  %-8s %9s %8s %9s %8s %7s  %s\n", "week", from("from"), "pace", "steps/min", "step m", "km/h", "min/km", "rise %", "click")
	for _, k := range m.Weeks {
		for i, a := range k.At {
			week, day, click := "", "", ""
			if i == 0 {
				week, day, click = strconv.Itoa(k.Number), k.From, fmt.Sprintf("all of %.0f min", k.RunMin)
				if k.OffMin > 0 {
					click = fmt.Sprintf("%g min on, %g off, %.0f min", k.OnMin, k.OffMin, k.RunMin)
				}
			}
			length, speed := "-", "-"
			if a.SpeedMPS > 0 {
				length, speed = fmt.Sprintf("%.2f", a.StepLengthM), fmt.Sprintf("%.1f", a.SpeedKMH)
			}
			pace := a.Pace
			if pace == "" {
				pace = "-"
			}
			fmt.Fprintf(&b, "%4s%s  %-8s %9.1f %8s %9s %8s %7.1f  %s\n", week, from(day), a.Name, a.PerMin, length, speed, pace, k.RisePercent, click)
		}
	}
	b.WriteString("\nHold a week where pain was 3 to 5 of 10, runs were missed or it felt hard; go back one above 5 or where pain stays till the next morning.\nPin-point pain on a bone: stop running and see a clinician.\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func pageAnchors(t steprate.Target) []PageAnchor {
	out := []PageAnchor{}
	for _, a := range t.Anchors {
		out = append(out, PageAnchor{PerMin: round2(a.PerMin), Within: a.Within, Name: a.Name, Source: a.Source})
	}
	return out
}
