package render

import (
	"fmt"
	"image"
	"math"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

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

func (s *sheet) caption(f KeyFrame, width float64) flow {
	c := flow{width: width}
	title := Type{Size: 7.2, Face: Medium, Color: s.pal.Ink}
	soft := Type{Size: 6.4, Color: s.pal.Soft}
	small := Type{Size: 5.6, Color: s.pal.Soft}
	c.add(f.heading(), title, 0)
	if finite(f.TimeS) {
		// The time ends the title's line where there is room.
		text := fmt.Sprintf("%.2f s", f.TimeS)
		w := small.Width(text)
		if n := len(c.lines); n == 1 && title.Width(c.lines[0].text)+5+w <= width {
			c.lines = append(c.lines, flowLine{width - w, c.lines[0].y, text, small})
		} else {
			c.add(text, small, 0)
		}
	}
	c.add(f.Label, soft, 0)
	return c
}

// heading is the picture's title with the foot that is meant, unless the view
// says it: from the left the left foot is.
func (f KeyFrame) heading() string {
	side := body.NoSide
	switch f.View {
	case clip.LeftSide:
		side = body.Left
	case clip.RightSide:
		side = body.Right
	}
	title := strings.TrimSpace(f.Title)
	if f.Side == body.NoSide || f.Side == side || title == "" {
		return title
	}
	foot := f.Side.String()
	return strings.ToUpper(foot[:1]) + foot[1:] + ": " + strings.ToLower(title[:1]) + title[1:]
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
