package runfile

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"gaitwright/gait/steprate"
)

func unix(s int64) time.Time { return time.Unix(s, 0).UTC() }

// point is a track point of either XML format while it is read.
type point struct {
	sample   steprate.Sample
	at       time.Time
	lat, lon float64
}

// points reads XML as a stream: open is the element of a track point, attr gets
// its attributes, take the local name and text of each element within it, other
// those outside, with whether they are a holder's own, and, before its content, each
// attribute of a start element. A holder is a recording: another one that begins before
// the last one ended, or long after, is another run.
func points(format string, r *bufio.Reader, open, holder string, attr func(p *point, name, value []byte), take func(p *point, name, text []byte), other func(name, attr, text []byte, own bool) error) (run *File, err error) {
	run = &File{Format: format}
	x := &scanner{r: r}
	var got pile
	defer func() {
		if err == nil {
			run.Samples = got.all()
		}
	}()
	var at point
	inside := false
	var last point
	far := 0.0
	depth := 0
	var holds [maxDepth + 1]bool // at each depth
	begun, of := 0, 0            // holders so far, and which the last point was of
	// done takes a point that was read.
	done := func() error {
		if at.at.IsZero() {
			return nil // a point without its time cannot be placed
		}
		if got.n >= maxRecords {
			return tooMany(maxRecords)
		}
		if got.n == 0 {
			run.Start = at.at
		}
		if begun != of {
			of = begun
			if gap := at.at.Sub(last.at); got.n > 0 && (gap < 0 || gap > time.Hour) {
				return fmt.Errorf("the file holds more than one run, one from %s and one from %s: export each by itself", run.Start.Format(told), at.at.Format(told))
			}
		}
		at.sample.TimeS = at.at.Sub(run.Start).Seconds()
		placed := at.lat == at.lat && at.lon == at.lon // known
		run.Places = run.Places || placed
		if placed && math.IsNaN(at.sample.DistanceM) {
			if got.n > 0 && !math.IsNaN(last.lat) {
				far += between(last.lat, last.lon, at.lat, at.lon)
			}
			at.sample.DistanceM = far
		}
		got.add(at.sample)
		last = at
		return nil
	}
	inPoint := func(name, text []byte) { take(&at, name, text) }
	for {
		err := x.next()
		if errors.Is(err, io.EOF) && depth == 0 {
			return run, nil
		}
		if err != nil {
			if errors.Is(err, io.EOF) {
				err = io.ErrUnexpectedEOF
			}
			if got.n < 60 {
				return nil, damaged("the file is damaged: export it again", err)
			}
			run.Cut = true
			run.Notes = append(run.Notes, fmt.Sprintf("the file breaks off after %.0f minutes; what came before is used", last.sample.TimeS/60))
			return run, nil
		}
		isPoint := string(x.name) == open
		if x.start {
			if depth++; depth > maxDepth {
				return nil, errors.New("the file is nested deeper than any run file")
			}
			if holds[depth] = string(x.name) == holder; holds[depth] {
				begun++
			}
			if isPoint {
				at, inside = point{sample: blank(), lat: math.NaN(), lon: math.NaN()}, true
			}
			if err := x.attributes(func(name, value []byte) error {
				if inside {
					if isPoint && attr != nil {
						attr(&at, name, value)
					}
					return nil
				}
				return other(x.name, name, value, false)
			}); err != nil {
				return nil, err
			}
			if isPoint && !x.closing {
				x.held = append(x.held[:0], x.whole...)
				fresh := at
				if !x.quick(x.held, inPoint) {
					at = fresh
				} else {
					depth--
					x.open = x.open[:len(x.open)-1]
					inside, x.start = false, false
					if err := done(); err != nil {
						return nil, err
					}
				}
			}
			continue
		}
		if depth--; depth < 0 {
			return nil, errors.New("the file is damaged: export it again (it closes what it never opened)")
		}
		switch {
		case isPoint && inside:
			inside = false
			if err := done(); err != nil {
				return nil, err
			}
		case inside && x.leaf:
			take(&at, x.name, x.text)
		case x.leaf:
			if err := other(x.name, nil, x.text, holds[depth]); err != nil {
				return nil, err
			}
		}
	}
}

// told is how a moment is told in an error.
const told = "2006-01-02 15:04:05 UTC"

// maxDepth bounds how deep elements lie within each other.
const maxDepth = 64

// number reads a finite number; NaN for anything else. Plain decimals of up to
// fifteen digits, which is what run files hold, are read without going through
// text.
func number(text []byte) float64 {
	whole, scale, digits := 0.0, 0.0, 0
	for i, c := range text {
		switch {
		case c >= '0' && c <= '9' && digits < 15:
			whole = whole*10 + float64(c-'0')
			scale *= 10
			digits++
		case c == '.' && scale == 0:
			scale = 1
		case c == '-' && i == 0:
		default:
			return parsed(string(text))
		}
	}
	if digits == 0 {
		return math.NaN()
	}
	if scale > 0 {
		whole /= scale
	}
	if text[0] == '-' {
		whole = -whole
	}
	return whole
}

func parsed(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) {
		return math.NaN()
	}
	return v
}

func clock(text []byte) time.Time {
	if t, ok := quickClock(text); ok {
		return t
	}
	t, err := time.Parse(time.RFC3339, string(text))
	if err != nil { // without a zone it is of the world's clock, which both formats mean
		t, err = time.Parse("2006-01-02T15:04:05", string(text))
	}
	if err != nil || t.Year() < 1990 || t.Year() > 2200 {
		return time.Time{}
	}
	return t.UTC()
}

func readTCX(r *bufio.Reader) (*File, error) {
	take := func(p *point, name, text []byte) {
		switch string(name) {
		case "Time":
			p.at = clock(text)
		case "DistanceMeters":
			p.sample.DistanceM = number(text)
		case "AltitudeMeters":
			p.sample.AltitudeM = number(text)
		case "LatitudeDegrees":
			p.lat = number(text)
		case "LongitudeDegrees":
			p.lon = number(text)
		case "Speed":
			p.sample.SpeedMPS = number(text)
		case "RunCadence":
			p.sample.PerMin = 2 * number(text)
		case "Cadence":
			if math.IsNaN(p.sample.PerMin) {
				p.sample.PerMin = 2 * number(text)
			}
		}
	}
	other := func(name, attr, text []byte, own bool) error {
		if string(name) == "Activity" && string(attr) == "Sport" && string(text) != "Running" && string(text) != "Other" {
			return fmt.Errorf("this is no run but %s", kind(text))
		}
		return nil
	}
	return points("TCX", r, "Trackpoint", "Activity", nil, take, other)
}

func readGPX(r *bufio.Reader) (*File, error) {
	attr := func(p *point, name, value []byte) {
		switch string(name) {
		case "lat":
			if v := number(value); math.Abs(v) <= 90 {
				p.lat = v
			}
		case "lon":
			if v := number(value); math.Abs(v) <= 180 {
				p.lon = v
			}
		}
	}
	take := func(p *point, name, text []byte) {
		switch string(name) {
		case "time":
			p.at = clock(text)
		case "ele":
			p.sample.AltitudeM = number(text)
		case "cad":
			p.sample.PerMin = 2 * number(text)
		case "speed":
			p.sample.SpeedMPS = number(text)
		}
	}
	other := func(name, attr, text []byte, own bool) error {
		if t := kind(text); own && attr == nil && string(name) == "type" && (strings.Contains(t, "cycl") || strings.Contains(t, "bik") || strings.Contains(t, "swim")) {
			return fmt.Errorf("this is no run but %s", t)
		}
		return nil
	}
	return points("GPX", r, "trkpt", "trk", attr, take, other)
}

// kind is the name of a sport as it may be shown.
func kind(text []byte) string {
	return strings.ToLower(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, string(text[:min(len(text), 40)])))
}
