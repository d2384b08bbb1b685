package keypoint

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// column is one column of the table after time_s.
type column struct {
	landmark body.Landmark
	part     string // x, y, z or confidence
	values   *[]float64
}

// ReadCSV reads a keypoint table. Errors name line and column.
func ReadCSV(data []byte) (*File, error) {
	f := &File{Track: track.New(track.Picture, track.Pixel, nil)}
	rest, skipped, err := f.readSettings(bytes.TrimPrefix(data, []byte("\ufeff")))
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(rest))
	r.ReuseRecord = true
	r.FieldsPerRecord = -1
	head, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("the file is empty: a keypoint table begins with the column names time_s, left_knee_x, left_knee_y …")
	}
	if err != nil {
		return nil, csvFault(err, skipped)
	}
	columns, err := f.readHead(head, skipped+1)
	if err != nil {
		return nil, err
	}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, csvFault(err, skipped)
		}
		line, _ := r.FieldPos(0)
		line += skipped
		if len(row) != len(columns)+1 {
			return nil, fmt.Errorf("line %d has %d cells and the head has %d columns", line, len(row), len(columns)+1)
		}
		if err := f.readRow(row, columns, line); err != nil {
			return nil, err
		}
	}
	if f.Track.Frames() == 0 {
		return nil, errors.New("the table has column names and no frames")
	}
	return f, nil
}

// csvFault moves the line of a syntax error past the settings.
func csvFault(err error, skipped int) error {
	var p *csv.ParseError
	if errors.As(err, &p) {
		return fmt.Errorf("line %d, column %d: %w", p.Line+skipped, p.Column, p.Err)
	}
	return err
}

// readSettings reads the lines "# name: value" that may stand above the table and
// returns what follows and the number of lines taken.
func (f *File) readSettings(data []byte) (rest []byte, lines int, err error) {
	said := map[string]string{}
	for bytes.HasPrefix(data, []byte("#")) {
		line, after, _ := bytes.Cut(data, []byte("\n"))
		data = after
		lines++
		name, value, ok := strings.Cut(strings.TrimSpace(string(line[1:])), ":")
		if !ok {
			return nil, 0, fmt.Errorf("line %d: a line that begins with # reads \"# name: value\"", lines)
		}
		name = strings.TrimSpace(name)
		if _, twice := said[name]; twice {
			return nil, 0, fmt.Errorf("line %d: %s is given twice", lines, name)
		}
		switch name {
		case "version", "space", "unit", "view", "width_px", "height_px":
			said[name] = strings.TrimSpace(value)
		default:
			return nil, 0, fmt.Errorf("line %d: %q is not known; version, space, unit, view, width_px and height_px are", lines, name)
		}
	}
	number := func(name string) (int, error) {
		if said[name] == "" {
			return 0, nil
		}
		n, err := strconv.Atoi(said[name])
		if err != nil {
			return 0, fmt.Errorf("%s is %q, which is no whole number", name, said[name])
		}
		return n, nil
	}
	version, err := number("version")
	if err != nil {
		return nil, 0, err
	}
	if version != Version && said["version"] != "" {
		return nil, 0, fmt.Errorf("version %d of the keypoint format is not known; version %d is", version, Version)
	}
	if err := setSpace(f.Track, said["space"], said["unit"]); err != nil {
		return nil, 0, err
	}
	if err := f.setView(said["view"]); err != nil {
		return nil, 0, err
	}
	width, err := number("width_px")
	if err != nil {
		return nil, 0, err
	}
	height, err := number("height_px")
	if err != nil {
		return nil, 0, err
	}
	return data, lines, f.setSize(width, height)
}

// readHead makes a path for each landmark that the head names.
func (f *File) readHead(head []string, line int) ([]column, error) {
	if strings.TrimSpace(head[0]) != "time_s" {
		return nil, fmt.Errorf("line %d: the first column is %q and must be time_s", line, head[0])
	}
	var out []column
	for i, h := range head[1:] {
		name := strings.TrimSpace(h)
		cut := strings.LastIndexByte(name, '_')
		if cut < 0 {
			return nil, fmt.Errorf("line %d, column %d: %q is no column name: they read like left_knee_x, left_knee_y, left_knee_confidence", line, i+2, name)
		}
		l, err := body.ParseLandmark(name[:cut])
		if err != nil {
			return nil, fmt.Errorf("line %d, column %d: %w", line, i+2, err)
		}
		p := f.Track.Paths[l]
		if p == nil {
			p = &track.Path{Origin: track.MarkerFile}
			f.Track.Paths[l] = p
		}
		c := column{landmark: l, part: name[cut+1:]}
		switch c.part {
		case "x":
			c.values = &p.X
		case "y":
			c.values = &p.Y
		case "z":
			c.values = &p.Z
		case "confidence":
			c.values = &p.Confidence
		default:
			return nil, fmt.Errorf("line %d, column %d: %q ends in none of _x, _y, _z and _confidence", line, i+2, name)
		}
		if *c.values != nil {
			return nil, fmt.Errorf("line %d, column %d: %s is given twice", line, i+2, name)
		}
		*c.values = []float64{}
		out = append(out, c)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("line %d names no landmark: columns read like left_knee_x, left_knee_y", line)
	}
	for l, p := range f.Track.Paths {
		if p != nil {
			if err := checkAxes(f.Track.Space, body.Landmark(l), p); err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
		}
	}
	return out, nil
}

func (f *File) readRow(row []string, columns []column, line int) error {
	t, err := strconv.ParseFloat(strings.TrimSpace(row[0]), 64)
	if err != nil || math.IsNaN(t) || math.IsInf(t, 0) {
		return fmt.Errorf("line %d, column 1: the time %q is no number of seconds", line, row[0])
	}
	k := f.Track.Frames()
	if k > 0 && !(t > f.Track.TimeS[k-1]) {
		return fmt.Errorf("line %d: the time %g s does not come after %g s", line, t, f.Track.TimeS[k-1])
	}
	f.Track.TimeS = append(f.Track.TimeS, t)
	for i, c := range columns {
		v := math.NaN()
		if text := strings.TrimSpace(row[i+1]); text != "" {
			v, err = strconv.ParseFloat(text, 64)
			if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("line %d, column %d (%v_%s): %q is no number; leave the cell empty where the point was not seen", line, i+2, c.landmark, c.part, text)
			}
		}
		*c.values = append(*c.values, v)
	}
	for l, p := range f.Track.Paths {
		if p == nil {
			continue
		}
		if fault := checkSample(f.Track.Unit, p, k); fault != "" {
			return fmt.Errorf("line %d, %v: %s", line, body.Landmark(l), fault)
		}
	}
	return nil
}

// WriteCSV writes f as a keypoint table, coordinates in full precision.
func WriteCSV(out io.Writer, f *File) error {
	if err := f.writable(); err != nil {
		return err
	}
	w := bufio.NewWriter(out)
	t := f.Track
	fmt.Fprintf(w, "# version: %d\n# space: %s\n# unit: %v\n", Version, spaceNames[t.Space], t.Unit)
	if f.View != clip.UnknownView {
		fmt.Fprintf(w, "# view: %v\n", f.View)
	}
	if f.WidthPX > 0 {
		fmt.Fprintf(w, "# width_px: %d\n# height_px: %d\n", f.WidthPX, f.HeightPX)
	}
	w.WriteString("time_s")
	for l, p := range t.Paths {
		if p == nil {
			continue
		}
		for a, c := range axes(p) {
			if *c != nil {
				fmt.Fprintf(w, ",%v_%c", body.Landmark(l), axisNames[a])
			}
		}
		if p.Confidence != nil {
			fmt.Fprintf(w, ",%v_confidence", body.Landmark(l))
		}
	}
	w.WriteByte('\n')
	cell := func(v float64) {
		w.WriteByte(',')
		if !math.IsNaN(v) {
			w.Write(strconv.AppendFloat(w.AvailableBuffer(), v, 'g', -1, 64))
		}
	}
	for k, at := range t.TimeS {
		w.Write(strconv.AppendFloat(w.AvailableBuffer(), at, 'g', -1, 64))
		for _, p := range t.Paths {
			if p == nil {
				continue
			}
			for _, c := range axes(p) {
				if *c != nil {
					cell((*c)[k])
				}
			}
			if p.Confidence != nil {
				cell(p.Confidence[k])
			}
		}
		w.WriteByte('\n')
	}
	return w.Flush()
}
