package app

import (
	"context"
	"errors"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/num/signal"
)

// Side by side, two strides are matched by their phase: each runs from one foot's
// initial contact to the same foot's next, and what is shown together is the same
// fraction of both, whatever the frame rates and step rates are.

// stride is one foot's initial contact to its next, in seconds on the clip's clock.
type stride struct {
	fromS, toS float64
	toeOffS    float64
	doubt      bool // one of its contacts is not trusted
}

func (s stride) durationS() float64 { return s.toS - s.fromS }

// phase is where a moment lies in the stride: 0 at its start, 1 at its end.
func (s stride) phase(timeS float64) float64 { return (timeS - s.fromS) / s.durationS() }

// A stride that is longer or shorter than the usual one by these factors lacks a
// contact or has one too many. Our own choice: steps on a treadmill differ by a
// few percent.
const (
	longestStride  = 1.6
	shortestStride = 0.6
)

// stridesOf lists the whole strides of a foot within the clock of the frames.
func stridesOf(contacts event.Series, side body.Side, timeS []float64) []stride {
	if len(timeS) < 2 {
		return nil
	}
	of := contacts.Of(side)
	var all []stride
	var durations []float64
	for i := 0; i+1 < len(of); i++ {
		s := stride{of[i].InitialContactS, of[i+1].InitialContactS, of[i].ToeOffS, of[i].Doubt != "" || of[i+1].Doubt != ""}
		if s.durationS() > 0 {
			all, durations = append(all, s), append(durations, s.durationS())
		}
	}
	if len(all) == 0 {
		return nil
	}
	usual := signal.Median(durations)
	return slices.DeleteFunc(all, func(s stride) bool {
		d := s.durationS()
		return d > longestStride*usual || d < shortestStride*usual || s.fromS < timeS[0] || s.toS > timeS[len(timeS)-1]
	})
}

// PagePair is one step of two strides seen together: the phase, and the frame of
// each that is nearest to it. Frames are samples of the clips.
type PagePair struct {
	Phase float64 `json:"phase"` // 0 at initial contact, toward 1
	A     int     `json:"a"`
	B     int     `json:"b"`
}

// pairUp matches two strides by phase, in as many even steps as the one with more
// frames has, so that no frame of it is passed by. The frames shown lie within half
// a frame of the phase.
func pairUp(clockA []float64, a stride, clockB []float64, b stride) []PagePair {
	n := max(framesIn(clockA, a), framesIn(clockB, b), 1)
	out := make([]PagePair, n)
	for k := range out {
		p := float64(k) / float64(n)
		out[k] = PagePair{Phase: math.Round(p*1e6) / 1e6,
			A: track.NearestFrame(clockA, a.fromS+p*a.durationS()), B: track.NearestFrame(clockB, b.fromS+p*b.durationS())}
	}
	return out
}

func framesIn(clock []float64, s stride) (n int) {
	for _, t := range clock {
		if s.fromS <= t && t < s.toS {
			n++
		}
	}
	return n
}

// legOf tells how large and where the runner is in a stride: the length of a leg in
// the units of the drawn track, thigh and shank together, and the mean place of the
// middle of the hips. From the side it is the median of the near leg, which swings in the
// picture's plane; from behind the leg is seen shortened save where it is straight,
// so a high part of the values stands for its length. It is false where hip, knee
// and ankle are never seen together.
func (c *Clip) legOf(s stride) (leg, x, y float64, ok bool) {
	sides := body.Sides[:]
	part := 0.9
	if c.Info.View.Sagittal() {
		part = 0.5
		if near := c.near(); near != body.NoSide {
			sides = []body.Side{near}
		}
	}
	t := c.Mended
	at := func(l body.Landmark, i int) (x, y float64, ok bool) {
		p := t.Paths[l]
		if p == nil || !p.Seen(i) {
			return 0, 0, false
		}
		return p.X[i], p.Y[i], true
	}
	var legs []float64
	n := 0
	for i, when := range t.TimeS {
		if when < s.fromS || when >= s.toS {
			continue
		}
		lx, ly, okL := at(body.LeftHip, i)
		rx, ry, okR := at(body.RightHip, i)
		if okL && okR {
			x, y, n = x+(lx+rx)/2, y+(ly+ry)/2, n+1
		}
		for _, side := range sides {
			hx, hy, ok1 := at(body.LeftHip.On(side), i)
			kx, ky, ok2 := at(body.LeftKnee.On(side), i)
			ax, ay, ok3 := at(body.LeftAnkle.On(side), i)
			if ok1 && ok2 && ok3 {
				legs = append(legs, math.Hypot(kx-hx, ky-hy)+math.Hypot(ax-kx, ay-ky))
			}
		}
	}
	if n == 0 || len(legs) == 0 {
		return 0, 0, 0, false
	}
	slices.Sort(legs)
	leg = legs[int(part*float64(len(legs)-1))]
	return leg, x / float64(n), y / float64(n), leg > 0
}

// PageStride is a stride in the list of a clip's.
type PageStride struct {
	FromS      float64 `json:"from_s"`
	ToS        float64 `json:"to_s"`
	ToeOff     float64 `json:"toe_off"` // its phase
	FirstFrame int     `json:"first_frame"`
	LastFrame  int     `json:"last_frame"` // before the next contact
	Doubt      bool    `json:"doubt"`
}

// PagePart is one of the two that are seen together.
type PagePart struct {
	Strides []PageStride `json:"strides"`
	Stride  int          `json:"stride"` // the one that is matched
	// LegPX is the length of the leg in the picture and HipXPX, HipYPX where the
	// middle of the hips is in the mean of the stride; null where not seen.
	LegPX  *float64 `json:"leg_px"`
	HipXPX *float64 `json:"hip_x_px"`
	HipYPX *float64 `json:"hip_y_px"`
}

// PagePairing is two strides matched.
type PagePairing struct {
	Foot  string     `json:"foot"`
	A     PagePart   `json:"a"`
	B     PagePart   `json:"b"`
	Steps []PagePair `json:"steps"`
	// Notes are what to mind when the two are compared.
	Notes []string `json:"notes"`
}

// PageShown names a stride of a clip of a result.
type PageShown struct {
	Result string `json:"result"`
	Clip   int    `json:"clip"`
	Stride int    `json:"stride"`
}

// footOf reads a side as the page names it.
func footOf(s string) (body.Side, error) {
	for _, side := range body.Sides {
		if side.String() == s {
			return side, nil
		}
	}
	return body.NoSide, problem(KindUsage, "", "", "the foot is %q; it must be left or right", clean(s, 20))
}

// shown opens the clip of one part, which must be a film.
func (st *Studio) shown(p PageShown) (*Session, *Clip, error) {
	s, err := st.Load(p.Result)
	if err != nil {
		return nil, nil, err
	}
	if err := clipOf(s, p.Clip); err != nil {
		return nil, nil, err
	}
	c := s.Clips[p.Clip]
	if !c.IsVideo() {
		return nil, nil, problem(KindUsage, c.name(), "Choose a film.", "has no pictures")
	}
	return s, c, nil
}

// strideOf returns the strides of a foot in a clip and checks that the chosen one is
// there.
func (c *Clip) strideOf(side body.Side, n int) ([]stride, error) {
	all := stridesOf(c.Contacts, side, c.Mended.TimeS)
	switch {
	case len(all) == 0:
		return nil, problem(KindNoResult, c.name(), "Choose the other foot, or add contacts at the bench.", "has no whole stride of the %s foot", side)
	case n < 0 || n >= len(all):
		return nil, problem(KindUsage, c.name(), "", "has %d strides of the %s foot, counted from 0; there is no stride %d", len(all), side, n)
	}
	return all, nil
}

// Pairing matches two strides.
func (st *Studio) Pairing(a, b PageShown, foot string) (PagePairing, error) {
	side, err := footOf(foot)
	if err != nil {
		return PagePairing{}, err
	}
	out := PagePairing{Foot: foot, Notes: []string{}}
	var clips [2]*Clip
	var strides [2]stride
	for i, p := range []PageShown{a, b} {
		_, c, err := st.shown(p)
		if err != nil {
			return PagePairing{}, err
		}
		all, err := c.strideOf(side, p.Stride)
		if err != nil {
			return PagePairing{}, err
		}
		part := PagePart{Strides: make([]PageStride, len(all)), Stride: p.Stride}
		for k, s := range all {
			part.Strides[k] = PageStride{FromS: *number(s.fromS, 4), ToS: *number(s.toS, 4), ToeOff: *number(s.phase(s.toeOffS), 4),
				FirstFrame: track.NearestFrame(c.Mended.TimeS, s.fromS), LastFrame: max(0, track.NearestFrame(c.Mended.TimeS, s.toS)-1), Doubt: s.doubt}
		}
		if leg, x, y, ok := c.legOf(all[p.Stride]); ok {
			part.LegPX, part.HipXPX, part.HipYPX = number(leg, 2), number(x, 2), number(y, 2)
		}
		clips[i], strides[i] = c, all[p.Stride]
		if i == 0 {
			out.A = part
		} else {
			out.B = part
		}
	}
	out.Steps = pairUp(clips[0].Mended.TimeS, strides[0], clips[1].Mended.TimeS, strides[1])
	out.Notes = compareNotes(clips[0], clips[1], strides[0], strides[1])
	return out, nil
}

// speedsDiffer is the difference of two belt speeds, as a fraction, from which the
// strides are not like with like: our own choice, about the reading of a console.
const speedsDiffer = 0.03

// compareNotes tells what to mind when two strides are laid beside each other, as
// codes that the page has words for.
func compareNotes(a, b *Clip, s, t stride) []string {
	out := []string{}
	if a.Info.View != b.Info.View {
		out = append(out, "view")
	}
	v, w := a.Info.BeltSpeedMPS, b.Info.BeltSpeedMPS
	switch {
	case v > 0 && w > 0 && math.Abs(v-w) > speedsDiffer*math.Max(v, w):
		out = append(out, "speed")
	case a != b && (v == 0 || w == 0):
		out = append(out, "speed_unknown")
	}
	if math.Abs(a.Info.YawDeg-b.Info.YawDeg) > 5 {
		out = append(out, "camera")
	}
	if s.doubt || t.doubt {
		out = append(out, "doubt")
	}
	return out
}

// PageBeside is what can be set side by side with a visit or a result.
type PageBeside struct {
	Runner  string         `json:"runner"`
	Visit   string         `json:"visit"`   // empty for a result without one
	Results []PageBesideOf `json:"results"` // of this visit first, then of earlier and later ones
}

// PageBesideOf is a result that can be chosen.
type PageBesideOf struct {
	Result   string   `json:"result"`
	Visit    string   `json:"visit"`
	Date     string   `json:"date"` // of the visit, or of the measurement
	Created  string   `json:"created"`
	Views    []string `json:"views"` // of its clips, by index
	SpeedMPS *float64 `json:"speed_mps"`
	Current  bool     `json:"current"` // the newest of its visit
	Here     bool     `json:"here"`    // of the visit that was asked for
}

// BesideVisit lists the results of a visit and of the runner's other visits.
func (st *Studio) BesideVisit(ctx context.Context, id string) (PageBeside, error) {
	out := PageBeside{Visit: id, Results: []PageBesideOf{}}
	err := st.readRecords(ctx, func(r store.Reader) error {
		v, err := r.Visit(id)
		if err != nil {
			return missingRecord(err, "visit")
		}
		runner, err := r.Runner(v.RunnerID)
		if err != nil {
			return err
		}
		out.Runner = runner.Name
		visits, err := r.VisitsOf(runner.ID)
		if err != nil {
			return err
		}
		slices.SortStableFunc(visits, func(a, b store.Visit) int {
			switch {
			case a.ID == id && b.ID != id:
				return -1
			case b.ID == id && a.ID != id:
				return 1
			}
			return 0
		})
		for _, one := range visits {
			results, err := r.ResultsOf(one.ID)
			if err != nil {
				return err
			}
			for i, result := range results {
				line, err := parseLine(result)
				if err != nil {
					return err
				}
				out.Results = append(out.Results, PageBesideOf{Result: result.ID, Visit: one.ID, Date: one.Date.Format(dayForm), Created: line.Created, Views: emptyNotNil(line.Views),
					SpeedMPS: line.SpeedMPS, Current: i == 0, Here: one.ID == id})
			}
		}
		return nil
	})
	return out, err
}

// BesideResult lists what can be set beside a result: the results of its runner, or
// itself alone where it belongs to no visit.
func (st *Studio) BesideResult(ctx context.Context, id string) (PageBeside, error) {
	s, err := st.loadKept(id)
	if err != nil {
		return PageBeside{}, err
	}
	if s.VisitID != "" {
		out, err := st.BesideVisit(ctx, s.VisitID)
		var p *Problem
		if err == nil || !(errors.As(err, &p) && p.Kind == KindNotFound) {
			return out, err
		}
	}
	line := s.summary()
	return PageBeside{Runner: s.Runner.Name, Results: []PageBesideOf{{Result: s.ID, Date: s.Created.Format(dayForm), Created: line.Created,
		Views: emptyNotNil(line.Views), SpeedMPS: line.SpeedMPS, Current: true, Here: true}}}, nil
}
