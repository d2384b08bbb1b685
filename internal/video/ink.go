package video

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// spot is a place in the picture, in pixels; pixel centres lie at half numbers.
type spot struct{ x, y float64 }

func (s spot) to(d float64, angle float64) spot {
	sin, cos := math.Sincos(angle)
	return spot{s.x + d*cos, s.y + d*sin}
}

// ink draws antialiased shapes onto a picture. Shapes outside it are cut off.
type ink struct {
	img    *image.RGBA
	raster vector.Rasterizer
}

// fill fills a closed outline. Outlines wound both ways cut holes.
func (k *ink) fill(c color.NRGBA, outlines ...[]spot) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, o := range outlines {
		for _, p := range o {
			x0, y0, x1, y1 = math.Min(x0, p.x), math.Min(y0, p.y), math.Max(x1, p.x), math.Max(y1, p.y)
		}
	}
	// NaN and far-off coordinates fail one of these.
	if !(x1 >= -1 && y1 >= -1 && x0 <= float64(k.img.Rect.Dx()) && y0 <= float64(k.img.Rect.Dy()) && x1-x0 < 1e5 && y1-y0 < 1e5) || c.A == 0 {
		return
	}
	// The rasteriser's plane is the part of the shape's box within the
	// picture; it clips what sticks out of it.
	box := image.Rect(int(math.Floor(x0)), int(math.Floor(y0)), int(math.Ceil(x1))+1, int(math.Ceil(y1))+1).
		Intersect(image.Rect(0, 0, k.img.Rect.Dx(), k.img.Rect.Dy()))
	if box.Empty() {
		return
	}
	k.raster.Reset(box.Dx(), box.Dy())
	k.raster.DrawOp = draw.Over
	dx, dy := float64(box.Min.X), float64(box.Min.Y)
	for _, o := range outlines {
		for i, p := range o {
			x, y := float32(p.x-dx), float32(p.y-dy)
			if i == 0 {
				k.raster.MoveTo(x, y)
			} else {
				k.raster.LineTo(x, y)
			}
		}
		k.raster.ClosePath()
	}
	k.raster.Draw(k.img, box.Add(k.img.Rect.Min), image.NewUniform(c), image.Point{})
}

// arcOf lists the points of an arc, finely enough for its radius.
func arcOf(c spot, r, from, to float64) []spot {
	n := max(6, int(math.Ceil(math.Abs(to-from)*math.Sqrt(math.Max(r, 1))*1.2)))
	out := make([]spot, n+1)
	for i := range out {
		out[i] = c.to(r, from+(to-from)*float64(i)/float64(n))
	}
	return out
}

// line draws a straight stroke with round ends.
func (k *ink) line(a, b spot, width float64, c color.NRGBA) {
	r, at := width/2, math.Atan2(b.y-a.y, b.x-a.x)
	k.fill(c, append(arcOf(b, r, at-math.Pi/2, at+math.Pi/2), arcOf(a, r, at+math.Pi/2, at+3*math.Pi/2)...))
}

// dashes draws a stroke of dashes as long as on, off apart, with a dash at each
// end.
func (k *ink) dashes(a, b spot, width, on, off float64, c color.NRGBA) {
	length := math.Hypot(b.x-a.x, b.y-a.y)
	n := math.Round((length + off) / (on + off))
	if n < 2 || math.IsNaN(n) || n > 1e4 {
		k.line(a, b, width, c)
		return
	}
	on = (length+off)/n - off
	at := math.Atan2(b.y-a.y, b.x-a.x)
	for i := range int(n) {
		s := float64(i) * (on + off)
		k.line(a.to(s, at), a.to(s+on, at), width, c)
	}
}

// disc draws a filled circle.
func (k *ink) disc(c spot, r float64, ink color.NRGBA) { k.fill(ink, arcOf(c, r, 0, 2*math.Pi)) }

// ring draws a circle of the given stroke width.
func (k *ink) ring(c spot, r, width float64, ink color.NRGBA) {
	k.fill(ink, arcOf(c, r+width/2, 0, 2*math.Pi), arcOf(c, r-width/2, 2*math.Pi, 0))
}

// diamond draws a filled square that stands on its corner; r is half its
// diagonal.
func (k *ink) diamond(c spot, r float64, ink color.NRGBA) { k.fill(ink, diamondOf(c, r, false)) }

// hollowDiamond draws the same as an outline.
func (k *ink) hollowDiamond(c spot, r, width float64, ink color.NRGBA) {
	k.fill(ink, diamondOf(c, r+width*0.7, false), diamondOf(c, r-width*0.7, true))
}

func diamondOf(c spot, r float64, back bool) []spot {
	if back {
		return []spot{{c.x, c.y - r}, {c.x - r, c.y}, {c.x, c.y + r}, {c.x + r, c.y}}
	}
	return []spot{{c.x, c.y - r}, {c.x + r, c.y}, {c.x, c.y + r}, {c.x - r, c.y}}
}

// arc draws a stroke along a circle from one angle to another, in radians,
// clockwise in the picture where to is larger.
func (k *ink) arc(c spot, r, from, to, width float64, ink color.NRGBA) {
	k.fill(ink, append(arcOf(c, r+width/2, from, to), arcOf(c, r-width/2, to, from)...))
}

// wedge fills a sector.
func (k *ink) wedge(c spot, r, from, to float64, ink color.NRGBA) {
	k.fill(ink, append(arcOf(c, r, from, to), c))
}

// panel fills a rectangle with rounded corners.
func (k *ink) panel(x, y, w, h, r float64, ink color.NRGBA) {
	r = math.Min(r, math.Min(w, h)/2)
	var o []spot
	for i, c := range []spot{{x + w - r, y + h - r}, {x + r, y + h - r}, {x + r, y + r}, {x + w - r, y + r}} {
		o = append(o, arcOf(c, r, float64(i)*math.Pi/2, float64(i+1)*math.Pi/2)...)
	}
	k.fill(ink, o)
}

// The two weights of lettering, from the Go fonts.
const (
	regular = iota
	bold
)

var parsedFonts = sync.OnceValue(func() [2]*opentype.Font {
	var out [2]*opentype.Font
	for i, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("video: the built-in font cannot be read: " + err.Error())
		}
		out[i] = f
	}
	return out
})

type faceKey struct {
	weight int
	size   float64
}

// faces keeps a face for each weight and size. A face is not safe for use by
// several goroutines, so each call of Annotate takes its own set.
type faces map[faceKey]font.Face

var spareFaces = sync.Pool{New: func() any { return faces{} }}

func (f faces) get(weight int, size float64) font.Face {
	size = math.Round(size*4) / 4
	key := faceKey{weight, size}
	if face, ok := f[key]; ok {
		return face
	}
	face, err := opentype.NewFace(parsedFonts()[weight], &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic("video: the built-in font cannot be scaled: " + err.Error())
	}
	if len(f) > 32 {
		clear(f)
	}
	f[key] = face
	return face
}

// width returns the width of a line of text in pixels.
func (f faces) width(text string, weight int, size float64) float64 {
	return float64(font.MeasureString(f.get(weight, size), text)) / 64
}

// text writes a line with its baseline starting at the spot.
func (k *ink) text(f faces, at spot, text string, weight int, size float64, c color.NRGBA) {
	d := font.Drawer{Dst: k.img, Src: image.NewUniform(c), Face: f.get(weight, size),
		Dot: fixed.Point26_6{X: fixed.Int26_6((at.x + float64(k.img.Rect.Min.X)) * 64), Y: fixed.Int26_6((at.y + float64(k.img.Rect.Min.Y)) * 64)}}
	d.DrawString(text)
}
