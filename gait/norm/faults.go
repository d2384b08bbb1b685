package norm

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
		switch path := e.ErrorKind.KeywordPath(); {
		case slices.Contains(path, "oneOf"):
			lines = append(lines, place(e.InstanceLocation)+": a row has either mean and sd, or low or high or both")
			return
		case slices.Contains(path, "anyOf"):
			lines = append(lines, place(e.InstanceLocation)+": there are neither rows nor hide")
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
	return fmt.Errorf("this is no file of reference ranges, or has faults:\n  %s", strings.Join(slices.Compact(lines), "\n  "))
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
	case *kind.Pattern: // only ids have one
		return fmt.Sprintf("%q cannot be an id: use small letters, figures, dots and hyphens, and begin with a letter or figure", k.Got)
	}
	return k.LocalizedString(message.NewPrinter(language.English))
}
