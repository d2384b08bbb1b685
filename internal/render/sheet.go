package render

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// density is one way to arrange the page.
type density struct {
	table, text  float64 // sizes of type
	air          float64 // above and below a row of the table, in parts of its type size
	columns      int     // of the table
	plotsARow    int
	plotRows     int // at most
	gap          float64
	picture, max float64 // least and greatest height of a picture
	plot, plotTo float64 // least and greatest height of a plot
}

// densities from roomy to dense. Where even the last is too small, rows are left
// out and counted.
var densities = []density{
	{8, 7.4, 0.46, 1, 3, 2, 15, 120, 190, 84, 112},
	{7.6, 7.2, 0.42, 1, 3, 2, 13, 104, 170, 74, 112},
	{7.2, 7, 0.44, 2, 3, 2, 14, 112, 180, 78, 106},
	{7, 6.8, 0.38, 2, 3, 2, 13, 96, 170, 70, 104},
	{6.8, 6.6, 0.3, 2, 4, 2, 12, 84, 160, 60, 90},
	{6.6, 6.4, 0.27, 2, 4, 2, 11, 76, 150, 54, 84},
	{6.6, 6.4, 0.27, 2, 5, 1, 11, 76, 150, 60, 84},
	{6.3, 6.2, 0.24, 2, 5, 1, 10, 68, 140, 54, 80},
	{6, 5.9, 0.22, 2, 5, 1, 9, 60, 130, 50, 76},
	{5.6, 5.6, 0.2, 2, 6, 1, 8, 52, 120, 46, 70},
	{5.4, 5.4, 0.2, 3, 6, 1, 7, 46, 110, 44, 60},
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
	last := densities[len(densities)-1]
	short := *r
	short.Warnings, short.Notes, short.Method = nil, nil, nil
	fits := newSheet(&short, table{}, last).slack() >= 0 // with all left out that may be
	for short = *r; fits; fits = shorten(&short, &t) {
		if s := newSheet(&short, t, last); s.slack() >= 0 {
			return s.draw(), nil
		}
	}
	return nil, fmt.Errorf("the report of %q does not fit one page: shorten its names, facts, captions and cautions", fitted(r.Runner, 60))
}

// fitted is text of at most n characters, for messages.
func fitted(text string, n int) string {
	if r := []rune(printable(text)); len(r) > n {
		return string(r[:n]) + "…"
	}
	return printable(text)
}

// shorten leaves out a tenth of the longest part of the page: rows of the table,
// or lines of a list. What is gone is counted; false
// where nothing was left to leave out.
func shorten(r *Report, t *table) bool {
	rows := 0
	for _, s := range t.sections {
		rows += len(s.rows)
	}
	// About so many characters take the room of a row in two columns.
	const rowOfText = 60
	var longest *[]string
	size := 0
	for _, list := range []*[]string{&t.withheld, &t.flags, &r.Method, &r.Notes, &r.Warnings} {
		n := 0
		for _, s := range *list {
			n += 1 + len(s)/rowOfText
		}
		if n > size {
			longest, size = list, n
		}
	}
	switch {
	case rows > 0 && rows/2 >= size:
		t.cutRows(max(1, rows/10))
	case longest != nil:
		t.linesOut += cut(longest)
	default:
		return false
	}
	return true
}

// cutRows drops the last n rows.
func (t *table) cutRows(n int) {
	sections := append([]section(nil), t.sections...)
	for n > 0 && len(sections) > 0 {
		s := &sections[len(sections)-1]
		k := min(n, len(s.rows))
		s.rows = s.rows[:len(s.rows)-k]
		n -= k
		t.rowsOut += k
		if len(s.rows) == 0 {
			sections = sections[:len(sections)-1]
		}
	}
	t.sections = sections
}

// cut drops the last tenth of a list and returns how many entries that is; a
// long entry that stands alone is ended early instead.
func cut(list *[]string) int {
	n := len(*list)
	if n > 1 {
		k := max(1, n/10)
		*list = (*list)[:n-k]
		return k
	}
	if r := []rune((*list)[0]); len(r) > 300 {
		*list = []string{strings.TrimRight(string(r[:len(r)*3/4]), " …") + "…"}
		return 0
	}
	*list = nil
	return 1
}

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

// setFrames puts the pictures, in order, in rows of nearly equal number and
// names those of one view that stand together.
func (s *sheet) setFrames() {
	const inRow = 6
	var all []frame
	for _, f := range s.r.KeyFrames {
		if f.Image == nil || f.Image.Bounds().Empty() {
			continue
		}
		title := "Key frames"
		if f.View != clip.UnknownView {
			title = viewTitle(f.View)
		}
		all = append(all, frame{KeyFrame: f, view: title, aspect: aspectOf(f.Image, f.Focus), most: aspectOf(f.Image, image.Rectangle{}), least: tallest(f.Image, f.Focus)})
	}
	rows := (len(all) + inRow - 1) / inRow
	for i := range rows {
		from, to := i*len(all)/rows, (i+1)*len(all)/rows
		line := all[from:to]
		for k := range line {
			line[k].first = k == 0 || line[k].view != line[k-1].view
		}
		s.frames = append(s.frames, line)
	}
}

// frame is a key frame, its view in words (to be printed with the first of a
// view in a row) and its shape.
type frame struct {
	KeyFrame
	view   string
	first  bool
	aspect float64 // of the focus
	most   float64 // of the whole picture
	least  float64 // of the tallest part that holds the focus
}

// place gives the widths of the pictures of a row that is to be h high, by their
// shapes, spread over the width of the page as far as there is picture beside the
// focus; and the height, less than h where they would be too narrow for it.
func (s *sheet) place(line []frame, h float64) (out []float64, height float64) {
	room := s.width
	for i, f := range line {
		if i > 0 {
			room -= gapBefore(f)
		}
	}
	out = make([]float64, len(line))
	spread := func(k float64) (total float64) {
		for i, f := range line {
			out[i] = h * math.Min(f.aspect*k, math.Max(f.aspect, f.most))
			total += math.Max(out[i], leastCell)
		}
		return total
	}
	// Shapes may shrink by this share before a picture ends above or below.
	natural, shrink := 0.0, 0.0
	for _, f := range line {
		natural += f.aspect
		shrink = math.Max(shrink, math.Min(f.least/f.aspect, 1))
	}
	h = math.Min(h, room/(natural*shrink))
	low, high := 0.0, 8.0
	for range 40 {
		if mid := (low + high) / 2; spread(mid) <= room {
			low = mid
		} else {
			high = mid
		}
	}
	spread(low)
	return out, h
}

// leastCell is the least width of a picture's caption.
const leastCell = 66.0

func gapBefore(f frame) float64 {
	if f.first {
		return groupGap
	}
	return pictureGap
}

// rowHeight is that of a row of pictures with its title and captions.
func (s *sheet) rowHeight(line []frame, h float64) float64 {
	deep := 0.0
	widths, h := s.place(line, h)
	for i, w := range widths {
		deep = math.Max(deep, s.caption(line[i].KeyFrame, math.Max(w, leastCell)).height)
	}
	return 11 + h + captionGap + deep
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

// Heights of the parts of the page.

const (
	captionGap = 3.0
	rowGap     = 5.0 // between rows of pictures
)

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

func (s *sheet) headHeight() float64 {
	return s.letterheadHeight() + 13 + s.name.height + 6 + s.factsHeight()
}

// heights returns the height of everything for the pictures and plots at a share
// (0 to 1) between their least and greatest.
func (s *sheet) picture(share float64) float64 { return s.d.picture + share*(s.d.max-s.d.picture) }
func (s *sheet) plot(share float64) float64    { return s.d.plot + share*(s.d.plotTo-s.d.plot) }

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

// drawFrames draws the pictures and returns where they end.
func (s *sheet) drawFrames(p *Page, y, share float64) float64 {
	for i, line := range s.frames {
		if i > 0 {
			y += rowGap
		}
		x := marginX
		widths, h := s.place(line, s.picture(share))
		for k, f := range line {
			if k > 0 {
				x += gapBefore(f)
			}
			if f.first {
				p.Text(Point{x, y + 7.6}, f.view, Type{Size: 8.2, Face: Bold, Color: s.pal.Ink})
			}
			cell := math.Max(widths[k], leastCell)
			p.Group(f.Title, "", func() {
				p.Image(Box{x, y + 11, widths[k], h}, f.Image, f.Focus, s.pal.Faint)
				c := s.caption(f.KeyFrame, cell)
				c.draw(p, x, y+11+h+captionGap)
			})
			x += cell
		}
		y += s.rowHeight(line, h)
	}
	return y
}
