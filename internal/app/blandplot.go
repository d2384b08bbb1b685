package app

import (
	"fmt"
	"image/color"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"gaitwright/gait/measure"
	"gaitwright/internal/render"
	"gaitwright/num/agree"
)

// WriteAgreementPlot draws the differences of two raters against their means,
// with the bias, the limits of agreement and the 95 % interval of each (Bland &
// Altman 1986, Lancet 327:307-310), to a .png, .svg, .pdf or .html file. The pair
// is that of the first two raters.
func (st *Studio) WriteAgreementPlot(r Reliability, path string) error {
	if len(r.Pairs) == 0 {
		return problem(KindNoResult, "", "Measure three subjects or more.", "%s: limits of agreement need three pairs, and there are %d", r.Title(), len(r.Subjects))
	}
	page := agreementPage(r, r.Pairs[0])
	write := map[string]func(io.Writer) error{
		".png": func(w io.Writer) error { return page.WritePNG(w, 200) }, ".svg": page.WriteSVG, ".html": page.WriteHTML,
		".pdf": func(w io.Writer) error { return page.WritePDF(w, st.now()) },
	}[strings.ToLower(filepath.Ext(path))]
	if write == nil {
		return problem(KindUsage, path, "End its name in .png, .svg, .pdf or .html.", "the kind of picture is not known")
	}
	return WriteFileWhole(path, write)
}

// Measures of the plot, in points.
const (
	plotWidth, plotHeight = 460.0, 300.0
	plotLeft, plotRight   = 54.0, 122.0
	plotTop, plotBottom   = 50.0, 42.0
)

func agreementPage(r Reliability, pair RaterPair) *render.Page {
	pal := render.Light
	size := render.Size{W: plotWidth, H: plotHeight}
	title := fmt.Sprintf("%s: %s − %s", agreementTitle(r), pair.First, pair.Second)
	p := render.NewPage(size, title)
	p.Paper = pal.Paper
	unit := ""
	if r.Unit != "" {
		unit = " (" + unitInWords(r.Unit) + ")"
	}
	p.Text(render.Point{X: 14, Y: 21}, fitted(title, render.Type{Size: 11, Face: render.Bold}, plotWidth-28), render.Type{Size: 11, Face: render.Bold, Color: pal.Ink})
	p.Text(render.Point{X: 14, Y: 35}, fmt.Sprintf("%d subjects. Lines: bias and limits of agreement (± 1.96 SD); bars beside them: their 95 %% confidence intervals", pair.N), render.Type{Size: 7.5, Color: pal.Soft})

	area := render.Box{X: plotLeft, Y: plotTop, W: plotWidth - plotLeft - plotRight, H: plotHeight - plotTop - plotBottom}
	x0, x1 := extent(pair.Means)
	y0, y1 := extent(append([]float64{pair.LowerCI.Low, pair.UpperCI.High, 0}, pair.Differences...))
	atX := func(v float64) float64 { return area.X + area.W*(v-x0)/(x1-x0) }
	atY := func(v float64) float64 { return area.Bottom() - area.H*(v-y0)/(y1-y0) }

	tick := render.Type{Size: 7, Color: pal.Soft, Align: render.End}
	for _, v := range niceSteps(y0, y1, 6) {
		p.Line(render.Point{X: area.X - 3, Y: atY(v)}, render.Point{X: area.X, Y: atY(v)}, render.Stroke{Color: pal.Rule, Width: 0.6})
		p.Text(render.Point{X: area.X - 5, Y: atY(v) + 2.5}, plainNumber(v), tick)
	}
	tick.Align = render.Middle
	for _, v := range niceSteps(x0, x1, 6) {
		p.Line(render.Point{X: atX(v), Y: area.Bottom()}, render.Point{X: atX(v), Y: area.Bottom() + 3}, render.Stroke{Color: pal.Rule, Width: 0.6})
		p.Text(render.Point{X: atX(v), Y: area.Bottom() + 11}, plainNumber(v), tick)
	}
	if y0 < 0 && y1 > 0 {
		p.Line(render.Point{X: area.X, Y: atY(0)}, render.Point{X: area.Right(), Y: atY(0)}, render.Stroke{Color: pal.Rule, Width: 0.6})
	}
	for _, e := range [][2]render.Point{{{X: area.X, Y: area.Y}, {X: area.X, Y: area.Bottom()}}, {{X: area.X, Y: area.Bottom()}, {X: area.Right(), Y: area.Bottom()}}} {
		p.Line(e[0], e[1], render.Stroke{Color: pal.Rule, Width: 0.8})
	}
	axis := render.Type{Size: 8, Face: render.Medium, Color: pal.Ink, Align: render.Middle}
	p.Text(render.Point{X: area.X + area.W/2, Y: plotHeight - 14}, "Mean of the two"+unit, axis)
	axis.Angle = 90
	p.Text(render.Point{X: 17, Y: area.Y + area.H/2}, "Difference"+unit, axis)

	for i, m := range pair.Means {
		fill := pal.Ink
		fill.A = 150
		p.Circle(render.Point{X: atX(m), Y: atY(pair.Differences[i])}, 2.7, render.Paint{Fill: fill, Edge: render.Stroke{Color: pal.Ink, Width: 0.5}})
	}
	// The labels stand beside their lines, apart where those lie close.
	const apart, bars, step = 24.0, 7.0, 6.0
	lines := []struct {
		name  string
		v     float64
		ci    agree.Interval
		color color.NRGBA
		dash  []float64
	}{
		{"upper limit", pair.Upper, pair.UpperCI, pal.Right, []float64{4, 2.5}},
		{"bias", pair.Bias, pair.BiasCI, pal.Left, nil},
		{"lower limit", pair.Lower, pair.LowerCI, pal.Right, []float64{4, 2.5}},
	}
	middle := math.Max(area.Y+apart, math.Min(area.Bottom()-apart, atY(pair.Bias)))
	labels := []float64{math.Min(atY(pair.Upper), middle-apart), middle, math.Max(atY(pair.Lower), middle+apart)}
	labelX := area.Right() + bars + 2*step + 10
	for i, l := range lines {
		y, x := atY(l.v), area.Right()+bars+step*float64(i)
		p.Line(render.Point{X: area.X, Y: y}, render.Point{X: area.Right(), Y: y}, render.Stroke{Color: l.color, Width: 1.1, Dash: l.dash})
		bar := render.Stroke{Color: l.color, Width: 0.9}
		top, bottom := atY(l.ci.High), atY(l.ci.Low)
		p.Line(render.Point{X: x, Y: top}, render.Point{X: x, Y: bottom}, bar)
		for _, end := range []float64{top, bottom} {
			p.Line(render.Point{X: x - 2, Y: end}, render.Point{X: x + 2, Y: end}, bar)
		}
		p.Circle(render.Point{X: x, Y: y}, 1.8, render.Paint{Fill: l.color})
		if math.Abs(labels[i]-y) > 1 {
			p.Line(render.Point{X: x, Y: y}, render.Point{X: labelX - 2, Y: labels[i]}, render.Stroke{Color: l.color, Width: 0.4})
		}
		p.Text(render.Point{X: labelX, Y: labels[i] + 0.5}, l.name+" "+AgreementFigure(l.v), render.Type{Size: 8, Face: render.Bold, Color: l.color})
		p.Text(render.Point{X: labelX, Y: labels[i] + 9.5}, AgreementFigure(l.ci.Low)+" to "+AgreementFigure(l.ci.High), render.Type{Size: 7, Color: pal.Soft})
	}
	return p
}

func agreementTitle(r Reliability) string {
	title := r.Title()
	if d, ok := measure.Lookup(r.Measure); ok {
		title = d.Title
		if r.Side != "" && r.Side != "both" {
			title += ", " + r.Side
		}
	}
	return strings.ToUpper(title[:1]) + title[1:]
}

func unitInWords(unit string) string {
	if unit == "deg" {
		return "degrees"
	}
	return unit
}

// fitted shortens text to a width.
func fitted(text string, style render.Type, width float64) string {
	if style.Width(text) <= width {
		return text
	}
	r := []rune(text)
	for len(r) > 1 && style.Width(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

// extent is the range of values with a little air; never empty.
func extent(values []float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		low, high = math.Min(low, v), math.Max(high, v)
	}
	pad := 0.06 * (high - low)
	if !(pad > 0) {
		pad = math.Max(1e-6, 0.05*math.Abs(high))
	}
	return low - pad, high + pad
}

// niceSteps are about n round values in a range.
func niceSteps(low, high float64, n int) []float64 {
	base := math.Pow(10, math.Floor(math.Log10((high-low)/float64(n))))
	step := 10 * base
	for _, m := range []float64{1, 2, 5} {
		if m*base*float64(n) >= high-low {
			step = m * base
			break
		}
	}
	var out []float64
	for k := math.Ceil(low / step); k*step <= high && len(out) < 4*n; k++ {
		out = append(out, k*step+0) // no negative zero
	}
	return out
}

func plainNumber(v float64) string {
	return strings.Replace(strconv.FormatFloat(v, 'g', 6, 64), "-", "−", 1)
}

// AgreementFigure prints a figure of an agreement to four digits, with a true
// minus sign; a dash where it is not defined.
func AgreementFigure(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	digits := 3
	if v != 0 {
		digits = 3 - int(math.Floor(math.Log10(math.Abs(v))))
	}
	s := strconv.FormatFloat(v, 'f', min(max(digits, 0), 6), 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}
