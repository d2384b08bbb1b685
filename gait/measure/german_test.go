package measure

import (
	"testing"

	"gaitwright/gait/table/tabletest"
)

// TestGermanHasEveryExplanation holds the German table against the measures: all that
// a measure says of itself is there, and nothing that no measure says.
func TestGermanHasEveryExplanation(t *testing.T) {
	tabletest.Faithful(t, Sentences("de"), func(say func(who, text string)) {
		for _, d := range Catalogue() {
			for _, s := range []string{d.Definition, d.Sign, d.Formula, d.Letters(), d.Error, d.Caution} {
				say(d.Name, s)
			}
		}
	})
	if Sentences("en") != nil {
		t.Error("English needs no table")
	}
}
