package app

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Bounds of what is written in a form.
const (
	maxName  = 120
	maxWho   = 60
	maxLine  = 200
	maxProse = 4000
)

// entries checks what a person wrote in a form; the first thing wrong is kept.
type entries struct{ err error }

func (e *entries) fail(field, mend, what string, args ...any) {
	if e.err == nil {
		e.err = &Problem{Kind: KindUsage, Field: field, Mend: mend, What: fmt.Sprintf(what, args...)}
	}
}

// number refuses what lies outside low to top; null is allowed.
func (e *entries) number(field, what string, v *float64, low, top float64, unit string) {
	if v != nil && !(*v >= low && *v <= top) {
		e.fail(field, "Check the number and its unit.", "%s of %.4g%s cannot be right (%.4g to %.4g)", what, *v, unit, low, top)
	}
}

// prose refuses text that is too long or no text; it is cut of blanks in place.
func (e *entries) prose(field, what string, s *string, most int) {
	*s = strings.TrimSpace(*s)
	if n := utf8.RuneCountInString(*s); n > most {
		e.fail(field, "", "%s has %d characters; at most %d are kept", what, n, most)
	}
	if !utf8.ValidString(*s) || strings.ContainsFunc(*s, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }) {
		e.fail(field, "Type it again.", "%s holds characters that are no text", what)
	}
}

// choice refuses what is not among the choices.
func (e *entries) choice(field, what, v string, choices ...string) {
	for _, c := range choices {
		if v == c {
			return
		}
	}
	var said []string
	for _, c := range choices {
		if c != "" {
			said = append(said, c)
		}
	}
	e.fail(field, "", "%s is %q; it must be %s", what, clean(v, 40), strings.Join(said, " or "))
}

// dayForm is how a day is written.
const dayForm = "2006-01-02"

// day reads a day that is not in the future; null is the zero time.
func (e *entries) day(field, what string, v *string, now time.Time) time.Time {
	if v == nil || *v == "" {
		return time.Time{}
	}
	t, err := time.Parse(dayForm, *v)
	switch {
	case err != nil:
		e.fail(field, "", "%s is %q; write the day as 2026-03-14", what, clean(*v, 40))
	case t.Year() < 1900:
		e.fail(field, "Check the year.", "%s cannot be in the year %d", what, t.Year())
	case t.After(now.Add(26 * time.Hour)): // it may be tomorrow already where the screen is
		e.fail(field, "Check the day.", "%s of %s lies in the future", what, *v)
	}
	return t
}

// clean makes a line of text harmless: no control characters, at most so many
// characters.
func clean(s string, most int) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == utf8.RuneError || unicode.In(r, unicode.Bidi_Control) {
			return -1
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > most {
		s = string(r[:most-1]) + "…"
	}
	return s
}

func dayOrNil(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.Format(dayForm)
	return &s
}

func orZero(v *float64) float64 {
	if v == nil || math.IsNaN(*v) {
		return 0
	}
	return *v
}

// knownInt is the JSON form of a count; 0 is not known.
func knownInt(n int) *int {
	if n == 0 {
		return nil
	}
	return &n
}
