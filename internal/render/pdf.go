package render

import (
	"bytes"
	"errors"
	"fmt"
	"image/color"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// WritePDF writes the page as a PDF with embedded fonts. The date is the one that
// the file says it was made on.
func (p *Page) WritePDF(w io.Writer, made time.Time) error {
	return (&Document{Title: p.Title, Made: made, Pages: []*Page{p}}).WritePDF(w)
}

// WritePDF writes the document as a PDF with embedded fonts and bookmarks. The
// library writes no structure tree, so that the file is not tagged.
func (d *Document) WritePDF(w io.Writer) error {
	if len(d.Pages) == 0 {
		return errors.New("the PDF could not be made: it has no page")
	}
	first := d.Pages[0].Size
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: first.W, Ht: first.H}})
	f.SetCatalogSort(true)
	f.SetCreationDate(d.Made.UTC())
	f.SetModificationDate(d.Made.UTC())
	f.SetTitle(d.Title, true)
	f.SetCreator("gaitwright", true)
	if d.Lang != "" {
		f.SetLang(d.Lang)
	}
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	anyFace := Regular
	for face, used := range d.characters() {
		if len(used) > 0 {
			f.AddUTF8FontFromBytes(pdfFamily(Face(face)), "", faceFiles()[face])
			anyFace = Face(face)
		}
	}
	out := pdf{Fpdf: f, alpha: 255, anyFace: anyFace}
	for _, p := range d.Pages {
		f.AddPageFormat("P", fpdf.SizeType{Wd: p.Size.W, Ht: p.Size.H})
		if p.Paper.A > 0 {
			out.opacity(color.NRGBA{A: 255})
			f.SetFillColor(int(p.Paper.R), int(p.Paper.G), int(p.Paper.B))
			f.Rect(0, 0, p.Size.W, p.Size.H, "F")
		}
		for _, m := range p.marks {
			out.mark(m)
		}
	}
	if err := f.Output(w); err != nil {
		return fmt.Errorf("the PDF could not be made: %w", err)
	}
	return nil
}

func pdfFamily(f Face) string { return [faces]string{"go", "gomedium", "gobold", "goitalic"}[f] }

type pdf struct {
	*fpdf.Fpdf
	alpha  uint8
	images int
	// anyFace is one that the document has.
	anyFace Face
	starts  []pdfLink
}

// pdfLink is an open group; its marks' extent becomes the area to press.
type pdfLink struct {
	link   string
	extent extent
}

func (f *pdf) mark(m mark) {
	if n := len(f.starts); n > 0 {
		f.starts[n-1].extent.add(m)
	}
	switch m := m.(type) {
	case pathMark:
		f.path(m.paint, func() {
			for _, run := range m.runs {
				f.MoveTo(run[0].X, run[0].Y)
				for _, q := range run[1:] {
					f.LineTo(q.X, q.Y)
				}
				if m.closed {
					f.ClosePath()
				}
			}
		}, nil)
	case circleMark:
		f.path(m.paint, nil, func(style string) { f.Circle(m.centre.X, m.centre.Y, m.radius, style) })
	case textMark:
		f.opacity(m.style.Color)
		f.SetFont(pdfFamily(m.style.Face), "", m.style.Size)
		f.SetTextColor(int(m.style.Color.R), int(m.style.Color.G), int(m.style.Color.B))
		if m.style.Angle != 0 {
			f.TransformBegin()
			f.TransformRotate(m.style.Angle, m.at.X, m.at.Y)
		}
		f.Text(m.at.X, m.at.Y, m.text)
		if m.style.Angle != 0 {
			f.TransformEnd()
		}
	case imageMark:
		f.images++
		name := fmt.Sprintf("picture%03d", f.images)
		f.opacity(color.NRGBA{A: 255})
		o := fpdf.ImageOptions{ImageType: "JPG"}
		f.RegisterImageOptionsReader(name, o, bytes.NewReader(m.picture.jpeg))
		f.ImageOptions(name, m.box.X, m.box.Y, m.box.W, m.box.H, false, o, 0, "")
	case clipMark:
		f.ClipRect(m.box.X, m.box.Y, m.box.W, m.box.H, false)
	case unclipMark:
		f.ClipEnd()
	case bookmarkMark:
		// The font decides how the title is written into the file.
		f.SetFont(pdfFamily(f.anyFace), "", 8)
		f.Bookmark(m.title, m.level, m.y)
	case groupMark:
		f.starts = append(f.starts, pdfLink{link: m.link})
	case ungroupMark:
		last := f.starts[len(f.starts)-1]
		f.starts = f.starts[:len(f.starts)-1]
		if b, ok := last.extent.box(); ok && last.link != "" {
			f.LinkString(b.X, b.Y, b.W, b.H, last.link)
		}
	}
}

// path draws the area, then the outline, since each has its own opacity.
func (f *pdf) path(p Paint, trace func(), whole func(style string)) {
	draw := func(style string) {
		if whole != nil {
			whole(style)
			return
		}
		trace()
		f.DrawPath(style)
	}
	if p.Fill.A > 0 {
		f.opacity(p.Fill)
		f.SetFillColor(int(p.Fill.R), int(p.Fill.G), int(p.Fill.B))
		draw("F")
	}
	if p.Edge.Width > 0 {
		f.opacity(p.Edge.Color)
		f.SetDrawColor(int(p.Edge.Color.R), int(p.Edge.Color.G), int(p.Edge.Color.B))
		f.SetLineWidth(p.Edge.Width)
		cap, join := "butt", "miter"
		if p.Edge.Round {
			cap, join = "round", "round"
		}
		f.SetLineCapStyle(cap)
		f.SetLineJoinStyle(join)
		f.SetDashPattern(p.Edge.Dash, 0)
		draw("D")
	}
}

func (f *pdf) opacity(c color.NRGBA) {
	if c.A != f.alpha {
		f.alpha = c.A
		f.SetAlpha(float64(c.A)/255, "Normal")
	}
}
