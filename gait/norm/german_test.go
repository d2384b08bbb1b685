package norm

import (
	"testing"

	"gaitwright/gait/table/tabletest"
)

// TestGermanHasEveryRange holds the German table against the program's own ranges:
// whatever one says is there, and nothing that none says.
func TestGermanHasEveryRange(t *testing.T) {
	tabletest.Faithful(t, Sentences("de"), func(say func(who, text string)) {
		for name, data := range Files() {
			file, err := Parse(data)
			if err != nil {
				t.Fatal(name, err)
			}
			for _, r := range file.Rows {
				for _, s := range []string{r.Sample, r.Method, r.Note, r.Contested} {
					say(r.ID, s)
				}
			}
		}
	})
	if Sentences("en") != nil {
		t.Error("English needs no table")
	}
}
