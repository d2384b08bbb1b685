package sticker

import (
	"errors"
	"image"
	"math"
)

// What is accepted as the point. While it is followed, half of what the click
// showed is enough; to take it up again after it was lost, more is asked.
const (
	followExplained = 0.45
	refindExplained = 0.70
	followEdges     = 0.50 // share of a round sticker's edge that must be in sight
	refindEdges     = 0.75
	// A sticker whose shorter axis is less than this share of what it was a frame
	// before is partly hidden; then this much of the picture must be explained.
	shrunk        = 0.96
	partExplained = 0.10
	partEdges     = 0.35
	// partLearn is how much of a change in size is believed while partly hidden.
	partLearn = 0.3
	// sizeDrift is how much a sticker's size may change a frame while it is lost.
	sizeDrift = 0.008
	// rivalCost is how much more, as half a chi-square, a place may ask of a point's
	// motion and still be as likely as the one where it was found again.
	rivalCost = 6.0
	// leastRun is the fewest frames in a row in which a point is believed to be
	// seen, where it was lost before and after them.
	leastRun = 3
	// refindSDPX is the largest error of a place at which it is found again.
	refindSDPX = 0.4
	// partSDPX is the error that the place of a partly hidden sticker has beyond
	// what its fit says.
	partSDPX  = 0.3
	worstSDPX = 0.8
	// partPull is the share of its distance from where it was foretold that is
	// taken into the error of a partly hidden sticker.
	partPull = 0.25
	// sureRank is the share explained, times the share in sight, at which no other
	// place is tried.
	sureRank = 0.8
	// widestPX is how far a lost point is looked for in small pictures; in large
	// ones it is a third of the shorter side.
	widestPX = 160.0
	// lostForGood is after how many frames without the point a place found again
	// has to be confirmed by the next frame.
	confirmAfter = 2
	// placedSDPX is the error of a click where nothing can be fitted.
	placedSDPX = 1.5
)

// errBeyond means that a crop does not show all that has to be searched.
var errBeyond = errors.New("the crop is too small for the search")

// anchor is what a click landed on; fitted is false where nothing could be
// fitted there and the place alone counts.
type anchor struct {
	seen
	fitted bool
	at     Click
	sample Sample
	sketch *sketch
}

// follower follows one point through frames in one direction.
type follower struct {
	pt      Point
	fitter  *fitter
	anchors map[int]*anchor // by frame, shared by both passes
	samples []Sample        // one a frame of the clip
	frame   int             // the last one stepped, -1 before the first
	path    motion

	shape  Shape
	anchor *anchor // the last one passed
	state
	lost    int
	before  picture  // the last frame about the point, for looking back
	wait    []waiter // found again, not yet confirmed
	run     []int    // the frames since it was found again; nil where it was not lost since the click
	unsure  float64  // how far another place was that looked as well when it was found again
	learned state    // how it was when it was lost before them
	// landings tells of each click's frame whether the pass came out there by
	// itself.
	landings map[int]bool
	others   map[int][][2]float64 // round stickers of its look about it, in some frames
}

// found is the point in one frame.
type found struct {
	rings     rings
	pose      pose
	x, y      float64
	sdX, sdY  float64
	explained float64
	edges     float64 // share in sight
	contrast  float64 // of a patch, grey
	drift     float64
	byAnchor  bool
	partly    bool // a round sticker of which a part is hidden
	// rivals are other places that look as well, where the point was lost.
	rivals [][2]float64
}

// state is what a follower has learned.
type state struct {
	last     found   // where it was last
	whole    rings   // how a round sticker looked when all of it was in sight
	usual    float64 // share explained while all of it was in sight
	minor    float64 // its shorter half axis then
	recent   *patch  // how it looked lately, in the anchor's own axes
	contrast float64 // of the patch when last learned
	drift    float64 // variance of the place gathered while only recent was known
	sketch   *sketch
}

type waiter struct {
	frame  int
	sample Sample
}

func newFollower(pt Point, frames int, anchors map[int]*anchor) *follower {
	w := &follower{pt: pt, fitter: &fitter{}, anchors: anchors, samples: make([]Sample, frames), frame: -1, landings: map[int]bool{}, others: map[int][][2]float64{}}
	for i := range w.samples {
		w.samples[i] = missing
	}
	return w
}

// size is the point's extent about its middle, in pixels.
func (w *follower) size() float64 {
	if w.shape == Round {
		return 1.4*w.last.rings.radius() + 1
	}
	return float64(w.anchor.patch.half)
}

// claim is what a follower found in a frame, before it is settled which of several
// followers it belongs to.
type claim struct {
	*follower
	p     picture
	got   found
	ok    bool
	aim   forecast
	sd    float64 // of the aim, pixels
	click Click
	fixed bool // it was clicked in this frame
}

// look looks for the point in a frame; errBeyond leaves everything as it was.
func (w *follower) look(frame int, p picture) (c claim, err error) {
	c = claim{follower: w, p: p}
	c.click, c.fixed = w.clickIn(frame)
	if w.anchor != nil {
		c.aim, c.sd, c.got, c.ok, err = w.search(p, nil)
	}
	return c, err
}

// nearestRival is how far the nearest place is that looked as well as the one that
// was taken, and that no other follower has; 0 for none.
func (c *claim) nearestRival(others []claim) float64 {
	least := 0.0
	for _, r := range c.got.rivals {
		d := math.Hypot(r[0]-c.got.x, r[1]-c.got.y)
		if d < sameMark*c.diameter() || least > 0 && d >= least {
			continue
		}
		// What it would be far less likely to be, and what may be another follower's
		// that has to be told from it, is left to them.
		away := math.Hypot(r[0]-c.aim.x, r[1]-c.aim.y) / c.sd
		mine := away*away/2 < c.cost(c.got)-2*math.Log(c.sd/leastSDPX)+rivalCost
		for k := range others {
			o := &others[k]
			if o.follower != c.follower && o.anchor != nil && o.lost > 0 && math.Hypot(r[0]-o.aim.x, r[1]-o.aim.y) < 5*o.sd+o.diameter() {
				mine = false
			}
			if o.follower != c.follower && (o.ok && math.Hypot(r[0]-o.got.x, r[1]-o.got.y) < sameMark*c.diameter() ||
				o.fixed && math.Hypot(r[0]-o.click.XPX, r[1]-o.click.YPX) < c.diameter()) {
				mine = false
			}
		}
		if mine {
			least = d
		}
	}
	return least
}

// settle takes what was found, or that nothing was, as what the frame shows.
func (c *claim) settle(frame int, others []claim) error {
	w := c.follower
	switch {
	case w.anchor == nil && c.fixed:
		return w.start(frame, c.p, c.click)
	case w.anchor == nil:
		return nil
	case c.fixed:
		return w.pass(frame, c.p, c.click, c.got, c.ok)
	}
	w.frame = frame
	if !c.ok {
		w.miss()
		return nil
	}
	got := c.got
	s := Sample{XPX: got.x, YPX: got.y, SDXPX: got.sdX, SDYPX: got.sdY, Quality: got.explained, State: Followed}
	if w.lost >= confirmAfter && len(w.wait) == 0 {
		// Found again: one more frame must agree before it is believed.
		w.wait = append(w.wait, waiter{frame, s})
		w.run, w.learned = []int{frame}, w.state
		w.unsure = c.nearestRival(others)
		w.accept(c.p, got)
		w.lost = confirmAfter
		return nil
	}
	for _, e := range w.wait {
		w.samples[e.frame] = e.sample
	}
	w.wait = w.wait[:0]
	w.lost = 0
	w.samples[frame] = s
	if w.run != nil {
		w.run = append(w.run, frame)
		if w.unsure > 0 {
			for _, f := range w.run[max(0, len(w.run)-2):] {
				w.samples[f].doubt(w.unsure)
			}
		}
	}
	w.accept(c.p, got)
	return nil
}

func (w *follower) clickIn(frame int) (Click, bool) {
	for _, c := range w.pt.Clicks {
		if c.Frame == frame {
			return c, true
		}
	}
	return Click{}, false
}

// skip counts a frame that could not be decoded.
func (w *follower) skip(frame int) {
	if w.anchor != nil {
		w.frame = frame
		w.miss()
	}
}

func (w *follower) miss() {
	if len(w.wait) > 0 {
		// It was something else: forget that it was found.
		for i := len(w.path.x) - len(w.wait); i < len(w.path.x); i++ {
			w.path.x[i], w.path.y[i] = math.NaN(), math.NaN()
		}
		w.lost += len(w.wait)
		w.wait = w.wait[:0]
	}
	w.lost++
	w.path.add(math.NaN(), math.NaN())
}

// forget takes back what was followed since it was found again: it was something
// else.
func (w *follower) forget() {
	if w.run == nil {
		return
	}
	for _, f := range w.run {
		w.samples[f] = missing
	}
	first := w.run[0]
	n := max(first-w.frame, w.frame-first) + 1
	for i := max(0, len(w.path.x)-n); i < len(w.path.x); i++ {
		w.path.x[i], w.path.y[i] = math.NaN(), math.NaN()
	}
	w.wait, w.run, w.state = w.wait[:0], nil, w.learned
	w.lost = confirmAfter + n
	w.before = picture{}
}

// start begins to follow at a click.
func (w *follower) start(frame int, p picture, c Click) error {
	a := w.anchors[frame]
	if a == nil {
		s, err := w.fitter.look(p, c, w.pt)
		switch {
		case err == nil:
			a = w.fitted(p, c, s)
		case c == w.pt.Clicks[0] || errors.Is(err, ErrClick):
			return err
		default:
			a = placed(c)
		}
		w.anchors[frame] = a
	}
	w.frame = frame
	w.samples[frame] = a.sample
	if a.fitted {
		w.take(p, a)
	}
	return nil
}

func placed(c Click) *anchor {
	return &anchor{at: c, sample: Sample{XPX: c.XPX, YPX: c.YPX, SDXPX: placedSDPX, SDYPX: placedSDPX, State: Clicked}}
}

// fitted makes an anchor of what was seen at a click.
func (w *follower) fitted(p picture, c Click, s seen) *anchor {
	a := &anchor{seen: s, fitted: true, at: c}
	a.sample = Sample{XPX: s.pose.x, YPX: s.pose.y, Quality: 1, State: Clicked}
	size, detail := 0.0, float64(maxHalf)
	if s.shape == Round {
		a.sample.SDXPX, a.sample.SDYPX, a.sample.Quality = s.rings.sdX, s.rings.sdY, s.rings.explained
		size, detail = 1.4*s.rings.radius()+1, 0.7*s.rings.narrowest()
	} else {
		// The point is what was clicked: it has no error against itself.
		a.sample.SDXPX, a.sample.SDYPX = modelSDPX, modelSDPX
		size = float64(s.patch.half)
	}
	a.sketch = sketchOf(p, s.pose.x, s.pose.y, size, detail)
	return a
}

// take goes on from an anchor.
func (w *follower) take(p picture, a *anchor) {
	w.anchor, w.shape = a, a.shape
	w.sketch, w.recent, w.drift, w.lost = a.sketch, a.patch, 0, 0
	w.contrast = a.contrast
	w.wait, w.run, w.unsure = w.wait[:0], nil, 0
	w.last = found{rings: a.rings, pose: a.pose, x: a.sample.XPX, y: a.sample.YPX}
	w.whole, w.minor, w.usual = a.rings, a.rings.minor(), a.sample.Quality
	w.path.add(a.sample.XPX, a.sample.YPX)
	w.remember(p)
}

// pass honours a correction.
func (w *follower) pass(frame int, p picture, c Click, got found, ok bool) error {
	a := w.anchors[frame]
	if a == nil {
		if !p.inside(c.XPX, c.YPX) {
			_, err := w.fitter.look(p, c, w.pt)
			return err
		}
		near := max(2*ClickSDPX, 0.35*w.size())
		if w.shape == Textured {
			near = 1.5 * ClickSDPX
		}
		if ok && math.Hypot(got.x-c.XPX, got.y-c.YPX) <= near {
			// What was followed is what was clicked: the fit is finer than the hand.
			a = &anchor{seen: w.anchor.seen, fitted: true, at: c, sketch: w.sketch}
			a.rings, a.pose = got.rings, got.pose
			a.sample = Sample{XPX: got.x, YPX: got.y, SDXPX: got.sdX, SDYPX: got.sdY, Quality: got.explained, State: Clicked}
		} else {
			pt := w.pt
			if w.shape == Round {
				pt.DiameterPX = 2 * w.last.rings.radius()
				pt.Shape = Round
			}
			if s, err := w.fitter.look(p, c, pt); err == nil && math.Hypot(s.pose.x-c.XPX, s.pose.y-c.YPX) <= near {
				a = w.fitted(p, c, s)
			} else {
				a = placed(c)
			}
		}
		w.anchors[frame] = a
	}
	w.landings[frame] = ok && math.Hypot(got.x-a.sample.XPX, got.y-a.sample.YPX) <= 3*math.Hypot(a.sample.SDXPX, got.sdX)+ClickSDPX
	w.frame = frame
	w.samples[frame] = a.sample
	if a.fitted {
		w.take(p, a)
		return nil
	}
	// A place without a picture: go on from there with the old appearance.
	w.wait = w.wait[:0]
	w.path.add(c.XPX, c.YPX)
	w.lost = 0
	w.last.x, w.last.y = c.XPX, c.YPX
	w.before = picture{}
	return nil
}

// search looks for the point in a picture, but not at the marks that are taken.
func (w *follower) search(p picture, taken []mark) (aim forecast, sd float64, best found, ok bool, err error) {
	size := w.size()
	widest := max(widestPX, float64(min(p.whole.Dx(), p.whole.Dy()))/3)
	sketches := []*sketch{w.sketch}
	if w.anchor.sketch != w.sketch {
		sketches = append(sketches, w.anchor.sketch)
	}
	for i, at := range w.path.next(size, widest) {
		if i == 0 {
			aim, sd = at, w.path.sd(at)
		}
		if at.anywhere {
			at.x, at.y = float64(p.whole.Dx())/2, float64(p.whole.Dy())/2
			at.reach = max(at.x, at.y)
		}
		at.x = min(max(at.x, float64(p.whole.Min.X)), float64(p.whole.Max.X)-0.01)
		at.y = min(max(at.y, float64(p.whole.Min.Y)), float64(p.whole.Max.Y)-0.01)
		if !p.covers(around(at.x, at.y, at.reach+2.5*size+8)) {
			return aim, sd, found{}, false, errBeyond
		}
		rank := 0.0
		for _, c := range w.fitter.find(p, sketches, at.x, at.y, at.reach, taken) {
			got, good := w.fit(p, c.x, c.y)
			d := math.Hypot(got.x-at.x, got.y-at.y)
			if good && got.partly {
				if d > 0.6*size+4*w.path.carryErr {
					continue // too far for something hardly seen
				}
				// How far it is from where it should be tells of its error.
				got.sdX, got.sdY = math.Hypot(got.sdX, partPull*d), math.Hypot(got.sdY, partPull*d)
			}
			if !good || d > at.reach+size || isTaken(taken, got.x, got.y) {
				continue
			}
			d /= at.reach
			r := got.explained * got.edges
			if got.partly {
				r = 0.5 * got.edges // what covers it is explained by chance
			}
			r -= 0.15 * d * d
			if w.lost >= confirmAfter {
				got.rivals = append(best.rivals, [2]float64{got.x, got.y})
				best.rivals = got.rivals
			}
			if !ok || r > rank {
				best, ok, rank = got, true, r
			}
			if rank > sureRank && w.lost < confirmAfter {
				break // likelier than the rest, and it fits
			}
		}
		if ok {
			return aim, sd, best, true, nil
		}
	}
	return aim, sd, found{}, false, nil
}

// fit fits the point near a place and judges whether it is the point.
func (w *follower) fit(p picture, x, y float64) (found, bool) {
	lost := w.lost >= confirmAfter
	need, edges := followExplained, followEdges
	if lost {
		need, edges = max(refindExplained, 0.85*w.usual), refindEdges
	} else if w.shape == Round {
		need = max(need, 0.65*w.usual)
	}
	if w.shape == Round {
		m := w.last.rings
		m.gx, m.gy = 0, 0
		m.x, m.y = x, y
		got, ok := w.fitter.fitRings(p, m, steady)
		partly := false
		less := shrunk
		if lost {
			less = max(0.8, shrunk-sizeDrift*float64(w.lost))
			if ok && got.minor() < less*w.minor {
				return found{}, false // not all of it is in sight yet
			}
		}
		if !lost && (!ok || got.minor() < less*w.minor) {
			// Part of it is hidden, or it shrank faster than a sticker does: keep
			// its shape and ask only where what is seen of it lies.
			m = w.whole
			m.x, m.y = x, y
			got, ok = w.fitter.fitRings(p, m, placeOnly)
			partly = true
			need, edges = partExplained, partEdges
		}
		if !ok || got.explained < need || got.edgeSeen < edges || max(got.sdX, got.sdY) > worstSDPX || got.flattening() > 3.5 {
			return found{}, false
		}
		if partly {
			got.sdX, got.sdY = math.Hypot(got.sdX, partSDPX), math.Hypot(got.sdY, partSDPX)
		} else {
			// A little of it may be hidden without being noticed.
			less := 0.5 * max(0, w.minor-got.minor())
			got.sdX, got.sdY = math.Hypot(got.sdX, less), math.Hypot(got.sdY, less)
		}
		change := got.radius() / w.last.rings.radius()
		whole := got.radius() / w.anchor.rings.radius()
		main := w.last.rings.mainEdge()
		light := got.step[main] / w.last.rings.step[main]
		if spread := min(0.06+sizeDrift*float64(w.lost), 0.2); lost &&
			(change < 1-spread || change > 1+spread || light < 0.6 || light > 1.6 || max(got.sdX, got.sdY) > refindSDPX+0.5*spread*got.radius()) {
			return found{}, false
		}
		if change < 0.75 || change > 1.33 || whole < 0.4 || whole > 2.5 || light < 0.4 || light > 2.5 || got.contrast() < 5 {
			return found{}, false
		}
		return found{rings: got, pose: pose{x: got.x, y: got.y, xx: 1, yy: 1}, x: got.x, y: got.y,
			sdX: got.sdX, sdY: got.sdY, explained: got.explained, edges: got.edgeSeen, byAnchor: true, partly: partly}, true
	}
	q := w.last.pose
	q.x, q.y = x, y
	got, ok := w.fitter.register(p, w.recent, q)
	if !ok {
		got, ok = w.fitter.register(p, w.anchor.patch, q)
	}
	if light := got.contrast / w.contrast; !ok || got.explained < need || got.kept < edges || light < 0.4 || light > 2.5 {
		return found{}, false
	}
	out := found{pose: got.pose, x: got.x, y: got.y, sdX: got.sdX, sdY: got.sdY, explained: got.explained, edges: got.kept, drift: w.drift, contrast: got.contrast}
	if m, ok := w.fitter.register(p, w.anchor.patch, got.pose); ok && m.explained > 0.6 && m.explained > 0.7*got.explained {
		// The click's own picture holds: no drift.
		out = found{pose: m.pose, x: m.x, y: m.y, sdX: m.sdX, sdY: m.sdY, explained: m.explained, edges: m.kept, contrast: m.contrast, byAnchor: true}
	} else {
		out.drift += got.sdX*got.sdX + got.sdY*got.sdY
		out.sdX, out.sdY = math.Hypot(out.sdX, math.Sqrt(out.drift/2)), math.Hypot(out.sdY, math.Sqrt(out.drift/2))
	}
	if max(out.sdX, out.sdY) > worstSDPX || lost && !out.byAnchor {
		return found{}, false
	}
	if !w.holdsBackward(p, &out) {
		return found{}, false
	}
	return out, true
}

// holdsBackward follows a patch from this frame back to the one before: it must
// come out where it was, and what it misses by is part of the error.
func (w *follower) holdsBackward(p picture, got *found) bool {
	if w.before.pix == nil || w.lost > 0 || got.byAnchor && got.explained > 0.8 {
		return true
	}
	half := w.anchor.patch.half
	weight := w.anchor.patch.weight
	grey := make([]float64, len(weight))
	sample(p, got.pose, half, grey)
	now := newPatch(half, grey, weight)
	if now == nil {
		return false
	}
	back, ok := w.fitter.register(w.before, now, w.last.pose)
	if !ok {
		return got.byAnchor
	}
	dx, dy := back.x-w.last.x, back.y-w.last.y
	if math.Hypot(dx, dy) > 1.5 {
		return false
	}
	got.sdX, got.sdY = math.Hypot(got.sdX, dx/2), math.Hypot(got.sdY, dy/2)
	return true
}

// accept takes a place as the point's and learns how it looks now.
func (w *follower) accept(p picture, got found) {
	w.last = got
	if w.shape == Round {
		if got.partly {
			// Its size and light are what they were when all of it was seen: what
			// covers it would have them drift.
			k := 1 + partLearn*(got.rings.radius()/w.whole.radius()-1)
			w.whole.x, w.whole.y = got.rings.x, got.rings.y
			w.whole.xx, w.whole.xy, w.whole.yy = w.whole.xx/k, w.whole.xy/k, w.whole.yy/k
			w.last.rings = w.whole
			w.minor = w.whole.minor()
		} else {
			w.whole = got.rings
			w.minor += 0.7 * (got.rings.minor() - w.minor)
		}
	}
	w.path.add(got.x, got.y)
	if !got.partly && got.edges > 0.8 {
		w.usual += 0.1 * (got.explained - w.usual)
	}
	if got.explained > 0.7 && got.edges > 0.8 && !got.partly {
		detail := float64(maxHalf)
		if w.shape == Round {
			detail = 0.7 * got.rings.narrowest()
		}
		if s := sketchOf(p, got.x, got.y, w.size(), detail); s != nil {
			w.sketch = s
		}
		if w.shape == Textured {
			w.learn(p, got)
		}
	}
	w.drift = got.drift
	w.remember(p)
}

// learn blends how the patch looks now into how it looked lately.
func (w *follower) learn(p picture, got found) {
	const share = 0.15
	t := w.anchor.patch
	grey := make([]float64, len(t.grey))
	sample(p, got.pose, t.half, grey)
	if _, sd := normalise(grey, t.weight); sd < 0.5 {
		return
	}
	for k := range grey {
		grey[k] = share*grey[k] + (1-share)*w.recent.grey[k]
	}
	w.contrast += 0.3 * (got.contrast - w.contrast)
	w.recent = slopes(t.half, grey, t.weight)
}

// remember keeps the frame about a patch for looking back.
func (w *follower) remember(p picture) {
	if w.shape != Textured {
		return
	}
	half := 2.5*w.size() + 8
	w.before = p.crop(around(w.last.x, w.last.y, half))
	w.before.whole = p.whole
}

// need returns what has to be kept of a frame so that the point can be looked
// for in it and in some frames after it.
func (w *follower) need(whole image.Rectangle) image.Rectangle {
	if w.anchor == nil {
		return whole
	}
	size := w.size()
	half := max(8*size, float64(min(whole.Dx(), whole.Dy()))/6)
	return around(w.last.x, w.last.y, half).Intersect(whole)
}
