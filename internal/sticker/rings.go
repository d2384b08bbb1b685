package sticker

import "math"

// maxRings is how many edges about one centre are modelled: a disc has one, a
// bullseye two or three.
const maxRings = 3

// leastRingPX is the width of the narrowest ring that is told from its edges, pixels.
// Two edges on one another, that cancel, would pass for a ring of any depth.
const leastRingPX = 1.2

// rings is the picture of a round sticker: an ellipse, edges at shares of it,
// blurred, on a background that may slope.
//
//	grey = level + slope·(x − c) + Σ step_k Φ((share_k − ρ)/(|∇ρ| blur))
//	ρ = |shape (x − c)|, Φ the normal distribution
//
// so that shape is the inverse of the ellipse's half axes.
type rings struct {
	x, y          float64
	xx, xy, yy    float64 // shape
	blur          float64 // pixels
	level, gx, gy float64
	n             int
	share, step   [maxRings]float64 // share 1 is the outermost
	rim           float64           // how far beyond share 1 a printed rim goes, as a share; 0 for none
	sdX, sdY      float64
	explained     float64 // share of the grey variation in it and at its edge which the model explains, 0 to 1
	about         float64 // the same with its surroundings
	edgeSeen      float64 // share of the edges' weight that the robust fit kept
	residual      float64 // standard deviation of the residuals kept
	converged     bool
}

// radius is the geometric mean of the ellipse's half axes in pixels.
func (m *rings) radius() float64 {
	d := m.xx*m.yy - m.xy*m.xy
	if !(d > 0) {
		return math.NaN()
	}
	return 1 / math.Sqrt(math.Sqrt(d*d)) // det is 1/(ab)
}

// flattening is the ratio of the longer half axis to the shorter.
func (m *rings) flattening() float64 {
	mean, d := (m.xx+m.yy)/2, math.Hypot((m.xx-m.yy)/2, m.xy)
	if !(mean > d) {
		return math.Inf(1)
	}
	return (mean + d) / (mean - d)
}

// contrast is the largest difference that an edge of the model makes.
func (m *rings) contrast() float64 {
	c := 0.0
	for k := range m.n {
		c = max(c, math.Abs(m.step[k]))
	}
	return c
}

// mainEdge is the edge that makes the largest difference.
func (m *rings) mainEdge() int {
	at := 0
	for k := range m.n {
		if math.Abs(m.step[k]) > math.Abs(m.step[at]) {
			at = k
		}
	}
	return at
}

// observation is a pixel near a sticker.
type observation struct {
	x, y, grey, weight, edge, residual float64
	own                                bool // in the sticker or at its edge
}

// ownPX is how far beyond its edge the picture is a round sticker's own, pixels.
const ownPX = 2.0

// Parameters of the fit, in the order of the normal equations.
const (
	pX = iota
	pY
	pXX
	pXY
	pYY
	pBlur
	pLevel
	pGX
	pGY
	pStep
)

// steadiness are the standard deviations that are expected of a sticker from
// one frame to the next, relative to what it was. They matter only where part of
// it is hidden.
const (
	sizeSteadiness = 0.08
	blurSteadiness = 0.4
	stepSteadiness = 0.3
	partSteadiness = 0.03 // of the size while partly hidden
)

// window is how far about a round sticker pixels are used: radii and pixels.
const windowRadii, windowPX = 1.35, 3.0

// rimEdgePX is how much of a printed rim's outer part is left out, pixels: there
// it blends into what the sticker passes.
const rimEdgePX = 0.75

// freedom is what a fit may change.
type freedom uint8

const (
	everything freedom = iota // at a click: nothing is known, the inner edges are free as well
	steady                    // while followed: shape, blur and steps about as they were
	placeOnly                 // partly hidden: blur and shape as they were, but for its size
)

// narrowest is the width of the narrowest ring, or the radius of a disc, pixels.
func (m *rings) narrowest() float64 {
	w, r := m.radius(), m.radius()
	for k := range m.n {
		inner := 0.0
		if k+1 < m.n {
			inner = m.share[k+1]
		}
		w = min(w, r*(m.share[k]-inner))
	}
	return w
}

// minor is the shorter half axis of the ellipse in pixels.
func (m *rings) minor() float64 { return m.radius() / math.Sqrt(m.flattening()) }

// fitter fits models; it holds scratch.
type fitter struct {
	obs  []observation
	sort []float64
	grid []float64
}

// fitRings moves m, which is near the sticker already, to where it explains the
// picture best, and fills in its errors. It is a Gauss-Newton fit with Tukey
// weights, so that an arm before part of the sticker does not draw it away.
func (f *fitter) fitRings(p picture, m rings, free freedom) (rings, bool) {
	r0 := m.radius()
	if !(r0 > 0) || !p.inside(m.x, m.y) {
		return m, false
	}
	start := m
	half := windowRadii*r0*math.Sqrt(m.flattening()) + windowPX
	if !(half < 4*maxDiameter) {
		return m, false
	}
	r := around(m.x, m.y, half).Intersect(p.rect)
	stride := 1 + int(r0)/16
	f.obs = f.obs[:0]
	outer := windowRadii + windowPX/r0
	if m.rim > 0 {
		outer = 1 + max(m.rim-rimEdgePX/r0, 1/r0)
	}
	for y := r.Min.Y; y < r.Max.Y; y += stride {
		row := p.row(y, r.Min.X, r.Max.X)
		for k := 0; k < len(row); k += stride {
			o := observation{x: float64(r.Min.X+k) + 0.5, y: float64(y) + 0.5, grey: float64(row[k])}
			dx, dy := o.x-m.x, o.y-m.y
			rho := math.Hypot(m.xx*dx+m.xy*dy, m.xy*dx+m.yy*dy)
			if rho >= outer {
				continue
			}
			o.weight, o.own = 1, rho < 1+ownPX/r0
			if rho > 1+1/r0 && m.rim == 0 {
				u := (outer - rho) / (outer - 1 - 1/r0)
				o.weight = min(1, 0.15+u)
			}
			f.obs = append(f.obs, o)
		}
	}
	if len(f.obs) < 20 {
		return m, false
	}
	n := pStep + m.n
	if free == everything {
		n += m.n - 1
	}
	scale := 0.0
	for pass := 0; pass < 14; pass++ {
		f.predict(&m)
		weighted := pass > 0 || free == placeOnly
		if weighted {
			scale = f.scale(&m)
		}
		if free == placeOnly {
			// From wide to narrow, so that a start two pixels off still arrives.
			scale = max(min(scale, 0.06*start.contrast()), 0.25*start.contrast()*math.Pow(0.6, float64(pass)))
		}
		eq := f.equations(&m, free, n, scale, weighted, nil)
		f.expectations(&eq, &m, &start, free, scale)
		if !eq.factor(1e-6) {
			return m, false
		}
		d := eq.solve(eq.b)
		if free == placeOnly {
			grow := max(-0.05, min(0.05, d[pXX]))
			d[pXX], d[pXY], d[pYY] = -grow*m.xx, -grow*m.xy, -grow*m.yy
		}
		move := math.Hypot(d[pX], d[pY])
		cut := 1.0
		if limit := 0.35*r0 + 0.5; move > limit {
			cut = limit / move
		}
		shape := max(math.Abs(d[pXX]), math.Abs(d[pXY]), math.Abs(d[pYY])) * r0
		if shape*cut > 0.25 {
			cut = 0.25 / shape
		}
		m.x += cut * d[pX]
		m.y += cut * d[pY]
		m.xx += cut * d[pXX]
		m.xy += cut * d[pXY]
		m.yy += cut * d[pYY]
		m.blur *= math.Exp(max(-0.5, min(0.5, cut*d[pBlur])))
		m.blur = max(0.3, min(m.blur, 0.7*r0+1))
		m.level += d[pLevel]
		m.gx += d[pGX]
		m.gy += d[pGY]
		for k := range m.n {
			m.step[k] += d[pStep+k]
			if k > 0 && free == everything {
				share := m.share[k] + max(-0.08, min(0.08, cut*d[pStep+m.n+k-1]))
				m.share[k] = max(0.1, min(share, 0.95, m.share[k-1]-leastRingPX/r0))
			}
		}
		radius := m.radius()
		if !(radius > 0.4*r0) || radius > 2.5*r0 || math.Hypot(m.x-start.x, m.y-start.y) > 1.5*r0+2 || !p.inside(m.x, m.y) {
			return m, false
		}
		if (pass >= 3 && free != placeOnly || pass >= 7) && move < 0.003 && shape < 0.01 {
			m.converged = true
			break
		}
		if pass == 13 {
			m.converged = move < 0.05
		}
	}
	f.judge(&m)
	if m.converged {
		m.sdX, m.sdY = f.scatter(&m, &start, free, n)
	}
	return m, m.converged && !math.IsNaN(m.sdX+m.sdY)
}

// equations are the normal equations of a fit, without what is expected of a
// sticker; where parts is given, those of each sector about the middle too.
func (f *fitter) equations(m *rings, free freedom, n int, scale float64, weighted bool, parts *sectors) normal {
	eq := normal{n: n}
	var jac gradient
	for k := range f.obs {
		o := &f.obs[k]
		w := o.weight
		if weighted {
			w *= tukey(o.residual / scale)
		}
		if w == 0 {
			continue
		}
		m.derivatives(o.x, o.y, &jac)
		if free == placeOnly {
			jac[pXX] = -(jac[pXX]*m.xx + jac[pXY]*m.xy + jac[pYY]*m.yy)
			jac[pXY], jac[pYY] = 0, 0
		}
		eq.add(jac[:n], o.residual, w)
		if parts != nil {
			parts.at(o.x-m.x, o.y-m.y).add(jac[:n], o.residual, w)
		}
	}
	return eq
}

// expectations adds to the equations what is expected of a sticker.
func (f *fitter) expectations(eq *normal, m, start *rings, free freedom, scale float64) {
	s2, r0 := max(scale*scale, 1), start.radius()
	switch free {
	case everything:
		eq.expect(pBlur, 0, s2)
	case steady:
		size := s2 / (sizeSteadiness * sizeSteadiness) * (r0 * r0)
		eq.expect(pXX, start.xx-m.xx, size)
		eq.expect(pXY, start.xy-m.xy, size)
		eq.expect(pYY, start.yy-m.yy, size)
		eq.expect(pBlur, math.Log(start.blur/m.blur), s2/(blurSteadiness*blurSteadiness))
	case placeOnly:
		// The first of the shape's parameters stands for the size of all.
		eq.expect(pXX, math.Log(start.radius()/m.radius()), s2/(partSteadiness*partSteadiness))
		for _, k := range [...]int{pXY, pYY, pBlur, pGX, pGY} {
			eq.a[k] = [maxParameters]float64{}
			for r := k + 1; r < eq.n; r++ {
				eq.a[r][k] = 0
			}
			eq.a[k][k], eq.b[k] = 1, 0
		}
	}
	if free != everything {
		for k := range m.n {
			sd := stepSteadiness * (math.Abs(start.step[k]) + 1)
			eq.expect(pStep+k, start.step[k]-m.step[k], s2/(sd*sd))
		}
	}
}

// scatter is the standard deviation of a fit's place on each axis, from what the
// place would be without each of the sectors about it.
func (f *fitter) scatter(m, start *rings, free freedom, n int) (sdX, sdY float64) {
	f.predict(m)
	scale := f.scale(m)
	var parts sectors
	eq := f.equations(m, free, n, scale, true, &parts)
	vx, vy := parts.jackknife(eq, func(e *normal) { f.expectations(e, m, start, free, scale) })
	f.expectations(&eq, m, start, free, scale)
	if !eq.factor(1e-6) {
		return math.NaN(), math.NaN()
	}
	s := max(m.residual, 0.3)
	return errorOf(s*s*eq.variance(pX), vx), errorOf(s*s*eq.variance(pY), vy)
}

// predict sets the residual of every observation.
func (f *fitter) predict(m *rings) {
	for k := range f.obs {
		o := &f.obs[k]
		var edge float64
		o.residual, edge = m.grey(o.x, o.y)
		o.residual = o.grey - o.residual
		o.edge = edge
	}
}

// scale returns the standard deviation of the residuals, robustly, but not less
// than what a model of an edge can hold.
func (f *fitter) scale(m *rings) float64 {
	f.sort = f.sort[:0]
	for _, o := range f.obs {
		f.sort = append(f.sort, math.Abs(o.residual))
	}
	return max(1.4826*nth(f.sort, len(f.sort)/2), 0.02*m.contrast(), 0.7)
}

// nth is the value that would be at place k if v were sorted; v is rearranged.
func nth(v []float64, k int) float64 {
	for len(v) > 1 {
		p := v[len(v)/2]
		i, j := 0, len(v)-1
		for i <= j {
			for v[i] < p {
				i++
			}
			for v[j] > p {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			v = v[:j+1]
		case k >= i:
			v, k = v[i:], k-i
		default:
			return v[k]
		}
	}
	return v[0]
}

// judge fills in the quality at the end of a fit.
func (f *fitter) judge(m *rings) {
	f.predict(m)
	scale := f.scale(m)
	var sw, swr, edges, edgesKept, wsum, mean float64
	for _, o := range f.obs {
		w := o.weight * tukey(o.residual/scale)
		sw += w
		swr += w * o.residual * o.residual
		edges += o.weight * o.edge
		edgesKept += o.weight * o.edge * min(1, 1.3*tukey(o.residual/scale))
		wsum += o.weight
		mean += o.weight * o.grey
	}
	mean /= wsum
	var total, rest, ownMean, ownSum, ownTotal, ownRest float64
	for _, o := range f.obs {
		if o.own {
			ownSum += o.weight
			ownMean += o.weight * o.grey
		}
	}
	ownMean /= max(ownSum, 1e-9)
	for _, o := range f.obs {
		total += o.weight * (o.grey - mean) * (o.grey - mean)
		rest += o.weight * o.residual * o.residual
		if o.own {
			ownTotal += o.weight * (o.grey - ownMean) * (o.grey - ownMean)
			ownRest += o.weight * o.residual * o.residual
		}
	}
	share := func(rest, total float64) float64 {
		if !(total > 0) {
			return 0
		}
		return max(0, 1-rest/total)
	}
	m.about, m.explained = share(rest, total), share(ownRest, ownTotal)
	if edges > 0 {
		m.edgeSeen = edgesKept / edges
	}
	m.residual = math.Sqrt(swr / max(sw, 1e-9))
}

// grey returns what the model says of a place, and how steep its edges are there.
func (m *rings) grey(x, y float64) (grey, edge float64) {
	dx, dy := x-m.x, y-m.y
	ux, uy := m.xx*dx+m.xy*dy, m.xy*dx+m.yy*dy
	rho := math.Hypot(ux, uy)
	grey = m.level + m.gx*dx + m.gy*dy
	slope := m.steepness(ux, uy, rho)
	for k := range m.n {
		z := (m.share[k] - rho) / (slope * m.blur)
		switch {
		case z > 4:
			grey += m.step[k]
		case z > -4:
			grey += m.step[k] * 0.5 * (1 + math.Erf(z/math.Sqrt2))
			edge += math.Abs(m.step[k]) * math.Exp(-z*z/2)
		}
	}
	return grey, edge
}

// steepness is |∇ρ|, a radius a pixel.
func (m *rings) steepness(ux, uy, rho float64) float64 {
	if rho < 1e-9 {
		return (m.xx + m.yy) / 2
	}
	return math.Hypot(m.xx*ux+m.xy*uy, m.xy*ux+m.yy*uy) / rho
}

// derivatives fills in how the model's grey at a place changes with each
// parameter.
func (m *rings) derivatives(x, y float64, j *gradient) {
	dx, dy := x-m.x, y-m.y
	ux, uy := m.xx*dx+m.xy*dy, m.xy*dx+m.yy*dy
	rho := math.Hypot(ux, uy)
	slope := m.steepness(ux, uy, rho)
	j[pX], j[pY] = -m.gx, -m.gy
	j[pXX], j[pXY], j[pYY], j[pBlur] = 0, 0, 0, 0
	j[pLevel], j[pGX], j[pGY] = 1, dx, dy
	for k := range m.n {
		z := (m.share[k] - rho) / (slope * m.blur)
		switch {
		case z > 4:
			j[pStep+k] = 1
			j.setShare(m.n, k, 0)
			continue
		case z < -4:
			j[pStep+k] = 0
			j.setShare(m.n, k, 0)
			continue
		}
		j[pStep+k] = 0.5 * (1 + math.Erf(z/math.Sqrt2))
		j.setShare(m.n, k, 0)
		if rho < 1e-9 {
			continue
		}
		density := m.step[k] * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
		bySigned := density / m.blur // by the signed distance to the edge, inside positive
		j.setShare(m.n, k, bySigned/slope)
		nx, ny := (m.xx*ux+m.xy*uy)/(rho*slope), (m.xy*ux+m.yy*uy)/(rho*slope)
		j[pX] += bySigned * nx
		j[pY] += bySigned * ny
		byRho := -bySigned / slope / rho
		j[pXX] += byRho * ux * dx
		j[pXY] += byRho * (ux*dy + uy*dx)
		j[pYY] += byRho * uy * dy
		j[pBlur] += -density * z
	}
}

// gradient holds derivatives in the order of the parameters; after the n steps
// come the n − 1 shares of the inner edges.
type gradient [maxParameters]float64

func (j *gradient) setShare(n, k int, d float64) {
	if k > 0 {
		j[pStep+n+k-1] = d
	}
}
