package steprate

import (
	"fmt"
	"math"
)

// Rate is a step rate with its error, steps a minute of both feet.
type Rate struct {
	PerMin float64
	SEM    float64 // standard error
	How    string  // where it comes from
	// SpeedMPS is the speed at which it was found; 0 where not known.
	SpeedMPS float64
}

// Counted returns the step rate of a count: contacts counted within a time that
// began and ended at any moment, of both feet or of one. The error is that of
// counting whole steps, (60/T)/√6 a minute (twice that for one foot), joined with
// a second of a stop-watch misjudged by 0.2 s.
func Counted(count int, seconds float64, oneFoot bool) (Rate, error) {
	if !(seconds >= 5 && seconds <= 3600) {
		return Rate{}, fmt.Errorf("a count over %.3g s cannot be used: count 30 to 60 seconds", seconds)
	}
	feet := 1.0
	how := "counted, both feet"
	if oneFoot {
		feet, how = 2, "counted, one foot doubled"
	}
	r := feet * float64(count) * 60 / seconds
	if !(r >= 100 && r <= 280) {
		return Rate{}, fmt.Errorf("%d steps in %.3g s are %.0f steps a minute, which no runner takes: count the contacts of %s", count, seconds, r, map[bool]string{true: "one foot", false: "both feet"}[oneFoot])
	}
	const watchS = 0.2
	sem := math.Hypot(CountingSD(seconds, oneFoot), r*watchS/seconds)
	return Rate{PerMin: r, SEM: sem, How: fmt.Sprintf("%s over %.0f s", how, seconds)}, nil
}

// CountingSD is the standard deviation of a step rate by whole steps counted in
// a time that begins at any moment: (60/T)/√6, twice that of one foot.
func CountingSD(seconds float64, oneFoot bool) float64 {
	sd := 60 / seconds / math.Sqrt(6)
	if oneFoot {
		sd *= 2
	}
	return sd
}

// Resolution is the smallest step of such a count: 60/T, or 120/T of one foot.
func Resolution(seconds float64, oneFoot bool) float64 {
	if oneFoot {
		return 120 / seconds
	}
	return 60 / seconds
}

// StepLengthM is the length of a step at a speed and step rate, metres.
func StepLengthM(speedMPS, perMin float64) float64 { return 60 * speedMPS / perMin }
