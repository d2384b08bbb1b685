package app

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/adrg/xdg"

	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
)

// ExercisesFile is the user's own file of exercises, laid over the built-in ones:
// GAITWRIGHT_EXERCISES where that is set, exercises.yaml in the configuration
// folder otherwise. It need not exist.
func ExercisesFile() string { return ownFile("GAITWRIGHT_EXERCISES", "exercises.yaml") }

// RulesFile is the user's own file of rules, used instead of the built-in ones:
// GAITWRIGHT_RULES where that is set, rules.yaml in the configuration folder
// otherwise. It need not exist.
func RulesFile() string { return ownFile("GAITWRIGHT_RULES", "rules.yaml") }

func ownFile(variable, name string) string {
	if f := os.Getenv(variable); f != "" {
		return f
	}
	return filepath.Join(xdg.ConfigHome, "gaitwright", name)
}

// ownKind is a kind of file that a user writes.
type ownKind struct {
	what string // what names it
	mend string // where to look for what stands in one
	most int    // bytes
}

// readOwn reads a user's file of a kind.
func readOwn[T any](file string, kind ownKind, parse func([]byte) (T, error)) (T, error) {
	var none T
	fault := func(what, mend string, err error) (T, error) {
		return none, &Problem{Kind: KindUsage, File: file, What: what, Mend: mend, Err: err}
	}
	i, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return fault("there is no such "+kind.what, "Check the name and the folder. "+kind.mend, err)
	case err != nil:
		return fault("the "+kind.what+" cannot be read: "+err.Error(), "Check the name and the folder.", err)
	case i.IsDir() || i.Size() > int64(kind.most):
		return fault(fmt.Sprintf("is no %s: a folder, or larger than %d bytes", kind.what, kind.most), kind.mend, nil)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return fault(err.Error(), "", err)
	}
	v, err := parse(data)
	if err != nil {
		return fault(err.Error(), kind.mend, err)
	}
	return v, nil
}

// exercisesFrom is the built-in library with a user's file laid over it.
func exercisesFrom(file string) (*programme.Library, error) {
	kind := ownKind{"file of exercises", "`gaitwright exercises --show` prints the built-in ones to copy from.", programme.MaxBytes}
	return readOwn(file, kind, func(data []byte) (*programme.Library, error) {
		own, err := programme.ParseLibrary(data)
		if err != nil {
			return nil, err
		}
		return programme.Default().With(own)
	})
}

// rulesFrom reads a whole set of rules.
func rulesFrom(file string) (*finding.Rules, error) {
	return readOwn(file, ownKind{"file of rules", "`gaitwright rules --show` prints the built-in ones to copy from.", finding.MaxBytes}, finding.Parse)
}

// exercisesInUse are the built-in exercises with the user's own; note says so
// where the user's file has a fault and is not used.
func exercisesInUse() (lib *programme.Library, note string) {
	lib, err := exercisesFrom(ExercisesFile())
	switch {
	case err == nil:
		return lib, ""
	case errors.Is(err, fs.ErrNotExist):
		return programme.Default(), ""
	}
	return programme.Default(), "Your own exercises are not used: " + InOneLine(err)
}

// rulesInUse are the user's own rules, or the built-in ones; note says so where
// the user's file has a fault and is not used.
func rulesInUse() (rules *finding.Rules, note string) {
	rules, err := rulesFrom(RulesFile())
	switch {
	case err == nil:
		return rules, "Your own rules are used: " + RulesFile()
	case errors.Is(err, fs.ErrNotExist):
		return finding.Default(), ""
	}
	return finding.Default(), "Your own rules are not used: " + InOneLine(err)
}

// ShowExercises returns the built-in exercises as YAML to copy.
func ShowExercises() string {
	return fmt.Sprintf("# Exercises built into the program. To use your own, copy some to\n# %s\n# and change them there: the same name replaces an exercise, another adds one.\n%s", ExercisesFile(), programme.Source())
}

// ShowRules returns the built-in rules as YAML to copy.
func ShowRules() string {
	return fmt.Sprintf("# Rules built into the program. To use your own, copy all of them to\n# %s\n# and change them there: that file is then used instead.\n%s", RulesFile(), finding.Source())
}

// CheckExercises says in a sentence that a file of exercises is sound, or fails
// with what is wrong in it.
func CheckExercises(file string) (string, error) {
	lib, err := exercisesFrom(file)
	if err != nil {
		return "", err
	}
	own := 0
	for _, e := range lib.Exercises {
		if e.Own {
			own++
		}
	}
	return fmt.Sprintf("%s is sound: %s, %d in all with the built-in ones.\n", file, plural(own, "exercise", "exercises"), len(lib.Exercises)), nil
}

// CheckRules says in a sentence that a file of rules is sound, or fails with what
// is wrong in it.
func CheckRules(file string) (string, error) {
	r, err := rulesFrom(file)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s is sound: %s, %s that join them, version %d.\n", file, plural(len(r.Patterns), "pattern", "patterns"), plural(len(r.Chains), "explanation", "explanations"), r.Version), nil
}

// ListExercises lists the exercises in use by block; an empty area means all.
func ListExercises(area string) string {
	lib, note := exercisesInUse()
	var b strings.Builder
	if note != "" {
		fmt.Fprintln(&b, note)
	}
	for _, block := range programme.Blocks {
		fmt.Fprintf(&b, "%s\n", strings.ToUpper(block[:1])+block[1:])
		for _, e := range lib.Exercises {
			if e.Block != block || area != "" && e.Area != area {
				continue
			}
			needs := strings.Join(e.Needs, ", ")
			if needs == "" {
				needs = "nothing"
			}
			own := ""
			if e.Own {
				own = " (own)"
			}
			fmt.Fprintf(&b, "  %-26s %-17s level %d  %-22s %s%s; needs %s\n", e.Name, e.Area, e.Level, DoseText(e.Dose), e.Title, own, needs)
		}
	}
	return b.String()
}
