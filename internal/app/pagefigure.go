package app

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/figure"
	"gaitwright/gait/measure"
)

// PageFigure is a line figure as the browser draws it: shapes in millimetres, x
// to the right and y down, in the order in which they lie over each other. Their
// colours are the page's, by role.
type PageFigure struct {
	X      float64     `json:"x"` // the left and upper edge, then the size
	Y      float64     `json:"y"`
	Width  float64     `json:"width"`
	Height float64     `json:"height"`
	Shapes []PageShape `json:"shapes"`
	// Side is the side of the body that the near limbs are of as drawn: left or
	// right. The other side is the mirrored figure.
	Side string `json:"side"`
}

// PageShape is one mark of a figure: a line of some width, a filled area, a disc
// or a text.
type PageShape struct {
	Role   string       `json:"role"` // see figure.Role
	Points [][2]float64 `json:"points"`
	Width  float64      `json:"width,omitempty"`
	Fill   bool         `json:"fill,omitempty"`
	Radius float64      `json:"radius,omitempty"`
	Text   string       `json:"text,omitempty"`
	Dashed bool         `json:"dashed,omitempty"`
}

// pageFigure turns a pose into what the browser draws. The pose was checked when
// its table was read.
func pageFigure(p figure.Pose) PageFigure {
	d, err := p.Draw()
	if err != nil {
		panic("app: " + err.Error())
	}
	low, high := d.Bounds()
	return pageDrawing(d, low, high, p.NearSide())
}

// MeasureFigure draws what a measure measures, for the browser; it tells whether
// the measure is known.
func (st *Studio) MeasureFigure(name string) (PageFigure, bool) {
	d, ok := measure.Picture(name, false)
	if !ok {
		return PageFigure{}, false
	}
	low, high := d.Frame()
	return pageDrawing(d, low, high, body.NoSide), true
}

func pageDrawing(d figure.Drawing, low, high figure.Point, near body.Side) PageFigure {
	const edge = 30 // mm
	mm := func(v float64) float64 { return math.Round(v * 1000) }
	out := PageFigure{X: mm(low.X) - edge, Y: mm(-high.Y) - edge, Width: mm(high.X-low.X) + 2*edge, Height: mm(high.Y-low.Y) + 2*edge, Side: near.String()}
	for _, s := range d.Shapes {
		one := PageShape{Role: string(s.Role), Width: mm(s.Width), Fill: s.Fill, Radius: mm(s.Radius), Text: s.Text, Dashed: s.Dashed}
		for _, q := range s.Points {
			one.Points = append(one.Points, [2]float64{mm(q.X), mm(-q.Y)})
		}
		out.Shapes = append(out.Shapes, one)
	}
	return out
}
