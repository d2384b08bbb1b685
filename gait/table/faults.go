// Package table reads the files of rules, ranges, exercises and names that the program
// brings and people write too: a File is read strictly, what is wrong with its shape is
// said in plain words with its place, one fault a line, and Words says sentences of the
// program in another language.
package table

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

// Faults says in plain words what is wrong with a file and where; what names the
// kind of file, such as "file of reference ranges". choices says, by the keyword
// of a schema that offers several shapes (oneOf, anyOf), what they are. An error
// that is none of a schema is returned as it is.
func Faults(err error, what string, choices map[string]string) error {
	var v *jsonschema.ValidationError
	if !errors.As(err, &v) {
		return err
	}
	var lines []string
	var walk func(*jsonschema.ValidationError)
	walk = func(e *jsonschema.ValidationError) {
		for _, word := range e.ErrorKind.KeywordPath() {
			if text, ok := choices[word]; ok {
				lines = append(lines, place(e.InstanceLocation)+": "+text)
				return
			}
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
	return fmt.Errorf("this is no %s, or has faults:\n  %s", what, strings.Join(slices.Compact(lines), "\n  "))
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
	case *kind.Pattern: // only names have one
		return fmt.Sprintf("%q cannot be a name here: use small letters, figures, and what the others have between them, and begin with a letter or figure", k.Got)
	case *kind.Enum:
		want := make([]string, len(k.Want))
		for i, w := range k.Want {
			want[i] = fmt.Sprint(w)
		}
		return fmt.Sprintf("%v is none of %s", k.Got, strings.Join(want, ", "))
	}
	return k.LocalizedString(message.NewPrinter(language.English))
}
