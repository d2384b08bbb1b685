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
