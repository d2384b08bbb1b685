package store

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// found tells whether a search finds a text.
func found(query, text string) bool {
	words := Words(text)
	for _, q := range QueryWords(query) {
		if !slices.ContainsFunc(words, func(w string) bool { return strings.HasPrefix(w, q) }) {
			return false
		}
	}
	return true
}

func TestSearchWords(t *testing.T) {
	for _, tt := range []struct {
		query, text string
		want        bool
	}{
		{"asa nunez", "Åsa Ñuñez", true},
		{"ÅSA", "Åsa Ñuñez", true},
		{"ñuñ å", "Åsa Ñuñez", true},
		{"uñez", "Åsa Ñuñez", false}, // not a beginning
		{"lukasz", "Łukasz Żółć", true},
		{"zolc", "Łukasz Żółć", true},
		{"strasse", "Straße", true},
		{"STRASSE", "straße", true},
		{"soren", "Sørþ Sören Søren", true},
		{"obrien", "Siân O’Brien", true},
		{"o'brien", "Siân O’Brien", true},
		{"brien o", "Siân O'Brien", true},
		{"smith", "Ann Jones-Smith", true},
		{"山田", "山田太郎", true},
		{"太郎", "山田太郎", true},
		{"山太", "山田太郎", false},
		{"ﾔﾏﾀﾞ", "ヤマダ タロウ", true}, // half width
		{"김", "김철수", true},
		{"ахм", "Ахмадулина Белла", true},
		{"αθηνα", "Ἀθηνᾶ", true},
		{"ﬁnn", "Finn", true},
		{"", "anyone", true},
		{`"'*%_-:()`, "anyone", true}, // no words: nothing limits
		{"knee", "pain at the left KNEE after 10 km", true},
		{"10", "pain at the left knee after 10 km", true},
		{"a b", "a", false},
	} {
		if got := found(tt.query, tt.text); got != tt.want {
			t.Errorf("%q in %q: %v; sought %q among %q", tt.query, tt.text, got, QueryWords(tt.query), Words(tt.text))
		}
	}
}

func TestWordsAreBounded(t *testing.T) {
	for _, text := range []string{strings.Repeat("a", 1<<20), strings.Repeat("ab ", 1<<20), strings.Repeat("山", 1<<18), strings.Repeat("\xff", 1<<17), strings.Repeat("e\u0301", 1<<18)} {
		words := Words(text)
		if len(words) > maxWords {
			t.Errorf("%d words", len(words))
		}
		for _, w := range words {
			if utf8.RuneCountInString(w) > maxWordRunes {
				t.Errorf("%q is too long", w)
			}
		}
		if n := len(QueryWords(text)); n > MaxQueryWords {
			t.Errorf("%d words sought", n)
		}
	}
}

// TestATextIsFoundByItself holds for any text whose words are within the bounds.
func TestATextIsFoundByItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 60, 200).Draw(t, "text")
		if !found(text, text) {
			t.Fatalf("%q is not found by itself: sought %q among %q", text, QueryWords(text), Words(text))
		}
		if !found(strings.ToUpper(text), text) && !strings.ContainsAny(text, "ŉǰΐΰẖẗẘẙẚ") {
			// Upper case folds back to the same letters.
			t.Fatalf("%q is not found in capitals: sought %q among %q", text, QueryWords(strings.ToUpper(text)), Words(text))
		}
	})
}
