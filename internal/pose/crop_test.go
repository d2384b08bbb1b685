package pose

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// pictureOf makes a frame from a function of the pixel's centre.
func pictureOf(width, height int, at func(x, y float64) [3]float64) Frame {
	f := Frame{Width: width, Height: height, RGB: make([]byte, 3*width*height)}
	for y := range height {
		for x := range width {
			for c, v := range at(float64(x)+0.5, float64(y)+0.5) {
				f.RGB[3*(y*width+x)+c] = byte(math.Round(min(max(v, 0), 255)))
			}
		}
	}
	return f
}

// TestCutPlanes cuts turned squares out of a picture whose colours grow evenly
// with x and y: every sample must then be the colour at its own place, whatever
// the size and angle of the square.
func TestCutPlanes(t *testing.T) {
	const w, h = 400, 300
	f := pictureOf(w, h, func(x, y float64) [3]float64 { return [3]float64{x / 2, y / 2, (x + y) / 4} })
	rapid.Check(t, func(t *rapid.T) {
		r := Region{
			X: rapid.Float64Range(0, w).Draw(t, "x"), Y: rapid.Float64Range(0, h).Draw(t, "y"),
			SidePX:   rapid.Float64Range(16, 500).Draw(t, "side"),
			AngleRad: rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle"),
		}
		const n = 64
		dst := make([]float32, 3*n*n)
		black := rapid.Bool().Draw(t, "black")
		cut(dst, n, f, r, scaling{0, 255}, black)
		for row := range n {
			for col := range n {
				x, y := r.place((float64(col)+0.5)/n, (float64(row)+0.5)/n)
				got := [3]float64{float64(dst[row*n+col]), float64(dst[n*n+row*n+col]), float64(dst[2*n*n+row*n+col])}
				margin := r.SidePX/n/2 + 1.5
				switch {
				case x > margin && y > margin && x < w-margin-2 && y < h-margin-1:
					// The last two columns and the last row may count as border.
					// Bytes round by half, block positions by half a pixel.
					want := [3]float64{x / 2, y / 2, (x + y) / 4}
					for c := range want {
						if math.Abs(got[c]-want[c]) > 0.8 {
							t.Fatalf("at (%.1f, %.1f) channel %d is %.2f, want %.2f", x, y, c, got[c], want[c])
						}
					}
				case x < -margin || y < -margin || x > w+margin || y > h+margin:
					want := [3]float64{min(max(x, 0), w) / 2, min(max(y, 0), h) / 2, (min(max(x, 0), w) + min(max(y, 0), h)) / 4}
					if black {
						want = [3]float64{}
					}
					for c := range want {
						if math.Abs(got[c]-want[c]) > margin/2+2 { // the border repeated is the mean of a block
							t.Fatalf("outside at (%.1f, %.1f) channel %d is %.2f, want about %.2f", x, y, c, got[c], want[c])
						}
					}
				}
			}
		}
	})
}

// TestCutSmallest cuts from the smallest picture there can be, at every scale.
func TestCutSmallest(t *testing.T) {
	f := pictureOf(8, 8, func(x, y float64) [3]float64 { return [3]float64{100, 100, 100} })
	dst := make([]float32, 3*16*16)
	for _, side := range []float64{4, 16, 40, 100, 400} {
		for _, black := range []bool{false, true} {
			cut(dst, 16, f, Region{X: 4, Y: 4, SidePX: side, AngleRad: 0.3}, scaling{0, 255}, black)
			for i, v := range dst {
				if !(v >= 0 && v <= 100.01) || !black && math.Abs(float64(v)-100) > 0.01 {
					t.Fatalf("side %.0f, black %v: sample %d is %v", side, black, i, v)
				}
			}
		}
	}
}

// TestCutAverages checks that shrinking skips no pixel: a fine chequered picture
// becomes even grey.
func TestCutAverages(t *testing.T) {
	f := pictureOf(1024, 1024, func(x, y float64) [3]float64 {
		if (int(x)+int(y))%2 == 0 {
			return [3]float64{255, 255, 255}
		}
		return [3]float64{}
	})
	for _, side := range []float64{128, 256, 384, 512} {
		const n = 64
		dst := make([]float32, 3*n*n)
		cut(dst, n, f, Region{X: 500, Y: 500, SidePX: side}, unitScaling, false)
		for i, v := range dst {
			// A block of an odd number of pixels has one more of one colour.
			if b := side / n; math.Abs(float64(v)-0.5) > 0.51/(b*b)+1e-6 {
				t.Fatalf("side %.0f: sample %d is %.3f, want about one half", side, i, v)
			}
		}
	}
}

func TestRegion(t *testing.T) {
	up := regionFrom(100, 200, 100, 160)
	if up.AngleRad != 0 || math.Abs(up.SidePX-100) > 1e-9 {
		t.Errorf("upright: %+v, want side 100 and no angle", up)
	}
	if r := regionFrom(100, 200, 140, 200); math.Abs(r.AngleRad-math.Pi/2) > 1e-12 {
		t.Errorf("lying to the right: angle %.3f, want a quarter turn clockwise", r.AngleRad)
	}
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(-1000, 1000)
		x, y := g.Draw(t, "x"), g.Draw(t, "y")
		rx, ry := g.Draw(t, "rx"), g.Draw(t, "ry")
		if math.Hypot(rx-x, ry-y) < 1 {
			return
		}
		r := regionFrom(x, y, rx, ry)
		// The radius point lies straight up, at 1/(2·1.25) of the side.
		px, py := r.place(0.5, 0.5-1/(2*regionScale))
		if math.Hypot(px-rx, py-ry) > 1e-6 {
			t.Fatalf("the radius point is at (%f, %f), want (%f, %f)", px, py, rx, ry)
		}
		if !r.Contains(rx, ry) || !r.Contains(x, y) {
			t.Fatal("the region does not hold its own points")
		}
		o := regionFrom(g.Draw(t, "ox"), g.Draw(t, "oy"), rx, ry)
		if a, b := r.Overlap(o), o.Overlap(r); math.Abs(a-b) > 1e-12 || a < 0 || a > 1 {
			t.Fatalf("overlap %v and %v", a, b)
		}
		if math.Abs(r.Overlap(r)-1) > 1e-12 {
			t.Fatal("a region does not overlap itself")
		}
	})
}
