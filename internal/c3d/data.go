package c3d

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
)

// layout is the data section once every count has been held against the file.
type layout struct {
	points, channels, samples int
	float                     bool
	scale                     float64 // units an integer step
	start, frameBytes, frames int
}

// readData works out the layout, checks it and fills points and channels.
func (f *File) readData(data []byte, h header) error {
	ps := f.params
	if err := f.readRate(h); err != nil {
		return err
	}
	var err error
	if f.pointUnitM, err = lengthUnit(ps.text("POINT", "UNITS")); err != nil {
		return err
	}
	l := layout{points: h.points, samples: h.samples, scale: h.scale}
	if used, ok := ps["POINT:USED"]; ok {
		if n := unsigned16(used); n != h.points {
			return fmt.Errorf("the header counts %d points and POINT:USED %d: the file is damaged; export it again", h.points, n)
		}
	}
	if v := ps.number("POINT", "SCALE", 0); v != 0 {
		l.scale = v
	}
	l.float = l.scale < 0
	if !l.float && !(l.scale > 0) {
		return fmt.Errorf("POINT:SCALE is %g, so coordinates cannot be read: it must be negative for floats or the size of an integer step", l.scale)
	}
	if math.IsInf(l.scale, 0) {
		return fmt.Errorf("POINT:SCALE is infinite: the file is damaged; export it again")
	}
	if h.analogPerStep > 0 {
		if l.samples == 0 {
			l.samples = 1
		}
		if h.analogPerStep%l.samples != 0 {
			return fmt.Errorf("the header counts %d analog values a frame in %d samples, which does not divide: the file is damaged; export it again", h.analogPerStep, l.samples)
		}
		l.channels = h.analogPerStep / l.samples
		if used, ok := ps["ANALOG:USED"]; ok {
			if n := unsigned16(used); n != l.channels {
				return fmt.Errorf("the header counts %d analog channels and ANALOG:USED %d: the file is damaged; export it again", l.channels, n)
			}
		}
	}
	if l.points == 0 && l.channels == 0 {
		return fmt.Errorf("the file holds neither points nor analog channels")
	}
	width := 2
	if l.float {
		width = 4
	}
	l.frameBytes = width * (4*l.points + l.channels*l.samples)
	block := h.dataBlock
	if block == 0 {
		block = int(uint16(int(ps.number("POINT", "DATA_START", 0))))
	}
	if block < 2 || (block-1)*blockBytes > len(data) {
		return fmt.Errorf("the data are said to begin in block %d, which the file of %d bytes does not have: the file is cut short or damaged", block, len(data))
	}
	l.start = (block - 1) * blockBytes
	if l.frames, err = f.countFrames(h, (len(data)-l.start)/l.frameBytes); err != nil {
		return err
	}
	f.Frames = l.frames
	body := data[l.start : l.start+l.frames*l.frameBytes]
	f.readPoints(body, l)
	return f.readAnalog(body, l)
}

func (f *File) readRate(h header) error {
	f.RateHz = f.params.number("POINT", "RATE", 0)
	if !(f.RateHz > 0) {
		f.RateHz = h.rateHz
	}
	if !(f.RateHz >= 1 && f.RateHz <= 1e5) {
		return fmt.Errorf("the frame rate in the file is %g a second; it must lie between 1 and 100,000: set it in the laboratory's software and export again", f.RateHz)
	}
	return nil
}

func unsigned16(p parameter) int {
	v := p.numbers()
	if len(v) == 0 {
		return 0
	}
	if p.kind == 2 {
		return int(uint16(int16(v[0])))
	}
	return int(v[0])
}

// lengthUnit returns the metres of one unit of POINT:UNITS. An absent unit means
// millimetres, as the format has it.
func lengthUnit(unit string) (float64, error) {
	switch strings.ToLower(unit) {
	case "mm", "", "millimeters", "millimetres":
		return 1e-3, nil
	case "cm":
		return 1e-2, nil
	case "dm":
		return 1e-1, nil
	case "m", "meters", "metres":
		return 1, nil
	case "in", "inch", "inches":
		return 0.0254, nil
	}
	return 0, fmt.Errorf("POINT:UNITS is %q; mm, cm, m and in are understood", unit)
}

// countFrames chooses the number of frames among what the header and the
// parameters say. The header holds 16 bits, so longer files carry the count in
// TRIAL, POINT:LONG_FRAMES or POINT:FRAMES. The largest count that the file has
// room for is taken; where none fits the file is cut short.
func (f *File) countFrames(h header, room int) (int, error) {
	ps := f.params
	var said []int
	add := func(n int) {
		if n > 0 {
			said = append(said, n)
		}
	}
	add(h.last - h.first + 1)
	if p, ok := ps["POINT:FRAMES"]; ok {
		add(unsigned16(p))
	}
	add(int(math.Min(ps.number("POINT", "LONG_FRAMES", 0), 1<<40)))
	start, end := ps.list("TRIAL", "ACTUAL_START_FIELD"), ps.list("TRIAL", "ACTUAL_END_FIELD")
	if len(start) == 2 && len(end) == 2 {
		first := long(start)
		add(long(end) - first + 1)
		if first > 0 {
			f.FirstFrame = first
		}
	}
	best, least := 0, 0
	for _, n := range said {
		if n <= room {
			best = max(best, n)
		}
		if least == 0 || n < least {
			least = n
		}
	}
	switch {
	case len(said) == 0:
		return 0, fmt.Errorf("the file says it has no frames: it holds parameters alone, or the export was broken off")
	case best == 0:
		return 0, fmt.Errorf("the file should hold %d frames and has room for %d: it was cut short; copy or export it again", least, room)
	}
	for _, n := range said {
		if n != best && n != math.MaxUint16 { // that one means "more than fits here"
			f.Notes = append(f.Notes, fmt.Sprintf("the counts of frames in the file differ (%d and %d); %d were read", best, n, best))
			break
		}
	}
	return best, nil
}

// long joins a 32-bit number that is stored as two 16-bit words, low word first.
func long(words []float64) int {
	return int(uint16(int16(words[0]))) | int(uint16(int16(words[1])))<<16
}

func (f *File) readPoints(body []byte, l layout) {
	labels := f.params.extended("POINT", "LABELS")
	f.Points = make([]Point, l.points)
	store := make([]float64, 3*l.points*l.frames)
	for i := range f.Points {
		p := &f.Points[i]
		p.Label = fmt.Sprintf("*%d", i+1)
		if i < len(labels) && labels[i] != "" {
			p.Label = labels[i]
		}
		cut := store[3*i*l.frames:]
		p.X, p.Y, p.Z = cut[:l.frames:l.frames], cut[l.frames:2*l.frames:2*l.frames], cut[2*l.frames:3*l.frames:3*l.frames]
	}
	if l.float {
		f.readFloatPoints(body, l)
	} else {
		f.readIntegerPoints(body, l)
	}
}

// maxCoordinateM is farther than any laboratory: a coordinate beyond it is not a
// place but damage.
const maxCoordinateM = 1e4

func (f *File) readFloatPoints(body []byte, l layout) {
	nan := math.NaN()
	for i := range f.Points {
		p := &f.Points[i]
		at := 16 * i
		for k := range l.frames {
			b := body[at : at+16 : at+16]
			x := float64(math.Float32frombits(binary.LittleEndian.Uint32(b[0:])))
			y := float64(math.Float32frombits(binary.LittleEndian.Uint32(b[4:])))
			z := float64(math.Float32frombits(binary.LittleEndian.Uint32(b[8:])))
			w := math.Float32frombits(binary.LittleEndian.Uint32(b[12:]))
			x, y, z = x*f.pointUnitM, y*f.pointUnitM, z*f.pointUnitM
			// Written so that a value that is no number is missing too.
			seen := w > -0.5 && math.Abs(x) < maxCoordinateM && math.Abs(y) < maxCoordinateM && math.Abs(z) < maxCoordinateM
			if !seen || (x == 0 && y == 0 && z == 0) {
				x, y, z = nan, nan, nan
			}
			p.X[k], p.Y[k], p.Z[k] = x, y, z
			at += l.frameBytes
		}
	}
}

func (f *File) readIntegerPoints(body []byte, l layout) {
	nan := math.NaN()
	unit := l.scale * f.pointUnitM
	for i := range f.Points {
		p := &f.Points[i]
		at := 8 * i
		for k := range l.frames {
			b := body[at : at+8 : at+8]
			x, y, z := int16(binary.LittleEndian.Uint16(b)), int16(binary.LittleEndian.Uint16(b[2:])), int16(binary.LittleEndian.Uint16(b[4:]))
			if int16(binary.LittleEndian.Uint16(b[6:])) < 0 || (x == 0 && y == 0 && z == 0) {
				p.X[k], p.Y[k], p.Z[k] = nan, nan, nan
			} else {
				p.X[k], p.Y[k], p.Z[k] = float64(x)*unit, float64(y)*unit, float64(z)*unit
			}
			at += l.frameBytes
		}
	}
}

// readAnalog fills the channels: (raw - offset) × scale × general scale. Only
// integer data can be unsigned.
func (f *File) readAnalog(body []byte, l layout) error {
	if l.channels == 0 {
		return nil
	}
	ps := f.params
	f.AnalogRateHz = f.RateHz * float64(l.samples)
	if r := ps.number("ANALOG", "RATE", 0); r > 0 && math.Abs(r-f.AnalogRateHz) > 0.01*f.AnalogRateHz {
		f.Notes = append(f.Notes, fmt.Sprintf("ANALOG:RATE says %g samples a second, but the file holds %g; the latter is used", r, f.AnalogRateHz))
	}
	labels, units := ps.extended("ANALOG", "LABELS"), ps.extended("ANALOG", "UNITS")
	scales, offsets := ps.extendedNumbers("ANALOG", "SCALE"), ps.extendedNumbers("ANALOG", "OFFSET")
	general := ps.number("ANALOG", "GEN_SCALE", 1)
	unsigned := strings.EqualFold(ps.text("ANALOG", "FORMAT"), "UNSIGNED")
	n := l.frames * l.samples
	store := make([]float64, l.channels*n)
	f.Analog = make([]Channel, l.channels)
	pointBytes, width := 8*l.points, 2
	if l.float {
		pointBytes, width = 16*l.points, 4
	}
	for c := range f.Analog {
		ch := &f.Analog[c]
		ch.Label = fmt.Sprintf("analog %d", c+1)
		if c < len(labels) && labels[c] != "" {
			ch.Label = labels[c]
		}
		if c < len(units) {
			ch.Unit = units[c]
		}
		scale, offset := general, 0.0
		if c < len(scales) {
			scale *= scales[c]
		}
		if c < len(offsets) {
			offset = offsets[c]
			if unsigned && !l.float && offset < 0 {
				offset += 1 << 16
			}
		}
		ch.Values = store[c*n : (c+1)*n : (c+1)*n]
		k := 0
		for frame := range l.frames {
			at := frame*l.frameBytes + pointBytes + width*c
			for range l.samples {
				var raw float64
				switch {
				case l.float:
					raw = float64(math.Float32frombits(binary.LittleEndian.Uint32(body[at:])))
					if math.IsInf(raw, 0) {
						raw = math.NaN()
					}
				case unsigned:
					raw = float64(binary.LittleEndian.Uint16(body[at:]))
				default:
					raw = float64(int16(binary.LittleEndian.Uint16(body[at:])))
				}
				ch.Values[k] = (raw - offset) * scale
				k++
				at += width * l.channels
			}
		}
	}
	return nil
}
