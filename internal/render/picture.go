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

// newPicture cuts and scales; nil where there is nothing to show.
func newPicture(m image.Image, focus image.Rectangle, b Box) *picture {
	if m == nil || m.Bounds().Empty() || !(b.W > 0) || !(b.H > 0) {
		return nil
	}
	cut := shown(m.Bounds(), focus, b.W/b.H)
	scale := math.Min(1, b.W/72*pictureDPI/float64(cut.Dx()))
	w := max(1, int(math.Round(float64(cut.Dx())*scale)))
	h := max(1, int(math.Round(float64(w)*b.H/b.W)))
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.CatmullRom.Scale(dst, dst.Bounds(), m, cut, draw.Over, nil)
	var buf bytes.Buffer
	if jpeg.Encode(&buf, dst, &jpeg.Options{Quality: pictureQuality}) != nil {
		return nil
	}
	return &picture{dst, buf.Bytes()}
}

// shown is the largest part of the whole with the aspect (width by height) that
// keeps the focus in its middle as far as the edges allow.
func shown(whole, focus image.Rectangle, aspect float64) image.Rectangle {
	focus = focus.Intersect(whole)
	if focus.Empty() {
		focus = whole
	}
	// As close to the focus as its shape allows, with a little air.
	const air = 1.06
	w, h := air*float64(focus.Dx()), air*float64(focus.Dy())
	w, h = math.Max(w, h*aspect), math.Max(h, w/aspect)
	if shrink := math.Min(float64(whole.Dx())/w, float64(whole.Dy())/h); shrink < 1 {
		w, h = w*shrink, h*shrink
	}
	place := func(middle, size float64, low, high int) (int, int) {
		from := math.Max(float64(low), math.Min(middle-size/2, float64(high)-size))
		a := int(math.Round(from))
		return a, min(high, max(a+1, int(math.Round(from+size))))
	}
	x0, x1 := place(float64(focus.Min.X+focus.Max.X)/2, w, whole.Min.X, whole.Max.X)
	y0, y1 := place(float64(focus.Min.Y+focus.Max.Y)/2, h, whole.Min.Y, whole.Max.Y)
	return image.Rect(x0, y0, x1, y1)
}
