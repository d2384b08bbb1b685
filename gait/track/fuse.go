package track

import (
	"errors"
	"fmt"
	"math"
)

// Estimate is a path of one origin with its error: one standard deviation on
// each axis and frame, in the path's unit. An axis without errors is nil where
// the path has no such axis.
type Estimate struct {
	Path          *Path
	SDX, SDY, SDZ []float64
}

// Fused is one path made of several of different origin.
type Fused struct {
	// Path holds the fused places. Its origin is the one that carried most of
	// the weight over the whole path; a frame that no origin saw is missing.
	Path *Path
	// SDX, SDY and SDZ are one standard deviation a frame, NaN where missing;
	// nil where the path has no such axis.
	SDX, SDY, SDZ []float64
	// From is the origin that carried most of the weight in each frame,
	// NoOrigin where the point is missing.
	From []Origin
	// Disagrees marks the frames in which two origins were farther apart than
	// their errors explain. There the better one stands, with its own error: the
	// mark says that one of the two errors was not true.
	Disagrees []bool
}

// Disagreements returns in how many frames the origins disagreed.
func (f Fused) Disagreements() int {
	n := 0
	for _, d := range f.Disagrees {
		if d {
			n++
		}
	}
	return n
}

// agreeSD is how many standard deviations of their difference two origins may be
// apart, on an axis, before they are said to disagree: 3.3, one in a thousand.
const agreeSD = 3.3

// Fuse makes one path of estimates of the same point by different origins, each
// frame and axis weighted by the inverse of its variance, which gives the least
// error if the errors are independent:
//
//	x = Σ xᵢ/σᵢ² / Σ 1/σᵢ²    σ² = 1 / Σ 1/σᵢ²
//
// Where two that see a frame are farther apart than their errors explain, one of
// them is wrong and a mean would be wrong as well: the frame keeps the one whose
// confidence over error is the greatest, and those that agree with it, and is
// marked. A sample placed by hand outranks any other it disagrees with.
//
// The paths must have the same frames and axes; an error that is zero, negative
// or not a number where the sample is seen is refused. The arguments stay as
// they are.
func Fuse(estimates ...Estimate) (Fused, error) {
	if len(estimates) == 0 || estimates[0].Path == nil {
		return Fused{}, errors.New("there is nothing to fuse: give one path with its error, or more")
	}
	frames := 0
	for i, e := range estimates {
		if e.Path == nil {
			return Fused{}, fmt.Errorf("estimate %d has no path: leave it out", i)
		}
		n, err := e.check(estimates[0])
		if err != nil {
			return Fused{}, fmt.Errorf("estimate %d (%v): %w", i, e.Path.Origin, err)
		}
		if i > 0 && n != frames {
			return Fused{}, fmt.Errorf("estimate %d (%v) has %d frames, the first has %d: fuse paths of one clip", i, e.Path.Origin, n, frames)
		}
		frames = n
	}
	out := Fused{Path: &Path{Confidence: make([]float64, frames)}, From: make([]Origin, frames), Disagrees: make([]bool, frames)}
	axis := func(has []float64) (value, sd []float64) {
		if has == nil {
			return nil, nil
		}
		return make([]float64, frames), make([]float64, frames)
	}
	first := estimates[0].Path
	out.Path.X, out.SDX = axis(first.X)
	out.Path.Y, out.SDY = axis(first.Y)
	out.Path.Z, out.SDZ = axis(first.Z)
	carried := map[Origin]float64{}
	for i := range frames {
		out.fuseFrame(i, estimates, carried)
	}
	for _, e := range estimates {
		if o := e.Path.Origin; carried[o] > carried[out.Path.Origin] || carried[o] == carried[out.Path.Origin] && o > out.Path.Origin {
			out.Path.Origin = o
		}
	}
	out.Path.Filled = marks(estimates, frames, out.From, func(p *Path) []bool { return p.Filled })
	out.Path.Mended = marks(estimates, frames, out.From, func(p *Path) []bool { return p.Mended })
	return out, nil
}

// axesWithError returns an estimate's coordinates with their errors.
func (e Estimate) axesWithError() [3][2][]float64 {
	return [3][2][]float64{{e.Path.X, e.SDX}, {e.Path.Y, e.SDY}, {e.Path.Z, e.SDZ}}
}

// check returns the number of frames of an estimate, or what is wrong with it.
func (e Estimate) check(first Estimate) (frames int, err error) {
	frames = -1
	like := first.axesWithError()
	for a, c := range e.axesWithError() {
		name := "XYZ"[a : a+1]
		if (c[0] == nil) != (like[a][0] == nil) {
			return 0, fmt.Errorf("axis %s is in one path and not in the other: bring both to one space first", name)
		}
		if c[0] == nil {
			continue
		}
		if frames < 0 {
			frames = len(c[0])
		}
		if len(c[0]) != frames || len(c[1]) != frames {
			return 0, fmt.Errorf("axis %s has %d values and %d errors for %d frames", name, len(c[0]), len(c[1]), frames)
		}
		for i, sd := range c[1] {
			if e.Path.Seen(i) && !(sd > 0 && !math.IsInf(sd, 0)) {
				return 0, fmt.Errorf("frame %d has the error %g on axis %s: an error is greater than zero", i, sd, name)
			}
		}
	}
	if frames < 0 {
		return 0, errors.New("the path has no axis")
	}
	if e.Path.Confidence != nil && len(e.Path.Confidence) != frames {
		return 0, fmt.Errorf("it has %d confidences for %d frames", len(e.Path.Confidence), frames)
	}
	return frames, nil
}

func (out *Fused) fuseFrame(i int, estimates []Estimate, carried map[Origin]float64) {
	best, rank := -1, math.Inf(-1)
	for k, e := range estimates {
		if !e.Path.Seen(i) {
			continue
		}
		if r := e.rank(i); r > rank || r == rank && e.before(estimates[best], i) {
			best, rank = k, r
		}
	}
	drop := func(value, sd []float64) {
		if value != nil {
			value[i], sd[i] = math.NaN(), math.NaN()
		}
	}
	if best < 0 {
		drop(out.Path.X, out.SDX)
		drop(out.Path.Y, out.SDY)
		drop(out.Path.Z, out.SDZ)
		return
	}
	kept := make([]bool, len(estimates))
	for k, e := range estimates {
		kept[k] = e.Path.Seen(i) && e.agrees(estimates[best], i)
		out.Disagrees[i] = out.Disagrees[i] || e.Path.Seen(i) && !kept[k]
	}
	weightOf := make([]float64, len(estimates))
	fused := [3][2][]float64{{out.Path.X, out.SDX}, {out.Path.Y, out.SDY}, {out.Path.Z, out.SDZ}}
	for a, dst := range fused {
		if dst[0] == nil {
			continue
		}
		sum, weights := 0.0, 0.0
		at := estimates[best].axesWithError()[a][0][i]
		for k, e := range estimates {
			if kept[k] {
				c := e.axesWithError()[a]
				w := 1 / (c[1][i] * c[1][i])
				sum += w * (c[0][i] - at)
				weights += w
				weightOf[k] += w
			}
		}
		dst[0][i] = at + sum/weights
		dst[1][i] = 1 / math.Sqrt(weights)
	}
	total, top := 0.0, -1
	for k, w := range weightOf {
		total += w
		if w > 0 && (top < 0 || w > weightOf[top] || w == weightOf[top] && estimates[k].before(estimates[top], i)) {
			top = k
		}
	}
	for k, w := range weightOf {
		out.Path.Confidence[i] += w / total * estimates[k].Path.ConfidenceAt(i)
		carried[estimates[k].Path.Origin] += w / total
	}
	out.From[i] = estimates[top].Path.Origin
}

// rank orders samples that disagree: by hand first, then by confidence over
// error.
func (e Estimate) rank(i int) float64 {
	sum := 0.0
	for _, c := range e.axesWithError() {
		if c[0] != nil {
			sum += c[1][i] * c[1][i]
		}
	}
	r := e.Path.ConfidenceAt(i) / math.Sqrt(sum)
	if e.Path.Origin == Hand {
		r += 1e12
	}
	return r
}

// before decides between samples that nothing else tells apart, whatever the order they
// were given in: what was stuck on or placed goes before what a network saw, and of one
// origin the lesser place.
func (e Estimate) before(o Estimate, i int) bool {
	if e.Path.Origin != o.Path.Origin {
		return e.Path.Origin > o.Path.Origin
	}
	theirs := o.axesWithError()
	for a, c := range e.axesWithError() {
		if c[0] != nil && c[0][i] != theirs[a][0][i] {
			return c[0][i] < theirs[a][0][i]
		}
	}
	return false
}

// agrees tells whether two samples are as near each other as their errors say.
func (e Estimate) agrees(o Estimate, i int) bool {
	theirs := o.axesWithError()
	for a, c := range e.axesWithError() {
		if c[0] == nil {
			continue
		}
		if math.Abs(c[0][i]-theirs[a][0][i]) > agreeSD*math.Hypot(c[1][i], theirs[a][1][i]) {
			return false
		}
	}
	return true
}

// marks carries marks of the origin that leads each frame over; nil where there
// are none.
func marks(estimates []Estimate, frames int, from []Origin, of func(*Path) []bool) []bool {
	var out []bool
	for _, e := range estimates {
		m := of(e.Path)
		for i := range min(frames, len(m)) {
			if m[i] && from[i] == e.Path.Origin {
				if out == nil {
					out = make([]bool, frames)
				}
				out[i] = true
			}
		}
	}
	return out
}
