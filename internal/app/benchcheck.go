package app

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// PageDoubt is a place worth checking by eye: GET
// /api/results/{id}/clips/{n}/check lists them, those that could change the result
// most first. Frames are samples of the clip's track.
type PageDoubt struct {
	// Reason is "unsure" (the network was hardly sure), "jump" (the point was seen
	// away from its path), "unseen" (it was bridged) or "contact" (a contact that
	// is not used).
	Reason     string   `json:"reason"`
	Frame      int      `json:"frame"` // the worst
	From       int      `json:"from"`
	To         int      `json:"to"` // included
	TimeS      float64  `json:"time_s"`
	Landmark   string   `json:"landmark"` // empty for a contact
	Side       string   `json:"side"`
	Confidence *float64 `json:"confidence"`
	JumpPX     *float64 `json:"jump_px"`
	// Effect is how many standard errors the measure named would move if the
	// point were off by what may be expected there (see checkShare), or by how far
	// it is from where it is in other strides where that is more; Change is the same
	// in its unit.
	Effect      float64  `json:"effect"`
	Measure     string   `json:"measure"` // its name; empty where nothing would move
	Title       string   `json:"title"`
	MeasureSide string   `json:"measure_side"`
	Change      *float64 `json:"change"`
	Unit        string   `json:"unit"`
	Decimals    int      `json:"decimals"`
	Why         string   `json:"why"` // the doubt in one sentence
}

const (
	// checkUnsure is the confidence below which a point is worth a look.
	checkUnsure = 0.5
	// checkJump is how many robust deviations from its smooth path a point must
	// have been seen to count as a jump.
	checkJump = 8.0
	// checkShare of the leg's length is what a point may be off by where the network
	// knew nothing and otherwise knows it well; less where it was surer, and nothing
	// where it is no less sure than all along: that error is the same in every stride
	// and in the measure's own. The median error of near knee and
	// ankle on rendered films stays below it (TestPoseOnSyntheticClip).
	checkShare = 0.04
	// estimateApart is how many strides lie between places that are shifted at once.
	estimateApart = 1.5
	// checkMostShare bounds a jump by the same measure.
	checkMostShare = 0.15
	// checkRunS is the longest stretch that is one entry.
	checkRunS = 0.12
	// checkMost is how many places are tried by measuring again, those of the largest
	// effect by estimate first, and checkShown how many are listed.
	checkMost  = 55
	checkShown = 25
	// checkMostContacts bounds the contacts among them.
	checkMostContacts = 15
	// checkLeast is the effect below which a place is not worth a look: a twentieth
	// of a measure's own error.
	checkLeast = 0.05
)

// trialParts of the shift are tried: a large one may make a stride's value so wild
// that it is left out, where a small one stays in and is worse.
var trialParts = [...]float64{1, 0.4}

// checked are the landmarks that are looked at, each with the one at the other end
// of its limb: a shift across the limb changes angles most.
var checked = [...]struct{ point, towards body.Landmark }{
	{body.LeftHip, body.LeftKnee}, {body.LeftKnee, body.LeftHip}, {body.LeftAnkle, body.LeftKnee}, {body.LeftHeel, body.LeftAnkle}, {body.LeftToe, body.LeftHeel},
	{body.LeftShoulder, body.LeftHip}, {body.LeftElbow, body.LeftShoulder}, {body.LeftWrist, body.LeftElbow},
}

// Check lists the places of a clip that are worth checking, in the order of how
// much they could change the result.
func (st *Studio) Check(ctx context.Context, id string, n int) ([]PageDoubt, error) {
	s, err := st.Load(id)
	if err != nil {
		return nil, err
	}
	if err := clipOf(s, n); err != nil {
		return nil, err
	}
	kept, err := st.loadKept(id)
	if err != nil {
		return nil, err
	}
	b := st.benchOf(kept)
	b.mu.Lock()
	b.warm() // a page that asks for the places to check is about to correct
	c := b.now.Clips[n]
	found, ok := b.doubts[n]
	b.mu.Unlock()
	if ok {
		return found, nil
	}
	found, err = c.check(ctx, s)
	if err != nil {
		return nil, err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.now.Clips[n] == c {
		if b.doubts == nil {
			b.doubts = map[int][]PageDoubt{}
		}
		b.doubts[n] = found
	}
	return found, nil
}

// check works the list out: the doubtful stretches that could matter most are tried
// by shifting the point there and measuring again, contacts and scale as they are.
func (c *Clip) check(ctx context.Context, s *Session) ([]PageDoubt, error) {
	r := Request{Runner: s.Runner}
	if asked := s.askedOf(c); asked != nil {
		r = *asked
	}
	doubts := c.doubtfulContacts()
	if c.IsVideo() && c.Mended != nil && c.Mended.Space == track.Picture {
		points, err := c.likeliest(ctx, c.doubtfulPoints(), &r)
		if err != nil {
			return nil, err
		}
		doubts = append(doubts, points...)
	}
	out := []PageDoubt{}
	for _, d := range doubts {
		if err := c.try(ctx, &d, &r); err != nil {
			return nil, err
		}
		if d.Effect >= checkLeast {
			out = append(out, d.PageDoubt)
		}
	}
	slices.SortStableFunc(out, func(a, b PageDoubt) int { return cmp.Compare(b.Effect, a.Effect) })
	return out[:min(len(out), checkShown)], nil
}

// try measures again with the contact used, or with the point shifted, and notes
// what that moves most. It ends where nobody waits for it any more: a correction may,
// and this would be in its way.
func (c *Clip) try(ctx context.Context, d *doubt, r *Request) error {
	in := c.input(r)
	if d.contact >= 0 {
		in.Contacts.Contacts = slices.Clone(in.Contacts.Contacts)
		in.Contacts.Contacts[d.contact].Doubt = ""
		c.effect(&d.PageDoubt, measure.Measures(in))
		return ctx.Err()
	}
	parts := trialParts[:]
	if d.part > 0 {
		parts = []float64{d.part}
	}
	for _, part := range parts {
		if err := ctx.Err(); err != nil {
			return err
		}
		in.Track = d.shifted(c.Track, part)
		c.effect(&d.PageDoubt, measure.Measures(in))
	}
	return nil
}

// doubt is a place while it is tried.
type doubt struct {
	PageDoubt
	contact  int // index among the contacts, -1 for a landmark
	point    body.Landmark
	towards  body.Landmark
	across   float64 // shift forward (from behind: sideways), in the unit of the clip's track
	up       float64
	reach    int     // frames over which it fades
	estimate float64 // of the effect, in standard errors
	part     float64 // of the shift that it rests on; 0 where there is no estimate
}

// effect finds the measure that a trial moved most.
func (c *Clip) effect(d *PageDoubt, tried []measure.Measure) {
	for i, m := range c.Measures {
		if i >= len(tried) || m.Withheld() || tried[i].Withheld() || !(m.SEM > 0) || tried[i].Name != m.Name {
			continue
		}
		change := tried[i].Value - m.Value
		if e := math.Abs(change) / m.SEM; e > d.Effect {
			about, _ := measure.Lookup(m.Name)
			d.Effect, d.Measure, d.Title, d.MeasureSide, d.Unit, d.Decimals = e, m.Name, about.Title, m.Side.String(), m.Unit, about.Decimals
			d.Change = number(change, 5)
		}
	}
	d.Effect = math.Round(d.Effect*1000) / 1000
}

func (c *Clip) doubtfulContacts() []doubt {
	var out []doubt
	for i, k := range c.Contacts.Contacts {
		if k.Doubt == "" || k.Edited {
			continue
		}
		from, to := track.NearestFrame(c.Track.TimeS, k.InitialContactS), track.NearestFrame(c.Track.TimeS, k.ToeOffS)
		out = append(out, doubt{contact: i, PageDoubt: PageDoubt{Reason: "contact", Frame: from, From: from, To: to,
			TimeS: *number(k.InitialContactS, 4), Side: k.Side.String(), Why: "this contact is not used: " + k.Doubt}})
	}
	return out[:min(len(out), checkMostContacts)]
}

func (c *Clip) doubtfulPoints() []doubt {
	leg := straightestReach(c.Track)
	if c.Info.View.Sagittal() {
		leg = medianLeg(c.Track)
	}
	legPX := leg
	if c.Track.Unit == track.Metre {
		legPX *= c.Info.Scale.PixelsPerM
	}
	if !(legPX > 0) {
		return nil
	}
	rate := c.Mended.RateHz()
	longest := max(1, int(math.Round(checkRunS*rate)))
	reach := c.smoothReach()
	usual := c.usualPlaces()
	var out []doubt
	for _, k := range checked {
		for _, side := range body.Sides {
			l := k.point.On(side)
			d := c.lookAt(l)
			for from := 0; from < len(d.bad); from++ {
				if d.bad[from] == 0 {
					continue
				}
				to, worst := from, from
				for i := from; i < len(d.bad) && i-from < longest && i-to <= 3; i++ {
					if d.bad[i] == 0 {
						continue
					}
					to = i
					if d.bad[i] > d.bad[worst] {
						worst = i
					}
				}
				off := math.Max(checkShare*(d.usual-math.Min(d.usual, d.conf[worst]))*legPX, math.Min(d.jump[worst], checkMostShare*legPX))
				p := PageDoubt{Frame: worst, From: from, To: to, TimeS: *number(c.Mended.TimeS[worst], 4), Landmark: l.String(), Side: side.String(),
					Confidence: number(d.conf[worst], 2), JumpPX: number(d.jump[worst], 1)}
				switch {
				case d.jump[worst] > d.limit:
					p.Reason, p.Why = "jump", fmt.Sprintf("it was seen %.0f pixels away from its path", d.jump[worst])
				case d.conf[worst] == 0:
					p.Reason, p.Why = "unseen", "it was not seen and was bridged from before and after"
				default:
					p.Reason, p.Why = "unsure", fmt.Sprintf("the network was hardly sure of it (%.0f %%)", 100*d.conf[worst])
				}
				found := doubt{PageDoubt: p, contact: -1, point: l, towards: k.towards.On(side), reach: reach}
				found.aim(c.Track, off*leg/legPX)
				usual.aim(&found, checkMostShare*leg)
				out = append(out, found)
				from = to
			}
		}
	}
	return out
}

// likeliest returns the places that are tried: all where they are few, else those
// whose effect is the largest by estimate.
func (c *Clip) likeliest(ctx context.Context, doubts []doubt, r *Request) ([]doubt, error) {
	if len(doubts) <= checkMost {
		return doubts, nil
	}
	if err := c.estimate(ctx, doubts, r); err != nil {
		return nil, err
	}
	slices.SortStableFunc(doubts, func(a, b doubt) int { return cmp.Compare(b.estimate, a.estimate) })
	return doubts[:checkMost], nil
}

// estimate tells of each place how many standard errors a measure would move.
// Measuring again for each would take too long; but a point that is off in one
// stride changes the values of that stride alone. So places of a landmark that lie
// far enough apart are shifted at once, and each is judged by what it makes of the
// strides about it, wild ones left out as when measuring. It ends where nobody waits
// for it any more.
func (c *Clip) estimate(ctx context.Context, doubts []doubt, r *Request) error {
	trials := measure.NewTrials(c.input(r))
	if len(trials.Plain) != len(c.Measures) {
		return nil
	}
	now := make([]float64, len(trials.Plain))
	for k, v := range trials.Plain {
		now[k] = v.Mean(v.Values)
	}
	var of [body.NumLandmarks][]*doubt
	for i := range doubts {
		of[doubts[i].point] = append(of[doubts[i].point], &doubts[i])
	}
	stretch := func(d *doubt) (fromS, toS float64) {
		return c.Track.TimeS[max(0, d.From-d.reach)], c.Track.TimeS[min(c.Track.Frames()-1, d.To+d.reach)]
	}
	apartS := c.strideS() * estimateApart
	for l, list := range of {
		for len(list) > 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
			var together, later []*doubt
			shifted, freeS := c.Track, math.Inf(-1)
			for _, d := range list {
				fromS, toS := stretch(d)
				if fromS < freeS {
					later = append(later, d)
					continue
				}
				together, shifted, freeS = append(together, d), d.shifted(shifted, 1), toS+apartS
			}
			list = later
			tried := trials.With(shifted, body.Landmark(l))
			for _, d := range together {
				fromS, toS := stretch(d)
				for k, m := range c.Measures {
					was, is := trials.Plain[k], tried[k]
					if m.Withheld() || !(m.SEM > 0) || is.Values == nil || len(was.Values) != len(is.Values) {
						continue
					}
					for _, part := range trialParts {
						values := slices.Clone(was.Values)
						for p, v := range was.Values {
							if is.FromS[p] <= toS && is.UntilS[p] >= fromS {
								values[p] = v + part*(is.Values[p]-v)
							}
						}
						if change := math.Abs(was.Mean(values) - now[k]); change/m.SEM > d.estimate {
							d.estimate, d.part = change/m.SEM, part
						}
					}
				}
			}
		}
	}
	return nil
}

// strideS is the median time of a stride, half a second at least.
func (c *Clip) strideS() float64 {
	var v []float64
	left := c.Contacts.Of(body.Left)
	for i := 1; i < len(left); i++ {
		v = append(v, left[i].InitialContactS-left[i-1].InitialContactS)
	}
	return math.Max(0.5, signal.Median(v))
}

// looked is what is doubtful about one landmark, frame by frame: how bad it is (0
// is sound), how sure the network was and how far off its path the point was seen.
type looked struct {
	bad, conf, jump []float64
	limit           float64 // of a jump
	usual           float64 // how sure the network is of the point all along
}

func (c *Clip) lookAt(l body.Landmark) looked {
	p := c.Mended.Paths[l]
	if p == nil || c.Raw.Paths[l] == nil {
		return looked{}
	}
	n := c.Mended.Frames()
	d := looked{bad: make([]float64, n), conf: make([]float64, n), jump: make([]float64, n)}
	for i := range n {
		// Where left and right were exchanged the point was seen under its other
		// name.
		raw := c.Raw.Paths[l]
		if other := c.Raw.Paths[l.Mirror()]; p.Mended != nil && p.Mended[i] && other != nil {
			raw = other
		}
		d.conf[i] = raw.ConfidenceAt(i)
		if raw.Seen(i) && p.Seen(i) {
			d.jump[i] = math.Hypot(raw.X[i]-p.X[i], raw.Y[i]-p.Y[i])
		}
	}
	d.usual = signal.Median(d.conf)
	d.limit = math.Max(3, checkJump*1.4826*signal.Median(d.jump))
	for i := range n {
		switch {
		case p.Hand != nil && p.Hand[i]:
		case d.jump[i] > d.limit:
			d.bad[i] = 1 - d.conf[i] + d.jump[i]/d.limit
		case d.conf[i] < checkUnsure:
			d.bad[i] = 1 - d.conf[i]
		}
	}
	return d
}

// axesOf returns the coordinates of a path in the plane of the view, nil for none.
func axesOf(p *track.Path) (across, up []float64) {
	if p == nil {
		return nil, nil
	}
	if p.X != nil {
		return p.X, p.Y
	}
	return p.Z, p.Y
}

// aim makes the shift of a place one of so much across the limb.
func (d *doubt) aim(t *track.Track, by float64) {
	d.across, d.up = by, 0
	px, py := axesOf(t.Paths[d.point])
	fx, fy := axesOf(t.Paths[d.towards])
	if px == nil || py == nil || fx == nil || fy == nil {
		return
	}
	x, y := fx[d.Frame]-px[d.Frame], fy[d.Frame]-py[d.Frame]
	if n := math.Hypot(x, y); n > 0 {
		d.across, d.up = by*y/n, -by*x/n
	}
}

// usualPlaces knows where the points of a clip are at the same phase of the other
// strides.
type usualPlaces struct {
	t       *track.Track
	beginsS []float64 // strides of the left foot
}

func (c *Clip) usualPlaces() usualPlaces {
	u := usualPlaces{t: c.Track}
	for _, k := range c.Contacts.Of(body.Left) {
		u.beginsS = append(u.beginsS, k.InitialContactS)
	}
	return u
}

// fewestUsual is how many other strides make a usual place.
const fewestUsual = 5

// aim makes the shift of a place the one to where the point is in other strides,
// seen from the middle of the hips (of the shoulders for a hip), where that is
// farther than the shift it has; most bounds it.
func (u usualPlaces) aim(d *doubt, most float64) {
	middle := [2]body.Landmark{body.LeftHip, body.RightHip}
	if d.point == body.LeftHip || d.point == body.RightHip {
		middle = [2]body.Landmark{body.LeftShoulder, body.RightShoulder}
	}
	px, py := axesOf(u.t.Paths[d.point])
	ax, ay := axesOf(u.t.Paths[middle[0]])
	bx, by := axesOf(u.t.Paths[middle[1]])
	if px == nil || py == nil || ax == nil || ay == nil || bx == nil || by == nil {
		return
	}
	at := func(i int) (x, y float64) { return px[i] - (ax[i]+bx[i])/2, py[i] - (ay[i]+by[i])/2 }
	var sx, sy float64
	n := 0
	for i := d.From; i <= d.To; i++ {
		k, _ := slices.BinarySearch(u.beginsS, u.t.TimeS[i])
		if k == 0 || k == len(u.beginsS) {
			continue
		}
		phase := (u.t.TimeS[i] - u.beginsS[k-1]) / (u.beginsS[k] - u.beginsS[k-1])
		var xs, ys []float64
		for j := 1; j < len(u.beginsS); j++ {
			stride := u.beginsS[j] - u.beginsS[j-1]
			if own := u.beginsS[k] - u.beginsS[k-1]; j == k || math.Abs(stride/own-1) > 0.25 {
				continue
			}
			x, y := at(track.NearestFrame(u.t.TimeS, u.beginsS[j-1]+phase*stride))
			if !math.IsNaN(x) && !math.IsNaN(y) {
				xs, ys = append(xs, x), append(ys, y)
			}
		}
		if x, y := at(i); len(xs) >= fewestUsual && !math.IsNaN(x) && !math.IsNaN(y) {
			sx, sy, n = sx+signal.Median(xs)-x, sy+signal.Median(ys)-y, n+1
		}
	}
	if n == 0 {
		return
	}
	x, y := sx/float64(n), sy/float64(n)
	if far := math.Hypot(x, y); far > math.Hypot(d.across, d.up) {
		cut := math.Min(1, most/far)
		d.across, d.up = cut*x, cut*y
	}
}

// shifted returns the track with a part of the shift made, whole over the stretch
// and fading on both sides.
func (d *doubt) shifted(t *track.Track, part float64) *track.Track {
	q := t.Paths[d.point].Clone()
	across, up := axesOf(q)
	if across == nil || up == nil {
		return t
	}
	for i := max(0, d.From-d.reach); i <= min(len(across)-1, d.To+d.reach); i++ {
		w := part
		if out := max(d.From-i, i-d.To); out > 0 {
			w *= (1 + math.Cos(math.Pi*float64(out)/float64(d.reach+1))) / 2
		}
		across[i] += w * d.across
		up[i] += w * d.up
	}
	out := *t
	out.Paths[d.point] = q
	return &out
}
