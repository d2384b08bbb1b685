package measure

import (
	"math"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
)

const (
	groupLengths = "Lengths"
	giveScale    = "Film from the side with a stick of known length in the runner's plane."
)

// lengthDefinitions are the distances seen from the side.
func lengthDefinitions() []Definition {
	feet := []body.Landmark{body.LeftHeel}
	return []Definition{
		{
			Name: "step_length", fine: true, opposed: true, Title: "Step length", Unit: "m", Decimals: 3, Sided: true, Group: groupLengths, Worth: 0.01, forward: true,
			Definition: "How far the belt travels in a step: belt speed times step time. Over ground, the forward distance from the other foot's landing place to this one's. The left step ends with the left contact.",
			Sign:       "always positive",
			Formula:    "belt speed × step time; over ground x(contact k) - x(contact k-1)",
			Source:     "Definition. 165 steps/min at 3.0 m/s is 1.091 m; 10 % more steps make it 0.992 m.",
			Error:      "That of the belt speed: displays were 0.6 to 1.8 % low on three open trials.",
			Caution:    "On a treadmill it holds no more than step time and speed do.",
			Instead:    "Give the belt speed, better measured from the belt's length and the passes of its seam.",
			compute:    stepLength,
		},
		{
			Name: "overstride", Title: "Overstride: heel ahead of the pelvis at contact", Unit: "m", Decimals: 3, Sided: true, Group: groupLengths, Worth: 0.01,
			plane: sagittalPlane, origin: "reach", needs: feet, metres: true, minHz: 50, flagHz: 100,
			Definition: "Horizontal distance from the middle of the pelvis to the heel as the foot lands.",
			Sign:       "positive when the heel is ahead",
			Formula:    "x_heel - x_pelvis at contact",
			Source:     "Wille et al. 2014, J Orthop Sports Phys Ther 44:825-830 (45 runners): heel to centre of mass, for which the pelvis is a fair stand-in, helps predict braking and knee load. " + capital(openRunner) + ": 107 ± 9 mm at 2.5 m/s.",
			Error:      "No published error of this distance by video found.",
			Caution:    noGoodNumber + "Grows with speed. It is the foot's place that counts, not the strike.",
			Instead:    giveScale,
			Figure: `
        o pelvis
        |\
        | \
        |  \
        |---> o heel     running →`,
			compute: func(c *reading, s body.Side) sample {
				return c.reach(s, c.pelvisX, 1)
			},
		},
		{
			Name: "heel_to_com_at_contact", Title: "Heel ahead of the centre of mass at contact", Unit: "leg lengths", Decimals: 3, Sided: true, Group: groupLengths, Worth: 0.01,
			plane: sagittalPlane, origin: "reach ratio", needs: feet, minHz: 50, flagHz: 100,
			Definition: "Horizontal distance from the body's centre of mass to the heel as the foot lands, as a share of leg length, so that tall and short runners compare. Where head or arms were not seen, the middle of the pelvis stands in and the flag says so.",
			Sign:       "positive when the heel is ahead",
			Formula:    "(x_heel - x_CoM) / leg length",
			Source:     "Wille et al. 2014, J Orthop Sports Phys Ther 44:825-830; segment masses de Leva 1996, J Biomech 29:1223-1230.",
			Error:      "As overstride.",
			Caution:    strings.TrimSpace(noGoodNumber),
			Instead:    filmSide,
			compute:    heelToMass,
		},
		{
			Name: "vertical_oscillation", Title: "Vertical oscillation", Unit: "m", Decimals: 3, Group: groupLengths, Worth: 0.003,
			plane: sagittalPlane, origin: "rise", metres: true, flagHz: 50,
			Definition: "How far the pelvis rises and falls in each step, from its lowest to its highest. From a pose model the middle of the shoulders is taken, because its hip points hardly follow the pelvis.",
			Sign:       "always positive",
			Formula:    "y_pelvis at its typical highest - at its typical lowest moment of the step, mean over steps",
			Source:     "Usual 6 to 10 cm (from memory); " + openRunner + ": 95 ± 4.5 mm at 2.5 m/s and 157 steps/min.",
			Error:      "The point matters: pelvis, sacrum and centre of mass differ by a centimetre or two.",
			Caution:    "Falls when the step rate rises at the same speed. Watches measure the chest or wrist, not this.",
			Instead:    giveScale,
			compute: func(c *reading, _ body.Side) sample {
				y, from, used := c.rising()
				if y == nil {
					return sample{reason: "The hips or shoulders were not seen. " + filmSide}
				}
				r := c.rise(y)
				r.flags = append(r.flags, from)
				r.used = used
				return r
			},
		},
		{
			Name: "com_vertical_excursion", Title: "Rise and fall of the centre of mass", Unit: "m", Decimals: 3, Group: groupLengths, Worth: 0.003,
			plane: sagittalPlane, origin: "mass rise", metres: true, flagHz: 50,
			needs:      []body.Landmark{body.LeftShoulder, body.LeftElbow, body.LeftWrist, body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe},
			Definition: "How far the centre of mass of the whole body rises and falls in each step, from fourteen segments with their shares of the mass.",
			Sign:       "always positive",
			Formula:    "y_CoM = Σ m_i y_i / Σ m_i; highest - lowest moment of the step, mean over steps",
			Source:     "de Leva 1996, J Biomech 29:1223-1230 (the women's printed shares sum to 0.9999, so the sum divides). The flight alone accounts for g·t²/8: 12 mm for 0.10 s, 24 mm for 0.14 s.",
			Error:      "Both arms must be seen; the far arm is a guess of the pose model in most frames.",
			Caution:    "The mean of men's and women's shares is used where the sex is not given. The head's centre is taken at the ears, or at the nose where they were not seen.",
			Instead:    "Film from the side with head, both arms and both legs in the picture and a stick of known length in the runner's plane.",
			compute: func(c *reading, _ body.Side) sample {
				if c.massY == nil {
					return sample{reason: "The head was not seen. Film from the side with head, both arms and both legs in the picture."}
				}
				r := c.rise(c.massY)
				if !c.Runner.SexKnown {
					r.flags = append(r.flags, "mean of men's and women's segment masses")
				}
				return r
			},
		},
	}
}

// lengthError joins scale and perspective for a length in the picture.
func (c *reading) lengthError(value float64) Budget {
	b := Budget{Scale: math.Abs(value) * c.Info.Scale.RelativeSD}
	if d := c.Info.CameraDistanceM; d > nearLegM {
		b.Camera = math.Abs(value) * (DepthScale(d, nearLegM) - 1)
	}
	return b
}

func stepLength(c *reading, s body.Side) sample {
	if c.overground() {
		heel := c.x(body.LeftHeel.On(s))
		other := c.x(body.LeftHeel.On(s.Other()))
		if heel == nil || other == nil {
			return sample{reason: "The heels were not seen. " + filmSide}
		}
		byContact := map[float64]pass{}
		for _, p := range c.passes {
			byContact[p.ic] = p
		}
		r := sample{values: c.each(s, func(p pass) float64 {
			q, ok := byContact[p.prev]
			if !ok {
				return math.NaN()
			}
			// In mid-stance the foot stands still, where it landed.
			return c.at(heel, p.during(0.4)) - c.at(other, q.during(0.4))
		})}
		r.error = c.lengthError(median(r.values))
		_, r.derived = c.originOf([]body.Landmark{body.LeftHeel, body.RightHeel})
		return r
	}
	v := c.Info.BeltSpeedMPS
	r := sample{values: c.each(s, func(p pass) float64 { return v * p.stepS() }), floor: v * c.frameSDS}
	r.error.Speed = c.speedSD() * median(r.values)
	r.error.Event = v * c.unlikeFeetS()
	return r
}

// reach is how far the heel is ahead of a point at contact, over a length.
func (c *reading) reach(s body.Side, from []float64, over float64) sample {
	heel := c.x(body.LeftHeel.On(s))
	if from == nil || heel == nil {
		return sample{reason: "The hips or heels were not seen. " + filmSide}
	}
	r := c.atContact(s, combine(func(a, b float64) float64 { return (a - b) / over }, heel, from))
	r.used = append(c.pelvisUsed(), body.LeftHeel.On(s))
	length := c.lengthError(median(r.values))
	r.error.Camera = length.Camera
	if c.t.Unit == track.Metre {
		r.error.Scale = length.Scale
	}
	return r
}

// rising is the height by which the body's rise and fall is read, what it is of,
// and its landmarks: the pelvis, but the shoulders where a pose model gave the
// hips. On rendered runners its hip points rose 29 and 59 mm where the pelvis
// rose 86 and 94, its shoulders 85 and 93.
func (f *figure) rising() (y []float64, of string, used []body.Landmark) {
	used = f.pelvisUsed()
	if p := f.t.Paths[used[0]]; p != nil && p.Origin == track.PoseModel {
		return middle(f.y(body.LeftShoulder), f.y(body.RightShoulder)), "measured at the shoulders, which the pose model follows better than the hips", []body.Landmark{body.LeftShoulder, body.RightShoulder}
	}
	return f.pelvisY, "measured at the " + f.pelvisFrom.String(), used
}

// pelvisUsed lists the landmarks behind the centre of the pelvis.
func (f *figure) pelvisUsed() []body.Landmark {
	switch {
	case f.pelvisFrom == fromSpines:
		return f.spinesUsed()
	case f.t.Has(body.LeftHip, body.RightHip):
		return []body.Landmark{body.LeftHip, body.RightHip}
	}
	return []body.Landmark{body.Sacrum}
}

func heelToMass(c *reading, s body.Side) sample {
	from, flags := c.massX, []string(nil)
	if from == nil {
		from, flags = c.pelvisX, []string{"from the pelvis, not the centre of mass"}
	}
	leg, relative, lengthFrom := c.Runner.legLength()
	if !(leg > 0) || c.t.Unit != track.Metre {
		leg, relative, lengthFrom = c.legInTrack(), legOfSegmentsSD, "leg length from the picture"
	}
	if !(leg > 0) {
		return sample{reason: "The leg's length is not known: hips, knees and ankles were not all seen, and none was given. Give the runner's leg length or height."}
	}
	r := c.reach(s, from, leg)
	if r.reason != "" {
		return r
	}
	r.flags = append(flags, lengthFrom)
	r.error.Scale = math.Hypot(r.error.Scale, relative*math.Abs(median(r.values)))
	return r
}

// rise reads every step at the typical highest and lowest moments of a height.
func (c *reading) rise(y []float64) sample {
	curve := c.phaseCurve(body.NoSide, y, wholeStep, 0, 1)
	high := c.atPhase(body.NoSide, y, wholeStep, extremeOf(curve, 0, 1, 1))
	low := c.atPhase(body.NoSide, y, wholeStep, extremeOf(curve, 0, 1, -1))
	for i := range high {
		high[i] -= low[i]
	}
	return sample{values: high, error: c.lengthError(median(high))}
}
