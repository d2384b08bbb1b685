package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Speed is a speed in metres a second.
type Speed float64

// Units of speed.
const (
	MetrePerSecond   Speed = 1
	KilometrePerHour Speed = 1 / 3.6
	MilePerHour      Speed = metresPerMile / 3600
)

const metresPerMile = 1609.344

// MPS returns the speed in metres a second.
func (s Speed) MPS() float64 { return float64(s) }

// KMH returns the speed in kilometres an hour.
func (s Speed) KMH() float64 { return float64(s) * 3.6 }

// MPH returns the speed in miles an hour.
func (s Speed) MPH() float64 { return float64(s) * 3600 / metresPerMile }

// PerKM returns the time for a kilometre; 0 for a speed that is not positive.
func (s Speed) PerKM() Time { return s.over(1000) }

// PerMile returns the time for a mile; 0 for a speed that is not positive.
func (s Speed) PerMile() Time { return s.over(metresPerMile) }

func (s Speed) over(metres float64) Time {
	if !(s > 0) {
		return 0
	}
	return Time(metres / float64(s))
}

// Pace returns the pace a kilometre to the nearest second, such as "4:45/km";
// "-" for a speed that is not positive.
func (s Speed) Pace() string { return pace(s.PerKM(), "/km") }

// PaceMile returns the pace a mile to the nearest second, such as "7:39/mi"; "-"
// for a speed that is not positive.
func (s Speed) PaceMile() string { return pace(s.PerMile(), "/mi") }

func pace(t Time, per string) string {
	if t <= 0 || math.IsInf(float64(t), 0) {
		return "-"
	}
	return t.Clock() + per
}

// String returns the speed in metres a second to two decimals, such as
// "3.5 m/s".
func (s Speed) String() string { return trim(float64(s), 2) + " m/s" }

var speeds = kind{
	what: "speed",
	hint: `3.5m/s, 12.6km/h, 7.8mph or as a pace 4:45/km, 7:39/mi`,
	units: map[string]float64{
		"m/s": 1, "mps": 1, "m s-1": 1, "metres/second": 1, "meters/second": 1,
		"km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "kmph": 1 / 3.6, "km/hr": 1 / 3.6,
		"mph": metresPerMile / 3600, "mi/h": metresPerMile / 3600, "miles/h": metresPerMile / 3600, "mi/hr": metresPerMile / 3600,
		"m/min": 1.0 / 60,
	},
}

// paceUnits gives the metres that a pace is counted over.
var paceUnits = map[string]float64{
	"/km": 1000, "min/km": 1000, "perkm": 1000, "minperkm": 1000, "akilometre": 1000,
	"/mi": metresPerMile, "min/mi": metresPerMile, "/mile": metresPerMile, "min/mile": metresPerMile, "permile": metresPerMile, "minpermile": metresPerMile,
}

// ParseSpeed reads a speed ("3.5m/s", "12.6 km/h", "12.6kph", "7.8mph",
// "200 m/min") or a pace ("4:45/km", "4:45 min/km", "7:39/mi", "4.75 min/km").
// A number without a unit is refused.
func ParseSpeed(text string) (Speed, error) {
	s := tidy(text)
	i := strings.IndexFunc(s, func(r rune) bool { return (r < '0' || r > '9') && !strings.ContainsRune(".,:+-", r) })
	head, unit := s, ""
	if i >= 0 {
		head, unit = s[:i], strings.ReplaceAll(s[i:], " ", "")
	}
	metres, isPace := paceUnits[unit]
	switch {
	case strings.ContainsRune(head, ':') && !isPace:
		if unit == "" {
			return 0, speeds.fail(text, "a pace needs its distance")
		}
		return 0, speeds.fail(text, fmt.Sprintf("a pace in minutes and seconds does not go with %q", unit))
	case !isPace:
		v, err := speeds.parse(text)
		return Speed(v), err
	}
	var seconds float64
	if strings.ContainsRune(head, ':') {
		t, err := clock(head)
		if err != nil {
			return 0, speeds.fail(text, err.Error())
		}
		seconds = t
	} else {
		m, err := number(head)
		if err != nil {
			return 0, speeds.fail(text, err.Error())
		}
		if !strings.HasPrefix(unit, "min") {
			return 0, speeds.fail(text, "the pace's minutes and seconds are missing")
		}
		seconds = m * 60
	}
	if !(seconds > 0) {
		return 0, speeds.fail(text, "a pace must be greater than zero")
	}
	v, err := speeds.check(text, metres/seconds)
	return Speed(v), err
}
