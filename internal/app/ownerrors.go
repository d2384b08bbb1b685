package app

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"gaitwright/gait/measure"
	"gaitwright/gait/table"
	"gaitwright/num/agree"
)

// ownErrorsFile holds the studio's own errors, in its folder of results.
const ownErrorsFile = "own-errors.yaml"

// The least data for a studio's own error to take the place of the published
// one: runners, and degrees of freedom counted over runners, not legs. With 20
// degrees of freedom the true SEM lies between 0.77 and 1.44 times the one found
// (95 %, chi-squared). The rule is our own; common practice asks for some 30
// subjects in a reliability study (Koo & Li 2016, J Chiropr Med 15:155-163, from
// memory).
const (
	leastOwnRunners = 10
	leastOwnDF      = 20
)

// OwnErrorRule says the rule for a person.
var OwnErrorRule = fmt.Sprintf("A studio's own error is used from %d runners and %d degrees of freedom up (runners times repeats less one: 20 runners filmed twice, or 10 three times), each time filmed anew.", leastOwnRunners, leastOwnDF)

// OwnError is the studio's own error of one measure.
type OwnError struct {
	Measure string  `yaml:"measure"`
	Origin  string  `yaml:"origin,omitempty"` // what found the landmarks; any where empty
	Unit    string  `yaml:"unit"`
	SEM     float64 `yaml:"sem"`
	MDC95   float64 `yaml:"mdc95"`
	Runners int     `yaml:"runners"`
	DF      int     `yaml:"df"`   // degrees of freedom, over runners
	Date    string  `yaml:"date"` // on which it was worked out
	From    string  `yaml:"from"` // the files it was worked out from
}

// OwnErrors is the studio's own file of errors.
type OwnErrors struct {
	About  string     `yaml:"about,omitempty"`
	Errors []OwnError `yaml:"errors"`
}

// Of returns the studio's own error of a measure: that for its origin, or else
// the one for any.
func (o *OwnErrors) Of(name, origin string) (OwnError, bool) {
	if o == nil {
		return OwnError{}, false
	}
	for _, want := range []string{origin, ""} {
		for _, e := range o.Errors {
			if e.Measure == name && e.Origin == want {
				return e, true
			}
		}
	}
	return OwnError{}, false
}

// replace puts the studio's own errors in the place of the published ones. A
// clip of few strides is less sure than the studio usually is, so the error is
// never less than that of the strides at hand.
func (o *OwnErrors) replace(ms []measure.Measure) {
	for i := range ms {
		m := &ms[i]
		e, ok := o.Of(m.Name, m.Origin)
		if !ok || m.Withheld() || e.Unit != m.Unit {
			continue
		}
		within := math.Hypot(m.Error.Strides, m.Error.Frame)
		between := math.Sqrt(math.Max(0, e.SEM*e.SEM-within*within))
		m.Error = measure.Budget{Strides: m.Error.Strides, Frame: m.Error.Frame, Origin: between, Placed: m.Error.Placed}
		m.SEM = m.Error.SEM()
		m.MDC95 = agree.MDC95(m.SEM)
		m.Flag = strings.TrimPrefix(fmt.Sprintf("%s; studio's own error, n = %d", m.Flag, e.Runners), "; ")
	}
}

func (st *Studio) ownErrorsPath() string { return filepath.Join(st.dir, ownErrorsFile) }

// OwnErrors returns the studio's own errors; nil where it has none.
func (st *Studio) OwnErrors() (*OwnErrors, error) {
	kind := ownKind{"file of the studio's own errors", "Correct it, or delete it and adopt the errors again.", 1 << 20}
	o, err := readOwn(st.ownErrorsPath(), kind, func(data []byte) (*OwnErrors, error) {
		var o OwnErrors
		if err := table.NewFile(kind.what, kind.most, nil, nil).Read(data, &o); err != nil {
			return nil, err
		}
		for i, e := range o.Errors {
			if err := e.check(); err != nil {
				return nil, fmt.Errorf("entry %d of the studio's own errors: %w", i+1, err)
			}
		}
		return &o, nil
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return o, err
}

func (e OwnError) check() error {
	d, ok := measure.Lookup(e.Measure)
	switch {
	case !ok:
		return fmt.Errorf("measure %q is not known", e.Measure)
	case e.Unit != d.Unit:
		return fmt.Errorf("%s is in %q, not %q", e.Measure, d.Unit, e.Unit)
	case !(e.SEM > 0) || math.IsInf(e.SEM, 0):
		return fmt.Errorf("the SEM of %s must be more than 0, not %g", e.Measure, e.SEM)
	case e.Runners < leastOwnRunners || e.DF < leastOwnDF:
		return fmt.Errorf("%s rests on %d runners and %d degrees of freedom; %d and %d are the least", e.Measure, e.Runners, e.DF, leastOwnRunners, leastOwnDF)
	}
	return nil
}

// Repeat says what was done anew for each reading.
type Repeat string

// The kinds of repetition. Only when the runner was filmed anew do the readings
// differ by all that differs between visits.
const (
	Refilmed    Repeat = "film"
	Redigitised Repeat = "clip"
	TwoAnalysts Repeat = "analyst"
)

// AdoptOwnErrors makes the errors found in repeated measurements the studio's
// own: one a measure, left and right joined. It returns those that were adopted,
// and a sentence for each measure that was not.
func (st *Studio) AdoptOwnErrors(found []Reliability, repeat Repeat, files []string) ([]OwnError, []string, error) {
	switch repeat {
	case Refilmed:
	case Redigitised, TwoAnalysts:
		return nil, nil, problem(KindUsage, "", "Film each runner anew, markers set anew, and compare those films.", "readings of one and the same film leave out how the camera, the markers and the runner differ between visits, so their error cannot stand for that between visits")
	default:
		return nil, nil, problem(KindUsage, "", "Add --repeat film, clip or analyst.", "to adopt the error it must be known what was done anew for each reading")
	}
	for _, r := range found {
		if r.SameClip != "" {
			return nil, nil, problem(KindUsage, r.SameClip, "Film each runner anew and compare those films.", "two readings of one runner come from this one film")
		}
	}
	own, err := st.OwnErrors()
	if err != nil {
		return nil, nil, err
	}
	if own == nil {
		own = &OwnErrors{}
	}
	own.About = "The studio's own errors of measurement, from runners filmed anew. " + OwnErrorRule
	adopted, notes := ownErrorsOf(found)
	for i := range adopted {
		e := &adopted[i]
		e.Date, e.From = st.now().Format("2006-01-02"), strings.Join(baseNames(files), ", ")
		own.Errors = slices.DeleteFunc(own.Errors, func(o OwnError) bool { return o.Measure == e.Measure && o.Origin == e.Origin })
		own.Errors = append(own.Errors, *e)
	}
	if len(adopted) == 0 {
		return nil, notes, problem(KindNoResult, "", OwnErrorRule, "no error could be adopted: %s", strings.Join(notes, "; "))
	}
	data, err := yaml.Marshal(own)
	if err != nil {
		return nil, notes, err
	}
	if err := os.MkdirAll(st.dir, 0o700); err != nil {
		return nil, notes, err
	}
	err = WriteFileWhole(st.ownErrorsPath(), func(w io.Writer) error { _, err := w.Write(data); return err })
	return adopted, notes, err
}

func measuresOf(found []Reliability) []string {
	var out []string
	for _, r := range found {
		if !slices.Contains(out, r.Measure) {
			out = append(out, r.Measure)
		}
	}
	return out
}

// ownErrorsOf returns the error of each measure that rests on enough data, and a
// sentence for each that does not.
func ownErrorsOf(found []Reliability) (out []OwnError, notes []string) {
	for _, name := range measuresOf(found) {
		e, err := ownErrorOf(name, found)
		if err != nil {
			notes = append(notes, err.Error())
			continue
		}
		out = append(out, e)
	}
	return out, notes
}

// ownErrorOf joins the sides of one measure: mean squares weighted by their
// degrees of freedom. The degrees of freedom that count for the rule are those of
// one side, because two legs of a runner err together.
func ownErrorOf(name string, found []Reliability) (OwnError, error) {
	d, ok := measure.Lookup(name)
	if !ok {
		return OwnError{}, fmt.Errorf("%q is not adopted: it is not the name of a measure (--measure NAME)", name)
	}
	e := OwnError{Measure: name, Unit: d.Unit}
	ss, df := 0.0, 0
	for _, r := range found {
		if r.Measure != name {
			continue
		}
		if r.Unit != "" && r.Unit != d.Unit {
			return e, fmt.Errorf("%s is not adopted: it is in %q and must be in %q", name, r.Unit, d.Unit)
		}
		if strings.Contains(r.Origin, " / ") || df > 0 && r.Origin != e.Origin {
			return e, fmt.Errorf("%s is not adopted: its landmarks were found in different ways (%s)", name, r.Origin)
		}
		e.Origin = r.Origin
		ss += r.sumSquares
		df += r.DF()
		e.Runners, e.DF = max(e.Runners, len(r.Subjects)), max(e.DF, r.DF())
	}
	e.SEM = math.Sqrt(ss / float64(df))
	e.MDC95 = agree.MDC95(e.SEM)
	if err := e.check(); err != nil {
		return e, fmt.Errorf("%s is not adopted: %w", name, err)
	}
	return e, nil
}
