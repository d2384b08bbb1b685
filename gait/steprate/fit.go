package steprate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Fit is the line of step rate on speed.
type Fit struct {
	AtSpeedMPS     float64 // the speed at which Rate is given
	Rate           float64 // steps a minute at that speed
	SE             float64 // standard error of it
	Slope, SlopeSE float64 // steps a minute for 1 m/s
	N              int     // segments; 0 for a rate that was counted or filmed
	Runs           int
	SD             float64 // of runs about the line
	DF             float64 // degrees of freedom of SE
	Low, High      float64 // speeds seen
}

// What is taken of every runner before the runs speak (own estimates): runs of one
// runner differ by 2 steps a minute at equal speed, known as well as from four
// runs; the rise with speed is Burns' 5.6 for 1 m/s, give or take 5.
const (
	usualRunSD   = 2.0
	usualRunDF   = 3
	usualSlopeSD = 5
)

// known is what is known beforehand.
type known struct{ slope, slopeSE, sd, df float64 }

var usual = known{burnsPerMPS, usualSlopeSD, usualRunSD, usualRunDF}

// At returns the step rate at a speed, with its standard error.
func (f Fit) At(speedMPS float64) (rate, se float64) {
	d := speedMPS - f.AtSpeedMPS
	return f.Rate + f.Slope*d, math.Hypot(f.SE, f.SlopeSE*d)
}

// Interval is the 95 % interval of the step rate at a speed.
func (f Fit) Interval(speedMPS float64) (rate, low, high float64) {
	rate, se := f.At(speedMPS)
	h := quantile975(f.DF) * se
	return rate, rate - h, rate + h
}

func quantile975(df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(1, df)}.Quantile(0.975)
}

// FitOf is the line through a rate that was counted or filmed at one speed. It is
// of one moment, so the spread from run to run comes on top of its error.
func FitOf(r Rate) (Fit, error) {
	if !(r.PerMin > 0 && r.SpeedMPS > 0) {
		return Fit{}, fmt.Errorf("the step rate has no speed, so it cannot be compared at equal speed")
	}
	return Fit{AtSpeedMPS: r.SpeedMPS, Rate: r.PerMin, SE: math.Hypot(r.SEM, usualRunSD), Slope: burnsPerMPS, SlopeSE: usualSlopeSD,
		SD: usualRunSD, DF: usualRunDF, Low: r.SpeedMPS, High: r.SpeedMPS}, nil
}

// FitRate fits step rate on speed. Runs count as runs: what differs from one to
// the next goes into the error, however long they are.
func FitRate(segments []Segment) (Fit, error) { return fitRate(segments, usual) }

// Like fits the segments with the line's own rise with speed, and the spread of
// its runs, as what is known beforehand.
func (f Fit) Like(segments []Segment) (Fit, error) {
	return fitRate(segments, known{f.Slope, f.SlopeSE, f.SD, f.DF})
}

// sums of segments, weighted by time.
type sums struct{ w, x, y, xx, xy float64 }

func (s *sums) add(w, x, y float64) {
	s.w += w
	s.x += w * x
	s.y += w * y
	s.xx += w * x * x
	s.xy += w * x * y
}

func fitRate(segments []Segment, k known) (Fit, error) {
	var all sums
	n := 0
	low, high := math.Inf(1), math.Inf(-1)
	byRun := map[int]*sums{}
	var order []int
	for _, s := range segments {
		if !(s.Seconds > 0 && s.SpeedMPS > 0 && s.PerMin > 0) {
			continue
		}
		n++
		low, high = min(low, s.SpeedMPS), max(high, s.SpeedMPS)
		all.add(s.Seconds, s.SpeedMPS, s.PerMin)
		if byRun[s.Run] == nil {
			byRun[s.Run] = &sums{}
			order = append(order, s.Run)
		}
		byRun[s.Run].add(s.Seconds, s.SpeedMPS, s.PerMin)
	}
	if n == 0 {
		return Fit{}, fmt.Errorf("there is no steady running with both speed and step rate")
	}
	mx, my := all.x/all.w, all.y/all.w
	f := Fit{AtSpeedMPS: mx, N: n, Runs: len(order), Low: low, High: high, Slope: k.slope, SlopeSE: k.slopeSE}
	// The rise with speed: what the segments say, joined with what was known by
	// their errors.
	sxx, sxy := all.xx/all.w-mx*mx, all.xy/all.w-mx*my
	if n >= 5 && sxx > 0.05*0.05 {
		own := sxy / sxx
		ss := 0.0
		for _, s := range segments {
			if s.Seconds > 0 && s.SpeedMPS > 0 && s.PerMin > 0 {
				e := s.PerMin - my - own*(s.SpeedMPS-mx)
				ss += s.Seconds / all.w * e * e
			}
		}
		// Segments of one run are alike: two of each count.
		eff := float64(n)
		if len(order) > 1 {
			eff = math.Min(eff, 2*float64(len(order)))
		}
		sd := math.Sqrt((ss*float64(n) + usualRunDF*usualRunSD*usualRunSD) / (float64(n-2) + usualRunDF))
		ownSE := sd / math.Sqrt(eff*sxx)
		a, b := 1/(ownSE*ownSE), 1/(k.slopeSE*k.slopeSE)
		f.Slope, f.SlopeSE = (a*own+b*k.slope)/(a+b), 1/math.Sqrt(a+b)
	}
	// The height: the mean of the runs, each brought to the common speed. A run of
	// ten minutes is known about as well as runs differ.
	sw, sz := 0.0, 0.0
	sww := 0.0
	z := make([]float64, len(order))
	w := make([]float64, len(order))
	for i, run := range order {
		s := byRun[run]
		z[i] = s.y/s.w - f.Slope*(s.x/s.w-mx)
		w[i] = s.w / (s.w + 600)
		sw += w[i]
		sz += w[i] * z[i]
		sww += w[i] * w[i]
	}
	f.Rate = sz / sw
	ss := 0.0
	for i := range z {
		ss += w[i] / sw * float64(len(z)) * (z[i] - f.Rate) * (z[i] - f.Rate)
	}
	f.DF = float64(len(order)-1) + k.df
	f.SD = math.Sqrt((ss + k.df*k.sd*k.sd) / f.DF)
	f.SE = f.SD * math.Sqrt(sww) / sw
	return f, nil
}

// Verdict is what a week or a visit shows against the one before.
type Verdict string

// The verdicts.
const (
	Quicker    Verdict = "quicker steps"
	JustFaster Verdict = "just faster"
	Slower     Verdict = "slower steps"
	NoChange   Verdict = "no real change"
	CannotTell Verdict = "cannot tell"
	NotRun     Verdict = "not run"
)

// Comparison is a change of step rate at equal speed.
type Comparison struct {
	Verdict Verdict
	// SpeedMPS is that at which the two are compared; Change the difference in
	// steps a minute there, Low and High its 95 % interval.
	SpeedMPS, Change, Low, High float64
	// RawChange is the difference of the plain means, SpeedChange that of the
	// speeds.
	RawChange, SpeedChange float64
	Text                   string
}

// Compare holds the steps of now against those before at equal speed.
func Compare(before, now []Segment) Comparison {
	if len(now) == 0 {
		return Comparison{Verdict: NotRun, Text: "No steady running came back."}
	}
	a, err := FitRate(before)
	if err != nil {
		return cannotCompare
	}
	b, err := a.Like(now)
	if err != nil {
		return cannotCompare
	}
	return a.Compare(b)
}

var cannotCompare = Comparison{Verdict: CannotTell, Text: "Speed or step rate is missing, so steps cannot be compared at equal speed."}

// Compare holds a line of now against one before, at the speed of now as far as
// before reaches.
func (f Fit) Compare(now Fit) Comparison {
	v := math.Min(math.Max(now.AtSpeedMPS, f.Low), f.High)
	if now.DF > f.DF && f.SD > 0 {
		// What now has seen of the spread from run to run holds for before too.
		f.SE *= now.SD / f.SD
	}
	ra, sa := f.At(v)
	rb, sb := now.At(v)
	c := Comparison{SpeedMPS: v, Change: rb - ra, RawChange: now.Rate - f.Rate, SpeedChange: now.AtSpeedMPS - f.AtSpeedMPS}
	se := math.Hypot(sa, sb)
	h := quantile975(math.Max(f.DF, now.DF)) * se
	c.Low, c.High = c.Change-h, c.Change+h
	c.settle()
	return c
}

// WeekVerdict is how a week went against what was asked.
type WeekVerdict string

// The verdicts of a week.
const (
	WeekReached  WeekVerdict = "reached"
	WeekAlmost   WeekVerdict = "cannot tell apart" // asked for lies within the error
	WeekShort    WeekVerdict = "not reached"
	WeekFaster   WeekVerdict = "just faster"
	WeekMissed   WeekVerdict = "missed"
	WeekUnknown  WeekVerdict = "cannot tell"
	WeekNotYet   WeekVerdict = "to come"
	WeekUnderway WeekVerdict = "under way" // and nothing came back yet
)

// WeekOf is the runs of a week against what its ramp asked for.
type WeekOf struct {
	Verdict WeekVerdict
	Runs    int // with steady running
	// Taken is the step rate at SpeedMPS, Low and High its 95 % interval; Asked
	// what was asked for there.
	SpeedMPS, Taken, Low, High, Asked float64
	// RanMPS is the mean speed of the steady parts, RanPerMin their plain mean.
	RanMPS, RanPerMin float64
	Share             float64 // of the steady time at what was asked, or within two steps of it
	Against           Comparison
	Text              string
}

// AskedAt is the step rate that a week asks for at a speed: between its paces in a
// line, beyond them with the rise of slope.
func AskedAt(at []AtPace, speedMPS, slope float64) float64 {
	at = slices.DeleteFunc(slices.Clone(at), func(a AtPace) bool { return !(a.SpeedMPS > 0) })
	if len(at) == 0 {
		return math.NaN()
	}
	slices.SortFunc(at, func(a, b AtPace) int {
		if a.SpeedMPS < b.SpeedMPS {
			return -1
		}
		return 1
	})
	if last := at[len(at)-1]; speedMPS >= last.SpeedMPS {
		return last.PerMin + slope*(speedMPS-last.SpeedMPS)
	}
	for i := 1; i < len(at); i++ {
		if a, b := at[i-1], at[i]; speedMPS >= a.SpeedMPS && speedMPS < b.SpeedMPS {
			return a.PerMin + (b.PerMin-a.PerMin)*(speedMPS-a.SpeedMPS)/(b.SpeedMPS-a.SpeedMPS)
		}
	}
	return at[0].PerMin + slope*(speedMPS-at[0].SpeedMPS)
}

// sharedWithin is how far below what is asked still counts, steps a minute.
const sharedWithin = 2

// Judge holds the runs of a week against what was asked at its paces, base being
// the line from before the ramp.
func Judge(base Fit, asked []AtPace, week []Segment) WeekOf {
	var out WeekOf
	if len(week) == 0 {
		out.Verdict, out.Text = WeekUnknown, "No steady part with speed and step rate was found in the runs, so nothing can be said of the steps."
		return out
	}
	now, err := base.Like(week)
	if err != nil {
		out.Verdict, out.Text = WeekUnknown, "Speed or step rate is missing, so steps cannot be compared at equal speed."
		return out
	}
	out.Runs = now.Runs
	total, on := 0.0, 0.0
	for _, s := range week {
		if !(s.Seconds > 0 && s.SpeedMPS > 0 && s.PerMin > 0) {
			continue
		}
		total += s.Seconds
		out.RanMPS += s.Seconds * s.SpeedMPS
		out.RanPerMin += s.Seconds * s.PerMin
		if s.PerMin >= AskedAt(asked, s.SpeedMPS, base.Slope)-sharedWithin {
			on += s.Seconds
		}
	}
	out.RanMPS, out.RanPerMin, out.Share = out.RanMPS/total, out.RanPerMin/total, on/total
	out.Against = base.Compare(now)
	// At the easy pace, and where that was not run at the speed that was.
	out.SpeedMPS = asked[0].SpeedMPS
	if !(out.SpeedMPS >= now.Low-0.6 && out.SpeedMPS <= now.High+0.6) {
		out.SpeedMPS = now.AtSpeedMPS
	}
	out.Taken, out.Low, out.High = now.Interval(out.SpeedMPS)
	out.Asked = AskedAt(asked, out.SpeedMPS, base.Slope)
	was, _ := base.At(out.SpeedMPS)
	above := now.AtSpeedMPS - out.SpeedMPS
	if out.SpeedMPS == now.AtSpeedMPS {
		above = now.AtSpeedMPS - asked[0].SpeedMPS
	}
	figures := fmt.Sprintf("%.1f steps a minute (%.1f to %.1f) at %.2f m/s, %.1f asked", out.Taken, out.Low, out.High, out.SpeedMPS, out.Asked)
	quicker := out.Against.RawChange > 0.5
	switch {
	case out.Taken >= out.Asked-0.5 || out.Low >= out.Asked-1:
		out.Verdict, out.Text = WeekReached, "Reached: "+figures+"."
		if out.Asked-was < (out.High-out.Low)/2 {
			out.Text += " What is asked is still within the error of the baseline; the weeks to come will show."
		}
	case above > speedsDiffer && quicker && out.Taken-was < (out.Asked-was)/2:
		out.Verdict = WeekFaster
		out.Text = fmt.Sprintf("Just faster, not quicker steps: the runs were %.2f m/s faster than the pace, and the %.1f steps a minute come with that. At %.2f m/s it is %.1f (%.1f to %.1f), where %.1f was usual before and %.1f was asked.", above, out.RanPerMin, out.SpeedMPS, out.Taken, out.Low, out.High, was, out.Asked)
	case out.High < out.Asked-0.5 || out.Taken < was+(out.Asked-was)/2 && out.Asked-was >= 2:
		out.Verdict, out.Text = WeekShort, "Not reached: "+figures+"."
	default:
		out.Verdict, out.Text = WeekAlmost, "Cannot be told apart from what was asked: "+figures+"."
	}
	return out
}
