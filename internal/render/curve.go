package render

import (
	"image/color"
	"math"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
)

// Reference is a band to compare a curve with.
type Reference struct {
	Name      string // of the curve
	Low, High [101]float64
	Source    string // whose band it is, in a few words
}

// CurvePlot is one quantity over the stride.
type CurvePlot struct {
	Title, Unit string
	Curves      []measure.Curve // left, right or of both
	Reference   *Reference
	Bars        []CurveBar
}

// CurveBar is the usual range of a single value that is read off the curve at one
// place of the stride.
type CurveBar struct {
	At        float64 // percent of the stride
	Low, High float64 // infinite where the range is open
}

// CurvePlots groups curves by name in the order in which they come.
func CurvePlots(curves []measure.Curve, references []Reference) []CurvePlot {
	var out []CurvePlot
	at := map[string]int{}
	for _, c := range curves {
		i, ok := at[c.Name]
		if !ok {
			i = len(out)
			at[c.Name] = i
			plot := CurvePlot{Title: measure.CurveTitle(c.Name), Unit: unitText(c.Unit)}
			if plot.Title == c.Name {
				plot.Title = wordsOf(c.Name)
			}
			for k := range references {
				if references[k].Name == c.Name {
					plot.Reference = &references[k]
				}
			}
			out = append(out, plot)
		}
		out[i].Curves = append(out[i].Curves, c)
	}
	return out
}

// sideStyle is how a side is drawn: the right is dashed, so that colour is not
// the only cue.
func sideStyle(s body.Side, pal Palette, width float64) Stroke {
	switch s {
	case body.Left:
		return Stroke{Color: pal.Left, Width: width, Round: true}
	case body.Right:
		return Stroke{Color: pal.Right, Width: width, Dash: []float64{3.4, 1.9}}
	}
	return Stroke{Color: pal.Both, Width: width, Round: true}
}

func sideLetter(s body.Side) string {
	switch s {
	case body.Left:
		return "L"
	case body.Right:
		return "R"
	}
	return ""
}

// valueRange is the range of what a plot shows; ok is false where it shows
// nothing.
func (c CurvePlot) valueRange() (low, high float64, ok bool) {
	low, high = math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if finite(v) {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	for _, k := range c.Curves {
		for i := range k.Mean {
			take(k.Mean[i])
			take(k.Mean[i] - k.SD[i])
			take(k.Mean[i] + k.SD[i])
		}
	}
	if low > high {
		return 0, 1, false
	}
	if c.Reference != nil {
		for i := range c.Reference.Low {
			take(c.Reference.Low[i])
			take(c.Reference.High[i])
		}
	}
	for _, k := range c.Bars {
		take(k.Low)
		take(k.High)
	}
	pad := 0.05 * (high - low)
	if pad == 0 {
		pad = math.Max(1, 0.05*math.Abs(high))
	}
	return low - pad, high + pad, true
}

// Sizes of type in a plot.
const (
	plotTitle = 7.2
	plotTick  = 6.2
)

// titleLines is how many lines the title of a plot takes with its unit.
func (c CurvePlot) titleLines(width float64) int { return len(c.titleText(width)) }

// titleText is the title in lines; the unit ends the last.
func (c CurvePlot) titleText(width float64) []string {
	text := c.Title
	if c.Unit != "" {
		text += " (" + strings.ReplaceAll(c.Unit, " ", "\u00a0") + ")"
	}
	return wrap(text, Type{Size: plotTitle, Face: Medium}, width)
}

// CurvePlot draws a plot: mean of each side with a band of one standard
// deviation, toe-off marked in the side's style, the letter of the side at the
// line's end.
func (p *Page) CurvePlot(b Box, plot CurvePlot, pal Palette) {
	p.curvePlot(b, plot, plot.titleLines(b.W), pal)
}

// curvePlot leaves room for a number of lines of title, so that plots side by
// side stand on one level.
func (p *Page) curvePlot(b Box, plot CurvePlot, lines int, pal Palette) {
	const (
		titleSize = plotTitle
		tickSize  = plotTick
		right     = 9.0
		bottom    = 10.0
	)
	top := 4.4 + 1.2*titleSize*float64(max(lines, 1))
	title := Type{Size: titleSize, Face: Medium, Color: pal.Ink}
	soft := Type{Size: titleSize, Color: pal.Soft}
	tick := Type{Size: tickSize, Color: pal.Soft}
	p.Group(plot.Title, "", func() {
		unit := "(" + strings.ReplaceAll(plot.Unit, " ", "\u00a0") + ")"
		text := plot.titleText(b.W)
		for i, line := range text {
			at := Point{b.X, b.Y + titleSize*(1+1.2*float64(i))}
			words, isLast := line, i == len(text)-1 && plot.Unit != ""
			if isLast {
				words = strings.TrimSuffix(line, printable(unit))
			}
			at.X += p.Text(at, strings.TrimRight(words, " "), title)
			if isLast && words != line {
				if words != "" {
					at.X += title.Width(" ")
				}
				p.Text(at, unit, soft)
			}
		}
		low, high, ok := plot.valueRange()
		area := Box{b.X, b.Y + top, b.W - right, b.H - top - bottom}
		values, decimals := ticks(low, high, max(3, int(area.H/13)))
		left := 19.0
		for _, v := range values {
			left = math.Max(left, 4+tick.Width(numberText(v, decimals)))
		}
		area.X, area.W = area.X+left, area.W-left
		if !ok || area.W <= 0 || area.H <= 0 {
			p.Text(Point{b.X, b.Y + top + titleSize}, "No whole stride to draw", tick)
			return
		}
		atX := func(percent float64) float64 { return area.X + area.W*percent/100 }
		atY := func(v float64) float64 { return area.Bottom() - area.H*(v-low)/(high-low) }
		if r := plot.Reference; r != nil {
			p.band(r.Low[:], r.High[:], atX, atY, pal.Reference)
		}
		tick.Align = End
		for _, v := range values {
			rule := Stroke{Color: pal.Faint, Width: 0.4}
			if v == 0 {
				rule.Color = pal.Rule
			}
			p.Line(Point{area.X, atY(v)}, Point{area.Right(), atY(v)}, rule)
			p.Text(Point{area.X - 3, atY(v) + 0.36*tickSize}, numberText(v, decimals), tick)
		}
		p.Line(Point{area.X, area.Bottom()}, Point{area.Right(), area.Bottom()}, Stroke{Color: pal.Rule, Width: 0.5})
		tick.Align = Middle
		for i, t := range []struct {
			at   float64
			text string
		}{{0, "0"}, {25, "25"}, {50, "50"}, {75, "75"}, {100, "100 %"}} {
			p.Line(Point{atX(t.at), area.Bottom()}, Point{atX(t.at), area.Bottom() + 2}, Stroke{Color: pal.Rule, Width: 0.5})
			if i%2 == 1 && area.W < 90 {
				continue
			}
			p.Text(Point{atX(t.at), area.Bottom() + 2.5 + tickSize}, t.text, tick)
		}
		for _, c := range plot.Curves {
			lows, highs := make([]float64, 101), make([]float64, 101)
			for i := range c.Mean {
				lows[i], highs[i] = c.Mean[i]-c.SD[i], c.Mean[i]+c.SD[i]
			}
			p.band(lows, highs, atX, atY, faded(sideStyle(c.Side, pal, 1).Color, 0.15))
		}
		for _, c := range plot.Curves {
			if c.ToeOff > 0 && c.ToeOff < 100 {
				s := sideStyle(c.Side, pal, 0.6)
				s.Dash = nil
				if c.Side == body.Right {
					s.Dash = []float64{1.6, 1.3}
				}
				s.Color = faded(s.Color, 0.75)
				s.Round = false
				p.Line(Point{atX(c.ToeOff), area.Y}, Point{atX(c.ToeOff), area.Bottom()}, s)
			}
		}
		for _, k := range plot.Bars {
			s := Stroke{Color: pal.Soft, Width: 0.9}
			x, top, bottom := atX(k.At), math.Max(atY(k.High), area.Y), math.Min(atY(k.Low), area.Bottom())
			p.Line(Point{x, bottom}, Point{x, top}, s)
			for _, end := range []float64{k.Low, k.High} {
				if finite(end) { // an open range has no end there
					p.Line(Point{x - 2, atY(end)}, Point{x + 2, atY(end)}, s)
				}
			}
		}
		for _, c := range plot.Curves {
			points := make([]Point, 101)
			for i, v := range c.Mean {
				points[i] = Point{atX(float64(i)), atY(v)}
			}
			p.Polyline(points, sideStyle(c.Side, pal, 1.15))
		}
		p.endLetters(plot, area, atY, pal)
	})
}

func (p *Page) band(low, high []float64, atX, atY func(float64) float64, fill color.NRGBA) {
	n := len(low)
	x, top, bottom := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		x[i], bottom[i], top[i] = atX(float64(i)), atY(low[i]), atY(high[i])
	}
	p.Band(x, bottom, top, fill)
}

// endLetters puts L and R at the ends of the lines, apart where they would touch.
func (p *Page) endLetters(plot CurvePlot, area Box, atY func(float64) float64, pal Palette) {
	const size, apart = 6.2, 6.4
	type end struct {
		y    float64
		side body.Side
	}
	var ends []end
	for _, c := range plot.Curves {
		for i := 100; i >= 0; i-- {
			if finite(c.Mean[i]) {
				ends = append(ends, end{atY(c.Mean[i]), c.Side})
				break
			}
		}
	}
	if len(ends) == 2 {
		up, down := &ends[0], &ends[1]
		if up.y > down.y {
			up, down = down, up
		}
		if gap := down.y - up.y; gap < apart {
			up.y -= (apart - gap) / 2
			down.y += (apart - gap) / 2
		}
	}
	for _, e := range ends {
		s := sideStyle(e.side, pal, 1)
		p.Text(Point{area.Right() + 3, e.y + 0.36*size}, sideLetter(e.side), Type{Size: size, Face: Bold, Color: s.Color})
	}
}

// Legend draws, ending at a point, what the lines and bands of the curves mean,
// and returns its width.
func (p *Page) Legend(end Point, size float64, reference string, pal Palette) float64 {
	text := Type{Size: size, Color: pal.Soft}
	const sample, gap = 15.0, 9.0
	type entry struct {
		text string
		draw func(x, y float64)
	}
	entries := []entry{
		{"left", func(x, y float64) { p.Line(Point{x, y}, Point{x + sample, y}, sideStyle(body.Left, pal, 1.15)) }},
		{"right", func(x, y float64) { p.Line(Point{x, y}, Point{x + sample, y}, sideStyle(body.Right, pal, 1.15)) }},
		{"± 1 SD between strides", func(x, y float64) {
			p.Rect(Box{x, y - 2.5, sample / 2, 5}, Paint{Fill: faded(pal.Left, 0.15)})
			p.Rect(Box{x + sample/2, y - 2.5, sample / 2, 5}, Paint{Fill: faded(pal.Right, 0.15)})
		}},
		{"toe-off", func(x, y float64) {
			p.Line(Point{x + sample - 3, y - 3}, Point{x + sample - 3, y + 3}, Stroke{Color: pal.Left, Width: 0.6})
			p.Line(Point{x + sample - 7, y - 3}, Point{x + sample - 7, y + 3}, Stroke{Color: pal.Right, Width: 0.6, Dash: []float64{1.6, 1.3}})
		}},
	}
	if reference != "" {
		entries = append(entries, entry{reference, func(x, y float64) {
			p.Rect(Box{x, y - 2.5, sample, 5}, Paint{Fill: pal.Reference})
		}})
	}
	total := -gap
	for _, e := range entries {
		total += sample + 3 + text.Width(e.text) + gap
	}
	x := end.X - total
	for _, e := range entries {
		e.draw(x, end.Y-0.34*size)
		x += sample + 3
		x += p.Text(Point{x, end.Y}, e.text, text) + gap
	}
	return total
}

// mostLines is the greatest number of lines of the plots' titles.
func mostLines(plots []CurvePlot, width float64) int {
	most := 1
	for _, plot := range plots {
		most = max(most, plot.titleLines(width))
	}
	return most
}

// CurvesFigure is a page of plots side by side, columns to a row, each of the
// given size.
func CurvesFigure(plots []CurvePlot, columns int, each Size, pal Palette) *Page {
	const margin, gap, legend = 12.0, 16.0, 16.0
	columns = max(1, min(columns, len(plots)))
	rows := max(1, (len(plots)+columns-1)/columns)
	size := Size{2*margin + float64(columns)*each.W + float64(columns-1)*gap, 2*margin + legend + float64(rows)*each.H + float64(rows-1)*gap}
	title := "Curves of the stride"
	if len(plots) == 1 {
		title = plots[0].Title
	}
	p := NewPage(size, title)
	p.Paper = pal.Paper
	reference := ""
	for i, plot := range plots {
		b := Box{margin + float64(i%columns)*(each.W+gap), margin + float64(i/columns)*(each.H+gap), each.W, each.H}
		p.curvePlot(b, plot, mostLines(plots, each.W), pal)
		if plot.Reference != nil && reference == "" {
			reference = plot.Reference.Source
		}
	}
	width := NewPage(size, "").Legend(Point{}, 6.4, reference, pal)
	p.Legend(Point{math.Max(size.W-margin, margin+width), size.H - margin + 1}, 6.4, reference, pal)
	return p
}
