package sticker

import (
	"math"
	"slices"
)

// Two paths on stickers that look alike may exchange them where they come near each
// other or where one is lost. When all is followed, each pair of paths is looked
// over once more: from one frame in which both were seen to the next, is what lies
// between them more like what it was, or more like its opposite? An exchange turns
// the difference of the two places about and changes nothing else, so
//
//	log of the odds = Σ over x and y of 2 D′·D̂ / σ²
//
// where D̂ is the difference foretold from before, D′ the one that was found, and
// σ how well such forecasts over so many frames do in these two paths. Where the
// odds do not speak plainly for what was followed, the identity is in doubt from
// there to the next click on either of the two, or to the next such place. So is a
// path alone where it jumps farther than it moves.

const (
	// plainOdds is the log of the odds at which an identity is not in doubt:
	// 1 to 60000 were the errors normal, asked because they have tails.
	plainOdds = 11.0
	// astraySD is how many standard deviations from its forecast, and diameters, a
	// point must be to have jumped to something else.
	astraySD, astrayDiameters = 9.0, 0.7
	// lostAstraySD is that where it was lost meanwhile.
	lostAstraySD = 5.0
	// brinkFrames and brinkDiameters are how near to a loss, in time, and to where
	// another was last seen, a sample may be the other's.
	brinkFrames, brinkDiameters = 2, 2.5
	// mayMeetSD is how near, in standard deviations of its forecast, a point that
	// is not seen must be to another for the two to be exchanged.
	mayMeetSD = 4.5
	// leastPairSDPX is the least error of a forecast of a difference, pixels.
	leastPairSDPX = 0.5
	// alikeSize is the ratio of diameters up to which stickers are alike.
	alikeSize = 1.6
	// doubtShare is the error of a place of which it is not known whether it is its
	// own or the other's, as a share of what lies between the two: 1.96 of it
	// reach the other.
	doubtShare = 0.55
)

// dropIslands takes away what was seen for a moment only, between frames in which it
// was not.
func dropIslands(samples []Sample) {
	for from := 0; from < len(samples); from++ {
		if !samples[from].Seen() {
			continue
		}
		to, clicked := from, false
		for ; to < len(samples) && samples[to].Seen(); to++ {
			clicked = clicked || samples[to].State == Clicked
		}
		if to-from < leastRun && from > 0 && to < len(samples) && !clicked {
			for i := from; i < to; i++ {
				samples[i] = missing
			}
		}
		from = to
	}
}

// doubtIdentities marks the samples of which it is not sure whose they are.
func doubtIdentities(paths []Path, points []Point) {
	marks := make([][]float64, len(paths)) // what lies between, 0 where there is no doubt
	for k := range paths {
		marks[k] = make([]float64, len(paths[k].Samples))
	}
	// What is astray alone is on no sticker that is known; the pairs are looked over
	// without it.
	sure := make([][]Sample, len(paths))
	for a := range paths {
		one := line(paths[a].Samples)
		sure[a] = slices.Clone(paths[a].Samples)
		for _, r := range doubts(one.jumps(paths[a].DiameterPX), one.frames(), pins(points[a])) {
			for i := r[0]; i < r[1]; i++ {
				marks[a][i] = leapReach(paths, a, i)
				sure[a][i] = missing
			}
		}
	}
	for a := range paths {
		for b := range a {
			if !paths[a].alike(paths[b]) {
				continue
			}
			p := pair{a: sure[a], b: sure[b], diameter: min(paths[a].DiameterPX, paths[b].DiameterPX)}
			breaks, frames := p.breaks()
			for _, r := range doubts(breaks, len(p.a), pins(points[a], points[b])) {
				for i := r[0]; i < r[1]; i++ {
					frames = append(frames, i)
				}
			}
			for _, i := range frames {
				d := p.between(i)
				marks[a][i], marks[b][i] = max(marks[a][i], d), max(marks[b][i], d)
			}
		}
	}
	for k, m := range marks {
		for i, d := range m {
			if s := &paths[k].Samples[i]; d > 0 && s.Seen() && s.State != Clicked {
				s.State = Doubtful
				s.SDXPX, s.SDYPX = math.Hypot(s.SDXPX, doubtShare*d), math.Hypot(s.SDYPX, doubtShare*d)
			}
		}
	}
}

// leapReach is how far a point may be from where it leapt to: two diameters, or to
// the others of its look that are not far.
func leapReach(paths []Path, a, i int) float64 {
	p := paths[a]
	reach := 2 * p.DiameterPX
	for b, q := range paths {
		if s, o := p.Samples[i], q.Samples[i]; b != a && p.alike(q) && s.Seen() && o.Seen() {
			if d := math.Hypot(s.XPX-o.XPX, s.YPX-o.YPX); d < 8*p.DiameterPX {
				reach = max(reach, d)
			}
		}
	}
	return reach
}

// alike tells whether the stickers of two paths could be taken for each other.
func (p Path) alike(q Path) bool {
	if p.Shape != q.Shape {
		return false
	}
	ratio := p.DiameterPX / q.DiameterPX
	return ratio < alikeSize && ratio > 1/alikeSize
}

// pins are the frames in which a person showed one of the points.
func pins(points ...Point) (at []int) {
	for _, p := range points {
		for _, c := range p.Clicks {
			at = append(at, c.Frame)
		}
	}
	return at
}

// pair are the samples of two paths.
type pair struct {
	a, b     []Sample
	diameter float64
}

func (p *pair) both(i int) bool { return i >= 0 && i < len(p.a) && p.a[i].Seen() && p.b[i].Seen() }

func (p *pair) difference(i int) [2]float64 {
	return [2]float64{p.a[i].XPX - p.b[i].XPX, p.a[i].YPX - p.b[i].YPX}
}

// between is how far apart the two are in a frame, or were in the nearest one in
// which both were seen.
func (p *pair) between(i int) float64 {
	for d := range len(p.a) {
		for _, k := range [...]int{i - d, i + d} {
			if p.both(k) {
				v := p.difference(k)
				return max(math.Hypot(v[0], v[1]), p.diameter)
			}
		}
	}
	return p.diameter
}

// doubts returns the ranges of frames, the second end exclusive, that lie between
// breaks, or a break and an end, without a frame that a person showed.
func doubts(breaks []int, frames int, pins []int) (out [][2]int) {
	from := 0
	for _, to := range append(breaks, frames) {
		if to > from && !slices.ContainsFunc(pins, func(f int) bool { return f >= from && f < to }) {
			out = append(out, [2]int{from, to})
		}
		from = to
	}
	return out
}

// breaks returns the frames, in order, before which the two may have been exchanged,
// and those in which only one was seen, so near the other that it may be that.
func (p *pair) breaks() (out, single []int) {
	f := pairForecaster{forecaster: newForecaster(len(p.a), func(i int) ([2]float64, bool) {
		if !p.both(i) {
			return [2]float64{}, false
		}
		return p.difference(i), true
	}), p: p}
	last := -1
	for i := range p.a {
		if !p.both(i) {
			continue
		}
		if last >= 0 && !f.keeps(last, i) {
			out = append(out, last+1)
		}
		if last >= 0 {
			single = f.singles(single, last, i)
		}
		last = i
	}
	// Where one of the two was not seen any more, the other may have gone on on
	// its sticker.
	for _, end := range [...]struct{ from, step int }{{last, +1}, {p.first(), -1}} {
		if end.from >= 0 {
			if at := f.taken(end.from, end.step); at >= 0 {
				out = append(out, at)
			}
		}
	}
	if last >= 0 {
		single = f.singles(single, last, len(p.a))
		single = f.singles(single, -1, p.first())
	}
	single = p.brinks(single, p.a, p.b)
	single = p.brinks(single, p.b, p.a)
	slices.Sort(out)
	return out, single
}

// brinks adds the frames just before one was lost and just after it was found again
// in which it was by the other.
func (p *pair) brinks(into []int, one, other []Sample) []int {
	for i, s := range one {
		if !s.Seen() || s.State == Clicked {
			continue
		}
		brink := false
		for k := max(0, i-brinkFrames); k <= min(len(one)-1, i+brinkFrames); k++ {
			brink = brink || !one[k].Seen()
		}
		if !brink {
			continue
		}
		for k := max(0, i-2*brinkFrames); k <= min(len(one)-1, i+2*brinkFrames); k++ {
			if o := other[k]; o.Seen() && math.Hypot(o.XPX-s.XPX, o.YPX-s.YPX) < brinkDiameters*p.diameter {
				into = append(into, i)
				break
			}
		}
	}
	return into
}

func (p *pair) first() int {
	for i := range p.a {
		if p.both(i) {
			return i
		}
	}
	return -1
}

// forecaster tells how a series of places goes on, and how well that is known.
type forecaster struct {
	v      [2][]float64 // on each axis, NaN where there is none
	middle [2]float64
	seen   int
	sd     map[[3]int]float64
}

func newForecaster(frames int, at func(int) ([2]float64, bool)) forecaster {
	f := forecaster{sd: map[[3]int]float64{}}
	f.v[0], f.v[1] = make([]float64, frames), make([]float64, frames)
	for i := range frames {
		v, ok := at(i)
		if ok {
			f.seen++
		} else {
			v = [2]float64{math.NaN(), math.NaN()}
		}
		f.v[0][i], f.v[1][i] = v[0], v[1]
	}
	for axis := range f.v {
		f.middle[axis] = middle(f.v[axis])
	}
	return f
}

// middle is the median of what is there.
func middle(v []float64) float64 {
	v = slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return v[len(v)/2]
}

func line(samples []Sample) forecaster {
	return newForecaster(len(samples), func(i int) ([2]float64, bool) {
		s := samples[i]
		return [2]float64{s.XPX, s.YPX}, s.Seen()
	})
}

func (f *forecaster) frames() int { return len(f.v[0]) }

// jumps returns the frames before which a path jumped.
func (f *forecaster) jumps(diameter float64) (out []int) {
	last := -1
	for i := range f.frames() {
		if math.IsNaN(f.v[0][i]) {
			continue
		}
		if last >= 0 {
			for axis := range f.v {
				most := astraySD
				if i-last > 1 {
					most = lostAstraySD
				}
				if was, is, sd := f.link(axis, last, i); math.Abs(was-is) > max(most*sd, astrayDiameters*diameter) {
					out = append(out, last+1)
					break
				}
			}
		}
		last = i
	}
	return out
}

// link foretells one end of a gap from the other, in the way that does best, and
// returns it with what is there and the standard deviation of such forecasts.
func (f *forecaster) link(axis, from, to int) (was, is, sd float64) {
	sd = math.Inf(1)
	v := f.v[axis]
	for way := range ways {
		usual := f.usual(axis, to-from, way)
		x, y := carried(v, from, 1, to-from, way, f.middle[axis]), carried(v, to, -1, to-from, way, f.middle[axis])
		forth, back := math.Abs(x-v[to]), math.Abs(y-v[from])
		switch {
		case usual >= sd:
		case forth <= back || math.IsNaN(back) && !math.IsNaN(forth):
			was, is, sd = x, v[to], usual
		case !math.IsNaN(back):
			was, is, sd = y, v[from], usual
		}
	}
	return was, is, sd
}

// pairForecaster foretells the difference of two paths.
type pairForecaster struct {
	forecaster
	p      *pair
	alones [2]forecaster
}

// The ways to foretell: as it was, at even speed, at even acceleration, and as it
// is in the middle of all frames.
const ways, byMiddle = 4, 3

// carried carries a series on from frame i over some frames, forwards (step 1) or
// backwards (−1); NaN where it cannot be.
func carried(v []float64, i, step, frames, way int, middle float64) float64 {
	if way == byMiddle {
		return middle
	}
	at := func(k int) float64 {
		if k < 0 || k >= len(v) {
			return math.NaN()
		}
		return v[k]
	}
	x := at(i)
	n := float64(frames)
	if way >= 1 {
		speed := at(i) - at(i-step)
		x += n * speed
		if way == 2 {
			x += n * (n + 1) / 2 * (speed - (at(i-step) - at(i-2*step)))
		}
	}
	return x
}

// usual is how well a way does over some frames on an axis: a standard deviation
// from the tenth of all forecasts that were the worst.
func (f *forecaster) usual(axis, frames, way int) float64 {
	if way == byMiddle {
		frames = 0
	}
	key := [3]int{axis, frames, way}
	if sd, ok := f.sd[key]; ok {
		return sd
	}
	var off []float64
	v := f.v[axis]
	stride := 1 + len(v)/400
	for i := 0; i+frames < len(v); i += stride {
		if d := math.Abs(carried(v, i, 1, frames, way, f.middle[axis]) - v[i+frames]); !math.IsNaN(d) {
			off = append(off, d)
		}
	}
	sd := math.Inf(1)
	if len(off) >= 8 {
		slices.Sort(off)
		sd = max(off[len(off)*9/10]/1.645, leastPairSDPX) // nine in ten of normal errors are within 1.645 SD
	}
	f.sd[key] = sd
	return sd
}

// keeps tells whether the two plainly are after a gap what they were before it.
func (f *pairForecaster) keeps(from, to int) bool {
	odds := 0.0
	for axis := range f.v {
		if was, is, sd := f.link(axis, from, to); !math.IsInf(sd, 1) {
			odds += 2 * was * is / (sd * sd)
		}
	}
	// One that was seen all through, and never where the other could be, is what
	// it was; so then is the other.
	return odds > plainOdds || to-from > 1 && (f.alone(f.p.a, f.p.b, from, to) || f.alone(f.p.b, f.p.a, from, to))
}

// alone tells whether one was followed through a gap of the other, evenly wherever
// it came near where the other might be.
func (f *pairForecaster) alone(one, other []Sample, from, to int) bool {
	last := from
	for i := from + 1; i < to; i++ {
		if !one[i].Seen() {
			continue
		}
		if f.solo(one).rough(last, i) && (f.near(one[i], other, from, i) && f.near(one[i], other, to, i) || i-last > 1 && f.near(one[last], other, from, last)) {
			return false
		}
		last = i
	}
	return last > from && !f.solo(one).rough(last, to)
}

// near tells whether a sample is where another path, last seen in frame from, may be
// in frame i.
func (f *pairForecaster) near(s Sample, other []Sample, from, i int) bool {
	if !other[from].Seen() {
		return true
	}
	solo := f.solo(other)
	sum := 0.0
	for axis, at := range [...]float64{s.XPX, s.YPX} {
		least := math.Inf(1)
		for _, way := range [...]int{0, byMiddle} {
			if way == byMiddle && solo.seen < solo.frames()/2 {
				continue // where it is otherwise is not known
			}
			sd := solo.usual(axis, max(i-from, from-i), way)
			x := carried(solo.v[axis], from, 1, 0, way, solo.middle[axis])
			if d := max(0, math.Abs(at-x)-sameMark*f.p.diameter) / sd; sd < math.Inf(1) {
				least = min(least, d)
			}
		}
		if math.IsInf(least, 1) {
			continue // so little is known of it
		}
		sum += least * least
	}
	return sum < mayMeetSD*mayMeetSD
}

// nearFrames is how many frames from where both were seen a single one is held
// against the forecast of the other.
const nearFrames = 3

// singles adds the frames between two in which both were seen (−1 and the number of
// frames stand for the ends of the clip) in which only one was, and may be the other:
// it was where the other may have been and did not go on there from where both were
// known.
func (f *pairForecaster) singles(into []int, from, to int) []int {
	for k, one := range [...][]Sample{f.p.a, f.p.b} {
		other := [...][]Sample{f.p.b, f.p.a}[k]
		solo := f.solo(one)
		for start := from + 1; start < to; start++ {
			if !one[start].Seen() {
				continue
			}
			end, clicked := start, false
			for ; end < to && one[end].Seen() && (end == start || !solo.rough(end-1, end) || !f.mayBe(one[end], other, from, to, end)); end++ {
				clicked = clicked || one[end].State == Clicked
			}
			// Evenly on from, or to, a frame in which both were known.
			onFrom := from >= 0 && start == from+1 && !f.doubtfulStep(one, other, from, start)
			onTo := to < len(one) && end == to && !f.doubtfulStep(one, other, to, end-1)
			if !onFrom && !onTo && !clicked {
				near := false
				for i := start; i < end; i++ {
					near = near || f.mayBe(one[i], other, from, to, i)
				}
				for i := start; i < end && near; i++ {
					into = append(into, i)
				}
			}
			start = end - 1
		}
	}
	return into
}

// mayBe tells whether a sample in frame i is where another path may be that was seen
// in frames from and to.
func (f *pairForecaster) mayBe(s Sample, other []Sample, from, to, i int) bool {
	return (from < 0 || f.near(s, other, from, i)) && (to >= len(other) || f.near(s, other, to, i))
}

// doubtfulStep tells whether a path, seen in the frame beside one in which both were,
// may have gone over to the other there.
func (f *pairForecaster) doubtfulStep(one, other []Sample, both, beside int) bool {
	step := beside - both
	odds := 0.0
	for axis, at := range [...]float64{one[beside].XPX, one[beside].YPX} {
		own, ownSD := f.solo(one).forecast(axis, both, step, 1)
		its, itsSD := f.solo(other).forecast(axis, both, step, 1)
		if math.IsInf(ownSD, 1) || math.IsInf(itsSD, 1) {
			continue
		}
		its, own = (at-its)/itsSD, (at-own)/ownSD
		odds += (its*its-own*own)/2 + math.Log(itsSD/ownSD)
	}
	return odds < plainOdds && f.near(one[beside], other, both, beside)
}

// forecast carries an axis on from a frame in the way that does best.
func (f *forecaster) forecast(axis, from, step, frames int) (x, sd float64) {
	sd = math.Inf(1)
	for way := range ways {
		usual := f.usual(axis, frames, way)
		if v := carried(f.v[axis], from, step, frames, way, f.middle[axis]); usual < sd && !math.IsNaN(v) {
			x, sd = v, usual
		}
	}
	return x, sd
}

// solo is the forecaster of one of the two.
func (f *pairForecaster) solo(samples []Sample) *forecaster {
	k := 0
	if &samples[0] == &f.p.b[0] {
		k = 1
	}
	if f.alones[k].sd == nil {
		f.alones[k] = line(samples)
	}
	return &f.alones[k]
}

// taken returns the frame from which, after both were seen for the last time in
// this direction, the one that is still seen may be on the other's sticker: it was
// where the other may have been, and did not go on there as it does. −1 for none.
func (f *pairForecaster) taken(from, step int) int {
	last := [2]int{from, from}
	for i := from + step; i >= 0 && i < len(f.p.a); i += step {
		for k, one := range [...][]Sample{f.p.a, f.p.b} {
			if !one[i].Seen() {
				continue
			}
			other := [...][]Sample{f.p.b, f.p.a}[k]
			if f.near(one[i], other, from, i) && f.solo(one).rough(min(last[k], i), max(last[k], i)) {
				return max(i, last[k]) // before which the break is
			}
			last[k] = i
		}
	}
	return -1
}

// roughSD is how many standard deviations from its forecast a place is that may be
// another's.
const roughSD = 2.0

// rough tells whether a path did not go on from one frame to another as it does.
func (f *forecaster) rough(from, to int) bool {
	if to-from > 1 {
		return true
	}
	for axis := range f.v {
		was, is, sd := f.link(axis, from, to)
		if math.IsInf(sd, 1) || math.Abs(was-is) > roughSD*sd {
			return true
		}
	}
	return false
}
