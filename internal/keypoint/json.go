package keypoint

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// document is the JSON form.
type document struct {
	Version   *int      `json:"version"`
	Space     string    `json:"space"`
	Unit      string    `json:"unit"`
	View      string    `json:"view"`
	WidthPX   int       `json:"width_px"`
	HeightPX  int       `json:"height_px"`
	TimeS     []float64 `json:"time_s"`
	Landmarks landmarks `json:"landmarks"`
}

// landmarks are paths by landmark; a name may stand once.
type landmarks [body.NumLandmarks]*path

type path struct {
	X          values `json:"x"`
	Y          values `json:"y"`
	Z          values `json:"z"`
	Confidence values `json:"confidence"`
}

// values is a list of numbers in which null is NaN.
type values []float64

// UnmarshalJSON reads a list of numbers and nulls. What it is given is valid JSON, so
// that between two commas of such a list stands null or a number and nothing else.
func (v *values) UnmarshalJSON(data []byte) error {
	data = bytes.TrimSpace(data)
	if string(data) == "null" {
		return nil // the axis itself is null: not given
	}
	fault := errors.New("a coordinate is a list of numbers, with null where the point was not seen")
	if data[0] != '[' {
		return fault
	}
	data = bytes.TrimSpace(data[1 : len(data)-1])
	*v = make(values, 0, bytes.Count(data, []byte(","))+1)
	if len(data) == 0 {
		return nil
	}
	for one := range bytes.SplitSeq(data, []byte(",")) {
		one = bytes.TrimSpace(one)
		x := math.NaN()
		if string(one) != "null" {
			var err error
			if x, err = strconv.ParseFloat(string(one), 64); err != nil {
				return fault
			}
		}
		*v = append(*v, x)
	}
	return nil
}

// UnmarshalJSON reads an object of landmarks and refuses unknown and repeated
// names.
func (l *landmarks) UnmarshalJSON(data []byte) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return errors.New("landmarks is an object, as in {\"left_knee\": {\"x\": [1, 2], \"y\": [3, 4]}}")
	}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return err
		}
		name, _ := t.(string)
		at, err := body.ParseLandmark(name)
		if err != nil {
			return err
		}
		if l[at] != nil {
			return fmt.Errorf("landmark %s is given twice", name)
		}
		var p path
		if err := d.Decode(&p); err != nil {
			return fmt.Errorf("landmark %s: %w", name, err)
		}
		l[at] = &p
	}
	return nil
}

// ReadJSON reads a keypoint object. Syntax errors name line and column.
func ReadJSON(data []byte) (*File, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var doc document
	if err := d.Decode(&doc); err != nil {
		return nil, jsonFault(data, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: something follows the object; a file holds one", position(data, d.InputOffset()))
	}
	if doc.Version != nil && *doc.Version != Version {
		return nil, fmt.Errorf("version %d of the keypoint format is not known; version %d is", *doc.Version, Version)
	}
	f := &File{Track: track.New(track.Picture, track.Pixel, doc.TimeS)}
	if err := setSpace(f.Track, doc.Space, doc.Unit); err != nil {
		return nil, err
	}
	if err := f.setView(doc.View); err != nil {
		return nil, err
	}
	if err := f.setSize(doc.WidthPX, doc.HeightPX); err != nil {
		return nil, err
	}
	if len(doc.TimeS) == 0 {
		return nil, errors.New("time_s is missing or empty: it is the list of frame times in seconds")
	}
	some := false
	for i, p := range doc.Landmarks {
		if p == nil {
			continue
		}
		some = true
		l := body.Landmark(i)
		q := &track.Path{Origin: track.MarkerFile, X: p.X, Y: p.Y, Z: p.Z, Confidence: p.Confidence}
		if err := checkAxes(f.Track.Space, l, q); err != nil {
			return nil, err
		}
		f.Track.Paths[l] = q
	}
	if !some {
		return nil, errors.New("landmarks is missing or empty")
	}
	if err := f.Track.Validate(); err != nil {
		return nil, err
	}
	for l, p := range f.Track.Paths {
		if p == nil {
			continue
		}
		for k := range f.Track.TimeS {
			if fault := checkSample(f.Track.Unit, p, k); fault != "" {
				return nil, fmt.Errorf("%v, frame %d (counted from 0): %s", body.Landmark(l), k, fault)
			}
		}
	}
	return f, nil
}

// jsonFault adds the place to an error of the decoder.
func jsonFault(data []byte, err error) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		return fmt.Errorf("%s: %w", position(data, syntax.Offset), err)
	case errors.As(err, &kind):
		return fmt.Errorf("%s: %s is a %s where a %v is wanted", position(data, kind.Offset), kind.Field, kind.Value, kind.Type)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return errors.New("the file ends before the object does: it is empty or was cut short")
	}
	return err
}

func position(data []byte, offset int64) string {
	before := data[:max(0, min(offset, int64(len(data))))]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := len(before) - bytes.LastIndexByte(before, '\n')
	return fmt.Sprintf("line %d, column %d", line, column)
}

// WriteJSON writes f as a keypoint object, coordinates in full precision.
func WriteJSON(out io.Writer, f *File) error {
	if err := f.writable(); err != nil {
		return err
	}
	w := bufio.NewWriter(out)
	t := f.Track
	fmt.Fprintf(w, "{\n\"version\": %d,\n\"space\": %q,\n\"unit\": %q,\n", Version, spaceNames[t.Space], t.Unit.String())
	if f.View != clip.UnknownView {
		fmt.Fprintf(w, "\"view\": %q,\n", f.View.String())
	}
	if f.WidthPX > 0 {
		fmt.Fprintf(w, "\"width_px\": %d,\n\"height_px\": %d,\n", f.WidthPX, f.HeightPX)
	}
	list := func(v []float64) {
		w.WriteByte('[')
		for i, x := range v {
			if i > 0 {
				w.WriteByte(',')
			}
			if math.IsNaN(x) {
				w.WriteString("null")
			} else {
				w.Write(strconv.AppendFloat(w.AvailableBuffer(), x, 'g', -1, 64))
			}
		}
		w.WriteByte(']')
	}
	w.WriteString("\"time_s\": ")
	list(t.TimeS)
	w.WriteString(",\n\"landmarks\": {")
	first := true
	for l, p := range t.Paths {
		if p == nil {
			continue
		}
		if !first {
			w.WriteByte(',')
		}
		first = false
		fmt.Fprintf(w, "\n%q: {", body.Landmark(l).String())
		comma := ""
		for a, c := range axes(p) {
			if *c != nil {
				fmt.Fprintf(w, "%s\"%c\": ", comma, axisNames[a])
				list(*c)
				comma = ", "
			}
		}
		if p.Confidence != nil {
			w.WriteString(comma + "\"confidence\": ")
			list(p.Confidence)
		}
		w.WriteByte('}')
	}
	w.WriteString("}\n}\n")
	return w.Flush()
}
