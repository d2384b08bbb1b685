package table

import (
	"cmp"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"
)

// Words is a table of what is said: English beside another language, {0} {1} …
// standing for what changes from case to case; {0#} stands for digits alone, as the day
// of a date, so that the words of a person are not taken for one. A capital at the beginning and a full
// stop at the end are those of the English sentence.
type Words struct {
	exact    map[string]string
	patterns []pattern
}

type pattern struct {
	of *regexp.Regexp
	to string
}

var (
	placeholder = regexp.MustCompile(`\\\{\d#?\\\}`)
	placed      = regexp.MustCompile(`\{\d#?\}`)
	sentenceEnd = regexp.MustCompile(`[.!?] +`)
)

// NewWords makes a table of sentences, English to the other language.
func NewWords(sentences map[string]string) *Words {
	w := &Words{exact: map[string]string{}}
	// The longer of two says more of a case.
	longest := func(a, b string) int { return cmp.Or(len(b)-len(a), strings.Compare(a, b)) }
	for _, from := range slices.SortedFunc(maps.Keys(sentences), longest) {
		to := stopped(sentences[from])
		if !placed.MatchString(from) {
			w.exact[bare(from)] = to
			continue
		}
		of := placeholder.ReplaceAllStringFunc(regexp.QuoteMeta(bare(from)), func(p string) string {
			if strings.Contains(p, "#") {
				return `([0-9]+)`
			}
			return "(.+?)"
		})
		w.patterns = append(w.patterns, pattern{regexp.MustCompile("(?s)^" + of + "$"), to})
	}
	return w
}

// Sentences reads a table of the program's own, when it is first asked for: under
// "sentences", English sentences beside those of another language. A fault in it
// panics with the table's name.
func Sentences(name string, data []byte) func() map[string]string {
	return sync.OnceValue(func() map[string]string {
		var t struct {
			Sentences map[string]string `yaml:"sentences"`
		}
		if err := NewFile("table of sentences", len(data), nil, nil).Read(data, &t); err != nil {
			panic(name + ": " + err.Error()) // it is part of the program
		}
		return t.Sentences
	})
}

func stopped(s string) string {
	if strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "..") {
		return s[:len(s)-1]
	}
	return s
}

func bare(s string) string {
	s = stopped(s)
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}

// Lookup says an English text in the other language, whole or sentence by sentence;
// false where the table lacks any of it.
func (w *Words) Lookup(text string) (string, bool) {
	if s, ok := w.whole(text); ok {
		return s, true
	}
	var out []string
	for rest, from := text, 0; ; {
		end := sentenceEnd.FindStringIndex(rest[from:])
		if end == nil {
			if len(out) == 0 {
				return "", false
			}
			s, ok := w.whole(rest)
			return strings.Join(append(out, s), " "), ok
		}
		// A sentence ends where another begins with a capital.
		if r, _ := utf8.DecodeRuneInString(rest[from+end[1]:]); unicode.IsUpper(r) {
			if s, ok := w.whole(rest[:from+end[0]+1]); ok {
				out, rest, from = append(out, s), rest[from+end[1]:], 0
				continue
			}
		}
		from += end[1]
	}
}

func (w *Words) whole(text string) (string, bool) {
	key := bare(text)
	to, ok := w.exact[key]
	for i := 0; !ok && i < len(w.patterns); i++ {
		if m := w.patterns[i].of.FindStringSubmatch(key); m != nil {
			to, ok = placed.ReplaceAllStringFunc(w.patterns[i].to, func(p string) string {
				n := int(p[1]-'0') + 1
				if n >= len(m) {
					return p
				}
				return w.piece(m[n])
			}), true
		}
	}
	if !ok {
		return "", false
	}
	if first, _ := utf8.DecodeRuneInString(text); unicode.IsUpper(first) {
		r, n := utf8.DecodeRuneInString(to)
		to = string(unicode.ToUpper(r)) + to[n:]
	}
	if strings.HasSuffix(text, ".") {
		to += "."
	}
	return to, true
}

// piece says what stands in a place: "the calf, left" by its two parts.
func (w *Words) piece(text string) string {
	if s, ok := w.Lookup(text); ok {
		return s
	}
	if i := strings.LastIndex(text, ", "); i > 0 {
		a, whole := w.Lookup(text[:i])
		if b, ok := w.Lookup(text[i+2:]); ok && whole {
			return a + ", " + b
		}
	}
	return text
}

// Say is Lookup, and gives back the English text where the table lacks it.
func (w *Words) Say(text string) string {
	if w == nil {
		return text
	}
	if s, ok := w.Lookup(text); ok {
		return s
	}
	return text
}
