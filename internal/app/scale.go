package app

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// How long the drawn legs are, as the pose model sees them. The model's hip lies
// lower than the joint, so these are smaller than the .491 of stature between
// hip and ankle joint in Drillis & Contini (1966, in Winter 2009, from memory).
// Measured with the full model on rendered clips of two real runners (1.81 and
// 1.79 m) whose scale is known exactly: thigh plus shank from the side .460 and
// .455 of stature, mean of both legs; the straightest hip-to-ankle height .462
// and .453 from the side, .484 and .476 from behind.
const (
	legOfHeight      = 0.457 // thigh plus shank, from the side
	reachOfHeight    = 0.480 // straightest hip-to-ankle height, from behind
	rearOverSide     = 1.049 // the same reach seen from behind over seen from the side
	heightOfLeg      = 1 / 0.530
	heightScaleSD    = 0.05 // individual proportions differ by 3-4 %, the model by more
	legScaleSD       = 0.045
	stickScaleSD     = 0.01
	beltDisplaySD    = 0.015 // of a treadmill's display, common practice until it is checked
	rulerScaleSD     = 0.025
	poseHeelSpeed    = 0.991 // of the pose model's standing heel over the belt's, on the same rendered clips: .997 and .986
	poseHeelSpeedSD  = 0.02
	minBeltScaleRate = 40.0 // frames a second below which the stance foot is too seldom seen
)

// ruler is a length of the runner that one clip gave in metres, to set the scale
// of the others.
type ruler struct {
	reachM     float64 // straightest hip-to-ankle height as seen from the side
	relativeSD float64
	file       string
}

// settleScale finds the scale of a picture-space clip: from a known length, from
// the belt speed of the stance foot, from the side clip of the same runner, or
// from leg length or height, in this order; the belt gives way to height where
// its error is the larger.
func (c *Clip) settleScale(runner *shape, r *Request, pixelsPerM float64, known *ruler) {
	if runner.Unit == track.Metre {
		c.Info.Scale = clip.Scale{PixelsPerM: 1, Source: clip.ScaleFromFile, Description: "the file is in metres"}
		return
	}
	height, by := r.Runner.HeightM, clip.ScaleFromHeight
	sd := heightScaleSD
	if r.Runner.LegLengthM > 0 {
		height, by, sd = r.Runner.LegLengthM*heightOfLeg, clip.ScaleFromLeg, legScaleSD
	}
	set := func(pixelsPerM, sd float64, by clip.ScaleSource, words string) {
		c.Info.Scale = clip.Scale{PixelsPerM: pixelsPerM, RelativeSD: sd, Source: by,
			Description: fmt.Sprintf("%.0f pixels a metre %s (± %.1f %%)", pixelsPerM, words, 100*sd)}
	}
	switch {
	case pixelsPerM > 0:
		set(pixelsPerM, stickScaleSD, clip.ScaleFromStick, "by the known length")
	case c.Info.View.Sagittal() && c.scaleByBelt(runner, set) && !(height > 0 && c.Info.Scale.RelativeSD > sd):
		// Known height gives a better scale than a belt speed seen over few contacts.
	case c.Info.View.Frontal() && known != nil:
		if reach := runner.reach(); reach > 0 {
			set(reach/(known.reachM*rearOverSide), math.Hypot(known.relativeSD, rulerScaleSD), clip.ScaleSource("leg as seen in "+known.file), "by the leg as measured in the side film")
		}
	case height > 0 && c.Info.View.Sagittal():
		if leg := runner.leg(); leg > 0 {
			set(leg/(legOfHeight*height), sd, by, "by "+string(by))
		}
	case height > 0:
		if reach := runner.reach(); reach > 0 {
			set(reach/(reachOfHeight*height), sd, by, "by "+string(by))
		}
	}
	c.checkScale(runner, height)
	c.checkBeltScale()
	c.checkStick(runner)
}

// checkStick warns where a known length and the belt under the stance foot give
// scales that differ by more than their errors together: one of the two is wrong.
func (c *Clip) checkStick(runner *shape) {
	s := c.Info.Scale
	if s.Source != clip.ScaleFromStick || !c.Info.View.Sagittal() {
		return
	}
	c.scaleByBelt(runner, func(belt, sd float64, _ clip.ScaleSource, _ string) {
		off, limit := 100*(belt/s.PixelsPerM-1), 196*math.Hypot(sd, s.RelativeSD)
		if math.Abs(off) > limit {
			c.Warnings = append(c.Warnings, fmt.Sprintf("the known length gives %.0f pixels a metre (± %.1f %%), the belt speed under the stance foot %.0f (± %.1f %%): they differ by %.1f %%, more than their errors explain. Lengths follow the known length: measure it and set its two ends again, in the runner's plane, and check the belt speed",
				s.PixelsPerM, 100*s.RelativeSD, belt, 100*sd, math.Abs(off)))
		}
	})
}

// checkBeltScale says where a scale by the belt speed is a poor one, and what would
// better it. It is drawn from the stance foot of every contact: a short clip has few.
func (c *Clip) checkBeltScale() {
	s := c.Info.Scale
	if s.Source != clip.ScaleFromBelt || s.RelativeSD <= heightScaleSD {
		return
	}
	c.Warnings = append(c.Warnings, fmt.Sprintf("the scale rests on the belt speed under the stance foot in %s alone and is known to ± %.0f %% only; distances carry that error. Give the runner's height or leg length (--height, --leg), or a stick or mark of known length in the runner's plane (--scale), or film 20 s",
		plural(len(c.Contacts.Contacts), "contact", "contacts"), 100*s.RelativeSD))
}

// scaleByBelt sets the scale from how fast the stance foot is carried backward in
// the picture; ok is false where that cannot be told.
func (c *Clip) scaleByBelt(runner *shape, set func(float64, float64, clip.ScaleSource, string)) (ok bool) {
	if !(c.Info.BeltSpeedMPS > 0) || c.Info.Surface != clip.Treadmill || c.Info.FrameRateHz < minBeltScaleRate {
		return false
	}
	v, sd, err := event.StanceSpeed(runner.Track, c.Contacts)
	if err != nil || !(v > 0) {
		return false
	}
	sd /= v
	if c.origin() == track.PoseModel {
		v /= poseHeelSpeed
		sd = math.Hypot(sd, poseHeelSpeedSD)
	}
	speedSD := beltDisplaySD
	if c.Info.BeltSpeedRelativeSD > 0 {
		speedSD = c.Info.BeltSpeedRelativeSD
	}
	set(v/c.Info.BeltSpeedMPS, math.Hypot(sd, speedSD), clip.ScaleFromBelt, "by the belt speed of the stance foot")
	return true
}

// checkScale warns where the scale makes the runner's legs much too long or too
// short for the height given.
func (c *Clip) checkScale(runner *shape, heightM float64) {
	if heightM <= 0 || !c.Info.Scale.Known() || !c.Info.View.Sagittal() {
		return
	}
	leg := runner.leg()
	if d := leg/c.Info.Scale.PixelsPerM/(legOfHeight*heightM) - 1; leg > 0 && math.Abs(d) > 0.12 {
		c.Warnings = append(c.Warnings, fmt.Sprintf("by the scale used the legs are %+.0f %% off what the height would have them be: check --speed, --height and --scale", 100*d))
	}
}

// ruler returns what this clip can tell other clips about the runner's size: to the
// millimetre, a tenth or less of its error, so that a correction that hardly moves it
// leaves the other clips as they are.
func (c *Clip) ruler() *ruler {
	if !c.Info.View.Sagittal() || !c.Info.Scale.Known() || !c.IsVideo() {
		return nil
	}
	reach := straightestReach(c.Track)
	if !(reach > 0) {
		return nil
	}
	return &ruler{reachM: math.Round(1000*reach) / 1000, relativeSD: c.Info.Scale.RelativeSD, file: c.name()}
}

// medianLeg is the median length of thigh plus shank over both legs, in the
// track's unit.
func medianLeg(t *track.Track) float64 {
	sum, n := 0.0, 0
	for _, s := range body.Sides {
		hip, knee, ankle := t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
		v := make([]float64, 0, len(t.TimeS))
		for i := range t.TimeS {
			if hip.Seen(i) && knee.Seen(i) && ankle.Seen(i) {
				v = append(v, math.Hypot(hip.X[i]-knee.X[i], hip.Y[i]-knee.Y[i])+math.Hypot(knee.X[i]-ankle.X[i], knee.Y[i]-ankle.Y[i]))
			}
		}
		if len(v) > 0 {
			sum, n = sum+signal.MedianInPlace(v), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// straightestReach is the 98th percentile of the height of the hip above the
// ankle, mean of both legs, in the track's unit.
func straightestReach(t *track.Track) float64 {
	sum, n := 0.0, 0
	for _, s := range body.Sides {
		hip, ankle := t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftAnkle.On(s)]
		v := make([]float64, 0, len(t.TimeS))
		for i := range t.TimeS {
			if hip.Seen(i) && ankle.Seen(i) {
				v = append(v, hip.Y[i]-ankle.Y[i])
			}
		}
		if len(v) > 0 {
			sum, n = sum+signal.Quantile(v, 0.98), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}
