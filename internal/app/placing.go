package app

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
)

// What a point placed by hand is off by has two parts: how well it could be seen at
// the size at which it was placed, which the page tells, and where the person judges
// the middle of the joint to be. Whoever judges it a little too far forward does so
// in every frame, so the points of one landmark err together.

const (
	// kneeByHandDeg is the error of knee flexion read by hand from film, between
	// days: 3.8/2.7719, the larger smallest detectable difference of Dingenen et al.
	// 2018 (Phys Ther Sport 33:40-47).
	kneeByHandDeg = 3.8 / 2.7719
	// judgedShare is what the knee is then off by across the leg, as a share of the
	// leg from hip to ankle: with thigh and shank of one length it turns each by the
	// shift over half of the leg. It comes to 5 mm on a leg of 0.84 m, and is taken
	// for the other points too.
	judgedShare = kneeByHandDeg * math.Pi / 180 / 4
	// untoldPX is how well a point could be seen where that was not told.
	untoldPX = 1.5
)

// placed returns, for each landmark with points placed by hand in the clip, its
// smooth track with those points off by one standard deviation, once level and once
// upright.
func (c *Clip) placed() []*track.Track {
	if len(c.Edits.Moves) == 0 {
		return nil
	}
	perPX := 1.0 // units of the track a pixel
	leg := 0.0
	if c.Info.View.Sagittal() {
		leg = medianLeg(c.Track)
	} else {
		leg = straightestReach(c.Track)
	}
	if c.Track.Unit == track.Metre && c.Info.Scale.PixelsPerM > 0 {
		perPX = 1 / c.Info.Scale.PixelsPerM
	}
	reach := c.smoothReach()
	by := map[body.Landmark][]Move{}
	for _, m := range c.Edits.Moves {
		l, err := body.ParseLandmark(m.Landmark)
		if i := m.Frame - c.FirstFrame; err == nil && c.Track.Paths[l] != nil && i >= 0 && i < c.Track.Frames() {
			by[l] = append(by[l], m)
		}
	}
	var out []*track.Track
	for l := range body.Landmark(len(c.Track.Paths)) {
		if len(by[l]) == 0 {
			continue
		}
		off := make([]float64, c.Track.Frames())
		for _, m := range by[l] {
			seen := m.ErrorPX
			if seen == 0 {
				seen = untoldPX
			}
			at, sd := m.Frame-c.FirstFrame, math.Hypot(seen*perPX, judgedShare*leg)
			wide := max(m.Blend, reach)
			for i := max(0, at-wide); i <= min(len(off)-1, at+wide); i++ {
				w := (1 + math.Cos(math.Pi*math.Abs(float64(i-at))/float64(wide+1))) / 2
				off[i] = math.Max(off[i], w*sd)
			}
		}
		for axis := range 2 {
			p := c.Track.Paths[l].Clone()
			v := [2][]float64{p.X, p.Y}[axis]
			if axis == 0 && v == nil {
				v = p.Z
			}
			for i := range v {
				v[i] += off[i]
			}
			t := *c.Track
			t.Paths[l] = p
			out = append(out, &t)
		}
	}
	return out
}

// smoothReach is over how many frames the low-pass spreads a point, at 7 Hz, the
// usual cut-off.
func (c *Clip) smoothReach() int { return int(math.Ceil(c.Mended.RateHz() / 28)) }
