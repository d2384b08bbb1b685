package render

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// Dossier is a report of as many pages as it needs, for people of the trade.
type Dossier struct {
	Paper Size // A4 where it is zero
	Lang  string
	Made  time.Time
	Letterhead
	Runner string
	About  string
	Facts  []Fact
	Parts  []Part
	Foot   string
	// Day is Made in words and Page the number of a page, such as "Page %d of %d",
	// both in the report's language; English where left out.
	Day, Page string
}

// Part is a chapter of a dossier.
type Part struct {
	Title  string
	Blocks []Block
}

// Block is a piece of a part: exactly one of its fields is set.
type Block struct {
	Head   string   // a heading within the part
	Text   string   // a paragraph
	Small  string   // a paragraph in small type, such as a source
	List   []string // with marks
	Warn   string   // a paragraph to mind
	Table  *Grid
	Plots  []CurvePlot
	Frames []KeyFrame
}

// Grid is a table.
type Grid struct {
	Columns []GridColumn
	Rows    []GridRow
}

// GridColumn is a column with its share of the width.
type GridColumn struct {
	Title string
	Share float64
	End   bool // set to the right
}

// GridRow is a row of texts, or a heading across where Head is set.
type GridRow struct {
	Head  string
	Cells []string
	Bold  bool
}

// Sizes of a dossier's type, points.
const (
	dossierText  = 8.6
	dossierSmall = 7.2
	dossierCell  = 7.4
)

// piece is what is placed whole on a page.
type piece struct {
	height float64
	keep   bool // with the next piece, on one page
	mark   string
	level  int
	again  *piece // set once more at the head of a page where the piece begins one
	draw   func(p *Page, x, y float64)
}

// Document lays the dossier out: no heading alone at the foot of a page and no row
// over two.
func (r *Dossier) Document() (*Document, error) {
	var errs []error
	if strings.TrimSpace(r.Runner) == "" {
		errs = append(errs, errors.New("the report has no runner: give a name"))
	}
	if r.Made.IsZero() {
		errs = append(errs, errors.New("the report has no date: give the day of the visit"))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	size := r.Paper
	if size == (Size{}) {
		size = A4
	}
	pal := Light
	d := &Document{Title: printable(r.Title + ": " + r.Runner), Lang: r.Lang, Made: r.Made}
	pieces := r.pieces(size.W-2*marginX, pal)
	top := marginTop + r.Letterhead.height() + 10
	bottom := size.H - marginBottom - 16
	var p *Page
	y := 0.0
	begin := func() {
		p = d.NewPage(size)
		r.Letterhead.draw(p, marginTop, pal)
		y = top
	}
	begin()
	p.Bookmark(r.Title, 0, 0)
	for i := 0; i < len(pieces); i++ {
		// What has to stay together, as far as a page has room for it.
		need := 0.0
		for k := i; k < len(pieces); k++ {
			need += pieces[k].height
			if !pieces[k].keep {
				break
			}
		}
		if y+need > bottom+1e-6 && y > top+1 {
			begin()
			if a := pieces[i].again; a != nil {
				a.draw(p, marginX, y)
				y += a.height
			}
		}
		if pieces[i].mark != "" {
			p.Bookmark(pieces[i].mark, pieces[i].level, y)
		}
		if pieces[i].draw != nil {
			pieces[i].draw(p, marginX, y)
		}
		y += pieces[i].height
	}
	foot := Type{Size: 7, Color: pal.Soft}
	end := foot
	end.Align = End
	for n, p := range d.Pages {
		at := size.H - marginBottom
		p.Text(Point{marginX, at}, strings.Join(nonEmpty(r.Runner, cmp.Or(r.Day, r.Made.Format("2 January 2006")), r.Foot), " · "), foot)
		p.Text(Point{size.W - marginX, at}, fmt.Sprintf(cmp.Or(r.Page, "Page %d of %d"), n+1, len(d.Pages)), end)
	}
	return d, nil
}

// flowPieces makes a piece of each line of a text, the first two together.
func flowPieces(f flow, below float64) []piece {
	var out []piece
	for i, l := range f.lines {
		next := f.height
		if i+1 < len(f.lines) {
			next = f.lines[i+1].y - f.lines[i+1].style.Size
		}
		from := l.y - l.style.Size
		one := flow{width: f.width, lines: []flowLine{{l.x, l.style.Size, l.text, l.style}}}
		out = append(out, piece{height: next - from, keep: i == 0 && len(f.lines) > 1 || i == len(f.lines)-2, draw: one.draw})
	}
	if len(out) > 0 {
		out[len(out)-1].height += below
	}
	return out
}

func (r *Dossier) pieces(width float64, pal Palette) []piece {
	var out []piece
	text := Type{Size: dossierText, Color: pal.Ink}
	small := Type{Size: dossierSmall, Color: pal.Soft}
	flowed := func(set func(f *flow), below float64) {
		f := flow{width: width}
		set(&f)
		out = append(out, flowPieces(f, below)...)
	}
	name := Type{Size: 22, Color: pal.Ink}
	for name.Size > 11 && name.Width(r.Runner) > width {
		name.Size--
	}
	flowed(func(f *flow) {
		f.add(r.Runner, name, 0)
		if r.About != "" {
			f.add(r.About, Type{Size: dossierText, Color: pal.Soft}, 0)
		}
	}, 6)
	for _, fact := range r.Facts {
		if strings.TrimSpace(fact.Value) == "" {
			continue
		}
		var label, value flow
		label.width, value.width = 96, width-104
		label.add(fact.Label, Type{Size: dossierText, Color: pal.Soft}, 0)
		value.add(fact.Value, text, 0)
		out = append(out, piece{height: math.Max(label.height, value.height) + 2, draw: func(p *Page, x, y float64) {
			label.draw(p, x, y)
			value.draw(p, x+104, y)
		}})
	}
	for _, part := range r.Parts {
		title := part.Title
		out = append(out, piece{height: 30, keep: true, mark: title, level: 1, draw: func(p *Page, x, y float64) {
			p.Text(Point{x, y + 21}, title, Type{Size: 12.5, Face: Bold, Color: pal.Accent})
		}})
		for _, b := range part.Blocks {
			switch {
			case b.Head != "":
				head := flow{width: width}
				head.add(b.Head, Type{Size: 9.8, Face: Bold, Color: pal.Ink}, 0)
				out = append(out, piece{height: head.height + 9, keep: true, mark: b.Head, level: 2, draw: func(p *Page, x, y float64) { head.draw(p, x, y+6) }})
			case b.Text != "":
				flowed(func(f *flow) { f.add(b.Text, text, 0) }, 3)
			case b.Small != "":
				flowed(func(f *flow) { f.add(b.Small, small, 0) }, 3)
			case b.Warn != "":
				flowed(func(f *flow) { f.item("!", b.Warn, Type{Size: dossierText, Color: pal.Warn}) }, 3)
			case len(b.List) > 0:
				for _, l := range b.List {
					flowed(func(f *flow) { f.item("–", l, text) }, 1.5)
				}
			case b.Table != nil:
				out = append(out, b.Table.pieces(width, pal)...)
			case len(b.Plots) > 0:
				out = append(out, plotPieces(b.Plots, width, pal)...)
			case len(b.Frames) > 0:
				out = append(out, framePieces(b.Frames, width, pal)...)
			}
		}
	}
	return out
}

const (
	cellGap = 7.0
	cellAir = 2.4
)

// pieces are the rows; a page that begins with one has the heads of the columns
// again.
func (g *Grid) pieces(width float64, pal Palette) []piece {
	total := 0.0
	for _, c := range g.Columns {
		total += c.Share
	}
	xs, ws := make([]float64, len(g.Columns)), make([]float64, len(g.Columns))
	x := 0.0
	for i, c := range g.Columns {
		w := width * c.Share / total
		xs[i], ws[i] = x, w-cellGap
		x += w
	}
	ws[len(ws)-1] += cellGap
	row := func(cells []string, style Type, line Stroke) piece {
		flows, high := make([]flow, len(cells)), 0.0
		for i, text := range cells {
			flows[i].width = ws[i]
			flows[i].add(text, style, 0)
			if g.Columns[i].End {
				for k := range flows[i].lines {
					l := &flows[i].lines[k]
					l.x = ws[i] - l.style.Width(l.text)
				}
			}
			high = math.Max(high, flows[i].height)
		}
		h := high + 2*cellAir
		return piece{height: h, draw: func(p *Page, x, y float64) {
			for i := range flows {
				flows[i].draw(p, x+xs[i], y+cellAir)
			}
			p.Line(Point{x, y + h}, Point{x + width, y + h}, line)
		}}
	}
	var titles []string
	for _, c := range g.Columns {
		titles = append(titles, c.Title)
	}
	head := row(titles, Type{Size: 0.93 * dossierCell, Color: pal.Soft}, Stroke{Color: pal.Ink, Width: 0.6})
	first := head
	first.keep = true
	out := []piece{first}
	for _, r := range g.Rows {
		if r.Head != "" {
			title := r.Head
			out = append(out, piece{height: dossierCell*leading + 9, keep: true, again: &head, draw: func(p *Page, x, y float64) {
				p.Text(Point{x, y + 7 + 0.8*dossierCell}, title, Type{Size: dossierCell, Face: Bold, Color: pal.Accent})
			}})
			continue
		}
		style := Type{Size: dossierCell, Color: pal.Ink}
		if r.Bold {
			style.Face = Medium
		}
		one := row(r.Cells, style, Stroke{Color: pal.Faint, Width: 0.4})
		one.again = &head
		out = append(out, one)
	}
	out[len(out)-1].height += 6
	return out
}

// plotPieces sets the curves three in a row.
func plotPieces(plots []CurvePlot, width float64, pal Palette) []piece {
	const inRow, gap, high = 3, 14.0, 118.0
	w := (width - gap*(inRow-1)) / inRow
	var out []piece
	for from := 0; from < len(plots); from += inRow {
		row := plots[from:min(from+inRow, len(plots))]
		out = append(out, piece{height: high + 10, draw: func(p *Page, x, y float64) {
			lines := mostLines(row, w)
			for i, plot := range row {
				p.curvePlot(Box{x + float64(i)*(w+gap), y, w, high}, plot, lines, pal)
			}
		}})
	}
	return out
}

// framePieces sets pictures four in a row with their words below.
func framePieces(frames []KeyFrame, width float64, pal Palette) []piece {
	const inRow, gap, high = 4, 10.0, 190.0
	w := (width - gap*(inRow-1)) / inRow
	var out []piece
	for from := 0; from < len(frames); from += inRow {
		row := frames[from:min(from+inRow, len(frames))]
		captions, deep := make([]flow, len(row)), 0.0
		for i, k := range row {
			captions[i].width = w
			captions[i].add(k.Title, Type{Size: dossierSmall, Face: Medium, Color: pal.Ink}, 0)
			if k.Label != "" {
				captions[i].add(k.Label, Type{Size: dossierSmall, Color: pal.Soft}, 0)
			}
			deep = math.Max(deep, captions[i].height)
		}
		out = append(out, piece{height: high + 3 + deep + 6, draw: func(p *Page, x, y float64) {
			for i, k := range row {
				at := x + float64(i)*(w+gap)
				p.Image(Box{at, y, w, high}, k.Image, k.Focus, pal.Faint)
				captions[i].draw(p, at, y+high+3)
			}
		}})
	}
	return out
}
