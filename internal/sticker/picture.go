package sticker

import (
	"image"
	"math"
)

// picture is a frame, or the part of it that was kept: pix covers rect, the
// frame itself is whole.
type picture struct {
	pix    []uint8
	stride int
	rect   image.Rectangle
	whole  image.Rectangle
}

func pictureOf(g *image.Gray) picture {
	return picture{pix: g.Pix, stride: g.Stride, rect: g.Rect, whole: g.Rect}
}

// crop copies the part of p within r.
func (p picture) crop(r image.Rectangle) picture {
	r = r.Intersect(p.rect)
	c := picture{pix: make([]uint8, r.Dx()*r.Dy()), stride: r.Dx(), rect: r, whole: p.whole}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		copy(c.pix[(y-r.Min.Y)*c.stride:], p.row(y, r.Min.X, r.Max.X))
	}
	return c
}

// covers tells whether all of the frame within r was kept.
func (p picture) covers(r image.Rectangle) bool { return r.Intersect(p.whole).In(p.rect) }

// inside tells whether a place is on the frame.
func (p picture) inside(x, y float64) bool {
	w := p.whole
	return x >= float64(w.Min.X) && y >= float64(w.Min.Y) && x < float64(w.Max.X) && y < float64(w.Max.Y)
}

// row returns the pixels of row y from x0 to x1, exclusive.
func (p picture) row(y, x0, x1 int) []uint8 {
	o := (y-p.rect.Min.Y)*p.stride - p.rect.Min.X
	return p.pix[o+x0 : o+x1]
}

// pixel returns the grey of a pixel, the nearest one of the border where it is
// outside of what was kept.
func (p picture) pixel(x, y int) float64 {
	x = min(max(x, p.rect.Min.X), p.rect.Max.X-1)
	y = min(max(y, p.rect.Min.Y), p.rect.Max.Y-1)
	return float64(p.pix[(y-p.rect.Min.Y)*p.stride+x-p.rect.Min.X])
}

// linear returns the grey at a place between pixels.
func (p picture) linear(x, y float64) float64 {
	fx, fy := math.Floor(x-0.5), math.Floor(y-0.5)
	i, j := int(fx), int(fy)
	fx, fy = x-0.5-fx, y-0.5-fy
	top := p.pixel(i, j)*(1-fx) + p.pixel(i+1, j)*fx
	low := p.pixel(i, j+1)*(1-fx) + p.pixel(i+1, j+1)*fx
	return top*(1-fy) + low*fy
}

// cubic returns the grey at a place between pixels by Keys' kernel (Keys 1981,
// IEEE Trans Acoust Speech Signal Process 29:1153, a = -1/2; from memory).
func (p picture) cubic(x, y float64) float64 {
	fx, fy := math.Floor(x-0.5), math.Floor(y-0.5)
	i, j := int(fx), int(fy)
	wx, wy := keys(x-0.5-fx), keys(y-0.5-fy)
	sum := 0.0
	if i >= p.rect.Min.X+1 && j >= p.rect.Min.Y+1 && i+2 < p.rect.Max.X && j+2 < p.rect.Max.Y {
		o := (j-1-p.rect.Min.Y)*p.stride + i - 1 - p.rect.Min.X
		for k := range 4 {
			r := p.pix[o : o+4 : o+4]
			sum += wy[k] * (wx[0]*float64(r[0]) + wx[1]*float64(r[1]) + wx[2]*float64(r[2]) + wx[3]*float64(r[3]))
			o += p.stride
		}
		return sum
	}
	for k := range 4 {
		for l := range 4 {
			sum += wy[k] * wx[l] * p.pixel(i-1+l, j-1+k)
		}
	}
	return sum
}

func keys(t float64) [4]float64 {
	u := 1 - t
	return [4]float64{-0.5 * t * u * u, 1 - t*t*(2.5-1.5*t), 1 - u*u*(2.5-1.5*u), -0.5 * u * t * t}
}

// around returns the rectangle of pixels within half of a place.
func around(x, y, half float64) image.Rectangle {
	return image.Rect(int(math.Floor(x-half)), int(math.Floor(y-half)), int(math.Ceil(x+half)), int(math.Ceil(y+half)))
}

// noise estimates the standard deviation of a picture's noise within r from how
// much each pixel differs from what its eight neighbours say it should be
// (Immerkær 1996, Comput Vis Image Underst 64:300; from memory). Fine texture
// counts as noise.
func (p picture) noise(r image.Rectangle) float64 {
	r = r.Intersect(p.rect).Inset(1)
	if r.Empty() {
		return 0
	}
	sum := 0.0
	for y := r.Min.Y; y < r.Max.Y; y++ {
		a, b, c := p.row(y-1, r.Min.X-1, r.Max.X+1), p.row(y, r.Min.X-1, r.Max.X+1), p.row(y+1, r.Min.X-1, r.Max.X+1)
		for k := 1; k+1 < len(b); k++ {
			d := int(a[k-1]) - 2*int(a[k]) + int(a[k+1]) - 2*int(b[k-1]) + 4*int(b[k]) - 2*int(b[k+1]) + int(c[k-1]) - 2*int(c[k]) + int(c[k+1])
			sum += math.Abs(float64(d))
		}
	}
	return sum / float64(r.Dx()*r.Dy()) * math.Sqrt(math.Pi/2) / 6
}
