package steprate

import (
	"fmt"
	"math"
	"slices"
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
	gapS        = 10 // a longer gap between samples ends a segment
)

// Settle brings a run's samples into order and corrects what watches do: steps of
// one foot are doubled, steps counted twice are halved, zeros at stops and values
// that no runner has are taken out, speed is worked out from distance where it is
// missing, samples of a clock that jumped back are dropped. Each correction is
// said in Notes. Nothing is invented: where neither can be told the samples stay
// without.
func (r *Run) Settle() {
	n := len(r.Samples)
	if n == 0 {
		return
	}
	note := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	kept := r.Samples[:0]
	last := math.Inf(-1)
	back := 0
	for _, s := range r.Samples {
		if !(s.TimeS > last) {
			back++
			continue
		}
		last = s.TimeS
		kept = append(kept, s)
	}
	r.Samples = kept
	if back > 0 {
		note("%d records whose clock stood still or went back were left out", back)
	}
	r.speedFromDistance(note)
	var running []float64
	for _, s := range r.Samples {
		if s.SpeedMPS >= slowestMPS && s.PerMin > 0 {
			running = append(running, s.PerMin)
		}
	}
	if len(running) == 0 {
		// Without speed judge by the steps alone.
		for _, s := range r.Samples {
			if s.PerMin > 40 {
				running = append(running, s.PerMin)
			}
		}
	}
	if len(running) > 0 {
		slices.Sort(running)
		factor := 1.0
		switch m := running[len(running)/2]; {
		case m < 120 && 2*m >= slowestStep && 2*m <= fastestStep:
			factor = 2
			note("the file counts one foot (%.0f a minute): its steps were doubled", m)
		case m > fastestStep && m/2 >= slowestStep && m/2 <= fastestStep:
			factor = 0.5
			note("the file counts each step twice (%.0f a minute): its steps were halved", m)
		}
		if factor != 1 {
			for i := range r.Samples {
				r.Samples[i].PerMin *= factor
			}
		}
	}
	odd, fast := 0, 0
	for i := range r.Samples {
		s := &r.Samples[i]
		if s.PerMin == 0 {
			s.PerMin = math.NaN()
		}
		if s.PerMin > fastestStep+40 || s.PerMin < 0 {
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
	if odd > 0 {
		note("%d step rates that no runner takes were left out", odd)
	}
	if fast > 0 {
		note("%d speeds above %.0f m/s were left out", fast, float64(fastestMPS))
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

// Distance returns the length of the run in metres and its time in seconds, by the
// last distance, or by speed over time where there is none.
func (r *Run) Distance() (metres, seconds float64) {
	if len(r.Samples) == 0 {
		return 0, 0
	}
	first, last := r.Samples[0], r.Samples[len(r.Samples)-1]
	seconds = last.TimeS - first.TimeS
	far := math.NaN()
	for _, s := range r.Samples {
		if !math.IsNaN(s.DistanceM) && !(s.DistanceM < far) {
			far = s.DistanceM
		}
	}
	if !math.IsNaN(far) {
		if !math.IsNaN(first.DistanceM) {
			far -= first.DistanceM
		}
		return far, seconds
	}
	for i := 1; i < len(r.Samples); i++ {
		dt := r.Samples[i].TimeS - r.Samples[i-1].TimeS
		if v := r.Samples[i].SpeedMPS; dt <= gapS && !math.IsNaN(v) {
			metres += v * dt
		}
	}
	return metres, seconds
}

// Segment rules.
const (
	leastSegmentS = 60
	mostSegmentS  = 240
	steadyMPS     = 0.3 // how far the speed may leave the segment's mean
	steepPercent  = 2   // a steeper segment is a hill
	settleS       = 60  // left out at the beginning of a run
)

// Steady finds the steady parts of a run: one to four minutes at one speed, level
// where the height is known, without a stop, with steps of a runner.
func (r *Run) Steady(run int) []Segment {
	var out []Segment
	s := r.Samples
	ok := func(i int) bool {
		return s[i].SpeedMPS >= slowestMPS && s[i].PerMin >= slowestStep && s[i].PerMin <= fastestStep
	}
	for i := 0; i < len(s); {
		if s[i].TimeS-s[0].TimeS < settleS || !ok(i) {
			i++
			continue
		}
		// Extend while the speed stays near the mean so far.
		j, sumV, n := i, 0.0, 0
		for j < len(s) && ok(j) && s[j].TimeS-s[i].TimeS <= mostSegmentS && (j == i || s[j].TimeS-s[j-1].TimeS <= gapS) {
			if n >= 10 && math.Abs(s[j].SpeedMPS-sumV/float64(n)) > steadyMPS {
				break
			}
			sumV += s[j].SpeedMPS
			n++
			j++
		}
		if d := s[j-1].TimeS - s[i].TimeS; d >= leastSegmentS {
			seg := Segment{At: r.Start.Add(time.Duration(s[i].TimeS * float64(time.Second))), Run: run, Seconds: d, GradePercent: math.NaN()}
			for k := i; k < j; k++ {
				seg.SpeedMPS += s[k].SpeedMPS / float64(n)
				seg.PerMin += s[k].PerMin / float64(n)
			}
			if rise := s[j-1].AltitudeM - s[i].AltitudeM; !math.IsNaN(rise) {
				seg.GradePercent = 100 * rise / (seg.SpeedMPS * d)
			}
			if !(math.Abs(seg.GradePercent) > steepPercent) {
				out = append(out, seg)
			}
		}
		i = max(j, i+1)
	}
	return out
}
