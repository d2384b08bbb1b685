package sticker

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// TestPictureOfTheFollowed draws what is followed, clean, blurred, partly hidden
// and hidden, eight times enlarged: a cross where the point was found, a dot on
// the truth. What is wholly in sight has its cross within 0.2 px, what is wholly
// hidden has none.
func TestPictureOfTheFollowed(t *testing.T) {
	dir := os.Getenv("GAITWRIGHT_PICTURES")
	if dir == "" {
		t.Skip("set GAITWRIGHT_PICTURES to a folder to have the picture drawn there")
	}
	const zoom, half, cell = 8, 16, 32 * 8
	frames := []int{14, 18, 22, 26}
	marks := []struct {
		mark func(u, v float64) (float64, float64)
		limb float64
		s    Shape
	}{{disc(225), 70, Auto}, {disc(25), 150, Auto}, {bullseye, 80, Auto}, {blotch, 120, Textured}}
	sheet := image.NewRGBA(image.Rect(0, 0, cell*len(frames)*len(marks)/2, cell*8))
	for m, k := range marks {
		for row, change := range []func(*scene){
			func(*scene) {},
			func(s *scene) { s.shutter = 0.5 },
			func(s *scene) { s.hidden = func(i int) float64 { return 0.3 * float64(boolInt(i >= 17)) } },
			func(s *scene) { s.hidden = func(i int) float64 { return float64(boolInt(i >= 17 && i < 20)) } },
		} {
			s := common(k.mark, k.limb)
			s.frames = 30
			change(&s)
			r := s.reel()
			p := follow(t, r, Point{Clicks: []Click{s.clickOn(10, 0, 0)}, Shape: k.s, DiameterPX: s.diameter})[0]
			for col, i := range frames {
				x, y := s.truth(i)
				x0, y0 := int(x)-half, int(y)-half
				at := image.Pt((col+m%2*len(frames))*cell, (row+m/2*4)*cell)
				for v := range cell {
					for u := range cell {
						g := pictureOf(r[i]).pixel(x0+u/zoom, y0+v/zoom)
						sheet.Set(at.X+u, at.Y+v, color.Gray{uint8(g)})
					}
				}
				dot := func(x, y float64, w, h int, c color.Color) {
					px, py := at.X+int((x-float64(x0))*zoom), at.Y+int((y-float64(y0))*zoom)
					draw.Draw(sheet, image.Rect(px-w, py-h, px+w+1, py+h+1), image.NewUniform(c), image.Point{}, draw.Src)
				}
				q := p.Samples[i]
				if row == 3 && i == 18 && q.Seen() || row < 2 && !(math.Hypot(q.XPX-x, q.YPX-y) < 0.2) {
					t.Errorf("mark %d, row %d, frame %d: %v at (%.1f, %.1f), the mark is at (%.1f, %.1f)", m, row, i, q.State, q.XPX, q.YPX, x, y)
				}
				if q.Seen() {
					dot(q.XPX, q.YPX, 40, 0, color.RGBA{255, 140, 0, 255})
					dot(q.XPX, q.YPX, 0, 40, color.RGBA{255, 140, 0, 255})
				}
				dot(x, y, 2, 2, color.RGBA{0, 120, 255, 255})
			}
		}
	}
	f, err := os.Create(filepath.Join(dir, "followed.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, sheet); err != nil {
		t.Fatal(err)
	}
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}
