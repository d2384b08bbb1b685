package quantity

import (
	"fmt"
	"math"
	"strings"
)

// Time is a length of time, or a place on a clip's clock, in seconds.
type Time float64

// Units of time.
const (
	Second      Time = 1
	Millisecond Time = 0.001
	Minute      Time = 60
	Hour        Time = 3600
)

// Seconds returns the time in seconds.
func (t Time) Seconds() float64 { return float64(t) }

// Milliseconds returns the time in milliseconds.
func (t Time) Milliseconds() float64 { return float64(t) * 1000 }

// String returns the time in seconds to three decimals at most, such as
// "12.5 s".
func (t Time) String() string { return trim(float64(t), 3) + " s" }

// Clock returns the time as minutes and seconds, or hours, minutes and seconds,
// to the nearest second: "4:45", "1:02:03". The seconds are rounded before they
// are split, so they never read 60.
func (t Time) Clock() string {
	sign := ""
	n := math.Round(float64(t))
	if n < 0 {
		sign, n = "-", -n
	}
	h := math.Floor(n / 3600)
	m := math.Floor((n - 3600*h) / 60)
	s := n - 3600*h - 60*m
	if h > 0 {
		return fmt.Sprintf("%s%.0f:%02.0f:%02.0f", sign, h, m, s)
	}
	return fmt.Sprintf("%s%.0f:%02.0f", sign, m, s)
}

var times = kind{
	what: "time",
	hint: `12.5s, 1:05.2, 90s, 2min or 1h`,
	units: map[string]float64{
		"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1, "ms": 0.001,
		"min": 60, "mins": 60, "minute": 60, "minutes": 60, "m": 60,
		"h": 3600, "hr": 3600, "hour": 3600, "hours": 3600,
	},
	signed: true,
}

// ParseTime reads a time: "12.5s", "750ms", "1:05.2" (minutes and seconds),
// "1:02:03" (hours, minutes, seconds), "2m30s", "30min". Zero is a time; a
// negative one is refused, and so is a number without a unit.
func ParseTime(text string) (Time, error) {
	s := tidy(text)
	if strings.ContainsRune(s, ':') {
		v, err := clock(s)
		if err != nil {
			return 0, times.fail(text, err.Error())
		}
		v, err = times.check(text, v)
		return Time(v), err
	}
	total, last := 0.0, math.Inf(1)
	if s == "" {
		return 0, times.fail(text, "there is no number at its start")
	}
	for s != "" {
		num, rest := split(s)
		i := strings.IndexFunc(rest, func(r rune) bool { return r >= '0' && r <= '9' || r == '.' || r == ',' || r == '-' || r == '+' })
		unit := rest
		s = ""
		if i >= 0 {
			unit, s = rest[:i], rest[i:]
		}
		v, err := times.parse(num + unit)
		if err != nil {
			e := err.(*Error)
			return 0, times.fail(text, e.Why)
		}
		factor := times.units[strings.ReplaceAll(unit, " ", "")]
		if factor >= last {
			return 0, times.fail(text, "the larger unit comes first and each unit once")
		}
		total, last = total+v, factor
		if v < 0 {
			return 0, times.fail(text, "it must not be negative")
		}
	}
	v, err := times.check(text, total)
	return Time(v), err
}

// clock reads m:ss, m:ss.s or h:mm:ss into seconds.
func clock(s string) (float64, error) {
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, fmt.Errorf("%q is not minutes:seconds", s)
	}
	total := 0.0
	for i, p := range parts {
		v, err := number(strings.TrimSpace(p))
		switch {
		case err != nil || strings.ContainsAny(p, "+-"):
			return 0, fmt.Errorf("%q is not minutes:seconds", s)
		case i > 0 && (v >= 60 || len(strings.TrimSpace(p)) < 2):
			return 0, fmt.Errorf("after a colon stand two digits below 60, not %q", p)
		case i < len(parts)-1 && v != math.Trunc(v):
			return 0, fmt.Errorf("only the seconds may have decimals in %q", s)
		}
		total = total*60 + v
	}
	return total, nil
}
