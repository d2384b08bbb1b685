package finding

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/table"
)

// Rules is everything the engine reasons with.
type Rules struct {
	Version   int               `yaml:"version"`
	Contested map[int]Contested `yaml:"contested"`
	// Same names, for a measure or test, the one whose other reading it is: the two
	// count once when it is asked what else speaks for a finding.
	Same     map[string]string `yaml:"same,omitempty"`
	Patterns []*Pattern        `yaml:"patterns"`
	Chains   []*Chain          `yaml:"chains"`
}

// Contested is a point that the literature disputes, said wherever it is touched.
type Contested struct {
	Text   string `yaml:"text"`
	Source string `yaml:"source"`
}

// Pattern is something that a film can show.
type Pattern struct {
	Name  string `yaml:"name"`
	Title string `yaml:"title"`
	// Each is true for a pattern of one side, false for one of the whole body.
	Each bool `yaml:"each"`
	// Seen says in plain words what is seen; %s stands for the side.
	Seen string      `yaml:"seen"`
	Core []Condition `yaml:"core"`
	// Adds are conditions that make it surer when they hold, and do not make it.
	Adds     []Condition `yaml:"adds,omitempty"`
	Causes   []Cause     `yaml:"causes"`
	Rivals   []Rival     `yaml:"rivals"`
	Overturn string      `yaml:"overturn"`
	// Change is how well it can be changed, 0 to 3, and ChangeWhy the reason with
	// its source.
	Change    int    `yaml:"change"`
	ChangeWhy string `yaml:"change_why"`
	// Safety is 1 where leaving it is the less safe way, 0 else.
	Safety int `yaml:"safety,omitempty"`
	// Regions are where a complaint links to it; "any" is any pain.
	Regions []string `yaml:"regions,omitempty"`
	// Quiet is true for what is common and mostly harmless: it is given as a
	// finding only where the runner's complaint links to it, and listed else.
	Quiet bool  `yaml:"quiet,omitempty"`
	Aims  []Aim `yaml:"aims"` // whatever the cause
	// Touches are the numbers of contested points.
	Touches []int `yaml:"contested,omitempty"`
}

// Condition is one comparison. Exactly one of Measure, Test and Pain is set.
type Condition struct {
	Measure string `yaml:"measure,omitempty"`
	Test    string `yaml:"test,omitempty"`
	Pain    string `yaml:"pain,omitempty"` // a region that hurts
	// Is: of a measure above, below or unequal (left against right, or of a
	// signed measure beyond both ends: outside); of a test above or below a limit
	// of its own, poor (beyond its range), weaker (the poorer side beyond error), poor_or_weaker, good, or
	// felt.
	Is string `yaml:"is,omitempty"`
	// Limit is the border, Range that the reference range gives it; of both the one
	// that is farther out counts, and the limit alone where there is no range.
	Limit *float64 `yaml:"limit,omitempty"`
	Range bool     `yaml:"range,omitempty"`
	// Where names the places of which one is felt, or Not that it is felt
	// anywhere else.
	Where []string `yaml:"where,omitempty"`
	Not   bool     `yaml:"not,omitempty"`
	// Other takes the other side's value.
	Other bool `yaml:"other,omitempty"`
	// With is a pattern that must be seen too.
	With   string `yaml:"with,omitempty"`
	Source string `yaml:"source,omitempty"`
	Tag    string `yaml:"tag,omitempty"`
}

// Cause is an explanation that the exam can speak to.
type Cause struct {
	Name    string      `yaml:"name"`
	Text    string      `yaml:"text"`
	For     []Condition `yaml:"for"`
	Against []Condition `yaml:"against,omitempty"`
	Aims    []Aim       `yaml:"aims,omitempty"`
}

// Rival is an explanation of another kind.
type Rival struct {
	Text   string `yaml:"text"`
	Settle string `yaml:"settle"` // what would tell
}

// Aim is what a programme should do.
type Aim struct {
	Block string `yaml:"block"` // release, lengthen, activate, strengthen, integrate
	Area  string `yaml:"area"`
	// Both asks for both sides even where one was found, and Why says why.
	Both bool   `yaml:"both,omitempty"`
	Why  string `yaml:"why,omitempty"`
}

// Chain is one explanation of several patterns.
type Chain struct {
	Name  string `yaml:"name"`
	Title string `yaml:"title"`
	Text  string `yaml:"text"`
	Each  bool   `yaml:"each"`
	// Needs are patterns that must all be seen; of Patterns and Exam together at
	// least Least must hold beside them.
	Needs    []string    `yaml:"needs"`
	Patterns []string    `yaml:"patterns,omitempty"`
	Exam     []Condition `yaml:"exam,omitempty"`
	// Unless speaks against the explanation: where one holds, the patterns stand
	// each for itself.
	Unless  []Condition `yaml:"unless,omitempty"`
	Least   int         `yaml:"least"`
	Touches []int       `yaml:"contested,omitempty"`
}

//go:embed rules.yaml
var rulesYAML []byte

//go:embed rules.schema.json
var schemaJSON []byte

// MaxBytes bounds a user's file of rules.
const MaxBytes = 2 << 20

var rulesFile = table.NewFile("file of rules", MaxBytes, schemaJSON, map[string]string{
	"oneOf": "a condition asks for one of a measure with what it is, a test with what it is, or a pain"})

// Default returns the embedded rules. They must not be changed.
var Default = sync.OnceValue(func() *Rules {
	r, err := Parse(rulesYAML)
	if err != nil {
		panic("finding: " + err.Error()) // rules.yaml is part of the program
	}
	return r
})

// Parse reads rules from YAML: their shape against the schema, then every name in
// them.
func Parse(data []byte) (*Rules, error) {
	var r Rules
	if err := rulesFile.Read(data, &r); err != nil {
		return nil, err
	}
	return &r, r.check()
}

// Pattern finds a pattern by name; nil where there is none.
func (r *Rules) Pattern(name string) *Pattern {
	i := slices.IndexFunc(r.Patterns, func(p *Pattern) bool { return p.Name == name })
	if i < 0 {
		return nil
	}
	return r.Patterns[i]
}

// noFault are measures on which no pattern may rest.
var noFault = []string{"strike_class", "foot_angle_at_contact"}

func (r *Rules) check() error {
	names := map[string]bool{}
	for _, p := range r.Patterns {
		if names[p.Name] {
			return fmt.Errorf("pattern %s is there twice", p.Name)
		}
		names[p.Name] = true
	}
	for a, b := range r.Same {
		for _, n := range []string{a, b} {
			_, isMeasure := measure.Lookup(n)
			if _, isTest := exam.Lookup(n); !isMeasure && !isTest {
				return fmt.Errorf("same: there is neither a measure nor a test %q", n)
			}
		}
	}
	touches := func(where string, numbers []int) error {
		for _, n := range numbers {
			if _, ok := r.Contested[n]; !ok {
				return fmt.Errorf("%s: there is no contested point %d", where, n)
			}
		}
		return nil
	}
	for _, p := range r.Patterns {
		all := [][]Condition{p.Core, p.Adds}
		for _, c := range p.Causes {
			all = append(all, c.For, c.Against)
		}
		for _, group := range all {
			for _, c := range group {
				if err := r.checkCondition(c); err != nil {
					return fmt.Errorf("pattern %s: %w", p.Name, err)
				}
			}
		}
		for _, c := range p.Core {
			if slices.Contains(noFault, c.Measure) {
				return fmt.Errorf("pattern %s: a foot strike by itself is no fault: %s cannot be a core condition", p.Name, c.Measure)
			}
			if c.Measure == "" && c.Test == "" {
				return fmt.Errorf("pattern %s: a core condition rests on a measure or a test", p.Name)
			}
		}
		if err := touches("pattern "+p.Name, p.Touches); err != nil {
			return err
		}
	}
	for _, c := range r.Chains {
		for _, n := range append(slices.Clone(c.Needs), c.Patterns...) {
			if !names[n] {
				return fmt.Errorf("chain %s: there is no pattern %q", c.Name, n)
			}
		}
		for _, x := range append(slices.Clone(c.Exam), c.Unless...) {
			if err := r.checkCondition(x); err != nil {
				return fmt.Errorf("chain %s: %w", c.Name, err)
			}
		}
		if c.Least > len(c.Patterns)+len(c.Exam) {
			return fmt.Errorf("chain %s can never hold: it asks for %d of %d parts", c.Name, c.Least, len(c.Patterns)+len(c.Exam))
		}
		if err := touches("chain "+c.Name, c.Touches); err != nil {
			return err
		}
	}
	return nil
}

func (r *Rules) checkCondition(c Condition) error {
	if c.With != "" && r.Pattern(c.With) == nil {
		return fmt.Errorf("there is no pattern %q", c.With)
	}
	switch {
	case c.Measure != "":
		if _, ok := measure.Lookup(c.Measure); !ok {
			return fmt.Errorf("there is no measure %q", c.Measure)
		}
		if !slices.Contains([]string{"above", "below", "outside", "unequal"}, c.Is) {
			return fmt.Errorf("measure %s: is %q must be above, below, outside or unequal", c.Measure, c.Is)
		}
		if c.Is != "unequal" && c.Limit == nil && !c.Range {
			return fmt.Errorf("measure %s: a limit or range: true is needed", c.Measure)
		}
		if c.Limit != nil && (c.Source == "" || c.Tag == "") {
			return fmt.Errorf("measure %s: a limit needs its source and tag", c.Measure)
		}
	case c.Test != "":
		t, ok := exam.Lookup(c.Test)
		if !ok {
			return fmt.Errorf("there is no test %q", c.Test)
		}
		byLimit := c.Is == "above" || c.Is == "below"
		if !byLimit && !slices.Contains([]string{"poor", "weaker", "poor_or_weaker", "good", "felt"}, c.Is) {
			return fmt.Errorf("test %s: is %q must be poor, weaker, poor_or_weaker, good, felt, above or below", c.Test, c.Is)
		}
		if byLimit != (c.Limit != nil) || byLimit && (c.Source == "" || c.Tag == "") {
			return fmt.Errorf("test %s: above and below need a limit with its source and tag, and only they have one", c.Test)
		}
		if (c.Is == "felt") != (len(c.Where) > 0) {
			return fmt.Errorf("test %s: felt needs where, and only felt has it", c.Test)
		}
		for _, w := range c.Where {
			if !slices.Contains(t.Felt, w) {
				return fmt.Errorf("test %s is never felt in %q", c.Test, w)
			}
		}
	}
	return nil
}

// Source returns the built-in rules as they are written.
func Source() string { return string(rulesYAML) }

// InWords says the condition as the rule has it, for the reader who asks why.
func (c Condition) InWords() string {
	var s string
	switch {
	case c.Measure != "":
		d, _ := measure.Lookup(c.Measure)
		s = fmt.Sprintf("%s is %s", d.Title, c.Is)
		switch {
		case c.Limit != nil && c.Is == "outside":
			s += fmt.Sprintf(" %s either way", d.FormatWithUnit(*c.Limit))
		case c.Limit != nil:
			s += " " + d.FormatWithUnit(*c.Limit)
			if c.Range {
				s += ", and " + c.Is + " its reference range at this speed where there is one,"
			}
		case c.Range:
			s += " its reference range"
		}
		s += " by more than 1.96 standard errors and the known bias"
	case c.Test != "":
		t, _ := exam.Lookup(c.Test)
		s = t.Title
		switch c.Is {
		case "felt":
			s += " is felt in the " + strings.Join(c.Where, " or ")
			if c.Not {
				s = t.Title + " is felt elsewhere than in the " + strings.Join(c.Where, " or ")
			}
		case "poor":
			s += " lies beyond its reference by more than the error"
		case "weaker":
			s += " is poorer on this side by more than the error"
		case "poor_or_weaker":
			s += " lies beyond its reference, or is poorer on this side, by more than the error"
		case "good":
			s += " lies inside its reference or is better, and is not the poorer side"
		default:
			s += fmt.Sprintf(" is %s %g %s by more than the error", c.Is, *c.Limit, t.Unit)
		}
	default:
		s = "Pain was told"
		if c.Pain != "any" {
			s += " at the " + strings.ReplaceAll(c.Pain, "_", " ")
		}
	}
	if c.With != "" {
		s += "; counts only together with " + strings.ReplaceAll(c.With, "_", " ")
	}
	return s
}
