package measure

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestGermanHasEveryExplanation holds the German table against the measures: all that
// a measure says of itself is there, with the same numbers and the same citations, and
// nothing that no measure says.
func TestGermanHasEveryExplanation(t *testing.T) {
	german := Sentences("de")
	said := map[string]bool{}
	for _, d := range Catalogue() {
		for _, s := range []string{d.Definition, d.Sign, d.Formula, d.Letters(), d.Error, d.Caution} {
			if s == "" {
				continue
			}
			said[s] = true
			if german[s] == "" {
				t.Errorf("%s: no German for %q", d.Name, s)
			}
		}
	}
	citation := regexp.MustCompile(`\p{Lu}\pL+(?: et al\.| & \p{Lu}\pL+)? (?:19|20)\d\d(?:, [\p{Lu}][^;()]*? \d+:[\de-]+(?:-\d+)?)?`)
	number := regexp.MustCompile(`\d+(?:[.,]\d+)*`)
	// numbers lists those of a text, by their digits: 3,404 and 3404, 9.81 and 9,81 are the same.
	numbers := func(s string) []string {
		all := number.FindAllString(s, -1)
		for i, n := range all {
			all[i] = strings.NewReplacer(".", "", ",", "").Replace(n)
		}
		slices.Sort(all)
		return all
	}
	for s, de := range german {
		if !said[s] {
			t.Errorf("no measure says %q", s)
		}
		if strings.HasSuffix(s, ".") != strings.HasSuffix(de, ".") {
			t.Errorf("one of %q and %q ends with a full stop", s, de)
		}
		if a, b := numbers(s), numbers(de); !slices.Equal(a, b) {
			t.Errorf("%q has the numbers %v, %q has %v", s, a, de, b)
		}
		for _, c := range citation.FindAllString(s, -1) {
			if !strings.Contains(de, c) {
				t.Errorf("%q does not name %q", de, c)
			}
		}
	}
	if Sentences("en") != nil {
		t.Error("English needs no table")
	}
}
