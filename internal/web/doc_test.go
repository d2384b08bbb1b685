package web

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The list of routes in the package's documentation lacks none: of each the last word
// of its path stands there.
func TestDocListsTheRoutes(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	route, found := regexp.MustCompile(`"(?:GET|POST|PUT|PATCH|DELETE) (/api/[^"]+)"`), 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range route.FindAllStringSubmatch(string(text), -1) {
			found++
			words := strings.Split(m[1], "/")
			for strings.HasPrefix(words[len(words)-1], "{") {
				words = words[:len(words)-1]
			}
			if last := words[len(words)-1]; !regexp.MustCompile(`/` + regexp.QuoteMeta(last) + `\b`).Match(doc) {
				t.Errorf("%s: %s is not in doc.go", file, m[1])
			}
		}
	}
	if found < 60 {
		t.Errorf("only %d routes were found", found)
	}
}
