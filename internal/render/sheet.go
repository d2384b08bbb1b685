package render

import (
	"fmt"
	"math"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// density is one way to arrange the page.
type density struct {
	table, text  float64 // sizes of type
	columns      int     // of the table
	plotsARow    int
	plotRows     int // at most
	gap          float64
	picture, max float64 // least and greatest height of a picture
	plot, plotTo float64 // least and greatest height of a plot
}

// densities from roomy to dense. Below the last one rows are left out and counted.
var densities = []density{
	{8, 7.4, 1, 3, 2, 15, 120, 190, 84, 112},
	{7.6, 7.2, 1, 3, 2, 13, 104, 170, 74, 112},
	{7, 7, 2, 3, 2, 14, 112, 180, 76, 104},
	{6.8, 6.8, 2, 3, 2, 12, 92, 170, 66, 100},
	{6.6, 6.6, 2, 4, 2, 11, 84, 160, 58, 90},
	{6.4, 6.4, 2, 4, 1, 10, 76, 150, 58, 90},
	{6, 6, 2, 4, 1, 9, 68, 130, 54, 80},
	{5.6, 5.6, 2, 5, 1, 8, 56, 120, 48, 70},
	{5.4, 5.4, 3, 5, 1, 7, 48, 110, 44, 60},
}

const (
	marginX      = 42.0
	marginTop    = 34.0
	marginBottom = 26.0
	pictureGap   = 7.0
	groupGap     = 18.0
)

// Page lays the report out.
func (r *Report) Page() (*Page, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	t := tabulate(r.Measures, r.Asymmetries)
	for _, d := range densities {
		if s := newSheet(r, t, d); s.slack() >= 0 {
			return s.draw(), nil
		}
	}
	// Leave out what is said last until the rest fits: the lists under the table
	// first, then rows.
	last := densities[len(densities)-1]
	trimmed := *r
	for {
		s := newSheet(&trimmed, t, last)
		if s.slack() >= 0 {
			return s.draw(), nil
		}
		if !shorten(&trimmed, &t) {
			return nil, fmt.Errorf("the report for %q does not fit one page: shorten its names, facts and notes", printable(r.Runner))
		}
	}
}

// shorten leaves out a tenth, at least one, of the longest list, and counts it.
func shorten(r *Report, t *table) bool {
	rows := 0
	for _, s := range t.sections {
		rows += len(s.rows)
	}
	lists := []struct {
		list *[]string
		what string
	}{{&t.withheld, "withheld measures"}, {&t.flags, "notes on measures"}, {&r.Warnings, "warnings"}, {&r.Notes, "notes"}, {&r.Method, "lines on the method"}, {&r.Cautions, "cautions"}}
	best, size := -1, 1
	for i, l := range lists {
		n := 0
		for _, s := range *l.list {
			n += 1 + len(s)/60
		}
		if n > size && len(*l.list) > 0 {
			best, size = i, n
		}
	}
	switch {
	case rows > 12 && rows >= size/2:
		n := max(1, rows/10)
		for n > 0 {
			k := len(t.sections) - 1
			s := t.sections[k]
			cut := min(n, len(s.rows))
			n -= cut
			t.leftOut += cut
			if len(s.rows) == cut {
				t.sections = t.sections[:k:k]
				continue
			}
			sections := append([]section(nil), t.sections...)
			sections[k].rows = s.rows[: len(s.rows)-cut : len(s.rows)-cut]
			t.sections = sections
		}
		return true
	case best >= 0:
		l := lists[best]
		*l.list = cutList(*l.list, l.what)
		return true
	}
	return false
}

// cutList drops the last tenth of a list; its last line says how many are gone.
// A single long entry is ended early, saying so.
func cutList(list []string, what string) []string {
	const more = " more "
	gone := 0
	n := len(list)
	if n > 0 {
		if _, err := fmt.Sscanf(list[n-1], "and %d more "+what, &gone); err == nil {
			n--
		} else {
			gone = 0
		}
	}
	kept := append([]string(nil), list[:n]...)
	if n <= 1 {
		if n == 1 {
			if words := strings.Fields(kept[0]); len(words) > 12 {
				short := strings.Join(words[:len(words)*4/5], " ") + " … (continued in the result file)"
				short = strings.ReplaceAll(short, " … (continued in the result file) … ", " … ")
				return append([]string{short}, list[n:]...)
			}
		}
		return nil
	}
	drop := max(1, n/10)
	return append(kept[:n-drop], fmt.Sprintf("and %d%s%s in the result file", gone+drop, more, what))
}

// sheet is a report set at one density.
type sheet struct {
	r      *Report
	d      density
	pal    Palette
	size   Size
	width  float64
	name   flow
	facts  [][]factCell
	groups []frameGroup
	rows   int // of pictures
	plots  []CurvePlot
	more   int // plots that are not shown
	cols   [][]block
	c      columns
	tableH float64
	under  flow
	lower  [2]flow
	care   flow
	foot   flow
}

type factCell struct {
	x     float64
	label string
	lines []string
}

type frameGroup struct {
	title  string
	frames []KeyFrame
}

func newSheet(r *Report, t table, d density) *sheet {
	s := &sheet{r: r, d: d, pal: Light, size: r.paper()}
	s.width = s.size.W - 2*marginX
	s.setName()
	s.setFacts()
	s.setFrames()
	plots := CurvePlots(r.Curves, r.Bands)
	if most := d.plotsARow * d.plotRows; len(plots) > most {
		s.more = len(plots) - most
		plots = plots[:most]
	}
	s.plots = plots
	s.cols, s.c, s.tableH = layTable(t, s.width, d.table, d.columns, 20, s.pal)
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

var (
	factLabel = Type{Size: 6.2}
	factValue = Type{Size: 7.8, Face: Medium}
)

// setFacts flows the facts in as few rows as they need.
func (s *sheet) setFacts() {
	const gap = 16.0
	facts := append([]Fact{{"Date", s.r.Made.Format("2 January 2006")}}, s.r.facts()...)
	var line []factCell
	x := 0.0
	for _, f := range facts {
		w := math.Max(factLabel.Width(f.Label), factValue.Width(f.Value))
		if x > 0 && x+w > s.width {
			s.facts = append(s.facts, line)
			line, x = nil, 0
		}
		lines := wrap(f.Value, factValue, s.width)
		line = append(line, factCell{x, fitted(f.Label, factLabel, s.width), lines})
		x += w + gap
	}
	s.facts = append(s.facts, line)
}

func (s *sheet) factsHeight() float64 {
	h := 0.0
	for _, line := range s.facts {
		deep := 1
		for _, c := range line {
			deep = max(deep, len(c.lines))
		}
		h += 9 + 9.6*float64(deep) + 5
	}
	return h - 2
}

// setFrames groups the pictures by view, in order.
func (s *sheet) setFrames() {
	const inRow = 6
	for _, f := range s.r.KeyFrames {
		if f.Image == nil || f.Image.Bounds().Empty() {
			continue
		}
		title := "Key frames"
		if f.View != clip.UnknownView {
			title = viewTitle(f.View)
		}
		if n := len(s.groups); n == 0 || s.groups[n-1].title != title {
			s.groups = append(s.groups, frameGroup{title: title})
		}
		g := &s.groups[len(s.groups)-1]
		g.frames = append(g.frames, f)
	}
	n := s.frameCount()
	s.rows = (n + inRow - 1) / inRow
}

func (s *sheet) frameCount() int {
	n := 0
	for _, g := range s.groups {
		n += len(g.frames)
	}
	return n
}

// setTexts sets what stands below the table.
func (s *sheet) setTexts(t table) {
	r, pal := s.r, s.pal
	small := Type{Size: s.d.text * 0.9, Color: pal.Soft}
	text := Type{Size: s.d.text, Color: pal.Ink}
	head := Type{Size: s.d.text, Face: Bold, Color: pal.Ink}

	s.under.width = s.width
	if t.leftOut > 0 {
		s.under.add(fmt.Sprintf("%d more measures stand in the result file; this page has no room for them.", t.leftOut), Type{Size: s.d.text, Face: Medium, Color: pal.Ink}, 0)
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
	if s.more > 0 {
		s.under.add(fmt.Sprintf("%d more curves stand in the result file.", s.more), small, 0)
	}
	if len(t.flags) > 0 {
		s.under.add(strings.Join(t.flags, "    "), small, 0)
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
	warn := text
	warn.Color = pal.Warn
	part("Notes", "", r.Notes, text)
	part("Mind when reading", "!", r.Warnings, warn)
	part("Not measurable here", "–", t.withheld, text)
	part("How it was measured", "–", r.Method, text)
	s.lower = balance(parts, half, 0.6*s.d.text)

	s.care.width = s.width - 10
	care := Type{Size: math.Max(s.d.text*0.94, 5.4), Color: pal.Ink}
	s.care.add(usualCautions, care, 0)
	for _, c := range r.Cautions {
		s.care.add(c, care, 0)
	}
	s.foot.width = s.width
	foot := Type{Size: 6.2, Color: pal.Soft}
	s.foot.add(strings.Join(nonEmpty(r.Studio.Contact, r.Foot), "   ·   "), foot, 0)
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
		if h := math.Max(pair[0].height, pair[1].height); h < lowest {
			best, lowest = pair, h
		}
	}
	return best
}

// Heights of the parts of the page.

const captionGap = 3.0

func (s *sheet) captions(width float64) float64 {
	most := 0.0
	for _, g := range s.groups {
		for _, f := range g.frames {
			c := s.caption(f, width)
			most = math.Max(most, c.height)
		}
	}
	return most
}

func (s *sheet) caption(f KeyFrame, width float64) flow {
	c := flow{width: width}
	c.add(f.Title, Type{Size: 7, Face: Medium, Color: s.pal.Ink}, 0)
	var where []string
	if f.Side != body.NoSide {
		where = append(where, f.Side.String()+" foot")
	}
	if finite(f.TimeS) {
		where = append(where, fmt.Sprintf("%.3f s", f.TimeS))
	}
	soft := Type{Size: 6.3, Color: s.pal.Soft}
	c.add(strings.Join(where, ", "), soft, 0)
	c.add(f.Label, soft, 0)
	return c
}

func (s *sheet) plotRows() int {
	if len(s.plots) == 0 {
		return 0
	}
	n := s.plotsARow()
	return (len(s.plots) + n - 1) / n
}

// plotsARow spreads the plots evenly over the rows that they need.
func (s *sheet) plotsARow() int {
	rows := (len(s.plots) + s.d.plotsARow - 1) / s.d.plotsARow
	return max((len(s.plots)+rows-1)/rows, 2)
}

// cell is the width of a picture of height h.
func (s *sheet) cell(h float64) float64 {
	n := min(s.frameCount(), (s.frameCount()+s.rows-1)/s.rows)
	gaps := float64(n-1)*pictureGap + float64(len(s.groups)-1)*(groupGap-pictureGap)
	return math.Min((s.width-gaps)/float64(n), 1.3*h)
}

func (s *sheet) headHeight() float64 {
	return 17 + s.name.height + 4 + s.factsHeight()
}

// heights returns the height of everything for the pictures and plots at a share
// (0 to 1) between their least and greatest.
func (s *sheet) picture(share float64) float64 { return s.d.picture + share*(s.d.max-s.d.picture) }
func (s *sheet) plot(share float64) float64    { return s.d.plot + share*(s.d.plotTo-s.d.plot) }

func (s *sheet) total(share float64) float64 {
	h := s.headHeight()
	if s.rows > 0 {
		p := s.picture(share)
		h += s.d.gap + float64(s.rows)*(11+p+captionGap+s.captions(s.cell(p))) + float64(s.rows-1)*5
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

	title := Type{Size: 8.6, Color: pal.Soft, Align: End}
	titleW := title.Width(fitted(r.title(), title, s.width*0.45))
	studio := Type{Size: 8.6, Face: Bold, Color: pal.Accent}
	for studio.Size > 5 && studio.Width(r.Studio.Name) > s.width-titleW-20 {
		studio.Size -= 0.2
	}
	p.Text(Point{x, y + 8.6}, fitted(r.Studio.Name, studio, s.width-titleW-20), studio)
	p.Text(Point{right, y + 8.6}, fitted(r.title(), title, s.width*0.45), title)
	p.Line(Point{x, y + 14.5}, Point{right, y + 14.5}, Stroke{Color: pal.Accent, Width: 1})
	y += 19
	s.name.draw(p, x, y)
	y += s.name.height + 2
	for _, line := range s.facts {
		deep := 1
		for _, c := range line {
			label, value := factLabel, factValue
			label.Color, value.Color = pal.Soft, pal.Ink
			p.Text(Point{x + c.x, y + 7}, c.label, label)
			for i, l := range c.lines {
				p.Text(Point{x + c.x, y + 16.6 + 9.6*float64(i)}, l, value)
			}
			deep = max(deep, len(c.lines))
		}
		y += 9 + 9.6*float64(deep) + 5
	}
	y -= 2

	if s.rows > 0 {
		y = s.drawFrames(p, y+s.d.gap, share)
	}
	if n := s.plotRows(); n > 0 {
		y += s.d.gap
		s.heading(p, y, "The stride", "0 % is initial contact")
		p.Legend(Point{right, y + 7.6}, 6.2, s.bandSource(), pal)
		y += 13
		inRow := s.plotsARow()
		const gap = 13.0
		w := (s.width - gap*float64(inRow-1)) / float64(inRow)
		h := s.plot(share)
		for i, plot := range s.plots {
			p.CurvePlot(Box{x + float64(i%inRow)*(w+gap), y + float64(i/inRow)*(h+7), w, h}, plot, pal)
		}
		y += float64(n)*h + float64(n-1)*7
	}
	if s.tableH > 0 {
		y += s.d.gap
		for i, col := range s.cols {
			at := y
			for _, b := range col {
				b.draw(p, x+float64(i)*(s.c.width+20), at)
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

// bandSource is the source of the reference bands shown, where it is short enough
// to stand in the legend.
func (s *sheet) bandSource() string {
	for _, plot := range s.plots {
		if plot.Reference != nil && plot.Reference.Source != "" {
			return fitted(plot.Reference.Source, Type{Size: 6.2}, 90)
		}
	}
	return ""
}

// drawFrames draws the pictures and returns where they end.
func (s *sheet) drawFrames(p *Page, y, share float64) float64 {
	h := s.picture(share)
	w := s.cell(h)
	deep := s.captions(w)
	each := (s.frameCount() + s.rows - 1) / s.rows
	x, inRow := marginX, 0
	for _, g := range s.groups {
		titled := false
		for i, f := range g.frames {
			if inRow == each {
				x, inRow, titled = marginX, 0, false
				y += 11 + h + captionGap + deep + 5
			}
			if !titled {
				titled = true
				t := Type{Size: 8.2, Face: Bold, Color: s.pal.Ink}
				room := float64(len(g.frames)-i)*(w+pictureGap) - pictureGap
				p.Text(Point{x, y + 7.6}, fitted(g.title, t, math.Min(room, s.width+marginX-x)), t)
			}
			b := Box{x, y + 11, w, h}
			p.Group(f.Title, "", func() {
				p.Image(b, f.Image, f.Focus)
				c := s.caption(f, w)
				c.draw(p, x, y+11+h+captionGap)
			})
			x += w + pictureGap
			inRow++
		}
		x += groupGap - pictureGap
	}
	return y + 11 + h + captionGap + deep
}
