package exam

import (
	_ "embed"
	"maps"

	"gaitwright/gait/table"
)

//go:embed tests.de.yaml
var germanYAML []byte

var germanSentences = table.Sentences("exam: tests.de.yaml", germanYAML)

// Sentences lists what the tests say in English of how they are done and read beside
// the same in a language, "de" for German; nil where there is none. Titles are not
// among them: the rules that speak of the tests have those.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}
