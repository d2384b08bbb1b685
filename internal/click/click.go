package click

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"math/big"
)

// Limits of a pattern.
const (
	LeastRate = 60.0
	MostRate  = 300.0
	// MaxMinutes bounds a track.
	MaxMinutes = 240.0
)

// Sound is how the steps sound.
type Sound string

// The sounds.
const (
	Plain  Sound = "click"
	Wood   Sound = "wood"
	Rhythm Sound = "rhythm" // a beat with a bass and a string under it
)

// Pattern is what a track holds.
type Pattern struct {
	// PerMin is the step rate at the beginning, both feet, and EndPerMin at the
	// end; 0 means the same all the way. Between them it rises in a line.
	PerMin, EndPerMin float64
	Minutes           float64
	// OnMin and OffMin alternate; 0 off means the click all the way.
	OnMin, OffMin float64
	// CountIn is how many clicks come before the track, at its first rate.
	CountIn int
	// Accent makes every left step lower and fuller, or right.
	Accent string // "left", "right", "both" (told apart by pitch), or empty for all alike
	Sound  Sound
	// SampleRateHz is 44100 where 0.
	SampleRateHz int
}

// Check refuses what cannot be meant.
func (p Pattern) Check() error {
	for _, r := range []float64{p.PerMin, p.EndPerMin} {
		if r != 0 && !(r >= LeastRate && r <= MostRate) {
			return fmt.Errorf("a rate of %.4g steps a minute is not %.0f to %.0f; both feet are counted", r, LeastRate, MostRate)
		}
	}
	switch {
	case p.PerMin == 0:
		return fmt.Errorf("a step rate is needed, such as 165; both feet are counted")
	case !(p.Minutes > 0 && p.Minutes <= MaxMinutes):
		return fmt.Errorf("%.4g minutes are not up to %.0f", p.Minutes, MaxMinutes)
	case p.OnMin < 0 || p.OffMin < 0 || p.OffMin > 0 && p.OnMin == 0 || !(p.OnMin+p.OffMin < 1e4):
		return fmt.Errorf("give minutes with the click before minutes without, such as 3 on and 1 off")
	case p.CountIn < 0 || p.CountIn > 64:
		return fmt.Errorf("a count-in of %d clicks is not 0 to 64", p.CountIn)
	case p.Accent != "" && p.Accent != "left" && p.Accent != "right" && p.Accent != "both":
		return fmt.Errorf("the accent %q is none of left, right, both", p.Accent)
	case p.Sound != "" && p.Sound != Plain && p.Sound != Wood && p.Sound != Rhythm:
		return fmt.Errorf("the sound %q is none of %s, %s, %s", p.Sound, Plain, Wood, Rhythm)
	case p.SampleRateHz != 0 && (p.SampleRateHz < 8000 || p.SampleRateHz > 96000):
		return fmt.Errorf("%d samples a second are not 8000 to 96000", p.SampleRateHz)
	}
	return nil
}

func (p Pattern) rate() int {
	if p.SampleRateHz == 0 {
		return 44100
	}
	return p.SampleRateHz
}

// Step is one click.
type Step struct {
	Sample int64 // from the beginning of the track
	Left   bool
	Count  bool // of the count-in
	Heard  bool
}

// Steps lists every click of the pattern; the first of the track is a left one.
// At a constant rate click n lies at the sample nearest to n·60·rate/PerMin,
// worked out in whole numbers. In a ramp the number of steps after t seconds is
// (r0·t + (r1−r0)·t²/2T)/60, and click n lies where that is n.
func (p Pattern) Steps() ([]Step, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	fs := float64(p.rate())
	var out []Step
	for n := range p.CountIn {
		out = append(out, Step{Sample: p.at(int64(n)), Left: (p.CountIn-n)%2 == 0, Count: true, Heard: true})
	}
	start := p.at(int64(p.CountIn))
	seconds := p.Minutes * 60
	end := p.EndPerMin
	if end == 0 {
		end = p.PerMin
	}
	for n := int64(0); ; n++ {
		at := p.at(n)
		if end != p.PerMin {
			// a·t² + b·t = n, t ≥ 0.
			a, b := (end-p.PerMin)/(2*seconds)/60, p.PerMin/60
			d := b*b + 4*a*float64(n)
			if d < 0 {
				break
			}
			at = int64(math.Round(2 * float64(n) / (b + math.Sqrt(d)) * fs))
		}
		if float64(at) >= seconds*fs-0.5 {
			break
		}
		s := Step{Sample: start + at, Left: n%2 == 0, Heard: true}
		if cycle := (p.OnMin + p.OffMin) * 60 * fs; p.OffMin > 0 {
			s.Heard = math.Mod(float64(at), cycle) < p.OnMin*60*fs
		}
		out = append(out, s)
	}
	return out, nil
}

// at is the sample of click n at the first rate, in whole numbers.
func (p Pattern) at(n int64) int64 {
	r := new(big.Rat).SetFloat64(p.PerMin)
	q := new(big.Rat).SetInt64(n * 60 * int64(p.rate()))
	q.Quo(q, r)
	q.Add(q, big.NewRat(1, 2))
	return new(big.Int).Div(q.Num(), q.Denom()).Int64()
}

// Samples is how many samples the whole track has, its count-in included.
func (p Pattern) Samples() int64 {
	return p.at(int64(p.CountIn)) + int64(math.Round(p.Minutes*60*float64(p.rate())))
}

// Write writes the track as WAV. It streams: an hour needs no more memory than a
// minute.
func Write(w io.Writer, p Pattern) error {
	steps, err := p.Steps()
	if err != nil {
		return err
	}
	fs, total := p.rate(), p.Samples()
	if total*2 > math.MaxUint32-64 {
		return fmt.Errorf("the track would be larger than a WAV file can be: take fewer minutes")
	}
	b := bufio.NewWriterSize(w, 1<<16)
	data := uint32(total * 2)
	for _, v := range []any{[]byte("RIFF"), 36 + data, []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1), uint32(fs), uint32(2 * fs), uint16(2), uint16(16), []byte("data"), data} {
		if err := binary.Write(b, binary.LittleEndian, v); err != nil {
			return err
		}
	}
	m := newMixer(p)
	next := 0
	var silence [1 << 12]byte
	for i := int64(0); i < total; i++ {
		for next < len(steps) && steps[next].Sample == i {
			m.step(steps[next], next)
			next++
		}
		if len(m.playing) == 0 { // nothing until the next step
			until := total
			if next < len(steps) {
				until = min(total, steps[next].Sample)
			}
			for n := 2 * (until - i); n > 0; {
				k := min(n, int64(len(silence)))
				b.Write(silence[:k])
				n -= k
			}
			i = until - 1
			continue
		}
		v := int16(math.Round(32767 * math.Tanh(m.sample())))
		b.WriteByte(byte(v))
		b.WriteByte(byte(v >> 8))
	}
	return b.Flush()
}
