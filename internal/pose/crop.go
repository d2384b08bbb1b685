package pose

import (
	"encoding/binary"
	"math"
)

// A Frame is one picture: RGB24 rows from the top, without padding.
type Frame struct {
	Index  int     // number of the frame in its clip
	TimeS  float64 // seconds on the clip's own clock
	Width  int
	Height int
	RGB    []byte // 3 × Width × Height bytes
	// Release, where not nil, is called by Run when the buffer may be reused.
	Release func()
}

// A scaling maps byte values to what a network expects: low for 0, high for 255.
type scaling struct{ low, high float32 }

var (
	unitScaling   = scaling{0, 1}
	signedScaling = scaling{-1, 1}
)

// maxBlock bounds the block of picture pixels averaged for one output pixel.
const maxBlock = 8

// cut samples the region of a frame into a square of size×size pixels, three
// planes (red, green, blue) one after the other in dst. Where an output pixel is
// larger than one and a half of the picture's it is the mean of the block of
// picture pixels around its centre, so that nothing is skipped; otherwise it is
// interpolated between the four nearest. Outside the picture the border is
// repeated, or all is black where black is true. The frame must be at least
// eight pixels wide and high.
func cut(dst []float32, size int, f Frame, r Region, s scaling, black bool) {
	step := r.SidePX / float64(size)
	sin, cos := math.Sincos(r.AngleRad)
	x, y := r.place(0, 0)
	c := cutter{
		size: size, red: dst[:size*size], green: dst[size*size:][:size*size], blue: dst[2*size*size:][:size*size],
		rgb: f.RGB, width: f.Width, height: f.Height, stride: 3 * f.Width,
		block: min(max(1, int(math.Round(step))), maxBlock, f.Width-4, f.Height-4), black: black,
		low: s.low,
	}
	// The margin on the right lets eight bytes be read at the last pixel.
	c.limitX, c.limitY = (c.width-c.block-2)*fixed, (c.height-c.block-1)*fixed
	// Sample positions are fixed-point indices of picture pixels: of the upper
	// left of the four to interpolate between, or of the block.
	shift := 0.5 // a pixel's centre is at its index + 0.5
	gain := 255 * float32(fixed)
	if c.block > 1 {
		shift = float64(c.block)/2 - 0.5 // and half to round
		gain = 255 * float32(c.block*c.block)
	}
	c.gain = (s.high - s.low) / gain
	ux, uy := cos*step, sin*step
	c.dx, c.dy = int(math.Round(ux*fixed)), int(math.Round(uy*fixed))
	for row := range size {
		v := float64(row) + 0.5
		c.row(row, int((x+0.5*ux-v*uy-shift)*fixed), int((y+0.5*uy+v*ux-shift)*fixed))
	}
}

const fixed = 1 << 16

type cutter struct {
	size             int
	red, green, blue []float32
	rgb              []byte
	width, height    int
	stride           int
	block            int
	limitX, limitY   int // fixed-point positions below which a sample lies inside
	black            bool
	dx, dy           int // fixed-point steps along an output row
	low, gain        float32
}

// row fills one output row, whose first sample is at x, y in fixed point.
func (c *cutter) row(row, x, y int) {
	// The samples [from, to) lie wholly inside.
	from, to := within(0, c.size, x, c.dx, c.limitX)
	from, to = within(from, to, y, c.dy, c.limitY)
	o := row * c.size
	for k := range from {
		c.edge(o+k, x+k*c.dx, y+k*c.dy)
	}
	if c.block == 1 {
		c.interpolate(o+from, o+to, x+from*c.dx, y+from*c.dy)
	} else {
		c.average(o+from, o+to, x+from*c.dx, y+from*c.dy)
	}
	for k := to; k < c.size; k++ {
		c.edge(o+k, x+k*c.dx, y+k*c.dy)
	}
}

// within narrows the range [from, to) of k to that in which 0 ≤ a + k·d < limit.
func within(from, to, a, d, limit int) (int, int) {
	inside := func(k int) bool { v := a + k*d; return v >= 0 && v < limit }
	if d != 0 {
		p, q := -a/d, (limit-a)/d
		from, to = min(max(from, min(p, q)-1), to), max(min(to, max(p, q)+2), from)
	}
	for from < to && !inside(from) {
		from++
	}
	for to > from && !inside(to-1) {
		to--
	}
	return from, to
}

// interpolate fills the outputs [k, end) between the four nearest pixels.
func (c *cutter) interpolate(k, end, x, y int) {
	for ; k < end; k++ {
		p := (y>>16)*c.stride + (x>>16)*3
		a, b := c.rgb[p:p+6:p+6], c.rgb[p+c.stride:p+c.stride+6:p+c.stride+6]
		w := weights(x, y)
		c.red[k] = c.low + c.gain*float32(w[0]*uint32(a[0])+w[1]*uint32(a[3])+w[2]*uint32(b[0])+w[3]*uint32(b[3]))
		c.green[k] = c.low + c.gain*float32(w[0]*uint32(a[1])+w[1]*uint32(a[4])+w[2]*uint32(b[1])+w[3]*uint32(b[4]))
		c.blue[k] = c.low + c.gain*float32(w[0]*uint32(a[2])+w[1]*uint32(a[5])+w[2]*uint32(b[2])+w[3]*uint32(b[5]))
		x += c.dx
		y += c.dy
	}
}

// weights returns the shares of the four pixels around a fixed-point position,
// which add up to 65536.
func weights(x, y int) [4]uint32 {
	fx, fy := uint32(x>>8)&255, uint32(y>>8)&255
	return [4]uint32{(256 - fx) * (256 - fy), fx * (256 - fy), (256 - fx) * fy, fx * fy}
}

// average fills the outputs [k, end) with means over blocks. Two pixels are
// added at a time: eight bytes are read, and the six wanted go into two sums of
// three 16-bit lanes each, red-blue-green and green-red-blue. A lane holds at
// most 8·4·255.
func (c *cutter) average(k, end, x, y int) {
	const (
		lanes = 0x00ff_00ff_00ff
		one   = 0x00ff_ffff
	)
	pairs, odd := c.block/2*6, c.block%2 == 1
	for ; k < end; k++ {
		p := (y>>16)*c.stride + (x>>16)*3
		var even, other uint64
		for range c.block {
			q := p
			for ; q < p+pairs; q += 6 {
				v := binary.LittleEndian.Uint64(c.rgb[q:])
				even += v & lanes
				other += v >> 8 & lanes
			}
			if odd {
				v := binary.LittleEndian.Uint64(c.rgb[q:]) & one
				even += v & lanes
				other += v >> 8 & lanes
			}
			p += c.stride
		}
		c.red[k] = c.low + c.gain*float32(even&0xffff+other>>16&0xffff)
		c.green[k] = c.low + c.gain*float32(even>>32&0xffff+other&0xffff)
		c.blue[k] = c.low + c.gain*float32(even>>16&0xffff+other>>32&0xffff)
		x += c.dx
		y += c.dy
	}
}

// edge fills output k where its sample reaches over the picture's edge: with the
// nearest sample that does not, or with black for what lies outside.
func (c *cutter) edge(k, x, y int) {
	if !c.black {
		x, y = min(max(x, 0), c.limitX-1), min(max(y, 0), c.limitY-1)
		if c.block == 1 {
			c.interpolate(k, k+1, x, y)
		} else {
			c.average(k, k+1, x, y)
		}
		return
	}
	var r, g, b uint32
	add := func(x, y int, w uint32) {
		if x < 0 || y < 0 || x >= c.width || y >= c.height {
			return
		}
		p := y*c.stride + x*3
		px := c.rgb[p : p+3 : p+3]
		r, g, b = r+w*uint32(px[0]), g+w*uint32(px[1]), b+w*uint32(px[2])
	}
	left, top := x>>16, y>>16
	switch {
	case left <= -c.block-1 || top <= -c.block-1 || left >= c.width || top >= c.height:
	case c.block == 1:
		for i, w := range weights(x, y) {
			add(left+i%2, top+i/2, w)
		}
	default:
		for i := range c.block {
			for j := range c.block {
				add(left+j, top+i, 1)
			}
		}
	}
	c.red[k], c.green[k], c.blue[k] = c.low+c.gain*float32(r), c.low+c.gain*float32(g), c.low+c.gain*float32(b)
}
