package steprate

import (
	"math"
	"time"
)

// Segment rules.
const (
	leastSegmentS = 60
	mostSegmentS  = 240
	steadyMPS     = 0.3 // how far the speed may leave the segment's mean
	// A steeper segment is a hill (own reading): up to here a metre costs at most a
	// ninth more or less than on the level (Minetti and others 2002, J Appl Physiol
	// 93:1039), which a runner's own paces differ by too.
	steepPercent = 2
	steepLocal   = 3 // and so is where it is steeper over hillS
	hillS        = 60
	settleS      = 60 // left out at the beginning of a run
)

// Parts tells what became of a run's time, seconds.
type Parts struct {
	Steady   float64
	Settling float64 // the first minute
	Stopped  float64 // stops, walking and gaps of the record
	Hills    float64
	Uneven   float64 // the pace changes, or is held for less than a minute
	Unknown  float64 // running without a step rate
}

// Total is the whole time.
func (p Parts) Total() float64 {
	return p.Steady + p.Settling + p.Stopped + p.Hills + p.Uneven + p.Unknown
}

// Steady finds the steady parts of a run: one to four minutes at one speed, level
// where the height is known, without a stop, with steps of a runner.
func (r *Run) Steady(run int) []Segment {
	segments, _ := r.Split(run)
	return segments
}

// Split is Steady, with what became of the time of the run.
func (r *Run) Split(run int) ([]Segment, Parts) {
	var out []Segment
	var p Parts
	s := r.Samples
	if len(s) == 0 {
		return nil, p
	}
	// step is the time that a sample stands for: since the one before.
	step := func(i int) float64 {
		if i == 0 {
			return 0
		}
		return s[i].TimeS - s[i-1].TimeS
	}
	// One pass with a window around the sample for the local slope.
	back, front := 0, 0
	at := -1
	steep := false
	hill := func(i int) bool {
		if i == at {
			return steep
		}
		at = i
		for back < i && s[i].TimeS-s[back].TimeS > hillS/2 {
			back++
		}
		front = max(front, i)
		for front+1 < len(s) && s[front+1].TimeS-s[i].TimeS <= hillS/2 {
			front++
		}
		rise, dt := s[front].AltitudeM-s[back].AltitudeM, s[front].TimeS-s[back].TimeS
		steep = dt >= hillS/2 && math.Abs(rise) > steepLocal/100.0*math.Max(s[i].SpeedMPS, 1)*dt
		return steep
	}
	const (
		good = iota
		stopped
		hilly
		unknown
		settling
	)
	what := func(i int) int {
		switch {
		case s[i].TimeS-s[0].TimeS < settleS:
			return settling
		case math.IsNaN(s[i].SpeedMPS), s[i].SpeedMPS < slowestMPS, step(i) > gapS:
			if math.IsNaN(s[i].SpeedMPS) && step(i) <= gapS && s[i].PerMin >= slowestStep {
				return unknown
			}
			return stopped
		case !(s[i].PerMin >= slowestStep && s[i].PerMin <= fastestStep):
			return unknown
		case hill(i):
			return hilly
		}
		return good
	}
	for i := 0; i < len(s); {
		switch w := what(i); w {
		case settling, stopped, hilly, unknown:
			switch w {
			case settling:
				p.Settling += step(i)
			case stopped:
				p.Stopped += step(i)
			case hilly:
				p.Hills += step(i)
			case unknown:
				p.Unknown += step(i)
			}
			i++
			continue
		}
		// Extend while the speed stays near the mean so far.
		j, n := i, 0
		sumV, sumR := 0.0, 0.0
		for j < len(s) && s[j].TimeS-s[i].TimeS <= mostSegmentS && (j == i || what(j) == good) {
			if n >= 10 && math.Abs(s[j].SpeedMPS-sumV/float64(n)) > steadyMPS {
				break
			}
			sumV += s[j].SpeedMPS
			sumR += s[j].PerMin
			n++
			j++
		}
		d := s[j-1].TimeS - s[i].TimeS
		p.Uneven += step(i)
		if d < leastSegmentS {
			p.Uneven += d
		} else {
			seg := Segment{At: r.Start.Add(time.Duration(s[i].TimeS * float64(time.Second))), Run: run, Seconds: d,
				SpeedMPS: sumV / float64(n), PerMin: sumR / float64(n), GradePercent: math.NaN()}
			if rise := s[j-1].AltitudeM - s[i].AltitudeM; !math.IsNaN(rise) {
				seg.GradePercent = 100 * rise / (seg.SpeedMPS * d)
			}
			if math.Abs(seg.GradePercent) > steepPercent {
				p.Hills += d
			} else {
				p.Steady += d
				out = append(out, seg)
			}
		}
		i = j
	}
	return out, p
}

// Distance returns the length of the run in metres and its time in seconds. What
// the distance leaps, as where the satellites were lost, does not count, nor what
// it drifts at a stop; without distance it is speed over time.
func (r *Run) Distance() (metres, seconds float64) {
	if len(r.Samples) == 0 {
		return 0, 0
	}
	seconds = r.Samples[len(r.Samples)-1].TimeS - r.Samples[0].TimeS
	const drift, leap = 0.3, 12 // m/s
	far, last, lastT, known := 0.0, math.NaN(), 0.0, false
	for _, s := range r.Samples {
		if math.IsNaN(s.DistanceM) {
			continue
		}
		known = true
		if d, dt := s.DistanceM-last, s.TimeS-lastT; d >= drift*dt && d <= leap*dt {
			far += d
		}
		last, lastT = s.DistanceM, s.TimeS
	}
	if known {
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

// Means are what a watch measures beside, over the steady parts; NaN for nothing.
func (r *Run) Means() (contactS, oscillationM float64) {
	var sumC, sumO float64
	nC, nO := 0, 0
	for _, s := range r.Samples {
		if !(s.SpeedMPS >= slowestMPS && s.PerMin >= slowestStep) {
			continue
		}
		if !math.IsNaN(s.ContactS) {
			sumC, nC = sumC+s.ContactS, nC+1
		}
		if !math.IsNaN(s.OscillationM) {
			sumO, nO = sumO+s.OscillationM, nO+1
		}
	}
	mean := func(sum float64, n int) float64 {
		if n == 0 {
			return math.NaN()
		}
		return sum / float64(n)
	}
	return mean(sumC, nC), mean(sumO, nO)
}
