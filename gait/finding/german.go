package finding

import (
	_ "embed"
	"fmt"
	"maps"
	"sync"

	"gaitwright/gait/table"

	"github.com/goccy/go-yaml"
)

//go:embed rules.de.yaml
var germanYAML []byte

var germanSentences = sync.OnceValue(func() map[string]string {
	var g struct {
		Sentences map[string]string `yaml:"sentences"`
	}
	if err := yaml.UnmarshalWithOptions(germanYAML, &g, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("finding: rules.de.yaml: %v", err)) // it is part of the program
	}
	return g.Sentences
})

// Sentences lists what the rules and the reasoning say in English beside the same in
// a language, "de" for German, {0} {1} … standing for what changes; nil where there
// is none.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}

var germanWords = sync.OnceValue(func() *table.Words { return table.NewWords(germanSentences()) })

// Say says in a language what the rules or the reasoning say in English. What there is
// no word for, such as a sentence of a user's own rules, stays as it is.
func Say(language, text string) string {
	if language != "de" {
		return text
	}
	return germanWords().Say(text)
}
