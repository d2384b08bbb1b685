package norm

import (
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

// BenchmarkLookup finds the ranges of every measure for one clip.
func BenchmarkLookup(b *testing.B) {
	table := BuiltIn()
	c := Conditions{View: clip.Spatial, SpeedMPS: 3, Sex: "female"}
	for b.Loop() {
		for _, d := range measure.Catalogue() {
			table.Lookup(d.Name, c)
		}
	}
}
