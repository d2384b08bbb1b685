package video

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"strconv"
	"strings"
	"sync"
)

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

// infoLines reads what the showinfo filter writes: a line with the time base
// whenever the stream is set up, and a line with the time stamp for each frame.
type infoLines struct {
	tickS float64
}

// parse returns the time stamp in a line, or false where the line has none. The
// stamp is not ok where ffmpeg knows no time for the frame.
func (l *infoLines) parse(line string) (logStamp, bool) {
	if who, _, _ := strings.Cut(line, "]"); !strings.Contains(who, "showinfo") {
		return logStamp{}, false
	}
	if _, rest, ok := strings.Cut(line, "config in time_base: "); ok {
		base, _, _ := strings.Cut(rest, ",")
		l.tickS, _ = ratio(strings.TrimSpace(base))
		return logStamp{}, false
	}
	_, rest, ok := strings.Cut(line, "] n:")
	if !ok {
		return logStamp{}, false
	}
	_, rest, ok = strings.Cut(rest, " pts:")
	if !ok {
		return logStamp{}, false
	}
	fields := strings.Fields(rest)
	if len(fields) == 0 {
		return logStamp{}, true
	}
	pts, err := strconv.ParseInt(fields[0], 10, 64)
	if err != nil || l.tickS <= 0 {
		return logStamp{}, true
	}
	return logStamp{rawS: float64(pts) * l.tickS, ok: true}, true
}

var complaintMarks = [][]byte{[]byte("[error]"), []byte("[fatal]"), []byte("[panic]")}

func isComplaint(line []byte) bool {
	for _, m := range complaintMarks {
		if bytes.Contains(line, m) {
			return true
		}
	}
	return false
}
