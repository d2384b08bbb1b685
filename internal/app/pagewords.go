package app

import (
	"regexp"
	"strings"
)

var (
	// givenTurn is the camera's turn as the command line is told it.
	givenTurn = regexp.MustCompile(`--(yaw|roll) (-?[0-9.]*[0-9])`)
	// givenRate is the capture rate.
	givenRate = regexp.MustCompile(`--capture-rate ([0-9][0-9.]*[0-9]|[0-9])`)
	// aloneInBrackets is an example for the command line that a bracket holds alone.
	aloneInBrackets = regexp.MustCompile(`\s*\(--[a-z][^()]*\)`)
)

// onPage is a remark as a sentence for the page: with the page's words for what the
// command line calls options, and without examples of their values.
func onPage(remark string) string {
	s := strings.TrimSpace(remark)
	if s == "" {
		return ""
	}
	s = pageWords(s)
	if first, _, _ := strings.Cut(s, " "); strings.HasSuffix(first, ":") && strings.Contains(first, ".") {
		return s // it begins with the name of a file
	}
	return capital(s)
}

func pageWords(s string) string {
	if !strings.Contains(s, "--") {
		return s // as nearly all: there is no option in it
	}
	s = aloneInBrackets.ReplaceAllString(s, "")
	s = givenTurn.ReplaceAllStringFunc(s, func(m string) string {
		p := givenTurn.FindStringSubmatch(m)
		return optionWords["--"+p[1]] + " (" + p[2] + "°)"
	})
	s = givenRate.ReplaceAllString(s, "the capture rate ($1)")
	for _, o := range optionsByLength {
		s = strings.ReplaceAll(s, o, optionWords[o])
	}
	return s
}

// allOnPage is onPage of each.
func allOnPage(remarks []string) []string {
	out := make([]string, 0, len(remarks))
	for _, r := range remarks {
		out = append(out, onPage(r))
	}
	return out
}
