package retest

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"

	"gonum.org/v1/gonum/stat/distuv"
)

// Conditions are what two films must share to be compared.
type Conditions struct {
	View           clip.View
	SpeedMPS       float64 // 0 where not known
	InclinePercent float64
	Shoes          string // empty where not told
	Origin         string // what found the landmarks
	Overground     bool
}

// Seen is what one clip of a visit showed.
type Seen struct {
	Conditions Conditions
	Measures   []measure.Measure
}

// Tolerances of what counts as the same.
const (
	SpeedToleranceMPS       = 0.1
	InclineTolerancePercent = 0.5
)

// Norm is the mean and SD of a measure among runners, for the return to the mean.
type Norm struct{ Mean, SD float64 }

// Verdict is what can be said of a change.
type Verdict string

// The verdicts.
const (
	Changed    Verdict = "changed"
	NoChange   Verdict = "no real change"
	CannotTell Verdict = "cannot tell"
)

// Change is one measure at two visits.
type Change struct {
	Name          string
	Side          body.Side
	Unit          string
	Before, After float64
	// Difference is after − before; Low and High its 95 % interval and MDC95 half
	// of that: the smallest real change of this pair.
	Difference, Low, High, MDC95 float64
	Verdict                      Verdict
	// Why says why it cannot be told.
	Why string
	// P is the two-sided p-value of no change, Adjusted that by Holm over all that
	// were compared.
	P, Adjusted float64
	// Return is how much of the difference is expected by return to the mean alone
	// where the measure was looked at because it was extreme; 0 where not known.
	Return float64
	// Cautions are said with the verdict.
	Cautions []string
}

// Comparison is a visit against an earlier one.
type Comparison struct {
	Changes []Change
	// Compared were told at all, Called were called changed, ByChance is how many
	// of Compared chance alone would call changed.
	Compared, Called int
	ByChance         float64
	// Notes tell what differed between the films.
	Notes []string
}

// Options of a comparison.
type Options struct {
	// Chosen names measures that were looked at because they were extreme (those
	// of the findings of the first visit).
	Chosen []string
	// Norms are means and SDs for the return to the mean, by name of measure.
	Norms map[string]Norm
}

// Compare holds what was seen after against before. The order of clips and
// measures never matters.
func Compare(before, after []Seen, o Options) Comparison {
	var out Comparison
	for _, d := range measure.Catalogue() {
		sides := []body.Side{body.NoSide}
		if d.Sided {
			sides = []body.Side{body.Left, body.Right}
		}
		for _, side := range sides {
			c, ok := pair(d.Name, side, before, after)
			if !ok {
				continue
			}
			c.Unit = d.Unit
			if c.Verdict != CannotTell {
				out.Compared++
				if c.Verdict == Changed {
					out.Called++
				}
				c.regress(o)
			}
			out.Changes = append(out.Changes, c)
		}
	}
	out.ByChance = 0.05 * float64(out.Compared)
	holm(out.Changes)
	out.Notes = differences(before, after)
	return out
}

// pair finds the two best observations of a measure under like conditions.
func pair(name string, side body.Side, before, after []Seen) (Change, bool) {
	nan := math.NaN()
	c := Change{Name: name, Side: side, Before: nan, After: nan, Difference: nan, Low: nan, High: nan, MDC95: nan, P: nan, Adjusted: nan, Verdict: CannotTell}
	type found struct {
		m  measure.Measure
		at Conditions
	}
	list := func(visit []Seen) []found {
		var out []found
		for _, s := range visit {
			for _, m := range s.Measures {
				if m.Name == name && m.Side == side && m.Text == "" {
					out = append(out, found{m, s.Conditions})
				}
			}
		}
		return out
	}
	a, b := list(before), list(after)
	if len(a) == 0 && len(b) == 0 {
		return c, false
	}
	has := func(x []found) bool { return slices.ContainsFunc(x, func(f found) bool { return !f.m.Withheld() }) }
	if !has(a) && !has(b) {
		return c, false
	}
	if !has(a) || !has(b) {
		which := map[bool]string{true: "before", false: "now"}[!has(a)]
		c.Why = "it was not measured " + which
		return c, true
	}
	best := math.Inf(1)
	var left, right found
	var caution []string
	why := ""
	for _, x := range a {
		for _, y := range b {
			if x.m.Withheld() || y.m.Withheld() {
				continue
			}
			no, said := like(x.at, y.at)
			if no != "" {
				if why == "" || no < why {
					why = no
				}
				continue
			}
			if s := math.Hypot(x.m.SEM, y.m.SEM); s < best || s == best && x.m.Value+y.m.Value < left.m.Value+right.m.Value {
				best, left, right, caution = s, x, y, said
			}
		}
	}
	if math.IsInf(best, 1) {
		if why == "" {
			why = "the error of one of the two is not known"
		}
		c.Why = why
		return c, true
	}
	c.Before, c.After = left.m.Value, right.m.Value
	c.Difference = c.After - c.Before
	c.MDC95 = 1.96 * best
	c.Low, c.High = c.Difference-c.MDC95, c.Difference+c.MDC95
	c.Cautions = caution
	c.P = 1
	if best > 0 {
		c.P = 2 * distuv.UnitNormal.Survival(math.Abs(c.Difference)/best)
	} else if c.Difference != 0 {
		c.P = 0
	}
	c.Verdict = NoChange
	if math.Abs(c.Difference) > c.MDC95 {
		c.Verdict = Changed
	}
	return c, true
}

// like tells why two films cannot be compared, and what is to be said where they
// can.
func like(a, b Conditions) (no string, said []string) {
	switch {
	case a.View != b.View:
		return fmt.Sprintf("it was filmed from %s before and from %s now", a.View, b.View), nil
	case a.Origin != b.Origin:
		return fmt.Sprintf("landmarks came from %s before and from %s now", a.Origin, b.Origin), nil
	case a.Overground != b.Overground:
		return "one was on a treadmill and one was not", nil
	case math.Abs(a.InclinePercent-b.InclinePercent) > InclineTolerancePercent:
		return fmt.Sprintf("the incline was %.1f %% before and %.1f %% now", a.InclinePercent, b.InclinePercent), nil
	case a.SpeedMPS > 0 && b.SpeedMPS > 0 && math.Abs(a.SpeedMPS-b.SpeedMPS) > SpeedToleranceMPS:
		return fmt.Sprintf("the speed was %.2f m/s before and %.2f m/s now", a.SpeedMPS, b.SpeedMPS), nil
	}
	if a.SpeedMPS == 0 || b.SpeedMPS == 0 {
		said = append(said, "the speed of one film is not known; it is taken to be the same")
	}
	if a.Shoes != "" && b.Shoes != "" && !strings.EqualFold(strings.TrimSpace(a.Shoes), strings.TrimSpace(b.Shoes)) {
		said = append(said, fmt.Sprintf("other shoes: %s before, %s now", a.Shoes, b.Shoes))
	}
	return "", said
}

func differences(before, after []Seen) []string {
	var out []string
	for _, y := range after {
		matched := false
		why := ""
		for _, x := range before {
			no, said := like(x.Conditions, y.Conditions)
			if no == "" {
				matched = true
				for _, s := range said {
					if !slices.Contains(out, s) {
						out = append(out, s)
					}
				}
			} else if x.Conditions.View == y.Conditions.View {
				why = no
			}
		}
		if !matched && why != "" && !slices.Contains(out, why) {
			out = append(out, why)
		}
	}
	slices.Sort(out)
	return out
}

// regress says what of the change return to the mean alone would bring.
func (c *Change) regress(o Options) {
	n, ok := o.Norms[c.Name]
	if !ok || !(n.SD > 0) || !slices.Contains(o.Chosen, c.Name) {
		return
	}
	sem := c.MDC95 / 1.96 / math.Sqrt2
	r := max(0, 1-sem*sem/(n.SD*n.SD))
	c.Return = (1 - r) * (n.Mean - c.Before)
	if c.Verdict == Changed && math.Abs(c.Difference-c.Return) <= c.MDC95 && c.Return*c.Difference > 0 {
		c.Cautions = append(c.Cautions, "it was looked at because it was extreme, and such a value returns toward the mean by itself: what is left of the change lies within the error")
	}
}

// holm adjusts the p-values over all that were compared.
func holm(changes []Change) {
	var at []int
	for i, c := range changes {
		if c.Verdict != CannotTell {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int {
		switch {
		case changes[a].P < changes[b].P:
			return -1
		case changes[a].P > changes[b].P:
			return 1
		}
		return 0
	})
	low := 0.0
	for k, i := range at {
		low = max(low, min(1, float64(len(at)-k)*changes[i].P))
		changes[i].Adjusted = low
	}
}

// Summary says in a sentence how much of what was found chance would bring.
func (c Comparison) Summary() string {
	if c.Compared == 0 {
		return "Nothing could be compared."
	}
	sure := 0
	for _, x := range c.Changes {
		if x.Verdict == Changed && x.Adjusted < 0.05 {
			sure++
		}
	}
	return fmt.Sprintf("%d measures were compared and %d called changed; chance alone would call about %.1f. %d stand even when all are looked at together.", c.Compared, c.Called, c.ByChance, sure)
}

// Point is a measure at one visit.
type Point struct {
	At         time.Time
	Value, SEM float64
}

// Trend is the line through a measure over visits.
type Trend struct {
	PerWeek, Low, High float64 // slope in the unit a week, with its 95 % interval
	Visits             int
	Verdict            Verdict
	Why                string
}

// TrendOf fits a line weighted by 1/SEM². The spread about the line widens the
// interval where it is larger than the errors explain. Fewer than three visits
// have no trend.
func TrendOf(points []Point) Trend {
	var used []Point
	for _, p := range points {
		if !math.IsNaN(p.Value) && p.SEM > 0 {
			used = append(used, p)
		}
	}
	slices.SortFunc(used, func(a, b Point) int { return a.At.Compare(b.At) })
	t := Trend{PerWeek: math.NaN(), Low: math.NaN(), High: math.NaN(), Visits: len(used), Verdict: CannotTell}
	if len(used) < 3 {
		t.Why = fmt.Sprintf("%d visits have no trend; three are the least", len(used))
		return t
	}
	week := func(p Point) float64 { return p.At.Sub(used[0].At).Hours() / 168 }
	sw, mx, my := 0.0, 0.0, 0.0
	for _, p := range used {
		w := 1 / (p.SEM * p.SEM)
		sw += w
		mx += w * week(p)
		my += w * p.Value
	}
	mx, my = mx/sw, my/sw
	sxx, sxy := 0.0, 0.0
	for _, p := range used {
		w := 1 / (p.SEM * p.SEM)
		sxx += w * (week(p) - mx) * (week(p) - mx)
		sxy += w * (week(p) - mx) * (p.Value - my)
	}
	if !(sxx > 0) {
		t.Why = "all visits are on one day"
		return t
	}
	t.PerWeek = sxy / sxx
	chi := 0.0
	for _, p := range used {
		e := (p.Value - my - t.PerWeek*(week(p)-mx)) / p.SEM
		chi += e * e
	}
	df := float64(len(used) - 2)
	// Where the points spread no more than their errors say, those errors are known
	// and the interval is normal; where more, the spread itself is all there is.
	half := 1.96 * math.Sqrt(1/sxx)
	if f := chi / df; f > 1 {
		q := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(0.975)
		half = max(half, q*math.Sqrt(f/sxx))
	}
	t.Low, t.High = t.PerWeek-half, t.PerWeek+half
	t.Verdict = NoChange
	if t.Low > 0 || t.High < 0 {
		t.Verdict = Changed
	}
	return t
}

// Proposal is what to do with a block of the programme.
type Proposal struct {
	Do  string // "progress", "hold", "step back" or "end"
	Why string
}

// Done is how a block went between the visits.
type Done struct {
	Share     float64 // of the planned sessions done, 0 to 1; NaN where not known
	PainWorst int     // 0 to 10 in it
	BonePain  bool
}

// Propose says what follows for a block: toward is +1 where a larger value is
// wanted and −1 where a smaller one.
func Propose(c Change, toward float64, d Done) Proposal {
	better := c.Verdict == Changed && c.Difference*toward > 0
	worse := c.Verdict == Changed && c.Difference*toward < 0
	switch {
	case d.BonePain:
		return Proposal{"step back", "Pin-point bone pain: stop this block and running, and refer."}
	case d.PainWorst > 5:
		return Proposal{"step back", fmt.Sprintf("Pain %d of 10 in it.", d.PainWorst)}
	case worse && !(d.Share < 0.5):
		return Proposal{"step back", "It was done and the measure is really worse: look again for the cause."}
	case d.Share < 0.5:
		return Proposal{"hold", fmt.Sprintf("Only %.0f %% of it was done: too little to judge it.", 100*d.Share)}
	case d.PainWorst > 2:
		return Proposal{"hold", fmt.Sprintf("Pain %d of 10 in it: the same dose until it is gone.", d.PainWorst)}
	case better:
		return Proposal{"progress", "It was done and the measure is really better."}
	case c.Verdict == CannotTell:
		return Proposal{"hold", "It cannot be told whether the measure changed: " + c.Why + "."}
	}
	return Proposal{"progress", "It was done without pain; the measure has not really changed yet, so ask more of it or of the finding."}
}
