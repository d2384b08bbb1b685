package c3d

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// Draft is a file to be written. Lengths are metres and go to the file in
// millimetres.
type Draft struct {
	RateHz     float64
	FirstFrame int // 1 where 0
	Points     []Point
	// SamplesPerFrame is the number of analog samples a frame; each channel has
	// that many times as many values as there are frames.
	SamplesPerFrame int
	Analog          []Channel
	Platforms       []Platform
	Events          []Event // seconds from the first frame
	UpHint          string  // such as "+Y"; "+Z" where empty

	// Integer writes 16-bit integers in place of floats: points to the nearest
	// tenth of a millimetre, so within 3.2 m of the origin, and each analog channel
	// to the nearest thirty-thousandth of its largest value.
	Integer bool
}

// Platform describes one force platform of a Draft.
type Platform struct {
	Type     int
	Corners  [4][3]float64 // metres
	Origin   [3]float64    // metres
	Channels [6]int        // places in Draft.Analog, from 0
	// Matrix is the calibration matrix of type 4, row by column; its moments are
	// in newton millimetres.
	Matrix [6][6]float64
}

const integerStepMM = 0.1

// Write writes d as a C3D file in Intel byte order. Nothing is written where d
// cannot be.
func Write(w io.Writer, d Draft) error {
	b, err := d.encode()
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

func (d Draft) encode() ([]byte, error) {
	frames := 0
	if len(d.Points) > 0 {
		frames = len(d.Points[0].X)
	} else if len(d.Analog) > 0 && d.SamplesPerFrame > 0 {
		frames = len(d.Analog[0].Values) / d.SamplesPerFrame
	}
	samples := d.SamplesPerFrame
	if len(d.Analog) == 0 {
		samples = 0
	}
	switch {
	case frames == 0:
		return nil, fmt.Errorf("there are no frames to write")
	case len(d.Points) > math.MaxUint16 || len(d.Analog)*samples > math.MaxUint16:
		return nil, fmt.Errorf("%d points and %d analog values a frame are more than C3D can count", len(d.Points), len(d.Analog)*samples)
	case len(d.Analog) > 0 && samples < 1:
		return nil, fmt.Errorf("analog channels need at least one sample a frame")
	}
	for _, p := range d.Points {
		if len(p.X) != frames || len(p.Y) != frames || len(p.Z) != frames {
			return nil, fmt.Errorf("point %s has another number of frames than the first", p.Label)
		}
	}
	for _, c := range d.Analog {
		if len(c.Values) != frames*samples {
			return nil, fmt.Errorf("analog channel %s has %d values, not %d", c.Label, len(c.Values), frames*samples)
		}
	}
	first := max(d.FirstFrame, 1)
	analogScale := d.analogScale()
	scale := -1.0
	if d.Integer {
		scale = integerStepMM
	}
	params := d.parameters(first, frames, samples, scale, analogScale)
	blocks := (len(params) + blockBytes - 1) / blockBytes
	params = append(params, make([]byte, blocks*blockBytes-len(params))...)
	params[2] = byte(min(blocks, 255))

	head := make([]byte, blockBytes)
	le := binary.LittleEndian
	head[0], head[1] = 2, 0x50
	le.PutUint16(head[2:], uint16(len(d.Points)))
	le.PutUint16(head[4:], uint16(len(d.Analog)*samples))
	le.PutUint16(head[6:], uint16(min(first, math.MaxUint16)))
	le.PutUint16(head[8:], uint16(min(first+frames-1, math.MaxUint16)))
	le.PutUint32(head[12:], math.Float32bits(float32(scale)))
	le.PutUint16(head[16:], uint16(2+blocks))
	le.PutUint16(head[18:], uint16(samples))
	le.PutUint32(head[20:], math.Float32bits(float32(d.RateHz)))

	var b bytes.Buffer
	b.Write(head)
	b.Write(params)
	for k := range frames {
		d.frame(&b, k, samples, analogScale)
	}
	if rest := b.Len() % blockBytes; rest > 0 {
		b.Write(make([]byte, blockBytes-rest))
	}
	return b.Bytes(), nil
}

// analogScale is the unit a step of each channel: 1 for floats.
func (d Draft) analogScale() []float64 {
	out := make([]float64, len(d.Analog))
	for c, ch := range d.Analog {
		out[c] = 1
		if d.Integer {
			most := 0.0
			for _, v := range ch.Values {
				most = max(most, math.Abs(v))
			}
			if most > 0 {
				out[c] = most / 30000
			}
		}
	}
	return out
}

func (d Draft) frame(b *bytes.Buffer, k, samples int, analogScale []float64) {
	put := func(v float64) {
		if d.Integer {
			b.Write(binary.LittleEndian.AppendUint16(nil, uint16(int16(math.Round(v)))))
		} else {
			b.Write(binary.LittleEndian.AppendUint32(nil, math.Float32bits(float32(v))))
		}
	}
	unit := 1000.0
	if d.Integer {
		unit /= integerStepMM
	}
	for _, p := range d.Points {
		x, y, z, seen := p.X[k]*unit, p.Y[k]*unit, p.Z[k]*unit, 0.0
		if math.IsNaN(x + y + z) {
			x, y, z, seen = 0, 0, 0, -1
		}
		put(x)
		put(y)
		put(z)
		put(seen)
	}
	for s := range samples {
		for c, ch := range d.Analog {
			put(ch.Values[k*samples+s] / analogScale[c])
		}
	}
}

// section builds the parameter section.
type section struct{ b []byte }

func (s *section) record(id int8, name string, body []byte) {
	s.b = append(s.b, byte(int8(len(name))), byte(id))
	s.b = append(s.b, name...)
	s.b = binary.LittleEndian.AppendUint16(s.b, uint16(2+len(body)+1))
	s.b = append(s.b, body...)
	s.b = append(s.b, 0) // no description
}

func (s *section) group(id int8, name string) { s.record(-id, name, nil) }

func (s *section) integers(id int8, name string, dims []byte, v ...int) {
	body := append([]byte{2, byte(len(dims))}, dims...)
	for _, x := range v {
		body = binary.LittleEndian.AppendUint16(body, uint16(x))
	}
	s.record(id, name, body)
}

func (s *section) floats(id int8, name string, dims []byte, v ...float64) {
	body := append([]byte{4, byte(len(dims))}, dims...)
	for _, x := range v {
		body = binary.LittleEndian.AppendUint32(body, math.Float32bits(float32(x)))
	}
	s.record(id, name, body)
}

func (s *section) text(id int8, name, value string) {
	s.record(id, name, append([]byte{0xff, 1, byte(len(value))}, value...))
}

// texts writes rows of text under name, name2 …, at most 255 rows each.
func (s *section) texts(id int8, name string, rows []string) {
	width := 1
	for _, r := range rows {
		width = max(width, min(len(r), 127))
	}
	for part := 1; len(rows) > 0; part++ {
		n := min(len(rows), 255)
		body := []byte{0xff, 2, byte(width), byte(n)}
		for _, r := range rows[:n] {
			row := bytes.Repeat([]byte{' '}, width)
			copy(row, r)
			body = append(body, row...)
		}
		s.record(id, numbered(name, part), body)
		rows = rows[n:]
	}
}

func numbered(name string, part int) string {
	if part == 1 {
		return name
	}
	return fmt.Sprintf("%s%d", name, part)
}

// manyFloats writes values under name, name2 …, at most 255 each.
func (s *section) manyFloats(id int8, name string, v []float64) {
	for part := 1; len(v) > 0; part++ {
		n := min(len(v), 255)
		s.floats(id, numbered(name, part), []byte{byte(n)}, v[:n]...)
		v = v[n:]
	}
}

func (d Draft) parameters(first, frames, samples int, scale float64, analogScale []float64) []byte {
	s := &section{b: []byte{1, 0x50, 0, 84}}
	const point, analog, platform, event, trial = 1, 2, 3, 4, 5
	s.group(point, "POINT")
	s.integers(point, "USED", nil, len(d.Points))
	s.floats(point, "SCALE", nil, scale)
	s.floats(point, "RATE", nil, d.RateHz)
	s.integers(point, "FRAMES", nil, min(frames, math.MaxUint16))
	s.text(point, "UNITS", "mm")
	s.text(point, "X_SCREEN", "+X")
	up := d.UpHint
	if up == "" {
		up = "+Z"
	}
	s.text(point, "Y_SCREEN", up)
	labels := make([]string, len(d.Points))
	for i, p := range d.Points {
		labels[i] = p.Label
	}
	s.texts(point, "LABELS", labels)
	if first+frames-1 > math.MaxUint16 {
		s.group(trial, "TRIAL")
		last := first + frames - 1
		s.integers(trial, "ACTUAL_START_FIELD", []byte{2}, first&0xffff, first>>16)
		s.integers(trial, "ACTUAL_END_FIELD", []byte{2}, last&0xffff, last>>16)
	}
	if len(d.Analog) > 0 {
		s.group(analog, "ANALOG")
		s.integers(analog, "USED", nil, len(d.Analog))
		s.floats(analog, "RATE", nil, d.RateHz*float64(samples))
		s.floats(analog, "GEN_SCALE", nil, 1)
		s.text(analog, "FORMAT", "SIGNED")
		var names, units []string
		for _, c := range d.Analog {
			names, units = append(names, c.Label), append(units, c.Unit)
		}
		s.texts(analog, "LABELS", names)
		s.texts(analog, "UNITS", units)
		s.manyFloats(analog, "SCALE", analogScale)
	}
	if n := len(d.Platforms); n > 0 {
		s.group(platform, "FORCE_PLATFORM")
		s.integers(platform, "USED", nil, n)
		s.integers(platform, "ZERO", []byte{2}, 0, 0)
		var types, channels []int
		var corners, origins, matrices []float64
		for _, p := range d.Platforms {
			types = append(types, p.Type)
			for _, c := range p.Channels {
				channels = append(channels, c+1)
			}
			for _, c := range p.Corners {
				corners = append(corners, 1000*c[0], 1000*c[1], 1000*c[2])
			}
			origins = append(origins, 1000*p.Origin[0], 1000*p.Origin[1], 1000*p.Origin[2])
			for c := range 6 {
				for r := range 6 {
					matrices = append(matrices, p.Matrix[r][c])
				}
			}
		}
		k := byte(n)
		s.integers(platform, "TYPE", []byte{k}, types...)
		s.integers(platform, "CHANNEL", []byte{6, k}, channels...)
		s.floats(platform, "CORNERS", []byte{3, 4, k}, corners...)
		s.floats(platform, "ORIGIN", []byte{3, k}, origins...)
		s.floats(platform, "CAL_MATRIX", []byte{6, 6, k}, matrices...)
	}
	if len(d.Events) > 0 {
		s.group(event, "EVENT")
		s.integers(event, "USED", nil, len(d.Events))
		var names, contexts []string
		var times []float64
		for _, e := range d.Events {
			names, contexts = append(names, e.Label), append(contexts, e.Context)
			t := e.TimeS + float64(first-1)/d.RateHz
			times = append(times, math.Floor(t/60), math.Mod(t, 60))
		}
		s.texts(event, "LABELS", names)
		s.texts(event, "CONTEXTS", contexts)
		for part := 1; len(times) > 0; part++ {
			n := min(len(times)/2, 255)
			s.floats(event, numbered("TIMES", part), []byte{2, byte(n)}, times[:2*n]...)
			times = times[2*n:]
		}
	}
	return append(s.b, 0, 0)
}
