package render

import (
	"bufio"
	"encoding/base64"
	"fmt"
	"html"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"
)

// WriteSVG writes the page as a stand-alone SVG that carries its fonts.
func (p *Page) WriteSVG(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" width="%spt" height="%spt" viewBox="0 0 %s %s">`+"\n",
		num(p.Size.W), num(p.Size.H), num(p.Size.W), num(p.Size.H))
	p.svgBody(b, p.characters(), "")
	return b.Flush()
}

// WriteInlineSVG writes the page as an svg element to stand in an HTML page,
// which gives it its width.
func (p *Page) WriteInlineSVG(w io.Writer) error {
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s">`+"\n", num(p.Size.W), num(p.Size.H))
	p.svgBody(b, p.characters(), "")
	return b.Flush()
}

// svgBody writes what stands in the element, with the fonts' glyphs for some
// characters; prefix begins the names of the page's own things.
func (p *Page) svgBody(b *bufio.Writer, glyphs [faces][]rune, prefix string) {
	if p.Title != "" {
		fmt.Fprintf(b, "<title>%s</title>\n", html.EscapeString(p.Title))
	}
	b.WriteString("<style>")
	writeFontFaces(b, glyphs)
	b.WriteString("text{white-space:pre;font-kerning:none;font-variant-ligatures:none}</style>\n")
	if p.Paper.A > 0 {
		fmt.Fprintf(b, "<rect width=\"100%%\" height=\"100%%\"%s/>\n", svgColor("fill", p.Paper))
	}
	s := svg{b: b, prefix: prefix}
	for _, m := range p.marks {
		s.mark(m)
	}
	b.WriteString("</svg>\n")
}

// writeFontFaces writes the rules that carry the fonts.
func writeFontFaces(b *bufio.Writer, glyphs [faces][]rune) {
	for f, used := range glyphs {
		if len(used) > 0 {
			fmt.Fprintf(b, "@font-face{font-family:%q;src:url(data:font/ttf;base64,%s)}", svgFamily(Face(f)),
				base64.StdEncoding.EncodeToString(Face(f).subset(used)))
		}
	}
}

func svgFamily(f Face) string {
	return [faces]string{"Go", "Go Medium", "Go Bold", "Go Italic"}[f]
}

// svgFallback is used where a program does not read embedded fonts.
var svgFallback = [faces]string{"", ` font-weight="500"`, ` font-weight="700"`, ` font-style="italic"`}

type svg struct {
	b      *bufio.Writer
	prefix string // of the page's own names
	clips  int
	links  []bool
}

func (s *svg) mark(m mark) {
	switch m := m.(type) {
	case pathMark:
		var d strings.Builder
		for _, run := range m.runs {
			for i, q := range run {
				if i == 0 {
					d.WriteByte('M')
				} else {
					d.WriteByte('L')
				}
				d.WriteString(num(q.X))
				d.WriteByte(' ')
				d.WriteString(num(q.Y))
			}
			if m.closed {
				d.WriteByte('Z')
			}
		}
		fmt.Fprintf(s.b, "<path d=\"%s\"%s/>\n", d.String(), svgPaint(m.paint))
	case circleMark:
		fmt.Fprintf(s.b, "<circle cx=\"%s\" cy=\"%s\" r=\"%s\"%s/>\n", num(m.centre.X), num(m.centre.Y), num(m.radius), svgPaint(m.paint))
	case textMark:
		turn := ""
		if m.style.Angle != 0 {
			turn = fmt.Sprintf(` transform="rotate(%s %s %s)"`, num(-m.style.Angle), num(m.at.X), num(m.at.Y))
		}
		fmt.Fprintf(s.b, "<text x=\"%s\" y=\"%s\" font-family=\"'%s', sans-serif\"%s font-size=\"%s\" textLength=\"%s\" lengthAdjust=\"spacingAndGlyphs\"%s%s>%s</text>\n",
			num(m.at.X), num(m.at.Y), svgFamily(m.style.Face), svgFallback[m.style.Face], num(m.style.Size), num(m.width),
			svgColor("fill", m.style.Color), turn, html.EscapeString(m.text))
	case imageMark:
		fmt.Fprintf(s.b, "<image x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" preserveAspectRatio=\"none\" href=\"data:image/jpeg;base64,%s\"/>\n",
			num(m.box.X), num(m.box.Y), num(m.box.W), num(m.box.H), base64.StdEncoding.EncodeToString(m.picture.jpeg))
	case clipMark:
		s.clips++
		fmt.Fprintf(s.b, "<clipPath id=\"%sclip%d\"><rect x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"/></clipPath><g clip-path=\"url(#%sclip%d)\">\n",
			s.prefix, s.clips, num(m.box.X), num(m.box.Y), num(m.box.W), num(m.box.H), s.prefix, s.clips)
	case unclipMark:
		s.b.WriteString("</g>\n")
	case groupMark:
		s.links = append(s.links, m.link != "")
		if m.link != "" {
			fmt.Fprintf(s.b, "<a href=\"%s\">\n", html.EscapeString(m.link))
		} else {
			fmt.Fprintf(s.b, "<g data-name=\"%s\">\n", html.EscapeString(m.name))
		}
	case ungroupMark:
		last := len(s.links) - 1
		if s.links[last] {
			s.b.WriteString("</a>\n")
		} else {
			s.b.WriteString("</g>\n")
		}
		s.links = s.links[:last]
	}
}

func svgPaint(p Paint) string {
	out := ` fill="none"`
	if p.Fill.A > 0 {
		out = svgColor("fill", p.Fill)
	}
	if p.Edge.Width > 0 {
		out += svgColor("stroke", p.Edge.Color) + ` stroke-width="` + num(p.Edge.Width) + `"`
		if p.Edge.Round {
			out += ` stroke-linecap="round" stroke-linejoin="round"`
		}
		if len(p.Edge.Dash) > 0 {
			var d []string
			for _, v := range p.Edge.Dash {
				d = append(d, num(v))
			}
			out += ` stroke-dasharray="` + strings.Join(d, " ") + `"`
		}
	}
	return out
}

func svgColor(name string, c color.NRGBA) string {
	out := fmt.Sprintf(` %s="#%02x%02x%02x"`, name, c.R, c.G, c.B)
	if c.A < 255 {
		out += fmt.Sprintf(` %s-opacity="%s"`, name, num(float64(c.A)/255))
	}
	return out
}

// num writes a number to a hundredth, as briefly as may be.
func num(v float64) string {
	v = math.Round(v*100) / 100
	if v == 0 {
		v = 0 // not -0
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
