package app

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/num/agree"
)

// ReliabilityRequest asks how well repeated measurements agree.
type ReliabilityRequest struct {
	Files   []string // CSV tables, or results written by `measure --json`
	Measure string   // only this one; it also names what a wide table holds
	Side    string   // only this side
	Raters  []string // only these raters (columns), in this order
}

// Readings are repeated measurements of one quantity: one row a subject, one
// column a rater, session or re-digitisation.
type Readings struct {
	Measure, Side, Unit string // empty where the table does not say
	Origin              string // what found the landmarks; several with " / " between
	Subjects, Raters    []string
	Values              [][]float64 // [subject][rater]; NaN where there is none
	LeftOut             []string    // subjects without every reading
	SameClip            string      // a file that two readings of one subject come from; empty where there is none
}

// Title names the readings for a person.
func (r Readings) Title() string {
	s := r.Measure
	if s == "" {
		s = "readings"
	}
	if r.Side != "" && r.Side != "both" {
		s += ", " + r.Side
	}
	return s
}

// Reliability is what the readings say of the measurement. Errors are in the
// unit of the readings.
type Reliability struct {
	Readings
	Anova agree.Table
	ICC   []agree.Coefficient // the six forms of Shrout & Fleiss (1979), 95 % intervals
	// SEM is the error of one reading with systematic differences between raters
	// in it, √(mean square within subjects), and SEMInterval its 95 % confidence
	// interval by chi-squared; SEMConsistency leaves those differences out.
	SEM, SEMConsistency     float64
	SEMInterval             agree.Interval
	MDC95, MDC95Consistency float64
	Pairs                   []RaterPair
	sumSquares              float64 // within subjects
}

// DF is the degrees of freedom of SEM: subjects × (raters - 1).
func (r Reliability) DF() int { return len(r.Subjects) * (len(r.Raters) - 1) }

// RaterPair is the agreement of two raters: first minus second.
type RaterPair struct {
	First, Second string
	agree.Limits
}

// allPairs is up to how many raters every pair is compared; beyond it each is
// compared with the first.
const allPairs = 4

// CheckReliability reads repeated measurements and works out how well they
// agree, one result for each measure and side.
func CheckReliability(r ReliabilityRequest) ([]Reliability, []string, error) {
	all, notes, err := readReadings(r)
	if err != nil {
		return nil, nil, err
	}
	return compareReadings(all, notes, r)
}

// compareReadings works out how well readings agree; notes are those of reading
// them, and r says which are wanted.
func compareReadings(all []Readings, notes []string, r ReliabilityRequest) ([]Reliability, []string, error) {
	var out []Reliability
	var found []string
	for _, x := range all {
		found = append(found, x.Title())
		if r.Measure != "" && x.Measure != r.Measure && x.Measure != "" || r.Side != "" && x.Side != r.Side {
			continue
		}
		if x.Measure == "" {
			x.Measure = r.Measure
		}
		x, err := x.choose(r.Raters)
		if err != nil {
			return nil, nil, err
		}
		x = x.complete()
		if len(x.Subjects) < 2 || len(x.Raters) < 2 {
			notes = append(notes, fmt.Sprintf("%s is left out: it needs two subjects or more, each measured twice or more, and has %d", x.Title(), len(x.Subjects)))
			continue
		}
		one, err := reliabilityOf(x)
		if err != nil {
			return nil, nil, problem(KindNoResult, "", "", "%s: %v", x.Title(), err)
		}
		out = append(out, one)
	}
	if len(out) == 0 {
		mend := "Measure the same people twice or more; `gaitwright reliability --help` tells the form of the files."
		if r.Measure != "" || r.Side != "" {
			mend = "The files hold " + strings.Join(found, "; ") + "."
		}
		return nil, notes, problem(KindNoResult, strings.Join(r.Files, ", "), mend, "nothing here was measured repeatedly on two subjects or more%s", tail(notes))
	}
	return out, notes, nil
}

func tail(notes []string) string {
	if len(notes) == 0 {
		return ""
	}
	return " (" + strings.Join(notes, "; ") + ")"
}

// choose keeps the raters named, in that order; all for none.
func (r Readings) choose(raters []string) (Readings, error) {
	if len(raters) == 0 {
		return r, nil
	}
	var at []int
	for _, name := range raters {
		i := slices.IndexFunc(r.Raters, func(s string) bool { return strings.EqualFold(s, strings.TrimSpace(name)) })
		if i < 0 || slices.Contains(at, i) {
			return r, problem(KindUsage, "", "The raters are "+strings.Join(r.Raters, ", ")+".", "%q is not among the raters, or is named twice", name)
		}
		at = append(at, i)
	}
	out := r
	out.Raters, out.Values = nil, nil
	for _, i := range at {
		out.Raters = append(out.Raters, r.Raters[i])
	}
	for _, row := range r.Values {
		var v []float64
		for _, i := range at {
			v = append(v, row[i])
		}
		out.Values = append(out.Values, v)
	}
	return out, nil
}

// complete leaves out the subjects that lack a reading, and says which.
func (r Readings) complete() Readings {
	out := r
	out.Subjects, out.Values = nil, nil
	for i, row := range r.Values {
		if slices.ContainsFunc(row, math.IsNaN) {
			out.LeftOut = append(out.LeftOut, r.Subjects[i])
			continue
		}
		out.Subjects, out.Values = append(out.Subjects, r.Subjects[i]), append(out.Values, row)
	}
	return out
}

func reliabilityOf(x Readings) (Reliability, error) {
	r := Reliability{Readings: x}
	var err error
	if r.Anova, err = agree.Analyse(x.Values); err != nil {
		return r, err
	}
	for _, f := range agree.Forms {
		r.ICC = append(r.ICC, r.Anova.ICC(f, 0.95))
	}
	// √WMS is SEMAgreement: with n targets both are √((JMS + (n-1)·EMS)/n).
	r.SEM, r.SEMConsistency, r.sumSquares = math.Sqrt(r.Anova.WMS), r.Anova.SEMConsistency(), r.Anova.SSW
	r.SEMInterval = agree.SDInterval(r.SEM, r.DF())
	r.MDC95, r.MDC95Consistency = agree.MDC95(r.SEM), agree.MDC95(r.SEMConsistency)
	if len(x.Subjects) < 3 {
		return r, nil // limits of agreement need three pairs
	}
	column := func(j int) []float64 {
		v := make([]float64, len(x.Values))
		for i := range v {
			v[i] = x.Values[i][j]
		}
		return v
	}
	for i := range x.Raters {
		for j := i + 1; j < len(x.Raters); j++ {
			if i > 0 && len(x.Raters) > allPairs {
				break
			}
			l, err := agree.BlandAltman(column(i), column(j))
			if err != nil {
				return r, err
			}
			r.Pairs = append(r.Pairs, RaterPair{x.Raters[i], x.Raters[j], l})
		}
	}
	return r, nil
}

// ReliabilityDocument is one result as JSON; numbers not defined are null.
type ReliabilityDocument struct {
	Measure          string           `json:"measure"`
	Side             string           `json:"side,omitempty"`
	Unit             string           `json:"unit,omitempty"`
	Origin           string           `json:"origin,omitempty"`
	Subjects         []string         `json:"subjects"`
	Raters           []string         `json:"raters"`
	LeftOut          []string         `json:"left_out"`
	ICC              []ICCDocument    `json:"icc"`
	SEM              *float64         `json:"sem"`
	SEMLow           *float64         `json:"sem_low"`
	SEMHigh          *float64         `json:"sem_high"`
	MDC95            *float64         `json:"mdc95"`
	SEMConsistency   *float64         `json:"sem_consistency"`
	MDC95Consistency *float64         `json:"mdc95_consistency"`
	Pairs            []LimitsDocument `json:"limits_of_agreement"`
	Values           [][]*float64     `json:"values"`
}

// ICCDocument is one coefficient.
type ICCDocument struct {
	Form  string   `json:"form"`
	Value *float64 `json:"value"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
	F     *float64 `json:"f"`
	DF1   *float64 `json:"df1"`
	DF2   *float64 `json:"df2"`
	P     *float64 `json:"p"`
}

// LimitsDocument is the agreement of two raters, first minus second; each
// interval is of 95 %.
type LimitsDocument struct {
	First   string      `json:"first"`
	Second  string      `json:"second"`
	N       int         `json:"n"`
	Bias    *float64    `json:"bias"`
	SD      *float64    `json:"sd"`
	BiasCI  [2]*float64 `json:"bias_interval"`
	Lower   *float64    `json:"lower"`
	LowerCI [2]*float64 `json:"lower_interval"`
	Upper   *float64    `json:"upper"`
	UpperCI [2]*float64 `json:"upper_interval"`
}

// Document returns the result for JSON.
func (r Reliability) Document() ReliabilityDocument {
	n := func(v float64) *float64 { return number(v, 8) }
	d := ReliabilityDocument{Measure: r.Measure, Side: r.Side, Unit: r.Unit, Origin: r.Origin, Subjects: r.Subjects, Raters: r.Raters, LeftOut: emptyNotNil(r.LeftOut),
		SEM: n(r.SEM), SEMLow: n(r.SEMInterval.Low), SEMHigh: n(r.SEMInterval.High), MDC95: n(r.MDC95),
		SEMConsistency: n(r.SEMConsistency), MDC95Consistency: n(r.MDC95Consistency), Pairs: []LimitsDocument{}}
	for _, c := range r.ICC {
		d.ICC = append(d.ICC, ICCDocument{c.Form.String(), n(c.Value), n(c.Low), n(c.High), n(c.F), n(c.DF1), n(c.DF2), number(c.P, 12)})
	}
	two := func(i agree.Interval) [2]*float64 { return [2]*float64{n(i.Low), n(i.High)} }
	for _, p := range r.Pairs {
		d.Pairs = append(d.Pairs, LimitsDocument{p.First, p.Second, p.N, n(p.Bias), n(p.SD), two(p.BiasCI), n(p.Lower), two(p.LowerCI), n(p.Upper), two(p.UpperCI)})
	}
	for _, row := range r.Values {
		d.Values = append(d.Values, numbers(row, 8))
	}
	return d
}

// baseNames are files' names without their folders.
func baseNames(files []string) []string {
	out := make([]string, len(files))
	for i, f := range files {
		out[i] = filepath.Base(f)
	}
	return out
}
