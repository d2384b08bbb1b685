package exam

import (
	_ "embed"
	"fmt"
	"maps"
	"sync"

	"github.com/goccy/go-yaml"
)

//go:embed tests.de.yaml
var germanYAML []byte

var germanSentences = sync.OnceValue(func() map[string]string {
	var g struct {
		Sentences map[string]string `yaml:"sentences"`
	}
	if err := yaml.UnmarshalWithOptions(germanYAML, &g, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("exam: tests.de.yaml: %v", err)) // it is part of the program
	}
	return g.Sentences
})

// Sentences lists what the tests say in English of how they are done and read beside
// the same in a language, "de" for German; nil where there is none. Titles are not
// among them: the rules that speak of the tests have those.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	return maps.Clone(germanSentences())
}
