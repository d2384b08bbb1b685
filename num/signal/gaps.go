package signal

import (
	"iter"
	"math"
)

// Runs yields the half-open index ranges [from, to) of consecutive finite
// values of x, in order.
func Runs(x []float64) iter.Seq2[int, int] {
	return func(yield func(int, int) bool) {
		for i := 0; i < len(x); {
			for i < len(x) && math.IsNaN(x[i]) {
				i++
			}
			from := i
			for i < len(x) && !math.IsNaN(x[i]) {
				i++
			}
			if i > from && !yield(from, i) {
				return
			}
		}
	}
}

// Span is a half-open range of sample indices [From, To).
type Span struct{ From, To int }

// Len returns the number of samples in the span.
func (s Span) Len() int { return s.To - s.From }

// Gaps returns the runs of missing values of x, those at its ends included.
func Gaps(x []float64) []Span {
	var out []Span
	end := 0
	for from, to := range Runs(x) {
		if from > end {
			out = append(out, Span{end, from})
		}
		end = to
	}
	if end < len(x) {
		out = append(out, Span{end, len(x)})
	}
	return out
}

// Bridge chooses the curve across a gap.
type Bridge uint8

// The bridges. Cubic carries the slopes on both sides into the gap and so
// follows a turning point inside it; Monotone (Fritsch & Carlson 1980, SIAM J
// Numer Anal 17:238-246, from memory) never leaves the range of its two ends.
const (
	Cubic Bridge = iota
	Monotone
)

// FillGaps fills in place every gap of x that lies between two finite values
// and lasts no longer than limitS seconds from the last sample before it to the
// first after it. It returns which samples it made, nil where it made none.
// Gaps at the ends are never filled.
func FillGaps(timeS, x []float64, limitS float64, b Bridge) (filled []bool) {
	if len(timeS) != len(x) {
		panic("signal: FillGaps: times and values differ in length")
	}
	prevFrom, prevTo := -1, -1 // the run before the gap at hand
	for from, to := range Runs(x) {
		if prevTo >= 0 && timeS[from]-timeS[prevTo-1] <= limitS {
			if filled == nil {
				filled = make([]bool, len(x))
			}
			bridge(timeS, x, prevFrom, prevTo, from, to, b)
			for i := prevTo; i < from; i++ {
				filled[i] = true
			}
		}
		prevFrom, prevTo = from, to
	}
	return filled
}

// bridge fills x[aTo:bFrom] between the runs [aFrom, aTo) and [bFrom, bTo).
func bridge(t, x []float64, aFrom, aTo, bFrom, bTo int, b Bridge) {
	l, r := aTo-1, bFrom
	h := t[r] - t[l]
	secant := (x[r] - x[l]) / h
	ml, mr := secant, secant
	if l > aFrom {
		ml = edgeSlope(t[l-1]-t[l], x[l-1]-x[l], h, x[r]-x[l], b)
	}
	if r+1 < bTo {
		mr = edgeSlope(t[r+1]-t[r], x[r+1]-x[r], -h, x[l]-x[r], b)
	}
	for i := aTo; i < bFrom; i++ {
		x[i] = hermite((t[i]-t[l])/h, h, x[l], x[r], ml, mr)
	}
}

// edgeSlope returns the slope at a gap's edge, where (ta, da) leads to the
// neighbour outside the gap and (tb, db) across it.
func edgeSlope(ta, da, tb, db float64, b Bridge) float64 {
	sa, sb := da/ta, db/tb
	if b == Monotone {
		if sa*sb <= 0 {
			return 0
		}
		return 2 * sa * sb / (sa + sb)
	}
	// The chord outside the gap is the truer slope; the parabola through the
	// three points would lean on the far side of the gap.
	wa, wb := math.Abs(tb), math.Abs(ta)
	return (wa*sa + wb*sb) / (wa + wb)
}

// hermite evaluates the cubic with the given end values and slopes at u in
// [0, 1] of an interval of length h.
func hermite(u, h, a, b, ma, mb float64) float64 {
	u2 := u * u
	u3 := u2 * u
	return (2*u3-3*u2+1)*a + (u3-2*u2+u)*h*ma + (3*u2-2*u3)*b + (u3-u2)*h*mb
}
