package programme

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/figure"
	"gaitwright/gait/table"
)

// Blocks in the trade's order.
var Blocks = []string{"release", "lengthen", "activate", "strengthen", "integrate"}

// Equipment that an exercise may ask for. A mat is never missing: a carpet does.
var Equipment = []string{"mat", "roller", "ball", "band", "step", "bench", "weight", "towel", "click"}

// always is at hand for everybody.
var always = []string{"mat", "towel", "click"}

// Dose is how much of an exercise.
type Dose struct {
	Sets    int `yaml:"sets" json:"sets"`
	Reps    int `yaml:"reps,omitempty" json:"reps,omitempty"`
	HoldS   int `yaml:"hold_s,omitempty" json:"hold_s,omitempty"`   // each repetition
	Seconds int `yaml:"seconds,omitempty" json:"seconds,omitempty"` // a set by time, instead of Reps
	// Pace is seconds down, hold and up, such as "3-1-1".
	Pace    string `yaml:"pace,omitempty" json:"pace,omitempty"`
	RestS   int    `yaml:"rest_s" json:"rest_s"`
	PerWeek int    `yaml:"per_week" json:"per_week"`
}

// Exercise is one exercise of the library.
type Exercise struct {
	Name  string `yaml:"name"`
	Title string `yaml:"title"`
	Block string `yaml:"block"`
	Area  string `yaml:"area"`
	Level int    `yaml:"level"`         // 1 easy to 3 hard
	Each  bool   `yaml:"each"`          // one side at a time
	Warm  bool   `yaml:"warm"`          // fits a warm-up
	Run   bool   `yaml:"run,omitempty"` // done while running, costs no session time
	// Stands is true for what is done on the feet: the body's weight is on hip, knee
	// and foot.
	Stands bool     `yaml:"stands,omitempty"`
	Dose   Dose     `yaml:"dose"`
	Needs  []string `yaml:"equipment"`
	How    []string `yaml:"how"`
	Cue    string   `yaml:"cue"`
	Felt   string   `yaml:"felt"`
	// NotFelt is where it should not be felt.
	NotFelt string `yaml:"not_felt"`
	Easier  string `yaml:"easier,omitempty"`
	Harder  string `yaml:"harder,omitempty"`
	// Avoid are regions that must not hurt or be referred.
	Avoid    []string    `yaml:"avoid"`
	Evidence string      `yaml:"evidence"`
	Tag      string      `yaml:"tag"`
	Start    figure.Pose `yaml:"start"`
	End      figure.Pose `yaml:"end"`
	// Own is true for one of the user's own file.
	Own bool `yaml:"-"`
}

// StopSigns are those of every exercise.
var StopSigns = []string{
	"Pain above 5 of 10, or pain that changes how you move.",
	"Pin-point pain on a bone, or pain at night: stop running too and see a clinician.",
	"Numbness, weakness, swelling, or a joint that locks or gives way: see a clinician.",
	"Chest pain, faintness or unusual breathlessness: stop and get help at once.",
}

// Library is a set of exercises.
type Library struct {
	Exercises []*Exercise
}

//go:embed library.yaml
var libraryYAML []byte

// Default returns the embedded library. It must not be changed.
var Default = sync.OnceValue(func() *Library {
	l, err := ParseLibrary(libraryYAML)
	if err == nil {
		err = l.links()
	}
	if err != nil {
		panic("programme: " + err.Error()) // library.yaml is part of the program
	}
	return l
})

// MaxBytes bounds a user's file of exercises.
const MaxBytes = 2 << 20

var exercisesFile = table.NewFile("file of exercises", MaxBytes, nil, nil)

// Source returns the built-in exercises as they are written.
func Source() string { return string(libraryYAML) }

// ParseLibrary reads exercises from YAML and checks each.
func ParseLibrary(data []byte) (*Library, error) {
	var file struct {
		Version   int         `yaml:"version"`
		Exercises []*Exercise `yaml:"exercises"`
	}
	if err := exercisesFile.Read(data, &file); err != nil {
		return nil, err
	}
	if file.Version != 1 {
		return nil, fmt.Errorf("version %d is not known: write version: 1", file.Version)
	}
	seen := map[string]bool{}
	for i, e := range file.Exercises {
		if e == nil {
			return nil, fmt.Errorf("exercise %d is empty", i+1)
		}
		if err := e.check(); err != nil {
			return nil, fmt.Errorf("exercise %q: %w", e.Name, err)
		}
		if seen[e.Name] {
			return nil, fmt.Errorf("exercise %q is there twice", e.Name)
		}
		seen[e.Name] = true
	}
	return &Library{file.Exercises}, nil
}

// With returns the library with the exercises of another: those of the same name
// replace, others are put behind.
func (l *Library) With(own *Library) (*Library, error) {
	out := &Library{slices.Clone(l.Exercises)}
	for _, e := range own.Exercises {
		e.Own = true
		if i := slices.IndexFunc(out.Exercises, func(x *Exercise) bool { return x.Name == e.Name }); i >= 0 {
			out.Exercises[i] = e
		} else {
			out.Exercises = append(out.Exercises, e)
		}
	}
	return out, out.links()
}

// Lookup finds an exercise by name; nil where there is none.
func (l *Library) Lookup(name string) *Exercise {
	i := slices.IndexFunc(l.Exercises, func(e *Exercise) bool { return e.Name == name })
	if i < 0 {
		return nil
	}
	return l.Exercises[i]
}

// family names the easiest form of an exercise in its block, by which its forms
// are told from other exercises.
func (l *Library) family(e *Exercise) string {
	for range len(l.Exercises) {
		easier := l.Lookup(e.Easier)
		if easier == nil || easier.Block != e.Block || easier.Level > e.Level {
			break
		}
		e = easier
	}
	return e.Name
}

// easierForms lists the easier forms of an exercise in its block, by what either
// says of the other.
func (l *Library) easierForms(e *Exercise) []*Exercise {
	out := []*Exercise{e}
	for k := 0; k < len(out); k++ {
		for _, x := range l.Exercises {
			if (x.Name == out[k].Easier || x.Harder == out[k].Name) && x.Block == e.Block && !slices.Contains(out, x) {
				out = append(out, x)
			}
		}
	}
	return out[1:]
}

// links checks that easier and harder name exercises.
func (l *Library) links() error {
	for _, e := range l.Exercises {
		for _, n := range []string{e.Easier, e.Harder} {
			if n != "" && l.Lookup(n) == nil {
				return fmt.Errorf("exercise %q: there is no exercise %q", e.Name, n)
			}
			if n == e.Name && n != "" {
				return fmt.Errorf("exercise %q is easier or harder than itself", e.Name)
			}
		}
	}
	return nil
}

func (e *Exercise) check() error {
	switch {
	case e.Name == "" || e.Title == "" || e.Area == "" || len(e.How) == 0 || e.Cue == "" || e.Felt == "" || e.Evidence == "":
		return fmt.Errorf("name, title, area, how, cue, felt and evidence are needed")
	case !slices.Contains(Blocks, e.Block):
		return fmt.Errorf("block %q is none of %s", e.Block, strings.Join(Blocks, ", "))
	case e.Level < 1 || e.Level > 3:
		return fmt.Errorf("level %d is not 1 to 3", e.Level)
	case !slices.Contains([]string{"seen", "computed", "from memory", "common practice"}, e.Tag):
		return fmt.Errorf("tag %q is none of seen, computed, from memory, common practice", e.Tag)
	}
	for _, n := range e.Needs {
		if !slices.Contains(Equipment, n) {
			return fmt.Errorf("equipment %q is none of %s", n, strings.Join(Equipment, ", "))
		}
	}
	if err := e.Dose.Check(); err != nil {
		return err
	}
	for _, p := range []figure.Pose{e.Start, e.End} {
		if _, err := p.Draw(); err != nil {
			return err
		}
	}
	return nil
}

// Check refuses a dose that cannot be meant.
func (d Dose) Check() error {
	switch {
	case d.Sets < 1 || d.Sets > 10:
		return fmt.Errorf("%d sets are not 1 to 10", d.Sets)
	case (d.Reps > 0) == (d.Seconds > 0):
		return fmt.Errorf("a dose has repetitions or seconds, one of them")
	case d.Reps > 60 || d.Seconds > 600 || d.HoldS < 0 || d.HoldS > 60 || d.RestS < 0 || d.RestS > 300:
		return fmt.Errorf("up to 60 repetitions, 600 seconds a set, 60 seconds of hold and 300 of rest")
	case d.PerWeek < 1 || d.PerWeek > 7:
		return fmt.Errorf("%d days a week are not 1 to 7", d.PerWeek)
	}
	_, err := d.paceS()
	return err
}

// paceS is the seconds of one repetition without its hold.
func (d Dose) paceS() (int, error) {
	if d.Pace == "" {
		return 2, nil
	}
	total := 0
	parts := strings.Split(d.Pace, "-")
	for _, p := range parts {
		if len(p) != 1 || p[0] < '0' || p[0] > '9' {
			return 0, fmt.Errorf("pace %q is not seconds down, hold and up, such as 3-1-1", d.Pace)
		}
		total += int(p[0] - '0')
	}
	if len(parts) != 3 || total == 0 {
		return 0, fmt.Errorf("pace %q is not seconds down, hold and up, such as 3-1-1", d.Pace)
	}
	return total, nil
}

// setupS is the time to get into place.
const setupS = 20

// TimeS is how long the dose takes on so many sides.
func (d Dose) TimeS(sides int) int {
	work := d.Seconds
	if d.Reps > 0 {
		pace, err := d.paceS()
		if err != nil {
			pace = 3
		}
		work = d.Reps * (pace + d.HoldS)
	}
	return sides*(d.Sets*work+(d.Sets-1)*d.RestS) + setupS
}
