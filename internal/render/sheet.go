package render

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	marginX      = 42.0
	marginTop    = 34.0
	marginBottom = 26.0
	pictureGap   = 7.0
	groupGap     = 18.0
)

// sheet is a report set at one density.
type sheet struct {
	r                 *Report
	d                 density
	pal               Palette
	size              Size
	width             float64
	studio, titleText flow
	name              flow
	facts             [][]factCell
	frames            [][]frame
	plots             []CurvePlot
	more              int // plots that are not shown
	cols              [][]block
	c                 columns
	tableH            float64
	under             flow
	lower             [2]flow
	care              flow
	foot              flow
}

type factCell struct {
	x    float64
	text flow
}

func newSheet(r *Report, t table, d density) *sheet {
	s := &sheet{r: r, d: d, pal: Light, size: r.paper()}
	s.width = s.size.W - 2*marginX
	s.setLetterhead()
	s.setName()
	s.setFacts()
	s.setFrames()
	plots := CurvePlots(r.Curves, r.Bands)
	if most := d.plotsARow * d.plotRows; len(plots) > most {
		s.more = len(plots) - most
		plots = plots[:most]
	}
	s.plots = plots
	s.cols, s.c, s.tableH = layTable(t, s.width, d, s.pal)
	s.setTexts(t)
	return s
}

// setName sets the runner's name as large as the line allows.
func (s *sheet) setName() {
	text := Type{Size: 23, Color: s.pal.Ink}
	room := s.width
	for text.Size > 13 && text.Width(s.r.Runner) > room {
		text.Size--
	}
	s.name.width = room
	s.name.add(s.r.Runner, text, 0)
	if s.r.About != "" {
		s.name.height -= 0.1 * text.Size
		s.name.add(s.r.About, Type{Size: 8.4, Color: s.pal.Soft}, 0)
	}
}

// setFacts flows the facts in as few rows as they need.
func (s *sheet) setFacts() {
	const gap = 16.0
	label := Type{Size: 6.2, Color: s.pal.Soft}
	value := Type{Size: 7.8, Face: Medium, Color: s.pal.Ink}
	facts := append([]Fact{{"Date", s.r.Made.Format("2 January 2006")}}, s.r.facts()...)
	var line []factCell
	x := 0.0
	for _, f := range facts {
		w := math.Min(math.Max(label.Width(f.Label), value.Width(f.Value)), s.width)
		if x > 0 && x+w > s.width {
			s.facts = append(s.facts, line)
			line, x = nil, 0
		}
		cell := factCell{x: x, text: flow{width: w + 0.01}}
		cell.text.add(f.Label, label, 0)
		cell.text.add(f.Value, value, 0)
		line = append(line, cell)
		x += w + gap
	}
	s.facts = append(s.facts, line)
}

const factGap = 4.0

func factHeight(line []factCell) float64 {
	h := 0.0
	for _, c := range line {
		h = math.Max(h, c.text.height)
	}
	return h
}

func (s *sheet) factsHeight() float64 {
	h := -factGap
	for _, line := range s.facts {
		h += factHeight(line) + factGap
	}
	return h
}

// setLetterhead sets the studio's name and the title beside each other.
func (s *sheet) setLetterhead() {
	title := Type{Size: 8.6, Color: s.pal.Soft}
	s.titleText = flow{width: math.Min(title.Width(s.r.title()), 0.45*s.width) + 0.01}
	s.titleText.add(s.r.title(), title, 0)
	s.studio.width = s.width - s.titleText.width - 20
	s.studio.add(s.r.Studio.Name, Type{Size: 8.6, Face: Bold, Color: s.pal.Accent}, 0)
}

func (s *sheet) letterheadHeight() float64 {
	return math.Max(s.studio.height, s.titleText.height)
}

// setTexts sets what stands below the table.
func (s *sheet) setTexts(t table) {
	r, pal := s.r, s.pal
	small := Type{Size: s.d.text * 0.9, Color: pal.Soft}
	text := Type{Size: s.d.text, Color: pal.Ink}
	head := Type{Size: s.d.text, Face: Bold, Color: pal.Ink}

	s.under.width = s.width
	if t.rowsOut > 0 || t.linesOut > 0 {
		s.under.add(fmt.Sprintf("This page has no room for all: %d rows of the table and %d remarks more stand in the result file.", t.rowsOut, t.linesOut), Type{Size: s.d.text, Face: Medium, Color: pal.Ink}, 0)
	}
	if len(s.cols) > 0 {
		key := "± one standard error of measurement, everything included; n: strides; R − L: right minus left"
		if t.bold {
			key += ", bold where it is more than 1.96 times its own error"
		}
		key += "."
		if s.c.smallest > 0 {
			key += " Smallest real change: the least difference between two visits that is beyond error (95 %)."
		}
		s.under.add(key, small, 0)
	}
	if b := s.bands(); len(b) > 0 {
		s.under.add("Reference of the curves: "+strings.Join(b, "; ")+".", small, 0)
	}
	switch {
	case s.more == 1:
		s.under.add("1 more curve stands in the result file.", small, 0)
	case s.more > 1:
		s.under.add(fmt.Sprintf("%d more curves stand in the result file.", s.more), small, 0)
	}
	for _, remark := range r.Remarks {
		s.under.add(remark, small, 0)
	}
	if len(t.flags) > 0 {
		s.under.add(strings.Join(t.flags, " \u00a0\u00a0 "), small, 0)
	}

	half := (s.width - 20) / 2
	var parts []flow
	part := func(title, mark string, list []string, style Type) {
		f := flow{width: half}
		for _, line := range list {
			if strings.TrimSpace(printable(line)) == "" {
				continue
			}
			if f.height == 0 {
				f.add(title, head, 0)
				f.height += 1
			}
			if mark == "" {
				f.add(line, style, 0)
			} else {
				f.item(mark, line, style)
			}
			f.height += 0.12 * style.Size
		}
		if f.height > 0 {
			parts = append(parts, f)
		}
	}
	aside := Type{Size: s.d.text * 0.92, Color: pal.Soft}
	warn := Type{Size: aside.Size, Color: pal.Warn}
	part("Notes", "", r.Notes, text)
	part("Mind when reading", "!", r.Warnings, warn)
	part("Not measurable here", "–", t.withheld, aside)
	part("How it was measured", "–", r.Method, aside)
	s.lower = balance(parts, half, 0.6*s.d.text)

	s.care.width = s.width - 10
	care := Type{Size: math.Max(s.d.text*0.94, 5.4), Color: pal.Ink}
	s.care.add(usualCautions, care, 0)
	for _, c := range r.Cautions {
		s.care.add(c, care, 0)
	}
	s.foot.width = s.width
	foot := Type{Size: 6.2, Color: pal.Soft}
	s.foot.add(strings.Join(nonEmpty(r.Studio.Contact, r.Foot), " \u00a0·\u00a0 "), foot, 0)
}

func nonEmpty(texts ...string) []string {
	var out []string
	for _, t := range texts {
		if strings.TrimSpace(printable(t)) != "" {
			out = append(out, t)
		}
	}
	return out
}

// balance puts parts into two columns in order so that the higher is as low as
// may be.
func balance(parts []flow, width, gap float64) [2]flow {
	join := func(list []flow) flow {
		out := flow{width: width}
		for _, f := range list {
			out.space(gap)
			for _, l := range f.lines {
				l.y += out.height
				out.lines = append(out.lines, l)
			}
			out.height += f.height
		}
		return out
	}
	var best [2]flow
	lowest := math.Inf(1)
	for cut := 0; cut <= len(parts); cut++ {
		pair := [2]flow{join(parts[:cut]), join(parts[cut:])}
		if h := math.Max(pair[0].height, pair[1].height); h <= lowest {
			best, lowest = pair, h
		}
	}
	return best
}

const (
	captionGap = 3.0
	rowGap     = 5.0 // between rows of pictures
)

func (s *sheet) plotRows() int {
	if len(s.plots) == 0 {
		return 0
	}
	n := s.plotsARow()
	return (len(s.plots) + n - 1) / n
}

// plotsARow spreads the plots evenly over the rows that they need.
func (s *sheet) plotsARow() int {
	if len(s.plots) == 4 {
		return 4 // rather than two rows of wide ones
	}
	rows := (len(s.plots) + s.d.plotsARow - 1) / s.d.plotsARow
	return max((len(s.plots)+rows-1)/rows, 2)
}

func (s *sheet) headHeight() float64 {
	return s.letterheadHeight() + 13 + s.name.height + 6 + s.factsHeight()
}

// picture and plot are heights at a share (0 to 1) between least and greatest.
func (s *sheet) picture(share float64) float64 { return s.d.picture + share*(s.d.max-s.d.picture) }
func (s *sheet) plot(share float64) float64    { return s.d.plot + share*(s.d.plotTo-s.d.plot) }

// total is the height of everything.
func (s *sheet) total(share float64) float64 {
	h := s.headHeight()
	for i, line := range s.frames {
		h += s.rowHeight(line, s.picture(share))
		if i == 0 {
			h += s.d.gap
		} else {
			h += rowGap
		}
	}
	if n := s.plotRows(); n > 0 {
		h += s.d.gap + 13 + float64(n)*s.plot(share) + float64(n-1)*7
	}
	if s.tableH > 0 {
		h += s.d.gap + s.tableH
	}
	if s.under.height > 0 {
		h += 4 + s.under.height
	}
	if lower := math.Max(s.lower[0].height, s.lower[1].height); lower > 0 {
		h += s.d.gap*0.8 + lower
	}
	h += s.d.gap*0.8 + s.care.height + 6
	return h + 8 + s.foot.height
}

func (s *sheet) slack() float64 { return s.size.H - marginTop - marginBottom - s.total(0) }

// share is how far pictures and plots can grow.
func (s *sheet) share() float64 {
	room := s.size.H - marginTop - marginBottom
	low, high := 0.0, 1.0
	if s.total(1) <= room {
		return 1
	}
	for range 30 {
		if mid := (low + high) / 2; s.total(mid) <= room {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

func (s *sheet) draw() *Page {
	r, pal := s.r, s.pal
	p := NewPage(s.size, printable(r.title()+": "+r.Runner))
	share := s.share()
	x, right := marginX, s.size.W-marginX
	y := marginTop

	s.studio.draw(p, x, y)
	s.titleText.draw(p, right-s.titleText.width, y)
	y += s.letterheadHeight() + 3
	p.Line(Point{x, y}, Point{right, y}, Stroke{Color: pal.Accent, Width: 1})
	y += 10
	s.name.draw(p, x, y)
	y += s.name.height + 6
	for i, line := range s.facts {
		if i > 0 {
			y += factGap
		}
		for _, c := range line {
			c.text.draw(p, x+c.x, y)
		}
		y += factHeight(line)
	}

	if len(s.frames) > 0 {
		y = s.drawFrames(p, y+s.d.gap, share)
	}
	if n := s.plotRows(); n > 0 {
		y += s.d.gap
		s.heading(p, y, "The stride", "0 % is initial contact")
		reference := ""
		if len(s.bands()) > 0 {
			reference = "reference"
		}
		p.Legend(Point{right, y + 7.6}, 6.2, reference, pal)
		y += 13
		inRow := s.plotsARow()
		const gap = 13.0
		w := (s.width - gap*float64(inRow-1)) / float64(inRow)
		h := s.plot(share)
		for i, plot := range s.plots {
			p.curvePlot(Box{x + float64(i%inRow)*(w+gap), y + float64(i/inRow)*(h+7), w, h}, plot, mostLines(s.plots, w), pal)
		}
		y += float64(n)*h + float64(n-1)*7
	}
	if s.tableH > 0 {
		y += s.d.gap
		for i, col := range s.cols {
			at := y
			for _, b := range col {
				b.draw(p, x+float64(i)*(s.c.width+columnGap), at)
				at += b.height
			}
		}
		y += s.tableH
	}
	if s.under.height > 0 {
		s.under.draw(p, x, y+4)
		y += 4 + s.under.height
	}
	if lower := math.Max(s.lower[0].height, s.lower[1].height); lower > 0 {
		y += s.d.gap * 0.8
		for i, f := range s.lower {
			f.draw(p, x+float64(i)*(s.lower[0].width+20), y)
		}
	}
	// The cautions and the foot stand at the bottom of the page.
	bottom := s.size.H - marginBottom
	s.foot.draw(p, x, bottom-s.foot.height)
	top := bottom - s.foot.height - 8 - s.care.height - 2
	p.Line(Point{x + 0.75, top - 1}, Point{x + 0.75, top + s.care.height}, Stroke{Color: pal.Accent, Width: 1.5})
	s.care.draw(p, x+10, top)
	return p
}

// heading sets the title of a part of the page with a remark beside it.
func (s *sheet) heading(p *Page, y float64, title, remark string) {
	t := Type{Size: 8.2, Face: Bold, Color: s.pal.Ink}
	w := p.Text(Point{marginX, y + 7.6}, title, t)
	p.Text(Point{marginX + w + 6, y + 7.6}, remark, Type{Size: 6.2, Color: s.pal.Soft})
}

// bands lists the sources of the reference bands shown.
func (s *sheet) bands() []string {
	var out []string
	for _, plot := range s.plots {
		if r := plot.Reference; r != nil {
			source := strings.TrimSpace(r.Source)
			if source == "" {
				source = "source not given"
			}
			if !slices.Contains(out, source) {
				out = append(out, source)
			}
		}
	}
	return out
}
