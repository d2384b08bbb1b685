package render

import (
	"fmt"
	"math"
	"slices"
)

// extent gathers how far marks reach.
type extent struct {
	x0, y0, x1, y1 float64
	any            bool
}

func (e *extent) point(x, y float64) {
	if !e.any {
		*e = extent{x, y, x, y, true}
	}
	e.x0, e.y0 = math.Min(e.x0, x), math.Min(e.y0, y)
	e.x1, e.y1 = math.Max(e.x1, x), math.Max(e.y1, y)
}

func (e *extent) box() (Box, bool) { return Box{e.x0, e.y0, e.x1 - e.x0, e.y1 - e.y0}, e.any }

// Parts of the size that text reaches above and below its baseline: the Go
// fonts' accented capitals and descenders.
const (
	ascent  = 0.94
	descent = 0.21
)

func (e *extent) add(m mark) {
	switch m := m.(type) {
	case pathMark:
		h := m.paint.Edge.Width / 2
		for _, run := range m.runs {
			for _, q := range run {
				e.point(q.X-h, q.Y-h)
				e.point(q.X+h, q.Y+h)
			}
		}
	case circleMark:
		r := m.radius + m.paint.Edge.Width/2
		e.point(m.centre.X-r, m.centre.Y-r)
		e.point(m.centre.X+r, m.centre.Y+r)
	case textMark:
		sin, cos := math.Sincos(m.style.Angle * math.Pi / 180)
		for _, u := range [...]float64{0, m.width} {
			for _, v := range [...]float64{-ascent * m.style.Size, descent * m.style.Size} {
				e.point(m.at.X+u*cos+v*sin, m.at.Y-u*sin+v*cos)
			}
		}
	case imageMark:
		e.point(m.box.X, m.box.Y)
		e.point(m.box.Right(), m.box.Bottom())
	}
}

// Placed is one mark's text (empty for other marks) and how far it reaches.
type Placed struct {
	Text string
	Box  Box
}

// Placed lists every mark of the page that shows, in the order of drawing.
func (p *Page) Placed() []Placed {
	var out []Placed
	for _, m := range p.marks {
		var e extent
		e.add(m)
		if b, ok := e.box(); ok {
			t, _ := m.(textMark)
			out = append(out, Placed{t.text, b})
		}
	}
	return out
}

// Strays lists what reaches beyond the page.
func (p *Page) Strays() []string {
	var out []string
	for _, m := range p.Placed() {
		if m.Box.X < 0 || m.Box.Y < 0 || m.Box.Right() > p.Size.W || m.Box.Bottom() > p.Size.H {
			out = append(out, fmt.Sprintf("%q at %.1f %.1f, %.1f by %.1f points", m.Text, m.Box.X, m.Box.Y, m.Box.W, m.Box.H))
		}
	}
	return out
}

// Texts lists the page's texts in the order of drawing.
func (p *Page) Texts() []string {
	var out []string
	for _, m := range p.marks {
		if t, ok := m.(textMark); ok {
			out = append(out, t.text)
		}
	}
	return out
}

// characters lists the characters used of each face, in order.
func (p *Page) characters() [faces][]rune {
	var out [faces][]rune
	for _, m := range p.marks {
		if t, ok := m.(textMark); ok {
			out[t.style.Face] = append(out[t.style.Face], []rune(t.text)...)
		}
	}
	for f := range out {
		slices.Sort(out[f])
		out[f] = slices.Compact(out[f])
	}
	return out
}
