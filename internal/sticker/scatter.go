package sticker

import "math"

// The error of a fitted place has two sources that are known: the noise which the
// fit leaves, as least squares has it, and how the parts of the picture disagree.
// The second is found by leaving out one sector about the middle after the other
// (the jackknife: Efron & Stein 1981, Ann Stat 9:586; from memory): what an
// encoder left out, the edge of a cloth or an arm that covers a part moves whole
// sectors together, which residuals taken pixel by pixel do not show. The larger
// one stands, widened by jackKnown for what eight parts cannot tell, and not less
// than modelSDPX, by which the model itself errs from one place between pixels to
// the next (own measurement, docs/stickers.md).
const (
	sectorCount = 8
	modelSDPX   = 0.012
	jackKnown   = 1.6
)

// sectors are the normal equations of the eighths of a turn about a place.
type sectors [sectorCount]normal

func (s *sectors) at(dx, dy float64) *normal {
	k := 0
	if dy < 0 {
		k, dx, dy = 4, -dx, -dy
	}
	if dx < 0 {
		k, dx, dy = k+2, dy, -dx
	}
	if dy > dx {
		k++
	}
	return &s[k]
}

// jackknife returns the variance of the first two parameters from the shifts that
// leaving out each sector makes; prior adds what is expected besides.
func (s *sectors) jackknife(whole normal, prior func(*normal)) (first, second float64) {
	var shift [sectorCount][2]float64
	var mean [2]float64
	n := 0.0
	for k := range s {
		e := whole
		part := &s[k]
		for r := range e.n {
			for c := 0; c <= r; c++ {
				e.a[r][c] -= part.a[r][c]
			}
			e.b[r] -= part.b[r]
		}
		prior(&e)
		if !e.factor(1e-6) {
			return math.NaN(), math.NaN()
		}
		d := e.solve(e.b)
		shift[k] = [2]float64{d[0], d[1]}
		mean[0] += d[0]
		mean[1] += d[1]
		n++
	}
	for k := range shift {
		x, y := shift[k][0]-mean[0]/n, shift[k][1]-mean[1]/n
		first += x * x
		second += y * y
	}
	return first * (n - 1) / n, second * (n - 1) / n
}

// errorOf is a standard deviation from the variance that least squares gives and
// that of the jackknife.
func errorOf(noise, jack float64) float64 {
	return math.Hypot(jackKnown*math.Sqrt(max(0, noise, jack)), modelSDPX)
}
