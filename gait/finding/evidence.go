package finding

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
)

// Observed is a measure with its reference range.
type Observed struct {
	measure.Measure
	// Low and High are the range's ends, infinite where open; NaN where there is
	// no range. RangeSource says whence.
	Low, High   float64
	RangeSource string
	// Clip tells where it was seen, for the picture beside the number.
	Clip int
}

// Pain is what the runner tells, or a test showed.
type Pain struct {
	Region string
	Side   body.Side
	Score  int // 0 to 10
}

// Stop is a reason to refer, from intake or exam. Cleared is true once a
// clinician's clearance is noted.
type Stop struct {
	Region  string // "" where the whole visit is meant
	Side    body.Side
	Why     string
	Cleared bool
}

// Input is everything the engine sees, in any order.
type Input struct {
	Measures []Observed
	Exam     exam.Report
	Pains    []Pain
	Stops    []Stop
	// ClearedTests are the tests, by TestKey, whose pain a clinician has cleared.
	ClearedTests []string
	// ClearedPains are pains told that a clinician has cleared, up to their score.
	ClearedPains []Pain
}

// TestKey names a test on a side.
func TestKey(test string, side body.Side) string { return test + "/" + side.String() }

// State is what a condition came to.
type State string

// The states. Unclear means that the error reaches across the limit; Missing
// that nothing was measured.
const (
	Holds   State = "holds"
	Not     State = "does not hold"
	Unclear State = "unclear"
	Missing State = "not measured"
)

// Evidence is a condition held against what was seen.
type Evidence struct {
	Condition Condition
	State     State
	Side      body.Side
	// Text says it in one sentence with numbers and errors.
	Text string
	// Value, Limit and Error (1.96 SEM, with the bias that counts) are of a
	// measure; NaN else. Size is how far beyond the limit, in MDC95; 0 unless it
	// holds.
	Value, Limit, Error float64
	Size                float64
	// Flag is the measure's own caution, Origin what it rests on.
	Flag, Origin string
	// Clip is where it was seen; −1 where not on film.
	Clip int
	// Source of the limit.
	Source string
	// SidesOnly is true where one side is the poorer one and nothing more: it lies
	// in its range, or has none.
	SidesOnly bool
}

// bench holds the input sorted for look-up.
type bench struct {
	rules *Rules
	in    *Input
	// seen are the patterns found so far by name and side, for With.
	seen map[string]map[body.Side]bool
}

// find returns the best observation of a measure on a side: one that has a value
// before one without, the smallest error before others, and then by origin and
// value so that order never matters.
func (b *bench) find(name string, side body.Side) (Observed, bool) {
	var best Observed
	found := false
	for _, o := range b.in.Measures {
		if o.Name != name || o.Side != side {
			continue
		}
		if !found || better(o, best) {
			best, found = o, true
		}
	}
	return best, found
}

func better(a, b Observed) bool {
	if a.Withheld() != b.Withheld() {
		return !a.Withheld()
	}
	ea, eb := a.SEM, b.SEM
	if math.IsNaN(ea) {
		ea = math.Inf(1)
	}
	if math.IsNaN(eb) {
		eb = math.Inf(1)
	}
	if ea != eb {
		return ea < eb
	}
	if a.Origin != b.Origin {
		return a.Origin < b.Origin
	}
	if a.Value != b.Value {
		return a.Value > b.Value
	}
	return a.Clip < b.Clip
}

// hold holds a condition against what was seen on a side.
func (b *bench) hold(c Condition, side body.Side) Evidence {
	if c.Other && side != body.NoSide {
		side = side.Other()
	}
	var e Evidence
	switch {
	case c.Measure != "":
		e = b.holdMeasure(c, side)
	case c.Test != "":
		e = b.holdTest(c, side)
	default:
		e = b.holdPain(c, side)
	}
	e.Condition = c
	if e.State == Holds && c.With != "" && !b.sees(c.With, side) {
		e.State, e.Size = Not, 0
		e.Text += fmt.Sprintf(" (counts only together with: %s)", strings.ToLower(b.rules.Pattern(c.With).Title))
	}
	return e
}

// sees tells whether a pattern was seen on the side, or on any where either the
// pattern or the side is of the whole body.
func (b *bench) sees(pattern string, side body.Side) bool {
	for s := range b.seen[pattern] {
		if s == side || s == body.NoSide || side == body.NoSide {
			return true
		}
	}
	return false
}

func (b *bench) holdMeasure(c Condition, side body.Side) Evidence {
	nan := math.NaN()
	e := Evidence{State: Missing, Side: side, Value: nan, Limit: nan, Error: nan, Clip: -1, Source: c.Source}
	d, _ := measure.Lookup(c.Measure)
	title := strings.ToLower(d.Title)
	o, ok := b.find(c.Measure, side)
	if !ok && side != body.NoSide {
		if o, ok = b.find(c.Measure, body.NoSide); ok {
			e.Side = body.NoSide
		}
	}
	if !ok && side == body.NoSide {
		// A pattern of the whole body looks at the side that speaks more for it.
		l, r := b.holdMeasure(c, body.Left), b.holdMeasure(c, body.Right)
		switch {
		case l.State == Missing:
			return r
		case r.State == Missing || rank(l.State) > rank(r.State) || rank(l.State) == rank(r.State) && l.Size >= r.Size:
			return l
		}
		return r
	}
	if !ok || o.Withheld() || math.IsNaN(o.SEM) || !(o.SEM > 0) {
		e.Text = fmt.Sprintf("%s was not measured", d.Title)
		if ok && o.Reason != "" {
			e.Text += ": " + o.Reason
		}
		return e
	}
	e.Value, e.Flag, e.Origin, e.Clip = o.Value, o.Flag, o.Origin, o.Clip
	where := title
	if e.Side != body.NoSide {
		where += ", " + e.Side.String()
	}
	value := fmt.Sprintf("%s is %s ± %s", where, d.Format(o.Value), d.FormatWithUnit(o.SEM))
	low, high := o.Low, o.High
	switch {
	case c.Limit == nil:
		e.Source = o.RangeSource
	case c.Is == "outside":
		low, high = -*c.Limit, *c.Limit
	case c.Range && c.Is == "above" && high > *c.Limit, c.Range && c.Is == "below" && low < *c.Limit:
		e.Source = o.RangeSource
	default:
		low, high = *c.Limit, *c.Limit
	}
	// The truth may lie lower by the bias where the reading is high, and higher
	// where it is low.
	above := func(limit float64) (State, float64, float64) {
		return verdict(o.Value-limit, 1.96*o.SEM+max(0, o.Bias), 1.96*o.SEM+max(0, -o.Bias), o.MDC95)
	}
	below := func(limit float64) (State, float64, float64) {
		return verdict(limit-o.Value, 1.96*o.SEM+max(0, -o.Bias), 1.96*o.SEM+max(0, o.Bias), o.MDC95)
	}
	switch {
	case c.Range && math.IsNaN(low):
		e.State, e.Text = Missing, upperFirst(value)+"; no reference range at this speed"
		return e
	case c.Is == "above":
		e.Limit = high
		e.State, e.Size, e.Error = above(high)
	case c.Is == "below":
		e.Limit = low
		e.State, e.Size, e.Error = below(low)
	default: // outside
		s1, z1, m1 := above(high)
		s2, z2, m2 := below(low)
		e.Limit, e.State, e.Size, e.Error = high, s1, z1, m1
		if rank(s2) > rank(s1) {
			e.Limit, e.State, e.Size, e.Error = low, s2, z2, m2
		}
	}
	if math.IsInf(e.Limit, 0) {
		e.State, e.Size = Not, 0
		e.Text = upperFirst(value) + "; the range is open at that end"
		return e
	}
	border := d.FormatWithUnit(e.Limit)
	switch e.State {
	case Holds:
		e.Text = fmt.Sprintf("%s, beyond %s by more than its error", upperFirst(value), border)
	case Unclear:
		e.Text = fmt.Sprintf("%s, within error of %s", upperFirst(value), border)
	default:
		e.Text = fmt.Sprintf("%s, on the usual side of %s", upperFirst(value), border)
	}
	return e
}

// verdict judges an excess beyond a limit: it holds from more than outer, is not
// so from less than −inner, and is unclear between.
func verdict(excess, outer, inner, mdc float64) (State, float64, float64) {
	switch {
	case excess > outer:
		size := 0.0
		if mdc > 0 {
			size = excess / mdc
		}
		return Holds, size, outer
	case excess >= -inner:
		return Unclear, 0, outer
	}
	return Not, 0, outer
}

// rank orders states from what says least.
func rank(s State) int { return slices.Index([]State{Missing, Not, Unclear, Holds}, s) }

func (b *bench) holdTest(c Condition, side body.Side) Evidence {
	nan := math.NaN()
	e := Evidence{State: Missing, Side: side, Value: nan, Limit: nan, Error: nan, Clip: -1, Origin: "exam"}
	t, _ := exam.Lookup(c.Test)
	if side == body.NoSide && t.HasSides() {
		l, r := b.holdTest(c, body.Left), b.holdTest(c, body.Right)
		if c.Is == "good" {
			// Good means both sides: one weak side is enough to explain.
			if rank(l.State) <= rank(r.State) {
				return l
			}
			return r
		}
		if rank(r.State) > rank(l.State) || rank(r.State) == rank(l.State) && r.Size > l.Size {
			return r
		}
		return l
	}
	if !t.HasSides() {
		e.Side = body.NoSide
	}
	x, ok := b.in.Exam.Find(c.Test, e.Side)
	title := t.Title
	if e.Side != body.NoSide {
		title += ", " + e.Side.String()
	}
	if !ok {
		e.Text = title + ": not tested"
		return e
	}
	if c.Is == "felt" {
		if x.Felt == "" {
			e.Text = title + ": where it is felt was not asked"
			return e
		}
		e.State = Not
		if slices.Contains(c.Where, x.Felt) != c.Not {
			e.State, e.Size = Holds, 0.5
		}
		e.Text = fmt.Sprintf("%s: felt in the %s", title, x.Felt)
		return e
	}
	if !x.HasValue() {
		e.Text = title + ": " + x.Reason
		return e
	}
	e.Value = x.Value
	if c.Limit != nil {
		return testLimit(e, c, x, title)
	}
	said := fmt.Sprintf("%s: %s", title, testValue(x, x.Value))
	poor := x.Verdict == exam.Below && t.Better == "higher" || x.Verdict == exam.Above && t.Better == "lower"
	better := x.Verdict == exam.Above && t.Better == "higher" || x.Verdict == exam.Below && t.Better == "lower"
	border := x.Verdict == exam.AtBorder && !x.Good()
	weaker, pairKnown := false, false
	for _, p := range b.in.Exam.Pairs {
		if p.Test.Name == c.Test && p.Stage == x.Stage && !math.IsNaN(p.Difference) {
			pairKnown = true
			weaker = p.Weaker == e.Side && e.Side != body.NoSide
			if weaker {
				other := p.Left
				if e.Side == body.Left {
					other = p.Right
				}
				said += fmt.Sprintf(" against %s on the other side, beyond the error of a difference", testValue(other, other.Value))
			}
		}
	}
	switch {
	case poor && t.Better == "higher":
		said += fmt.Sprintf(", below %s", limitText(x, x.Low))
	case poor:
		said += fmt.Sprintf(", above %s", limitText(x, x.High))
	case border:
		said += ", within error of the border of the range"
	case better:
		said += ", better than the range"
	case x.Good():
		said += ", inside the range"
	}
	e.Text = said
	if x.Range != nil {
		e.Source = x.Range.Source
	}
	known := x.Verdict != exam.Unknown
	size := max(0.5, x.Worse()*x.SEM/max(x.MDC95, 1e-12))
	yes := func(ok, sure bool) {
		switch {
		case ok:
			e.State, e.Size = Holds, size
			e.SidesOnly = weaker && !poor
		case sure:
			e.State = Not
		case border:
			e.State = Unclear
		}
	}
	switch c.Is {
	case "poor":
		yes(poor, known && !border)
	case "weaker":
		yes(weaker, pairKnown)
	case "poor_or_weaker":
		yes(poor || weaker, known && !border || !known && pairKnown)
	case "good":
		yes(x.Good() && !weaker, poor || weaker)
	}
	return e
}

// testLimit holds a reading against a limit of the rule's own.
func testLimit(e Evidence, c Condition, x exam.Reading, title string) Evidence {
	if !(x.SEM > 0) {
		e.Text = fmt.Sprintf("%s: %s, its error is not known", title, testValue(x, x.Value))
		return e
	}
	e.Limit, e.Source = *c.Limit, c.Source
	excess := x.Value - *c.Limit
	if c.Is == "below" {
		excess = -excess
	}
	e.State, e.Size, e.Error = verdict(excess, 1.96*x.SEM, 1.96*x.SEM, x.MDC95)
	e.Size = min(e.Size, 1)
	said := map[State]string{Holds: c.Is + " %s by more than its error", Unclear: "within error of %s", Not: "not " + c.Is + " %s"}[e.State]
	e.Text = fmt.Sprintf("%s: %s, ", title, testValue(x, x.Value)) + fmt.Sprintf(said, testValue(x, *c.Limit))
	return e
}

func testValue(x exam.Reading, v float64) string {
	prec := map[string]int{"Nm/kg": 2, "deg": 0, "cm": 1, "s": 0, "repetitions": 0}[x.Test.Unit]
	unit := map[string]string{"deg": "°"}[x.Test.Unit]
	if unit == "" {
		unit = " " + x.Test.Unit
	}
	return fmt.Sprintf("%.*f%s", prec, v, unit)
}

// limitText is a limit of a reading's range in the unit of the range.
func limitText(x exam.Reading, v float64) string {
	if x.Range != nil && x.Range.Of == "force_per_mass" {
		return fmt.Sprintf("%.0f %% of body mass (the force is %.0f %%)", v, x.ForcePerMass)
	}
	return testValue(x, v)
}

func (b *bench) holdPain(c Condition, side body.Side) Evidence {
	nan := math.NaN()
	e := Evidence{State: Not, Side: side, Value: nan, Limit: nan, Error: nan, Clip: -1, Origin: "told", Text: "No pain was told there"}
	worst := 0
	for _, p := range b.in.Pains {
		if (c.Pain == "any" || p.Region == c.Pain) && (side == body.NoSide || p.Side == side || p.Side == body.NoSide) && p.Score > worst {
			worst = p.Score
			e.State, e.Size = Holds, 0.5
			e.Text = fmt.Sprintf("Pain %d of 10 at the %s", p.Score, strings.ReplaceAll(p.Region, "_", " "))
			if p.Side != body.NoSide {
				e.Text += ", " + p.Side.String()
			}
		}
	}
	return e
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
