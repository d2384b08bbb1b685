package event

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/num/kept"
	"gaitwright/num/signal"
)

// MotionOptions are what MotionContacts needs to know beside the landmarks.
type MotionOptions struct {
	View    clip.View    // where the camera stood; Spatial for marker files
	Surface clip.Surface // what was run on
	// Origin of the foot and leg landmarks; NoOrigin takes that of the ankles.
	Origin track.Origin
	// Kept holds what was worked out from the paths of a track of the same clock; nil
	// keeps nothing. The paths must not be changed afterwards.
	Kept *kept.Store
}

// OvergroundS is added to times found overground.
//
// The rules were learned from an instrumented treadmill whose force runs 4 to 6
// ms ahead of its markers: shifted by so much, the vertical acceleration of the
// pelvis fits the force best. On the overground plates of Dorn et al. (2012, J
// Exp Biol 215:1944) the force runs 3 ms behind, for the pelvis as for the whole
// centre of mass. No landmark can tell such a shift between the clocks of one
// laboratory; this amount lies between zero lag and theirs. It rests on one file of
// five contacts of one runner: what stands behind it is overgroundSDS, which is
// part of the systematic error of every time, and so of the error of contact and
// flight time, that is given overground.
const OvergroundS = 0.006

// overgroundSDS is how far OvergroundS may be off, one standard deviation. In the
// one file the force lies 8 ms from where the treadmill's would, and of initial
// contact and toe-off by 4 ms differently; this spans from no shift at all to all of
// it within two standard deviations.
const overgroundSDS = 0.004

// clockSDS is how much the clocks of force and markers may differ between
// laboratories, one standard deviation; part of every systematic error given.
const clockSDS = 0.003

// Too little motion for contacts.
const (
	leastFrames   = 10
	leastRateHz   = 20.0
	leastContacts = 4 // two strides of both feet
	// A foot that is on the ground while the other lands walks; so many contacts
	// must show it.
	walkingShare = 0.5
)

// MotionContacts finds the contacts of both feet from landmarks alone. t is in
// runner space, metres or pixels, mended (gaps, outliers, swaps) but not
// smoothed: smoothing is part of the rules. A side view or marker file gives the
// best times; a rear or front view lacks the forward axis and gives rougher ones,
// which a note says.
//
// Several rules, called witnesses, are asked about each contact, and what they
// say is joined by what is known of their errors from contacts timed by force;
// see [Table]. Contacts that the start or the end of the clip cuts are left out.
func MotionContacts(t *track.Track, opt MotionOptions) (Series, error) {
	if err := checkMotion(t); err != nil {
		return Series{}, err
	}
	l := newLimbs(t, opt.Kept)
	if l.legs[body.Left] == nil && l.legs[body.Right] == nil {
		return Series{}, errors.New("no ankle and no heel was seen, so contacts cannot be found: the feet must be in the picture, or their markers in the file")
	}
	if !(l.length > 0) {
		return Series{}, errors.New("hips and ankles were never seen together, so contacts cannot be found: film the whole runner")
	}
	if opt.Origin == track.NoOrigin {
		opt.Origin = originOfFeet(t)
	}
	tables := &tables[kindOf(l.hasX, opt.View, opt.Origin, t.Unit)]
	frame := frameSD(t.RateHz())
	s := Series{Method: FromMotion, Rule: tables.rule}
	s.Contacts = l.contacts(tables, frame)
	for _, side := range body.Sides {
		if l.legs[side] == nil {
			s.Notes = append(s.Notes, fmt.Sprintf("the %s ankle was not seen: no contacts of that foot", side))
		}
	}
	if !l.hasX {
		switch steps := l.stepping(); {
		case len(steps.steps) == 0 && steps.strideS > 0:
			return Series{}, errors.New("the body rises and falls in steps, but which foot stands cannot be told: at its lowest points neither ankle is plainly the lower; film both feet in good light, or from the side")
		case 120/steps.strideS < leastStepRate:
			s.Notes = append(s.Notes, fmt.Sprintf("%.0f steps a minute are few for running; from behind or in front walking cannot be told from it, and these rules are for running", 120/steps.strideS))
		}
	}
	sortContacts(s.Contacts)
	s.mendRhythm(l, tables, frame)
	if opt.Surface == clip.Overground {
		for i := range s.Contacts {
			s.Contacts[i].InitialContactS += OvergroundS
			s.Contacts[i].ToeOffS += OvergroundS
		}
	}
	s.Contacts = withinClip(s.Contacts, t)
	doubtMissing(s.Contacts, t)
	if len(s.Contacts) < leastContacts {
		return Series{}, fmt.Errorf("%s %s found, fewer than two strides: film at least ten seconds of steady running with both feet in the picture all the time", countContacts(len(s.Contacts)), wasWere(len(s.Contacts)))
	}
	if err := checkFlight(s); err != nil {
		return Series{}, err
	}
	if !l.hasX {
		s.raiseErrors()
	}
	elsewhere := clockSDS
	if opt.Surface == clip.Overground {
		elsewhere = math.Hypot(clockSDS, overgroundSDS)
		s.Notes = append(s.Notes, "the rules were learned on a treadmill; overground their times are moved by 6 ms, which rests on one recorded run, and their stated error is wider for it")
	}
	s.InitialContactBiasSDS = math.Hypot(tables.of[TouchDown].RunnerSDS, elsewhere)
	s.ToeOffBiasSDS = math.Hypot(tables.of[LiftOff].RunnerSDS, elsewhere)
	if tables.note != "" {
		s.Notes = append(s.Notes, tables.note)
	}
	if r := t.RateHz(); r < 50 {
		s.Notes = append(s.Notes, fmt.Sprintf("at %.0f frames a second single contact times are rough; film at 120 or more for contact and flight times", r))
	}
	return s, nil
}

func countContacts(n int) string {
	switch n {
	case 0:
		return "no contacts"
	case 1:
		return "1 contact"
	}
	return fmt.Sprintf("%d contacts", n)
}

func checkMotion(t *track.Track) error {
	if t == nil || t.Frames() < leastFrames {
		return fmt.Errorf("the clip has fewer than %d frames: a still picture has no contacts; film at least ten seconds of running", leastFrames)
	}
	if t.Space != track.Runner {
		return errors.New("contacts are looked for in runner space: turn the track with the view first")
	}
	if err := t.Validate(); err != nil {
		return err
	}
	if r := t.RateHz(); r < leastRateHz {
		return fmt.Errorf("the clip has %.0f frames a second; contacts need at least %.0f, and 120 or more for contact times", r, leastRateHz)
	}
	if d := t.DurationS(); d > maxClipS || math.IsInf(d, 0) || math.IsNaN(d) {
		return fmt.Errorf("the clip lasts %.0f s by its own clock, and contacts are looked for in %.0f s at most: choose a part with --start and --end", d, float64(maxClipS))
	}
	return nil
}

// maxClipS bounds the memory that a long clip, or a lying clock, can ask for:
// about 0.2 MB a second.
const maxClipS = 30 * 60

// frameSD is the random error that reading an instant from frames adds, seconds:
// that of a time known to half a frame, of which interpolation wins back most.
func frameSD(rateHz float64) float64 { return 0.5 / (rateHz * math.Sqrt(12)) }

func originOfFeet(t *track.Track) track.Origin {
	for _, l := range []body.Landmark{body.LeftAnkle, body.RightAnkle, body.LeftHeel, body.RightHeel} {
		if p := t.Paths[l]; p != nil && p.Origin != track.NoOrigin {
			return p.Origin
		}
	}
	return track.NoOrigin
}

// contacts finds the contacts of both legs.
func (l *limbs) contacts(tables *tableSet, frameS float64) []Contact {
	var cycles [3][]cycle
	var verdicts [2][3][]verdict
	for _, side := range body.Sides {
		if g := l.legs[side]; g != nil {
			cycles[side] = g.cycles()
		}
	}
	moments := [2]Moment{TouchDown, LiftOff}
	var said [2][3][]Testimony
	var hearing sync.WaitGroup
	for _, side := range body.Sides {
		if g := l.legs[side]; g != nil {
			hearing.Go(func() {
				for _, m := range moments {
					said[m][side] = g.hear(m, cycles[side])
				}
			})
		}
	}
	hearing.Wait()
	for _, m := range moments {
		verdicts[m][body.Left], verdicts[m][body.Right] = tables.of[m].judgeBoth(said[m][body.Left], said[m][body.Right])
	}
	var out []Contact
	for _, side := range body.Sides {
		down, up := verdicts[TouchDown][side], verdicts[LiftOff][side]
		for i, c := range cycles[side] {
			down[i].fallBackOn(c.aheadS+aheadBeforeContactS, aheadSDS)
			up[i].fallBackOn(c.behindS-behindAfterToeOffS, behindSDS)
			if c, ok := makeContact(side, down[i], up[i], frameS); ok {
				out = append(out, c)
			}
		}
	}
	return out
}

// fallBackOn takes the usual time by the anchor alone where no witness spoke, as
// when only hips and heels are seen.
func (v *verdict) fallBackOn(timeS, sdS float64) {
	if math.IsNaN(v.timeS) {
		*v = verdict{timeS: timeS, sdS: sdS, heard: 0, of: 1}
	}
}

func makeContact(side body.Side, down, up verdict, frameS float64) (Contact, bool) {
	c := Contact{Side: side, InitialContactS: down.timeS, ToeOffS: up.timeS,
		InitialContactSDS: math.Hypot(down.sdS, frameS), ToeOffSDS: math.Hypot(up.sdS, frameS)}
	if !(c.ToeOffS-c.InitialContactS > leastContactS) {
		return c, false
	}
	switch {
	case 2*down.heard < down.of:
		c.Doubt = "few of the rules agree on initial contact"
	case 2*up.heard < up.of:
		c.Doubt = "few of the rules agree on toe-off"
	}
	return c, true
}

// leastContactS is shorter than any running contact; sprinters at full speed
// stay about 0.09 s (common knowledge of the trade).
const leastContactS = 0.05

func sortContacts(c []Contact) {
	slices.SortStableFunc(c, func(a, b Contact) int {
		switch {
		case a.InitialContactS < b.InitialContactS:
			return -1
		case a.InitialContactS > b.InitialContactS:
			return 1
		}
		return int(a.Side) - int(b.Side)
	})
}

// withinClip leaves out contacts that begin before the first or end after the
// last frame.
func withinClip(c []Contact, t *track.Track) []Contact {
	first, last := t.TimeS[0], t.TimeS[t.Frames()-1]
	return slices.DeleteFunc(c, func(k Contact) bool {
		return !(k.InitialContactS >= first && k.ToeOffS <= last)
	})
}

// doubtMissing marks contacts at whose beginning or end the ankle was not seen for
// half of the time, or was bridged.
func doubtMissing(c []Contact, t *track.Track) {
	for i := range c {
		p := t.Paths[body.LeftAnkle.On(c[i].Side)]
		if p == nil || c[i].Doubt != "" {
			continue
		}
		if missingAbout(p, t.TimeS, c[i].InitialContactS) {
			c[i].Doubt = "landmark missing near initial contact"
		} else if missingAbout(p, t.TimeS, c[i].ToeOffS) {
			c[i].Doubt = "landmark missing near toe-off"
		}
	}
}

// missingReachS is how far about an instant a landmark must have been seen.
const missingReachS = 0.04

func missingAbout(p *track.Path, timeS []float64, at float64) bool {
	missing, n := 0, 0
	for i := track.NearestFrame(timeS, at-missingReachS); i < len(timeS) && timeS[i] <= at+missingReachS; i++ {
		n++
		if !p.Seen(i) || p.Filled != nil && p.Filled[i] {
			missing++
		}
	}
	return n > 0 && 2*missing > n
}

// checkFlight tells running from walking: a runner leaves the ground before the
// other foot lands.
func checkFlight(s Series) error {
	var flight []float64
	for i := 1; i < len(s.Contacts); i++ {
		a, b := s.Contacts[i-1], s.Contacts[i]
		if a.Side != b.Side {
			flight = append(flight, b.InitialContactS-a.ToeOffS)
		}
	}
	if len(flight) < 3 {
		return nil
	}
	grounded := 0
	for _, f := range flight {
		if f < -0.02 {
			grounded++
		}
	}
	if float64(grounded) > walkingShare*float64(len(flight)) {
		return fmt.Errorf("no flight phase was found: on average one foot lands %.0f ms before the other leaves the ground, which is walking; these rules and measures are for running", -1000*signal.Median(flight))
	}
	return nil
}
