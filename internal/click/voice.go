package click

import "math"

// A voice is a short sound, worked out once and then laid over the track.
type voice []float64

// mixer lays voices over each other.
type mixer struct {
	fs      float64
	accent  string
	sound   Sound
	low     voice // of an accented step
	high    voice
	count   voice
	drum    voice
	hat     voice
	bass    []voice
	pluck   [][3]voice // three notes to each of the bass
	playing []playing
}

type playing struct {
	v  voice
	at int
}

func newMixer(p Pattern) *mixer {
	m := &mixer{fs: float64(p.rate()), accent: p.Accent, sound: p.Sound}
	switch p.Sound {
	case Wood:
		m.low, m.high, m.count = m.tone(620, 0.030, 0.55, true), m.tone(930, 0.026, 0.5, true), m.tone(1240, 0.03, 0.45, true)
	default:
		m.low, m.high, m.count = m.tone(1320, 0.020, 0.6, false), m.tone(1980, 0.018, 0.5, false), m.tone(880, 0.03, 0.5, false)
	}
	if p.Sound == Rhythm {
		m.drum, m.hat = m.kick(), m.noise()
		// A round of four low notes, two steps each: A, C, G, D.
		for _, hz := range []float64{55, 65.41, 49, 73.42} {
			m.bass = append(m.bass, m.note(hz, 2*60/p.PerMin))
			// Octave, fifth and the octave above ring over it.
			m.pluck = append(m.pluck, [3]voice{m.string(4 * hz), m.string(6 * hz), m.string(8 * hz)})
		}
	}
	return m
}

// tone is a short sine with a sharp rise; wood adds a second partial.
func (m *mixer) tone(hz, seconds, level float64, wood bool) voice {
	n := int(seconds * m.fs * 3)
	v := make(voice, n)
	for i := range v {
		t := float64(i) / m.fs
		// The rise is a tenth of a millisecond: heard at once, without a crack.
		env := math.Min(1, t/0.0001) * math.Exp(-t/seconds*2.5)
		s := math.Sin(2*math.Pi*hz*t + math.Pi/2)
		if wood {
			s = 0.7*s + 0.3*math.Sin(2*math.Pi*hz*2.76*t+math.Pi/2)*math.Exp(-t/0.006)
		}
		v[i] = level * env * s
	}
	return v
}

func (m *mixer) kick() voice {
	v := make(voice, int(0.16*m.fs))
	phase := 0.0
	for i := range v {
		t := float64(i) / m.fs
		phase += 2 * math.Pi * (48 + 90*math.Exp(-t/0.02)) / m.fs
		v[i] = 0.5 * math.Exp(-t/0.06) * math.Sin(phase)
	}
	return v
}

// noise is a short hiss from a fixed series, so that the same track is the same
// bytes.
func (m *mixer) noise() voice {
	v := make(voice, int(0.04*m.fs))
	x := uint32(0x2545f491)
	last := 0.0
	for i := range v {
		x ^= x << 13
		x ^= x >> 17
		x ^= x << 5
		s := float64(x)/math.MaxUint32*2 - 1
		v[i] = 0.1 * math.Exp(-float64(i)/m.fs/0.012) * (s - last)
		last = s
	}
	return v
}

func (m *mixer) note(hz, seconds float64) voice {
	v := make(voice, int(seconds*m.fs))
	for i := range v {
		t := float64(i) / m.fs
		env := math.Min(1, t/0.01) * math.Min(1, (seconds-t)/0.02) * math.Exp(-t/0.9)
		v[i] = 0.22 * env * (math.Sin(2*math.Pi*hz*t) + 0.35*math.Sin(4*math.Pi*hz*t) + 0.15*math.Sin(6*math.Pi*hz*t))
	}
	return v
}

// string is a plucked string: a short burst runs round a delay that takes its edge
// off (Karplus & Strong 1983, Computer Music Journal 7(2):43).
func (m *mixer) string(hz float64) voice {
	v := make(voice, int(0.5*m.fs))
	round := max(2, int(math.Round(m.fs/hz-0.5)))
	burst := m.noise()
	for i := range v {
		switch {
		case i < round && i < len(burst):
			v[i] = burst[i]
		case i > round:
			v[i] = 0.498 * (v[i-round] + v[i-round-1])
		}
	}
	for i := range v { // no crack at the end
		v[i] *= 1.1 * math.Min(1, float64(len(v)-i)/(0.05*m.fs))
	}
	return v
}

func (m *mixer) play(v voice) { m.playing = append(m.playing, playing{v, 0}) }

// step begins the sounds of one step.
func (m *mixer) step(s Step, n int) {
	if !s.Heard {
		return
	}
	if s.Count {
		m.play(m.count)
		return
	}
	low := s.Left && (m.accent == "left" || m.accent == "both") || !s.Left && m.accent == "right"
	if low {
		m.play(m.low)
	} else {
		m.play(m.high)
	}
	if m.sound == Rhythm {
		m.play(m.hat)
		m.play(m.pluck[n/2%len(m.pluck)][[...]int{0, 1, 2, 1, 0, 2, 1, 2}[n%8]])
		if s.Left {
			m.play(m.drum)
			m.play(m.bass[n/2%len(m.bass)])
		}
	}
}

// sample is the next sample, about −1 to 1.
func (m *mixer) sample() float64 {
	sum := 0.0
	kept := m.playing[:0]
	for _, p := range m.playing {
		sum += p.v[p.at]
		if p.at++; p.at < len(p.v) {
			kept = append(kept, p)
		}
	}
	m.playing = kept
	return sum
}
