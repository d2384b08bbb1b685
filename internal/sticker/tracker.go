package sticker

import (
	"fmt"
	"image"
	"slices"
)

// Direction is the order in which a Tracker is given frames.
type Direction int8

// The directions.
const (
	Forwards  Direction = +1
	Backwards Direction = -1
)

// Tracker follows points through frames as they come, one after the other in one
// direction. It keeps no frame. A point is followed from its first click in that
// direction on. Use Follow for both directions.
type Tracker struct {
	direction Direction
	followers []*follower
	frame     int
	begun     bool
	size      image.Rectangle
}

// NewTracker makes a tracker of points for a clip of that many frames. Errors are
// about clicks that cannot be; what they show is looked at when their frame comes.
func NewTracker(points []Point, frames int, d Direction) (*Tracker, error) {
	if d != Forwards && d != Backwards {
		return nil, fmt.Errorf("the direction %d is not known: frames come forwards (+1) or backwards (-1)", d)
	}
	if err := checkPoints(points, frames); err != nil {
		return nil, err
	}
	t := &Tracker{direction: d}
	for _, p := range points {
		p.Clicks = slices.Clone(p.Clicks)
		t.followers = append(t.followers, newFollower(p, frames, map[int]*anchor{}))
	}
	return t, nil
}

// Push looks for every point in the next frame. Frames must come in the
// tracker's direction; one that is left out counts as not seen. The error wraps
// ErrNothing where there is nothing to follow at a point's first click, ErrClick
// where a click is outside the picture, ErrFrameSize where frames differ in size.
func (t *Tracker) Push(frame int, g *image.Gray) error {
	if g == nil {
		return fmt.Errorf("%w: frame %d is not there", ErrFrameSize, frame)
	}
	r := g.Rect
	if r.Dx() < minSide || r.Dy() < minSide {
		return fmt.Errorf("%w: frame %d is %d × %d px; at least %d px a side are needed", ErrFrameSize, frame, r.Dx(), r.Dy(), minSide)
	}
	if g.Stride < r.Dx() || len(g.Pix) < (r.Dy()-1)*g.Stride+r.Dx() {
		return fmt.Errorf("%w: frame %d has %d bytes for %d × %d px", ErrFrameSize, frame, len(g.Pix), r.Dx(), r.Dy())
	}
	p := pictureOf(g)
	if r.Min != (image.Point{}) {
		p.rect = p.rect.Sub(r.Min)
		p.whole = p.rect
	}
	return t.push(frame, []picture{p})
}

// push takes a frame as one picture for all points, or one for each.
func (t *Tracker) push(frame int, parts []picture) error {
	p := parts[0]
	frames := len(t.followers[0].samples)
	if frame < 0 || frame >= frames {
		return fmt.Errorf("frame %d is not one of the clip's %d", frame, frames)
	}
	if t.begun {
		if p.whole != t.size {
			return fmt.Errorf("%w: frame %d is %d × %d px, those before are %d × %d; give frames of one size", ErrFrameSize,
				frame, p.whole.Dx(), p.whole.Dy(), t.size.Dx(), t.size.Dy())
		}
		if ahead := (frame - t.frame) * int(t.direction); ahead < 0 || ahead == 0 && !t.behind(frame) {
			return fmt.Errorf("frame %d came after frame %d: frames are given in order, each once", frame, t.frame)
		}
		for i := t.frame + int(t.direction); i != frame && t.frame != frame; i += int(t.direction) {
			for _, w := range t.followers {
				w.skip(i)
			}
		}
	}
	t.begun, t.frame, t.size = true, frame, p.whole
	var claims []claim
	for k, w := range t.followers {
		if w.frame == frame {
			continue // done already, from a crop
		}
		if len(parts) > 1 {
			p = parts[k]
		}
		c, err := w.look(frame, p)
		if err != nil {
			return err
		}
		claims = append(claims, c)
	}
	if err := contest(claims); err != nil {
		return err
	}
	for k := range claims {
		if err := claims[k].settle(frame, claims); err != nil {
			return err
		}
	}
	return nil
}

// behind tells whether a point has yet to be looked for in a frame.
func (t *Tracker) behind(frame int) bool {
	return slices.ContainsFunc(t.followers, func(w *follower) bool { return w.frame != frame && w.anchor != nil })
}

// Paths returns the paths as far as they are known, in the order of the points.
func (t *Tracker) Paths() []Path {
	out := make([]Path, len(t.followers))
	for i, w := range t.followers {
		out[i] = w.result(slices.Clone(w.samples))
	}
	return out
}

func (w *follower) result(samples []Sample) Path {
	p := Path{Name: w.pt.Name, Samples: samples}
	if a := w.anchors[w.pt.Clicks[0].Frame]; a != nil && a.fitted {
		p.Shape = a.shape
		p.DiameterPX = a.diameter()
	}
	return p
}

func (a *anchor) diameter() float64 {
	if a.shape == Round {
		return 2 * a.rings.radius()
	}
	return float64(2*a.patch.half + 1)
}
