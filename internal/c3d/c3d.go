package c3d

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strings"
)

// blockBytes is the size of the blocks in which a C3D file counts.
const blockBytes = 512

// maxFileBytes is the largest file that is read: about six hours of fifty
// markers at 100 frames a second.
const maxFileBytes = 2 << 30

// File is one C3D file in memory.
type File struct {
	RateHz     float64 // frames a second of the points
	FirstFrame int     // number of the first frame as the laboratory counted it, from 1
	Frames     int
	Points     []Point
	// AnalogRateHz is the sampling rate of the analog channels; 0 where there are
	// none.
	AnalogRateHz float64
	Analog       []Channel
	Events       []Event
	// UpHint is the laboratory's upward axis as POINT:Y_SCREEN declares it ("+Y",
	// "+Z"); empty where it is not declared. Some software writes it wrongly.
	UpHint string
	// Notes are things in the file that were odd and how they were read.
	Notes []string

	params     parameters
	pointUnitM float64 // metres a unit of POINT:UNITS
}

// Point is the path of one marker in the laboratory's axes, metres, one value a
// frame; NaN in all three where it was not seen.
type Point struct {
	Label   string
	X, Y, Z []float64
}

// Channel is one analog channel after scale and offset, in its own unit.
type Channel struct {
	Label  string
	Unit   string
	Values []float64
}

// Event is an instant that the laboratory marked.
type Event struct {
	TimeS   float64 // seconds from the file's first frame
	Label   string  // such as "Foot Strike"
	Context string  // such as "Left"; empty for events of the header
}

// TimeS returns the time of each frame in seconds from the first.
func (f *File) TimeS() []float64 {
	t := make([]float64, f.Frames)
	for i := range t {
		t[i] = float64(i) / f.RateHz
	}
	return t
}

// Labels returns the names of the points, in file order.
func (f *File) Labels() []string {
	out := make([]string, len(f.Points))
	for i, p := range f.Points {
		out[i] = p.Label
	}
	return out
}

// Open reads the C3D file at path.
func Open(path string) (*File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", path)
	}
	if info.Size() > maxFileBytes {
		return nil, fmt.Errorf("%s is %.1f GB; C3D files up to 2 GB are read: export a shorter part of the trial", path, float64(info.Size())/(1<<30))
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	f, err := Read(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

// header is what the first block of the file says.
type header struct {
	paramBlock    int
	points        int
	analogPerStep int // analog values a frame, all channels and samples
	first, last   int
	scale         float64
	dataBlock     int
	samples       int // analog samples a frame
	rateHz        float64
}

func u16(b []byte, at int) int { return int(binary.LittleEndian.Uint16(b[at:])) }

func f32(b []byte, at int) float64 {
	return float64(math.Float32frombits(binary.LittleEndian.Uint32(b[at:])))
}

// Read reads a C3D file from memory. The data are not kept.
func Read(data []byte) (*File, error) {
	if len(data) < 2*blockBytes {
		return nil, fmt.Errorf("this is no C3D file: it has %d bytes, and the smallest has 1024", len(data))
	}
	if data[1] != 0x50 {
		return nil, fmt.Errorf("this is no C3D file: the second byte is %#02x where every C3D file has 0x50", data[1])
	}
	h := header{paramBlock: int(data[0])}
	if h.paramBlock < 2 || (h.paramBlock-1)*blockBytes+4 > len(data) {
		return nil, fmt.Errorf("the header puts the parameters in block %d, which the file of %d bytes does not have: the file is damaged or cut short", h.paramBlock, len(data))
	}
	if err := checkByteOrder(data[(h.paramBlock-1)*blockBytes+3]); err != nil {
		return nil, err
	}
	h.points, h.analogPerStep = u16(data, 2), u16(data, 4)
	h.first, h.last = u16(data, 6), u16(data, 8)
	h.scale, h.dataBlock = f32(data, 12), u16(data, 16)
	h.samples, h.rateHz = u16(data, 18), f32(data, 20)

	params, err := readParameters(data[(h.paramBlock-1)*blockBytes:])
	if err != nil {
		return nil, err
	}
	f := &File{params: params, FirstFrame: max(h.first, 1)}
	if err := f.readData(data, h); err != nil {
		return nil, err
	}
	f.UpHint = strings.ToUpper(params.text("POINT", "Y_SCREEN"))
	f.readEvents(data)
	return f, nil
}

func checkByteOrder(processor byte) error {
	const help = "open it in the laboratory's software and export it again as C3D in Intel (PC) byte order"
	switch processor {
	case 84:
		return nil
	case 85:
		return fmt.Errorf("the file is in DEC (VAX) byte order, which is not read: %s", help)
	case 86:
		return fmt.Errorf("the file is in MIPS (SGI) byte order, which is not read: %s", help)
	}
	return fmt.Errorf("the processor type in the parameter section is %d; C3D knows 84 (Intel), 85 (DEC) and 86 (MIPS): the file is damaged or is no C3D file", processor)
}
