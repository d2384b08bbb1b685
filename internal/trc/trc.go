package trc

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
)

// maxFileBytes is the largest file that is read.
const maxFileBytes = 2 << 30

// maxLineBytes bounds one line: three thousand markers of three wide cells.
const maxLineBytes = 1 << 18

// File is one TRC file in memory.
type File struct {
	RateHz  float64   // frames a second, as the header says
	TimeS   []float64 // seconds from the first frame, strictly increasing
	Markers []Marker
	// Notes are things in the file that were odd and how they were read.
	Notes []string
}

// Marker is the path of one marker in the laboratory's axes, metres, one value a
// frame; NaN in all three where it was not seen.
type Marker struct {
	Label   string
	X, Y, Z []float64
}

// Labels returns the names of the markers, in file order.
func (f *File) Labels() []string {
	out := make([]string, len(f.Markers))
	for i, m := range f.Markers {
		out[i] = m.Label
	}
	return out
}

// Open reads the TRC file at path.
func Open(path string) (*File, error) {
	in, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", path)
	}
	if info.Size() > maxFileBytes {
		return nil, fmt.Errorf("%s is %.1f GB; TRC files up to 2 GB are read: export a shorter part of the trial", path, float64(info.Size())/(1<<30))
	}
	f, err := Read(in)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

// reader steps through the lines of a file.
type reader struct {
	scan *bufio.Scanner
	line int
}

func (r *reader) next() (string, error) {
	if !r.scan.Scan() {
		switch err := r.scan.Err(); {
		case errors.Is(err, bufio.ErrTooLong):
			return "", fmt.Errorf("line %d is longer than %d characters: this is no TRC file", r.line+1, maxLineBytes)
		case err != nil:
			return "", err
		}
		return "", io.EOF
	}
	r.line++
	text := r.scan.Text()
	if r.line == 1 {
		text = strings.TrimPrefix(text, "\ufeff")
	}
	return text, nil
}

// Read reads a TRC file. Errors name the line.
func Read(in io.Reader) (*File, error) {
	r := &reader{scan: bufio.NewScanner(in)}
	r.scan.Buffer(make([]byte, 0, 64<<10), maxLineBytes)
	first, err := r.next()
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if !strings.HasPrefix(strings.TrimSpace(first), "PathFileType") {
		return nil, errors.New("this is no TRC file: line 1 does not begin with PathFileType")
	}
	names, err := r.header()
	if err != nil {
		return nil, err
	}
	values, err := r.header()
	if err != nil {
		return nil, err
	}
	h, err := readHeader(names, values)
	if err != nil {
		return nil, err
	}
	return h.read(r)
}

// header returns the fields of the next line.
func (r *reader) header() ([]string, error) {
	text, err := r.next()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("the file ends after line %d, within its header: it was cut short", r.line)
	}
	return strings.Fields(text), err
}

// header is what the second and third lines say.
type header struct {
	rateHz  float64
	frames  int // 0 where not said
	markers int
	unitM   float64
}

func readHeader(names, values []string) (header, error) {
	var h header
	if len(values) < len(names) && len(values) < 5 {
		return h, fmt.Errorf("line 3 has %d values for the %d names of line 2", len(values), len(names))
	}
	said := map[string]string{}
	for i, n := range names {
		if i < len(values) {
			said[strings.ToLower(n)] = values[i]
		}
	}
	var err error
	if h.rateHz, err = strconv.ParseFloat(said["datarate"], 64); err != nil || !(h.rateHz >= 1 && h.rateHz <= 1e5) {
		return h, fmt.Errorf("line 3: DataRate is %q; it must be a number of frames a second between 1 and 100,000", said["datarate"])
	}
	if h.markers, err = strconv.Atoi(said["nummarkers"]); err != nil || h.markers < 1 || h.markers > 10000 {
		return h, fmt.Errorf("line 3: NumMarkers is %q; it must be a whole number from 1 to 10,000", said["nummarkers"])
	}
	if v, ok := said["numframes"]; ok {
		if h.frames, err = strconv.Atoi(v); err != nil || h.frames < 0 {
			return h, fmt.Errorf("line 3: NumFrames is %q; it must be a whole number", v)
		}
	}
	switch unit := strings.ToLower(said["units"]); unit {
	case "mm":
		h.unitM = 1e-3
	case "cm":
		h.unitM = 1e-2
	case "m", "meters", "metres":
		h.unitM = 1
	case "in", "inches":
		h.unitM = 0.0254
	default:
		return h, fmt.Errorf("line 3: Units is %q; mm, cm, m and in are understood", said["units"])
	}
	return h, nil
}

// read reads the column names and the frames.
func (h header) read(r *reader) (*File, error) {
	named, err := r.next()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("the file ends after line %d, before the marker names: it was cut short", r.line)
	}
	if err != nil {
		return nil, err
	}
	var labels []string
	for i, n := range strings.Fields(named) {
		if i < 2 { // Frame# and Time
			continue
		}
		labels = append(labels, n)
	}
	// A name may hold blanks where the columns are separated by tabs.
	if strings.Contains(named, "\t") {
		labels = labels[:0]
		for i, n := range strings.Split(named, "\t") {
			if n = strings.TrimSpace(n); i >= 2 && n != "" {
				labels = append(labels, n)
			}
		}
	}
	if len(labels) != h.markers {
		return nil, fmt.Errorf("line %d names %d markers and NumMarkers says %d", r.line, len(labels), h.markers)
	}
	f := &File{RateHz: h.rateHz, Markers: make([]Marker, h.markers)}
	for i, l := range labels {
		f.Markers[i].Label = l
	}
	if _, err := r.next(); errors.Is(err, io.EOF) { // X1 Y1 Z1 …
		return nil, fmt.Errorf("the file ends after line %d, before the first frame: it was cut short", r.line)
	} else if err != nil {
		return nil, err
	}
	for {
		text, err := r.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if strings.TrimSpace(text) == "" {
			continue
		}
		if err := f.frame(text, r.line, h.unitM); err != nil {
			return nil, err
		}
	}
	return f, f.finish(h)
}

// frame reads one line of data.
func (f *File) frame(text string, line int, unitM float64) error {
	want := 2 + 3*len(f.Markers)
	cells := strings.Split(text, "\t")
	if len(cells) == 1 {
		if cells = strings.Fields(text); len(cells) != want {
			return fmt.Errorf("line %d has %d columns and should have %d: the columns are separated by blanks, where an empty cell cannot be told; separate them by tabs", line, len(cells), want)
		}
	}
	for len(cells) > want && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1] // tabs at the end of the line
	}
	switch {
	case len(cells) > want:
		return fmt.Errorf("line %d has %d columns and should have %d", line, len(cells), want)
	case len(cells) < want && (len(cells)-2)%3 != 0:
		return fmt.Errorf("line %d has %d columns and should have %d: it ends within a marker", line, len(cells), want)
	}
	t, err := strconv.ParseFloat(strings.TrimSpace(cells[1]), 64)
	if err != nil || math.IsNaN(t) || math.IsInf(t, 0) {
		return fmt.Errorf("line %d, column 2: the time %q is no number", line, cells[1])
	}
	if n := len(f.TimeS); n > 0 && !(t > f.TimeS[n-1]) {
		return fmt.Errorf("line %d: the time %g s does not come after %g s", line, t, f.TimeS[n-1])
	}
	f.TimeS = append(f.TimeS, t)
	for i := range f.Markers {
		var v [3]float64
		empty := 0
		for a := range 3 {
			c := 2 + 3*i + a
			v[a] = math.NaN()
			if c >= len(cells) { // a line that ends early ends in points not seen
				empty++
				continue
			}
			text := strings.TrimSpace(cells[c])
			if text == "" {
				empty++
				continue
			}
			x, err := strconv.ParseFloat(text, 64)
			if err != nil && !errors.Is(err, strconv.ErrRange) {
				return fmt.Errorf("line %d, column %d (%s): %q is no number", line, c+1, f.Markers[i].Label, text)
			}
			if v[a] = x * unitM; math.Abs(v[a]) > 1e4 {
				return fmt.Errorf("line %d, column %d (%s): %s lies beyond any laboratory; check Units in line 3", line, c+1, f.Markers[i].Label, text)
			}
		}
		if empty == 1 || empty == 2 {
			return fmt.Errorf("line %d (%s): %d of the three cells are empty; a point has all three or none", line, f.Markers[i].Label, empty)
		}
		if math.IsNaN(v[0]+v[1]+v[2]) || v == [3]float64{} {
			v = [3]float64{math.NaN(), math.NaN(), math.NaN()}
		}
		m := &f.Markers[i]
		m.X, m.Y, m.Z = append(m.X, v[0]), append(m.Y, v[1]), append(m.Z, v[2])
	}
	return nil
}

// finish moves the clock to the first frame and holds the header against what was
// read.
func (f *File) finish(h header) error {
	n := len(f.TimeS)
	switch {
	case n == 0:
		return errors.New("the file has a header and no frames")
	case n < h.frames:
		return fmt.Errorf("the header says %d frames and the file has %d: it was cut short; copy or export it again", h.frames, n)
	case h.frames > 0 && n > h.frames:
		f.Notes = append(f.Notes, fmt.Sprintf("the header says %d frames and the file has %d; all were read", h.frames, n))
	}
	start := f.TimeS[0]
	for i := range f.TimeS {
		f.TimeS[i] -= start
	}
	if n > 2 {
		if rate := float64(n-1) / f.TimeS[n-1]; math.Abs(rate-f.RateHz) > 0.02*f.RateHz {
			f.Notes = append(f.Notes, fmt.Sprintf("the header says %g frames a second and the times say %.2f; the times were used", f.RateHz, rate))
			f.RateHz = rate
		}
	}
	return nil
}
