package app

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
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
func (c *Clip) placed() []measure.Elsewhere {
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
	var out []measure.Elsewhere
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
			at, sd := m.Frame-c.FirstFrame, threeFigures(math.Hypot(seen*perPX, judgedShare*leg))
			wide := max(m.Blend, reach)
			for i := max(0, at-wide); i <= min(len(off)-1, at+wide); i++ {
				w := (1 + math.Cos(math.Pi*math.Abs(float64(i-at))/float64(wide+1))) / 2
				off[i] = math.Max(off[i], w*sd)
			}
		}
		for _, axis := range []string{"along", "up"} {
			p := *c.Track.Paths[l]
			v := &p.Y
			if axis == "along" {
				if v = &p.X; p.X == nil {
					v = &p.Z
				}
			}
			name := l.String() + ", " + axis
			shifted := slices.Clone(*v)
			for i := range shifted {
				shifted[i] += off[i]
			}
			*v = c.lines.Same(name, shifted)
			t := *c.Track
			t.Paths[l] = &p
			out = append(out, measure.Elsewhere{Name: name, Track: &t})
		}
	}
	return out
}

// threeFigures is v, positive, to three figures: no more is known of an error, and what is
// too small to see need not be worked out anew.
func threeFigures(v float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	return math.Round(v/unit) * unit
}

// smoothReach is over how many frames the low-pass spreads a point, at 7 Hz, the
// usual cut-off.
func (c *Clip) smoothReach() int { return int(math.Ceil(c.Mended.RateHz() / 28)) }
