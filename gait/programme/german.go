package programme

import (
	_ "embed"
	"fmt"
	"maps"
	"sync"

	"gaitwright/gait/finding"
	"gaitwright/gait/table"

	"github.com/goccy/go-yaml"
)

//go:embed library.de.yaml
var germanYAML []byte

// words are those of an exercise in another language.
type words struct {
	Title   string   `yaml:"title"`
	How     []string `yaml:"how"`
	Cue     string   `yaml:"cue"`
	Felt    string   `yaml:"felt"`
	NotFelt string   `yaml:"not_felt"`
}

// germanTable is library.de.yaml.
type germanTable struct {
	Exercises map[string]words  `yaml:"exercises"`
	Evidence  map[string]string `yaml:"evidence"`
	Tags      map[string]string `yaml:"tags"`
	Stops     map[string]string `yaml:"stops"`
	Said      map[string]string `yaml:"said"`
}

var german = sync.OnceValue(func() germanTable {
	var g germanTable
	if err := yaml.UnmarshalWithOptions(germanYAML, &g, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("programme: library.de.yaml: %v", err)) // it is part of the program
	}
	return g
})

// In returns the exercise with its words in a language, "de" for German. The words of
// a user's own exercise stay as they were written, and for another language they stay
// English.
func (e *Exercise) In(language string) *Exercise {
	if language != "de" || e.Own {
		return e
	}
	g := german()
	w, ok := g.Exercises[e.Name]
	if !ok {
		return e
	}
	out := *e
	out.Title, out.How, out.Cue, out.Felt, out.NotFelt = w.Title, w.How, w.Cue, w.Felt, w.NotFelt
	if s, ok := g.Evidence[e.Evidence]; ok {
		out.Evidence = s
	}
	if s, ok := g.Tags[e.Tag]; ok {
		out.Tag = s
	}
	return &out
}

// Sentences lists what the package and the reasoning before it say in English beside
// the same in a language, {0} {1} … standing for what changes; nil where there is
// none. The words of the exercises are among them.
func Sentences(language string) map[string]string {
	if language != "de" {
		return nil
	}
	g := german()
	out := maps.Clone(finding.Sentences(language))
	for _, m := range []map[string]string{g.Evidence, g.Tags, g.Stops, g.Said} {
		maps.Copy(out, m)
	}
	for _, e := range Default().Exercises {
		w := g.Exercises[e.Name]
		out[e.Title], out[e.Cue], out[e.Felt] = w.Title, w.Cue, w.Felt
		if e.NotFelt != "" {
			out[e.NotFelt] = w.NotFelt
		}
		for k, how := range e.How {
			if k < len(w.How) {
				out[how] = w.How[k]
			}
		}
	}
	return out
}

var germanWords = sync.OnceValue(func() *table.Words { return table.NewWords(Sentences("de")) })

// Say says in a language what the package or the reasoning before it says in English:
// notes of weeks, what an item is for, rules of going on, stop signs, why there is no
// plan. What there is no word for, such as a coach's own, stays as it is.
func Say(language, text string) string {
	if language != "de" {
		return text
	}
	return germanWords().Say(text)
}
