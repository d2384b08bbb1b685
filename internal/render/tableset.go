package render

import (
	"math"
	"strings"

	"gaitwright/gait/measure"
)

// Columns of the table, right edges from the right, in units of the type size.
type columns struct {
	air                                    float64 // above and below a row
	size                                   float64
	strides, smallest, difference          float64 // right edges; smallest 0 where it is left out
	right, left                            float64 // where "±" begins
	title                                  float64 // right edge of the title
	middle                                 float64 // where "±" begins for both feet
	width, half                            float64 // of the table and of a value with its error
	value, bold, soft, label, heading, tag Type
}

func newColumns(t table, width, size float64, withSmallest bool, pal Palette) columns {
	c := columns{size: size, width: width}
	c.value = Type{Size: size, Face: Medium, Color: pal.Ink}
	c.bold = Type{Size: size, Face: Bold, Color: pal.Ink}
	c.soft = Type{Size: 0.93 * size, Color: pal.Soft}
	c.label = Type{Size: size, Color: pal.Ink}
	c.heading = Type{Size: size, Face: Bold, Color: pal.Accent}
	c.tag = Type{Size: 0.72 * size, Color: pal.Soft}
	head := Type{Size: headSize * size, Color: pal.Soft}
	// Each column is as wide as its widest entry.
	value, errors := 2.2*size, 1.8*size
	difference, smallest, strides := head.Width("R − L"), head.Width("real change"), 1.2*size
	for _, s := range t.sections {
		for _, r := range s.rows {
			for _, m := range [...]*measure.Measure{r.left, r.right, r.both} {
				if m == nil || m.Text != "" {
					continue
				}
				value = math.Max(value, c.value.Width(numberText(m.Value, r.decimals)))
				errors = math.Max(errors, c.soft.Width("± "+errorText(m.SEM, r.decimals)))
			}
			if d, ok := r.difference(); ok {
				difference = math.Max(difference, c.bold.Width(signedText(d, r.decimals)))
			}
			smallest = math.Max(smallest, c.soft.Width(r.smallest()))
			strides = math.Max(strides, c.soft.Width(r.strides()))
		}
	}
	// Numbers without measure of any kind must not squeeze out the titles.
	value, errors, difference = math.Min(value, 0.12*width), math.Min(errors, 0.12*width), math.Min(difference, 0.12*width)
	air := 0.75 * size
	at := width
	c.strides = at
	at -= strides + air
	if withSmallest {
		air *= 1.8
		c.smallest = at
		at -= smallest + air
	}
	c.difference = at
	at -= difference + air
	c.right = at - errors
	at = c.right - value - 0.18*size - air
	c.left = at - errors
	c.title = c.left - value - 0.18*size - air
	c.middle = (c.left + c.right) / 2
	c.half = value + errors + 0.18*size
	return c
}

// headSize is that of the heads of the columns, as a part of the table's.
const headSize = 0.86

// block is a piece of the table of a known height.
type block struct {
	height  float64
	heading string // set on headings
	draw    func(p *Page, x, y float64)
}

// columnGap is between the columns of the table.
const columnGap = 20.0

func (c columns) headingBlock(title string, pal Palette) block {
	var f flow
	f.width = c.width
	f.add(title, c.heading, 0)
	below := 0.12 * c.size
	h := f.height + 1.4*c.air + below
	return block{height: h, heading: title, draw: func(p *Page, x, y float64) {
		f.draw(p, x, y+1.4*c.air)
		p.Line(Point{x, y + h - below}, Point{x + c.width, y + h - below}, Stroke{Color: pal.Rule, Width: 0.5})
	}}
}

func (c columns) rowBlock(r row, pal Palette) block {
	// The title, its unit and the letters of its notes flow together; the pieces
	// that follow the title keep their own type.
	lines := wrap(r.title, c.label, c.title)
	if len(lines) == 0 {
		lines = []string{""}
	}
	type piece struct {
		x     float64
		line  int
		text  string
		style Type
	}
	var pieces []piece
	x, line := 0.0, len(lines)-1
	for i, l := range lines {
		pieces = append(pieces, piece{0, i, l, c.label})
	}
	x = c.label.Width(lines[line])
	after := func(text string, style Type, gap float64) {
		for k, w := range wrap(text, style, c.title) {
			width := style.Width(w)
			if x > 0 && (k > 0 || x+gap+width > c.title) {
				x, line = 0, line+1
			} else if x > 0 {
				x += gap
			}
			pieces = append(pieces, piece{x, line, w, style})
			x += width
		}
	}
	if r.unit != "" {
		after("("+r.unit+")", c.soft, 0.3*c.size)
	}
	tag := c.tag
	after(r.flags, tag, 0.2*c.size)
	lineH := 1.16 * c.size
	// A value in words takes lines of its own where it is long.
	words := func(m *measure.Measure, room float64) []string {
		if m == nil || m.Text == "" {
			return nil
		}
		return wrap(m.Text, c.value, room)
	}
	deep := line + 1
	left, right, both := words(r.left, c.half), words(r.right, c.half), words(r.both, 2*c.half)
	deep = max(deep, len(left), len(right), len(both))
	h := float64(deep)*lineH + 2*c.air - 0.16*c.size
	return block{height: h, draw: func(p *Page, x, y float64) {
		base := y + c.air + 0.78*c.size
		for _, q := range pieces {
			at := Point{x + q.x, base + float64(q.line)*lineH}
			if q.style.Size == tag.Size {
				at.Y -= 0.28 * c.size
			}
			p.Text(at, q.text, q.style)
		}
		c.put(p, r, r.left, left, x, x+c.left, base, lineH)
		c.put(p, r, r.right, right, x, x+c.right, base, lineH)
		c.put(p, r, r.both, both, x, x+c.middle, base, lineH)
		if d, ok := r.difference(); ok {
			style := c.soft
			if r.asymmetry != nil && r.asymmetry.Beyond {
				style = c.bold
			}
			style.Align = End
			p.Text(Point{x + c.difference, base}, signedText(d, r.decimals), style)
		}
		soft := c.soft
		soft.Align = End
		if c.smallest > 0 {
			p.Text(Point{x + c.smallest, base}, r.smallest(), soft)
		}
		p.Text(Point{x + c.strides, base}, r.strides(), soft)
		p.Line(Point{x, y + h}, Point{x + c.width, y + h}, Stroke{Color: pal.Faint, Width: 0.35})
	}}
}

// put sets a value with the point between it and its error at pivot.
func (c columns) put(p *Page, r row, m *measure.Measure, words []string, x, pivot, base, lineH float64) {
	if m == nil {
		return
	}
	if len(words) > 0 {
		style := c.value
		style.Align = Middle
		for i, w := range words {
			p.Text(Point{pivot - 0.3*c.size, base + float64(i)*lineH}, w, style)
		}
		return
	}
	value := c.value
	value.Align = End
	p.Text(Point{pivot - 0.18*c.size, base}, numberText(m.Value, r.decimals), value)
	if e := errorText(m.SEM, r.decimals); e != "" && !m.Withheld() {
		p.Text(Point{pivot, base}, "± "+e, c.soft)
	}
}

// headBlock is the heads of the columns.
func (c columns) headBlock(pal Palette) block {
	size := headSize * c.size
	head := Type{Size: size, Color: pal.Soft}
	lines := 1
	if c.smallest > 0 {
		lines = 2
	}
	h := (float64(lines)*1.15 + 0.7) * size
	return block{height: h, draw: func(p *Page, x, y float64) {
		base := y + h - 0.5*size
		end := head
		end.Align = End
		p.Text(Point{x, base}, "Measure", head)
		side := head
		side.Face, side.Align = Bold, Middle
		side.Color = pal.Left
		p.Text(Point{x + c.left - 0.1*c.size, base}, "Left", side)
		side.Color = pal.Right
		p.Text(Point{x + c.right - 0.1*c.size, base}, "Right", side)
		p.Text(Point{x + c.difference, base}, "R − L", end)
		if c.smallest > 0 {
			p.Text(Point{x + c.smallest, base - 1.15*size}, "smallest", end)
			p.Text(Point{x + c.smallest, base}, "real change", end)
		}
		p.Text(Point{x + c.strides, base}, "n", end)
		p.Line(Point{x, y + h}, Point{x + c.width, y + h}, Stroke{Color: pal.Ink, Width: 0.6})
	}}
}

// layTable sets the sections in columns of equal width and returns the columns'
// blocks and the height of the highest.
func layTable(t table, width float64, d density, pal Palette) (cols [][]block, c columns, height float64) {
	size, count := d.table, d.columns
	each := (width - columnGap*float64(count-1)) / float64(count)
	c = newColumns(t, each, size, count == 1, pal)
	c.air = d.air * size
	head := c.headBlock(pal)
	var all []block
	for _, s := range t.sections {
		if s.title != "" || len(t.sections) > 1 {
			title := s.title
			if title == "" {
				title = "Further measures"
			}
			all = append(all, c.headingBlock(title, pal))
		}
		for _, r := range s.rows {
			all = append(all, c.rowBlock(r, pal))
		}
	}
	if len(all) == 0 {
		return nil, c, 0
	}
	// The lowest height at which the blocks fill no more than the columns.
	total := 0.0
	tallest := 0.0
	for _, b := range all {
		total += b.height
		tallest = math.Max(tallest, b.height)
	}
	limit := math.Max(total/float64(count), 3*tallest)
	for {
		if cols = c.fill(all, limit, pal); len(cols) <= count {
			break
		}
		limit += 0.5 * size
	}
	// A little higher, no section may have to be broken.
	for higher := limit; higher < 1.12*limit && c.broken(cols); higher += 0.5 * size {
		if tidy := c.fill(all, higher, pal); !c.broken(tidy) {
			cols = tidy
		}
	}
	for i := range cols {
		cols[i] = append([]block{head}, cols[i]...)
		h := 0.0
		for _, b := range cols[i] {
			h += b.height
		}
		height = math.Max(height, h)
	}
	return cols, c, height
}

const continued = " (continued)"

func (c columns) broken(cols [][]block) bool {
	for _, col := range cols {
		if strings.HasSuffix(col[0].heading, continued) {
			return true
		}
	}
	return false
}

// fill puts blocks into columns no higher than limit. A heading has
// two of its rows with it where there are two; a section that goes on has its heading again.
func (c columns) fill(all []block, limit float64, pal Palette) [][]block {
	var cols [][]block
	var col []block
	h := 0.0
	open := ""
	for i, b := range all {
		need := b.height
		if b.heading != "" {
			for k := i + 1; k < min(i+3, len(all)) && all[k].heading == ""; k++ {
				need += all[k].height
			}
		}
		if len(col) > 0 && h+need > limit+1e-6 {
			cols = append(cols, col)
			col, h = nil, 0
			if b.heading == "" && open != "" {
				again := c.headingBlock(open+continued, pal)
				col, h = append(col, again), again.height
			}
		}
		if b.heading != "" {
			open = b.heading
		}
		col, h = append(col, b), h+b.height
	}
	return append(cols, col)
}
