package sticker

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
)

// Source is a clip as a decoder gives it: forwards, from any frame on.
type Source interface {
	// Len is the number of frames.
	Len() int
	// Each calls give for the frames from (inclusive) to (exclusive) in rising
	// order. A frame that cannot be decoded is left out. The picture may be
	// reused after give returns; an error of give ends the reading and is
	// returned as it is.
	Each(ctx context.Context, from, to int, give func(frame int, g *image.Gray) error) error
}

// Frames is a clip whose frames can be had in any order.
type Frames interface {
	Len() int
	// Grey returns one frame; nil without an error where it cannot be decoded.
	Grey(ctx context.Context, frame int) (*image.Gray, error)
}

// SourceOf makes a Source of frames that can be had in any order.
func SourceOf(f Frames) Source { return anyOrder{f} }

type anyOrder struct{ Frames }

func (a anyOrder) Each(ctx context.Context, from, to int, give func(int, *image.Gray) error) error {
	for i := from; i < to; i++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		g, err := a.Grey(ctx, i)
		if err != nil {
			return fmt.Errorf("frame %d: %w", i, err)
		}
		if g == nil {
			continue
		}
		if err := give(i, g); err != nil {
			return err
		}
	}
	return nil
}

// Shape is how a point is followed.
type Shape uint8

// The shapes. Auto takes a disc or rings for Round and anything else for
// Textured.
const (
	Auto     Shape = iota
	Round          // an adhesive disc, bright or dark, or rings about one centre
	Textured       // any patch that differs from its surroundings in both directions
)

var shapeNames = [...]string{"auto", "round", "textured"}

// String returns the shape's name.
func (s Shape) String() string {
	if int(s) < len(shapeNames) {
		return shapeNames[s]
	}
	return fmt.Sprintf("shape(%d)", uint8(s))
}

// Click is a place shown by a person, in pixels of the picture: the middle of
// the top-left pixel is at (0.5, 0.5).
type Click struct {
	Frame    int
	XPX, YPX float64
}

// Point is something to be followed.
type Point struct {
	// Name is the landmark's name (package body) or any other.
	Name string
	// Clicks are where it was shown: one is enough, further ones are
	// corrections that the path passes through.
	Clicks []Click
	// DiameterPX is the expected diameter in pixels; 0 where it is not known.
	DiameterPX float64
	Shape      Shape
}

// State says what a sample of a path rests on.
type State uint8

// The states of a sample. A Missing sample has NaN for its place and error.
const (
	Missing  State = iota
	Followed       // found in this frame
	Doubtful       // found, but another place, or another point's mark, is as likely
	Clicked        // shown by a person; fitted where the picture allows it
)

var stateNames = [...]string{"missing", "followed", "doubtful", "clicked"}

// String returns the state's name.
func (s State) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return fmt.Sprintf("state(%d)", uint8(s))
}

// Sample is a point in one frame.
type Sample struct {
	XPX, YPX     float64 // place; NaN where missing
	SDXPX, SDYPX float64 // one standard deviation of the place on each axis; NaN where missing
	// Quality is the share, 0 to 1, of the grey variation about the point which
	// the fit explains: 1 where the picture is what was clicked, moved, turned
	// and lit otherwise; 0 where missing.
	Quality float64
	State   State
}

// Seen tells whether the sample has a place.
func (s Sample) Seen() bool { return s.State != Missing }

// Film is compressed, and what an encoder leaves out moves whole blocks together,
// which the fit cannot see: the error of a place in film is filmFactor times what a
// fit says, and filmSDPX besides (own measurement, docs/stickers.md).
const filmFactor, filmSDPX = 1.3, 0.05

// doubt makes a sample doubtful: it may as well be somewhere else, that far away.
func (s *Sample) doubt(awayPX float64) {
	if s.State != Doubtful {
		s.SDXPX, s.SDYPX = math.Hypot(s.SDXPX, doubtShare*awayPX), math.Hypot(s.SDYPX, doubtShare*awayPX)
	}
	s.State = Doubtful
}

// InFilm returns the sample with the errors that it has in compressed film.
func (s Sample) InFilm() Sample {
	s.SDXPX, s.SDYPX = math.Hypot(filmFactor*s.SDXPX, filmSDPX), math.Hypot(filmFactor*s.SDYPX, filmSDPX)
	return s
}

// ClickSDPX is how well a person hits the middle of a mark: the error of a textured
// point as a whole, which its samples do not state, since they are measured against
// the click.
const ClickSDPX = 1.0

var missing = Sample{XPX: math.NaN(), YPX: math.NaN(), SDXPX: math.NaN(), SDYPX: math.NaN()}

// Path is a point over a clip, one sample a frame.
type Path struct {
	Name       string
	Shape      Shape   // Round or Textured, as it was followed
	DiameterPX float64 // as found at the first click
	Samples    []Sample
}

// Errors that Follow and NewTracker can be asked about with errors.Is.
var (
	// ErrNothing means that there is nothing at a click that could be followed.
	ErrNothing = errors.New("there is nothing to follow here")
	// ErrClick means that a click is outside the picture or the clip.
	ErrClick = errors.New("the click is not on the clip")
	// ErrFrameSize means that frames of one clip differ in size, or are too small.
	ErrFrameSize = errors.New("the frames cannot be followed through")
)

// minSide is the shortest side of a frame in which anything can be followed.
const minSide = 16

func checkPoints(points []Point, frames int) error {
	if len(points) == 0 {
		return errors.New("no point was named: click one, then follow it")
	}
	for _, p := range points {
		if len(p.Clicks) == 0 {
			return fmt.Errorf("%w: %s has no click; click it in one frame", ErrClick, p.label())
		}
		if p.DiameterPX < 0 || math.IsNaN(p.DiameterPX) || math.IsInf(p.DiameterPX, 0) {
			return fmt.Errorf("%s: a diameter of %g px cannot be: give the sticker's width in pixels, or 0 where it is not known", p.label(), p.DiameterPX)
		}
		if p.DiameterPX > maxDiameter {
			return fmt.Errorf("%s: a diameter of %g px is more than the %d px that are followed; the middle of a smaller mark inside it will do", p.label(), p.DiameterPX, maxDiameter)
		}
		if p.Shape > Textured {
			return fmt.Errorf("%s: %v is not known: choose auto, round or textured", p.label(), p.Shape)
		}
		at := map[int]bool{}
		for _, c := range p.Clicks {
			switch {
			case c.Frame < 0 || c.Frame >= frames:
				return fmt.Errorf("%w: %s was clicked in frame %d, the clip has frames 0 to %d", ErrClick, p.label(), c.Frame, frames-1)
			case math.IsNaN(c.XPX) || math.IsNaN(c.YPX) || math.IsInf(c.XPX, 0) || math.IsInf(c.YPX, 0):
				return fmt.Errorf("%w: %s in frame %d has the place (%g, %g); click again", ErrClick, p.label(), c.Frame, c.XPX, c.YPX)
			case at[c.Frame]:
				return fmt.Errorf("%w: %s was clicked twice in frame %d; keep one of the two", ErrClick, p.label(), c.Frame)
			}
			at[c.Frame] = true
		}
	}
	return nil
}

func (p Point) label() string {
	if p.Name == "" {
		return "the point"
	}
	return p.Name
}
