package render

import (
	"image"
	"image/color"
	"math"
)

// Letterhead is whose report it is, at the head of each page.
type Letterhead struct {
	Studio string
	Logo   image.Image // nil for none
	Title  string      // at the right, such as "Your running report"
}

// Size of a logo on paper, points.
const (
	logoHeight = 30.0
	logoWidth  = 120.0
)

// draw puts the letterhead at y and returns where what follows begins.
func (l Letterhead) draw(p *Page, y float64, pal Palette) float64 {
	x, right := marginX, p.Size.W-marginX
	high := 13.0
	if l.Logo != nil && !l.Logo.Bounds().Empty() {
		b := l.Logo.Bounds()
		h := logoHeight
		w := h * float64(b.Dx()) / float64(b.Dy())
		if w > logoWidth {
			w, h = logoWidth, logoWidth*float64(b.Dy())/float64(b.Dx())
		}
		high = math.Max(high, h)
		p.Image(Box{x, y + (high-h)/2, w, h}, l.Logo, image.Rectangle{}, color.NRGBA{255, 255, 255, 255})
		x += w + 10
	}
	base := y + high/2 + 3.4
	title := Type{Size: 9, Color: pal.Soft, Align: End}
	w := p.Text(Point{right, base}, l.Title, title)
	studio := Type{Size: 10.5, Face: Bold, Color: pal.Accent}
	for studio.Size > 6 && studio.Width(l.Studio) > right-w-16-x {
		studio.Size -= 0.5
	}
	p.Text(Point{x, base}, l.Studio, studio)
	y += high + 6
	p.Line(Point{marginX, y}, Point{right, y}, Stroke{Color: pal.Accent, Width: 1})
	return y + 1
}

// height is what draw takes.
func (l Letterhead) height() float64 {
	high := 13.0
	if l.Logo != nil && !l.Logo.Bounds().Empty() {
		b := l.Logo.Bounds()
		high = math.Max(high, math.Min(logoHeight, logoWidth*float64(b.Dy())/float64(b.Dx())))
	}
	return high + 7
}
