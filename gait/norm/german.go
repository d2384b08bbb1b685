package norm

import (
	_ "embed"
	"maps"

	"gaitwright/gait/table"
)

//go:embed ranges.de.yaml
var germanYAML []byte

var germanSentences = table.Sentences("norm: ranges.de.yaml", germanYAML)

// Sentences lists what the program's ranges say in English (the people measured, how,
// notes, what is disputed) beside the same in a language, "de" for German; nil where
// there is none. Sources stay as they are, and so does what a user's own file says.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}
