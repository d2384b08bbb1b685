package retest

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
	Model          string // the pose model, empty for none
	Overground     bool
	// Click tells whether a metronome ran: [WithClick], [WithoutClick], or empty
	// where not told.
	Click string
}

// What is said of the metronome while a film was taken.
const (
	WithClick    = "with"
	WithoutClick = "without"
)

// Seen is what one clip of a visit showed.
type Seen struct {
	Conditions Conditions
	Measures   []measure.Measure
	// DF are the degrees of freedom behind a measure's SEM, by name, where that
	// was itself found from few repeated visits; what is not named is taken as
	// known.
	DF map[string]int
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
	// Why says why it cannot be told; zero where it can.
	Why Reason
	// P is the two-sided p-value of no change, Adjusted that by Holm over all that
	// were compared.
	P, Adjusted float64
	// Return is how much of the difference is expected by return to the mean alone
	// where the measure was looked at because it was extreme; 0 where not known.
	Return float64
	// Cautions are said with the verdict.
	Cautions []Reason
	// BeforeClip and AfterClip tell which of what was seen the two values come
	// from, −1 for none, and BeforeSEM and AfterSEM their errors.
	BeforeClip, AfterClip int
	BeforeSEM, AfterSEM   float64
	// DF are the degrees of freedom of the error, 0 where it is taken as known.
	DF int
	// Test is true of a test of the exam, Stage its stage.
	Test  bool
	Stage string
}

// Stands tells whether the change is called even when all that was looked at is
// taken together.
func (c Change) Stands() bool { return c.Verdict == Changed && c.Adjusted < 0.05 }

// Comparison is a visit against an earlier one.
type Comparison struct {
	Changes []Change
	// Compared were told at all, Called were called changed, Stand of these still
	// stand when all are taken together; ByChance is how many of Compared chance
	// alone would call changed.
	Compared, Called, Stand int
	ByChance                float64
	// Pairs tell of each film which it was matched with and why not.
	Pairs []Pair
}

// Pair is a film of the later visit with the one of the earlier visit that it is
// held against.
type Pair struct {
	After  int    // index of what was seen after
	Before int    // index of what was seen before; −1 where none is like it
	Why    Reason // why there is none
	Said   []Reason
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
				c.regress(o)
			}
			out.Changes = append(out.Changes, c)
		}
	}
	out.Pairs = pairs(before, after)
	out.count()
	return out
}

// Apart adjusts what was named beforehand, as by a plan, among itself, and the rest
// among itself: what was asked is not paid for by all that was looked at besides.
func (c Comparison) Apart(named func(Change) bool) Comparison {
	c.Changes = slices.Clone(c.Changes)
	holm(c.Changes, named)
	holm(c.Changes, func(x Change) bool { return !named(x) })
	c.tally()
	return c
}

// count counts what was looked at and adjusts for it.
func (c *Comparison) count() {
	holm(c.Changes, func(Change) bool { return true })
	c.tally()
}

func (c *Comparison) tally() {
	c.Compared, c.Called, c.Stand = 0, 0, 0
	for _, x := range c.Changes {
		if x.Verdict == CannotTell {
			continue
		}
		c.Compared++
		if x.Verdict == Changed {
			c.Called++
		}
		if x.Stands() {
			c.Stand++
		}
	}
	c.ByChance = 0.05 * float64(c.Compared)
}

// observation is a measure in one of the clips of a visit.
type observation struct {
	m    measure.Measure
	clip int
	at   Conditions
	df   int
}

func observations(visit []Seen, name string, side body.Side) []observation {
	var out []observation
	for i, s := range visit {
		for _, m := range s.Measures {
			if m.Name == name && m.Side == side && m.Text == "" {
				out = append(out, observation{m, i, s.Conditions, s.DF[name]})
			}
		}
	}
	return out
}

// usable leaves those that have a value with an error.
func usable(all []observation) []observation {
	return slices.DeleteFunc(slices.Clone(all), func(o observation) bool { return o.m.Withheld() || math.IsNaN(o.m.SEM) })
}

func unknown(name string, side body.Side) Change {
	nan := math.NaN()
	return Change{Name: name, Side: side, Before: nan, After: nan, Difference: nan, Low: nan, High: nan, MDC95: nan, P: nan, Adjusted: nan, Verdict: CannotTell,
		BeforeClip: -1, AfterClip: -1, BeforeSEM: nan, AfterSEM: nan}
}

// pair finds the two best observations of a measure under like conditions.
func pair(name string, side body.Side, before, after []Seen) (Change, bool) {
	c := unknown(name, side)
	all, now := observations(before, name, side), observations(after, name, side)
	given := func(o observation) bool { return !o.m.Withheld() }
	if !slices.ContainsFunc(all, given) && !slices.ContainsFunc(now, given) {
		return c, false
	}
	a, b := usable(all), usable(now)
	for _, miss := range []struct {
		good, all []observation
		code      string
	}{{a, all, "not_before"}, {b, now, "not_now"}} {
		if len(miss.good) == 0 {
			c.Why = Reason{Code: miss.code}
			if slices.ContainsFunc(miss.all, given) {
				c.Why = Reason{Code: "error"}
			}
			return c, true
		}
	}
	x, y, said, why := best(a, b)
	if x == nil {
		c.Why = why
		return c, true
	}
	c.BeforeClip, c.AfterClip, c.Cautions = x.clip, y.clip, said
	c.judge(x.m.Value, y.m.Value, x.m.SEM, y.m.SEM, least(x.df, y.df))
	return c, true
}

// least is the smaller number of degrees of freedom; 0 stands for a known error.
func least(a, b int) int {
	if a == 0 || b > 0 && b < a {
		return b
	}
	return a
}

// judge fills in the two values and what follows from them.
func (c *Change) judge(before, after, semBefore, semAfter float64, df int) {
	c.Before, c.After, c.BeforeSEM, c.AfterSEM, c.DF = before, after, semBefore, semAfter, df
	c.Difference = after - before
	se := math.Hypot(semBefore, semAfter)
	c.MDC95 = quantile(df) * se
	c.Low, c.High = c.Difference-c.MDC95, c.Difference+c.MDC95
	c.P = 1
	switch {
	case se > 0 && df > 0:
		c.P = 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Survival(math.Abs(c.Difference)/se)
	case se > 0:
		c.P = 2 * distuv.UnitNormal.Survival(math.Abs(c.Difference)/se)
	case c.Difference != 0:
		c.P = 0
	}
	c.Verdict = NoChange
	if math.Abs(c.Difference) > c.MDC95 {
		c.Verdict = Changed
	}
}

// quantile is how many standard errors hold 95 of 100 differences without any
// change: 1.96, and more where the error was itself found from little.
func quantile(df int) float64 {
	if df > 0 {
		return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(df)}.Quantile(0.975)
	}
	return 1.96
}

// best chooses the pair that is most alike, and of those equally alike the one
// with the smallest error; nil and the reason where none can be compared. The
// values themselves have no say in it, for that would make changes out of chance.
func best(a, b []observation) (x, y *observation, said []Reason, why Reason) {
	least, rank := math.Inf(1), math.MaxInt
	for i := range a {
		for k := range b {
			no, caution := like(&a[i], &b[k])
			if no.Code != "" {
				if why.Code == "" || no.order() < why.order() || no.order() == why.order() && no.String() < why.String() {
					why = no
				}
				continue
			}
			r := 0
			for _, c := range caution {
				r += c.weight()
			}
			// A film with the click shows what is done with it; that without comes first.
			if a[i].at.Click == WithClick || b[k].at.Click == WithClick {
				r += 2
			}
			s := math.Hypot(a[i].m.SEM, b[k].m.SEM)
			if r < rank || r == rank && (s < least || s == least && before(&a[i], &b[k], x, y)) {
				rank, least, x, y, said = r, s, &a[i], &b[k], caution
			}
		}
	}
	return x, y, said, why
}

// before gives equally good pairs an order that the order of clips does not touch.
func before(a, b, x, y *observation) bool {
	key := func(p, q *observation) string { return fmt.Sprintf("%+v %v %+v %v", p.at, p.m.Value, q.at, q.m.Value) }
	return key(a, b) < key(x, y)
}

// like tells why two observations cannot be compared, and what is to be said where
// they can.
func like(x, y *observation) (no Reason, said []Reason) {
	a, b := x.at, y.at
	from, to := a.Origin, b.Origin
	if x.m.Origin != "" && y.m.Origin != "" {
		from, to = x.m.Origin, y.m.Origin
	}
	switch {
	case a.View != b.View:
		return Reason{"view", a.View.String(), b.View.String()}, nil
	case from != to:
		return Reason{"origin", from, to}, nil
	case a.Model != b.Model && a.Origin == b.Origin:
		return Reason{"model", a.Model, b.Model}, nil
	}
	return circumstances(a, b)
}

// circumstances are what must be alike beside the view and the origin.
func circumstances(a, b Conditions) (no Reason, said []Reason) {
	switch {
	case a.Overground != b.Overground:
		return Reason{"surface", surface(a), surface(b)}, nil
	case math.Abs(a.InclinePercent-b.InclinePercent) > InclineTolerancePercent:
		return Reason{"incline", fmt.Sprintf("%.1f", a.InclinePercent), fmt.Sprintf("%.1f", b.InclinePercent)}, nil
	case a.SpeedMPS > 0 && b.SpeedMPS > 0 && math.Abs(a.SpeedMPS-b.SpeedMPS) > SpeedToleranceMPS:
		return Reason{"speed", fmt.Sprintf("%.2f", a.SpeedMPS), fmt.Sprintf("%.2f", b.SpeedMPS)}, nil
	}
	if a.SpeedMPS == 0 || b.SpeedMPS == 0 {
		said = append(said, Reason{Code: "speed_unknown"})
	}
	if a.Shoes != "" && b.Shoes != "" && !strings.EqualFold(strings.TrimSpace(a.Shoes), strings.TrimSpace(b.Shoes)) {
		said = append(said, Reason{"shoes", a.Shoes, b.Shoes})
	}
	if (a.Click == WithClick) != (b.Click == WithClick) {
		said = append(said, Reason{"click", orWithout(a.Click), orWithout(b.Click)})
	}
	return Reason{}, said
}

func orWithout(click string) string {
	if click == "" {
		return WithoutClick
	}
	return click
}

func surface(c Conditions) string {
	if c.Overground {
		return "over ground"
	}
	return "treadmill"
}

// pairs finds for each film of the later visit the one it is held against.
func pairs(before, after []Seen) []Pair {
	var out []Pair
	for k, y := range after {
		p := Pair{After: k, Before: -1, Why: Reason{Code: "no_view"}}
		rank := math.MaxInt
		for i, x := range before {
			no, said := like(&observation{at: x.Conditions}, &observation{at: y.Conditions})
			if no.Code != "" {
				if p.Before < 0 && x.Conditions.View == y.Conditions.View {
					p.Why = no
				}
				continue
			}
			r := 0
			for _, c := range said {
				r += c.weight()
			}
			if r < rank {
				p, rank = Pair{After: k, Before: i, Said: said}, r
			}
		}
		out = append(out, p)
	}
	return out
}

// regress says what of the change return to the mean alone would bring.
func (c *Change) regress(o Options) {
	n, ok := o.Norms[c.Name]
	if !ok || !(n.SD > 0) || !slices.Contains(o.Chosen, c.Name) {
		return
	}
	sem := c.MDC95 / quantile(c.DF) / math.Sqrt2
	r := max(0, 1-sem*sem/(n.SD*n.SD))
	c.Return = (1 - r) * (n.Mean - c.Before)
	if c.Verdict == Changed && math.Abs(c.Difference-c.Return) <= c.MDC95 && c.Return*c.Difference > 0 {
		c.Cautions = append(c.Cautions, Reason{Code: "return"})
	}
}

// holm adjusts the p-values over those of a family that were compared.
func holm(changes []Change, family func(Change) bool) {
	var at []int
	for i, c := range changes {
		if c.Verdict != CannotTell && family(c) {
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
	return fmt.Sprintf("%d measures were compared and %d called changed; chance alone would call about %.1f. %d stand even when all are looked at together.", c.Compared, c.Called, c.ByChance, c.Stand)
}
