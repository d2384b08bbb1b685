package quantity

// Force is a force in newtons.
type Force float64

// Units of force. A kilogram-force is the weight of a kilogram under standard
// gravity, 9.80665 m/s² (3rd CGPM 1901).
const (
	Newton        Force = 1
	KilogramForce Force = 9.80665
	PoundForce    Force = 0.45359237 * 9.80665
)

// N returns the force in newtons.
func (f Force) N() float64 { return float64(f) }

// String returns the force in newtons without decimals, such as "220 N".
func (f Force) String() string { return trim(float64(f), 0) + " N" }

var forces = kind{
	what: "force",
	hint: `220N, 22.4kgf or 49lbf`,
	units: map[string]float64{
		"n": 1, "newton": 1, "newtons": 1, "kn": 1000,
		"kgf": 9.80665, "kp": 9.80665, "kg": 9.80665,
		"lbf": 0.45359237 * 9.80665, "lb": 0.45359237 * 9.80665, "lbs": 0.45359237 * 9.80665,
	},
}

// ParseForce reads a force: "220N", "22.4 kgf", "49 lbf". A dynamometer that
// shows kilograms or pounds means kilogram-force and pound-force, and they are
// taken so. A number without a unit is refused.
func ParseForce(text string) (Force, error) {
	v, err := forces.parse(text)
	return Force(v), err
}
