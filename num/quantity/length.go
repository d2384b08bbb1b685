package quantity

import (
	"math"
	"strings"
)

// Length is a length in metres.
type Length float64

// Units of length.
const (
	Metre      Length = 1
	Centimetre Length = 0.01
	Millimetre Length = 0.001
	Inch       Length = 0.0254
	Foot       Length = 12 * Inch
)

// M returns the length in metres.
func (l Length) M() float64 { return float64(l) }

// CM returns the length in centimetres.
func (l Length) CM() float64 { return float64(l) * 100 }

// String returns the length in metres to three decimals at most, such as
// "1.78 m".
func (l Length) String() string { return trim(float64(l), 3) + " m" }

// FeetInches returns the length to the nearest inch, such as "5 ft 10 in".
func (l Length) FeetInches() string {
	inches := math.Round(float64(l / Inch))
	return trim(math.Floor(inches/12), 0) + " ft " + trim(inches-12*math.Floor(inches/12), 0) + " in"
}

var lengths = kind{
	what: "length",
	hint: `178cm, 1.78m, 5ft10in, 5'10" or 70in`,
	units: map[string]float64{
		"m": 1, "metre": 1, "metres": 1, "meter": 1, "meters": 1,
		"cm": 0.01, "mm": 0.001, "km": 1000,
		"in": 0.0254, "inch": 0.0254, "inches": 0.0254, `"`: 0.0254,
		"ft": 0.3048, "foot": 0.3048, "feet": 0.3048, "'": 0.3048,
	},
}

// ParseLength reads a length: "178cm", "1.78 m", "5ft10in", "5ft 10", 5'10",
// "70in". A number without a unit is refused.
func ParseLength(text string) (Length, error) {
	s := tidy(text)
	for _, mark := range []string{"feet", "foot", "ft", "'"} {
		i := strings.Index(s, mark)
		if i < 0 {
			continue
		}
		rest := strings.TrimSpace(s[i+len(mark):])
		if rest == "" {
			break
		}
		feet, err := number(strings.TrimSpace(s[:i]))
		if err != nil {
			return 0, lengths.fail(text, err.Error())
		}
		num, unit := split(rest)
		inches, err := number(num)
		if err != nil {
			return 0, lengths.fail(text, err.Error())
		}
		if unit != "" && lengths.units[unit] != 0.0254 {
			return 0, lengths.fail(text, "feet go with inches")
		}
		if feet < 0 || inches < 0 || inches >= 12 {
			return 0, lengths.fail(text, "the inches beside feet must be from 0 to 11.99")
		}
		v, err := lengths.check(text, feet*0.3048+inches*0.0254)
		return Length(v), err
	}
	v, err := lengths.parse(text)
	return Length(v), err
}
