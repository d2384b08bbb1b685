package figure

import (
	"math"
	"strings"
)

// Text draws a drawing of lines for a terminal: dots in the braille patterns of
// Unicode, two across and four down a character, with its texts in letters. It
// is at most columns wide and rows high. Areas and discs are drawn as their
// outlines, the paper's colour not at all.
func (d Drawing) Text(columns, rows int) string {
	low, high := d.Frame()
	// A letter is two dots wide; the frame is made wide enough for the texts at the
	// scale that follows.
	scale := min(float64(2*columns-2)/max(high.X-low.X, 0.1), float64(4*rows-2)/max(high.Y-low.Y, 0.1))
	scale = min(scale, 2/letterW)
	left, right := low.X, high.X
	for _, s := range d.Shapes {
		if s.Text != "" {
			half := float64(len([]rune(s.Text))) / scale
			left, right = min(left, s.Points[0].X-half), max(right, s.Points[0].X+half)
		}
	}
	if fit := float64(2*columns-2) / (right - left); fit < scale {
		left, right = max(left, low.X-0.3), min(right, high.X+0.3)
	}
	w, h := min(int(math.Ceil(((right-left)*scale+2)/2)), columns), min(int(math.Ceil(((high.Y-low.Y)*scale+2)/4)), rows)
	c := canvas{w: w, h: h, dots: make([]uint8, w*h)}
	at := func(q Point) (x, y float64) { return (q.X - left) * scale, (high.Y - q.Y) * scale }
	for _, s := range d.Shapes {
		if s.Role == Halo || s.Text != "" {
			continue
		}
		points := s.Points
		if s.Radius > 0 {
			points = nil
			for i := range 9 {
				points = append(points, Dir{Deg: float64(i) * 45}.from(s.Points[0], max(s.Radius, 1.2/scale)))
			}
		}
		if s.Fill {
			points = append(append([]Point(nil), points...), points[0])
		}
		step := 0
		for i := 1; i < len(points); i++ {
			x0, y0 := at(points[i-1])
			x1, y1 := at(points[i])
			step = c.line(x0, y0, x1, y1, step, s.Dashed)
		}
	}
	cells := make([][]rune, h)
	for r := range cells {
		cells[r] = make([]rune, w)
		for k := range cells[r] {
			if b := c.dots[r*w+k]; b != 0 {
				cells[r][k] = 0x2800 + rune(b)
			} else {
				cells[r][k] = ' '
			}
		}
	}
	for _, s := range d.Shapes {
		if s.Text == "" {
			continue
		}
		letters := []rune(s.Text)
		x, y := at(Point{s.Points[0].X, s.Points[0].Y + letterH*0.33})
		row := min(max(int(y/4), 0), h-1)
		from := min(max(int(math.Round(x/2-float64(len(letters))/2)), 0), max(w-len(letters), 0))
		for i, l := range letters {
			if from+i < w {
				cells[row][from+i] = l
			}
		}
	}
	var b strings.Builder
	for _, line := range cells {
		b.WriteString(strings.TrimRight(string(line), " ") + "\n")
	}
	return strings.Trim(b.String(), "\n") + "\n"
}

type canvas struct {
	w, h int
	dots []uint8
}

// braille holds the bit of each dot of a character, by row and column.
var braille = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// line sets the dots of a line, every third run left out where dashed, and
// returns where in the pattern it ended.
func (c *canvas) line(x0, y0, x1, y1 float64, step int, dashed bool) int {
	n := max(int(math.Ceil(max(math.Abs(x1-x0), math.Abs(y1-y0)))), 1)
	for i := range n + 1 {
		if dashed && (step+i)%4 >= 2 {
			continue
		}
		t := float64(i) / float64(n)
		x, y := int(math.Round(x0+(x1-x0)*t)), int(math.Round(y0+(y1-y0)*t))
		if x >= 0 && y >= 0 && x < 2*c.w && y < 4*c.h {
			c.dots[y/4*c.w+x/2] |= braille[y%4][x%2]
		}
	}
	return step + n
}
