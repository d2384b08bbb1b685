package app

import (
	"fmt"
	"io/fs"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"

	"gaitwright/docs"
)

// PageHandbook is the handbook's list of pages.
type PageHandbook struct {
	Pages []PageHandbookEntry `json:"pages"`
}

// PageHandbookEntry names a page of the handbook.
type PageHandbookEntry struct {
	Name  string `json:"name"` // in its address; empty for the first page
	Title string `json:"title"`
}

// PageHandbookPage is one page of the handbook.
type PageHandbookPage struct {
	PageHandbookEntry
	Nodes []PageHandbookNode `json:"nodes"`
}

// PageHandbookNode is a piece of a page: words, or an element with its parts. The
// browser builds the page from them, so that no markup is ever read by it.
type PageHandbookNode struct {
	// Tag is empty for words, otherwise one of h1 to h6, p, ul, ol, li, blockquote,
	// hr, pre, code, em, strong, a, br, table, tr, th and td.
	Tag   string             `json:"tag,omitempty"`
	Text  string             `json:"text,omitempty"`
	ID    string             `json:"id,omitempty"`   // of a heading
	Href  string             `json:"href,omitempty"` // of a link: a place in the program, of the page, or elsewhere by https
	Right bool               `json:"right,omitempty"`
	Nodes []PageHandbookNode `json:"nodes,omitempty"`
}

// handbookFirst is the file of the page one comes to.
const handbookFirst = "README.md"

// handbookAt is where the page of the browser shows the handbook.
const handbookAt = "/handbook"

// handbookOrder is the order in which pages are listed: what one does, what one
// looks up, why. Others follow by name.
var handbookOrder = []string{"", "first-visit", "filming", "reasoning", "accuracy", "measures", "commands", "files"}

var handbook = sync.OnceValues(func() (map[string]PageHandbookPage, error) { return renderHandbook(docs.Pages) })

// Handbook lists the handbook's pages.
func Handbook() (PageHandbook, error) {
	pages, err := handbook()
	if err != nil {
		return PageHandbook{}, err
	}
	var out PageHandbook
	listed := map[string]bool{}
	for _, name := range handbookOrder {
		if p, ok := pages[name]; ok {
			out.Pages = append(out.Pages, p.PageHandbookEntry)
			listed[name] = true
		}
	}
	for _, name := range slices.Sorted(maps.Keys(pages)) {
		if !listed[name] {
			out.Pages = append(out.Pages, pages[name].PageHandbookEntry)
		}
	}
	return out, nil
}

// HandbookPage gives one page; a name that there is not is an error of usage.
func HandbookPage(name string) (PageHandbookPage, error) {
	pages, err := handbook()
	if err != nil {
		return PageHandbookPage{}, err
	}
	p, ok := pages[name]
	if !ok {
		return PageHandbookPage{}, &Problem{Kind: KindUsage, What: fmt.Sprintf("the handbook has no page %q", name), Mend: "begin with its first page."}
	}
	return p, nil
}

func handbookName(file string) string {
	if file == handbookFirst {
		return ""
	}
	return strings.TrimSuffix(file, ".md")
}

// renderHandbook reads all pages. Markup that is not Markdown is left out, links to
// other pages lead within the program, and a link to a file that the handbook does
// not hold becomes its words.
func renderHandbook(files fs.FS) (map[string]PageHandbookPage, error) {
	names, err := fs.Glob(files, "*.md")
	if err != nil {
		return nil, err
	}
	md := goldmark.New(goldmark.WithExtensions(extension.Table), goldmark.WithParserOptions(parser.WithAutoHeadingID()))
	out := map[string]PageHandbookPage{}
	for _, file := range names {
		source, err := fs.ReadFile(files, file)
		if err != nil {
			return nil, err
		}
		b := handbookBuilder{source: source, files: names}
		nodes := b.parts(md.Parser().Parse(text.NewReader(source)))
		p := PageHandbookPage{PageHandbookEntry{Name: handbookName(file)}, nodes}
		if p.Title = p.Name; len(nodes) > 0 && nodes[0].Tag == "h1" {
			p.Title = nodes[0].words()
		}
		out[p.Name] = p
	}
	return out, nil
}

// words are those of the node and all its parts.
func (n PageHandbookNode) words() string {
	s := n.Text
	for _, p := range n.Nodes {
		s += p.words()
	}
	return s
}

// handbookBuilder turns a parsed page into nodes.
type handbookBuilder struct {
	source []byte
	files  []string
}

func (b handbookBuilder) parts(n ast.Node) []PageHandbookNode {
	var out []PageHandbookNode
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		out = append(out, b.node(c)...)
	}
	return out
}

func (b handbookBuilder) element(tag string, n ast.Node) []PageHandbookNode {
	return []PageHandbookNode{{Tag: tag, Nodes: b.parts(n)}}
}

// node turns one node; what is not known, such as markup, becomes nothing.
func (b handbookBuilder) node(n ast.Node) []PageHandbookNode {
	switch n := n.(type) {
	case *ast.Heading:
		out := b.element("h"+strconv.Itoa(n.Level), n)
		if id, ok := n.AttributeString("id"); ok {
			if id, ok := id.([]byte); ok {
				out[0].ID = string(id)
			}
		}
		return out
	case *ast.Paragraph:
		return b.element("p", n)
	case *ast.TextBlock:
		return b.parts(n)
	case *ast.List:
		if n.IsOrdered() {
			return b.element("ol", n)
		}
		return b.element("ul", n)
	case *ast.ListItem:
		return b.element("li", n)
	case *ast.Blockquote:
		return b.element("blockquote", n)
	case *ast.ThematicBreak:
		return []PageHandbookNode{{Tag: "hr"}}
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		return []PageHandbookNode{{Tag: "pre", Nodes: []PageHandbookNode{{Text: string(n.Lines().Value(b.source))}}}}
	case *ast.CodeSpan:
		return b.element("code", n)
	case *ast.Emphasis:
		if n.Level == 2 {
			return b.element("strong", n)
		}
		return b.element("em", n)
	case *ast.Text:
		value := n.Value(b.source)
		if n.Parent().Kind() != ast.KindCodeSpan {
			value = util.ResolveEntityNames(util.ResolveNumericReferences(util.UnescapePunctuations(value)))
		}
		out := []PageHandbookNode{{Text: string(value)}}
		switch {
		case n.HardLineBreak():
			out = append(out, PageHandbookNode{Tag: "br"})
		case n.SoftLineBreak():
			out[0].Text += "\n"
		}
		return out
	case *ast.String:
		return []PageHandbookNode{{Text: string(n.Value)}}
	case *ast.AutoLink:
		return []PageHandbookNode{{Text: string(n.Label(b.source))}}
	case *ast.Link:
		parts := b.parts(n)
		if to := b.address(string(n.Destination)); to != "" {
			return []PageHandbookNode{{Tag: "a", Href: to, Nodes: parts}}
		}
		return parts
	case *tables.Table:
		return b.element("table", n)
	case *tables.TableHeader, *tables.TableRow:
		return b.element("tr", n)
	case *tables.TableCell:
		tag := "td"
		if n.Parent().Kind() == tables.KindTableHeader {
			tag = "th"
		}
		out := b.element(tag, n)
		out[0].Right = n.Alignment == tables.AlignRight
		return out
	}
	return nil
}

// address is where a link of a page leads in the browser, or empty where it cannot
// lead anywhere there.
func (b handbookBuilder) address(link string) string {
	to, err := url.Parse(link)
	switch {
	case err != nil:
	case to.Scheme == "https":
		return to.String()
	case to.Scheme != "" || to.Host != "":
	case to.Path == "" && to.Fragment != "":
		return "#" + to.Fragment
	case slices.Contains(b.files, to.Path):
		at := handbookAt
		if name := handbookName(to.Path); name != "" {
			at += "/" + name
		}
		if to.Fragment != "" {
			at += "#" + to.Fragment
		}
		return at
	}
	return ""
}
