package event

import (
	"math"
	"slices"

	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// Observation is a testimony about a moment whose true time is known.
type Observation struct {
	Testimony
	Runner string // who ran; left out together when the method is tried on a stranger
	Trial  string // which file
	TruthS float64
}

// Testify asks the witnesses of moment m about every stride of t, which is in
// runner space, mended but not smoothed.
func Testify(t *track.Track, m Moment) []Testimony {
	l := newLimbs(t, nil)
	if l == nil {
		return nil
	}
	var out []Testimony
	for _, g := range l.legs {
		if g != nil {
			out = append(out, g.hear(m, g.cycles())...)
		}
	}
	return out
}

// cutS is the largest deviation of one contact from its trial's median that
// enters a covariance: a witness that took the wrong crest is an outlier, and not
// heard by the judge either.
const cutS = 0.03

// paceRidge is added to the variance of pace, in squared leg lengths a second,
// when lateness is regressed on it: few trials at three speeds must not bend the
// line to themselves.
const paceRidge = 0.04

// Learn makes the table of moment m from observations, every trial counting
// equally; where paced is set, lateness may change with pace. The method is linear
// throughout: per trial the median error of each witness, a line of these on pace,
// and covariances of what is left.
func Learn(m Moment, obs []Observation, paced bool) Table {
	k := len(witnesses[m])
	tb := Table{Of: m, BiasS: make([]float64, k), SlopeS: make([]float64, k),
		Between: make([]float64, k*k), Within: make([]float64, k*k)}
	trials := byTrial(obs)
	if len(trials) == 0 {
		return tb
	}
	means := make([][]float64, len(trials)) // median error by trial and witness
	pace := make([]float64, len(trials))
	for r, tr := range trials {
		means[r] = make([]float64, k)
		for w := range k {
			var e []float64
			for _, o := range tr {
				e = append(e, o.TimesS[w]-o.TruthS)
			}
			means[r][w] = signal.Median(e)
		}
		var p []float64
		for _, o := range tr {
			p = append(p, o.Pace)
		}
		pace[r] = signal.Median(p)
	}
	if tb.PaceMean, _, _ = signal.MeanSD(pace); math.IsNaN(tb.PaceMean) {
		tb.PaceMean = 0
	}
	left := make([][]float64, len(trials))
	for r := range left {
		left[r] = make([]float64, k)
	}
	for w := range k {
		var e []float64
		for r := range trials {
			e = append(e, means[r][w])
		}
		tb.BiasS[w], _, _ = signal.MeanSD(e)
		var sxy, sxx, n float64
		for r := range trials {
			if d := pace[r] - tb.PaceMean; !math.IsNaN(d + e[r]) {
				sxy += d * (e[r] - tb.BiasS[w])
				sxx += d * d
				n++
			}
		}
		if n > 0 && paced {
			tb.SlopeS[w] = sxy / (sxx + n*paceRidge)
		}
		for r := range trials {
			left[r][w] = e[r] - tb.BiasS[w]
			if d := pace[r] - tb.PaceMean; !math.IsNaN(d) {
				left[r][w] -= tb.SlopeS[w] * d
			}
		}
	}
	for p := range k {
		for q := range k {
			var between, within, nb, nw float64
			for r, tr := range trials {
				if v := left[r][p] * left[r][q]; !math.IsNaN(v) {
					between += v
					nb++
				}
				sum, n := 0.0, 0.0
				for _, o := range tr {
					a := clamp(o.TimesS[p]-o.TruthS-means[r][p], cutS)
					b := clamp(o.TimesS[q]-o.TruthS-means[r][q], cutS)
					if !math.IsNaN(a * b) {
						sum += a * b
						n++
					}
				}
				if n > 0 {
					within += sum / n
					nw++
				}
			}
			tb.Between[p*k+q], tb.Within[p*k+q] = between/max(nb, 1), within/max(nw, 1)
		}
	}
	for w, b := range tb.BiasS {
		if math.IsNaN(b) {
			tb.mute(w)
		}
	}
	return tb
}

func clamp(v, limit float64) float64 { return max(-limit, min(limit, v)) }

func byTrial(obs []Observation) [][]Observation {
	var names []string
	groups := map[string][]Observation{}
	for _, o := range obs {
		if groups[o.Trial] == nil {
			names = append(names, o.Trial)
		}
		groups[o.Trial] = append(groups[o.Trial], o)
	}
	slices.Sort(names)
	out := make([][]Observation, len(names))
	for i, n := range names {
		out[i] = groups[n]
	}
	return out
}

// Judge agrees on times for testimonies of one leg in one clip, in order, by the
// table; NaN where no witness spoke.
func (tb *Table) Judge(ts []Testimony) []float64 {
	out := make([]float64, len(ts))
	for i, v := range tb.judge(ts) {
		out[i] = v.timeS
	}
	return out
}

// Trial is how well a method did in one trial.
type Trial struct {
	Name   string
	BiasS  float64 // mean error
	SDS    float64 // standard deviation of the error
	N      int
	Errors []float64 // seconds, contact by contact
}

// RunnerSD is the root mean square of the trials' mean errors, seconds.
func RunnerSD(trials []Trial) float64 {
	sum := 0.0
	for _, t := range trials {
		sum += t.BiasS * t.BiasS
	}
	return math.Sqrt(sum / float64(len(trials)))
}

// LeaveOneOut judges every runner's contacts by a table learned from the others.
func LeaveOneOut(m Moment, obs []Observation, paced bool) []Trial {
	tables := map[string]Table{}
	for _, o := range obs {
		if _, ok := tables[o.Runner]; !ok {
			tables[o.Runner] = Learn(m, slices.DeleteFunc(slices.Clone(obs), func(p Observation) bool { return p.Runner == o.Runner }), paced)
		}
	}
	var out []Trial
	for _, tr := range byTrial(obs) {
		tb := tables[tr[0].Runner]
		out = append(out, tb.try(tr))
	}
	return out
}

// try judges one trial's observations, leg by leg.
func (tb *Table) try(tr []Observation) Trial {
	res := Trial{Name: tr[0].Trial}
	for _, side := range [2]uint8{1, 2} {
		var ts []Testimony
		var truth []float64
		for _, o := range tr {
			if uint8(o.Side) == side {
				ts = append(ts, o.Testimony)
				truth = append(truth, o.TruthS)
			}
		}
		for i, v := range tb.Judge(ts) {
			res.Errors = append(res.Errors, v-truth[i])
		}
	}
	res.BiasS, res.SDS, res.N = signal.MeanSD(res.Errors)
	return res
}

// Try judges every trial by the table itself.
func (tb *Table) Try(obs []Observation) []Trial {
	var out []Trial
	for _, tr := range byTrial(obs) {
		out = append(out, tb.try(tr))
	}
	return out
}

// Transfer carries a table learned on one kind of landmark to another kind, such
// as from markers to the landmarks of a pose model, by the runs of runners who
// have both. For every such run and leg, a witness's error is compared with its
// error for the same runner at the nearest pace in base. Of the mean difference
// n/(n+1) is added to the lateness, n being the number of runners: with one or two
// of them it may be theirs alone. The rest, and the spread of the differences, go
// to the covariance between runners; the covariance within a clip is that of obs.
func Transfer(m Moment, tb Table, base, obs []Observation) Table {
	k := len(tb.BiasS)
	fresh := Learn(m, obs, false)
	out := Table{Of: tb.Of, BiasS: slices.Clone(tb.BiasS), SlopeS: tb.SlopeS, PaceMean: tb.PaceMean,
		Between: slices.Clone(tb.Between), Within: fresh.Within}
	var diffs [][]float64
	for _, tr := range byTrial(obs) {
		for side := range 3 {
			own := slices.DeleteFunc(slices.Clone(tr), func(o Observation) bool { return int(o.Side) != side })
			if len(own) == 0 {
				continue
			}
			twin := nearestPace(base, own)
			if twin == nil {
				continue
			}
			d := make([]float64, k)
			for w := range k {
				d[w] = medianError(own, w) - medianError(twin, w)
			}
			diffs = append(diffs, d)
		}
	}
	runners := map[string]bool{}
	for _, o := range obs {
		runners[o.Runner] = true
	}
	believed := float64(len(runners)) / float64(len(runners)+1)
	mean := make([]float64, k)
	for w := range k {
		var v []float64
		for _, d := range diffs {
			v = append(v, d[w])
		}
		mean[w], _, _ = signal.MeanSD(v)
		if math.IsNaN(mean[w]) {
			mean[w] = 0
			out.mute(w)
			continue
		}
		if tb.muted(w) {
			mean[w] = 0
			continue
		}
		mean[w] *= believed
		out.BiasS[w] += mean[w]
	}
	for w := range k {
		sum, n := 0.0, 0.0
		for _, d := range diffs {
			if v := d[w] - mean[w]; !math.IsNaN(v) {
				sum += v * v
				n++
			}
		}
		if n > 0 && !out.muted(w) {
			out.Between[w*k+w] += sum / n
		}
	}
	return out
}

func medianError(obs []Observation, w int) float64 {
	e := make([]float64, len(obs))
	for i, o := range obs {
		e[i] = o.TimesS[w] - o.TruthS
	}
	return signal.Median(e)
}

// nearestPace returns those of base with the runner and side of own whose trial
// has the pace nearest to own's; nil where that runner is not in base.
func nearestPace(base, own []Observation) []Observation {
	pace := func(obs []Observation) float64 {
		p := make([]float64, len(obs))
		for i, o := range obs {
			p[i] = o.Pace
		}
		return signal.Median(p)
	}
	want := pace(own)
	var best []Observation
	least := math.Inf(1)
	for _, tr := range byTrial(base) {
		if tr[0].Runner != own[0].Runner {
			continue
		}
		leg := slices.DeleteFunc(slices.Clone(tr), func(o Observation) bool { return o.Side != own[0].Side })
		if d := math.Abs(pace(leg) - want); d < least {
			best, least = leg, d
		}
	}
	return best
}
