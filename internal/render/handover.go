package render

import (
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/figure"
)

// Handover is the report that a runner takes home: two pages in plain language.
// All words are the caller's.
type Handover struct {
	Paper Size // A4 where it is zero
	Lang  string
	Made  time.Time
	Letterhead
	Runner string
	Line   string   // below the name: the day, the speed, how it was filmed
	Lead   []string // first paragraphs

	SawTitle string
	Saw      []Sight
	More     []string // what was seen besides, one line each

	DoTitle string
	DoLead  []string
	Groups  []ExerciseGroup
	// Left begins the line that names the exercises for which the page has no room.
	Left  string
	Notes []NoteBox // below the exercises, in two columns
	Care  NoteBox   // at the foot of the second page, across
	Foot  string
	// Page names a page at its foot: "Page %d of 2".
	Page string
}

// Sight is one thing that was seen.
type Sight struct {
	Title         string
	Picture       image.Image // nil for none
	Focus         image.Rectangle
	Caption       string         // below the picture
	Target        figure.Drawing // beside it; without shapes for none
	TargetCaption string
	Ruler         *Ruler
	Paragraphs    []Said
}

// Said is a paragraph with the word that begins it.
type Said struct{ Head, Text string }

// ExerciseGroup is exercises done together.
type ExerciseGroup struct {
	Title string
	Items []ExerciseCard
}

// ExerciseCard is one exercise with its two positions.
type ExerciseCard struct {
	Title, Dose, Cue string
	Start, End       figure.Drawing
}

// NoteBox is a short list under a heading.
type NoteBox struct {
	Title string
	Lines []string
	Warn  bool // drawn as something to mind
}

func (n NoteBox) empty() bool { return len(nonEmpty(n.Lines...)) == 0 }

// Document lays the report out on exactly two pages.
func (h *Handover) Document() (*Document, error) {
	var errs []error
	if strings.TrimSpace(h.Runner) == "" {
		errs = append(errs, errors.New("the report has no runner: give a name"))
	}
	if h.Made.IsZero() {
		errs = append(errs, errors.New("the report has no date: give the day of the visit"))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	size := h.Paper
	if size == (Size{}) {
		size = A4
	}
	d := &Document{Title: printable(h.Title + ": " + h.Runner), Lang: h.Lang, Made: h.Made}
	if err := h.seen(d, size); err != nil {
		return nil, err
	}
	if err := h.nextSteps(d, size); err != nil {
		return nil, err
	}
	return d, nil
}

// foot draws the foot of a page and returns where it begins.
func (h *Handover) foot(p *Page, n int, pal Palette) float64 {
	y := p.Size.H - marginBottom
	t := Type{Size: 7, Color: pal.Soft}
	p.Text(Point{marginX, y}, h.Foot, t)
	t.Align = End
	p.Text(Point{p.Size.W - marginX, y}, fmt.Sprintf(h.Page, n), t)
	return y - 14
}

// sizes of type that are tried, the roomiest first.
var handoverSizes = []float64{11, 10.5, 10, 9.6, 9.2, 8.8, 8.4, 8, 7.6, 7.2, 6.8, 6.4, 6, 5.6}

const (
	headFactor = 1.42 // of a heading to the text
	sightGap   = 16.0
)

// sightFlow is a sight's words at a size and width.
func (s *Sight) flow(size, width float64, pal Palette) flow {
	f := flow{width: width}
	f.add(s.Title, Type{Size: 1.16 * size, Face: Bold, Color: pal.Ink}, 0)
	f.space(0.35 * size)
	for _, a := range s.Paragraphs {
		if strings.TrimSpace(a.Text) == "" {
			continue
		}
		if a.Head != "" {
			f.add(a.Head, Type{Size: 0.92 * size, Face: Medium, Color: pal.Accent}, 0)
		}
		f.add(a.Text, Type{Size: size, Color: pal.Ink}, 0)
		f.space(0.35 * size)
	}
	return f
}

func (s *Sight) height(f flow, size float64) float64 {
	h := f.height
	if s.Ruler != nil {
		h += rulerHeight(size) + 0.3*size
	}
	return h
}

// seen is the first page.
func (h *Handover) seen(d *Document, size Size) error {
	pal := Light
	width := size.W - 2*marginX
	for _, t := range handoverSizes {
		name := Type{Size: math.Min(26, 2.4*t), Color: pal.Ink}
		for name.Size > 11 && name.Width(h.Runner) > width {
			name.Size--
		}
		var head flow
		head.width = width
		head.add(h.Runner, name, 0)
		head.add(h.Line, Type{Size: 0.86 * t, Color: pal.Soft}, 0)
		head.space(0.7 * t)
		for _, s := range h.Lead {
			head.add(s, Type{Size: t, Color: pal.Ink}, 0)
			head.space(0.3 * t)
		}
		var more flow
		more.width = width
		for _, s := range h.More {
			more.item("–", s, Type{Size: t, Color: pal.Ink})
		}
		room := size.H - marginTop - h.height() - 10 - head.height - marginBottom - 22
		if h.SawTitle != "" {
			room -= headFactor*t*leading + 12
		}
		if more.height > 0 {
			room -= more.height + 10
		}
		n := len(h.Saw)
		pictures := 0.0 // width of the pictures' part
		if slices.ContainsFunc(h.Saw, func(s Sight) bool { return s.Picture != nil || len(s.Target.Shapes) > 0 }) {
			pictures = 0.5 * width
			if !slices.ContainsFunc(h.Saw, func(s Sight) bool { return s.Picture != nil }) {
				pictures = 0.27 * width
			}
		}
		textWidth := width
		if pictures > 0 {
			textWidth = width - pictures - 14
		}
		words, need := make([]flow, n), 0.0
		for i := range h.Saw {
			w := textWidth
			if h.Saw[i].Picture == nil && len(h.Saw[i].Target.Shapes) == 0 {
				w = width
			}
			words[i] = h.Saw[i].flow(t, w, pal)
			least := 0.0
			if h.Saw[i].Picture != nil || len(h.Saw[i].Target.Shapes) > 0 {
				least = 118
			}
			need += math.Max(h.Saw[i].height(words[i], t), least)
		}
		need += sightGap * float64(max(0, n-1))
		if need > room && t > handoverSizes[len(handoverSizes)-1] {
			continue
		}
		if need > room+1 {
			return fmt.Errorf("the report of %q does not fit its first page: shorten the texts of your own findings", fitted(h.Runner, 60))
		}
		p := d.NewPage(size)
		p.Bookmark(h.Title, 0, 0)
		y := h.Letterhead.draw(p, marginTop, pal) + 10
		head.draw(p, marginX, y)
		y += head.height
		if h.SawTitle != "" {
			y = p.bigHeading(h.SawTitle, y+4, headFactor*t, pal)
		}
		// What is left is shared out among the sights.
		extra := 0.0
		if n > 0 {
			extra = (room - need) / float64(n)
		}
		for i := range h.Saw {
			s := &h.Saw[i]
			least := s.height(words[i], t)
			if s.Picture != nil || len(s.Target.Shapes) > 0 {
				least = math.Max(least, 118)
			}
			high := least
			if pictures > 0 && (s.Picture != nil || len(s.Target.Shapes) > 0) {
				high = math.Min(least+extra, 270+110/float64(n))
				high = math.Max(high, least)
			}
			p.Bookmark(s.Title, 1, y)
			s.draw(p, words[i], t, Box{marginX, y, width, high}, pictures, pal)
			y += high
			if i < n-1 {
				p.Line(Point{marginX, y + sightGap/2}, Point{size.W - marginX, y + sightGap/2}, Stroke{Color: pal.Faint, Width: 0.7})
				y += sightGap
			}
		}
		if more.height > 0 {
			more.draw(p, marginX, y+10)
		}
		h.foot(p, 1, pal)
		return nil
	}
	return nil
}

// bigHeading sets a heading with its line and returns where what follows begins.
func (p *Page) bigHeading(title string, y, size float64, pal Palette) float64 {
	p.Text(Point{marginX, y + size}, title, Type{Size: size, Face: Bold, Color: pal.Accent})
	return y + size*leading + 7
}

// draw puts the sight into a box: picture, target and words beside each other.
func (s *Sight) draw(p *Page, words flow, t float64, b Box, pictures float64, pal Palette) {
	x := b.X
	const gap = 10.0
	caption := Type{Size: 0.82 * t, Color: pal.Soft}
	if s.Picture != nil || len(s.Target.Shapes) > 0 {
		w := (pictures - gap) / 2
		if s.Picture == nil || len(s.Target.Shapes) == 0 {
			w = math.Min(pictures, 0.3*b.W)
		}
		var left, right flow
		left.width, right.width = w, w
		left.add(s.Caption, caption, 0)
		right.add(s.TargetCaption, Type{Size: 0.82 * t, Color: pal.Accent, Face: Medium}, 0)
		under := math.Max(left.height, right.height) + 3
		high := b.H - under
		at := x
		if s.Picture != nil {
			box := Box{at, b.Y, w, high}
			if aspect := aspectOf(s.Picture, s.Focus); w/high > 1.25*math.Max(aspect, 0.6) {
				box.W = 1.25 * math.Max(aspect, 0.6) * high
			}
			p.Image(box, s.Picture, s.Focus, pal.Faint)
			left.draw(p, at, b.Y+high+3)
			at += w + gap
		}
		if len(s.Target.Shapes) > 0 {
			box := Box{at, b.Y, w, high}
			p.Rect(box, Paint{Fill: mixed(pal.Paper, pal.Accent, 0.055)})
			in := box.Inset(8)
			p.LineFigure(in, s.Target, math.Min(FigureScale(in.W, in.H, s.Target), 160), pal)
			right.draw(p, at, b.Y+high+3)
		}
		x += pictures + 14
	}
	words.draw(p, x, b.Y-0.1*t)
	if s.Ruler != nil {
		p.ruler(*s.Ruler, x, b.Y+words.height+0.3*t, b.Right()-x, t, pal)
	}
}

// cards are exercises of one group at a size.
type cards struct {
	columns int
	width   float64
	texts   [][3]flow
}

const cardGap = 12.0

func (g ExerciseGroup) set(t, width float64, columns int, pal Palette) cards {
	c := cards{columns: columns, width: (width - cardGap*float64(columns-1)) / float64(columns)}
	for _, e := range g.Items {
		var f [3]flow
		for i := range f {
			f[i].width = c.width
		}
		f[0].add(e.Title, Type{Size: t, Face: Bold, Color: pal.Ink}, 0)
		f[1].add(e.Dose, Type{Size: 0.94 * t, Face: Medium, Color: pal.Accent}, 0)
		if e.Cue != "" {
			f[2].add(e.Cue, Type{Size: 0.94 * t, Face: Italic, Color: pal.Ink}, 0)
		}
		c.texts = append(c.texts, f)
	}
	return c
}

func (c cards) rows() int { return (len(c.texts) + c.columns - 1) / c.columns }

// words is the height of the texts of a row.
func (c cards) words(row int) float64 {
	h := 0.0
	for i := row * c.columns; i < min((row+1)*c.columns, len(c.texts)); i++ {
		h = math.Max(h, c.texts[i][0].height+c.texts[i][1].height+c.texts[i][2].height)
	}
	return h
}

// Least and greatest height of the pictures of an exercise.
const (
	leastFigure = 26.0
	mostFigure  = 78.0
)

// nextSteps is the second page. Where the exercises do not fit, the last ones are named
// and not drawn.
func (h *Handover) nextSteps(d *Document, size Size) error {
	groups := h.Groups
	var out []string
	for {
		for _, t := range handoverSizes {
			if t > 10.5 || t < 7.2 && countCards(groups) > 1 {
				continue
			}
			if h.tryNextSteps(d, size, t, groups, out) {
				return nil
			}
		}
		k := len(groups) - 1
		if k < 0 {
			return fmt.Errorf("the report of %q does not fit its second page: shorten its notes and cautions", fitted(h.Runner, 60))
		}
		groups = slices.Clone(groups)
		g := groups[k]
		if len(g.Items) == 0 {
			groups = groups[:k]
			continue
		}
		out = append([]string{g.Items[len(g.Items)-1].Title}, out...)
		g.Items = g.Items[:len(g.Items)-1]
		groups[k] = g
		if len(g.Items) == 0 {
			groups = groups[:k]
		}
	}
}

func countCards(groups []ExerciseGroup) int {
	n := 0
	for _, g := range groups {
		n += len(g.Items)
	}
	return n
}

func (h *Handover) tryNextSteps(d *Document, size Size, t float64, groups []ExerciseGroup, out []string) bool {
	pal := Light
	width := size.W - 2*marginX
	var lead, left flow
	lead.width, left.width = width, width
	for _, s := range h.DoLead {
		lead.add(s, Type{Size: t, Color: pal.Ink}, 0)
		lead.space(0.3 * t)
	}
	if len(out) > 0 {
		left.add(h.Left+" "+strings.Join(out, ", ")+".", Type{Size: t, Color: pal.Ink}, 0)
	}
	columns := 3
	var all []cards
	rows, words := 0, 0.0
	subhead := 1.08*t*leading + 5
	for _, g := range groups {
		c := g.set(0.92*t, width, columns, pal)
		all = append(all, c)
		rows += c.rows()
		for r := range c.rows() {
			words += c.words(r)
		}
	}
	var notes []flow
	half := (width - 22) / 2
	for _, n := range h.Notes {
		if n.empty() {
			continue
		}
		notes = append(notes, n.flow(t, half, pal))
	}
	lower := balance(notes, half, 0.8*t)
	lowerH := math.Max(lower[0].height, lower[1].height)
	var care flow
	if !h.Care.empty() {
		care = h.Care.flow(0.94*t, width-24, pal)
	}
	room := size.H - marginTop - h.height() - 10 - (headFactor*t*leading + 7) - lead.height - marginBottom - 20
	room -= subhead * float64(len(groups))
	room -= float64(rows) * (6 + 3)
	room -= words
	if left.height > 0 {
		room -= left.height + 6
	}
	if lowerH > 0 {
		room -= lowerH + 16
	}
	if care.height > 0 {
		room -= care.height + 14 + 10
	}
	figure := 0.0
	if rows > 0 {
		figure = room / float64(rows)
		if figure < leastFigure {
			return false
		}
		if figure < 40 && t > 8 {
			return false
		}
		figure = math.Min(figure, mostFigure)
	} else if room < 0 {
		return false
	}
	p := d.NewPage(size)
	p.Bookmark(h.DoTitle, 0, 0)
	y := h.Letterhead.draw(p, marginTop, pal) + 10
	y = p.bigHeading(h.DoTitle, y, headFactor*t, pal)
	lead.draw(p, marginX, y)
	y += lead.height
	for k, g := range groups {
		p.Bookmark(g.Title, 1, y)
		p.Text(Point{marginX, y + 1.08*t + 2}, g.Title, Type{Size: 1.08 * t, Face: Bold, Color: pal.Ink})
		y += subhead
		c := all[k]
		for r := range c.rows() {
			for i := r * c.columns; i < min((r+1)*c.columns, len(g.Items)); i++ {
				c.draw(p, g.Items[i], c.texts[i], marginX+float64(i%c.columns)*(c.width+cardGap), y, figure, pal)
			}
			y += figure + 3 + c.words(r) + 6
		}
	}
	if left.height > 0 {
		left.draw(p, marginX, y)
		y += left.height + 6
	}
	if lowerH > 0 {
		y += 10
		p.Line(Point{marginX, y - 6}, Point{size.W - marginX, y - 6}, Stroke{Color: pal.Faint, Width: 0.7})
		lower[0].draw(p, marginX, y)
		lower[1].draw(p, marginX+half+22, y)
	}
	bottom := h.foot(p, 2, pal)
	if care.height > 0 {
		box := Box{marginX, bottom - care.height - 14, width, care.height + 14}
		p.Rect(box, Paint{Fill: mixed(pal.Paper, pal.Warn, 0.07), Edge: Stroke{Color: pal.Warn, Width: 0.8}})
		care.draw(p, marginX+12, box.Y+7)
	}
	return true
}

// flow sets the box's heading and lines.
func (n NoteBox) flow(t, width float64, pal Palette) flow {
	f := flow{width: width}
	head := Type{Size: 1.08 * t, Face: Bold, Color: pal.Ink}
	if n.Warn {
		head.Color = pal.Warn
	}
	f.add(n.Title, head, 0)
	f.space(0.2 * t)
	text := Type{Size: t, Color: pal.Ink}
	lines := nonEmpty(n.Lines...)
	for _, l := range lines {
		if len(lines) == 1 {
			f.add(l, text, 0)
		} else {
			f.item("–", l, text)
		}
		f.height += 0.12 * t
	}
	return f
}

// draw puts a card down: its two positions, title, dose and cue.
func (c cards) draw(p *Page, e ExerciseCard, texts [3]flow, x, y, figureH float64, pal Palette) {
	half := (c.width - 14) / 2
	if len(e.Start.Shapes) > 0 && len(e.End.Shapes) > 0 {
		p.Rect(Box{x, y, c.width, figureH}, Paint{Fill: mixed(pal.Paper, pal.Accent, 0.045)})
		in := figureH - 8
		scale := math.Min(FigureScale(half-4, in, e.Start, e.End), 62)
		p.LineFigure(Box{x + 4, y + 4, half - 4, in}, e.Start, scale, pal)
		p.LineFigure(Box{x + half + 14, y + 4, half - 4, in}, e.End, scale, pal)
		mid, at := x+c.width/2, y+figureH/2
		p.Polyline([]Point{{mid - 2, at - 4}, {mid + 3, at}, {mid - 2, at + 4}}, Stroke{Color: pal.Accent, Width: 1.3, Round: true})
	}
	y += figureH + 3
	for i := range texts {
		texts[i].draw(p, x, y)
		y += texts[i].height
	}
}
