package measure

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

const groupUpper = "Trunk and arms"

// upperDefinitions are the measures of trunk and arms that are not legs'.
func upperDefinitions() []Definition {
	return []Definition{
		{
			Name: "lateral_trunk_lean", Title: "Trunk lean to the side", Unit: "deg", Decimals: 1, Sided: true, Group: groupUpper, Worth: 1,
			plane: frontalPlane, origin: "trunk", needs: []body.Landmark{body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip}, camera: true, Instead: filmRear,
			Definition: "Lean of the trunk from the vertical in mid-stance of this foot, middle of the hips to middle of the shoulders.",
			Sign:       "positive toward the standing side",
			Formula:    "sideways lean of hips' middle→shoulders' middle, mean over 40 to 60 % of stance",
			Source:     "Dingenen 2018; no range that could be relied on was found.",
			Error:      dingenen + ": smallest detectable difference 1.3-2.3°. One degree of camera roll is one degree of lean.",
			compute: func(c *reading, s body.Side) sample {
				v := c.midStance(s, c.leanRight)
				for i := range v {
					v[i] *= s.Sign()
				}
				return sample{values: v}
			},
		},
		{
			Name: "elbow_angle", Title: "Elbow bend", Unit: "deg", Decimals: 0, Sided: true, Group: groupUpper, Worth: 3,
			plane: sagittalPlane, origin: "elbow", needs: []body.Landmark{body.LeftShoulder, body.LeftElbow, body.LeftWrist}, Instead: filmSide,
			Definition: "Bend of the elbow seen from the side, averaged over the stride.",
			Sign:       "0 straight, positive bent",
			Formula:    "180° - angle(shoulder, elbow, wrist), mean over the stride",
			Source:     "Definition; no reference range found.",
			Error:      "None published. The arm swings across the plane, so that a bend of 90° reads less.",
			Caution:    "No arm carriage has been shown to be right.",
			compute: func(c *reading, s body.Side) sample {
				shoulder, elbow, wrist := body.LeftShoulder.On(s), body.LeftElbow.On(s), body.LeftWrist.On(s)
				upper := c.angle("hanging", c.x(shoulder), c.y(shoulder), c.x(elbow), c.y(elbow), hanging)
				fore := c.angle("hanging", c.x(elbow), c.y(elbow), c.x(wrist), c.y(wrist), hanging)
				v := c.join("between", func(a, b float64) float64 { return math.Abs(difference(a, b)) }, fore, upper)
				return sample{values: c.each(s, func(p pass) float64 { return c.mean(v, p.ic, p.stride) })}
			},
		},
		{
			Name: "arm_cross", Title: "Arm across the body", Unit: "half shoulder widths", Decimals: 2, Sided: true, Group: groupUpper, Worth: 0.1,
			plane: frontalPlane, origin: "arm cross", needs: []body.Landmark{body.LeftWrist}, Instead: "Film from in front or from behind, with both arms in the picture.",
			Definition: "How far the wrist swings across the middle of the trunk at its most, as a share of half the distance between the shoulders.",
			Sign:       "positive across the midline, negative short of it",
			Formula:    "(inward distance of the wrist beyond the trunk's middle) / (shoulder distance / 2), peak of the median curve over the stride",
			Source:     "Definition; no reference range found.",
			Error:      "None published. From behind, the wrist in front of the body is a guess of the pose model (out by 0.6 to 1.2 on a rendered runner), so there it is withheld.",
			Caution:    "No arm carriage has been shown to be right.",
			compute:    armCross,
		},
	}
}

func armCross(c *reading, s body.Side) sample {
	if origin, _ := c.originOf([]body.Landmark{body.LeftWrist.On(s)}); origin == track.PoseModel && c.Info.View == clip.Rear {
		return sample{reason: "From behind the wrist is hidden in front of the body and the pose model guesses it. Film from in front."}
	}
	shoulders := middle(c.z(body.LeftShoulder), c.z(body.RightShoulder))
	hips := middle(c.z(body.LeftHip), c.z(body.RightHip))
	centre := middle(shoulders, hips)
	if centre == nil || !(c.shoulderSpan > 0) {
		return sample{reason: "Shoulders and hips were not seen. Film from in front or from behind, with the whole runner in the picture."}
	}
	half := c.shoulderSpan / 2
	v := combine(func(wrist, mid float64) float64 { return -s.Sign() * (wrist - mid) / half }, c.z(body.LeftWrist.On(s)), centre)
	return sample{values: c.peaks(s, v, wholeStride, 0, 1, 1)}
}
