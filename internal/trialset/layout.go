package trialset

import (
	"embed"
	"fmt"
	"regexp"
	"strings"

	"github.com/goccy/go-yaml"

	"gaitwright/gait/table"
	"gaitwright/num/quantity"
)

//go:embed layouts/*.yaml
var layouts embed.FS

//go:embed schema.json
var schemaJSON []byte

// MaxBytes bounds a user's layout file.
const MaxBytes = 1 << 18

var file = table.NewFile("layout of a research set", MaxBytes, schemaJSON, map[string]string{"oneOf": "a pattern of file names, or a list of them"})

// Layout says how the files of a set are named.
type Layout struct {
	Name      string   `yaml:"name"`
	About     string   `yaml:"about"`
	Source    string   `yaml:"source"`
	Trials    Patterns `yaml:"trials"`
	Standing  string   `yaml:"standing"`
	Speeds    Words    `yaml:"speeds"`     // speed by what stands for {speed}
	SpeedUnit string   `yaml:"speed_unit"` // where {speed} is a plain number
	Speed     string   `yaml:"speed"`      // of trials whose names tell none
	Views     Words    `yaml:"views"`
	// Overground says that the runners ran over ground, not on a treadmill.
	Overground bool   `yaml:"overground"`
	Contacts   string `yaml:"contacts"` // force, motion, or empty for force where there is any
	Markers    string `yaml:"markers"`  // a mapping of marker names, beside the layout's file
	// RangesFrom begins the ids of reference ranges that were computed from this set:
	// it is never held against itself.
	RangesFrom   string        `yaml:"ranges_from"`
	Participants *Participants `yaml:"participants"`

	// Dir is the folder of the layout's file; empty for a built-in one.
	Dir string `yaml:"-"`

	trials   []*regexp.Regexp
	standing *regexp.Regexp
	names    [][]string // placeholders by pattern
}

// Words gives something by a word of a file's name.
type Words map[string]string

// Patterns is one pattern or a list of them.
type Patterns []string

// UnmarshalYAML reads one pattern or several.
func (p *Patterns) UnmarshalYAML(data []byte) error {
	var one string
	if err := yaml.Unmarshal(data, &one); err == nil {
		*p = Patterns{one}
		return nil
	}
	var many []string
	if err := yaml.Unmarshal(data, &many); err != nil {
		return err
	}
	*p = many
	return nil
}

// Participants says where a set tells of its people.
type Participants struct {
	Files   []string `yaml:"files"` // the first that is there is read
	Subject string   `yaml:"subject"`
	Age     string   `yaml:"age"`
	Sex     string   `yaml:"sex"`
	Height  *Column  `yaml:"height"`
	Leg     *Column  `yaml:"leg"`
	Mass    *Column  `yaml:"mass"`
}

// Column is a column of a quantity and its unit.
type Column struct {
	Column string `yaml:"column"`
	Unit   string `yaml:"unit"`
}

// Names are the names of the built-in layouts.
func Names() []string {
	entries, err := layouts.ReadDir("layouts")
	if err != nil {
		panic(err) // the layouts are part of the program
	}
	out := make([]string, len(entries))
	for i, e := range entries {
		out[i] = strings.TrimSuffix(e.Name(), ".yaml")
	}
	return out
}

// Source returns the YAML text of a built-in layout, as a start for one's own.
func Source(name string) ([]byte, error) {
	data, err := layouts.ReadFile("layouts/" + name + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("the layout %q is not built in: the built-in ones are %s", name, strings.Join(Names(), ", "))
	}
	return data, nil
}

// BuiltIn returns a built-in layout by its name.
func BuiltIn(name string) (*Layout, error) {
	data, err := Source(name)
	if err != nil {
		return nil, err
	}
	return Parse(data)
}

// Parse reads a layout from YAML and checks it: its shape against the schema, then
// what it says.
func Parse(data []byte) (*Layout, error) {
	var l Layout
	if err := file.Read(data, &l); err != nil {
		return nil, err
	}
	return &l, l.compile()
}

// compile turns the patterns into expressions and checks what the layout says.
func (l *Layout) compile() error {
	for i, p := range l.Trials {
		re, names, err := expression(p)
		if err != nil {
			return fmt.Errorf("trials, pattern %d: %w", i+1, err)
		}
		if !strings.Contains(p, "{subject}") {
			return fmt.Errorf("trials, pattern %d: %q does not tell whose trial it is: {subject} is missing", i+1, p)
		}
		l.trials = append(l.trials, re)
		l.names = append(l.names, names)
	}
	if l.Standing != "" {
		re, names, err := expression(l.Standing)
		if err != nil {
			return fmt.Errorf("standing: %w", err)
		}
		if len(names) != 1 || names[0] != "subject" {
			return fmt.Errorf("standing: %q must name the {subject}, and nothing else", l.Standing)
		}
		l.standing = re
	}
	for word, text := range l.Speeds {
		if _, err := quantity.ParseSpeed(text); err != nil {
			return fmt.Errorf("speeds, %s: %w", word, err)
		}
	}
	if l.Speed != "" {
		if _, err := quantity.ParseSpeed(l.Speed); err != nil {
			return fmt.Errorf("speed: %w", err)
		}
	}
	if p := l.Participants; p != nil {
		for _, c := range []struct {
			what string
			of   *Column
			mass bool
		}{{"height", p.Height, false}, {"leg", p.Leg, false}, {"mass", p.Mass, true}} {
			if c.of != nil && (c.of.Unit == "kg" || c.of.Unit == "lb") != c.mass {
				return fmt.Errorf("participants, %s: %s is no unit for it", c.what, c.of.Unit)
			}
		}
	}
	return nil
}

var placeholder = regexp.MustCompile(`\{[^{}]*\}|\*`)

// expression turns a pattern of names into a regular expression.
func expression(pattern string) (*regexp.Regexp, []string, error) {
	var b strings.Builder
	b.WriteString(`(?i)^`)
	var names []string
	at := 0
	for _, m := range placeholder.FindAllStringIndex(pattern, -1) {
		b.WriteString(regexp.QuoteMeta(pattern[at:m[0]]))
		word := pattern[m[0]:m[1]]
		at = m[1]
		if word == "*" {
			b.WriteString(`[^/]*`)
			continue
		}
		name := word[1 : len(word)-1]
		switch name {
		case "subject", "speed", "trial", "view":
		default:
			return nil, nil, fmt.Errorf("%s stands for nothing: {subject}, {speed}, {trial} and {view} do", word)
		}
		for _, n := range names {
			if n == name {
				return nil, nil, fmt.Errorf("%s is there twice in %q", word, pattern)
			}
		}
		names = append(names, name)
		b.WriteString(`([^/]+?)`)
	}
	b.WriteString(regexp.QuoteMeta(pattern[at:]))
	b.WriteString(`$`)
	re, err := regexp.Compile(b.String())
	if err != nil {
		return nil, nil, fmt.Errorf("%q cannot be understood: %w", pattern, err)
	}
	return re, names, nil
}
