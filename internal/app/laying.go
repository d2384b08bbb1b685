package app

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"
)

// lay draws a picture of a film onto a panel, as the lens says where, with an
// opacity of 0 to 1.
func lay(panel *image.RGBA, p filmed, at lens, opacity float64) {
	k := at.scale / p.scale // pixels of the panel for one of the picture
	min := panel.Rect.Min
	m := f64.Aff3{k, 0, at.left + float64(min.X), 0, k, at.top + float64(min.Y)}
	var o *draw.Options
	op := draw.Src
	if opacity < 1 {
		o = &draw.Options{SrcMask: image.NewUniform(color.Alpha{A: uint8(math.Round(255 * opacity))})}
		op = draw.Over
	}
	draw.ApproxBiLinear.Transform(panel, m, p.img, p.img.Rect, op, o)
}
