package finding

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"

	"pgregory.net/rapid"
)

// fires makes what lets a pattern be seen on the left, or as a whole.
func fires(p *Pattern) Input {
	var in Input
	for _, c := range p.Core {
		if c.Measure == "" || c.With != "" {
			continue
		}
		limit := 60.0
		if c.Is == "below" {
			limit = -40
		}
		if c.Limit != nil && !c.Range {
			limit = *c.Limit
		}
		v := limit + 5
		if c.Is == "below" {
			v = limit - 5
		}
		in.Measures = []Observed{observed(c.Measure, sideOf(c.Measure, body.Left), v, -40, 60)}
		return in
	}
	return in
}

// holding adds to the input what makes a condition hold; false where nothing of
// an exam or a measure does.
func holding(t *testing.T, in Input, c Condition, side body.Side) (Input, bool) {
	if c.Measure != "" {
		v := 0.0
		if c.Limit != nil {
			v = *c.Limit
		}
		v += map[string]float64{"above": 30, "below": -30}[c.Is]
		in.Measures = append(slices.Clone(in.Measures), observed(c.Measure, sideOf(c.Measure, body.Left), v, -40, 60))
		return in, true
	}
	x, _ := exam.Lookup(c.Test)
	felts := []string{""}
	if c.Is == "felt" {
		felts = x.Felt
	}
	low, high := x.Low, x.High
	if c.Is == "felt" {
		low = high // much of it: where it is felt is the matter
	}
	if x.Kind == exam.Strength {
		low, high = 20, 700
	}
	for _, felt := range felts {
		for k := range 60 {
			v := low + (high-low)*float64(k)/59
			others := []float64{v, low + (high-low)*0.9}
			if c.Is == "felt" {
				others = others[:1] // where it is felt is the matter, not who is stronger
			}
			for _, other := range others {
				e := in
				if x.HasSides() {
					e.Exam = testOf(t, c.Test, v, other, felt)
				} else {
					e.Exam = exam.Score(exam.Sheet{Entries: []exam.Entry{{Test: c.Test, Trials: []exam.Trial{{Value: v}}, Felt: felt}}}, exam.Body{MassKG: 70, Sex: "male"})
				}
				b := &bench{rules: Default(), in: &e, seen: map[string]map[body.Side]bool{}}
				if b.hold(c, side).State == Holds {
					return e, true
				}
			}
		}
	}
	return in, false
}

// Each cause of each pattern: with what speaks for it, it is supported and its
// work is aimed at; with what speaks against it, the pattern stays seen, the cause
// is spoken against, nothing is aimed at for it, and the finding is tentative.
func TestEveryCauseForAndAgainst(t *testing.T) {
	rules := Default()
	supports, rivals := 0, map[string]bool{}
	for _, p := range rules.Patterns {
		side := body.NoSide
		if p.Each {
			side = body.Left
		}
		for k, c := range p.Causes {
			state := func(in Input) (CauseState, Finding) {
				r := Reason(rules, in)
				for _, f := range append(r.Findings, r.Others...) {
					for _, x := range f.Parts {
						if x.Pattern == p {
							return x.Causes[k].State, f
						}
					}
				}
				t.Fatalf("%s is not seen", p.Name)
				return "", Finding{}
			}
			aimsAt := func(f Finding) bool {
				return slices.ContainsFunc(f.Aims, func(a SidedAim) bool { return a.Of == c.Text })
			}
			for _, x := range c.For {
				if x.Test == "" {
					continue
				}
				in, ok := holding(t, fires(p), x, side)
				if !ok {
					t.Errorf("%s, %s: nothing makes %s %s", p.Name, c.Name, x.Test, x.Is)
					continue
				}
				supports++
				if got, f := state(in); got != CauseSupported {
					t.Errorf("%s, %s: %s with %s %s", p.Name, c.Name, got, x.Test, x.Is)
				} else if len(c.Aims) > 0 && !aimsAt(f) {
					t.Errorf("%s: nothing is aimed at for %s", p.Name, c.Name)
				}
			}
			for _, x := range c.Against {
				in, ok := holding(t, fires(p), x, side)
				if !ok {
					t.Errorf("%s, %s: nothing makes %s %s", p.Name, c.Name, x.Test+x.Measure, x.Is)
					continue
				}
				rivals[p.Name] = true
				if got, f := state(in); got != CauseAgainst {
					t.Errorf("%s, %s: %s although %s %s", p.Name, c.Name, got, x.Test+x.Measure, x.Is)
				} else if aimsAt(f) || f.Confidence != Tentative {
					t.Errorf("%s: %s is spoken against, yet aims %+v, %s", p.Name, c.Name, f.Aims, f.Confidence)
				}
			}
		}
		if len(p.Rivals) == 0 {
			t.Errorf("%s has no rival", p.Name)
		}
	}
	if supports < 30 || len(rivals) < 10 {
		t.Errorf("only %d conditions for and rivals of %d patterns were tried", supports, len(rivals))
	}
}

// What is common and harmless is listed, and given only with a complaint.
func TestQuietPatternsNeedAComplaint(t *testing.T) {
	for _, p := range Default().Patterns {
		if !p.Quiet {
			continue
		}
		in := fires(p)
		r := Reason(Default(), in)
		if len(r.Findings) != 0 || len(r.Others) != 1 || r.None == "" {
			t.Errorf("%s: %d findings, %d others, none: %q", p.Name, len(r.Findings), len(r.Others), r.None)
		}
		if len(p.Regions) == 0 {
			continue
		}
		region := p.Regions[0]
		if region == "any" {
			region = "shin"
		}
		in.Pains = []Pain{{Region: region, Side: body.Left, Score: 3}}
		if r := Reason(Default(), in); len(r.Findings) != 1 || r.None != "" {
			t.Errorf("%s with a complaint: %d findings", p.Name, len(r.Findings))
		}
	}
}

// Strong abductors forbid the explanation by weak ones, although knee and pelvis
// go together.
func TestExplanationSpokenAgainstIsNotGiven(t *testing.T) {
	in := Input{Measures: []Observed{observed("thigh_adduction", body.Left, 14, -9, 9), observed("pelvic_drop", body.Left, 11, -9, 9)}}
	if r := Reason(Default(), in); len(r.Findings) != 1 || r.Findings[0].Chain == nil {
		t.Fatalf("untested: %+v", r.Findings)
	}
	in.Exam = testOf(t, "hip_abduction_strength", 260, 262, "")
	r := Reason(Default(), in)
	if len(r.Findings) != 2 || r.Findings[0].Chain != nil || r.Findings[1].Chain != nil {
		t.Fatalf("strong: %+v", r.Findings)
	}
}

// A cause that the exam shows on both sides beyond its range asks for work on both,
// and says why, where the film shows it on one; a mere difference of the sides does
// not.
func TestExamOnBothSidesAsksForBoth(t *testing.T) {
	reach := observed("thigh_angle_at_toe_off", body.Left, -8, math.NaN(), math.NaN())
	for _, c := range []struct {
		left, right float64
		both        bool
	}{{-12, -14, true}, {-12, 12, false}} {
		r := Reason(Default(), Input{Measures: []Observed{reach}, Exam: testOf(t, "thomas_hip", c.left, c.right, "")})
		if len(r.Findings) != 1 {
			t.Fatalf("%d findings", len(r.Findings))
		}
		for _, a := range r.Findings[0].Aims {
			if a.Block == "lengthen" && a.Area == "hip_flexors" && ((a.Side == body.NoSide) != c.both || c.both && a.Why == "") {
				t.Errorf("Thomas %.0f and %.0f: %s %s, %q", c.left, c.right, a.Area, a.Side, a.Why)
			}
		}
		if len(r.Loose) != 0 {
			t.Errorf("Thomas %.0f and %.0f: told apart from the finding: %+v", c.left, c.right, r.Loose)
		}
	}
}

// What the exam shows without anything in the film is told, and is no finding.
func TestExamAloneIsToldAndNoFinding(t *testing.T) {
	r := Reason(Default(), Input{Measures: []Observed{observed("step_rate", body.NoSide, 172, 155, 190)}, Exam: testOf(t, "hip_abduction_strength", 110, 260, "")})
	if len(r.Findings)+len(r.Others) != 0 || len(r.Loose) != 1 || r.Loose[0].Side != body.Left {
		t.Errorf("%d findings, told alone %+v", len(r.Findings), r.Loose)
	}
}

// A difference of the sides inside the range never makes a finding well
// supported, and brings its disputed point along.
func TestSideDifferenceAloneIsNoStrongSupport(t *testing.T) {
	knee := observed("thigh_adduction", body.Left, 16, math.NaN(), math.NaN())
	apart := Reason(Default(), Input{Measures: []Observed{knee}, Exam: join(testOf(t, "hip_abduction_strength", 200, 290, ""), testOf(t, "hip_external_rotation_strength", 80, 120, ""))})
	f := apart.Findings[0]
	if f.Confidence == WellSupported || !slices.Contains(f.Contested, sidesPoint) {
		t.Errorf("%s, disputed %v", f.Confidence, f.Contested)
	}
}

// A test that was done and decides nothing is not called untested, and what is aimed
// at on that ground says so.
func TestDoneTestIsNotCalledUntested(t *testing.T) {
	var sheet exam.Sheet
	for _, side := range body.Sides {
		sheet.Entries = append(sheet.Entries, exam.Entry{Test: "hip_abduction_strength", Side: side, Trials: []exam.Trial{{ForceN: 180, LeverM: 0.4}, {ForceN: 181, LeverM: 0.4}}})
	}
	// For women there is no reference: both sides alike decide nothing.
	f := Reason(Default(), Input{Measures: []Observed{observed("pelvic_drop", body.Left, 11, -9, 6)}, Exam: exam.Score(sheet, exam.Body{MassKG: 60, Sex: "female"})}).Findings[0]
	c := f.Parts[0].Causes[0]
	if c.State != CauseUndecided || slices.Contains(f.TestNext, "hip_abduction_strength") {
		t.Errorf("%s, test next %v", c.State, f.TestNext)
	}
	if !slices.ContainsFunc(f.Aims, func(a SidedAim) bool { return strings.HasSuffix(a.Of, "("+Undecided+")") }) {
		t.Errorf("aims %+v", f.Aims)
	}
}

// A pain told above the limit refers its place until it is cleared at that score.
func TestTooMuchPainToldIsReferred(t *testing.T) {
	for _, c := range []struct {
		score, cleared int
		refer          bool
	}{{5, 0, false}, {6, 0, true}, {6, 6, false}, {8, 6, true}, {6, 8, false}} {
		in := Input{Pains: []Pain{{Region: "knee_front", Side: body.Left, Score: c.score}}}
		if c.cleared > 0 {
			in.ClearedPains = []Pain{{Region: "knee_front", Side: body.Left, Score: c.cleared}}
		}
		if r := Reason(Default(), in).Refer; (len(r) == 1) != c.refer || c.refer && (r[0].Region != "knee_front" || r[0].Side != body.Left) {
			t.Errorf("pain of %d, cleared to %d: referred %+v", c.score, c.cleared, r)
		}
	}
}

// Weaker in a test never takes what it speaks for away: on its side no pattern gets
// smaller, no cause loses its support and none is spoken against that was not.
func TestWeakerIsNeverMilder(t *testing.T) {
	often(t, func(t *rapid.T) {
		in := draw(t)
		var strong []int
		for i, r := range in.Exam.Readings {
			if r.Test.Kind == exam.Strength && r.HasValue() {
				strong = append(strong, i)
			}
		}
		if len(strong) == 0 {
			return
		}
		was := in.Exam.Readings[rapid.SampledFrom(strong).Draw(t, "test")]
		share := rapid.Float64Range(0.2, 1).Draw(t, "share")
		with := func(share float64) Input {
			var sheet exam.Sheet
			for _, r := range in.Exam.Readings {
				tr := exam.Trial{Value: r.Value}
				if r.Test.Kind == exam.Strength {
					tr = exam.Trial{ForceN: r.Value * 70 / 0.4, LeverM: 0.4}
					if r.Test.Name == was.Test.Name && r.Side == was.Side {
						tr.ForceN *= share
					}
				}
				if r.HasValue() {
					sheet.Entries = append(sheet.Entries, exam.Entry{Test: r.Test.Name, Side: r.Side, Trials: []exam.Trial{tr}, Felt: r.Felt})
				}
			}
			out := in
			out.Exam = exam.Score(sheet, exam.Body{MassKG: 70, Sex: "male"})
			return out
		}
		type key struct {
			pattern, cause string
			side           body.Side
		}
		causes := func(in Input) (map[key]CauseState, map[key]float64) {
			states, sizes := map[key]CauseState{}, map[key]float64{}
			r := Reason(Default(), in)
			for _, f := range append(r.Findings, r.Others...) {
				for _, p := range f.Parts {
					if p.Side != was.Side && p.Side != body.NoSide {
						continue
					}
					sizes[key{p.Pattern.Name, "", p.Side}] = p.Size
					for _, c := range p.Causes {
						if slices.ContainsFunc(c.Cause.For, func(x Condition) bool { return x.Test == was.Test.Name }) {
							states[key{p.Pattern.Name, c.Cause.Name, p.Side}] = c.State
						}
					}
				}
			}
			return states, sizes
		}
		before, sizeBefore := causes(with(1))
		after, sizeAfter := causes(with(share))
		for k, size := range sizeBefore {
			if sizeAfter[k] < size-1e-9 {
				t.Fatalf("%+v: %.3f, and weaker %.3f", k, size, sizeAfter[k])
			}
		}
		supported := func(s CauseState) bool { return s == CauseSupported || s == CauseMixed }
		spoken := func(s CauseState) bool { return s == CauseAgainst || s == CauseMixed }
		for k, s := range before {
			// Of the whole body the other side may be the one that speaks.
			if k.side != was.Side {
				continue
			}
			if supported(s) && !supported(after[k]) || !spoken(s) && spoken(after[k]) {
				t.Fatalf("%+v: %s, and weaker (%s %.2f) %s", k, s, was.Test.Name, share, after[k])
			}
		}
	})
}

// Each explanation of several: with what it needs and no more it is not given; with as
// much beside it as it asks for it is, and covers all of it; where what speaks against
// it holds, each pattern stands for itself.
func TestEveryChain(t *testing.T) {
	rules := Default()
	fire := func(in Input, name string) Input {
		more := fires(rules.Pattern(name))
		in.Measures = append(slices.Clone(in.Measures), more.Measures...)
		return in
	}
	given := func(in Input, c *Chain) (Finding, bool) {
		r := Reason(rules, in)
		for _, f := range append(r.Findings, r.Others...) {
			if f.Chain == c {
				return f, true
			}
		}
		return Finding{}, false
	}
	for _, c := range rules.Chains {
		var needs Input
		for _, n := range c.Needs {
			needs = fire(needs, n)
		}
		if _, ok := given(needs, c); ok {
			t.Errorf("%s: given with nothing beside what it needs", c.Name)
		}
		for _, beside := range c.Patterns {
			in := fire(needs, beside)
			f, ok := given(in, c)
			if !ok && c.Least <= 1 {
				t.Errorf("%s: not given with %s beside", c.Name, beside)
			} else if ok && !slices.ContainsFunc(f.Parts, func(p Part) bool { return p.Pattern.Name == beside }) {
				t.Errorf("%s: does not cover %s", c.Name, beside)
			}
			side := body.NoSide
			if c.Each {
				side = body.Left
			}
			for _, x := range c.Unless {
				against, ok := holding(t, in, x, side)
				if !ok {
					t.Errorf("%s: nothing makes %s %s", c.Name, x.Test, x.Is)
				} else if _, ok := given(against, c); ok {
					t.Errorf("%s: given although %s is %s", c.Name, x.Test, x.Is)
				}
			}
		}
		for _, x := range c.Exam {
			in, ok := holding(t, needs, x, body.Left)
			if !ok {
				t.Errorf("%s: nothing makes %s %s", c.Name, x.Test, x.Is)
			} else if f, ok := given(in, c); !ok || len(f.Exam) == 0 {
				t.Errorf("%s: not given with %s %s", c.Name, x.Test, x.Is)
			}
		}
	}
}

// A limit that counts only beside another pattern fires with it, beyond its error, and
// never without.
func TestLimitsThatCountTogether(t *testing.T) {
	tried := 0
	for _, p := range Default().Patterns {
		for _, c := range p.Core {
			if c.With == "" {
				continue
			}
			tried++
			beyond := func(d float64) Observed {
				v := *c.Limit + d
				if c.Is == "below" {
					v = *c.Limit - d
				}
				return observed(c.Measure, sideOf(c.Measure, body.Left), v, math.NaN(), math.NaN())
			}
			sees := func(in Input) bool {
				r := Reason(Default(), in)
				return slices.ContainsFunc(append(r.Findings, r.Others...), func(f Finding) bool {
					return slices.ContainsFunc(f.Parts, func(x Part) bool { return x.Pattern == p })
				})
			}
			with := fires(Default().Pattern(c.With))
			for _, x := range []struct {
				in   Input
				want bool
			}{
				{Input{Measures: append(slices.Clone(with.Measures), beyond(1.96+1e-6))}, true},
				{Input{Measures: append(slices.Clone(with.Measures), beyond(1.96-1e-6))}, false},
				{Input{Measures: []Observed{beyond(20)}}, false},
			} {
				if sees(x.in) != x.want {
					t.Errorf("%s by %s: seen %v, want %v", p.Name, c.Measure, !x.want, x.want)
				}
			}
		}
	}
	if tried == 0 {
		t.Error("no limit counts only beside another pattern")
	}
}
