package render

import (
	"math"
)

// Ruler shows a value with its error against the values to aim at, on one line.
type Ruler struct {
	Value, Error float64 // Error is half the span in which the true value lies
	Low, High    float64 // of the aim; infinite where open
	Unit         string  // after the figures, such as "°"
	You, Aim     string  // the words at the mark and at the aim
}

// rulerHeight is what a ruler takes at a size of type.
func rulerHeight(size float64) float64 { return 4.1 * size }

// span is from where to where the ruler reaches.
func (r Ruler) span() (low, high float64) {
	low, high = r.Value-r.Error, r.Value+r.Error
	for _, v := range []float64{r.Low, r.High} {
		if finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	pad := 0.28 * (high - low)
	if pad == 0 {
		pad = math.Max(1, math.Abs(high)*0.2)
	}
	return low - pad, high + pad
}

// ruler draws it into a width at y.
func (p *Page) ruler(r Ruler, x, y, width, size float64, pal Palette) {
	low, high := r.span()
	at := func(v float64) float64 { return x + (v-low)/(high-low)*width }
	line := y + 1.75*size
	from, to := math.Max(low, r.Low), math.Min(high, r.High)
	if to > from {
		p.Rect(Box{at(from), line - 0.42*size, at(to) - at(from), 0.84 * size}, Paint{Fill: mixed(pal.Paper, pal.Accent, 0.22)})
		for _, v := range []float64{r.Low, r.High} {
			if finite(v) {
				p.Line(Point{at(v), line - 0.42*size}, Point{at(v), line + 0.42*size}, Stroke{Color: pal.Accent, Width: 1})
			}
		}
	}
	p.Line(Point{x, line}, Point{x + width, line}, Stroke{Color: pal.Rule, Width: 0.6})
	p.Line(Point{at(r.Value - r.Error), line}, Point{at(r.Value + r.Error), line}, Stroke{Color: pal.Ink, Width: 1.6})
	for _, v := range []float64{r.Value - r.Error, r.Value + r.Error} {
		p.Line(Point{at(v), line - 0.25*size}, Point{at(v), line + 0.25*size}, Stroke{Color: pal.Ink, Width: 1.2})
	}
	p.Circle(Point{at(r.Value), line}, 0.3*size, Paint{Fill: pal.Ink})
	you := Type{Size: 0.88 * size, Face: Bold, Color: pal.Ink}
	p.within(r.You, you, at(r.Value), x, x+width, line-0.75*size)
	aim := Type{Size: 0.88 * size, Color: pal.Accent, Face: Medium}
	if to > from {
		p.within(r.Aim, aim, (at(from)+at(to))/2, x, x+width, line+1.45*size)
	}
}

// within sets a text about a middle, moved so that it stays between two edges.
func (p *Page) within(text string, t Type, middle, left, right, base float64) {
	w := t.Width(text)
	p.Text(Point{math.Max(left, math.Min(middle-w/2, right-w)), base}, text, t)
}
