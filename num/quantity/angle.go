package quantity

import "math"

// Angle is an angle in radians.
type Angle float64

// Units of angle.
const (
	Radian Angle = 1
	Degree Angle = math.Pi / 180
)

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a) * 180 / math.Pi }

// Radians returns the angle in radians.
func (a Angle) Radians() float64 { return float64(a) }

// String returns the angle in degrees to one decimal at most, such as "7.3°".
func (a Angle) String() string { return trim(a.Degrees(), 1) + "°" }

var angles = kind{
	what: "angle",
	hint: `7.3deg, 7.3° or 0.13rad`,
	units: map[string]float64{
		"deg": math.Pi / 180, "°": math.Pi / 180, "degree": math.Pi / 180, "degrees": math.Pi / 180,
		"rad": 1, "radians": 1,
	},
	signed: true,
}

// ParseAngle reads an angle: "7.3deg", "-2°", "0.13 rad". A number without a
// unit is refused.
func ParseAngle(text string) (Angle, error) {
	v, err := angles.parse(text)
	return Angle(v), err
}
