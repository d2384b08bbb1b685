package measure

import (
	_ "embed"
	"maps"

	"gaitwright/gait/table"
)

//go:embed measures.de.yaml
var germanYAML []byte

var germanSentences = table.Sentences("measure: measures.de.yaml", germanYAML)

// Sentences lists what the measures say of themselves in English (definition, sign,
// formula and its letters, error, caution) beside the same in a language, "de" for
// German; nil where there is none. Titles, groups and what to film instead are not
// among them: the page has those; sources stay as they are.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}
