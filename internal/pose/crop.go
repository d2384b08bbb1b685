package pose

import "math"

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

// maxTaps bounds the samples averaged along each side of an output pixel.
const maxTaps = 6

// cut samples the region of a frame into a square of size×size pixels, three
// planes (red, green, blue) one after the other in dst. Sampling is bilinear;
// where an output pixel covers more than two of the picture's, several samples
// are averaged, so that no picture pixel is skipped up to eight a side. Outside the
// picture the border is repeated, or black where black is true.
func cut(dst []float32, size int, f Frame, r Region, s scaling, black bool) {
	step := r.SidePX / float64(size)
	taps := min(max(1, int(math.Round(step))), maxTaps)
	sin, cos := math.Sincos(r.AngleRad)
	c := cutter{
		dst: dst, size: size, rgb: f.RGB, width: f.Width, height: f.Height, taps: taps, black: black,
		ux: cos * step, uy: sin * step, vx: -sin * step, vy: cos * step,
		low: s.low, gain: (s.high - s.low) / (255 * float32(taps*taps)),
	}
	if taps == 1 {
		c.gain /= fixed
	}
	// The centre of the first sample, in pixel indices (a pixel's centre is at
	// index + 0.5).
	x, y := r.place(0, 0)
	c.x0, c.y0 = x-0.5, y-0.5
	inside := true
	for _, p := range [...][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		x, y := r.place(p[0], p[1])
		inside = inside && x > 2 && y > 2 && x < float64(f.Width)-3 && y < float64(f.Height)-3
	}
	if inside {
		c.interior()
	} else {
		c.border()
	}
}

type cutter struct {
	dst            []float32
	size           int
	rgb            []byte
	width, height  int
	taps           int
	black          bool
	x0, y0         float64 // sample position of the region's corner
	ux, uy, vx, vy float64 // picture steps along an output row and column
	low, gain      float32
}

const fixed = 1 << 16

// interior samples a region that lies wholly within the picture, in fixed point.
func (c *cutter) interior() {
	n := c.size
	red, green, blue := c.dst[:n*n], c.dst[n*n:2*n*n], c.dst[2*n*n:3*n*n]
	rgb, stride := c.rgb, 3*c.width
	dx, dy := int(math.Round(c.ux*fixed)), int(math.Round(c.uy*fixed))
	t := 1 / float64(c.taps)
	if c.taps == 1 {
		for row := range n {
			v := float64(row) + 0.5
			x := int((c.x0 + 0.5*c.ux + v*c.vx) * fixed)
			y := int((c.y0 + 0.5*c.uy + v*c.vy) * fixed)
			o := row * n
			for k := o; k < o+n; k++ {
				p := (y>>16)*stride + (x>>16)*3
				a, b := rgb[p:p+6:p+6], rgb[p+stride:p+stride+6:p+stride+6]
				fx, fy := uint32(x>>8)&255, uint32(y>>8)&255
				w11 := fx * fy
				w10 := fy<<8 - w11
				w01 := fx<<8 - w11
				w00 := 65536 - fx<<8 - fy<<8 + w11
				red[k] = c.low + c.gain*float32(w00*uint32(a[0])+w01*uint32(a[3])+w10*uint32(b[0])+w11*uint32(b[3]))
				green[k] = c.low + c.gain*float32(w00*uint32(a[1])+w01*uint32(a[4])+w10*uint32(b[1])+w11*uint32(b[4]))
				blue[k] = c.low + c.gain*float32(w00*uint32(a[2])+w01*uint32(a[5])+w10*uint32(b[2])+w11*uint32(b[5]))
				x += dx
				y += dy
			}
		}
		return
	}
	// Offsets of the samples within an output pixel; the half rounds to the
	// nearest picture pixel.
	var ox, oy [maxTaps * maxTaps]int
	m := 0
	for i := range c.taps {
		for j := range c.taps {
			u, v := (float64(j)+0.5)*t, (float64(i)+0.5)*t
			ox[m] = int((u*c.ux + v*c.vx + 0.5) * fixed)
			oy[m] = int((u*c.uy + v*c.vy + 0.5) * fixed)
			m++
		}
	}
	for row := range n {
		x := int((c.x0 + float64(row)*c.vx) * fixed)
		y := int((c.y0 + float64(row)*c.vy) * fixed)
		o := row * n
		for k := o; k < o+n; k++ {
			var r, g, b uint32
			for i, o := range ox[:m] {
				p := ((y+oy[i])>>16)*stride + ((x+o)>>16)*3
				a := rgb[p : p+3 : p+3]
				r += uint32(a[0])
				g += uint32(a[1])
				b += uint32(a[2])
			}
			red[k], green[k], blue[k] = c.low+c.gain*float32(r), c.low+c.gain*float32(g), c.low+c.gain*float32(b)
			x += dx
			y += dy
		}
	}
}

// border samples a region that reaches over the picture's edge.
func (c *cutter) border() {
	n := c.size
	t := 1 / float64(c.taps)
	gain := c.gain
	if c.taps == 1 {
		gain *= fixed
	}
	lastX, lastY := c.width-1, c.height-1
	pixel := func(x, y int) (r, g, b float64) {
		if c.black && (x < 0 || y < 0 || x > lastX || y > lastY) {
			return 0, 0, 0
		}
		x, y = min(max(x, 0), lastX), min(max(y, 0), lastY)
		p := c.rgb[3*(y*c.width+x):]
		return float64(p[0]), float64(p[1]), float64(p[2])
	}
	for row := range n {
		for col := range n {
			var sum [3]float64
			for i := range c.taps {
				for j := range c.taps {
					u, v := float64(col)+(float64(j)+0.5)*t, float64(row)+(float64(i)+0.5)*t
					x, y := c.x0+u*c.ux+v*c.vx, c.y0+u*c.uy+v*c.vy
					ix, iy := math.Floor(x), math.Floor(y)
					fx, fy := x-ix, y-iy
					for _, q := range [...]struct {
						x, y int
						w    float64
					}{
						{int(ix), int(iy), (1 - fx) * (1 - fy)}, {int(ix) + 1, int(iy), fx * (1 - fy)},
						{int(ix), int(iy) + 1, (1 - fx) * fy}, {int(ix) + 1, int(iy) + 1, fx * fy},
					} {
						r, g, b := pixel(q.x, q.y)
						sum[0] += q.w * r
						sum[1] += q.w * g
						sum[2] += q.w * b
					}
				}
			}
			for ch := range sum {
				c.dst[ch*n*n+row*n+col] = c.low + gain*float32(sum[ch])
			}
		}
	}
}
