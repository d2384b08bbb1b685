package render

import (
	"math"

	"gaitwright/gait/body"
)

// Dot is a value with its error; NaN where there is none.
type Dot struct{ Value, Error float64 }

// NoDot is a value that is not there.
var NoDot = Dot{math.NaN(), math.NaN()}

// DotRow is one measure as dots with intervals on a scale of its own.
type DotRow struct {
	Title, Unit       string
	Left, Right, Both Dot
	// Low and High bound a reference range; NaN or equal where there is none.
	Low, High float64
	// Scale names rows that share one scale; empty for a scale of the row's own.
	Scale string
}

func (r DotRow) valueRange() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	for _, d := range [...]Dot{r.Left, r.Right, r.Both} {
		take(d.Value)
		if finite(d.Error) {
			take(d.Value - d.Error)
			take(d.Value + d.Error)
		}
	}
	if r.hasReference() {
		take(r.Low)
		take(r.High)
	}
	return low, high
}

func (r DotRow) hasReference() bool { return finite(r.Low) && finite(r.High) && r.High > r.Low }

// DotRows draws rows of dots: left a filled disc above the line, right an open
// square below it, both sides together a filled diamond, each with its interval,
// over the reference range where there is one.
func (p *Page) DotRows(b Box, rows []DotRow, pal Palette) {
	if len(rows) == 0 {
		return
	}
	type span struct{ low, high float64 }
	shared := map[string]span{}
	for _, r := range rows {
		if low, high := r.valueRange(); r.Scale != "" && low <= high {
			s, ok := shared[r.Scale]
			if !ok {
				s = span{low, high}
			}
			shared[r.Scale] = span{math.Min(s.low, low), math.Max(s.high, high)}
		}
	}
	height := b.H / float64(len(rows))
	name := Type{Size: 7.2, Face: Medium, Color: pal.Ink}
	soft := Type{Size: 5.8, Color: pal.Soft}
	value := Type{Size: 6.4, Align: End}
	titleW, valueW := 0.32*b.W, 0.22*b.W
	for i, r := range rows {
		y := b.Y + (float64(i)+0.5)*height
		if i > 0 {
			p.Line(Point{b.X, y - height/2}, Point{b.Right(), y - height/2}, Stroke{Color: pal.Faint, Width: 0.4})
		}
		lines := wrap(r.Title, name, titleW-6)
		for k, line := range lines {
			p.Text(Point{b.X, y + 0.36*name.Size + (float64(k)-float64(len(lines)-1)/2)*1.15*name.Size}, line, name)
		}
		low, high := r.valueRange()
		if s, ok := shared[r.Scale]; ok && r.Scale != "" {
			low, high = s.low, s.high
		}
		if low > high {
			p.Text(Point{b.X + titleW, y + 0.36*soft.Size}, "withheld", soft)
			continue
		}
		pad := 0.15 * (high - low)
		if pad == 0 {
			pad = math.Max(0.5, 0.05*math.Abs(high))
		}
		low, high = low-pad, high+pad
		area := Box{b.X + titleW, y - height/2, b.W - titleW - valueW, height}
		at := func(v float64) float64 { return area.X + area.W*(v-low)/(high-low) }
		reach := math.Min(4.4, height/6)
		if r.hasReference() {
			p.Rect(Box{at(r.Low), y - 1.8*reach, at(r.High) - at(r.Low), 3.6 * reach}, Paint{Fill: pal.Reference})
		}
		p.Line(Point{area.X, y}, Point{area.Right(), y}, Stroke{Color: pal.Rule, Width: 0.4})
		values, decimals := ticks(low, high, 4)
		tick := soft
		tick.Align = Middle
		for _, v := range values {
			p.Line(Point{at(v), y - 1.5}, Point{at(v), y + 1.5}, Stroke{Color: pal.Rule, Width: 0.4})
			p.Text(Point{at(v), y + height/2 - 4}, numberText(v, decimals), tick)
		}
		for _, d := range []struct {
			dot  Dot
			side body.Side
			off  float64
		}{{r.Left, body.Left, -reach}, {r.Right, body.Right, reach}, {r.Both, body.NoSide, 0}} {
			p.dot(at, y+d.off, d.dot, d.side, pal)
		}
		deep := decimalsFor(smallestError(r), r.Unit)
		var texts []Type
		var words []string
		for _, d := range []struct {
			dot  Dot
			side body.Side
		}{{r.Left, body.Left}, {r.Right, body.Right}, {r.Both, body.NoSide}} {
			if !finite(d.dot.Value) {
				continue
			}
			t := value
			t.Color = sideStyle(d.side, pal, 1).Color
			text := numberText(d.dot.Value, deep)
			if e := errorText(d.dot.Error, deep); e != "" {
				text += " ± " + e
			}
			if s := sideLetter(d.side); s != "" {
				text = s + "  " + text
			}
			if u := unitText(r.Unit); u != "" {
				text += " " + u
			}
			texts, words = append(texts, t), append(words, text)
		}
		for k := range words {
			p.Text(Point{b.Right(), y + 0.36*value.Size + (float64(k)-float64(len(words)-1)/2)*1.3*value.Size}, words[k], texts[k])
		}
	}
}

func smallestError(r DotRow) float64 {
	least := math.NaN()
	for _, d := range [...]Dot{r.Left, r.Right, r.Both} {
		if d.Error > 0 && !(least <= d.Error) {
			least = d.Error
		}
	}
	return least
}

// dot draws one value with its interval.
func (p *Page) dot(at func(float64) float64, y float64, d Dot, side body.Side, pal Palette) {
	if !finite(d.Value) {
		return
	}
	s := sideStyle(side, pal, 0.9)
	s.Dash = nil
	x := at(d.Value)
	if finite(d.Error) && d.Error > 0 {
		p.Line(Point{at(d.Value - d.Error), y}, Point{at(d.Value + d.Error), y}, s)
	}
	const r = 2.1
	switch side {
	case body.Left:
		p.Circle(Point{x, y}, r, Paint{Fill: s.Color})
	case body.Right:
		p.Rect(Box{x - r, y - r, 2 * r, 2 * r}, Paint{Fill: pal.Paper, Edge: Stroke{Color: s.Color, Width: 1}})
	default:
		p.Polygon([]Point{{x, y - r - 0.6}, {x + r + 0.6, y}, {x, y + r + 0.6}, {x - r - 0.6, y}}, Paint{Fill: s.Color})
	}
}

// DotsFigure is a page of rows of dots, of the given width.
func DotsFigure(title string, rows []DotRow, width float64, pal Palette) *Page {
	const margin, each = 12.0, 36.0
	head := flow{width: width - 2*margin}
	head.add(title, Type{Size: 8.4, Face: Bold, Color: pal.Ink}, 0)
	head.space(5)
	size := Size{width, 2*margin + head.height + each*float64(len(rows))}
	p := NewPage(size, title)
	p.Paper = pal.Paper
	head.draw(p, margin, margin)
	p.DotRows(Box{margin, margin + head.height, width - 2*margin, each * float64(len(rows))}, rows, pal)
	return p
}
