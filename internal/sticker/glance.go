package sticker

import (
	"context"
	"errors"
	"fmt"
	"image"
	"slices"
)

// ErrFleeting means that what is at a click can be followed, and yet is in none of the
// frames beside it: it would be lost at once.
var ErrFleeting = errors.New("what is here is not found again in the frames beside it")

// glanceFrames is how many frames before and after a click Glance looks at, and
// fewestBeside in how many of them a point must not be found to be called fleeting.
const (
	glanceFrames = 5
	fewestBeside = 3
)

// Glance tells from a few frames about a point's first click whether it can be
// followed: nil where it can, as far as they tell. The error wraps ErrNothing where
// Follow would refuse the click, ErrFleeting where it would take it and lose it at once
// both ways, and ErrClick or ErrFrameSize as Follow's does.
func Glance(ctx context.Context, src Source, p Point) error {
	if err := checkPoints([]Point{p}, src.Len()); err != nil {
		return err
	}
	first := slices.MinFunc(p.Clicks, func(a, b Click) int { return a.Frame - b.Frame })
	p.Clicks = []Click{first}
	from, to := max(0, first.Frame-glanceFrames), min(src.Len(), first.Frame+glanceFrames+1)
	pictures := map[int]*image.Gray{}
	err := src.Each(ctx, from, to, func(i int, g *image.Gray) error {
		own := *g
		own.Pix = slices.Clone(g.Pix)
		pictures[i] = &own
		return ctx.Err()
	})
	if err != nil {
		return err
	}
	beside, found := 0, 0
	for _, d := range [...]Direction{Forwards, Backwards} {
		t, err := NewTracker([]Point{p}, src.Len(), d)
		if err != nil {
			return err
		}
		for i := first.Frame; i >= from && i < to; i += int(d) {
			if pictures[i] == nil {
				continue
			}
			if err := t.Push(i, pictures[i]); err != nil {
				return err
			}
			if i == first.Frame || pictures[first.Frame] == nil {
				continue
			}
			beside++
			if t.followers[0].samples[i].Seen() {
				found++
			}
		}
	}
	if beside >= fewestBeside && found == 0 {
		return fmt.Errorf("%w: around (%.0f, %.0f) in frame %d; click %s on a sticker or on a mark with a corner", ErrFleeting, first.XPX, first.YPX, first.Frame, p.label())
	}
	return nil
}
