package sticker

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"slices"
)

// Options are the settings of Follow.
type Options struct {
	// MemoryBytes bounds the frames that are held at once for the backward pass;
	// 0 means 192 MB. One frame is held at least.
	MemoryBytes int
	// Progress is told how many of all frames to be looked at are done; nil for
	// nobody. Where a window of crops proves too small, frames are looked at
	// again, and done stands still meanwhile.
	Progress func(done, total int)
}

const (
	defaultMemory = 192 << 20
	// Fewer whole frames than this in memory, and crops are kept instead.
	enoughFrames = 48
	longest      = 128 // frames of a window
)

// Follow follows points through a clip, forwards from their first click to the
// end and backwards from their last click to the start; between clicks both
// passes speak. It returns one path a point, in order.
//
// The error wraps ErrNothing, ErrClick or ErrFrameSize where one of those is the
// matter, and is the context's own where that ended.
func Follow(ctx context.Context, src Source, points []Point, o Options) ([]Path, error) {
	frames := src.Len()
	if frames <= 0 {
		return nil, fmt.Errorf("%w: the clip has no frames", ErrFrameSize)
	}
	forth, err := NewTracker(points, frames, Forwards)
	if err != nil {
		return nil, err
	}
	back := &Tracker{direction: Backwards}
	first, last := frames, 0
	for _, w := range forth.followers {
		b := newFollower(w.pt, frames, w.anchors)
		back.followers = append(back.followers, b)
		for _, c := range w.pt.Clicks {
			first, last = min(first, c.Frame), max(last, c.Frame)
		}
	}
	memory := o.MemoryBytes
	if memory <= 0 {
		memory = defaultMemory
	}
	done, total := 0, frames-first+last
	count := func() {
		done++
		if o.Progress != nil {
			o.Progress(done, total)
		}
	}
	err = src.Each(ctx, first, frames, func(i int, g *image.Gray) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		defer count()
		if err := forth.Push(i, g); err != nil {
			return err
		}
		forth.lookAbout(i, pictureOf(g))
		return nil
	})
	if err == nil {
		err = ctx.Err()
	}
	if err != nil {
		return nil, err
	}
	for k, w := range forth.followers {
		if w.anchors[w.pt.Clicks[0].Frame] == nil {
			return nil, fmt.Errorf("%w: frame %d, in which %s was clicked, cannot be decoded; click in another",
				ErrClick, w.pt.Clicks[0].Frame, w.pt.label())
		}
		back.followers[k].inherit(w)
	}
	b := backward{src: src, tracker: back, memory: memory, count: count}
	if err := b.run(ctx, last); err != nil {
		return nil, err
	}
	paths := make([]Path, len(forth.followers))
	for k, w := range forth.followers {
		paths[k] = w.result(join(w, back.followers[k]))
	}
	keepApart(paths)
	for _, p := range paths {
		dropIslands(p.Samples)
	}
	doubtIdentities(paths, points)
	doubtStrangers(paths, forth.followers)
	return paths, nil
}

// inherit gives the backward pass what the forward pass saw after the last
// click, in its own order: speed and stride are known from the first frame.
func (w *follower) inherit(forth *follower) {
	last := 0
	for _, c := range w.pt.Clicks {
		last = max(last, c.Frame)
	}
	for i := len(forth.samples) - 1; i > last; i-- {
		w.path.add(forth.samples[i].XPX, forth.samples[i].YPX)
	}
}

// backward is the pass against the clip's order: the decoder goes forwards only,
// so windows of frames, or of crops about the points where frames are large, are
// kept and stepped through in reverse.
type backward struct {
	src     Source
	tracker *Tracker
	memory  int
	count   func()
}

// kept is what is held of one frame: one picture a point, or one for all.
type kept struct {
	frame int
	parts []picture
}

func (b *backward) run(ctx context.Context, last int) error {
	size := image.Rectangle{}
	span, whole := 1, true // the first window learns the size of a frame
	for to := last + 1; to > 0; {
		from := max(0, to-span)
		// A point whose last click is in the window is not known before it: all
		// of the frame is needed.
		crops := !whole && !b.starting(from)
		window, err := b.read(ctx, from, to, crops)
		if err != nil {
			return err
		}
		next, err := b.step(ctx, window, from)
		if err != nil && !errors.Is(err, errBeyond) {
			return err
		}
		if len(window) > 0 {
			size = window[0].parts[0].whole
		}
		bytes := max(1, size.Dx()*size.Dy())
		fits := max(1, b.memory/bytes)
		switch {
		case err != nil && next == to:
			whole = true // crops do not do even for the first frame
		default:
			whole = fits >= enoughFrames
		}
		span = min(longest, fits)
		if !whole {
			span = min(longest, max(1, b.memory/max(1, b.cropBytes(size))))
		}
		to = next
	}
	return nil
}

// starting tells whether a point begins at or after frame from in this pass.
func (b *backward) starting(from int) bool {
	return slices.ContainsFunc(b.tracker.followers, func(w *follower) bool {
		return w.anchor == nil && slices.ContainsFunc(w.pt.Clicks, func(c Click) bool { return c.Frame >= from })
	})
}

func (b *backward) cropBytes(whole image.Rectangle) int {
	sum := 0
	for _, w := range b.tracker.followers {
		r := w.need(whole)
		sum += r.Dx() * r.Dy()
	}
	return sum
}

func (b *backward) read(ctx context.Context, from, to int, crops bool) ([]kept, error) {
	var window []kept
	err := b.src.Each(ctx, from, to, func(i int, g *image.Gray) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		p := pictureOf(g)
		if p.rect.Min != (image.Point{}) {
			p.rect = p.rect.Sub(p.rect.Min)
			p.whole = p.rect
		}
		k := kept{frame: i}
		if crops {
			for _, w := range b.tracker.followers {
				k.parts = append(k.parts, p.crop(w.need(p.whole)))
			}
		} else {
			k.parts = []picture{p.crop(p.whole)}
		}
		window = append(window, k)
		return nil
	})
	if err == nil {
		err = ctx.Err()
	}
	return window, err
}

// step goes through a window in reverse and returns the frame before which all
// is done.
func (b *backward) step(ctx context.Context, window []kept, from int) (next int, err error) {
	for _, k := range slices.Backward(window) {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		if err := b.tracker.push(k.frame, k.parts); err != nil {
			return k.frame + 1, err
		}
		if k.frame < b.tracker.last() {
			b.count()
		}
	}
	return from, nil
}

// last is the frame of the last click of all points.
func (t *Tracker) last() int {
	n := 0
	for _, w := range t.followers {
		for _, c := range w.pt.Clicks {
			n = max(n, c.Frame)
		}
	}
	return n
}

// join makes one path of both passes. Where only one saw the point it stands;
// where both did and agree, the surer one; where they do not, the one that came
// out at the click it was going to, and the frame is doubtful.
func join(forth, back *follower) []Sample {
	out := slices.Clone(forth.samples)
	clicks := make([]int, 0, len(forth.pt.Clicks))
	for _, c := range forth.pt.Clicks {
		clicks = append(clicks, c.Frame)
	}
	slices.Sort(clicks)
	for i := range clicks[0] {
		out[i] = back.samples[i]
	}
	for k := 1; k < len(clicks); k++ {
		joinBetween(out, forth, back, clicks[k-1], clicks[k])
	}
	return out
}

func joinBetween(out []Sample, forth, back *follower, a, b int) {
	apart := func(i int) float64 {
		f, r := forth.samples[i], back.samples[i]
		return math.Hypot(f.XPX-r.XPX, f.YPX-r.YPX)
	}
	agree := func(i int) bool {
		f, r := forth.samples[i], back.samples[i]
		return apart(i) <= 4*math.Hypot(math.Hypot(f.SDXPX, r.SDXPX), math.Hypot(f.SDYPX, r.SDYPX))+0.5*ClickSDPX
	}
	// Each pass is right from its own click on, until it went astray; where both
	// disagree and neither came out right, they part where they are nearest.
	forthLanded, backLanded := forth.landings[b], back.landings[a]
	part := -1
	if forthLanded == backLanded {
		nearest := math.Inf(1)
		for i := a + 1; i < b; i++ {
			if forth.samples[i].Seen() && back.samples[i].Seen() && !agree(i) && apart(i) < nearest {
				nearest, part = apart(i), i
			}
		}
	}
	for i := a + 1; i < b; i++ {
		f, r := forth.samples[i], back.samples[i]
		switch {
		case !f.Seen():
			out[i] = r
			if r.Seen() && !backLanded && forthLanded {
				out[i].State = Doubtful
			}
		case !r.Seen():
			out[i] = f
			if !forthLanded && backLanded {
				out[i].State = Doubtful
			}
		case agree(i):
			out[i] = f
			if math.Hypot(r.SDXPX, r.SDYPX) < math.Hypot(f.SDXPX, f.SDYPX) {
				out[i] = r
			}
		default:
			out[i] = f
			if backLanded && !forthLanded || forthLanded == backLanded && i > part {
				out[i] = r
			}
			out[i].State = Doubtful
			// Both places are within 1.96 of the error.
			out[i].SDXPX, out[i].SDYPX = math.Hypot(out[i].SDXPX, doubtShare*apart(i)), math.Hypot(out[i].SDYPX, doubtShare*apart(i))
		}
	}
}
