package measure

import "math"

// DepthScale is how much larger than in the runner's plane a point is seen that
// lies towardM metres nearer to a camera at distanceM: D/(D-d); below 1 for a
// point farther away (towardM negative).
func DepthScale(distanceM, towardM float64) float64 { return distanceM / (distanceM - towardM) }

// SeenAngleDeg is the angle to the vertical that a camera reads for a segment in
// the plane of running when it stands yawDeg off the perpendicular: the forward
// axis shrinks by the cosine, tan a' = tan a · cos yaw.
func SeenAngleDeg(angleDeg, yawDeg float64) float64 {
	sin, cos := math.Sincos(angleDeg / degPerRad)
	return math.Atan2(sin*math.Cos(yawDeg/degPerRad), cos) * degPerRad
}

// TrueAngleDeg undoes SeenAngleDeg; it has no answer at a yaw of 90 degrees.
func TrueAngleDeg(seenDeg, yawDeg float64) float64 {
	sin, cos := math.Sincos(seenDeg / degPerRad)
	return math.Atan2(sin, cos*math.Cos(yawDeg/degPerRad)) * degPerRad
}

// nearLegM is how far a leg lies from the runner's middle plane, about half the
// distance between the hips (own estimate from 0.2 to 0.25 m between the feet's
// tracks and the hips).
const nearLegM = 0.10

// closeCameraM is the distance below which perspective spoils lengths: at 3 m a
// leg 0.1 m out of the plane is 3.4 % larger.
const closeCameraM = 3.0

// yawSDDeg is how exactly the turn of a side camera is known where it is given by
// hand, and how square one stands that looks square (own estimate).
const yawSDDeg = 3.0

// cameraSDDeg is the error that the camera's stand makes of an angle to the
// vertical: its level and, from the side, what its turn hides of the angle.
func (c *reading) cameraSDDeg(d Definition, angleDeg float64) float64 {
	if d.plane != sagittalPlane {
		return levelSDDeg
	}
	hidden := func(yawDeg float64) float64 { return TrueAngleDeg(angleDeg, yawDeg) - angleDeg }
	turn := math.Abs(c.Info.YawDeg)
	unsure := hidden(turn+yawSDDeg) - hidden(turn)
	return math.Sqrt(levelSDDeg*levelSDDeg + unsure*unsure + math.Pow(hidden(c.Info.OffSquareDeg), 2))
}

// jointHiddenDeg is what a camera yawDeg off the perpendicular hides of a joint
// whose two segments lean alike from the vertical, one forward and one back.
func jointHiddenDeg(angleDeg, yawDeg float64) float64 {
	return 2 * (TrueAngleDeg(angleDeg/2, yawDeg) - angleDeg/2)
}
