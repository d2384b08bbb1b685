package measure

import (
	"math"
	"math/rand/v2"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/agree"
)

// StrideValues are one measure's values by stride (or step), NaN where a stride
// gives none, with the time from the contact before a stride to the end of it, in
// which its landmarks lie.
type StrideValues struct {
	Name          string
	Side          body.Side
	Values        []float64
	FromS, UntilS []float64
	feet          []body.Side // whose each value is; nil for those of one foot
}

// Mean is the measure's value with these values: their mean without wild ones, NaN
// where there are too few.
func (v StrideValues) Mean(values []float64) float64 {
	kept, _ := dropWildOfFeet(values, v.feet)
	mean := agree.MeanOf(kept)
	if mean.N < fewest {
		return math.NaN()
	}
	return mean.Value
}

// Trials works out what the measures of a clip would be with one landmark
// elsewhere, stride by stride and fast enough for hundreds of places: measures that
// do not rest on the landmark are not worked out again.
type Trials struct {
	// Plain are the values of the clip as it is, in the order of Compute's measures;
	// a measure that is withheld, that rests on times alone or is not a mean over
	// strides has none.
	Plain []StrideValues

	in    Input
	rests [body.NumLandmarks][]bool // which measures rest on a landmark, where asked already
}

// NewTrials prepares a clip for trials.
func NewTrials(in Input) *Trials {
	in.Track = in.settle()
	t := &Trials{in: in}
	t.Plain = t.read(in.Track, nil)
	return t
}

// With returns the values with another track, which differs from the clip's in
// landmark l alone; nothing for measures that do not rest on it.
func (t *Trials) With(other *track.Track, l body.Landmark) []StrideValues {
	return t.read(other, t.RestOn(l))
}

// RestOn tells which measures rest on a landmark: those that change when all its
// path trembles.
func (t *Trials) RestOn(l body.Landmark) []bool {
	if t.rests[l] != nil {
		return t.rests[l]
	}
	out := make([]bool, len(t.Plain))
	if p := t.in.Track.Paths[l]; p != nil {
		other := *t.in.Track
		other.Paths[l] = p.Clone()
		axes := [...][]float64{other.Paths[l].X, other.Paths[l].Y, other.Paths[l].Z}
		size := 0.0
		for _, v := range axes {
			for _, x := range v {
				if math.Abs(x) > size {
					size = math.Abs(x)
				}
			}
		}
		draw := rand.New(rand.NewPCG(1, uint64(l)))
		for _, v := range axes {
			for i := range v {
				v[i] += (draw.Float64() - 0.5) * 1e-3 * size
			}
		}
		for k, v := range t.read(&other, nil) {
			out[k] = !slices.EqualFunc(v.Values, t.Plain[k].Values, func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) })
		}
	}
	t.rests[l] = out
	return out
}

// read works out the values of the measures wanted, nil for all.
func (t *Trials) read(other *track.Track, wanted []bool) []StrideValues {
	in := t.in
	in.Track, in.Placed, in.Lines = other, nil, in.Lines.Next()
	c, _ := newReading(in, other)
	var from, until [3][]float64
	for i, p := range c.passes {
		end := p.ic + 2*c.usualStepS()
		if !math.IsNaN(p.stride) {
			end = p.stride
		}
		start := p.ic
		if i > 0 {
			start = math.Max(c.passes[i-1].ic, p.ic-c.usualStepS())
		}
		for _, s := range [...]body.Side{body.NoSide, p.side} {
			from[s], until[s] = append(from[s], start), append(until[s], end)
		}
	}
	var out []StrideValues
	eachMeasure(func(d Definition, s body.Side) {
		v := StrideValues{Name: d.Name, Side: s}
		if (wanted == nil || wanted[len(out)]) && d.plane != timeOnly {
			if why, _ := c.blocked(d, s); why == "" {
				if r := d.compute(c, s); r.reason == "" && r.has&hasExact == 0 && len(r.values) == len(from[s]) {
					v.Values, v.FromS, v.UntilS, v.feet = r.values, from[s], until[s], c.feet(s, len(r.values))
				}
			}
		}
		out = append(out, v)
	})
	return out
}
