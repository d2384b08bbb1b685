package web

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestFirstVisitNamesTheScreen holds the labels that the handbook's first visit
// quotes in bold against the page's words and the server's.
func TestFirstVisitNamesTheScreen(t *testing.T) {
	root := filepath.Join("..", "..")
	page, err := os.ReadFile(filepath.Join(root, "docs", "first-visit.md"))
	if err != nil {
		t.Skip("the handbook's sources are absent: ", err)
	}
	var labels []*regexp.Regexp
	literal := regexp.MustCompile("\"((?:[^\"\\\\]|\\\\.)*)\"|`((?:[^`\\\\]|\\\\.)*)`")
	hole := regexp.MustCompile(`\\\$\\\{.*?\\\}`)
	words, err := filepath.Glob(filepath.Join(root, "ui", "src", "text", "*en.ts"))
	if err != nil || len(words) < 10 {
		t.Fatalf("%d files of words, %v", len(words), err)
	}
	for _, name := range words {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range literal.FindAllStringSubmatch(string(b), -1) {
			if text := m[1] + m[2]; strings.Trim(text, " ") != "" && !strings.HasPrefix(text, "${") {
				labels = append(labels, regexp.MustCompile(`^`+hole.ReplaceAllString(regexp.QuoteMeta(text), ".+?")+`$`))
			}
		}
	}
	rules, err := os.ReadFile(filepath.Join(root, "gait", "finding", "rules.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	onScreen := func(label string) bool {
		for _, l := range labels {
			if l.MatchString(label) {
				return true
			}
		}
		return strings.Contains(string(rules), "title: "+label+"\n")
	}
	bold := regexp.MustCompile(`\*\*([^*]+)\*\*`).FindAllStringSubmatch(string(page), -1)
	if len(bold) < 50 {
		t.Fatalf("only %d labels are quoted", len(bold))
	}
	for _, b := range bold {
		if label := strings.Join(strings.Fields(b[1]), " "); label != "bold" && !onScreen(label) {
			t.Errorf("no page says %q", label)
		}
	}
	if onScreen("Press the red button") {
		t.Error("anything is found on the screen")
	}
}

// The handbook is given page by page, and a page that there is not is not found.
func TestHandbookIsServed(t *testing.T) {
	srv := httptest.NewServer(New(emptyStudio(t), Options{}).Handler())
	defer srv.Close()
	get := func(path string, into any) int {
		t.Helper()
		res, err := http.Get(srv.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		if into != nil {
			if err := json.NewDecoder(res.Body).Decode(into); err != nil {
				t.Fatal(err)
			}
		}
		return res.StatusCode
	}
	var list app.PageHandbook
	if code := get("/api/handbook", &list); code != http.StatusOK || len(list.Pages) < 8 {
		t.Fatalf("%d, %d pages", code, len(list.Pages))
	}
	for _, e := range list.Pages {
		var p app.PageHandbookPage
		if code := get("/api/handbook/"+e.Name, &p); code != http.StatusOK || p.Title != e.Title || len(p.Nodes) == 0 {
			t.Errorf("%q: %d %q", e.Name, code, p.Title)
		}
		if code := get("/handbook/"+e.Name, nil); e.Name != "" && code != http.StatusOK {
			t.Errorf("/handbook/%s: %d", e.Name, code)
		}
	}
	if code := get("/api/handbook/none", nil); code != http.StatusNotFound {
		t.Errorf("no such page: %d", code)
	}
}

// TestHelpInBrowser drives the help and the handbook in a real Chromium with the
// script ui/e2e/help.e2e.mjs.
func TestHelpInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel()
	st := emptyStudio(t)
	st.SetClock(time.Now)
	browsertest.Script(t, "help", 4*time.Minute, "PAGE="+start(t, st))
}
