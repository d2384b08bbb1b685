package store

import (
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Bounds of the words of one record and of one search, against texts made to
// weigh the index down. A longer word is cut, on both sides alike.
const (
	maxWords     = 600
	maxWordRunes = 32
	// MaxQueryWords is how many words of a search count; further ones are left
	// out of it.
	MaxQueryWords = 8
)

// unmarked are letters with a stroke or joined letters, which Unicode does not
// take apart; a person without that key types these.
var unmarked = strings.NewReplacer(
	"ł", "l", "ø", "o", "đ", "d", "ð", "d", "þ", "th", "æ", "ae", "œ", "oe", "ħ", "h", "ı", "i", "ŋ", "n", "ŧ", "t", "ƒ", "f", "ĸ", "k", "ɨ", "i", "ə", "e")

// apostrophes may stand within a word and are left out when it is typed.
const apostrophes = "'’ʼ‘`´"

// fold makes a text comparable: case, accents and strokes of letters no longer
// count, nor whether signs were typed full or half width.
func fold(text string) string {
	var b strings.Builder
	// Taking letters apart may leave capitals, and folding those joined letters.
	text = norm.NFKD.String(strings.ToValidUTF8(text, " "))
	for _, r := range norm.NFKD.String(cases.Fold().String(text)) {
		if !unicode.Is(unicode.Mn, r) {
			b.WriteRune(lower(r))
		}
	}
	return unmarked.Replace(b.String())
}

// lower gives one sign for all that differ by case alone.
func lower(r rune) rune {
	least := r
	for o := unicode.SimpleFold(r); o != r; o = unicode.SimpleFold(o) {
		least = min(least, o)
	}
	return unicode.ToLower(least)
}

// inWord tells whether a rune is part of a word, apostrophes aside.
func inWord(r rune) bool { return unicode.In(r, unicode.L, unicode.N, unicode.Mc) }

// unspaced tells whether a script is written without spaces between words, so
// that a word may be sought from any of its signs.
func unspaced(r rune) bool {
	return unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao, unicode.Khmer, unicode.Myanmar)
}

func cut(word string) string {
	n := 0
	for i := range word {
		if n == maxWordRunes {
			return word[:i]
		}
		n++
	}
	return word
}

// Words returns what a text can be found by: each of its words folded, without
// repeats. A word with an apostrophe is found with it, without it and by its
// parts; one of a script without spaces from each of its signs on.
func Words(text string) []string {
	var out []string
	have := map[string]bool{}
	add := func(word string) {
		if word = cut(word); word != "" && !have[word] && len(out) < maxWords {
			have[word] = true
			out = append(out, word)
		}
	}
	eachWord(text, func(word string) {
		parts := strings.FieldsFunc(word, isApostrophe)
		add(strings.Join(parts, ""))
		for _, p := range parts {
			add(p)
		}
		for i, r := range word {
			if i > 0 && unspaced(r) {
				add(word[i:])
			}
		}
	})
	return out
}

// QueryWords returns the beginnings of words that a search asks for, each to be
// found among Words.
func QueryWords(text string) []string {
	var out []string
	eachWord(text, func(word string) {
		word = cut(strings.Join(strings.FieldsFunc(word, isApostrophe), ""))
		if word != "" && len(out) < MaxQueryWords {
			out = append(out, word)
		}
	})
	return out
}

func isApostrophe(r rune) bool { return strings.ContainsRune(apostrophes, r) }

// eachWord folds a text, at most its first 64 kB, and gives fn the words.
func eachWord(text string, fn func(string)) {
	const most = 64 << 10
	if len(text) > most {
		text = text[:most]
	}
	// Folding takes some apostrophes apart, so that they are made plain first.
	text = strings.Map(func(r rune) rune {
		if isApostrophe(r) {
			return '\''
		}
		return r
	}, text)
	for _, w := range strings.FieldsFunc(fold(text), func(r rune) bool { return !inWord(r) && r != '\'' }) {
		fn(w)
	}
}
