package render

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/draw"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Limits of a PNG's fineness, in dots an inch.
const (
	MinDPI = 36
	MaxDPI = 600
)

// WritePNG writes the page as a picture on white with the given number of dots an
// inch (MinDPI to MaxDPI).
func (p *Page) WritePNG(w io.Writer, dpi float64) error {
	if !(dpi >= MinDPI && dpi <= MaxDPI) {
		return fmt.Errorf("a picture of %v dots an inch cannot be made: give %d to %d", dpi, MinDPI, MaxDPI)
	}
	out := raster{scale: dpi / 72}
	out.Context = gg.NewContext(int(math.Ceil(p.Size.W*out.scale)), int(math.Ceil(p.Size.H*out.scale)))
	out.SetColor(color.White)
	out.Clear()
	if p.Paper.A > 0 {
		out.SetColor(p.Paper)
		out.Clear()
	}
	for _, m := range p.marks {
		out.mark(m)
	}
	return (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, out.Image())
}

type raster struct {
	*gg.Context
	scale float64
	clips []Box // those in force, the outermost first
}

func (r *raster) mark(m mark) {
	k := r.scale
	switch m := m.(type) {
	case pathMark:
		r.paint(m.paint, func() {
			for _, run := range m.runs {
				r.NewSubPath()
				for _, q := range run {
					r.LineTo(q.X*k, q.Y*k)
				}
				if m.closed {
					r.ClosePath()
				}
			}
		})
	case circleMark:
		r.paint(m.paint, func() { r.DrawCircle(m.centre.X*k, m.centre.Y*k, m.radius*k) })
	case textMark:
		r.text(m)
	case imageMark:
		r.image(m)
	case clipMark:
		r.clips = append(r.clips, m.box)
		r.clip(m.box)
	case unclipMark:
		r.clips = r.clips[:len(r.clips)-1]
		r.ResetClip()
		for _, b := range r.clips {
			r.clip(b)
		}
	}
}

// clip hides from now on what lies outside the box too.
func (r *raster) clip(b Box) {
	k := r.scale
	r.DrawRectangle(b.X*k, b.Y*k, b.W*k, b.H*k)
	r.Clip()
}

func (r *raster) paint(p Paint, trace func()) {
	if p.Fill.A > 0 {
		trace()
		r.SetColor(p.Fill)
		r.Fill()
	}
	if p.Edge.Width > 0 {
		trace()
		r.SetColor(p.Edge.Color)
		r.SetLineWidth(p.Edge.Width * r.scale)
		r.SetLineCap(gg.LineCapButt)
		r.SetLineJoin(gg.LineJoinBevel)
		if p.Edge.Round {
			r.SetLineCap(gg.LineCapRound)
			r.SetLineJoin(gg.LineJoinRound)
		}
		var dash []float64
		for _, d := range p.Edge.Dash {
			dash = append(dash, d*r.scale)
		}
		r.SetDash(dash...)
		r.Stroke()
	}
}

// text fills the outlines of the glyphs, placed by the same advances that every
// measure of text uses.
func (r *raster) text(m textMark) {
	face := typefaces()[m.style.Face]
	sin, cos := math.Sincos(m.style.Angle * math.Pi / 180)
	x := 0.0
	for _, c := range m.text {
		g := face.glyph(c)
		unit := m.style.Size / face.perEm / 64
		place := func(q fixed.Point26_6) (float64, float64) {
			u, v := x+float64(q.X)*unit, float64(q.Y)*unit
			return (m.at.X + u*cos + v*sin) * r.scale, (m.at.Y - u*sin + v*cos) * r.scale
		}
		for _, s := range g.outline {
			ax, ay := place(s.Args[0])
			bx, by := place(s.Args[1])
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				r.MoveTo(ax, ay)
			case sfnt.SegmentOpLineTo:
				r.LineTo(ax, ay)
			case sfnt.SegmentOpQuadTo:
				r.QuadraticTo(ax, ay, bx, by)
			case sfnt.SegmentOpCubeTo:
				cx, cy := place(s.Args[2])
				r.CubicTo(ax, ay, bx, by, cx, cy)
			}
		}
		x += g.advance * m.style.Size
	}
	r.SetColor(m.style.Color)
	r.Fill()
}

// image scales the picture to the whole dots nearest its box. It is not clipped:
// nothing here draws pictures under a clip.
func (r *raster) image(m imageMark) {
	at := func(v float64) int { return int(math.Round(v * r.scale)) }
	to := image.Rect(at(m.box.X), at(m.box.Y), at(m.box.Right()), at(m.box.Bottom()))
	src := m.picture.pixels
	draw.CatmullRom.Scale(r.Image().(draw.Image), to, src, src.Bounds(), draw.Src, nil)
}
