package video

import (
	"context"
	"image"
	"io"
	"sync"
)

// Options choose what Decode gives.
type Options struct {
	From, To    int // frames of Facts.TimeS, From inclusive, To exclusive; To 0: to the end
	MaxHeightPX int // larger pictures are scaled down to this height; 0: as filmed
	Buffers     int // frames in the ring; 0: chosen by frame size (4, fewer for very large frames)
	Threads     int // decoding threads; 0: chosen
}

// Frame is one decoded picture, upright and with square pixels. RGB holds three
// bytes a pixel, row by row, without padding. The picture belongs to the ring it
// came from: Release hands it back, and RGB must not be used after.
type Frame struct {
	Index    int     // of Facts.TimeS
	TimeS    float64 // Facts.TimeS[Index]
	WidthPX  int
	HeightPX int
	RGB      []byte

	ring chan []byte
	once *sync.Once
}

// Release gives the frame's buffer back to the ring. It may be called from any
// goroutine, and more than once.
func (f *Frame) Release() {
	f.once.Do(func() { f.ring <- f.RGB[:cap(f.RGB)] })
}

// RGBA copies the frame into dst, which is made anew where it is nil or of
// another size, and returns it.
func (f *Frame) RGBA(dst *image.RGBA) *image.RGBA {
	if dst == nil || dst.Rect != image.Rect(0, 0, f.WidthPX, f.HeightPX) {
		dst = image.NewRGBA(image.Rect(0, 0, f.WidthPX, f.HeightPX))
	}
	for y := range f.HeightPX {
		src := f.RGB[3*f.WidthPX*y : 3*f.WidthPX*(y+1)]
		row := dst.Pix[y*dst.Stride : y*dst.Stride+4*f.WidthPX]
		for len(src) >= 3 && len(row) >= 4 {
			row[0], row[1], row[2], row[3] = src[0], src[1], src[2], 0xff
			src, row = src[3:], row[4:]
		}
	}
	return dst
}

// Reader streams the frames of a clip. Its goroutine reads ahead as far as the
// ring allows, so decoding goes on while the caller works on a frame. Next and
// Close are for one goroutine.
type Reader struct {
	WidthPX  int // of every frame
	HeightPX int
	// Scale is how many pixels of a frame make one pixel of Facts.WidthPX; 1
	// unless MaxHeightPX made the frames smaller.
	Scale float64

	frames chan *Frame
	ring   chan []byte
	cancel context.CancelFunc
	done   chan struct{}
	err    error // why the stream ended, set before frames is closed
	tally  Tally
}

// Tally is what became of the frames that were asked for.
type Tally struct {
	Wanted    int // frames asked for
	Delivered int
	Strays    int // decoded frames whose time is in no list, left out
	// Complaints is what ffmpeg said about damage, the last of it.
	Complaints string
}

// Missing is how many frames were asked for and did not decode.
func (t Tally) Missing() int { return t.Wanted - t.Delivered }

// Decode starts to stream the frames of a clip. The caller must Release each
// frame and Close the Reader.
func Decode(ctx context.Context, f *Facts, o Options) (*Reader, error) {
	to := o.To
	if to == 0 {
		to = f.Frames()
	}
	p, err := newPass(ctx, f, o.From, to, o.MaxHeightPX)
	if err != nil {
		return nil, err
	}
	p.threads = o.Threads
	p.raw("rgb24")
	size := 3 * p.width * p.height
	n := o.Buffers
	if n <= 0 {
		n = max(2, min(4, ringBytes/size))
	}
	ctx, cancel := context.WithCancel(ctx)
	r := &Reader{WidthPX: p.width, HeightPX: p.height, Scale: float64(p.height) / float64(f.HeightPX),
		frames: make(chan *Frame, n), ring: make(chan []byte, n), cancel: cancel, done: make(chan struct{})}
	for range n {
		r.ring <- make([]byte, size)
	}
	r.tally.Wanted = to - o.From
	go r.run(ctx, p)
	return r, nil
}

// ringBytes is how much the ring may take where that leaves two frames: four
// frames up to 1440p, three at 4K.
const ringBytes = 80 << 20

func (r *Reader) run(ctx context.Context, p pass) {
	defer close(r.frames)
	defer close(r.done) // before frames, so that the tally is there at the end
	tally, err := p.run(ctx, func(out io.Reader) (payload, error) {
		var buf []byte
		select {
		case buf = <-r.ring:
		case <-ctx.Done():
			return payload{}, ctx.Err()
		}
		if _, err := io.ReadFull(out, buf); err != nil {
			r.ring <- buf
			return payload{}, err
		}
		return payload{data: buf, discard: func() { r.ring <- buf }}, nil
	}, func(i int, data []byte) error {
		f := &Frame{Index: i, TimeS: p.facts.TimeS[i], WidthPX: r.WidthPX, HeightPX: r.HeightPX, RGB: data, ring: r.ring, once: new(sync.Once)}
		select {
		case r.frames <- f:
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	})
	wanted := r.tally.Wanted
	r.tally, r.err = tally, err
	r.tally.Wanted = wanted
}

// Next returns the next frame, io.EOF after the last, an *Error where decoding
// broke off, or the context's error. Frames come in order of Index; a frame that
// did not decode is left out.
func (r *Reader) Next() (*Frame, error) {
	if f, ok := <-r.frames; ok {
		return f, nil
	}
	if r.err != nil {
		return nil, r.err
	}
	return nil, io.EOF
}

// Tally tells what became of the frames; it is complete once Next has returned
// an error.
func (r *Reader) Tally() Tally {
	select {
	case <-r.done:
		return r.tally
	default:
		return Tally{Wanted: r.tally.Wanted}
	}
}

// Close ends the child and waits for it. It may be called at any time, and more
// than once.
func (r *Reader) Close() error {
	r.cancel()
	<-r.done
	return nil
}
