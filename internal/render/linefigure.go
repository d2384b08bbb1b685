package render

import (
	"image/color"

	"gaitwright/gait/figure"
)

// figure gives the roles of a line figure their colours.
func (p Palette) figure(r figure.Role) color.NRGBA {
	switch r {
	case figure.Ground:
		return p.Rule
	case figure.Thing:
		return p.Rule
	case figure.FarLimb:
		return mixed(p.Paper, p.Soft, 0.45)
	case figure.Halo:
		return p.Paper
	case figure.Trunk:
		return mixed(p.Paper, p.Soft, 0.82)
	case figure.NearLimb:
		return p.Ink
	case figure.Worked:
		return mixed(p.Paper, p.Right, 0.85)
	case figure.Tie, figure.Move, figure.Measured:
		return p.Accent
	}
	return p.Ink
}

// mixed returns the colour that is share of the way from a to b.
func mixed(a, b color.NRGBA, share float64) color.NRGBA {
	m := func(x, y uint8) uint8 { return uint8(float64(x) + (float64(y)-float64(x))*share + 0.5) }
	return color.NRGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 255}
}

// FigureScale returns how many points a metre of line figures may take so that
// each fits a box of that size.
func FigureScale(w, h float64, drawings ...figure.Drawing) float64 {
	scale := 0.0
	for _, d := range drawings {
		low, high := d.Bounds()
		s := min(w/max(high.X-low.X, 0.1), h/max(high.Y-low.Y, 0.1))
		if scale == 0 || s < scale {
			scale = s
		}
	}
	return scale
}

// LineFigure paints a line figure into the box, standing on its lower edge and
// in its middle, at scale points a metre.
func (p *Page) LineFigure(b Box, d figure.Drawing, scale float64, colours Palette) {
	low, high := d.Bounds()
	x0 := b.X + b.W/2 - (low.X+high.X)/2*scale
	y0 := b.Bottom() + low.Y*scale
	at := func(q figure.Point) Point { return Point{x0 + q.X*scale, y0 - q.Y*scale} }
	for _, s := range d.Shapes {
		c := colours.figure(s.Role)
		points := make([]Point, len(s.Points))
		for i, q := range s.Points {
			points[i] = at(q)
		}
		switch {
		case s.Text != "":
			p.Text(points[0], s.Text, Type{Size: 9, Color: colours.Ink, Align: Middle})
		case s.Radius > 0:
			p.Circle(points[0], s.Radius*scale, Paint{Fill: c})
		case s.Fill:
			p.Polygon(points, Paint{Fill: c})
		default:
			line := Stroke{Color: c, Width: s.Width * scale, Round: true}
			if s.Dashed {
				line.Dash = []float64{3, 2.5}
			}
			p.Polyline(points, line)
		}
	}
}
