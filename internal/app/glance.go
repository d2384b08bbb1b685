package app

import (
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/pose"
	"gaitwright/internal/video"
)

// A glance looks at a film while its landmarks are being found, so that a wrong
// view, a turned picture or a slowed clock is told after seconds and not after
// the whole film.
type glance struct {
	facts    *video.Facts
	slowdown float64
	view     clip.View
	request  *Request
	nextS    float64 // when to look, on the file's clock, from the first frame on
}

// firstGlanceS is the time after which a runner's rhythm shows; a clock slowed
// four times needs twice as long, one slowed eight times four times.
const firstGlanceS = 3.0

// Step rates by which the glance trusts that it sees running: at its own pace, or
// so slowed that not even walking is as slow. Between them a runner may be
// walking before the run, and the whole film must tell.
const (
	surelyRunning = 120.0
	surelySlowed  = 55.0
)

func newGlance(facts *video.Facts, slowdown float64, view clip.View, r *Request) *glance {
	return &glance{facts: facts, slowdown: slowdown, view: view, request: r, nextS: firstGlanceS * slowdown}
}

// at returns what is wrong with the film as far as it has been seen (a nil glance
// does not look), nil where
// nothing is or it is too early to say.
func (g *glance) at(tracker *pose.Tracker) error {
	if g == nil {
		return nil
	}
	times := tracker.TimesS()
	if n := len(times); g.nextS > 4*firstGlanceS*g.slowdown || times[n-1]-times[0] < g.nextS {
		return nil
	}
	g.nextS *= 2
	runner, _ := tracker.Runner()
	if runner == nil || g.request.Point != nil && !tracker.Pointed() {
		return nil
	}
	raw := tracker.Track(runner)
	for i := range raw.TimeS {
		raw.TimeS[i] /= g.slowdown
	}
	beat, ok := track.FindRhythm(raw)
	if rate := beat.StepRate(); !ok || rate > surelySlowed && rate < surelyRunning {
		return nil
	}
	c := &Clip{Path: g.facts.Path, Raw: raw}
	c.Info = clip.Info{FrameRateHz: g.facts.MedianHz * g.slowdown, Slowdown: g.slowdown, RollDeg: g.request.RollDeg}
	return settleClip(c, g.view, g.request)
}
