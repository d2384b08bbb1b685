package exam

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"sync"

	"gaitwright/gait/figure"
	"gaitwright/num/agree"

	"github.com/goccy/go-yaml"
)

// Kind sorts the tests.
type Kind string

// The kinds of test.
const (
	Strength Kind = "strength"
	Mobility Kind = "mobility"
	Control  Kind = "control"
)

// Test is one test: how it is done and how its number is judged.
type Test struct {
	Name  string `yaml:"name"`
	Title string `yaml:"title"`
	Kind  Kind   `yaml:"kind"`
	// Unit is that of the reading: Nm/kg, deg, cm, s or repetitions. Strength is
	// entered as force and lever arm, the others in this unit.
	Unit   string `yaml:"unit"`
	Better string `yaml:"better"` // "higher" or "lower"
	// Sided is false for a test of the whole body.
	Sided *bool `yaml:"sided,omitempty"`
	// Low and High bound what can be meant, in Unit.
	Low    float64 `yaml:"low,omitempty"`
	High   float64 `yaml:"high,omitempty"`
	Trials int     `yaml:"trials"` // advised
	Pick   string  `yaml:"pick"`   // "best" or "mean" of the valid trials
	Sign   string  `yaml:"sign,omitempty"`
	Lever  *Lever  `yaml:"lever,omitempty"`
	// Counter, Timer and Click say what helps to take it: a counter of
	// repetitions, a clock, a click at so many a minute.
	Counter bool `yaml:"counter,omitempty"`
	Timer   bool `yaml:"timer,omitempty"`
	Click   int  `yaml:"click,omitempty"`
	// Film names the clip from which the same pipeline measures it.
	Film string `yaml:"film,omitempty"`
	// Felt lists where the runner may feel it; Stages that it is done before and
	// after release.
	Felt      []string      `yaml:"felt,omitempty"`
	Stages    bool          `yaml:"stages,omitempty"`
	Position  string        `yaml:"position"`
	How       []string      `yaml:"how"`
	Watch     []string      `yaml:"watch,omitempty"`
	Errors    []ErrorFigure `yaml:"errors"`
	Ranges    []Range       `yaml:"ranges,omitempty"`
	Notes     []string      `yaml:"notes,omitempty"`
	Contested int           `yaml:"contested,omitempty"` // number in the list of contested points
	Guide     figure.Pose   `yaml:"guide"`
}

// Lever says between which points the lever arm is measured.
type Lever struct {
	From string `yaml:"from"`
	To   string `yaml:"to"`
}

// ErrorFigure is a smallest real change (MDC95): Value in the test's unit, or
// Percent of the reading but no less than Least, in the test's unit: a hold of 0 s is
// no more exact than one of some seconds.
type ErrorFigure struct {
	Value   float64 `yaml:"value,omitempty"`
	Percent float64 `yaml:"percent,omitempty"`
	Least   float64 `yaml:"least,omitempty"`
	Source  string  `yaml:"source"`
	Tag     string  `yaml:"tag"`
}

// Range is what was usual in one sample; either Low and High, or Mean and SD of N
// people, or only a Typical value that is no limit.
type Range struct {
	Sex     string   `yaml:"sex,omitempty"`
	Of      string   `yaml:"of,omitempty"` // "force_per_mass" where it is not the reading's own unit
	Low     *float64 `yaml:"low,omitempty"`
	High    *float64 `yaml:"high,omitempty"`
	Mean    *float64 `yaml:"mean,omitempty"`
	SD      *float64 `yaml:"sd,omitempty"`
	Typical *float64 `yaml:"typical,omitempty"`
	N       int      `yaml:"n,omitempty"`
	Unit    string   `yaml:"unit"`
	Source  string   `yaml:"source"`
	Tag     string   `yaml:"tag"`
	Note    string   `yaml:"note,omitempty"`
}

// Limits are the ends of the range, infinite where open; of a mean and SD those
// within which one more member of the sample lies with 95 % probability. A
// typical value has no limits.
func (r *Range) Limits() (low, high float64) {
	low, high = math.Inf(-1), math.Inf(1)
	switch {
	case r.Mean != nil && r.SD != nil:
		i := agree.PredictionInterval(*r.Mean, *r.SD, r.N)
		return i.Low, i.High
	case r.Low != nil && r.High != nil:
		return *r.Low, *r.High
	case r.Low != nil:
		low = *r.Low
	case r.High != nil:
		high = *r.High
	}
	return low, high
}

// HasSides tells whether the test is taken left and right.
func (t *Test) HasSides() bool { return t.Sided == nil || *t.Sided }

//go:embed tests.yaml
var testsYAML []byte

var catalogue = sync.OnceValue(func() []*Test {
	tests, err := parseTests(testsYAML)
	if err != nil {
		panic("exam: " + err.Error()) // tests.yaml is part of the program
	}
	return tests
})

// Catalogue lists the tests in the order of an exam: strength, mobility, control.
// Its elements must not be changed.
func Catalogue() []*Test { return slices.Clone(catalogue()) }

// Lookup finds a test by its name.
func Lookup(name string) (*Test, bool) {
	i := slices.IndexFunc(catalogue(), func(t *Test) bool { return t.Name == name })
	if i < 0 {
		return nil, false
	}
	return catalogue()[i], true
}

func parseTests(data []byte) ([]*Test, error) {
	var file struct {
		Version int     `yaml:"version"`
		Tests   []*Test `yaml:"tests"`
	}
	if err := yaml.UnmarshalWithOptions(data, &file, yaml.Strict()); err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, t := range file.Tests {
		if err := t.check(); err != nil {
			return nil, fmt.Errorf("test %s: %w", t.Name, err)
		}
		if seen[t.Name] {
			return nil, fmt.Errorf("test %s is there twice", t.Name)
		}
		seen[t.Name] = true
	}
	return file.Tests, nil
}

var (
	units = []string{"Nm/kg", "deg", "cm", "s", "repetitions"}
	tags  = []string{"seen", "computed", "from memory", "common practice"}
)

func (t *Test) check() error {
	switch {
	case t.Name == "" || t.Title == "" || t.Position == "" || len(t.How) == 0:
		return fmt.Errorf("name, title, position and how are needed")
	case !slices.Contains([]Kind{Strength, Mobility, Control}, t.Kind):
		return fmt.Errorf("kind %q is not known", t.Kind)
	case !slices.Contains(units, t.Unit):
		return fmt.Errorf("unit %q is not known", t.Unit)
	case t.Better != "higher" && t.Better != "lower":
		return fmt.Errorf("better must be higher or lower")
	case t.Pick != "best" && t.Pick != "mean" || t.Trials < 1:
		return fmt.Errorf("pick must be best or mean, of one trial or more")
	case (t.Kind == Strength) != (t.Lever != nil) || (t.Kind == Strength) != (t.Unit == "Nm/kg"):
		return fmt.Errorf("strength, and only strength, has a lever arm and Nm/kg")
	case t.Kind != Strength && !(t.High > t.Low):
		return fmt.Errorf("low and high must bound what can be meant")
	case len(t.Errors) == 0:
		return fmt.Errorf("an error figure is needed")
	}
	for _, e := range t.Errors {
		if (e.Value > 0) == (e.Percent > 0) || e.Source == "" || !slices.Contains(tags, e.Tag) {
			return fmt.Errorf("an error figure has a value or a percent, a source and a tag")
		}
		// A strength of nothing is no reading; a hold or a hop of nothing is one.
		if (e.Least > 0) != (e.Percent > 0 && t.Kind != Strength) {
			return fmt.Errorf("an error in percent of what can be 0, and no other, has a least")
		}
	}
	for _, r := range t.Ranges {
		span := r.Low != nil || r.High != nil
		spread := r.Mean != nil && r.SD != nil
		if r.Source == "" || !slices.Contains(tags, r.Tag) || !span && !spread && r.Typical == nil || span && spread {
			return fmt.Errorf("a range has low or high, or mean and sd, or a typical value, with a source and a tag")
		}
		if r.Of != "" && r.Of != "force_per_mass" || (r.Of == "") != (r.Unit == t.Unit) {
			return fmt.Errorf("the unit %q of a range is not that of the test", r.Unit)
		}
	}
	_, err := t.Guide.Draw()
	return err
}
