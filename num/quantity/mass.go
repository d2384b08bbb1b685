package quantity

// Mass is a mass in kilograms.
type Mass float64

// Units of mass.
const (
	Kilogram Mass = 1
	Pound    Mass = 0.45359237
	Stone    Mass = 14 * Pound
)

// KG returns the mass in kilograms.
func (m Mass) KG() float64 { return float64(m) }

// Pounds returns the mass in pounds.
func (m Mass) Pounds() float64 { return float64(m / Pound) }

// String returns the mass in kilograms to one decimal at most, such as "70 kg".
func (m Mass) String() string { return trim(float64(m), 1) + " kg" }

var masses = kind{
	what: "mass",
	hint: `70kg, 154lb or 11st`,
	units: map[string]float64{
		"kg": 1, "kgs": 1, "kilogram": 1, "kilograms": 1, "g": 0.001,
		"lb": 0.45359237, "lbs": 0.45359237, "pound": 0.45359237, "pounds": 0.45359237,
		"st": 14 * 0.45359237, "stone": 14 * 0.45359237,
	},
}

// ParseMass reads a mass: "70kg", "154 lb", "11st". A number without a unit is
// refused.
func ParseMass(text string) (Mass, error) {
	v, err := masses.parse(text)
	return Mass(v), err
}
