package video

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
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
	if o.From < 0 || to > f.Frames() || o.From >= to {
		return nil, &Error{File: f.Path, What: fmt.Sprintf("frames %d to %d were asked for, and the clip has frames 0 to %d", o.From, to-1, f.Frames()-1),
			Mend: fmt.Sprintf("choose a start and an end within the clip's %.2f s", f.DurationS), Kind: ErrRange}
	}
	tools, err := Locate()
	if err != nil {
		return nil, err
	}
	version, err := tools.Version(ctx)
	if err != nil {
		return nil, err
	}
	w, h := f.outputSize(o.MaxHeightPX)
	size := 3 * w * h
	n := o.Buffers
	if n <= 0 {
		n = max(2, min(4, ringBytes/size))
	}
	ctx, cancel := context.WithCancel(ctx)
	r := &Reader{WidthPX: w, HeightPX: h, Scale: float64(h) / float64(f.HeightPX),
		frames: make(chan *Frame, n), ring: make(chan []byte, n), cancel: cancel, done: make(chan struct{})}
	for range n {
		r.ring <- make([]byte, size)
	}
	p := pass{tools: tools, version: version, facts: f, from: o.From, to: to, width: w, height: h, threads: o.Threads,
		sink: []string{"-f", "rawvideo", "-pix_fmt", "rgb24"}, format: "rgb24"}
	r.tally.Wanted = to - o.From
	go r.run(ctx, p)
	return r, nil
}

// ringBytes is how much the ring may take as a rule.
const ringBytes = 320 << 20

func (r *Reader) run(ctx context.Context, p pass) {
	defer close(r.done)
	defer close(r.frames)
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

// pass is one run of ffmpeg over a clip.
type pass struct {
	tools         Tools
	version       Version
	facts         *Facts
	from, to      int
	pick          []int // where set: only these frames, increasing
	width, height int
	threads       int
	format        string   // pixel format handed to the sink
	sink          []string // encoder and muxer of the output
}

// payload is one picture as read from the child.
type payload struct {
	data    []byte
	discard func() // called where the picture is not wanted; may be nil
}

// errSeek says that seeking skipped past the frame asked for.
var errSeek = errors.New("seek came out behind the first frame")

// run decodes the frames of the pass. next reads one picture from the child's
// output, emit takes each picture that was asked for, in order. Where seeking
// proves inexact the pass is run again from the start of the file.
func (p pass) run(ctx context.Context, next func(io.Reader) (payload, error), emit func(int, []byte) error) (Tally, error) {
	_, seek := p.facts.seekPoint(p.from)
	tally, err := p.once(ctx, seek, next, emit)
	if errors.Is(err, errSeek) {
		tally, err = p.once(ctx, false, next, emit)
	}
	return tally, err
}

func (p pass) args(seek bool) []string {
	f := p.facts
	threads := p.threads
	if threads <= 0 {
		threads = min(4, runtime.NumCPU())
	}
	args := []string{"-hide_banner", "-nostdin", "-nostats", "-v", "level+info", "-threads", strconv.Itoa(threads)}
	args = append(args, guarded()...)
	if f.Clock != ClockNominal {
		args = append(args, "-copyts")
	}
	if at, ok := f.seekPoint(p.from); seek && ok {
		args = append(args, "-ss", strconv.FormatFloat(at, 'f', 6, 64))
	}
	args = append(args, "-i", "file:"+f.Path, "-map", "0:"+strconv.Itoa(f.stream), "-an", "-sn", "-dn")
	args = append(args, p.version.passthrough()...)
	args = append(args, "-vf", p.filters(seek), "-frames:v", strconv.Itoa(p.count()))
	args = append(args, p.sink...)
	return append(args, "pipe:1")
}

// count is the number of pictures the pass expects.
func (p pass) count() int {
	if p.pick != nil {
		return len(p.pick)
	}
	return p.to - p.from
}

// filters is the chain: leave out what is not wanted, report each frame's time
// stamp, bring it to the size promised whatever the file does half-way.
func (p pass) filters(seek bool) string {
	f := p.facts
	var chain []string
	switch {
	case p.pick != nil:
		var terms []string
		for _, i := range p.pick {
			terms = append(terms, p.window(i, i))
		}
		chain = append(chain, "select="+strings.Join(terms, "+"))
	case p.from > 0 && !seek:
		chain = append(chain, "select="+p.window(p.from, p.to-1))
	}
	chain = append(chain, "showinfo=checksum=0")
	scale := fmt.Sprintf("scale=%d:%d:flags=bilinear", p.width, p.height)
	if !f.matrix && f.CodedHeightPX >= 720 {
		scale += ":in_color_matrix=bt709"
	}
	if strings.HasPrefix(p.format, "yuvj") {
		scale += ":out_range=full"
	}
	return strings.Join(append(chain, scale, "format="+p.format), ",")
}

// window is a filter expression true for frames a to b alone.
func (p pass) window(a, b int) string {
	f := p.facts
	if f.Clock == ClockNominal {
		return fmt.Sprintf(`between(n\,%d\,%d)`, a, b)
	}
	lo, hi := f.rawS(a), f.rawS(b)
	before, after := 1.0, 1.0
	if a > 0 {
		before = f.TimeS[a] - f.TimeS[a-1]
	}
	if b+1 < f.Frames() {
		after = f.TimeS[b+1] - f.TimeS[b]
	}
	return fmt.Sprintf(`between(t\,%.6f\,%.6f)`, lo-before/2, hi+after/2)
}

// once runs ffmpeg one time.
func (p pass) once(ctx context.Context, seek bool, next func(io.Reader) (payload, error), emit func(int, []byte) error) (Tally, error) {
	run, cancel := context.WithCancel(ctx)
	defer cancel()
	cmd := command(run, p.tools.FFmpeg, p.args(seek)...)
	out, in, err := os.Pipe()
	if err != nil {
		return Tally{}, err
	}
	defer out.Close()
	widen(out)
	cmd.Stdout = in
	stderr, err := cmd.StderrPipe()
	if err != nil {
		in.Close()
		return Tally{}, err
	}
	err = cmd.Start()
	in.Close()
	if err != nil {
		return Tally{}, &Error{What: "ffmpeg does not start (" + err.Error() + ")", Mend: InstallHint(runtime.GOOS), Kind: ErrNoFFmpeg, Cause: err}
	}
	stop := context.AfterFunc(run, func() { out.Close() })
	defer stop()

	log := newLog()
	logDone := make(chan struct{})
	go func() { defer close(logDone); log.read(stderr) }()

	tally, pumpErr := p.pump(run, out, log, seek, next, emit)
	enough := pumpErr == nil && tally.Delivered+tally.Strays >= p.count() || errors.Is(pumpErr, errEnough)
	if enough {
		pumpErr = nil
	}
	if pumpErr != nil || enough {
		cancel()
	}
	log.drain()
	<-logDone
	waitErr := cmd.Wait()
	tally.Complaints = log.complaints.String()
	switch {
	case ctx.Err() != nil:
		return tally, ctx.Err()
	case pumpErr != nil && !errors.Is(pumpErr, io.ErrUnexpectedEOF):
		return tally, pumpErr
	case enough:
		return tally, nil
	case tally.Delivered == 0:
		return tally, explain(p.facts.Path, tally.Complaints, ErrDecode, exitError(waitErr))
	case waitErr != nil || pumpErr != nil:
		return tally, &Error{File: p.facts.Path, What: fmt.Sprintf("decoding broke off after %d of %d frames (%s)", tally.Delivered, p.count(), lastLine(tally.Complaints)),
			Mend: "the file is damaged from there on; copy it again, or choose an earlier end", Kind: ErrDecode, Cause: exitError(waitErr)}
	}
	return tally, nil
}

func exitError(err error) error {
	var e *exec.ExitError
	if errors.As(err, &e) {
		return e
	}
	return err
}

// errEnough ends a pass whose last frame has been given.
var errEnough = errors.New("all frames given")

// pump pairs pictures with time stamps until the child has no more.
func (p pass) pump(ctx context.Context, out io.Reader, log *log, seek bool, next func(io.Reader) (payload, error), emit func(int, []byte) error) (Tally, error) {
	var t Tally
	last := -1
	for n := 0; ; n++ {
		picture, err := next(out)
		if err == io.EOF {
			return t, nil
		}
		if err != nil {
			return t, err
		}
		drop := func() {
			if picture.discard != nil {
				picture.discard()
			}
		}
		i, ok := p.index(ctx, n, log)
		switch {
		case !ok || i <= last:
			t.Strays++
			drop()
			continue
		case seek && last < 0 && i > p.from && p.pick == nil:
			drop()
			return t, errSeek
		case i < p.from:
			drop()
			continue
		case i >= p.to:
			drop()
			return t, errEnough
		}
		last = i
		if err := emit(i, picture.data); err != nil {
			drop()
			return t, err
		}
		t.Delivered++
		if i == p.to-1 {
			return t, errEnough
		}
	}
}

// index returns which frame the n-th picture of the pass is.
func (p pass) index(ctx context.Context, n int, log *log) (int, bool) {
	rawS, stamped := log.next(ctx)
	if p.facts.Clock == ClockNominal {
		if p.pick != nil {
			return p.pick[min(n, len(p.pick)-1)], n < len(p.pick)
		}
		return p.from + n, true
	}
	if !stamped {
		return 0, false
	}
	return p.facts.frameAt(rawS)
}

// log reads ffmpeg's standard error: the time stamps that the showinfo filter
// writes, and complaints.
type log struct {
	stamps     chan logStamp
	quit       chan struct{}
	quitOnce   sync.Once
	complaints tail
}

type logStamp struct {
	rawS float64
	ok   bool
}

func newLog() *log {
	// The filter runs ahead of the pictures by a handful of frames, never by
	// as many as this.
	return &log{stamps: make(chan logStamp, 4096), quit: make(chan struct{}), complaints: tail{max: 4 << 10}}
}

// next waits for the time stamp of the next picture.
func (l *log) next(ctx context.Context) (float64, bool) {
	select {
	case s := <-l.stamps:
		return s.rawS, s.ok
	default:
	}
	select {
	case s, open := <-l.stamps:
		return s.rawS, s.ok && open
	case <-ctx.Done():
		return 0, false
	}
}

// drain lets the child write on when nobody waits for stamps any more.
func (l *log) drain() { l.quitOnce.Do(func() { close(l.quit) }) }

func (l *log) read(r io.Reader) {
	defer close(l.stamps)
	br := bufio.NewReaderSize(r, 16<<10)
	var lines infoLines
	for {
		line, err := br.ReadSlice('\n')
		if s, ok := lines.parse(string(line)); ok {
			select {
			case l.stamps <- s:
			case <-l.quit:
			}
		} else if isComplaint(line) {
			l.complaints.Write(line)
		}
		for err == bufio.ErrBufferFull {
			_, err = br.ReadSlice('\n')
		}
		if err != nil {
			io.Copy(io.Discard, r)
			return
		}
	}
}
