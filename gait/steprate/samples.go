package steprate

import (
	"fmt"
	"math"
	"time"
)

// Sample is one record of a run file; NaN where the file has nothing.
type Sample struct {
	TimeS        float64 // since the run's start
	SpeedMPS     float64
	PerMin       float64 // steps a minute, both feet
	DistanceM    float64 // since the run's start
	AltitudeM    float64
	ContactS     float64 // ground contact time
	OscillationM float64 // vertical oscillation
}

// Run is one run as a watch recorded it.
type Run struct {
	Start   time.Time
	Samples []Sample
	// Notes say what was corrected or left out.
	Notes []string
}

// Bounds of what is taken for running.
const (
	slowestMPS  = 1.6
	fastestMPS  = 9
	slowestStep = 120
	fastestStep = 260
	// Between these no runner of a slow or middling pace steps (own reading): what
	// lies outside over half a file is one foot counted, or each step twice.
	leastUsual = 112
	mostUsual  = 224
	gapS       = 10 // a longer gap between samples ends a segment
)

// Clock rules.
const (
	stutterS = 60       // a clock that goes back by less has stuttered
	joinS    = 60       // break put where the clock jumped
	leapS    = 6 * 3600 // a longer gap is a clock set anew
)

// Settle brings a run's samples into order and corrects what watches do: a clock
// that was set anew is joined, records that repeat are dropped, steps of one foot
// are doubled, steps counted twice are halved, zeros at stops and values that no
// runner has are taken out, speed is worked out from distance where it is missing.
// Each correction is said in Notes. Nothing is invented: where neither can be told
// the samples stay without.
func (r *Run) Settle() {
	if len(r.Samples) == 0 {
		return
	}
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	r.settleClock(note)
	r.speedFromDistance(note)
	r.settleFeet(note)
	odd, fast, zeros := 0, 0, 0
	for i := range r.Samples {
		s := &r.Samples[i]
		switch {
		case s.PerMin == 0:
			s.PerMin = math.NaN()
			zeros++
		case s.PerMin > fastestStep+40 || s.PerMin < 0:
			s.PerMin = math.NaN()
			odd++
		}
		if s.SpeedMPS > fastestMPS || s.SpeedMPS < 0 {
			s.SpeedMPS = math.NaN()
			fast++
		}
		if s.ContactS < 0.08 || s.ContactS > 0.6 {
			s.ContactS = math.NaN()
		}
		if s.OscillationM < 0.01 || s.OscillationM > 0.25 {
			s.OscillationM = math.NaN()
		}
	}
	if zeros > 0 {
		note("records with no steps, as at stops, left out of the step rate: %d", zeros)
	}
	if odd > 0 {
		note("step rates that no runner takes, left out: %d", odd)
	}
	if fast > 0 {
		note("speeds above %.0f m/s, left out: %d", float64(fastestMPS), fast)
	}
}

// settleClock makes the times rise. Where the clock was set anew the parts are
// joined with a break of a minute, dated by the longest of them.
func (r *Run) settleClock(note func(string, ...any)) {
	kept := r.Samples[:0]
	last := math.Inf(-1)
	offset, back, jumps, worst := 0.0, 0, 0, 0.0
	part, longest, keepOffset := 0, 0, 0.0
	for _, s := range r.Samples {
		t := s.TimeS + offset
		d := t - last
		switch {
		case math.IsNaN(t) || math.IsInf(t, 0), d <= 0 && d > -stutterS:
			back++
			continue
		case len(kept) > 0 && (d <= -stutterS || d > leapS):
			jumps++
			if math.Abs(d) > math.Abs(worst) {
				worst = d
			}
			offset += joinS - d
			t = last + joinS
			part = 0
		}
		if part++; part > longest {
			longest, keepOffset = part, offset
		}
		s.TimeS, last = t, t
		kept = append(kept, s)
	}
	r.Samples = kept
	if keepOffset != 0 {
		r.Start = r.Start.Add(-time.Duration(keepOffset * float64(time.Second)))
	}
	if back > 0 {
		note("records whose clock stood still or went back, left out: %d", back)
	}
	if jumps > 0 {
		way := "went back"
		if worst > 0 {
			way = "jumped ahead"
		}
		note("the clock %s by %s (jumps in all: %d): the parts were joined with a break of a minute and dated by the longest", way, spanText(math.Abs(worst)), jumps)
	}
}

// spanText writes a time as a person says it.
func spanText(seconds float64) string {
	switch {
	case seconds < 120:
		return fmt.Sprintf("%.0f s", seconds)
	case seconds < 2*3600:
		return fmt.Sprintf("%.0f min", seconds/60)
	case seconds < 72*3600:
		return fmt.Sprintf("%.1f h", seconds/3600)
	}
	return fmt.Sprintf("%.0f days", seconds/86400)
}

// settleFeet doubles or halves what does not count both feet once.
func (r *Run) settleFeet(note func(string, ...any)) {
	// The median by counting: rates lie within 0 to 1000 a minute.
	var seen [1001]int32
	n, speeds, rates := 0, 0, 0
	add := func(v float64) {
		if v > 0 && v <= 1000 {
			seen[int(v)]++
			n++
		}
	}
	for _, s := range r.Samples {
		if s.SpeedMPS >= 0 {
			speeds++
		}
		if s.PerMin > 0 {
			rates++
		}
		if s.SpeedMPS >= slowestMPS {
			add(s.PerMin)
		}
	}
	if n == 0 { // without speed judge by the steps alone
		for _, s := range r.Samples {
			if s.PerMin > 40 {
				add(s.PerMin)
			}
		}
	}
	if speeds == 0 {
		note("the file has no speed: its steps cannot be compared at equal speed")
	}
	if rates == 0 {
		note("the file has no step rate")
	}
	if n == 0 {
		return
	}
	m, upTo := 0.0, int32(0)
	for v, k := range seen {
		if upTo += k; 2*int(upTo) >= n {
			m = float64(v)
			break
		}
	}
	factor := 1.0
	switch {
	case m < leastUsual && 2*m >= slowestStep:
		factor = 2
		note("the file counts one foot (%.0f a minute): its steps were doubled", m)
	case m > mostUsual && m/2 >= slowestStep-8:
		factor = 0.5
		note("the file counts each step twice (%.0f a minute): its steps were halved", m)
	case m < slowestStep:
		note("%.0f steps a minute are of walking: left out", m)
	}
	if factor != 1 {
		for i := range r.Samples {
			r.Samples[i].PerMin *= factor
		}
	}
}

// speedFromDistance fills missing speeds from the distance over ten seconds.
func (r *Run) speedFromDistance(note func(string, ...any)) {
	missing := 0
	for _, s := range r.Samples {
		if math.IsNaN(s.SpeedMPS) {
			missing++
		}
	}
	if 2*missing < len(r.Samples) {
		return
	}
	filled := 0
	j := 0
	for i := range r.Samples {
		for j < i && r.Samples[i].TimeS-r.Samples[j+1].TimeS >= 10 {
			j++
		}
		a, b := r.Samples[j], r.Samples[i]
		if dt := b.TimeS - a.TimeS; math.IsNaN(b.SpeedMPS) && dt >= 5 && dt < 60 && !math.IsNaN(b.DistanceM-a.DistanceM) && b.DistanceM >= a.DistanceM {
			r.Samples[i].SpeedMPS = (b.DistanceM - a.DistanceM) / dt
			filled++
		}
	}
	if filled > 0 {
		note("speed was worked out from distance")
	}
}
