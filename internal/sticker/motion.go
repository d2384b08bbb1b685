package sticker

import "math"

// motion foretells where a point will be from where it was: by carrying on its
// last three places, and, once two strides or nearly so have been seen, by what
// it did one stride ago. Frames count from the start of the pass.
type motion struct {
	x, y          []float64 // NaN where it was not found
	period        int       // frames of a stride; 0 where not known
	carryErr      float64   // running error of carrying on, pixels
	strideErr     float64   // running error of one stride ago
	carries       int       // how many of each were tried
	strides       int
	nextStrideTry int
}

// forecast is a place that is looked at first, and how far about it.
type forecast struct {
	x, y, reach float64
	anywhere    bool // look in all of the picture
}

// leastSDPX is the least error that is expected of a forecast, pixels.
const leastSDPX = 0.7

// sd is the standard deviation of the forecast that is looked at first.
func (m *motion) sd(first forecast) float64 { return max(first.reach/4, leastSDPX) }

func (m *motion) seen(i int) bool { return i >= 0 && i < len(m.x) && !math.IsNaN(m.x[i]) }

// lastSeen returns the last frame in which the point was found, -1 for none.
func (m *motion) lastSeen() int {
	for i := len(m.x) - 1; i >= 0; i-- {
		if m.seen(i) {
			return i
		}
	}
	return -1
}

// carryOn continues the last places at even acceleration, or speed where only
// two are known; known tells whether the speed is.
func (m *motion) carryOn() (x, y float64, known bool) {
	n := len(m.x)
	k := m.lastSeen()
	if k < 0 {
		return math.NaN(), math.NaN(), false
	}
	x, y = m.x[k], m.y[k]
	if !m.seen(k - 1) {
		return x, y, false
	}
	ahead := float64(min(n-k, 4))
	vx, vy := x-m.x[k-1], y-m.y[k-1]
	if n-k <= 2 && m.seen(k-2) {
		ax, ay := x-2*m.x[k-1]+m.x[k-2], y-2*m.y[k-1]+m.y[k-2]
		h := ahead * (ahead + 1) / 2
		return x + ahead*vx + h*ax, y + ahead*vy + h*ay, true
	}
	return x + ahead*vx, y + ahead*vy, true
}

// strideAgo repeats what the point did one stride ago since it was last seen.
func (m *motion) strideAgo() (x, y float64, ok bool) {
	n, k := len(m.x), m.lastSeen()
	if m.period == 0 || k < 0 {
		return 0, 0, false
	}
	for strides := 1; strides <= 3; strides++ {
		back := strides * m.period
		if m.seen(n-back) && m.seen(k-back) {
			return m.x[k] + m.x[n-back] - m.x[k-back], m.y[k] + m.y[n-back] - m.y[k-back], true
		}
	}
	return 0, 0, false
}

// next returns where to look in the coming frame, likeliest first. size is the
// point's own, widest the farthest that makes sense in this picture.
func (m *motion) next(size, widest float64) []forecast {
	k := m.lastSeen()
	if k < 0 {
		return nil
	}
	lost := float64(len(m.x) - 1 - k)
	x, y, known := m.carryOn()
	sx, sy, periodic := m.strideAgo()
	var out []forecast
	add := func(x, y, reach float64) {
		out = append(out, forecast{x: x, y: y, reach: min(max(reach, 0.8*size, 5), widest)})
	}
	if lost == 0 {
		switch {
		case !known:
			add(x, y, max(3*size, widest/5))
		case periodic && m.strides > 5 && m.strideErr < m.carryErr:
			add(sx, sy, 4*m.strideErr)
		default:
			add(x, y, 4*m.carryErr)
		}
		first := out[0]
		add(first.x, first.y, max(3*first.reach, 2*size))
		return out
	}
	if periodic {
		add(sx, sy, max(2*size, 4*m.strideErr*math.Sqrt(lost)))
	}
	speed := 0.0
	if m.seen(k - 1) {
		speed = math.Hypot(m.x[k]-m.x[k-1], m.y[k]-m.y[k-1])
	}
	reach := max(2*size, 4*m.carryErr) + (lost+1)*max(0.7*speed, 0.15*size)
	if lost > 8 && int(lost)%2 == 0 {
		return append(out, forecast{anywhere: true})
	}
	if !periodic || lost > 2*float64(m.period) {
		add(x, y, reach)
	}
	return out
}

// add counts the place of the coming frame; NaN where the point was not found.
func (m *motion) add(x, y float64) {
	if !math.IsNaN(x) {
		learn := func(err *float64, n *int, px, py float64) {
			d := math.Hypot(x-px, y-py)
			*n++
			*err = math.Sqrt(*err**err + (d*d-*err**err)/float64(min(*n, 8)))
		}
		if m.seen(len(m.x) - 1) {
			if px, py, known := m.carryOn(); known {
				learn(&m.carryErr, &m.carries, px, py)
			}
			if px, py, ok := m.strideAgo(); ok {
				learn(&m.strideErr, &m.strides, px, py)
			}
		}
	}
	m.x, m.y = append(m.x, x), append(m.y, y)
	if len(m.x) >= m.nextStrideTry {
		m.findPeriod()
		m.nextStrideTry = len(m.x) + 8
	}
}

// Bounds of a stride in frames: half a second at 24 frames a second, a second at
// 500.
const minPeriod, maxPeriod = 12, 500

// findPeriod looks for the shortest time after which the path repeats itself to
// within a fifth of its own size.
func (m *motion) findPeriod() {
	n := len(m.x)
	if n < 18 {
		return
	}
	from := max(0, n-2*maxPeriod)
	var sx, sy, sxx, c float64
	for i := from; i < n; i++ {
		if m.seen(i) {
			sx += m.x[i]
			sy += m.y[i]
			c++
		}
	}
	if c < 16 {
		return
	}
	sx, sy = sx/c, sy/c
	for i := from; i < n; i++ {
		if m.seen(i) {
			sxx += (m.x[i]-sx)*(m.x[i]-sx) + (m.y[i]-sy)*(m.y[i]-sy)
		}
	}
	size := 2 * sxx / c // mean squared distance of two places of the path
	if size < 8 {
		m.period = 0 // it hardly moves: there is nothing to foretell
		return
	}
	at := func(lag int) float64 {
		span := min(n-from-lag, lag)
		if span < lag/2 {
			return math.Inf(1)
		}
		stride := 1 + span/64
		sum, c := 0.0, 0
		for i := n - 1; i >= n-span; i -= stride {
			if m.seen(i) && m.seen(i-lag) {
				dx, dy := m.x[i]-m.x[i-lag], m.y[i]-m.y[i-lag]
				sum += dx*dx + dy*dy
				c++
			}
		}
		if c < 6 || c < span/stride/2 {
			return math.Inf(1)
		}
		return sum / float64(c) / size
	}
	apart := false
	best, bestAt := math.Inf(1), 0
	for lag := 4; lag <= min(maxPeriod, (n-from)*2/3); lag++ {
		d := at(lag)
		switch {
		case math.IsInf(d, 1):
		case !apart:
			apart = d > 0.5
		case lag >= minPeriod && d < best:
			best, bestAt = d, lag
		case best < 0.04 && d > best+0.3:
			// Past the first good repeat: longer ones are multiples of it.
			m.setPeriod(bestAt)
			return
		}
	}
	if best < 0.04 {
		m.setPeriod(bestAt)
	}
}

func (m *motion) setPeriod(frames int) {
	if d := frames - m.period; d > 1 || d < -1 {
		m.strides, m.strideErr = 0, 0
	}
	m.period = frames
}
