package app

import (
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
	// point were off by what may be expected there (see checkShare); Change is the
	// same in its unit.
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
	// knew nothing; less where it was surer. The median error of near knee and
	// ankle on rendered films stays below it (TestPoseOnSyntheticClip).
	checkShare = 0.04
	// checkMostShare bounds a jump by the same measure.
	checkMostShare = 0.15
	// checkRunS is the longest stretch that is one entry.
	checkRunS = 0.12
	// checkMost is how many places are tried, the plainest first, and checkShown
	// how many are listed.
	checkMost  = 30
	checkShown = 25
	// checkLeast is the effect below which a place is not worth a look: a twentieth
	// of a measure's own error.
	checkLeast = 0.05
)

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

// check works the list out: each doubtful stretch is tried by shifting the point
// there and measuring again, contacts and scale as they are.
func (c *Clip) check(ctx context.Context, s *Session) ([]PageDoubt, error) {
	r := Request{Runner: s.Runner}
	if asked := s.askedOf(c); asked != nil {
		r = *asked
	}
	doubts := c.doubtfulContacts()
	if c.IsVideo() && c.Mended != nil && c.Mended.Space == track.Picture {
		doubts = append(doubts, c.doubtfulPoints()...)
	}
	out := []PageDoubt{}
	for _, d := range doubts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if in := c.input(&r); d.contact >= 0 {
			in.Contacts.Contacts = slices.Clone(in.Contacts.Contacts)
			in.Contacts.Contacts[d.contact].Doubt = ""
			c.effect(&d.PageDoubt, measure.Measures(in))
		} else {
			// A large shift may make a stride's value so wild that it is left
			// out, where a small one stays in and is worse.
			for _, part := range [...]float64{1, 0.4} {
				in.Track = d.shifted(c.Track, part*d.shift)
				c.effect(&d.PageDoubt, measure.Measures(in))
			}
		}
		if d.Effect >= checkLeast {
			out = append(out, d.PageDoubt)
		}
	}
	slices.SortStableFunc(out, func(a, b PageDoubt) int {
		switch {
		case a.Effect > b.Effect:
			return -1
		case a.Effect < b.Effect:
			return 1
		}
		return 0
	})
	return out[:min(len(out), checkShown)], nil
}

// doubt is a place while it is tried.
type doubt struct {
	PageDoubt
	contact  int // index among the contacts, -1 for a landmark
	point    body.Landmark
	towards  body.Landmark
	shift    float64 // in the unit of the clip's track
	reach    int     // frames over which it fades
	severity float64
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
	return out[:min(len(out), checkMost/2)]
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
	var out []doubt
	for _, k := range checked {
		for _, side := range body.Sides {
			l := k.point.On(side)
			d := c.lookAt(l)
			for from := 0; from < len(d.bad); from++ {
				if d.bad[from] == 0 {
					continue
				}
				to, worst, sum := from, from, 0.0
				for i := from; i < len(d.bad) && i-from < longest && i-to <= 3; i++ {
					if d.bad[i] == 0 {
						continue
					}
					to, sum = i, sum+d.bad[i]
					if d.bad[i] > d.bad[worst] {
						worst = i
					}
				}
				off := math.Max(checkShare*(1-d.conf[worst])*legPX, math.Min(d.jump[worst], checkMostShare*legPX))
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
				out = append(out, doubt{PageDoubt: p, contact: -1, point: l, towards: k.towards.On(side), shift: off * leg / legPX, reach: reach, severity: sum * off})
				from = to
			}
		}
	}
	slices.SortStableFunc(out, func(a, b doubt) int {
		switch {
		case a.severity > b.severity:
			return -1
		case a.severity < b.severity:
			return 1
		}
		return 0
	})
	return out[:min(len(out), checkMost)]
}

// looked is what is doubtful about one landmark, frame by frame: how bad it is (0
// is sound), how sure the network was and how far off its path the point was seen.
type looked struct {
	bad, conf, jump []float64
	limit           float64 // of a jump
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

// shifted returns the track with the point moved across its limb by so much, whole
// over the stretch and fading on both sides.
func (d *doubt) shifted(t *track.Track, by float64) *track.Track {
	p, far := t.Paths[d.point], t.Paths[d.towards]
	if p == nil {
		return t
	}
	q := p.Clone()
	across := q.X
	if across == nil {
		across = q.Z
	}
	if across == nil || q.Y == nil {
		return t
	}
	dx, dy := 1.0, 0.0
	if far != nil && p.Seen(d.Frame) && far.Seen(d.Frame) {
		fx := far.X
		if fx == nil {
			fx = far.Z
		}
		if x, y := fx[d.Frame]-across[d.Frame], far.Y[d.Frame]-q.Y[d.Frame]; math.Hypot(x, y) > 0 {
			n := math.Hypot(x, y)
			dx, dy = y/n, -x/n
		}
	}
	for i := max(0, d.From-d.reach); i <= min(len(across)-1, d.To+d.reach); i++ {
		w := 1.0
		if out := max(d.From-i, i-d.To); out > 0 {
			w = (1 + math.Cos(math.Pi*float64(out)/float64(d.reach+1))) / 2
		}
		across[i] += w * by * dx
		q.Y[i] += w * by * dy
	}
	out := *t
	out.Paths[d.point] = q
	return &out
}
