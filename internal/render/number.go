package render

import (
	"math"
	"strconv"
	"strings"
)

// unitText is a unit as it is printed.
func unitText(unit string) string {
	switch unit {
	case "deg":
		return "°"
	case "percent":
		return "%"
	case "ratio", "1", "class":
		return ""
	}
	return unit
}

// decimalsFor is how many decimals a value with this error deserves: those of the
// error's first digit, of its first two where it begins with 1; by the unit where
// the error is not known.
func decimalsFor(errorSize float64, unit string) int {
	if !finite(errorSize) || errorSize <= 0 {
		switch unit {
		case "s":
			return 3
		case "m", "", "ratio":
			return 2
		}
		return 1
	}
	power := math.Floor(math.Log10(errorSize))
	d := -int(power)
	if errorSize/math.Pow(10, power) < 1.95 {
		d++
	}
	return min(max(d, 0), 3)
}

// numberText writes a number with a true minus sign; a dash where there is none.
func numberText(v float64, decimals int) string {
	if !finite(v) {
		return "–"
	}
	if math.Abs(v) >= 1e7 {
		return strings.ReplaceAll(strconv.FormatFloat(v, 'e', 2, 64), "-", "−")
	}
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// signedText is numberText with a plus sign.
func signedText(v float64, decimals int) string {
	s := numberText(v, decimals)
	if finite(v) && strings.Trim(s, "−0.") != "" && v > 0 {
		return "+" + s
	}
	return s
}

// errorText writes an error; below the last decimal it says so.
func errorText(v float64, decimals int) string {
	if !finite(v) {
		return ""
	}
	s := numberText(v, decimals)
	if v > 0 && strings.Trim(s, "0.") == "" {
		return "<" + numberText(math.Pow(10, -float64(decimals)), decimals)
	}
	return s
}

// ticks returns round values from low to high, at most about n of them, and the
// decimals they need.
func ticks(low, high float64, n int) (values []float64, decimals int) {
	if !finite(low) || !finite(high) || !finite(high-low) || high-low <= 1e-9*math.Max(math.Abs(low), math.Abs(high)) || n < 1 {
		return nil, 0
	}
	raw := (high - low) / float64(n)
	base := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * base
	for _, m := range [...]float64{1, 2, 5} {
		if m*base >= raw*(1-1e-9) {
			step = m * base
			break
		}
	}
	decimals = min(max(0, -int(math.Floor(math.Log10(step)+1e-9))), 9)
	for k := math.Ceil(low/step - 1e-9); k*step <= high+step*1e-9; k++ {
		values = append(values, k*step)
	}
	return values, decimals
}
