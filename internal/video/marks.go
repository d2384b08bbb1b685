package video

import (
	"image"
	"math"
	"strings"
)

// Mark is a line or an angle that a person drew on the picture: two points, or
// three with the vertex in the middle.
type Mark struct {
	Points []Point
	Label  string // written beside it; may be empty
}

// mark draws a mark: white on a dark edge, each end across by a short stroke, an
// arc within an angle, and the label in a panel beside its middle. Nothing of the
// body is drawn so, and so the two are told apart without their colours.
func (d *drawing) mark(m Mark) {
	n := len(m.Points)
	if n != 2 && n != 3 {
		return
	}
	for _, p := range m.Points {
		if !p.Seen() || !p.near(d.img.Rect) {
			return
		}
	}
	for _, edge := range []bool{true, false} {
		width, c := 2.2*d.u, inkMiddle
		if edge {
			width, c = 5*d.u, inkEdge
		}
		for i := 0; i+1 < n; i++ {
			d.line(m.Points[i].spot(), m.Points[i+1].spot(), width, c)
		}
		d.across(m.Points[0], m.Points[1], width, edge)
		d.across(m.Points[n-1], m.Points[n-2], width, edge)
		if n == 3 {
			v := m.Points[1]
			from := direction(v, m.Points[0])
			to := from + math.Remainder(direction(v, m.Points[2])-from, 2*math.Pi)
			r := math.Min(28*d.u, 0.6*math.Min(distance(v, m.Points[0]), distance(v, m.Points[2])))
			if r > 4*d.u && math.Abs(to-from) > 0.02 {
				d.arc(v.spot(), r, from, to, width, c)
			}
		}
	}
	if m.Label == "" {
		return
	}
	at := spot{(m.Points[0].XPX + m.Points[n-1].XPX) / 2, (m.Points[0].YPX + m.Points[n-1].YPX) / 2}
	size := 17 * d.u
	label := d.fit(m.Label, bold, size, d.w-24*d.u)
	width := d.faces.width(label, bold, size)
	if n == 3 {
		// Out of the angle, on the far side of the vertex.
		v := m.Points[1]
		away := math.Atan2(v.YPX-at.y, v.XPX-at.x)
		at = v.spot().to(18*d.u+0.5*width*math.Abs(math.Cos(away)), away)
	} else {
		// To the side of the line, so that the line stays to be seen.
		along := direction(m.Points[0], m.Points[1])
		out := along + math.Pi/2
		if math.Cos(out) < 0 || (math.Abs(math.Cos(out)) < 1e-9 && math.Sin(out) > 0) {
			out += math.Pi
		}
		at = at.to(16*d.u+0.5*width*math.Abs(math.Cos(out)), out)
	}
	x := math.Max(6*d.u, math.Min(at.x-width/2, d.w-width-6*d.u))
	y := math.Max(size*1.1, math.Min(at.y+size*0.35, d.h-6*d.u))
	d.ink.panel(x-5*d.u, y-size*0.92, width+10*d.u, size*1.28, 5*d.u, inkPanel)
	d.text(d.faces, spot{x, y}, label, bold, size, inkMiddle)
}

// across draws the short stroke at an end of a line.
func (d *drawing) across(end, other Point, width float64, edge bool) {
	at := direction(other, end) + math.Pi/2
	c, half := inkMiddle, 7*d.u
	if edge {
		c = inkEdge
	}
	d.line(end.spot().to(half, at), end.spot().to(-half, at), width, c)
}

// The measures of a caption, as parts of the size of its letters.
const (
	captionStep   = 1.45 // from line to line
	captionBorder = 0.8
)

// CaptionHeight is the height in pixels that a caption of so many lines takes.
func CaptionHeight(lines int, size float64) float64 {
	return size * (captionStep*float64(lines) + captionBorder)
}

// CaptionLines breaks lines of text between words so that they fit into a caption of
// a width, with letters of a size in pixels.
func CaptionLines(width, size float64, lines []string) []string {
	letters := spareFaces.Get().(faces)
	defer spareFaces.Put(letters)
	var out []string
	for _, line := range lines {
		now := ""
		for _, word := range strings.Fields(line) {
			// The first line is bold, and bold is the wider.
			if next := strings.TrimSpace(now + " " + word); now == "" || letters.width(next, bold, size) <= width-2*captionBorder*size {
				now = next
				continue
			}
			out, now = append(out, now), word
		}
		if now != "" {
			out = append(out, now)
		}
	}
	return out
}

// Caption fills a strip of a picture with the dark of the panels and writes lines
// of text into it, the first one bold, with letters of a size in pixels. What does
// not fit in its width is cut short.
func Caption(strip *image.RGBA, size float64, lines []string) {
	letters := spareFaces.Get().(faces)
	defer spareFaces.Put(letters)
	w, h := float64(strip.Rect.Dx()), float64(strip.Rect.Dy())
	d := drawing{ink: ink{img: strip}, faces: letters, w: w, h: h}
	back := inkPanel
	back.A = 0xff
	d.fill(back, []spot{{0, 0}, {w, 0}, {w, h}, {0, h}})
	for i, line := range lines {
		weight, c := regular, inkSoft
		if i == 0 {
			weight, c = bold, inkMiddle
		}
		line = d.fit(line, weight, size, w-2*captionBorder*size)
		d.text(d.faces, spot{captionBorder * size, size * (1.2 + captionStep*float64(i))}, line, weight, size, c)
	}
}
