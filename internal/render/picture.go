package render

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"

	"golang.org/x/image/draw"
)

// pictureDPI is how finely pictures are kept, and pictureQuality how well: fine
// enough for paper, small enough for mail.
const (
	pictureDPI     = 220
	pictureQuality = 86
)

// picture is what an image mark shows, scaled and packed.
type picture struct {
	pixels *image.RGBA
	jpeg   []byte
}

// newPicture cuts and scales; nil where there is nothing to show. Where the
// picture ends before the box does, ground fills the rest. freeWidth says which
// width in dots to take instead of one that is taken.
func newPicture(m image.Image, focus image.Rectangle, b Box, ground color.Color, freeWidth func(int) int) *picture {
	if m == nil || m.Bounds().Empty() || !(b.W > 0) || !(b.H > 0) {
		return nil
	}
	x0, y0, x1, y1 := shown(m.Bounds(), focus, b.W/b.H)
	scale := math.Min(1, b.W/72*pictureDPI/(x1-x0))
	at := func(v float64) int { return int(math.Round(v)) }
	w, h := freeWidth(max(1, at((x1-x0)*scale))), max(1, at((y1-y0)*scale))
	sx, sy := float64(w)/(x1-x0), float64(h)/(y1-y0)
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Bounds(), image.NewUniform(ground), image.Point{}, draw.Src)
	part := image.Rect(at(x0), at(y0), at(x1), at(y1)).Intersect(m.Bounds())
	to := image.Rect(at((float64(part.Min.X)-x0)*sx), at((float64(part.Min.Y)-y0)*sy),
		at((float64(part.Max.X)-x0)*sx), at((float64(part.Max.Y)-y0)*sy))
	draw.CatmullRom.Scale(dst, to, m, part, draw.Over, nil)
	var buf bytes.Buffer
	if jpeg.Encode(&buf, dst, &jpeg.Options{Quality: pictureQuality}) != nil {
		return nil
	}
	return &picture{dst, buf.Bytes()}
}

// shown is the part of the plane around the picture, in its pixels, that has the
// aspect (width by height), holds the whole focus with a little air, and stays
// within the picture as far as it can.
func shown(whole, focus image.Rectangle, aspect float64) (x0, y0, x1, y1 float64) {
	air := 1.06
	if focus = focus.Intersect(whole); focus.Empty() {
		focus, air = whole, 1
	}
	w, h := float64(focus.Dx()), float64(focus.Dy())
	w, h = math.Min(w*air, float64(whole.Dx())), math.Min(h*air, float64(whole.Dy()))
	w, h = math.Max(w, h*aspect), math.Max(h, w/aspect)
	place := func(middle, size float64, low, high int) (float64, float64) {
		from := middle - size/2
		if size <= float64(high-low) {
			from = math.Max(float64(low), math.Min(from, float64(high)-size))
		} else {
			from = float64(low+high)/2 - size/2
		}
		return from, from + size
	}
	x0, x1 = place(float64(focus.Min.X+focus.Max.X)/2, w, whole.Min.X, whole.Max.X)
	y0, y1 = place(float64(focus.Min.Y+focus.Max.Y)/2, h, whole.Min.Y, whole.Max.Y)
	return x0, y0, x1, y1
}

// aspectOf is the shape that shows the focus, or the whole, best: width by
// height, neither too narrow nor too wide for a row of pictures.
func aspectOf(m image.Image, focus image.Rectangle) float64 {
	if focus = focus.Intersect(m.Bounds()); focus.Empty() {
		focus = m.Bounds()
	}
	return math.Max(0.45, math.Min(float64(focus.Dx())/float64(focus.Dy()), 1.78))
}

// tallest is the aspect of the narrowest part of a picture that holds the focus
// and is as high as the whole.
func tallest(m image.Image, focus image.Rectangle) float64 {
	if focus = focus.Intersect(m.Bounds()); focus.Empty() {
		focus = m.Bounds()
	}
	return float64(focus.Dx()) / float64(m.Bounds().Dy())
}
