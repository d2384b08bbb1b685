package app

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"gaitwright/docs"
)

// Every page of the handbook begins with its title, and its links lead to pages and
// headings that there are.
func TestHandbookIsWhole(t *testing.T) {
	list, err := Handbook()
	if err != nil {
		t.Fatal(err)
	}
	files, err := fs.Glob(docs.Pages, "*.md")
	if err != nil || len(list.Pages) != len(files) || list.Pages[0].Name != "" {
		t.Fatalf("%d pages of %d files, the first %q, %v", len(list.Pages), len(files), list.Pages[0].Name, err)
	}
	for _, file := range files {
		text, err := fs.ReadFile(docs.Pages, file)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range regexp.MustCompile(`\]\(([^)#:]+\.md)[)#]`).FindAllStringSubmatch(string(text), -1) {
			if !slices.Contains(files, l[1]) {
				t.Errorf("%s leads to %s, which there is not", file, l[1])
			}
		}
	}
	anchors := map[string]bool{}
	links := map[string]string{}
	var walk func(page string, nodes []PageHandbookNode)
	walk = func(page string, nodes []PageHandbookNode) {
		for _, n := range nodes {
			if n.ID != "" {
				anchors[page+"#"+n.ID] = true
			}
			if to, ok := strings.CutPrefix(n.Href, handbookAt); ok {
				links[strings.TrimPrefix(to, "/")] = page
			} else if strings.HasPrefix(n.Href, "#") {
				links[page+n.Href] = page
			}
			walk(page, n.Nodes)
		}
	}
	for _, e := range list.Pages {
		p, err := HandbookPage(e.Name)
		if err != nil {
			t.Fatal(err)
		}
		if p.Title == "" || p.Nodes[0].Tag != "h1" || p.Nodes[0].words() != p.Title {
			t.Errorf("%q: titled %q", e.Name, p.Title)
		}
		anchors[e.Name] = true
		walk(e.Name, p.Nodes)
	}
	if len(links) < 10 {
		t.Errorf("only %d links", len(links))
	}
	for to, from := range links {
		if !anchors[to] {
			t.Errorf("%q leads to %s, which there is not", from, to)
		}
	}
	for _, name := range append([]string{"all-runners", "keeping-data", "settings"}, stationNames...) {
		if !anchors["first-visit#"+name] {
			t.Errorf("the first visit has no heading for %s, to which the help of that page leads", name)
		}
	}
	if _, err := HandbookPage("../README"); KindOf(err) != KindUsage {
		t.Errorf("a page that there is not: %v", err)
	}
}

func TestHandbookLinks(t *testing.T) {
	pages, err := renderHandbook(fstest.MapFS{
		"README.md": {Data: []byte("# `A` book &amp; more\n\n[b](b.md#x-y) [gone](gone.md) [up](../b.md) [out](https://example.org/a)\nold\\* <b>raw</b>\n\n<script>no</script>\n\n[js](javascript:alert(1)) [host](//example.org/b.md)\n\n| a |\n|--:|\n| `1\\*` |\n")},
		"b.md":      {Data: []byte("# B\n\n## X y\n\n[book](README.md), [here](#x-y)\n\n    code <b>\n")},
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{
		"":  "h1(code(A) book & more)p(a[/handbook/b#x-y](b) gone up a[https://example.org/a](out)\nold* raw)p(js host)table(tr(th>(a))tr(td>(code(1\\*))))",
		"b": "h1(B)h2(X y)p(a[/handbook](book), a[#x-y](here))pre(code <b>\n)",
	} {
		if got := outline(pages[name].Nodes); got != want {
			t.Errorf("%q is\n%s\nwant\n%s", name, got, want)
		}
	}
	if pages[""].Title != "A book & more" || pages["b"].Nodes[1].ID != "x-y" {
		t.Errorf("title %q, heading %+v", pages[""].Title, pages["b"].Nodes[1])
	}
}

// outline writes nodes as tag[href](parts), > for a cell set to the right.
func outline(nodes []PageHandbookNode) string {
	var b strings.Builder
	for _, n := range nodes {
		b.WriteString(n.Text)
		if n.Tag == "" {
			continue
		}
		b.WriteString(n.Tag)
		if n.Href != "" {
			b.WriteString("[" + n.Href + "]")
		}
		if n.Right {
			b.WriteString(">")
		}
		b.WriteString("(" + outline(n.Nodes) + ")")
	}
	return b.String()
}
