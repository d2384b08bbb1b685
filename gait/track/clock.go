package track

import (
	"math"
	"slices"
)

// MedianStepS returns the median time between consecutive frames in seconds, or
// 0 for fewer than two frames.
func MedianStepS(timeS []float64) float64 {
	if len(timeS) < 2 {
		return 0
	}
	d := make([]float64, len(timeS)-1)
	for i := range d {
		d[i] = timeS[i+1] - timeS[i]
	}
	slices.Sort(d)
	return d[len(d)/2]
}

// NearestFrame returns the index of the frame whose time is nearest to t.
func NearestFrame(timeS []float64, t float64) int {
	i, found := slices.BinarySearch(timeS, t)
	if found {
		return i
	}
	if i == 0 {
		return 0
	}
	if i == len(timeS) || math.Abs(timeS[i-1]-t) <= math.Abs(timeS[i]-t) {
		return i - 1
	}
	return i
}
