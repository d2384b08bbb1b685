package sticker

import (
	"fmt"
	"math"
	"slices"
)

// maxDiameter is the largest diameter that is followed, pixels.
const maxDiameter = 160

const (
	minRadius  = 2.0
	maxRadius  = 30.0 // that is looked for where no diameter was given
	directions = 32   // in which an edge about a centre is looked for
)

// seen is what a click landed on.
type seen struct {
	shape    Shape
	rings    rings
	patch    *patch
	pose     pose
	contrast float64 // standard deviation of a patch's grey
}

// look finds what there is at a click: a round sticker about it, or a patch that
// differs from its surroundings in both directions.
func (f *fitter) look(p picture, c Click, pt Point) (seen, error) {
	if !p.inside(c.XPX, c.YPX) {
		return seen{}, fmt.Errorf("%w: %s in frame %d at (%.1f, %.1f) is outside the picture of %d × %d px; click on it again",
			ErrClick, pt.label(), c.Frame, c.XPX, c.YPX, p.whole.Dx(), p.whole.Dy())
	}
	if pt.Shape != Textured {
		if m, ok := f.findRound(p, c, pt.DiameterPX); ok {
			return seen{shape: Round, rings: m, pose: pose{x: m.x, y: m.y, xx: 1, yy: 1}}, nil
		}
		if pt.Shape == Round {
			return seen{}, fmt.Errorf("%w: no round sticker is seen at (%.0f, %.0f) in frame %d for %s; click on the middle of one, say its diameter, or follow it as textured",
				ErrNothing, c.XPX, c.YPX, c.Frame, pt.label())
		}
	}
	return f.findPatch(p, c, pt)
}

// findRound looks for a round sticker about a click.
func (f *fitter) findRound(p picture, c Click, diameter float64) (rings, bool) {
	low, high, astray := minRadius, maxRadius, 4.0
	if diameter > 0 {
		low, high, astray = max(1.5, 0.3*diameter), 0.8*diameter, max(2.5, 0.3*diameter)
	}
	var radii []float64
	for r := low; r <= high; r *= 1.1 {
		radii = append(radii, r)
	}
	// The edges about each centre near the click.
	type circle struct{ x, y, r, score, step float64 }
	var best []circle
	for _, r := range radii {
		reach := astray
		if diameter == 0 {
			reach = min(max(astray, 0.5*r), 10)
		}
		stride := max(0.5, r/8)
		top := circle{}
		for dy := -reach; dy <= reach; dy += stride {
			for dx := -reach; dx <= reach; dx += stride {
				if s, step := roundness(p, c.XPX+dx, c.YPX+dy, r); s > top.score {
					top = circle{c.XPX + dx, c.YPX + dy, r, s, step}
				}
			}
		}
		if top.score > 0 {
			best = append(best, top)
		}
	}
	slices.SortFunc(best, func(a, b circle) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	// Of the likeliest, fit each; the outermost that explains what it covers wins.
	var won rings
	found := false
	for k, b := range best {
		if k >= 8 || b.score < 0.35*best[0].score {
			break
		}
		m := rings{x: b.x, y: b.y, xx: 1 / b.r, yy: 1 / b.r, blur: 0.8, n: 1}
		m.share[0], m.step[0] = 1, b.step
		f.startRings(p, &m)
		got, ok := f.fitRings(p, m, everything)
		if !ok || !acceptRound(&got, c, diameter) {
			continue
		}
		better := got.radius() > 1.15*won.radius() && got.explained > won.explained-0.1 || got.explained > won.explained+0.1
		if !found || better {
			won, found = got, true
		}
	}
	if found {
		if in, ok := f.withoutRim(p, won); ok && acceptRound(&in, c, diameter) {
			won = in
		}
	}
	return won, found
}

// withoutRim is a disc with a printed rim as the disc alone: how the rim stands out
// changes with what the sticker passes, the edge within it does not.
func (f *fitter) withoutRim(p picture, m rings) (rings, bool) {
	r := m.share[1] * m.radius()
	if m.n != 2 || r < 4 || math.Abs(m.step[1]) < 0.75*math.Abs(m.step[0]) {
		return m, false
	}
	in := m
	in.n, in.share, in.step = 1, [maxRings]float64{1}, [maxRings]float64{m.step[1]}
	in.level += m.step[0]
	in.gx, in.gy = 0, 0
	in.rim = 1/m.share[1] - 1
	for _, k := range [...]*float64{&in.xx, &in.xy, &in.yy} {
		*k /= m.share[1]
	}
	return f.fitRings(p, in, everything)
}

// acceptRound tells whether a fit at a click is a sticker.
func acceptRound(m *rings, c Click, diameter float64) bool {
	r := m.radius()
	if diameter > 0 && (r < 0.3*diameter || r > 0.85*diameter) {
		return false
	}
	need := 0.92
	if diameter > 0 {
		need = 0.8 // a person said that there is something of that size
	} else if m.about < 0.92 && (m.edgeSeen < 0.9 || m.contrast() < 6*m.residual || m.contrast() < 40 || m.flattening() > 1.5) {
		return false // among edges of other things only what is plainly a disc is one
	} else if m.blur > 0.35*r+0.3 || m.flattening() > 2 || math.Hypot(m.gx, m.gy)*r > 0.4*m.contrast() {
		return false // a soft or slanting blob of some pattern
	}
	return m.explained > need && m.edgeSeen > 0.7 && m.flattening() < 2.6 && m.contrast() > 8 &&
		m.contrast() > 2*m.residual && m.blur < 0.6*r+0.6 && max(m.sdX, m.sdY) < 0.5 &&
		math.Hypot(m.x-c.XPX, m.y-c.YPX) < 1.1*r+1.5
}

// roundness scores an edge of radius r about a place: the mean step outward less
// how unevenly it goes round.
func roundness(p picture, x, y, r float64) (score, step float64) {
	sum, sq := 0.0, 0.0
	h := max(0.8, 0.12*r)
	for k := range directions {
		c, s := circle[k][0], circle[k][1]
		d := p.linear(x+(r-h)*c, y+(r-h)*s) - p.linear(x+(r+h)*c, y+(r+h)*s)
		sum += d
		sq += d * d
	}
	mean := sum / directions
	sd := math.Sqrt(max(0, sq/directions-mean*mean))
	return math.Abs(mean) - 0.7*sd, mean
}

var circle = func() (c [directions][2]float64) {
	for k := range c {
		s, co := math.Sincos(2 * math.Pi * float64(k) / directions)
		c[k] = [2]float64{co, s}
	}
	return c
}()

// startRings reads the profile along the radius about a first guess and sets the
// edges that it shows: a disc has one, a bullseye more.
func (f *fitter) startRings(p picture, m *rings) {
	r := m.radius()
	const steps = 28 // to 1.4 radii
	var profile [steps]float64
	for i := range profile {
		rho := (float64(i) + 0.5) / 20 * r
		for k := range circle {
			profile[i] += p.linear(m.x+rho*circle[k][0], m.y+rho*circle[k][1]) / directions
		}
	}
	m.level = (profile[steps-1] + profile[steps-2] + profile[steps-3] + profile[steps-4]) / 4
	m.step[0] = profile[16] - m.level
	if r < 5 {
		m.step[0] = profile[10] - m.level
	}
	outer := math.Abs(m.step[0])
	// Inner edges: where the profile steps by a third of the outer step or more.
	last := 16
	for i := 15; i >= 4 && m.n < maxRings; i-- {
		d := profile[i-2] - profile[min(i+2, 17)]
		if math.Abs(d) < max(0.35*outer, 6) {
			continue
		}
		// The steepest place of this edge.
		at, steep := i, math.Abs(d)
		for j := i - 1; j >= 3 && j >= i-3; j-- {
			if e := math.Abs(profile[j-2] - profile[j+2]); e > steep {
				at, steep = j, e
			}
		}
		share := (float64(at) + 0.5) / 20
		if share*r < leastRingPX || (1-share)*r < leastRingPX || last-at < 3 {
			i = at - 2
			continue
		}
		m.share[m.n], m.step[m.n] = share, d
		m.n++
		last = at
		i = at - 3
	}
}

// findPatch takes the patch about a click, as large as it must be to be told
// from its neighbours in both directions.
func (f *fitter) findPatch(p picture, c Click, pt Point) (seen, error) {
	sizes := []int{8, 11, 15, 20, maxHalf}
	if pt.DiameterPX > 0 {
		sizes = []int{min(maxHalf, max(5, int(math.Round(0.75*pt.DiameterPX))))}
	}
	var why string
	noise := p.noise(around(c.XPX, c.YPX, float64(sizes[len(sizes)-1])+4))
	for _, half := range sizes {
		weight := falling(half)
		grey := make([]float64, len(weight))
		at := pose{x: c.XPX, y: c.YPX, xx: 1, yy: 1}
		sample(p, at, half, grey)
		spread, weakest, strongest := texture(grey, weight, half)
		switch {
		case spread < max(2.5, 0.7*noise):
			why = fmt.Sprintf("the picture is flat (grey spread %.1f of 255, noise %.1f)", spread, noise)
		case weakest < max(0.15, 0.02*noise*noise) || weakest < 0.01*strongest:
			why = "there is an edge but no corner: it could slide along"
		default:
			_, sd := normalise(grey, weight)
			return seen{shape: Textured, patch: slopes(half, grey, weight), pose: at, contrast: sd}, nil
		}
	}
	return seen{}, fmt.Errorf("%w: around (%.0f, %.0f) in frame %d %s; click %s on a sticker or on a mark with a corner",
		ErrNothing, c.XPX, c.YPX, c.Frame, why, pt.label())
}

// texture returns the spread of a patch's smoothed grey and the eigenvalues of
// its structure tensor, squared grey a squared pixel.
func texture(grey, weight []float64, half int) (spread, weakest, strongest float64) {
	side := 2*half + 1
	soft := make([]float64, len(grey))
	for v := range side {
		for u := range side {
			sum, n := 0.0, 0.0
			for j := max(0, v-2); j <= min(side-1, v+2); j++ {
				for i := max(0, u-2); i <= min(side-1, u+2); i++ {
					w := 1 / float64(1+(i-u)*(i-u)+(j-v)*(j-v))
					sum += w * grey[j*side+i]
					n += w
				}
			}
			soft[v*side+u] = sum / n
		}
	}
	mean := 0.0
	for k, w := range weight {
		mean += w * soft[k]
	}
	var xx, xy, yy float64
	for v := 1; v+1 < side; v++ {
		for u := 1; u+1 < side; u++ {
			k := v*side + u
			spread += weight[k] * (soft[k] - mean) * (soft[k] - mean)
			gx, gy := (soft[k+1]-soft[k-1])/2, (soft[k+side]-soft[k-side])/2
			xx += weight[k] * gx * gx
			xy += weight[k] * gx * gy
			yy += weight[k] * gy * gy
		}
	}
	d := math.Hypot((xx-yy)/2, xy)
	return math.Sqrt(spread), (xx+yy)/2 - d, (xx+yy)/2 + d
}
