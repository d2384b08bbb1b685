package video

import (
	"bytes"
	"strconv"
	"strings"
)

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
