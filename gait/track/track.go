// Package track holds the paths of landmarks over time: what was seen, by what
// origin, how sure it was, and what was mended.
//
// A Track never loses what was seen first: mending and smoothing return a new
// Track, and the caller keeps the raw one beside it. A missing sample is NaN in
// every coordinate; it is never zero and never the last value held.
package track

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
)

// Space says in which axes a track's coordinates are.
type Space uint8

// The spaces; package gait describes them.
const (
	Picture Space = iota // X right, Y down, pixels
	Runner               // X forward, Y up, Z rightward; metres or pixels
)

// Unit is the unit of a track's coordinates.
type Unit uint8

// The units.
const (
	Pixel Unit = iota
	Metre
)

// String returns "px" or "m".
func (u Unit) String() string {
	if u == Metre {
		return "m"
	}
	return "px"
}

// Origin says what found a landmark.
type Origin uint8

// The origins.
const (
	NoOrigin   Origin = iota
	PoseModel         // the pose network
	Sticker           // an adhesive marker followed in the picture
	Hand              // placed by the analyst
	MarkerFile        // a motion-capture or keypoint file
	Synthetic         // the synthetic runner's exact truth
)

var originNames = [...]string{"none", "pose model", "sticker", "hand", "marker file", "synthetic"}

// String returns the origin's name.
func (o Origin) String() string {
	if int(o) < len(originNames) {
		return originNames[o]
	}
	return fmt.Sprintf("origin(%d)", uint8(o))
}

// MarshalText writes the origin's name.
func (o Origin) MarshalText() ([]byte, error) { return []byte(o.String()), nil }

// Path is one landmark over time. X, Y and Z have one value a frame, or are nil
// where the space or view has no such axis; NaN where the point was not seen.
type Path struct {
	Origin Origin
	X      []float64
	Y      []float64
	Z      []float64
	// Confidence is 0 to 1 a frame; nil means 1 wherever the point was seen.
	Confidence []float64
	// Filled marks frames whose value was interpolated across a gap, Mended
	// those where a left/right swap was undone; nil where there are none.
	Filled []bool
	Mended []bool
	// Hand marks the frames in which the analyst placed the point; nil where
	// there are none.
	Hand []bool
}

// ConfidenceAt returns the confidence of frame i: 0 where the point is missing.
func (p *Path) ConfidenceAt(i int) float64 {
	if p == nil || !p.Seen(i) {
		return 0
	}
	if p.Confidence == nil {
		return 1
	}
	return p.Confidence[i]
}

// Seen tells whether the point has a value in frame i on each axis it has.
func (p *Path) Seen(i int) bool {
	return p != nil && seenOn(p.X, i) && seenOn(p.Y, i) && seenOn(p.Z, i) && (p.X != nil || p.Y != nil || p.Z != nil)
}

func seenOn(axis []float64, i int) bool { return axis == nil || i < len(axis) && !math.IsNaN(axis[i]) }

// Clone returns a deep copy.
func (p *Path) Clone() *Path {
	if p == nil {
		return nil
	}
	c := *p
	c.X, c.Y, c.Z = slices.Clone(p.X), slices.Clone(p.Y), slices.Clone(p.Z)
	c.Confidence = slices.Clone(p.Confidence)
	c.Filled = slices.Clone(p.Filled)
	c.Mended = slices.Clone(p.Mended)
	c.Hand = slices.Clone(p.Hand)
	return &c
}

// Track is the set of a runner's landmark paths on one clock.
type Track struct {
	Space Space
	Unit  Unit
	// TimeS is the time of each frame in seconds on the clip's own clock,
	// strictly increasing, not necessarily even.
	TimeS []float64
	Paths [body.NumLandmarks]*Path // nil where the landmark has no path
}

// New returns a track with no paths over the given frame times.
func New(space Space, unit Unit, timeS []float64) *Track {
	return &Track{Space: space, Unit: unit, TimeS: timeS}
}

// Frames returns the number of frames.
func (t *Track) Frames() int { return len(t.TimeS) }

// Has tells whether every one of the landmarks has a path.
func (t *Track) Has(ls ...body.Landmark) bool {
	for _, l := range ls {
		if t.Paths[l] == nil {
			return false
		}
	}
	return true
}

// RateHz returns the median frame rate, or 0 for fewer than two frames.
func (t *Track) RateHz() float64 {
	d := MedianStepS(t.TimeS)
	if d <= 0 {
		return 0
	}
	return 1 / d
}

// DurationS returns the time from the first frame to the last.
func (t *Track) DurationS() float64 {
	if len(t.TimeS) < 2 {
		return 0
	}
	return t.TimeS[len(t.TimeS)-1] - t.TimeS[0]
}

// Clone returns a deep copy.
func (t *Track) Clone() *Track {
	c := *t
	c.TimeS = slices.Clone(t.TimeS)
	for i, p := range t.Paths {
		c.Paths[i] = p.Clone()
	}
	return &c
}

// Mirror returns a copy with left and right exchanged and the lateral axis
// reversed: the picture (or the runner) as a mirror shows it. In picture space
// x is reflected about axisX.
func (t *Track) Mirror(axisX float64) *Track {
	c := t.Clone()
	var paths [body.NumLandmarks]*Path
	for i, p := range c.Paths {
		if p == nil {
			continue
		}
		flip := p.Z
		if t.Space == Picture {
			flip = p.X
		}
		for k := range flip {
			if t.Space == Picture {
				flip[k] = 2*axisX - flip[k]
			} else {
				flip[k] = -flip[k]
			}
		}
		paths[body.Landmark(i).Mirror()] = p
	}
	c.Paths = paths
	return c
}

// Part is as Slice, but shares the samples with t: neither is to be changed then.
func (t *Track) Part(from, to int) *Track {
	if from == 0 && to == t.Frames() {
		return t
	}
	c := &Track{Space: t.Space, Unit: t.Unit, TimeS: t.TimeS[from:to:to]}
	for i, p := range t.Paths {
		if p != nil {
			c.Paths[i] = &Path{Origin: p.Origin, X: part(p.X, from, to), Y: part(p.Y, from, to), Z: part(p.Z, from, to),
				Confidence: part(p.Confidence, from, to), Filled: part(p.Filled, from, to), Mended: part(p.Mended, from, to), Hand: part(p.Hand, from, to)}
		}
	}
	return c
}

func part[T any](s []T, from, to int) []T {
	if s == nil {
		return nil
	}
	return s[from:to:to]
}

// Slice returns the frames from, inclusive, to, exclusive, as a deep copy; the
// clock is kept. All frames are the track itself.
func (t *Track) Slice(from, to int) *Track {
	if from == 0 && to == t.Frames() {
		return t
	}
	return t.Part(from, to).Clone()
}

// Validate checks that the clock increases and that every path is as long as
// the clock.
func (t *Track) Validate() error {
	for i := 1; i < len(t.TimeS); i++ {
		if !(t.TimeS[i] > t.TimeS[i-1]) {
			return fmt.Errorf("frame times must increase: frame %d is at %.6f s, after %.6f s", i, t.TimeS[i], t.TimeS[i-1])
		}
	}
	for i, p := range t.Paths {
		if p == nil {
			continue
		}
		for _, c := range [...][]float64{p.X, p.Y, p.Z, p.Confidence} {
			if c != nil && len(c) != len(t.TimeS) {
				return fmt.Errorf("%s has %d values for %d frames", body.Landmark(i), len(c), len(t.TimeS))
			}
		}
	}
	return nil
}
