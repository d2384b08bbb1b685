package video

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
)

// pass is one run of ffmpeg over a clip.
type pass struct {
	tools         Tools
	version       Version
	facts         *Facts
	from, to      int
	pick          []int // where set: only these frames, increasing; from and to enclose them
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

// newPass prepares a pass over the frames from, inclusive, to, exclusive.
func newPass(ctx context.Context, f *Facts, from, to, maxHeightPX int) (pass, error) {
	if from < 0 || to > f.Frames() || from >= to {
		return pass{}, rangeFault(f, from, to)
	}
	tools, err := Locate(ctx)
	if err != nil {
		return pass{}, err
	}
	version, err := tools.Version(ctx)
	if err != nil {
		return pass{}, err
	}
	p := pass{tools: tools, version: version, facts: f, from: from, to: to}
	p.width, p.height = f.outputSize(maxHeightPX)
	return p, nil
}

func rangeFault(f *Facts, from, to int) *Error {
	return &Error{File: f.Path, What: fmt.Sprintf("frames %d to %d were asked for, and the clip has frames 0 to %d", from, to-1, f.Frames()-1),
		Mend: fmt.Sprintf("choose a start and an end within the clip's %.2f s", f.DurationS), Kind: ErrRange}
}

// raw makes the pass give bare pictures in a pixel format.
func (p *pass) raw(format string) {
	p.format, p.sink = format, []string{"-f", "rawvideo", "-pix_fmt", format}
}

// jpeg makes the pass give JPEG pictures of a quality from 1 to 100.
func (p *pass) jpeg(quality int) {
	scale := 31 - min(100, max(1, quality))*29/100 // ffmpeg counts from 2, best, to 31
	p.format, p.sink = "yuvj420p", []string{"-f", "image2pipe", "-c:v", "mjpeg", "-q:v", strconv.Itoa(scale)}
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
		// Each thread holds a frame of its own.
		threads = min(4, runtime.NumCPU())
		if f.CodedWidthPX*f.CodedHeightPX > 6_000_000 {
			threads = min(threads, 2)
		}
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
	args = append(args, "-vf", p.filters(seek), "-frames:v", strconv.Itoa(p.count()+spare))
	args = append(args, p.sink...)
	return append(args, "pipe:1")
}

// spare is how many pictures ffmpeg may give beyond those expected, for strays.
const spare = 4

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
	err = start(ctx, cmd)
	in.Close()
	if err != nil {
		if ctx.Err() != nil {
			return Tally{}, ctx.Err()
		}
		return Tally{}, notStarting(p.tools.FFmpeg, err)
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
	}
	if tally.Delivered == 0 {
		if fault := Starts(ctx, p.tools.FFmpeg); fault != nil {
			return tally, fault
		}
	}
	switch {
	case endedFromOutside(waitErr):
		return tally, &Error{File: p.facts.Path, What: fmt.Sprintf("ffmpeg was ended from outside after %d of %d frames (%v)", tally.Delivered, p.count(), waitErr),
			Mend: shortOfMemory, Kind: ErrDecode, Cause: exitError(waitErr)}
	case tally.Delivered == 0:
		return tally, explain(p.facts.Path, tally.Complaints, ErrDecode, exitError(waitErr))
	case waitErr != nil || pumpErr != nil:
		return tally, &Error{File: p.facts.Path, What: fmt.Sprintf("decoding broke off after %d of %d frames (%s)", tally.Delivered, p.count(), said(tally.Complaints, waitErr)),
			Mend: "the file is damaged from there on; copy it again, or choose an earlier end", Kind: ErrDecode, Cause: exitError(waitErr)}
	}
	return tally, nil
}

// said is why a child ended before its time: the last line of its complaints, or
// how it ended where it ended without a word.
func said(complaints string, waitErr error) string {
	switch line := lastLine(complaints); {
	case line != "":
		return line
	case waitErr != nil && !errors.Is(waitErr, context.Canceled): // which is our own end of it, after the last picture
		return "ffmpeg gave no reason: " + waitErr.Error()
	}
	return "ffmpeg gave no reason: its last picture is not whole"
}

// endedFromOutside tells whether a child did not end by itself but was ended, as
// the system does where memory is short.
// shortOfMemory is what to do where somebody ended a child.
const shortOfMemory = "try again; where it happens again, close other programs, since the machine may be short of memory"

func endedFromOutside(err error) bool {
	var e *exec.ExitError
	return errors.As(err, &e) && !e.Exited()
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
		case seek && last < 0 && i > p.from:
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
