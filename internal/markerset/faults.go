package markerset

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/santhosh-tekuri/jsonschema/v6/kind"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
)

// schemaError says in plain words what is wrong with a file and where, one fault
// a line.
func schemaError(err error) error {
	var v *jsonschema.ValidationError
	if !errors.As(err, &v) {
		return err
	}
	var lines []string
	var walk func(*jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		if slices.Contains(e.ErrorKind.KeywordPath(), "oneOf") {
			lines = append(lines, place(e.InstanceLocation)+": a recipe has exactly one of mean, inward, hip, functional, toe and between")
			return
		}
		if len(e.Causes) == 0 {
			lines = append(lines, place(e.InstanceLocation)+": "+inWords(e.ErrorKind))
		}
		for _, c := range e.Causes {
			walk(c)
		}
	}
	walk(v)
	slices.Sort(lines)
	return fmt.Errorf("this is no mapping of marker names, or has faults:\n  %s", strings.Join(slices.Compact(lines), "\n  "))
}

// place names a place in the file as a person counts.
func place(location []string) string {
	if len(location) == 0 {
		return "the file as a whole"
	}
	words := slices.Clone(location)
	for i, w := range words {
		if n, err := strconv.Atoi(w); err == nil {
			words[i] = fmt.Sprintf("entry %d", n+1)
		}
	}
	return strings.Join(words, ", ")
}

// kindsOfValue are the kinds of value in plain words.
var kindsOfValue = map[string]string{"object": "a set of names with values", "array": "a list", "string": "a text", "number": "a number",
	"integer": "a whole number", "boolean": "true or false", "null": "nothing"}

func inWords(k jsonschema.ErrorKind) string {
	switch k := k.(type) {
	case *kind.Type:
		want := make([]string, len(k.Want))
		for i, w := range k.Want {
			want[i] = kindsOfValue[w]
		}
		return fmt.Sprintf("here stands %s; %s is wanted", kindsOfValue[k.Got], strings.Join(want, " or "))
	case *kind.AdditionalProperties:
		return fmt.Sprintf("%s: not a name that is used here", strings.Join(k.Properties, ", "))
	case *kind.Required:
		return "missing: " + strings.Join(k.Missing, ", ")
	}
	return k.LocalizedString(message.NewPrinter(language.English))
}
