package sticker

import "math"

// pose is where a patch lies in a frame: a place of the patch at (u, v) pixels
// from its middle is seen at x + xx u + xy v, y + yx u + yy v.
type pose struct{ x, y, xx, xy, yx, yy float64 }

func (q pose) at(u, v float64) (x, y float64) {
	return q.x + q.xx*u + q.xy*v, q.y + q.yx*u + q.yy*v
}

// plausible tells whether a patch can have turned, grown and sheared like this.
func (q pose) plausible() bool {
	det := q.xx*q.yy - q.xy*q.yx
	if !(det > 0.3 && det < 3.2) {
		return false
	}
	// The ratio of the singular values.
	s := q.xx*q.xx + q.xy*q.xy + q.yx*q.yx + q.yy*q.yy
	d := math.Sqrt(max(0, s*s-4*det*det))
	return (s+d)/(2*det) < 2.6
}

// patch is a square of grey about a point, freed of brightness and contrast:
// weighted mean 0, weighted mean square 1.
type patch struct {
	half   int
	grey   []float64 // (2 half + 1)² values, row by row
	weight []float64 // falls from the middle outward; sums to 1
	du, dv []float64 // derivatives of grey
}

// maxHalf bounds a patch's half side in pixels.
const maxHalf = 24

// newPatch makes a patch of grey values; nil where they are all alike.
func newPatch(half int, grey, weight []float64) *patch {
	if _, sd := normalise(grey, weight); sd < 0.5 {
		return nil
	}
	return slopes(half, grey, weight)
}

// slopes makes a patch of values that are normalised already, or nearly.
func slopes(half int, grey, weight []float64) *patch {
	normalise(grey, weight)
	t := &patch{half: half, grey: grey, weight: weight}
	side := 2*half + 1
	t.du, t.dv = make([]float64, len(grey)), make([]float64, len(grey))
	for v := range side {
		for u := range side {
			k := v*side + u
			a, b := max(u-1, 0), min(u+1, side-1)
			t.du[k] = (grey[v*side+b] - grey[v*side+a]) / float64(b-a)
			a, b = max(v-1, 0), min(v+1, side-1)
			t.dv[k] = (grey[b*side+u] - grey[a*side+u]) / float64(b-a)
		}
	}
	return t
}

// falling returns the weights of a patch: a bell that has fallen to a tenth at
// the middle of a side.
func falling(half int) []float64 {
	side := 2*half + 1
	w := make([]float64, side*side)
	sum := 0.0
	for v := -half; v <= half; v++ {
		for u := -half; u <= half; u++ {
			x := math.Exp(-2.3 * float64(u*u+v*v) / float64(half*half))
			w[(v+half)*side+u+half] = x
			sum += x
		}
	}
	for k := range w {
		w[k] /= sum
	}
	return w
}

// normalise brings values to weighted mean 0 and mean square 1 and returns what
// they were.
func normalise(grey, weight []float64) (mean, sd float64) {
	for k, w := range weight {
		mean += w * grey[k]
	}
	for k, w := range weight {
		grey[k] -= mean
		sd += w * grey[k] * grey[k]
	}
	sd = math.Sqrt(sd)
	if sd > 0 {
		for k := range grey {
			grey[k] /= sd
		}
	}
	return mean, sd
}

// sample reads the grey of a patch lying at q into dst.
func sample(p picture, q pose, half int, dst []float64) {
	k := 0
	for v := -half; v <= half; v++ {
		for u := -half; u <= half; u++ {
			x, y := q.at(float64(u), float64(v))
			dst[k] = p.cubic(x, y)
			k++
		}
	}
}

// match is a patch found in a frame.
type match struct {
	pose
	explained float64 // squared correlation of patch and picture, 0 where negative
	kept      float64 // share of the weight that the robust fit kept
	sdX, sdY  float64
	contrast  float64 // standard deviation of the grey under the patch
}

// register moves q, which is near already, to where the picture is most like the
// patch: inverse-compositional Gauss-Newton on an affine warp with Tukey weights
// (Baker & Matthews 2004, Int J Comput Vis 56:221; from memory).
func (f *fitter) register(p picture, t *patch, q pose) (match, bool) {
	n := len(t.grey)
	now := make([]float64, 2*n)
	now, res := now[:n], now[n:]
	start := q
	reach := float64(t.half) / 2
	var last normal
	var parts sectors
	m := match{pose: q}
	scale := 0.0
	converged := false
	var jac [maxParameters]float64
	for pass := 0; pass < 16; pass++ {
		if !p.inside(q.x, q.y) {
			return m, false
		}
		sample(p, q, t.half, now)
		_, m.contrast = normalise(now, t.weight)
		if !(m.contrast > 0.5) {
			return m, false
		}
		f.sort = f.sort[:0]
		for k := range now {
			res[k] = now[k] - t.grey[k]
		}
		if pass > 0 {
			scale = robustScale(res, t.weight)
			gain, offset := relight(now, t, scale)
			for k := range now {
				res[k] = gain*now[k] + offset - t.grey[k]
			}
			scale = robustScale(res, t.weight)
		}
		eq := normal{n: 6}
		parts = sectors{}
		k := 0
		for v := -t.half; v <= t.half; v++ {
			for u := -t.half; u <= t.half; u++ {
				w := t.weight[k]
				if pass > 0 {
					w *= tukey(res[k] / scale)
				}
				if w > 0 {
					gu, gv := t.du[k], t.dv[k]
					a, b := float64(u)/reach, float64(v)/reach
					jac[0], jac[1], jac[2], jac[3], jac[4], jac[5] = gu, gv, gu*a, gu*b, gv*a, gv*b
					eq.add(jac[:6], res[k], w)
					if pass >= 3 {
						part := parts.at(float64(u), float64(v))
						part.n = 6
						part.add(jac[:6], res[k], w)
					}
				}
				k++
			}
		}
		last = eq
		if pass < 3 {
			// The place first, the shape when the place is near.
			for k := 2; k < 6; k++ {
				eq.a[k][k] *= 1 + 3/float64(1+pass)
			}
		}
		if !eq.factor(1e-3) {
			return m, false
		}
		d := eq.solve(eq.b)
		move := math.Hypot(d[0], d[1])
		if move > 3 {
			for k := range d {
				d[k] *= 3 / move
			}
		}
		// q becomes q ∘ (1 + d)⁻¹.
		a, b, c, e := 1+d[2]/reach, d[3]/reach, d[4]/reach, 1+d[5]/reach
		det := a*e - b*c
		if !(det > 0.2) {
			return m, false
		}
		ia, ib, ic, ie := e/det, -b/det, -c/det, a/det
		iu, iv := -(ia*d[0] + ib*d[1]), -(ic*d[0] + ie*d[1])
		x, y := q.at(iu, iv)
		q = pose{x: x, y: y, xx: q.xx*ia + q.xy*ic, xy: q.xx*ib + q.xy*ie, yx: q.yx*ia + q.yy*ic, yy: q.yx*ib + q.yy*ie}
		if !q.plausible() || math.Hypot(q.x-start.x, q.y-start.y) > float64(t.half)+2 {
			return m, false
		}
		if pass >= 3 && move < 0.004 {
			converged = true
			break
		}
		if pass == 15 {
			converged = move < 0.05
		}
	}
	m.pose = q
	sample(p, q, t.half, now)
	_, m.contrast = normalise(now, t.weight)
	sum, kept, rest := 0.0, 0.0, 0.0
	gain, offset := relight(now, t, max(scale, 0.02))
	for k := range now {
		sum += t.weight[k] * now[k] * t.grey[k]
		r := gain*now[k] + offset - t.grey[k]
		w := t.weight[k] * tukey(r/max(scale, 0.02))
		kept += w
		rest += w * r * r
	}
	m.kept = kept
	if sum > 0 {
		m.explained = min(1, sum*sum)
	}
	// Weights sum to 1; a pixel in the middle counts as one observation.
	top := 0.0
	for _, w := range t.weight {
		top = max(top, w)
	}
	jackU, jackV := parts.jackknife(last, func(*normal) {})
	if !last.factor(1e-6) || kept <= 0 {
		return m, false
	}
	s := rest / kept * top
	// In the patch's own axes; turned into the picture's by the warp.
	su, sv := errorOf(s*last.variance(0), jackU), errorOf(s*last.variance(1), jackV)
	m.sdX = math.Hypot(q.xx*su, q.xy*sv)
	m.sdY = math.Hypot(q.yx*su, q.yy*sv)
	return m, converged && !math.IsNaN(m.sdX+m.sdY)
}

// relight finds the gain and offset that bring the picture's grey to the
// patch's where the two agree, so that what hides a part does not darken all.
func relight(now []float64, t *patch, scale float64) (gain, offset float64) {
	gain = 1
	for range 2 {
		var w, x, y, xx, xy float64
		for k, v := range now {
			c := t.weight[k] * tukey((gain*v+offset-t.grey[k])/scale)
			w += c
			x += c * v
			y += c * t.grey[k]
			xx += c * v * v
			xy += c * v * t.grey[k]
		}
		d := w*xx - x*x
		if !(d > 1e-6*w*w) {
			return 1, 0
		}
		g := (w*xy - x*y) / d
		if !(g > 0.3 && g < 3) {
			return 1, 0
		}
		gain, offset = g, (y-g*x)/w
	}
	return gain, offset
}

// robustScale is the standard deviation of residuals in units of the patch's
// contrast, at least 0.03, from the mean size of those that are not large.
func robustScale(res, weight []float64) float64 {
	limit := math.Inf(1)
	s := 0.0
	for range 3 {
		sw, sr := 0.0, 0.0
		for k, r := range res {
			if r = math.Abs(r); r < limit {
				sw += weight[k]
				sr += weight[k] * r
			}
		}
		if sw == 0 {
			break
		}
		s = 1.2533 * sr / sw
		limit = 2.5 * s
	}
	return max(s, 0.03)
}
