package measure

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/agree"
)

// Asymmetry compares the left and right values of one measure.
type Asymmetry struct {
	Name        string // of the measure
	Left, Right float64
	Difference  float64 // right minus left, in the measure's unit
	// IndexPercent is the symmetry index (Robinson 1987), NaN where it is not
	// defined: near zero and for values of unlike sign. AnglePercent is the
	// symmetry angle (Zifchock 2008). Both are positive where the right is
	// larger, and both mislead for angles whose zero is a convention; there the
	// difference in degrees is the figure to read.
	IndexPercent, AnglePercent float64
	// SEM is the error of the difference; Beyond tells whether the difference
	// exceeds 1.96 of it and the known biases of both sides.
	SEM    float64
	Beyond bool
}

// Asymmetries pairs the measures that have a left and a right value, with the
// errors that they carry now.
func Asymmetries(ms []Measure) []Asymmetry {
	left := map[string]Measure{}
	var out []Asymmetry
	for _, m := range ms {
		if m.Withheld() || m.Text != "" {
			continue
		}
		switch m.Side {
		case body.Left:
			left[m.Name] = m
		case body.Right:
			l, ok := left[m.Name]
			if !ok {
				continue
			}
			a := Asymmetry{
				Name: m.Name, Left: l.Value, Right: m.Value, Difference: m.Value - l.Value,
				IndexPercent: agree.SymmetryIndex(l.Value, m.Value),
				AnglePercent: agree.SymmetryAngle(l.Value, m.Value),
				SEM:          betweenSides(l, m),
			}
			a.Beyond = math.Abs(a.Difference) > 1.96*a.SEM+math.Abs(l.Bias)+math.Abs(m.Bias)
			out = append(out, a)
		}
	}
	return out
}

// betweenSides is the error of the difference between the sides of one clip: of
// scale, speed, camera and formula nothing is left, of the contact rule a part.
func betweenSides(l, r Measure) float64 {
	rest := func(b Budget) float64 {
		b.Scale, b.Speed, b.Camera, b.Method, b.Event = 0, 0, 0, 0, 0
		return b.SEM()
	}
	event := betweenFeet * math.Hypot(l.Error.Event, r.Error.Event)
	if d, ok := Lookup(l.Name); ok && d.opposed {
		event = l.Error.Event + r.Error.Event
	}
	return math.Sqrt(rest(l.Error)*rest(l.Error) + rest(r.Error)*rest(r.Error) + event*event)
}
