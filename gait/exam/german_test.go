package exam

import (
	"slices"
	"testing"

	"gaitwright/gait/table/tabletest"
)

// TestGermanHasEverySentence holds the German table against the tests: every sentence
// of how a test is done and read is there, and nothing that no test says.
func TestGermanHasEverySentence(t *testing.T) {
	german := Sentences("de")
	tabletest.Faithful(t, german, func(say func(who, text string)) {
		for _, x := range Catalogue() {
			lines := slices.Concat([]string{x.Sign, x.Position}, x.How, x.Watch, x.Notes)
			if x.Lever != nil {
				lines = append(lines, x.Lever.From, x.Lever.To)
			}
			for _, r := range x.Ranges {
				lines = append(lines, r.Note)
			}
			for _, s := range lines {
				say(x.Name, s)
			}
		}
	})
	for s, de := range german {
		if s == de {
			t.Errorf("%q is not translated", s)
		}
	}
	if Sentences("en") != nil {
		t.Error("English needs no table")
	}
}
