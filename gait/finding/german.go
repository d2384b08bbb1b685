package finding

import (
	_ "embed"
	"maps"

	"gaitwright/gait/table"
)

//go:embed rules.de.yaml
var germanYAML []byte

var germanSentences = table.Sentences("finding: rules.de.yaml", germanYAML)

// Sentences lists what the rules and the reasoning say in English beside the same in
// a language, "de" for German, {0} {1} … standing for what changes; nil where there
// is none.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}
