package cohort

import (
	"cmp"
	"math"
	"slices"
	"time"

	"gaitwright/gait/body"
	"gaitwright/num/tally"
)

// Value is a measure of one visit. SEM is its standard error of measurement with
// everything included, in the measure's unit.
type Value struct {
	Name       string
	Side       body.Side // NoSide for measures of both feet together
	View       string
	SpeedMPS   float64 // 0 where not known
	Value, SEM float64
	Origin     string
}

// Visit is one visit.
type Visit struct {
	Day        time.Time
	Findings   []string // that the coach accepted, by name
	Complaints []string
	Values     []Value
	// Planned are the findings for which a programme was given; DueBy is the day of
	// the re-test then agreed, zero for none.
	Planned []string
	DueBy   time.Time
}

// Runner is a person with the visits, oldest first.
type Runner struct {
	Sex     string  // "female", "male", or empty where not told
	HeightM float64 // 0 where not told
	Visits  []Visit
}

// Aim is a measure that a finding is about, and where it is wanted: Better is +1 for
// more, −1 for less.
type Aim struct {
	Measure string
	Better  int
}

// Options say how to look.
type Options struct {
	Level float64 // of intervals; 0 is 0.95
	Least int     // runners on each side of a comparison; 0 is 5
	// SpeedMPS is how far the speeds of two visits may lie apart to be compared; 0 is
	// 0.15 m/s.
	SpeedMPS float64
	Aims     map[string][]Aim // by the finding's name
	Now      time.Time        // the present day, for drop-out
}

// The limits where Options leave them out.
const (
	level    = 0.95
	least    = 5
	speedMPS = 0.15
	// grace is how long after the agreed re-test a runner counts as still coming:
	// four weeks, a round figure of our own.
	grace = 28 * 24 * time.Hour
	// most bounds the properties that are held against each other, the most frequent
	// first.
	most = 12
)

// Finding is how many runners had one at any visit.
type Finding struct {
	Name string
	tally.Share
}

// Pair is two findings in the same runners.
type Pair struct {
	A, B     string
	Table    tally.Table
	Expected float64 // runners with both, if the two had nothing to do with each other
	Odds     tally.Odds
	P        float64 // exact test, adjusted over all pairs
}

// Contrast is the share of a finding in two groups.
type Contrast struct {
	Finding string
	// Factor is what tells the groups apart: "sex", "height", "speed" or "complaint";
	// First and Second name them, such as "female", "at least 1.74 m", or the
	// complaint and "".
	Factor        string
	First, Second string
	A, B          tally.Share
	tally.Difference
	P float64 // exact test, adjusted over all contrasts
}

// Outcome is what became of one measure under a programme. Values of left and right
// count apart where the programme was for both, the side least well placed else.
type Outcome struct {
	Measure string
	Better  int
	// Of runners with a later visit alike in view and speed: changed as wanted beyond
	// the error of the two, changed the other way, neither.
	As, Against, Within int
	Share               tally.Share // As of all three
	Change              tally.Mean  // of the value, later minus first
	// Kept is, of those changed as wanted with one more visit after it, how many were
	// still so at the last.
	Kept tally.Share
}

// Programme is what happened under the programmes for one finding.
type Programme struct {
	Finding  string
	Given    int         // runners
	Returned int         // with a later visit
	Waiting  int         // whose re-test is not due yet
	DropOut  tally.Share // neither returned nor waiting, of those given and not waiting
	Outcomes []Outcome
}

// Usual is the studio's own usual range of a measure at its first visits, left and
// right averaged, in a band of speed.
type Usual struct {
	Measure           string
	FromMPS, ToMPS    float64
	N                 int
	Mean, SD          float64
	Low, High         float64 // in which 95 of 100 further runners would lie, if it is normal
	SEM               float64 // median error of measurement of one value
	Values            []float64
	SpeedsMPS         []float64
	Women, Men, Other int
}

// Summary is the whole.
type Summary struct {
	Runners, Visits int
	Returned        int // runners with more than one visit
	Findings        []Finding
	Pairs           []Pair     // likeliest first
	Contrasts       []Contrast // likeliest first
	PairsTried      int
	ContrastsTried  int
	Programmes      []Programme // most given first
	Usual           []Usual
}

// Summarise looks at all runners. The order in which they come does not matter.
func Summarise(runners []Runner, o Options) Summary {
	o.Level = cmp.Or(o.Level, level)
	o.Least = cmp.Or(o.Least, least)
	o.SpeedMPS = cmp.Or(o.SpeedMPS, speedMPS)
	s := Summary{Runners: len(runners)}
	had := map[string][]bool{}
	for i, r := range runners {
		s.Visits += len(r.Visits)
		if len(r.Visits) > 1 {
			s.Returned++
		}
		for _, v := range r.Visits {
			for _, f := range v.Findings {
				if had[f] == nil {
					had[f] = make([]bool, len(runners))
				}
				had[f][i] = true
			}
		}
	}
	for name, has := range had {
		s.Findings = append(s.Findings, Finding{name, tally.Wilson(count(has), len(runners), o.Level)})
	}
	slices.SortFunc(s.Findings, func(a, b Finding) int { return cmp.Or(b.K-a.K, cmp.Compare(a.Name, b.Name)) })
	s.pairs(had, o)
	s.contrasts(runners, had, o)
	s.programmes(runners, o)
	s.usual(runners, o)
	return s
}

func count(has []bool) int {
	n := 0
	for _, h := range has {
		if h {
			n++
		}
	}
	return n
}

// frequent are the findings that are compared: of at least o.Least runners, the most
// frequent first.
func (s *Summary) frequent(o Options) []string {
	var names []string
	for _, f := range s.Findings {
		if f.K >= o.Least && len(names) < most {
			names = append(names, f.Name)
		}
	}
	return names
}

func (s *Summary) pairs(had map[string][]bool, o Options) {
	names := s.frequent(o)
	var p []float64
	for i, a := range names {
		for _, b := range names[i+1:] {
			var t tally.Table
			for k := range had[a] {
				switch x, y := had[a][k], had[b][k]; {
				case x && y:
					t.Both++
				case x:
					t.First++
				case y:
					t.Second++
				default:
					t.Neither++
				}
			}
			s.Pairs = append(s.Pairs, Pair{A: a, B: b, Table: t, Expected: t.Expected(), Odds: t.OddsRatio(o.Level)})
			p = append(p, t.Fisher())
		}
	}
	s.PairsTried = len(p)
	for i, v := range tally.Holm(p) {
		s.Pairs[i].P = v
	}
	slices.SortStableFunc(s.Pairs, func(a, b Pair) int {
		return cmp.Or(cmp.Compare(a.P, b.P), cmp.Compare(math.Abs(math.Log(b.Odds.Ratio)), math.Abs(math.Log(a.Odds.Ratio))), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
	})
}

// group sorts runners into two groups, or neither.
type group struct {
	factor, first, second string
	of                    []int8 // 1, 2, or 0 for neither
}

func (s *Summary) contrasts(runners []Runner, had map[string][]bool, o Options) {
	groups := []group{bySex(runners)}
	if g, ok := byMedian(runners, "height", func(r Runner) float64 { return r.HeightM }); ok {
		groups = append(groups, g)
	}
	if g, ok := byMedian(runners, "speed", speedOf); ok {
		groups = append(groups, g)
	}
	groups = append(groups, byComplaint(runners, o)...)
	var p []float64
	for _, name := range s.frequent(o) {
		for _, g := range groups {
			var t tally.Table
			for i, has := range had[name] {
				switch {
				case g.of[i] == 1 && has:
					t.Both++
				case g.of[i] == 1:
					t.First++
				case g.of[i] == 2 && has:
					t.Second++
				case g.of[i] == 2:
					t.Neither++
				}
			}
			if t.Both+t.First < o.Least || t.Second+t.Neither < o.Least {
				continue
			}
			a, b := tally.Wilson(t.Both, t.Both+t.First, o.Level), tally.Wilson(t.Second, t.Second+t.Neither, o.Level)
			s.Contrasts = append(s.Contrasts, Contrast{Finding: name, Factor: g.factor, First: g.first, Second: g.second, A: a, B: b, Difference: tally.Newcombe(a, b, o.Level)})
			p = append(p, t.Fisher())
		}
	}
	s.ContrastsTried = len(p)
	for i, v := range tally.Holm(p) {
		s.Contrasts[i].P = v
	}
	slices.SortStableFunc(s.Contrasts, func(a, b Contrast) int {
		return cmp.Or(cmp.Compare(a.P, b.P), cmp.Compare(math.Abs(b.Value), math.Abs(a.Value)))
	})
}

func bySex(runners []Runner) group {
	g := group{factor: "sex", first: "female", second: "male", of: make([]int8, len(runners))}
	for i, r := range runners {
		switch r.Sex {
		case "female":
			g.of[i] = 1
		case "male":
			g.of[i] = 2
		}
	}
	return g
}

// byMedian has those at or above the median in the first group.
func byMedian(runners []Runner, factor string, of func(Runner) float64) (group, bool) {
	g := group{factor: factor, of: make([]int8, len(runners))}
	var known []float64
	for _, r := range runners {
		if v := of(r); v > 0 {
			known = append(known, v)
		}
	}
	if len(known) == 0 {
		return g, false
	}
	m := median(known)
	for i, r := range runners {
		switch v := of(r); {
		case v >= m:
			g.of[i] = 1
		case v > 0:
			g.of[i] = 2
		}
	}
	g.first, g.second = limit(m), limit(m)
	return g, true
}

func limit(v float64) string { return formatFloat(v) }

// speedOf is the mean speed of the values of a runner's first visit that has any.
func speedOf(r Runner) float64 {
	for _, v := range r.Visits {
		sum, n := 0.0, 0
		for _, x := range v.Values {
			if x.SpeedMPS > 0 {
				sum += x.SpeedMPS
				n++
			}
		}
		if n > 0 {
			return sum / float64(n)
		}
	}
	return 0
}

func byComplaint(runners []Runner, o Options) []group {
	number := map[string]int{}
	of := make([]map[string]bool, len(runners))
	for i, r := range runners {
		of[i] = map[string]bool{}
		for _, v := range r.Visits {
			for _, c := range v.Complaints {
				of[i][c] = true
			}
		}
		for c := range of[i] {
			number[c]++
		}
	}
	var names []string
	for c, n := range number {
		if n >= o.Least {
			names = append(names, c)
		}
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(number[b]-number[a], cmp.Compare(a, b)) })
	var out []group
	for _, c := range names[:min(len(names), most)] {
		g := group{factor: "complaint", first: c, of: make([]int8, len(runners))}
		for i := range runners {
			g.of[i] = 2
			if of[i][c] {
				g.of[i] = 1
			}
		}
		out = append(out, g)
	}
	return out
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	n := len(x)
	if n%2 == 1 {
		return x[n/2]
	}
	return (x[n/2-1] + x[n/2]) / 2
}
