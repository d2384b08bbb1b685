package sticker

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// sketch is a point's appearance at low resolution, for finding it again to
// within a few pixels: means of blocks of step by step pixels about the point.
type sketch struct {
	step, half int
	grey       []float64 // (2 half + 1)², mean 0, root of summed squares 1
}

// sketchOf draws a sketch of what lies within size of a place, as fine as its
// detail asks; nil where it is flat.
func sketchOf(p picture, x, y, size, detail float64) *sketch {
	s := &sketch{step: max(1, int(min(size/3.5, detail)))}
	s.half = max(2, int(math.Round((size/float64(s.step)-1)/2+0.5)))
	side := 2*s.half + 1
	s.grey = make([]float64, side*side)
	w := float64(side*s.step) / 2
	b := blocks{p: p, x0: int(math.Round(x - w)), y0: int(math.Round(y - w)), step: s.step, nx: side, ny: side}
	b.fill(s.grey)
	mean, sq := 0.0, 0.0
	for _, g := range s.grey {
		mean += g
	}
	mean /= float64(len(s.grey))
	for k := range s.grey {
		s.grey[k] -= mean
		sq += s.grey[k] * s.grey[k]
	}
	if sq < 4*float64(len(s.grey)) {
		return nil
	}
	for k := range s.grey {
		s.grey[k] /= math.Sqrt(sq)
	}
	return s
}

// reachPX is how far a sketch extends from its middle.
func (s *sketch) reachPX() float64 { return float64(2*s.half+1) * float64(s.step) / 2 }

// blocks are means of squares of a picture.
type blocks struct {
	p            picture
	x0, y0, step int
	nx, ny       int
}

func (b blocks) fill(dst []float64) {
	r := image.Rect(b.x0, b.y0, b.x0+b.nx*b.step, b.y0+b.ny*b.step)
	area := float64(b.step * b.step)
	if r.In(b.p.rect) {
		for j := range b.ny {
			line := dst[j*b.nx : (j+1)*b.nx]
			clear(line)
			for v := range b.step {
				row := b.p.row(b.y0+j*b.step+v, r.Min.X, r.Max.X)
				k := 0
				for i := range line {
					sum := 0
					for range b.step {
						sum += int(row[k])
						k++
					}
					line[i] += float64(sum) / area
				}
			}
		}
		return
	}
	for j := range b.ny {
		for i := range b.nx {
			sum := 0.0
			for v := range b.step {
				for u := range b.step {
					sum += b.p.pixel(b.x0+i*b.step+u, b.y0+j*b.step+v)
				}
			}
			dst[j*b.nx+i] = sum / area
		}
	}
}

// candidate is a place where a sketch fits.
type candidate struct{ x, y, score float64 }

// minLikeness is the correlation below which a place is not looked at.
const minLikeness = 0.45

// find returns the places within reach of (x, y) that are most like one of the
// sketches, likeliest first, at most four, without those at marks that are taken.
// Farther places need to be liker.
func (f *fitter) find(p picture, sketches []*sketch, x, y, reach float64, taken []mark) []candidate {
	var all []candidate
	for _, s := range sketches {
		if s != nil {
			all = f.findOne(all, p, s, x, y, reach)
		}
	}
	slices.SortFunc(all, func(a, b candidate) int { return cmp.Compare(b.score, a.score) })
	kept := all[:0]
	for _, c := range all {
		if !isTaken(taken, c.x, c.y) && !slices.ContainsFunc(kept, func(k candidate) bool { return math.Hypot(k.x-c.x, k.y-c.y) < 2.5 }) {
			kept = append(kept, c)
		}
	}
	return kept[:min(4, len(kept))]
}

func (f *fitter) findOne(into []candidate, p picture, s *sketch, x, y, reach float64) []candidate {
	steps := max(1, int(math.Ceil(reach/float64(s.step))))
	side := 2*s.half + 1
	nx := 2*steps + side
	w := float64(nx*s.step) / 2
	b := blocks{p: p, x0: int(math.Round(x - w)), y0: int(math.Round(y - w)), step: s.step, nx: nx, ny: nx}
	grid := f.floats(nx * nx)
	b.fill(grid)
	n := 2*steps + 1
	likeness := make([]float64, n*n)
	count := float64(side * side)
	for j := range n {
		for i := range n {
			var sum, sq, dot float64
			t := 0
			for v := range side {
				row := grid[(j+v)*nx+i : (j+v)*nx+i+side]
				tr := s.grey[t : t+side]
				for u, g := range row {
					sum += g
					sq += g * g
					dot += g * tr[u]
				}
				t += side
			}
			spread := sq - sum*sum/count
			if spread > 2*count {
				likeness[j*n+i] = dot / math.Sqrt(spread)
			}
		}
	}
	for j := range n {
		for i := range n {
			l := likeness[j*n+i]
			if l < minLikeness || !peak(likeness, n, i, j) {
				continue
			}
			c := candidate{x: float64(b.x0+i*s.step) + s.reachPX(), y: float64(b.y0+j*s.step) + s.reachPX()}
			if !p.inside(c.x, c.y) {
				continue
			}
			d := math.Hypot(c.x-x, c.y-y) / reach
			c.score = l - 0.2*d*d
			into = append(into, c)
		}
	}
	return into
}

func peak(a []float64, n, i, j int) bool {
	l := a[j*n+i]
	for v := max(0, j-1); v <= min(n-1, j+1); v++ {
		for u := max(0, i-1); u <= min(n-1, i+1); u++ {
			if a[v*n+u] > l {
				return false
			}
		}
	}
	return true
}

func (f *fitter) floats(n int) []float64 {
	if cap(f.grid) < n {
		f.grid = make([]float64, n)
	}
	return f.grid[:n]
}
