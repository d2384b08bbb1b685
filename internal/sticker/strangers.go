package sticker

import (
	"cmp"
	"image"
	"math"
	"slices"
)

// A sticker that nobody clicked may stand in for a clicked one of its look: nothing that
// is followed lays claim to it. So some pictures are looked over, about each point, for
// discs of the same look that no point is on. Where there is one, a path is sure from a click as
// far as it was followed without a gap and without coming near where the other may be;
// what was lost may have been found again on the other.

// The bounds are own choices, tried on drawn films (TestStatedFigures,
// TestUnclickedDiscsOfItsLook).
const (
	// strangerReach is how far from a point others of its look matter, in diameters.
	strangerReach = 12.0
	// strangerLeap is how far a point is from where it goes at even speed, in
	// diameters, where it may have gone over to another.
	strangerLeap = 0.7
	// strangerEvery is every how many frames it is looked for others, and
	// strangerTimes in how many there must be one.
	strangerEvery, strangerTimes = 12, 2
	// mostStrangers bounds how many places about a point are fitted.
	mostStrangers = 24
)

// others finds the discs that look like the one at m, about it.
func (f *fitter) others(p picture, m rings) (out [][2]float64) {
	r := m.radius()
	own, step := roundness(p, m.x, m.y, r)
	if !(own > 0) {
		return nil
	}
	type place struct{ x, y, score float64 }
	var places []place
	for dy := -2 * r * strangerReach; dy <= 2*r*strangerReach; dy += r / 2 {
		for dx := -2 * r * strangerReach; dx <= 2*r*strangerReach; dx += r / 2 {
			x, y := m.x+dx, m.y+dy
			if math.Hypot(dx, dy) < 2*r || !p.inside(x, y) {
				continue
			}
			if s, d := roundness(p, x, y, r); s > 0.3*own && d*step > 0 {
				places = append(places, place{x, y, s})
			}
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Compare(b.score, a.score) })
	var tried [][2]float64
	near := func(list [][2]float64, x, y float64) bool {
		return slices.ContainsFunc(list, func(o [2]float64) bool { return math.Hypot(o[0]-x, o[1]-y) < 1.5*r })
	}
	for _, at := range places {
		if len(tried) == mostStrangers {
			break
		}
		if near(tried, at.x, at.y) {
			continue
		}
		tried = append(tried, [2]float64{at.x, at.y})
		g := m
		g.x, g.y, g.gx, g.gy = at.x, at.y, 0, 0
		got, ok := f.fitRings(p, g, everything)
		if !ok || got.explained < 0.8 || got.edgeSeen < 0.7 || got.step[got.mainEdge()]*m.step[m.mainEdge()] < 0 {
			continue
		}
		size, stands := got.radius()/r, got.contrast()/m.contrast()
		if size < 1/alikeSize || size > alikeSize || stands < 0.5 || stands > 2 || got.flattening() > 2.6 || math.Hypot(got.x-m.x, got.y-m.y) < r || near(out, got.x, got.y) {
			continue
		}
		out = append(out, [2]float64{got.x, got.y})
	}
	return out
}

// leaps tells whether a path is in a frame where it would not be at the speed that it
// had in the two before, counted by step.
func (p Path) leaps(i, step int) bool {
	a, b := i-2*step, i-step
	if a < 0 || a >= len(p.Samples) || !p.Samples[a].Seen() || !p.Samples[b].Seen() {
		return false
	}
	s, t, u := p.Samples[a], p.Samples[b], p.Samples[i]
	return math.Hypot(u.XPX-2*t.XPX+s.XPX, u.YPX-2*t.YPX+s.YPX) > strangerLeap*p.DiameterPX
}

func claimed(paths []Path, frame int, at [2]float64) bool {
	return slices.ContainsFunc(paths, func(q Path) bool {
		s := q.Samples[frame]
		return s.Seen() && math.Hypot(s.XPX-at[0], s.YPX-at[1]) < q.DiameterPX
	})
}

// lookAbout looks about each point in the frame that was pushed last, in some frames.
func (t *Tracker) lookAbout(frame int, p picture) {
	if p.rect.Min != (image.Point{}) {
		p.rect = p.rect.Sub(p.rect.Min)
		p.whole = p.rect
	}
	for _, w := range t.followers {
		if _, clicked := w.clickIn(frame); w.anchor != nil && w.shape == Round && w.samples[frame].Seen() && (clicked || frame%strangerEvery == 0) {
			w.others[frame] = w.fitter.others(p, w.last.rings)
		}
	}
}

// doubtStrangers marks what may be on a sticker that nobody clicked.
func doubtStrangers(paths []Path, followers []*follower) {
	for k, w := range followers {
		p := paths[k]
		if p.Shape != Round {
			continue
		}
		away, times := 0.0, 0
		for frame, others := range w.others {
			unclaimed, free, far := 0, 0, 0.0
			for _, o := range others {
				if claimed(paths, frame, o) {
					continue
				}
				unclaimed++
				far = max(far, math.Hypot(o[0]-p.Samples[frame].XPX, o[1]-p.Samples[frame].YPX))
			}
			for j, q := range paths {
				// It may be one of those that were clicked and are not known here.
				if s := q.Samples[frame]; j != k && p.alike(q) && (!s.Seen() || s.State == Doubtful) {
					free++
				}
			}
			if unclaimed > free && p.Samples[frame].Seen() {
				away, times = max(away, far), times+1
			}
		}
		if times < min(strangerTimes, len(w.others)) || times == 0 {
			continue
		}
		sure := make([]bool, len(p.Samples))
		for frame := range w.anchors {
			for _, step := range [...]int{-1, 1} {
				for i := frame; i >= 0 && i < len(sure) && p.Samples[i].Seen() && !p.leaps(i, step); i += step {
					sure[i] = true
				}
			}
		}
		for i := range p.Samples {
			if s := &p.Samples[i]; !sure[i] && s.Seen() && s.State != Doubtful {
				s.State = Doubtful
				s.SDXPX, s.SDYPX = math.Hypot(s.SDXPX, doubtShare*away), math.Hypot(s.SDYPX, doubtShare*away)
			}
		}
	}
}
