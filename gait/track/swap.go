package track

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// A pose network names the legs anew in every frame. Where they cross it may
// give the left leg's name to the right one for some frames. Seen alone each
// such frame looks fine, and continuity of motion alone does not settle it,
// because at the crossing the legs are in one place. What settles it is the
// runner's own rhythm: at each phase of the stride the left foot is where it was
// at that phase of the other strides.
//
// MendSwaps finds the rhythm from the names as they came (they are right far
// more often than not), takes for each point its median place at each phase, and
// chooses for each frame whether the names stand or are exchanged, by how near
// the points then are to those places. Where a crossing goes wrong in every
// stride, the median places themselves are exchanged for a short part of the
// cycle; that shows as both legs jumping there and back, and is undone first. The choice is a shortest path over frames
// (Viterbi) that pays for each change of mind, so that single frames near the
// crossing, where both choices are as good, follow their neighbours. Whole legs
// are decided first, then lower legs and feet, whose names sometimes change
// alone.

// swapParts are the groups of points that change names together.
var swapParts = [...][]body.Landmark{
	{body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe},
	{body.LeftAnkle, body.LeftHeel, body.LeftToe},
	{body.LeftHip},
}

const (
	// swapChange is what a change of mind costs, in squared robust deviations.
	swapChange = 12.0
	// swapPrior is what an exchange costs a frame.
	swapPrior = 0.5
	// swapCap bounds what one point says about one frame.
	swapCap = 25.0
	// swapSpread is the least spread of a point about its median place, as a
	// share of the leg's length.
	swapSpread = 0.04
	// minSwapStrides is the number of strides below which the rhythm is not
	// trusted to tell the legs apart.
	minSwapStrides = 4
)

// MendSwaps returns a copy of the track in which exchanged legs have their names
// back, and the number of frames changed; paths that cannot change are shared. The frames are marked in Path.Mended.
// A track with fewer than four strides of rhythm is returned as it is.
func MendSwaps(t *Track) (*Track, int) {
	r, ok := FindRhythm(t)
	if !ok || len(r.BoundariesS) < minSwapStrides+1 {
		return t.Clone(), 0
	}
	// Only the legs may change; the rest is shared.
	out := New(t.Space, t.Unit, t.TimeS)
	out.Paths = t.Paths
	for _, part := range swapParts {
		for _, l := range part {
			for _, l := range [...]body.Landmark{l, l.Mirror()} {
				if out.Paths[l] == t.Paths[l] {
					out.Paths[l] = t.Paths[l].Clone()
				}
			}
		}
	}
	bin := phaseBinsOf(t.TimeS, r)
	changed := make([]bool, t.Frames())
	for pass := range 2 { // rhythm and places are surer once the plainest exchanges are undone
		if pass > 0 {
			if again, ok := FindRhythm(out); ok && len(again.BoundariesS) > minSwapStrides {
				bin = phaseBinsOf(t.TimeS, again)
			}
		}
		again := false
		known := map[body.Landmark][]pointPlaces{}
		for _, part := range swapParts {
			exchange := chooseNames(out, part, bin, known)
			for i, x := range exchange {
				if !x {
					continue
				}
				again = true
				changed[i] = !changed[i] || len(part) > 1
				for _, l := range part {
					exchangeAt(out, l, i)
					delete(known, l)
				}
			}
		}
		if !again {
			break
		}
	}
	n := 0
	for _, c := range changed {
		if c {
			n++
		}
	}
	return out, n
}

func exchangeAt(t *Track, l body.Landmark, i int) {
	a, b := t.Paths[l], t.Paths[l.Mirror()]
	if a == nil || b == nil {
		return
	}
	for _, pair := range [...][2][]float64{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}, {a.Confidence, b.Confidence}} {
		if pair[0] != nil && pair[1] != nil {
			pair[0][i], pair[1][i] = pair[1][i], pair[0][i]
		}
	}
	for _, p := range [...]*Path{a, b} {
		if p.Mended == nil {
			p.Mended = make([]bool, t.Frames())
		}
		p.Mended[i] = !p.Mended[i]
	}
}

// chooseNames returns, for each frame, whether the points of part should
// exchange their names.
// known holds the places found for points before; they are found anew where a
// point is not in it.
func chooseNames(t *Track, part []body.Landmark, bin []int, known map[body.Landmark][]pointPlaces) []bool {
	n := t.Frames()
	exchange := make([]bool, n)
	leg := legLength(t)
	if !(leg > 0) {
		return exchange
	}
	centre := [3][]float64{}
	centre[0], centre[1], centre[2] = midHip(t)
	var points []pointPlaces
	for _, l := range part {
		if !t.Has(l, l.Mirror()) {
			continue
		}
		if places, ok := known[l]; ok {
			points = append(points, places...)
			continue
		}
		first := len(points)
		a, b := t.Paths[l], t.Paths[l.Mirror()]
		for k, axis := range [...][2][]float64{{a.X, b.X}, {a.Y, b.Y}, {a.Z, b.Z}} {
			if axis[0] != nil {
				points = append(points, pointPlaces{axis, centre[k],
					[2]places{placesOf(axis[0], centre[k], bin), placesOf(axis[1], centre[k], bin)}})
			}
		}
		known[l] = slices.Clone(points[first:])
	}
	unexchangePlaces(points, leg)
	floor := swapSpread * leg
	gain := make([]float64, n) // how much better the exchanged names fit
	for _, p := range points {
		for i, k := range bin {
			if k < 0 {
				continue
			}
			a, b := p.path[0][i]-p.centre[i], p.path[1][i]-p.centre[i]
			stand := off(a, p.at[0], k, floor) + off(b, p.at[1], k, floor)
			swapped := off(b, p.at[0], k, floor) + off(a, p.at[1], k, floor)
			if d := stand - swapped; !math.IsNaN(d) {
				gain[i] += d
			}
		}
	}
	// Two-state shortest path.
	var cost [2]float64
	from := make([][2]uint8, n)
	cost[1] = swapChange
	for i := range n {
		own := [2]float64{0, swapPrior - gain[i]}
		var next [2]float64
		for s := range 2 {
			stay, turn := cost[s], cost[1-s]+swapChange
			next[s], from[i][s] = stay, uint8(s)
			if turn < stay {
				next[s], from[i][s] = turn, uint8(1-s)
			}
			next[s] += own[s]
		}
		cost = next
	}
	s := 0
	if cost[1] < cost[0] {
		s = 1
	}
	for i := n - 1; i >= 0; i-- {
		exchange[i] = s == 1
		s = int(from[i][s])
	}
	return exchange
}

// pointPlaces is one axis of one pair of points with the places of both.
type pointPlaces struct {
	path   [2][]float64
	centre []float64
	at     [2]places
}

// binChange and binPrior are the costs, in squared leg lengths, of a change of
// mind and of an exchange in one bin of the cycle.
const (
	binChange = 0.01
	binPrior  = 0.002
)

// unexchangePlaces undoes exchanges of the median places themselves: along the
// cycle, gone round twice so that it closes, the choice is taken that lets both
// legs move least.
func unexchangePlaces(points []pointPlaces, leg float64) {
	const laps = 3
	step := func(b, s, prev int) float64 {
		sum := 0.0
		a := (b + phaseBins - 1) % phaseBins
		for _, p := range points {
			for side := range 2 {
				d := (p.at[side^s].mid[b] - p.at[side^prev].mid[a]) / leg
				if !math.IsNaN(d) {
					sum += d * d
				}
			}
		}
		return sum
	}
	var cost [2]float64
	from := make([][2]uint8, laps*phaseBins)
	for i := range from {
		b := i % phaseBins
		var next [2]float64
		for s := range 2 {
			stay := cost[s] + step(b, s, s)
			turn := cost[1-s] + step(b, s, 1-s) + binChange
			next[s], from[i][s] = stay, uint8(s)
			if turn < stay {
				next[s], from[i][s] = turn, uint8(1-s)
			}
			next[s] += binPrior * float64(s)
		}
		cost = next
	}
	s := 0
	if cost[1] < cost[0] {
		s = 1
	}
	var exchange [phaseBins]bool
	for i := len(from) - 1; i >= 0; i-- {
		if i/phaseBins == laps/2 { // the middle lap knows both its neighbours
			exchange[i%phaseBins] = s == 1
		}
		s = int(from[i][s])
	}
	for k := range points {
		at := &points[k].at
		for b, x := range exchange {
			if x {
				at[0].mid[b], at[1].mid[b] = at[1].mid[b], at[0].mid[b]
				at[0].spread[b], at[1].spread[b] = at[1].spread[b], at[0].spread[b]
			}
		}
	}
}

// places are the median place and spread of a point, relative to the middle of
// the hips, in each phase bin.
type places struct{ mid, spread [phaseBins]float64 }

func placesOf(x, centre []float64, bin []int) (p places) {
	s := sortByPhase(x, centre, bin)
	for b := range phaseBins {
		p.mid[b] = signal.MedianInPlace(s.of(b))
		p.spread[b] = spreadAbout(p.mid[b], s.of(b))
	}
	return p
}

// byPhase holds the values of a point, relative to the middle of the hips, bin after bin.
type byPhase struct {
	values []float64
	from   [phaseBins + 1]int // where each bin begins
}

func sortByPhase(x, centre []float64, bin []int) (s byPhase) {
	for i, b := range bin {
		if b >= 0 && !math.IsNaN(x[i]-centre[i]) {
			s.from[b+1]++
		}
	}
	for b := range phaseBins {
		s.from[b+1] += s.from[b]
	}
	s.values = make([]float64, s.from[phaseBins])
	next := s.from
	for i, b := range bin {
		if b >= 0 {
			if v := x[i] - centre[i]; !math.IsNaN(v) {
				s.values[next[b]] = v
				next[b]++
			}
		}
	}
	return s
}

// of returns the values in bin b.
func (s *byPhase) of(b int) []float64 { return s.values[s.from[b]:s.from[b+1]] }

// spreadAbout returns the robust deviation of values about their median, mid, and leaves
// their distances from it in their place.
func spreadAbout(mid float64, values []float64) float64 {
	for i, v := range values {
		values[i] = math.Abs(v - mid)
	}
	return 1.4826 * signal.MedianInPlace(values)
}

// off is the squared distance of v from its place in bin k, in robust
// deviations, capped.
func off(v float64, p places, k int, floor float64) float64 {
	d := (v - p.mid[k]) / math.Max(floor, p.spread[k])
	return math.Min(swapCap, d*d)
}
