package render

import "strings"

// wrap breaks text into lines no wider than width; a word that is wider alone is
// broken within. At least one character stands on each line.
func wrap(text string, t Type, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(printable(text)) {
		if line != "" && t.Width(line+" "+word) <= width {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		line = word
		for t.Width(line) > width {
			runes := []rune(line)
			n := len(runes) - 1
			for n > 1 && t.Width(string(runes[:n])) > width {
				n--
			}
			if n < 1 {
				break
			}
			lines = append(lines, string(runes[:n]))
			line = string(runes[n:])
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// fitted shortens text with an ellipsis to a width; for titles of figures, whose
// full text stands elsewhere.
func fitted(text string, t Type, width float64) string {
	text = printable(text)
	if t.Width(text) <= width {
		return text
	}
	runes := []rune(text)
	for n := len(runes) - 1; n > 0; n-- {
		if s := strings.TrimRight(string(runes[:n]), " ") + "…"; t.Width(s) <= width {
			return s
		}
	}
	return "…"
}

// flow is text set in lines, ready to be placed.
type flow struct {
	width  float64
	height float64
	lines  []flowLine
}

type flowLine struct {
	x, y  float64 // of the baseline, from the flow's corner
	text  string
	style Type
}

const leading = 1.32

// add sets a paragraph, its lines indented by indent.
func (f *flow) add(text string, t Type, indent float64) {
	for _, line := range wrap(text, t, f.width-indent) {
		f.lines = append(f.lines, flowLine{indent, f.height + t.Size, line, t})
		f.height += leading * t.Size
	}
}

// item sets a paragraph with a mark before it.
func (f *flow) item(mark string, text string, t Type) {
	if strings.TrimSpace(printable(text)) == "" {
		return
	}
	m := t
	f.lines = append(f.lines, flowLine{0, f.height + t.Size, mark, m})
	f.add(text, t, m.Width(mark)+0.6*t.Size)
}

func (f *flow) space(h float64) {
	if len(f.lines) > 0 {
		f.height += h
	}
}

func (f *flow) draw(p *Page, x, y float64) {
	for _, l := range f.lines {
		p.Text(Point{x + l.x, y + l.y}, l.text, l.style)
	}
}
