package signal

import (
	"math"
	"slices"
)

// Median returns the median of the finite values of x, NaN where there are none.
func Median(x []float64) float64 { return medianInPlace(finite(x)) }

// MedianInPlace is Median for a slice that may be reordered, and spares its copy.
func MedianInPlace(x []float64) float64 {
	n := 0
	for _, v := range x {
		if !math.IsNaN(v) {
			x[n] = v
			n++
		}
	}
	return medianInPlace(x[:n])
}

// MAD returns the median absolute deviation of the finite values of x from their
// median, scaled by 1.4826 so that it estimates the standard deviation of normal
// data.
func MAD(x []float64) float64 {
	s := finite(x)
	m := medianInPlace(s)
	for i, v := range s {
		s[i] = math.Abs(v - m)
	}
	return madToSD * medianInPlace(s)
}

// madToSD is 1/Φ⁻¹(3/4).
const madToSD = 1.482602218505602

// Quantile returns the q-quantile (0 to 1) of the finite values of x, linear
// between order statistics; NaN where there are none.
func Quantile(x []float64, q float64) float64 {
	s := finite(x)
	if len(s) == 0 {
		return math.NaN()
	}
	p := min(max(q, 0), 1) * float64(len(s)-1)
	i := int(p)
	at := choose(s, i)
	if i+1 >= len(s) {
		return at
	}
	return at + (p-float64(i))*(slices.Min(s[i+1:])-at)
}

// MeanSD returns the mean and the standard deviation (n−1) of the finite values
// of x and their number. The deviation of fewer than two values is NaN.
func MeanSD(x []float64) (mean, sd float64, n int) {
	for _, v := range x {
		if !math.IsNaN(v) {
			mean += v
			n++
		}
	}
	if n == 0 {
		return math.NaN(), math.NaN(), 0
	}
	mean /= float64(n)
	for _, v := range x {
		if !math.IsNaN(v) {
			sd += (v - mean) * (v - mean)
		}
	}
	return mean, math.Sqrt(sd / float64(n-1)), n
}

func finite(x []float64) []float64 {
	s := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			s = append(s, v)
		}
	}
	return s
}

// medianInPlace reorders s and returns its median.
func medianInPlace(s []float64) float64 {
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	m := choose(s, n/2)
	if n%2 == 1 {
		return m
	}
	return (slices.Max(s[:n/2]) + m) / 2
}

// choose reorders s so that its k-th smallest value, from 0, stands at k with none
// larger before it and none smaller behind, and returns it: quickselect (Hoare 1961,
// Commun ACM 4:321, from memory), linear on average. The values by which s is parted
// are drawn, so that no order of it is a slow one.
func choose(s []float64, k int) float64 {
	draw := uint32(1)
	for len(s) > 1 {
		var of [3]float64
		for i := range of {
			draw = 1664525*draw + 1013904223
			of[i] = s[uint64(draw)*uint64(len(s))>>32]
		}
		middle := max(min(of[0], of[1]), min(max(of[0], of[1]), of[2]))
		below := forward(s, func(v float64) bool { return v < middle })
		if k < below {
			s = s[:below]
			continue
		}
		s, k = s[below:], k-below
		same := forward(s, func(v float64) bool { return !(v > middle) })
		if k < same {
			return middle
		}
		s, k = s[same:], k-same
	}
	return s[0]
}

// forward moves the values that belong there to the front of s and returns their number.
// It has no branch on a value, which would be foretold wrongly every other time.
func forward(s []float64, belongs func(v float64) bool) (n int) {
	for i, v := range s {
		s[i] = s[n]
		s[n] = v
		one := 0
		if belongs(v) {
			one = 1
		}
		n += one
	}
	return n
}

// Outliers are the settings of [RejectOutliers].
type Outliers struct {
	// Deviations is how many robust standard deviations a fully trusted sample
	// may lie from what its neighbours foretell. A sample of confidence c may
	// lie (1+c)/2 as far.
	Deviations float64
	// Floor is the smallest distance that counts, in the signal's unit; it
	// keeps a resting signal from being picked apart.
	Floor float64
	// MinConfidence is the confidence below which a sample is dropped unseen.
	MinConfidence float64
}

// DefaultOutliers are settings for a landmark's path: four robust deviations, in
// the manner of Hampel (1974, J Am Stat Assoc 69:383-393, from memory).
var DefaultOutliers = Outliers{Deviations: 4, MinConfidence: 0.1}

// neighbourPairs are the distances a < b of the symmetric pairs from which a
// sample is foretold: no distance serves in more than two of the seven, so that
// two bad neighbours leave the median sound.
var neighbourPairs = [...][2]int{{1, 3}, {2, 4}, {1, 5}, {2, 6}, {3, 5}, {3, 6}, {4, 7}}

// spreadReach is how many samples either side the local spread is taken from.
const spreadReach = 12

// RejectOutliers writes x to dst with every outlier replaced by NaN, and returns
// the number of samples replaced. Each sample is foretold by parabolas through
// the means of two pairs of neighbours, (b² m_a − a² m_b)/(b² − a²), of which
// the median is taken; an outlier is farther from it than the settings allow,
// measured by the median absolute size of such differences nearby (and never
// less than half of that of the whole signal). Smooth motion, turning points
// included, is foretold well; a run of bad samples longer than two is not
// found. confidence may be nil. dst may not be x.
func RejectOutliers(dst, x, confidence []float64, o Outliers) (dropped int) {
	if len(dst) != len(x) || confidence != nil && len(confidence) != len(x) {
		panic("signal: RejectOutliers: slices differ in length")
	}
	copy(dst, x)
	for i, c := range confidence {
		if !(c >= o.MinConfidence) && !math.IsNaN(x[i]) {
			dst[i] = math.NaN()
			dropped++
		}
	}
	least := math.NaN() // half of the typical difference, worked out once it is asked for
	var outliers []int
	var next [64]float64 // the rough surprises of the next samples
	for i := range dst {
		// A plain mean of the seven foretellings is a short sum, and clears most
		// samples at once; only what it does not clear is looked at robustly.
		if i%len(next) == 0 {
			roughSurprises(next[:], dst, i)
		}
		rough := math.Abs(next[i%len(next)])
		if rough <= o.Floor || math.IsNaN(dst[i]) {
			continue
		}
		if math.IsNaN(least) {
			least = 0.5 * typicalRoughSurprise(dst)
		}
		c := 1.0
		if confidence != nil {
			c = min(max(confidence[i], 0), 1)
		}
		k := o.Deviations * madToSD * (1 + c) / 2
		limit := math.Max(k*least, o.Floor)
		if rough <= limit {
			continue
		}
		d, ok := surprise(dst, i)
		if !ok || math.Abs(d) <= limit {
			continue
		}
		var nearby [2*spreadReach + 1]float64
		window := nearby[:0]
		for j := max(i-spreadReach, 0); j <= min(i+spreadReach, len(dst)-1); j++ {
			if v, ok := surprise(dst, j); ok {
				window = append(window, math.Abs(v))
			}
		}
		if math.Abs(d) > k*insertionMedian(window) {
			outliers = append(outliers, i)
		}
	}
	for _, i := range outliers {
		dst[i] = math.NaN()
	}
	return dropped + len(outliers)
}

// surprise returns the difference of x[i] from the median of what the pairs of
// neighbours foretell; ok is false where fewer than three pairs were seen.
func surprise(x []float64, i int) (d float64, ok bool) {
	if math.IsNaN(x[i]) {
		return 0, false
	}
	var guess [len(neighbourPairs)]float64
	g := guess[:0]
	for _, p := range neighbourPairs {
		a, b := p[0], p[1]
		if i < b || i+b >= len(x) {
			continue
		}
		a2, b2 := float64(a*a), float64(b*b)
		v := (b2*(x[i-a]+x[i+a]) - a2*(x[i-b]+x[i+b])) / (2 * (b2 - a2))
		if !math.IsNaN(v) {
			g = append(g, v)
		}
	}
	if len(g) < 3 {
		return 0, false
	}
	return x[i] - insertionMedian(g), true
}

// reach is the largest distance in neighbourPairs.
const reach = 7

// roughWeights are the weights, for each distance, of the mean of the seven
// foretellings.
var roughWeights = func() (w [reach]float64) {
	for _, p := range neighbourPairs {
		a2, b2 := float64(p[0]*p[0]), float64(p[1]*p[1])
		w[p[0]-1] += b2 / (2 * (b2 - a2)) / float64(len(neighbourPairs))
		w[p[1]-1] -= a2 / (2 * (b2 - a2)) / float64(len(neighbourPairs))
	}
	return w
}()

// roughSurprises puts into to the differences of x[from] and the samples behind it from
// the mean of what their pairs of neighbours foretell; NaN where one of these is missing.
func roughSurprises(to, x []float64, from int) {
	w0, w1, w2, w3, w4, w5, w6 := roughWeights[0], roughWeights[1], roughWeights[2], roughWeights[3], roughWeights[4], roughWeights[5], roughWeights[6]
	for k := range to {
		i := from + k
		if i < reach || i+reach >= len(x) {
			to[k] = math.NaN()
			continue
		}
		n := (*[2*reach + 1]float64)(x[i-reach:])
		to[k] = n[7] - (w0*(n[6]+n[8]) + w1*(n[5]+n[9]) + w2*(n[4]+n[10]) + w3*(n[3]+n[11]) +
			w4*(n[2]+n[12]) + w5*(n[1]+n[13]) + w6*(n[0]+n[14]))
	}
}

// typicalRoughSurprise returns the median size of the rough surprise of about five
// hundred samples spread over x; 0 where there is none.
func typicalRoughSurprise(x []float64) float64 {
	step := max(len(x)/512, 1)
	s := make([]float64, 0, len(x)/step+1)
	var d [1]float64
	for i := 0; i < len(x); i += step {
		if roughSurprises(d[:], x, i); !math.IsNaN(d[0]) {
			s = append(s, math.Abs(d[0]))
		}
	}
	if len(s) == 0 {
		return 0
	}
	return medianInPlace(s)
}

// insertionMedian sorts a short slice and returns its median.
func insertionMedian(s []float64) float64 {
	for i := 1; i < len(s); i++ {
		v := s[i]
		k := i
		for k > 0 && s[k-1] > v {
			s[k] = s[k-1]
			k--
		}
		s[k] = v
	}
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}
