package render

import "strings"

// wrap breaks text into lines no wider than width; a word that is wider alone is
// broken within. At least one character stands on each line.
func wrap(text string, t Type, width float64) []string {
	space := t.Width(" ")
	var lines []string
	var line strings.Builder
	used := 0.0
	end := func() {
		if line.Len() > 0 {
			lines = append(lines, line.String())
			line.Reset()
			used = 0
		}
	}
	for _, word := range strings.FieldsFunc(printable(text), func(r rune) bool { return r == ' ' }) {
		w := t.Width(word)
		if line.Len() > 0 && used+space+w <= width {
			line.WriteByte(' ')
			line.WriteString(word)
			used += space + w
			continue
		}
		end()
		if w <= width {
			line.WriteString(word)
			used = w
			continue
		}
		for _, r := range word {
			w := t.Face.width(string(r)) * t.Size
			if line.Len() > 0 && used+w > width {
				end()
			}
			line.WriteRune(r)
			used += w
		}
	}
	end()
	return lines
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
