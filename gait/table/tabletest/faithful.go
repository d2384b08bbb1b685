// Package tabletest holds a table of sentences against what it translates.
package tabletest

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

var (
	citation = regexp.MustCompile(`\p{Lu}\pL+(?: et al\.| & \p{Lu}\pL+)? (?:19|20)\d\d(?:, [\p{Lu}][^;()]*? \d+:[\de-]+(?:-\d+)?)?`)
	number   = regexp.MustCompile(`\d+(?:[.,]\d+)*`)
)

// numbers lists those of a text, by their digits: 3,404 and 3404, 9.81 and 9,81 are the same.
func numbers(s string) []string {
	all := number.FindAllString(s, -1)
	for i, n := range all {
		all[i] = strings.NewReplacer(".", "", ",", "").Replace(n)
	}
	slices.Sort(all)
	return all
}

// Faithful holds a table, English to another language, against the texts that are said,
// by who says them: each is there, with the same numbers, the same citations and the
// same end, and nothing that nobody says. Empty texts are left out.
func Faithful(t *testing.T, sentences map[string]string, texts func(say func(who, text string))) {
	t.Helper()
	said := map[string]bool{}
	texts(func(who, text string) {
		if text == "" || said[text] {
			return
		}
		said[text] = true
		if sentences[text] == "" {
			t.Errorf("%s: not translated: %q", who, text)
		}
	})
	if len(said) == 0 {
		t.Error("nothing is said")
	}
	for s, to := range sentences {
		if !said[s] {
			t.Errorf("nobody says %q", s)
		}
		if strings.HasSuffix(s, ".") != strings.HasSuffix(to, ".") {
			t.Errorf("one of %q and %q ends with a full stop", s, to)
		}
		if a, b := numbers(s), numbers(to); !slices.Equal(a, b) {
			t.Errorf("%q has the numbers %v, %q has %v", s, a, to, b)
		}
		for _, c := range citation.FindAllString(s, -1) {
			if !strings.Contains(to, c) {
				t.Errorf("%q does not name %q", to, c)
			}
		}
	}
}
