package render

import (
	"image"
	"image/color"
	"math"
)

// Sizes of paper, in points.
var (
	A4     = Size{595.28, 841.89}
	Letter = Size{612, 792}
)

// Size is a width and a height in points.
type Size struct{ W, H float64 }

// Point is a place on the page in points, y downward from the top.
type Point struct{ X, Y float64 }

// Box is an upright rectangle: its upper left corner, width and height.
type Box struct{ X, Y, W, H float64 }

// Right and Bottom are the far edges.
func (b Box) Right() float64  { return b.X + b.W }
func (b Box) Bottom() float64 { return b.Y + b.H }

// Inset returns the box made smaller by d on every edge.
func (b Box) Inset(d float64) Box { return Box{b.X + d, b.Y + d, b.W - 2*d, b.H - 2*d} }

// Stroke is how a line is drawn; a zero Width draws none.
type Stroke struct {
	Color color.NRGBA
	Width float64
	Dash  []float64 // lengths on and off; nil for a solid line
	Round bool      // round ends and corners
}

// Paint is how an area is drawn: its Fill (none where its alpha is 0) and its
// outline.
type Paint struct {
	Fill color.NRGBA
	Edge Stroke
}

// Align is which part of a line of text lies at its point.
type Align uint8

// The alignments, horizontally; vertically the point is on the baseline.
const (
	Start Align = iota
	Middle
	End
)

// Type is how text is set.
type Type struct {
	Size  float64 // points
	Face  Face
	Color color.NRGBA
	Align Align
	Angle float64 // degrees, counterclockwise about the point
}

// Width returns the width of text set in the type, in points; the same for every
// form of output.
func (t Type) Width(text string) float64 { return t.Face.width(printable(text)) * t.Size }

// Page is a drawing.
type Page struct {
	Size  Size
	Title string      // for readers of the file
	Paper color.NRGBA // ground; clear for the white of paper
	marks []mark
	book  *Document // it is part of; nil where it stands alone
}

// NewPage returns an empty page.
func NewPage(size Size, title string) *Page { return &Page{Size: size, Title: printable(title)} }

// The marks that the forms of output have to know.
type mark interface{ isMark() }

type (
	// pathMark is one or more runs of points; closed joins each to its start.
	pathMark struct {
		runs   [][]Point
		closed bool
		paint  Paint
	}
	circleMark struct {
		centre Point
		radius float64
		paint  Paint
	}
	// textMark starts at its point, whatever the alignment was.
	textMark struct {
		at    Point
		text  string
		width float64
		style Type
	}
	imageMark struct {
		box     Box
		picture *picture
	}
	clipMark    struct{ box Box }
	unclipMark  struct{}
	groupMark   struct{ name, link string }
	ungroupMark struct{}
	// bookmarkMark is a place to go to from a reader's list of contents.
	bookmarkMark struct {
		title string
		level int
		y     float64
	}
)

func (pathMark) isMark()    {}
func (circleMark) isMark()  {}
func (textMark) isMark()    {}
func (imageMark) isMark()   {}
func (clipMark) isMark()    {}
func (unclipMark) isMark()  {}
func (groupMark) isMark()   {}
func (ungroupMark) isMark() {}

func (bookmarkMark) isMark() {}

func (p *Page) add(m mark) { p.marks = append(p.marks, m) }

// Line draws a straight line.
func (p *Page) Line(a, b Point, s Stroke) { p.Polyline([]Point{a, b}, s) }

// Polyline draws a line through points. A point with a coordinate that is NaN or
// infinite leaves a gap; a point alone between gaps is drawn as a dot as wide as
// the line.
func (p *Page) Polyline(points []Point, s Stroke) {
	if s.Width <= 0 {
		return
	}
	var runs [][]Point
	for _, run := range unbroken(points) {
		if len(run) == 1 {
			p.Circle(run[0], s.Width/2, Paint{Fill: s.Color})
			continue
		}
		runs = append(runs, run)
	}
	if len(runs) > 0 {
		p.add(pathMark{runs: runs, paint: Paint{Edge: s}})
	}
}

// unbroken splits points at the gaps.
func unbroken(points []Point) [][]Point {
	var runs [][]Point
	from := 0
	for i := 0; i <= len(points); i++ {
		if i < len(points) && finite(points[i].X) && finite(points[i].Y) {
			continue
		}
		if i > from {
			runs = append(runs, append([]Point(nil), points[from:i]...))
		}
		from = i + 1
	}
	return runs
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// Polygon draws the area within points; points that are not numbers are left out.
func (p *Page) Polygon(points []Point, paint Paint) {
	var run []Point
	for _, r := range unbroken(points) {
		run = append(run, r...)
	}
	if len(run) > 2 {
		p.add(pathMark{runs: [][]Point{run}, closed: true, paint: paint})
	}
}

// Band fills between two heights over x; it has gaps where either is not a
// number.
func (p *Page) Band(x, low, high []float64, fill color.NRGBA) {
	from := 0
	for i := 0; i <= len(x); i++ {
		if i < len(x) && finite(x[i]) && finite(low[i]) && finite(high[i]) {
			continue
		}
		if i-from > 1 {
			ring := make([]Point, 0, 2*(i-from))
			for k := from; k < i; k++ {
				ring = append(ring, Point{x[k], high[k]})
			}
			for k := i - 1; k >= from; k-- {
				ring = append(ring, Point{x[k], low[k]})
			}
			p.Polygon(ring, Paint{Fill: fill})
		}
		from = i + 1
	}
}

// Rect draws a rectangle.
func (p *Page) Rect(b Box, paint Paint) {
	p.Polygon([]Point{{b.X, b.Y}, {b.Right(), b.Y}, {b.Right(), b.Bottom()}, {b.X, b.Bottom()}}, paint)
}

// Circle draws a circle.
func (p *Page) Circle(centre Point, radius float64, paint Paint) {
	if finite(centre.X) && finite(centre.Y) && radius > 0 {
		p.add(circleMark{centre, radius, paint})
	}
}

// Text sets one line of text and returns its width.
func (p *Page) Text(at Point, text string, style Type) float64 {
	text = printable(text)
	width := style.Face.width(text) * style.Size
	if text == "" || !finite(at.X) || !finite(at.Y) {
		return width
	}
	back := 0.0
	switch style.Align {
	case Middle:
		back = width / 2
	case End:
		back = width
	}
	sin, cos := math.Sincos(style.Angle * math.Pi / 180)
	at.X -= back * cos
	at.Y += back * sin
	style.Align = Start
	p.add(textMark{at, text, width, style})
	return width
}

// Image draws a picture into the box: the part of it that holds all of focus (in
// the picture's own pixels; empty for the whole) and has the shape of the box.
// Where the picture does not reach, the box is filled with ground.
func (p *Page) Image(b Box, m image.Image, focus image.Rectangle, ground color.NRGBA) {
	if pic := newPicture(m, focus, b, ground, p.freeWidth); pic != nil {
		p.add(imageMark{b, pic})
	}
}

// freeWidth returns the first width in dots, from w up, that no picture of the
// page, or of the document it is part of, has. The PDF library orders pictures by their widths, and those of equal
// width as it happens; so the same page would not give the same bytes.
func (p *Page) freeWidth(w int) int {
	pages := []*Page{p}
	if p.book != nil {
		pages = p.book.Pages
	}
	for _, page := range pages {
		for _, m := range page.marks {
			if i, ok := m.(imageMark); ok && i.picture.pixels.Rect.Dx() == w {
				return p.freeWidth(w + 1)
			}
		}
	}
	return w
}

// Bookmark names a place of the page, at a height, for the list of contents of a
// PDF; level 0 is the outermost.
func (p *Page) Bookmark(title string, level int, y float64) {
	p.add(bookmarkMark{printable(title), level, y})
}

// Clip hides what draw puts outside the box.
func (p *Page) Clip(b Box, draw func()) {
	p.add(clipMark{b})
	draw()
	p.add(unclipMark{})
}

// Group names what draw puts on the page; with a link it can be followed where
// the form of output allows it.
func (p *Page) Group(name, link string, draw func()) {
	p.add(groupMark{printable(name), link})
	draw()
	p.add(ungroupMark{})
}
