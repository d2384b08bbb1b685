package track

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Correction is a landmark placed by hand in one frame of a track in picture
// space.
type Correction struct {
	Landmark body.Landmark
	Frame    int
	X, Y     float64 // where it is, pixels
	// Blend is how many frames before and after take a part of the shift, less
	// the farther they are (half a cosine); 0 corrects the one frame.
	Blend int
}

// Part is a group of landmarks that change names together.
type Part string

// The parts.
const (
	Legs Part = "legs" // hips to toes
	Arms Part = "arms" // shoulders to fingers
)

// ParsePart reads a part's name.
func ParsePart(name string) (Part, error) {
	if p := Part(name); p == Legs || p == Arms {
		return p, nil
	}
	return "", fmt.Errorf("%q cannot be exchanged: say legs or arms", name)
}

// left returns the left landmarks of the part.
func (p Part) left() []body.Landmark {
	if p == Arms {
		return []body.Landmark{body.LeftShoulder, body.LeftElbow, body.LeftWrist, body.LeftLittleKnuckle, body.LeftIndexKnuckle, body.LeftThumb}
	}
	return []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe, body.LeftMT1, body.LeftMT5,
		body.LeftHeelTop, body.LeftHeelBottom, body.LeftShankTop, body.LeftShankBottom}
}

// Has tells whether a landmark belongs to the part.
func (p Part) Has(l body.Landmark) bool {
	return l.Side() != body.NoSide && slices.Contains(p.left(), l.On(body.Left))
}

// Exchange says that left and right of a part are named the wrong way round in
// the frames From to To, both included.
type Exchange struct {
	From, To int
	Part     Part
}

// Exchanged returns the track with left and right exchanged as told; a frame
// named twice is as it was. Paths that do not change are shared.
func Exchanged(t *Track, xs []Exchange) *Track {
	out := t
	for _, part := range [...]Part{Legs, Arms} {
		odd := make([]bool, t.Frames())
		any := false
		for _, x := range xs {
			if x.Part != part {
				continue
			}
			for i := max(0, x.From); i <= min(x.To, t.Frames()-1); i++ {
				odd[i] = !odd[i]
				any = true
			}
		}
		if !any || !slices.Contains(odd, true) {
			continue
		}
		if out == t {
			c := *t
			out = &c
		}
		for _, l := range part.left() {
			if !t.Has(l, l.Mirror()) {
				continue
			}
			out.Paths[l], out.Paths[l.Mirror()] = t.Paths[l].Clone(), t.Paths[l.Mirror()].Clone()
			for i, x := range odd {
				if x {
					exchangeAt(out, l, i)
				}
			}
		}
	}
	return out
}

// Correct lays corrections over a mended track. A corrected sample is never an
// outlier and is never smoothed away: Path.Hand marks it, and SmoothLike leads
// the smooth path through it. Samples that were bridged beside it are bridged
// anew. Paths without a correction are shared; one of a landmark that has no path
// in the picture is left out.
func Correct(mended *Track, cs []Correction, o CleanOptions) (*Track, error) {
	return CorrectAgain(mended, cs, nil, o)
}

// Corrected is what Correct made of a track.
type Corrected struct {
	From, To *Track
	By       []Correction
}

// CorrectAgain is Correct for a track that was corrected before with the same options:
// paths that are still the same and have the same corrections are shared with what came
// of them then. last may be nil.
func CorrectAgain(mended *Track, cs []Correction, last *Corrected, o CleanOptions) (*Track, error) {
	out := *mended
	by := ofLandmarks(mended, cs)
	was := map[body.Landmark][]Correction{}
	if last != nil {
		was = ofLandmarks(last.From, last.By)
	}
	var smoother *signal.Smoother
	for l, list := range by {
		if old, ok := was[l]; ok && last.From.Paths[l] == mended.Paths[l] && slices.Equal(old, list) {
			out.Paths[l] = last.To.Paths[l]
			continue
		}
		if smoother == nil {
			smoother = signal.NewSmoother(mended.TimeS)
		}
		p, err := corrected(mended, l, list, o, smoother)
		if err != nil {
			return nil, err
		}
		out.Paths[l] = p
	}
	return &out, nil
}

// ofLandmarks sorts corrections by landmark, without those that a track has no place for.
func ofLandmarks(t *Track, cs []Correction) map[body.Landmark][]Correction {
	by := map[body.Landmark][]Correction{}
	for _, c := range cs {
		if p := t.Paths[c.Landmark]; p != nil && p.X != nil && p.Y != nil && c.Frame >= 0 && c.Frame < t.Frames() {
			by[c.Landmark] = append(by[c.Landmark], c)
		}
	}
	return by
}

func corrected(t *Track, l body.Landmark, list []Correction, o CleanOptions, smoother *signal.Smoother) (*Path, error) {
	// The last word on a frame counts.
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Correction) int { return a.Frame - b.Frame })
	kept := list[:0]
	for i, c := range list {
		if i+1 == len(list) || list[i+1].Frame != c.Frame {
			kept = append(kept, c)
		}
	}
	list = kept
	p := t.Paths[l].Clone()
	n := t.Frames()
	p.Hand = make([]bool, n)
	if p.Confidence != nil {
		for _, c := range list {
			p.Confidence[c.Frame] = 1
		}
	}
	refill := make([]bool, n)
	for _, c := range list {
		p.Hand[c.Frame] = true
		if p.Filled == nil {
			continue
		}
		for i := c.Frame; i >= 0 && p.Filled[i]; i-- {
			refill[i] = true
		}
		for i := c.Frame; i < n && p.Filled[i]; i++ {
			refill[i] = true
		}
	}
	for axis, c := range [...][]float64{p.X, p.Y} {
		// What the analyst saw and moved is the smooth path.
		smooth := make([]float64, n)
		if err := smoother.LowPass(smooth, c, cutoffOf(c, smoother.RateHz(), l, o)); err != nil {
			return nil, err
		}
		anchors := make([]anchor, len(list))
		for i, k := range list {
			to := k.X
			if axis == 1 {
				to = k.Y
			}
			seen := smooth[k.Frame]
			if math.IsNaN(seen) {
				seen = c[k.Frame]
			}
			anchors[i] = anchor{k.Frame, to - seen, k.Blend}
			if math.IsNaN(seen) {
				anchors[i] = anchor{frame: k.Frame}
			}
		}
		spread(c, anchors)
		for i, again := range refill {
			if again {
				c[i] = math.NaN()
			}
		}
		for _, k := range list {
			c[k.Frame] = k.X
			if axis == 1 {
				c[k.Frame] = k.Y
			}
		}
		p.Filled = either(p.Filled, signal.FillGaps(t.TimeS, c, o.GapLimitS, signal.Cubic))
	}
	for _, k := range list {
		if p.Filled != nil {
			p.Filled[k.Frame] = false
		}
	}
	return p, nil
}

// anchor is a shift at one frame that reaches some frames to each side.
type anchor struct {
	frame int
	by    float64
	reach int
}

// spread adds to c the shifts of the anchors, in order of frame: each whole at
// its own frame, fading with half a cosine over its reach, and between two anchors
// never more than the larger of the two. An anchor does not reach beyond the next.
func spread(c []float64, anchors []anchor) {
	share := func(a anchor, i int) float64 {
		d := i - a.frame
		if d = max(d, -d); d > a.reach {
			return 0
		}
		return (1 + math.Cos(math.Pi*float64(d)/float64(a.reach+1))) / 2
	}
	for k := -1; k < len(anchors); k++ {
		from, to := 0, len(c)
		if k >= 0 {
			c[anchors[k].frame] += anchors[k].by
			from = anchors[k].frame + 1
		}
		if k+1 < len(anchors) {
			to = anchors[k+1].frame
		}
		for i := from; i < to; i++ {
			var w, sum float64
			if k >= 0 {
				s := share(anchors[k], i)
				w, sum = w+s, sum+s*anchors[k].by
			}
			if k+1 < len(anchors) {
				s := share(anchors[k+1], i)
				w, sum = w+s, sum+s*anchors[k+1].by
			}
			c[i] += sum / math.Max(1, w)
		}
	}
}

// SmoothLike smooths a corrected track as its uncorrected one was smoothed:
// before is the mended track without corrections and smooth what Smooth made of
// it. A path with corrections keeps the cut-off it had and is led through the
// points placed by hand; the others are shared with smooth.
func SmoothLike(t, before, smooth *Track, o CleanOptions) (*Track, error) {
	return SmoothLikeAgain(t, before, smooth, nil, o)
}

// SmoothedLike is what SmoothLike made of a corrected track.
type SmoothedLike struct{ From, Before, To *Track }

// SmoothLikeAgain is SmoothLike for a track of which an earlier form was smoothed before
// with the same options: paths that are still the same, as their uncorrected ones are,
// are shared with what came of them then. last may be nil.
func SmoothLikeAgain(t, before, smooth *Track, last *SmoothedLike, o CleanOptions) (*Track, error) {
	out := *smooth
	var smoother *signal.Smoother
	for l, p := range t.Paths {
		if p == nil || !slices.Contains(p.Hand, true) {
			continue
		}
		if last != nil && p == last.From.Paths[l] && before.Paths[l] == last.Before.Paths[l] {
			out.Paths[l] = last.To.Paths[l]
			continue
		}
		if smoother == nil {
			smoother = signal.NewSmoother(t.TimeS)
		}
		q, was := p.Clone(), maps.Collect(before.Paths[l].axes())
		for axis, c := range q.axes() {
			cutoff := cutoffOf(was[axis], smoother.RateHz(), body.Landmark(l), o)
			placed := slices.Clone(c)
			if err := smoother.LowPass(c, placed, cutoff); err != nil {
				return nil, err
			}
			// The reach of the low-pass: a quarter of a period at its cut-off
			// either side holds nearly all of its weight.
			reach := int(math.Ceil(smoother.RateHz() / (4 * cutoff)))
			var anchors []anchor
			for i, hand := range p.Hand {
				if hand && math.IsNaN(c[i]) {
					c[i] = placed[i]
				} else if hand {
					anchors = append(anchors, anchor{i, placed[i] - c[i], reach})
				}
			}
			spread(c, anchors)
			for i, hand := range p.Hand {
				if hand {
					c[i] = placed[i] // exactly
				}
			}
		}
		out.Paths[l] = q
	}
	return &out, nil
}

// cutoffOf is the cut-off that Smooth chooses for one axis of a landmark's path.
func cutoffOf(c []float64, rateHz float64, l body.Landmark, o CleanOptions) float64 {
	top := o.MaxCutoffHz
	if isFoot(l) {
		top = o.MaxFootCutoffHz
	}
	cutoff := top
	if r, err := signal.ResidualAnalysis(c, rateHz, o.MinCutoffHz, top); err == nil {
		cutoff = r.CutoffHz
	}
	return math.Min(math.Max(cutoff, o.MinCutoffHz), top)
}
