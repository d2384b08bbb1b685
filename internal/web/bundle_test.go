package web

import (
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"gaitwright/ui"
)

// named are addresses that the built page may hold because they are names that
// nothing is asked of: XML namespaces, and the sites a library's messages point
// programmers to.
var named = []string{"http://www.w3.org/", "https://svelte.dev/e/"}

// address matches what a browser could fetch from elsewhere.
var address = regexp.MustCompile(`(?i)\b(?:https?|wss?|ftp):\\?/\\?/[^\s"'` + "`" + `<>()]*|(?:src|href|action|url\(|import\(|fetch\()\s*=?\s*["'` + "`" + `]?//[a-z0-9]`)

// TestPageNamesNobodyElse reads all that is served for addresses elsewhere. What
// might be put together at run time the policy stops; see
// TestEveryAnswerCarriesThePolicy and the browser's own test.
func TestPageNamesNobodyElse(t *testing.T) {
	read := 0
	look := func(name string, text []byte) {
		read++
	next:
		for _, found := range address.FindAllString(string(text), -1) {
			for _, n := range named {
				if strings.HasPrefix(found, n) {
					continue next
				}
			}
			t.Errorf("%s names %s", name, found)
		}
	}
	err := fs.WalkDir(ui.Dist(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := fs.ReadFile(ui.Dist(), name)
		look(name, b)
		return err
	})
	if err != nil || read < 4 {
		t.Fatalf("%d files read, %v", read, err)
	}
	look("login.html", []byte(loginText))
	look("login.css", loginCSS)
	for _, bad := range []string{`"https://cdn.example/x.js"`, `url(//fonts.example/a)`, `fetch("//a.example")`, `new WebSocket('wss://a.example')`, `src="//a.example/x"`, `https:\/\/a.example`} {
		if !address.MatchString(bad) {
			t.Errorf("%s would pass", bad)
		}
	}
}
