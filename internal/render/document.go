package render

import (
	"bufio"
	"fmt"
	"html"
	"io"
	"slices"
	"time"
)

// Document is pages that belong together.
type Document struct {
	Title string
	Lang  string    // of its text, such as "en"; empty where not known
	Made  time.Time // the date that a file of it carries
	Pages []*Page
}

// NewPage adds an empty page.
func (d *Document) NewPage(size Size) *Page {
	p := NewPage(size, d.Title)
	p.book = d
	d.Pages = append(d.Pages, p)
	return p
}

// characters are those of all pages.
func (d *Document) characters() [faces][]rune {
	var out [faces][]rune
	for _, p := range d.Pages {
		for f, used := range p.characters() {
			out[f] = append(out[f], used...)
		}
	}
	for f := range out {
		slices.Sort(out[f])
		out[f] = slices.Compact(out[f])
	}
	return out
}

// WriteHTML writes the document as a web page that needs nothing else: its sheets
// below each other, their text to be read, searched and copied. Printed, each
// fills one sheet.
func (d *Document) WriteHTML(w io.Writer) error {
	if len(d.Pages) == 0 {
		return fmt.Errorf("the page could not be made: it has no sheet")
	}
	b := bufio.NewWriter(w)
	size, lang := d.Pages[0].Size, d.Lang
	if lang == "" {
		lang = "en"
	}
	fmt.Fprintf(b, `<!doctype html>
<html lang="%s">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>%s</title>
<style>
`, html.EscapeString(lang), html.EscapeString(printable(d.Title)))
	writeFontFaces(b, d.characters())
	fmt.Fprintf(b, `
@page { size: %spt %spt; margin: 0; }
body { margin: 0; background: #dfe4e2; }
section { max-width: 60rem; margin: 1.5rem auto; background: #fff; box-shadow: 0 1px 8px #0003; }
section > svg { display: block; width: 100%%; height: auto; }
@media (max-width: 62rem) { section { margin: 0 0 0.5rem; box-shadow: none; } }
@media print { body { background: none; } section { margin: 0; max-width: none; width: %spt; box-shadow: none; break-after: page; break-inside: avoid; } section:last-child { break-after: auto; } }
</style>
<main>
`, num(size.W), num(size.H), num(size.W))
	for i, p := range d.Pages {
		fmt.Fprintf(b, "<section aria-label=\"%d / %d\">\n<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %s %s\">\n", i+1, len(d.Pages), num(p.Size.W), num(p.Size.H))
		p.svgBody(b, [faces][]rune{}, fmt.Sprintf("p%d-", i+1))
		b.WriteString("</section>\n")
	}
	b.WriteString("</main>\n</html>\n")
	return b.Flush()
}
