package runfile

import (
	"bufio"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"gaitwright/gait/steprate"
)

// samplesHead is the first line of kept samples: what each column is.
const samplesHead = "t_s,speed_mps,steps_per_min,distance_m,altitude_m,contact_s,oscillation_m"

// WriteSamples writes a settled run's samples without places: gzipped lines of
// comma-separated values, empty for what is not known.
func WriteSamples(w io.Writer, samples []steprate.Sample) error {
	z, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(z, 1<<16)
	b.WriteString(samplesHead)
	b.WriteByte('\n')
	var line []byte
	for _, s := range samples {
		line = line[:0]
		for i, v := range [...]float64{s.TimeS, s.SpeedMPS, s.PerMin, s.DistanceM, s.AltitudeM, s.ContactS, s.OscillationM} {
			if i > 0 {
				line = append(line, ',')
			}
			if !math.IsNaN(v) {
				line = strconv.AppendFloat(line, v, 'f', [...]int{3, 3, 2, 2, 2, 4, 4}[i], 64)
			}
		}
		b.Write(append(line, '\n'))
	}
	if err := b.Flush(); err != nil {
		return err
	}
	return z.Close()
}

// ReadSamples reads what WriteSamples wrote.
func ReadSamples(r io.Reader) ([]steprate.Sample, error) {
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, fmt.Errorf("the kept samples cannot be read: %w", err)
	}
	lines := bufio.NewScanner(io.LimitReader(z, MaxBytes))
	if !lines.Scan() || lines.Text() != samplesHead {
		return nil, errors.New("the kept samples are of another form")
	}
	var out []steprate.Sample
	for lines.Scan() {
		cells := strings.Split(lines.Text(), ",")
		if len(cells) != 7 {
			return nil, fmt.Errorf("the kept samples are damaged at record %d", len(out)+1)
		}
		s := blank()
		for i, to := range [...]*float64{&s.TimeS, &s.SpeedMPS, &s.PerMin, &s.DistanceM, &s.AltitudeM, &s.ContactS, &s.OscillationM} {
			if cells[i] != "" {
				*to = number([]byte(cells[i]))
			}
		}
		out = append(out, s)
	}
	return out, lines.Err()
}
