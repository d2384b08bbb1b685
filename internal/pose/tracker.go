package pose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// The tracker's rules. Distances are fractions of the region's side.
const (
	leastScore   = 0.5  // of a landmark network's answer that counts
	farthestStep = 0.3  // the region moves no farther between two frames
	largestRatio = 1.6  // nor grows or shrinks more
	samePerson   = 0.3  // overlap from which two regions are one person's
	oneBody      = 0.65 // overlap from which two people followed are one
	lookAgainS   = 1.0  // between two looks at the whole picture
	probationS   = 2.0  // how long a newcomer is compared with the leader at least
	fadeS        = 3.0  // in which the past counts for the leadership
	farBehind    = 0.6  // share of the leader's weight below which nobody else is followed
	missedS      = 3.0  // how long somebody lost may come back as the same
	strangeFor   = 5    // frames of another's colour before it is looked into
	maxFollowed  = 4    // people followed at once
)

// A Point is where the analyst pointed: picture pixels in the frame nearest to
// TimeS.
type Point struct {
	TimeS float64
	X, Y  float64
}

// A Tracker follows people through the frames of one clip, given in order. With
// one person in the picture it costs one run of the landmark network a frame,
// and one of the detector a second.
type Tracker struct {
	seer          seer
	point         *Point
	people        []*Person
	width, height int
	timeS         []float64
	lookedS       float64
	chosen        *Person // the one pointed at
	pointed       bool    // the pointed frame has passed
}

// A seer finds people and landmarks; an Engine is one.
type seer interface {
	Detect(Frame) ([]Detection, error)
	Landmarks(Frame, Region) (Pose, error)
}

// NewTracker returns a tracker for one clip. Where point is not nil, the runner
// is the person there; otherwise the one seen longest near the middle.
func NewTracker(e *Engine, point *Point) *Tracker { return newTracker(e, point) }

func newTracker(s seer, point *Point) *Tracker {
	return &Tracker{seer: s, point: point, lookedS: math.Inf(-1)}
}

// TimesS returns the times of the frames given so far, in seconds.
func (t *Tracker) TimesS() []float64 { return t.timeS }

// People returns everybody followed, in order of appearance.
func (t *Tracker) People() []*Person { return t.people }

// Next takes the clip's next frame and returns the pose in it of the person who
// leads so far. Found is false where that person is not seen.
func (t *Tracker) Next(f Frame) (Pose, error) {
	if err := f.check(); err != nil {
		return nobody(), err
	}
	if n := len(t.timeS); n == 0 {
		t.width, t.height = f.Width, f.Height
	} else if f.Width != t.width || f.Height != t.height {
		return nobody(), fmt.Errorf("frame %d is %d×%d pixels after frames of %d×%d: a clip has one size", f.Index, f.Width, f.Height, t.width, t.height)
	} else if !(f.TimeS > t.timeS[n-1]) {
		return nobody(), fmt.Errorf("frame %d is at %.6f s, not after the one before it at %.6f s", f.Index, f.TimeS, t.timeS[n-1])
	}
	t.timeS = append(t.timeS, f.TimeS)
	t.fade()
	suspect, err := t.follow(f)
	if err != nil {
		return nobody(), err
	}
	due := t.point != nil && !t.pointed && f.TimeS >= t.point.TimeS
	if lead := t.leader(); due || suspect || lead == nil || !lead.live || f.TimeS-t.lookedS >= lookAgainS {
		if err := t.look(f); err != nil {
			return nobody(), err
		}
	}
	if due {
		t.pointed = true
		t.chosen = t.personAt(t.point.X, t.point.Y)
	}
	t.release(f.TimeS)
	if lead := t.leader(); lead != nil {
		return lead.At(len(t.timeS) - 1), nil
	}
	return nobody(), nil
}

// step returns the time from the frame before to the newest one, in seconds; at
// most a tenth, so that a gap in the clip counts for nobody.
func (t *Tracker) step() float64 {
	n := len(t.timeS)
	if n < 2 {
		return 0
	}
	return min(0.1, t.timeS[n-1]-t.timeS[n-2])
}

func (t *Tracker) fade() {
	keep := math.Exp(-t.step() / fadeS)
	for _, p := range t.people {
		p.recentS *= keep
	}
}

// follow seeks the landmarks of everybody followed. It reports whether one of
// them may have been exchanged for somebody else.
func (t *Tracker) follow(f Frame) (suspect bool, err error) {
	now := len(t.timeS) - 1
	var seen []*Person
	for _, p := range t.people {
		if !p.live || !p.followed {
			continue
		}
		pose, err := t.seer.Landmarks(f, p.region)
		if err != nil {
			return false, err
		}
		if pose.Score < leastScore || !follows(p.region, pose.next) || !pose.next.valid(f.Width, f.Height) {
			p.live = false
			continue
		}
		t.accept(p, now, f, pose)
		suspect = suspect || p.strange == strangeFor || (p.strange > strangeFor && p.strange%30 == 0)
		seen = append(seen, p)
	}
	// Two that have run together on one body: the one whose path bent away to get
	// there has lost its own.
	for i, a := range seen {
		for _, b := range seen[i+1:] {
			if !a.live || !b.live || a.region.Overlap(b.region) < oneBody {
				continue
			}
			wrong := b
			if t.bend(a, now) > t.bend(b, now) || (b == t.chosen && a != t.chosen) {
				wrong = a
			}
			wrong.Poses[len(wrong.Poses)-1] = nobody()
			wrong.frames--
			wrong.live = false
		}
	}
	return suspect, nil
}

// bend measures how far a person's last step departs from the path so far, and
// how strange the colour has become.
func (t *Tracker) bend(p *Person, now int) float64 {
	before := p.At(now - 1)
	if !before.Found {
		return math.Inf(1)
	}
	d := math.Hypot(p.region.X-before.next.X-p.velX, p.region.Y-before.next.Y-p.velY) / p.region.SidePX
	return d + float64(p.strange)
}

// follows tells whether a region can be the next one of the same person.
func follows(before, after Region) bool {
	ratio := after.SidePX / before.SidePX
	return math.Hypot(after.X-before.X, after.Y-before.Y) <= farthestStep*before.SidePX &&
		ratio <= largestRatio && ratio >= 1/largestRatio
}

// accept takes a pose as the person's in frame now.
func (t *Tracker) accept(p *Person, now int, f Frame, pose Pose) {
	c := trunkColour(f, &pose)
	if p.colour.distance(c) > strangeColour {
		if p.strange++; p.strange == 1 {
			p.strangeS = t.timeS[now]
		}
		if t.timeS[now]-p.strangeS > missedS { // the light has changed
			p.colour, p.strange = c, 0
		}
	} else {
		p.strange = 0
		p.colour.blend(c, 0.02)
	}
	if len(p.Poses) > 0 && p.live {
		p.velX += 0.1 * (pose.next.X - p.region.X - p.velX)
		p.velY += 0.1 * (pose.next.Y - p.region.Y - p.velY)
	}
	w := t.step() * centreWeight(pose.Region, t.width, t.height)
	p.weightS += w
	p.recentS += w
	p.frames++
	p.seenS, p.live, p.region = t.timeS[now], true, pose.next
	p.add(now, pose)
}

// look runs the detector over the whole picture: it finds newcomers, brings back
// people lost, refreshes where bystanders are, and undoes exchanges.
func (t *Tracker) look(f Frame) error {
	now := len(t.timeS) - 1
	t.lookedS = f.TimeS
	found, err := t.seer.Detect(f)
	if err != nil {
		return err
	}
	taken := make(map[*Person]bool)
	for _, d := range found {
		if !d.Region.valid(f.Width, f.Height) {
			continue
		}
		if p := t.nearest(d.Region, taken, func(p *Person) bool { return p.live }); p != nil {
			taken[p] = true
			if !p.followed {
				p.region, p.seenS = d.Region, f.TimeS
				if t.rivals(p) {
					p.followed, p.bornS = true, f.TimeS
				}
			}
			continue
		}
		if t.followed() >= maxFollowed {
			continue
		}
		pose, err := t.seer.Landmarks(f, d.Region)
		if err != nil {
			return err
		}
		if pose.Score < leastScore || !pose.next.valid(f.Width, f.Height) {
			continue
		}
		if p := t.nearest(pose.next, nil, func(p *Person) bool { return p.live && p.followed }); p != nil && p.region.Overlap(pose.next) > oneBody {
			continue // the network slid from the detector's place onto somebody followed
		}
		c := trunkColour(f, &pose)
		p := t.exchanged(c)
		if p == nil || taken[p] {
			p = t.nearest(d.Region, taken, func(p *Person) bool {
				d := p.colour.distance(c)
				return !p.live && (d <= strangeColour && f.TimeS-p.seenS <= missedS || d <= strangeColour/2)
			})
		}
		switch {
		case p == nil:
			p = &Person{ID: len(t.people), First: now, bornS: f.TimeS}
			t.people = append(t.people, p)
		case p.live: // the colour says that the region had gone over to somebody else
			t.disown(p)
			p.velX, p.velY = 0, 0
		}
		taken[p] = true
		p.followed, p.live, p.strange = true, false, 0
		t.accept(p, now, f, pose)
	}
	return nil
}

// exchanged returns the person followed whose trunk has changed its colour for
// a while, where the colour now found elsewhere is the one it had.
func (t *Tracker) exchanged(c colour) *Person {
	for _, p := range t.people {
		if p.live && p.followed && p.strange >= strangeFor && c.known && p.colour.distance(c) <= strangeColour/2 {
			return p
		}
	}
	return nil
}

// disown takes back the frames in which the person wore another's colour.
func (t *Tracker) disown(p *Person) {
	for n := p.strange; n > 0 && len(p.Poses) > 0; n-- {
		if p.Poses[len(p.Poses)-1].Found {
			p.frames--
		}
		p.Poses = p.Poses[:len(p.Poses)-1]
	}
}

// nearest returns the person among those wanted, and not taken, whose region
// overlaps r most, and at least as one person's would.
func (t *Tracker) nearest(r Region, taken map[*Person]bool, wanted func(*Person) bool) *Person {
	var best *Person
	most := samePerson
	for _, p := range t.people {
		if taken[p] || !wanted(p) {
			continue
		}
		if o := p.region.Overlap(r); o >= most {
			best, most = p, o
		}
	}
	return best
}

func (t *Tracker) followed() (n int) {
	for _, p := range t.people {
		if p.live && p.followed {
			n++
		}
	}
	return n
}

// rivals tells whether a bystander has become as likely a runner as the leader:
// as near the middle, or the leader is gone.
func (t *Tracker) rivals(p *Person) bool {
	if t.chosen != nil {
		return false
	}
	lead := t.leader()
	return !lead.live && t.timeS[len(t.timeS)-1]-lead.seenS > lookAgainS ||
		centreWeight(p.region, t.width, t.height) > centreWeight(lead.region, t.width, t.height)
}

// release stops following whoever is not the runner: everybody but the one
// pointed at, or those who have been compared with the leader for long enough
// and stay far behind. Bystanders stay known, so that they are not taken for
// newcomers. Before the moment at which the analyst points all are followed.
func (t *Tracker) release(timeS float64) {
	lead := t.leader()
	for _, p := range t.people {
		switch {
		case p.live && !p.followed && timeS-p.seenS > 2*lookAgainS:
			p.live = false // gone
		case p == lead || !p.followed || !p.live:
		case t.chosen != nil:
			p.followed = false
		case t.point != nil && !t.pointed:
		case lead.live && timeS-p.bornS > probationS && p.recentS < farBehind*lead.recentS:
			p.followed = false
		}
	}
}

// leader returns the person who is the runner as far as is known: the one
// pointed at, or the one seen most and nearest the middle in the last seconds.
func (t *Tracker) leader() *Person {
	if t.chosen != nil {
		return t.chosen
	}
	if len(t.people) == 0 {
		return nil
	}
	return slices.MaxFunc(t.people, func(a, b *Person) int {
		return cmp.Or(cmp.Compare(a.recentS, b.recentS), cmp.Compare(centreWeight(a.region, t.width, t.height), centreWeight(b.region, t.width, t.height)))
	})
}

// Runner returns the person to measure: the one the analyst pointed at, or the
// one seen longest near the middle of the picture; and notes for the analyst
// about others who were seen. It returns nil where nobody was seen.
func (t *Tracker) Runner() (runner *Person, notes []string) {
	if len(t.people) == 0 {
		return nil, nil
	}
	runner = t.chosen
	if runner == nil {
		runner = slices.MaxFunc(t.people, func(a, b *Person) int { return cmp.Compare(a.weightS, b.weightS) })
		if t.point != nil {
			notes = append(notes, fmt.Sprintf("nobody was found at the place pointed to (%.0f, %.0f px at %.2f s); the person seen longest near the middle was taken instead", t.point.X, t.point.Y, t.point.TimeS))
		}
	}
	var others []string
	for _, p := range t.people {
		if p != runner && p.frames >= 5 {
			others = append(others, p.describe(t.width))
		}
	}
	if len(others) > 0 {
		notes = append(notes, fmt.Sprintf("%s was taken for the runner; also seen: %s. Point at the runner with --runner x,y if that is wrong", runner.describe(t.width), strings.Join(others, "; ")))
	}
	return runner, notes
}

// Pointed tells whether somebody was found at the place pointed to.
func (t *Tracker) Pointed() bool { return t.chosen != nil }

// Everybody says in words who was seen and where.
func (t *Tracker) Everybody() string {
	var all []string
	for _, p := range t.people {
		all = append(all, p.describe(t.width))
	}
	return strings.Join(all, "; ")
}

// personAt returns the person at a point of the newest frame: the one with the
// nearest centre among those whose region holds it.
func (t *Tracker) personAt(x, y float64) *Person {
	var best *Person
	near := math.Inf(1)
	for _, p := range t.people {
		if d := math.Hypot(p.region.X-x, p.region.Y-y); p.live && p.region.Contains(x, y) && d < near {
			best, near = p, d
		}
	}
	return best
}
