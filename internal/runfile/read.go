package runfile

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"gaitwright/gait/steprate"
)

// MaxBytes bounds a run file; thirty hours at a record a second are some 20 MB of
// XML.
const MaxBytes = 512 << 20

// maxRecords bounds the records of one file.
const maxRecords = 4_000_000

// File is what a run file holds.
type File struct {
	steprate.Run
	Format string // FIT, TCX or GPX
	// Device is a mark of the watch, that of another watch being another; empty
	// where the file does not say.
	Device string
	// Zone is the watch's zone; nil where the file does not say.
	Zone *time.Location
	// Places tells whether the file says where the run was.
	Places bool
	// Cut tells that the file breaks off; Notes says where.
	Cut bool
}

// Read reads a run file of any of the formats, told by its content, packed by gzip or
// not. The run is settled (see steprate.Run.Settle).
func Read(r io.Reader) (*File, error) {
	b := bufio.NewReaderSize(io.LimitReader(r, MaxBytes+1), longestTag)
	if head, _ := b.Peek(2); len(head) == 2 && head[0] == 0x1f && head[1] == 0x8b {
		z, err := gzip.NewReader(b)
		if err != nil {
			return nil, fmt.Errorf("the packed file is damaged: export it again (%w)", err)
		}
		// However well it is packed, no more is read than of one that is not.
		b = bufio.NewReaderSize(io.LimitReader(z, MaxBytes+1), longestTag)
	}
	head, err := b.Peek(512)
	if len(head) == 0 {
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("the file cannot be read: %w", err)
		}
		return nil, errors.New("the file is empty: export it again")
	}
	var run *File
	switch {
	case len(head) >= 12 && string(head[8:12]) == ".FIT":
		run, err = readFIT(b)
	case bytes.Contains(head, []byte("<TrainingCenterDatabase")) || bytes.Contains(head, []byte("TrainingCenterDatabase")):
		run, err = readTCX(b)
	case bytes.Contains(head, []byte("<gpx")):
		run, err = readGPX(b)
	default:
		return nil, errors.New("this is no run file: FIT, TCX and GPX are known")
	}
	if err != nil {
		return nil, err
	}
	if len(run.Samples) == 0 {
		return nil, errors.New("the file has no record of a run")
	}
	run.Settle()
	return run, nil
}

// blank is a sample of which nothing is known.
func blank() steprate.Sample {
	nan := math.NaN()
	return steprate.Sample{TimeS: nan, SpeedMPS: nan, PerMin: nan, DistanceM: nan, AltitudeM: nan, ContactS: nan, OscillationM: nan}
}

// damage is what is wrong with a file, in words for a person; what the reader of the
// format said of it is kept beside.
type damage struct {
	text string
	err  error
}

func (d *damage) Error() string { return d.text }
func (d *damage) Unwrap() error { return d.err }

func damaged(text string, err error) error { return &damage{text, err} }

func tooMany(n int) error {
	return fmt.Errorf("more than %d records are no run: is it the right file?", n)
}

// earthM is the mean radius of the earth, metres (IUGG R1, from memory).
const earthM = 6371008.8

// between is the distance of two places in degrees over the ground, by haversine.
func between(lat1, lon1, lat2, lon2 float64) float64 {
	const rad = math.Pi / 180
	s1 := math.Sin((lat2 - lat1) * rad / 2)
	s2 := math.Sin((lon2 - lon1) * rad / 2)
	h := s1*s1 + math.Cos(lat1*rad)*math.Cos(lat2*rad)*s2*s2
	return 2 * earthM * math.Asin(math.Sqrt(min(1, h)))
}
