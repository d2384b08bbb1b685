package finding

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
)

// MaxFindings is how many findings are given; the others are listed.
const MaxFindings = 3

// Confidence says how well a finding is supported; Meaning states what that is.
type Confidence string

// The words of confidence.
const (
	WellSupported Confidence = "well supported"
	Supported     Confidence = "supported"
	Tentative     Confidence = "tentative"
)

// Meaning says what the word stands for.
func (c Confidence) Meaning() string {
	switch c {
	case WellSupported:
		return "seen beyond error by a smallest real change or more, at least two further things of their own speak for it (a mere difference of the sides does not count), and nothing measured speaks against its cause"
	case Supported:
		return "seen beyond error, and at least one further thing speaks for it"
	}
	return "seen beyond error by one measure alone, or with something measured that speaks against"
}

// Size says in a word how far beyond its limit something is, by smallest real
// changes.
func Size(mdcs float64) string {
	switch {
	case mdcs >= 2:
		return "large"
	case mdcs >= 1:
		return "clear"
	case mdcs > 0:
		return "slight"
	}
	return "none"
}

// CauseState is how an explanation stands after the exam.
type CauseState string

// The states of a cause.
const (
	CauseSupported CauseState = "supported" // something tested speaks for it
	CauseMixed     CauseState = "for and against"
	CauseOpen      CauseState = "not tested" // nothing that speaks to it was tested
	CauseUndecided CauseState = "undecided"  // some of it was tested, and speaks neither for nor against
	CauseAgainst   CauseState = "spoken against"
)

// JudgedCause is a cause with what speaks for and against it.
type JudgedCause struct {
	Cause        Cause
	Side         body.Side
	State        CauseState
	For, Against []Evidence
	// OtherSide is what the exam shows of the same on the other side too, beyond its
	// range; the work is then for both.
	OtherSide []Evidence
	// Untested are the tests that would speak to it.
	Untested []string
}

// Part is one pattern on one side.
type Part struct {
	Pattern *Pattern
	Side    body.Side
	// Seen are the core conditions that hold, Also what else speaks for it,
	// Unclear and Unmeasured the core conditions that could not.
	Seen, Also, Unclear, Unmeasured []Evidence
	Size                            float64 // the largest of Seen, in MDC95
	Causes                          []JudgedCause
}

// Rank is how a finding was ordered, with its parts; more is first.
type Rank struct {
	Size      float64 // of the largest part, at most 3
	Breadth   float64 // half a point for each further pattern or test covered, at most 1.5
	Complaint float64 // 1.5 where it links to a pain or complaint of the runner
	Change    float64 // half the pattern's changeability, 0 to 1.5
	Safety    float64 // 1 where leaving it is the less safe way
}

// Total is the sum.
func (r Rank) Total() float64 { return r.Size + r.Breadth + r.Complaint + r.Change + r.Safety }

// Finding is one thing to work on.
type Finding struct {
	Name  string // of the pattern, or of the chain that joins several
	Title string
	Text  string // what is seen, in plain words
	// Sides are those on which it was found; empty for the whole body.
	Sides []body.Side
	Chain *Chain // nil for a pattern alone
	Parts []Part
	// Exam is what of the exam joins the parts.
	Exam       []Evidence
	Size       float64
	Confidence Confidence
	Rank       Rank
	// TestNext are the tests that would tell the explanations apart.
	TestNext  []string
	Overturn  []string
	Contested []int
	Aims      []SidedAim
	// Spared are the aims of causes that the exam speaks against.
	Spared []Aim
}

// What is said where an aim rests on a cause that no test speaks for: NotTested
// where none was done, Undecided where what was done decides nothing.
const (
	NotTested = "not tested yet: the usual first guess"
	Undecided = "what was tested or measured decides nothing: the usual first guess"
)

// SidedAim is an aim with its side; NoSide is both.
type SidedAim struct {
	Aim
	Side body.Side
	// Of names the cause or pattern that it comes from.
	Of string
}

// Referral says for which region there is no programme until a clinician has
// cleared it.
type Referral struct {
	Region string // "" for the whole
	Side   body.Side
	Why    []string
}

// Report is the outcome.
type Report struct {
	Findings []Finding // at most MaxFindings, the first first
	Others   []Finding
	// None says why there is no finding; empty where there is one.
	None  string
	Refer []Referral
	// Loose is what the exam shows beyond its range or error and no finding rests on.
	Loose []Evidence
	// Looked counts the patterns that could be judged, Blind lists those for
	// which nothing was measured.
	Looked int
	Blind  []string
	Rules  int // version of the rules
	// Points are the disputed points of the rules, by their numbers.
	Points map[int]Contested
}

// Reason draws the findings from what was seen. The order of the input never
// matters.
func Reason(rules *Rules, in Input) Report {
	b := &bench{rules: rules, in: &in, seen: map[string]map[body.Side]bool{}}
	out := Report{Rules: rules.Version, Points: rules.Contested, Refer: referrals(in)}
	// Conditions that ask for another pattern need it judged before: a second
	// round sees all of the first.
	var parts []Part
	for range 2 {
		parts = nil
		seen := map[string]map[body.Side]bool{}
		for _, p := range rules.Patterns {
			for _, part := range b.look(p) {
				parts = append(parts, part)
				if seen[p.Name] == nil {
					seen[p.Name] = map[body.Side]bool{}
				}
				seen[p.Name][part.Side] = true
			}
		}
		b.seen = seen
	}
	for _, p := range rules.Patterns {
		if b.blind(p) {
			out.Blind = append(out.Blind, p.Title)
		} else {
			out.Looked++
		}
	}
	all := b.join(parts)
	slices.SortStableFunc(all, func(x, y Finding) int {
		switch d := y.Rank.Total() - x.Rank.Total(); {
		case d > 1e-12:
			return 1
		case d < -1e-12:
			return -1
		}
		return strings.Compare(x.Name, y.Name)
	})
	for _, f := range all {
		if len(out.Findings) < MaxFindings && !f.quiet() {
			out.Findings = append(out.Findings, f)
		} else {
			out.Others = append(out.Others, f)
		}
	}
	out.Loose = b.loose(all)
	if len(out.Findings) == 0 {
		out.None = fmt.Sprintf("of %d patterns that could be judged none lies beyond its range by more than the error: the film gives no reason to change anything", out.Looked)
		if len(out.Others) > 0 {
			out.None = "what was seen is common, mostly harmless and does not link to a complaint: the film gives no reason to change anything"
		}
		if out.Looked == 0 {
			out.None = "nothing was measured that a finding could rest on"
		}
	}
	return out
}

// quiet tells whether a finding is of quiet patterns alone and links to no
// complaint.
func (f *Finding) quiet() bool {
	return f.Rank.Complaint == 0 && !slices.ContainsFunc(f.Parts, func(p Part) bool { return !p.Pattern.Quiet })
}

// look returns a pattern on each side where it is seen.
func (b *bench) look(p *Pattern) []Part {
	sides := []body.Side{body.NoSide}
	if p.Each {
		sides = []body.Side{body.Left, body.Right}
	}
	var out []Part
	for _, side := range sides {
		part := Part{Pattern: p, Side: side}
		for _, c := range p.Core {
			switch e := b.hold(c, side); e.State {
			case Holds:
				part.Seen = append(part.Seen, e)
				part.Size = max(part.Size, e.Size)
			case Unclear:
				part.Unclear = append(part.Unclear, e)
			case Missing:
				part.Unmeasured = append(part.Unmeasured, e)
			}
		}
		if len(part.Seen) == 0 {
			continue
		}
		for _, c := range p.Adds {
			if e := b.hold(c, side); e.State == Holds {
				part.Also = append(part.Also, e)
			}
		}
		for _, c := range p.Causes {
			part.Causes = append(part.Causes, b.judge(c, side))
		}
		out = append(out, part)
	}
	return out
}

// blind tells whether nothing that the pattern rests on was measured on any side.
func (b *bench) blind(p *Pattern) bool {
	for _, c := range p.Core {
		sides := []body.Side{body.NoSide}
		if p.Each {
			sides = []body.Side{body.Left, body.Right}
		}
		for _, s := range sides {
			if b.hold(c, s).State != Missing {
				return false
			}
		}
	}
	return true
}

func (b *bench) judge(c Cause, side body.Side) JudgedCause {
	j := JudgedCause{Cause: c, Side: side, State: CauseOpen}
	tested := false
	for _, x := range c.For {
		switch e := b.hold(x, side); e.State {
		case Not, Unclear:
			tested = tested || x.Pain == ""
		case Holds:
			j.For = append(j.For, e)
			if x.Test != "" && x.Is != "felt" && !e.SidesOnly && (side == body.Left || side == body.Right) {
				if o := b.hold(x, side.Other()); o.State == Holds && !o.SidesOnly && o.Side == side.Other() {
					j.OtherSide = append(j.OtherSide, o)
				}
			}
		case Missing:
			if x.Test != "" && !slices.Contains(j.Untested, x.Test) {
				j.Untested = append(j.Untested, x.Test)
			}
		}
	}
	for _, x := range c.Against {
		if e := b.hold(x, side); e.State == Holds {
			j.Against = append(j.Against, e)
		}
	}
	switch {
	case len(j.For) > 0 && len(j.Against) > 0:
		j.State = CauseMixed
	case len(j.For) > 0:
		j.State = CauseSupported
	case len(j.Against) > 0:
		j.State = CauseAgainst
	case tested:
		j.State = CauseUndecided
	}
	return j
}

// join makes findings of parts: first the chains that cover most, each part used
// once, then what is left; the two sides of one thing are one finding.
func (b *bench) join(parts []Part) []Finding {
	var out []Finding
	used := make([]bool, len(parts))
	for {
		best, covered := -1, []int(nil)
		var bestSide body.Side
		var bestExam []Evidence
		weight := 0.0
		for i, c := range b.rules.Chains {
			sides := []body.Side{body.NoSide}
			if c.Each {
				sides = []body.Side{body.Left, body.Right}
			}
			for _, side := range sides {
				cover, evidence, ok := b.covers(c, side, parts, used)
				if !ok {
					continue
				}
				// Patterns count before tests, and the rules' own order before chance.
				if w := float64(len(cover)) + 0.25*float64(len(evidence)); w > weight {
					best, covered, bestSide, bestExam, weight = i, cover, side, evidence, w
				}
			}
		}
		if best < 0 {
			break
		}
		c := b.rules.Chains[best]
		f := Finding{Name: c.Name, Title: c.Title, Text: c.Text, Chain: c, Exam: bestExam, Contested: slices.Clone(c.Touches)}
		if bestSide != body.NoSide {
			f.Sides = []body.Side{bestSide}
		}
		for _, k := range covered {
			used[k] = true
			f.Parts = append(f.Parts, parts[k])
		}
		out = append(out, f)
	}
	for k, p := range parts {
		if used[k] {
			continue
		}
		f := Finding{Name: p.Pattern.Name, Title: p.Pattern.Title, Text: p.Pattern.Seen, Parts: []Part{p}}
		if p.Side != body.NoSide {
			f.Sides = []body.Side{p.Side}
		}
		out = append(out, f)
	}
	return b.finish(bothSides(out))
}

// covers tells which unused parts a chain takes in on a side.
func (b *bench) covers(c *Chain, side body.Side, parts []Part, used []bool) (cover []int, evidence []Evidence, ok bool) {
	take := func(name string) int {
		n := 0
		for k, p := range parts {
			if !used[k] && p.Pattern.Name == name && (p.Side == side || p.Side == body.NoSide || side == body.NoSide) {
				cover = append(cover, k)
				n++
			}
		}
		return n
	}
	for _, name := range c.Needs {
		if take(name) == 0 {
			return nil, nil, false
		}
	}
	for _, x := range c.Unless {
		if b.hold(x, side).State == Holds {
			return nil, nil, false
		}
	}
	held := 0
	for _, name := range c.Patterns {
		if take(name) > 0 {
			held++
		}
	}
	for _, x := range c.Exam {
		if e := b.hold(x, side); e.State == Holds {
			evidence = append(evidence, e)
			held++
		}
	}
	return cover, evidence, held >= c.Least
}

// bothSides joins the findings of one name on left and right.
func bothSides(all []Finding) []Finding {
	var out []Finding
	for _, f := range all {
		i := slices.IndexFunc(out, func(x Finding) bool { return x.Name == f.Name && len(x.Sides) > 0 && len(f.Sides) > 0 })
		if i < 0 {
			out = append(out, f)
			continue
		}
		out[i].Sides = append(out[i].Sides, f.Sides...)
		slices.Sort(out[i].Sides)
		out[i].Parts = append(out[i].Parts, f.Parts...)
		out[i].Exam = append(out[i].Exam, f.Exam...)
	}
	return out
}

// finish works out what follows from a finding's parts.
func (b *bench) finish(all []Finding) []Finding {
	for i := range all {
		f := &all[i]
		slices.SortStableFunc(f.Parts, func(x, y Part) int {
			if d := b.order(x.Pattern) - b.order(y.Pattern); d != 0 {
				return d
			}
			return int(x.Side) - int(y.Side)
		})
		f.Text = strings.ReplaceAll(f.Text, "%s", sidesInWords(f.Sides))
		patterns := map[string]bool{}
		// What speaks for it counts once, however often it is cited and on how many
		// sides, and not where it is what was seen; what is seen by several measures of
		// one pattern counts once more.
		speaks, firm, against := map[string]bool{}, map[string]bool{}, 0
		itself := map[string]bool{}
		for _, p := range f.Parts {
			for _, e := range p.Seen {
				itself[b.about(e)] = true
			}
		}
		say := func(all []Evidence) {
			for _, e := range all {
				if k := b.about(e); !itself[k] {
					speaks[k] = true
					firm[k] = firm[k] || !e.SidesOnly
				}
				if e.SidesOnly {
					f.Contested = append(f.Contested, sidesPoint)
				}
			}
		}
		say(f.Exam)
		change := 0
		for _, p := range f.Parts {
			if !patterns[p.Pattern.Name] {
				f.Overturn = append(f.Overturn, p.Pattern.Overturn)
				f.Contested = append(f.Contested, p.Pattern.Touches...)
			}
			patterns[p.Pattern.Name] = true
			f.Size = max(f.Size, p.Size)
			change = max(change, p.Pattern.Change)
			f.Rank.Safety = max(f.Rank.Safety, float64(p.Pattern.Safety))
			say(p.Also)
			several := map[string]bool{}
			for _, e := range p.Seen {
				several[b.about(e)] = true
			}
			if k := p.Pattern.Name + " by several measures"; len(several) > 1 {
				speaks[k], firm[k] = true, true
			}
			for _, c := range p.Causes {
				switch c.State {
				case CauseSupported:
					say(c.For)
				case CauseAgainst, CauseMixed:
					against++
					if c.State == CauseAgainst {
						f.Spared = append(f.Spared, c.Cause.Aims...)
					}
				}
				for _, t := range c.Untested {
					if !slices.Contains(f.TestNext, t) {
						f.TestNext = append(f.TestNext, t)
					}
				}
			}
			if b.complained(p) {
				f.Rank.Complaint = 1.5
			}
		}
		further, sure := len(speaks)+len(patterns)-1, len(patterns)-1
		for _, ok := range firm {
			if ok {
				sure++
			}
		}
		f.Rank.Size = min(f.Size, 3)
		f.Rank.Breadth = min(1.5, 0.5*float64(len(patterns)-1)+0.25*float64(len(f.Exam)))
		f.Rank.Change = float64(change) / 2
		slices.Sort(f.Contested)
		f.Contested = slices.Compact(f.Contested)
		f.Aims = aims(f)
		switch {
		case f.Size >= 1 && sure >= 2 && against == 0:
			f.Confidence = WellSupported
		case further >= 1 && (against == 0 || further > against):
			f.Confidence = Supported
		default:
			f.Confidence = Tentative
		}
	}
	return all
}

// sidesPoint is the disputed point on differences of the sides.
const sidesPoint = 7

// about names what a piece of evidence was read from, whichever way.
func (b *bench) about(e Evidence) string {
	k := e.Condition.Measure + e.Condition.Test + e.Condition.Pain
	if other, ok := b.rules.Same[k]; ok {
		return other
	}
	return k
}

// loose gathers what the exam shows beyond its range or the error of the sides and
// no finding names, in the order of the catalogue.
func (b *bench) loose(all []Finding) []Evidence {
	named := map[string]bool{}
	for _, f := range all {
		evidence := slices.Clone(f.Exam)
		for _, p := range f.Parts {
			evidence = slices.Concat(evidence, p.Seen, p.Also)
			for _, c := range p.Causes {
				evidence = slices.Concat(evidence, c.For, c.Against, c.OtherSide)
			}
		}
		for _, e := range evidence {
			named[TestKey(e.Condition.Test, e.Side)] = true
		}
	}
	var out []Evidence
	for _, t := range exam.Catalogue() {
		sides := []body.Side{body.NoSide}
		if t.HasSides() {
			sides = []body.Side{body.Left, body.Right}
		}
		for _, s := range sides {
			e := b.hold(Condition{Test: t.Name, Is: "poor_or_weaker"}, s)
			if e.State == Holds && !named[TestKey(t.Name, e.Side)] {
				out = append(out, e)
			}
		}
	}
	return out
}

func (b *bench) order(p *Pattern) int { return slices.Index(b.rules.Patterns, p) }

// complained tells whether a pain lies where the pattern links to, on its side.
func (b *bench) complained(p Part) bool {
	for _, x := range b.in.Pains {
		if x.Score > 0 && (slices.Contains(p.Pattern.Regions, x.Region) || slices.Contains(p.Pattern.Regions, "any")) && (p.Side == body.NoSide || x.Side == body.NoSide || x.Side == p.Side) {
			return true
		}
	}
	return false
}

// aims gathers what a programme should do: the causes that are supported; where
// none is, the first that was not tested or left undecided, which is said; and what
// the patterns ask in any case. Causes spoken against give none.
func aims(f *Finding) []SidedAim {
	var out []SidedAim
	add := func(a Aim, side body.Side, of string) {
		if a.Both {
			side = body.NoSide
		}
		if side == body.NoSide && a.Why == "" {
			a.Why = "what was seen is not of one side"
		}
		for i, x := range out {
			if x.Block == a.Block && x.Area == a.Area {
				if x.Side != side {
					out[i].Side = body.NoSide
					out[i].Why = cmp.Or(a.Why, "found on both sides")
				}
				return
			}
		}
		out = append(out, SidedAim{Aim: a, Side: side, Of: of})
	}
	for _, p := range f.Parts {
		supported := slices.ContainsFunc(p.Causes, func(c JudgedCause) bool { return c.State == CauseSupported || c.State == CauseMixed })
		guessed := false
		for _, c := range p.Causes {
			of := c.Cause.Text
			switch {
			case c.State == CauseSupported || c.State == CauseMixed:
			case (c.State == CauseOpen || c.State == CauseUndecided) && !supported && !guessed:
				guessed = true
				of = strings.TrimSuffix(of, ".") + " (" + map[CauseState]string{CauseOpen: NotTested, CauseUndecided: Undecided}[c.State] + ")"
			default:
				continue
			}
			for _, a := range c.Cause.Aims {
				if len(c.OtherSide) > 0 && !a.Both {
					a.Both, a.Why = true, "on the other side the exam shows it too, beyond its range"
				}
				add(a, p.Side, of)
			}
		}
		for _, a := range p.Pattern.Aims {
			add(a, p.Side, p.Pattern.Title)
		}
	}
	return out
}

func sidesInWords(sides []body.Side) string {
	switch len(sides) {
	case 0:
		return ""
	case 1:
		return sides[0].String()
	}
	return "left and right"
}

// TooMuchPain is the limit of pain told or met in a test, 0 to 10, after the pain-monitoring model (Thomeé 1997, Phys
// Ther 77:1690; Silbernagel 2007, Am J Sports Med 35:897; cut-offs from memory):
// above 5 of 10 is too much.
const TooMuchPain = 5

// regions of the tests, for what a painful test refers.
var testRegions = []struct{ prefix, region string }{
	{"hip_", "hip"}, {"thomas", "hip"}, {"ober", "hip"}, {"adductor", "groin"}, {"hamstring", "thigh_back"},
	{"knee_", "knee"}, {"single_leg_squat", "knee"}, {"step_down", "knee"}, {"hop", "leg"},
	{"plantarflexion", "calf"}, {"heel_raise", "calf"}, {"lunge", "ankle"}, {"first_toe", "toes"},
	{"side_", "hip"}, {"single_leg_bridge", "hip"}, {"front_plank", "low_back"}, {"balance", "leg"},
}

func referrals(in Input) []Referral {
	var out []Referral
	add := func(region string, side body.Side, why string) {
		for i := range out {
			if out[i].Region == region && out[i].Side == side {
				if !slices.Contains(out[i].Why, why) {
					out[i].Why = append(out[i].Why, why)
				}
				return
			}
		}
		out = append(out, Referral{Region: region, Side: side, Why: []string{why}})
	}
	for _, s := range in.Stops {
		if !s.Cleared {
			add(s.Region, s.Side, s.Why)
		}
	}
	for _, p := range in.Pains {
		if p.Score > TooMuchPain && !slices.ContainsFunc(in.ClearedPains, func(c Pain) bool { return c.Region == p.Region && c.Side == p.Side && c.Score >= p.Score }) {
			add(p.Region, p.Side, fmt.Sprintf("pain of %d of 10 was told", p.Score))
		}
	}
	for _, r := range in.Exam.Pains {
		if r.Pain <= TooMuchPain || slices.Contains(in.ClearedTests, TestKey(r.Test.Name, r.Side)) {
			continue
		}
		region := ""
		for _, t := range testRegions {
			if strings.HasPrefix(r.Test.Name, t.prefix) {
				region = t.region
				break
			}
		}
		add(region, r.Side, fmt.Sprintf("%s hurt, %d of 10", r.Test.Title, r.Pain))
	}
	slices.SortFunc(out, func(a, b Referral) int {
		if d := strings.Compare(a.Region, b.Region); d != 0 {
			return d
		}
		return int(a.Side) - int(b.Side)
	})
	for i := range out {
		slices.Sort(out[i].Why)
	}
	return out
}
