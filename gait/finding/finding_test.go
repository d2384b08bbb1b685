package finding

import (
	"math"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/exam"
	"gaitwright/gait/measure"

	"pgregory.net/rapid"
)

// observed makes a measure with an SEM of 1 and a range from low to high.
func observed(name string, side body.Side, value, low, high float64) Observed {
	d, _ := measure.Lookup(name)
	return Observed{Measure: measure.Measure{Name: name, Side: side, Value: value, Unit: d.Unit, SEM: 1, MDC95: 1.96 * math.Sqrt2, Strides: 20, Origin: "marker file"},
		Low: low, High: high, RangeSource: "test"}
}

// sideOf is the side on which a measure of a condition is given.
func sideOf(name string, side body.Side) body.Side {
	d, _ := measure.Lookup(name)
	if !d.Sided {
		return body.NoSide
	}
	return side
}

// Each core condition of each pattern: just inside its error nothing is seen, just
// outside it is, and the size turns from slight to clear at one smallest real
// change and to large at two.
func TestEveryCoreConditionFiresBeyondItsErrorOnly(t *testing.T) {
	rules := Default()
	const low, high = -40.0, 60.0
	tried := 0
	for _, p := range rules.Patterns {
		side := body.NoSide
		if p.Each {
			side = body.Left
		}
		var core []Condition
		for _, c := range p.Core {
			if c.Measure == "" || c.With != "" {
				continue
			}
			core = append(core, c)
			if c.Is == "outside" {
				c.Is = "outside, low"
				core = append(core, c)
			}
		}
		for _, c := range core {
			tried++
			up, limit := true, high
			if c.Is == "below" || c.Is == "outside, low" {
				up, limit = false, low
			}
			if c.Limit != nil && !c.Range {
				limit = *c.Limit
				if c.Is == "outside, low" {
					limit = -limit
				}
			}
			reach := func(beyond float64) []Part {
				v := limit + beyond
				if !up {
					v = limit - beyond
				}
				b := &bench{rules: rules, in: &Input{Measures: []Observed{observed(c.Measure, sideOf(c.Measure, side), v, low, high)}}, seen: map[string]map[body.Side]bool{}}
				return b.look(p)
			}
			if got := reach(1.96 - 1e-6); len(got) != 0 {
				t.Errorf("%s by %s: seen within the error", p.Name, c.Measure)
			}
			if got := reach(1.96 + 1e-6); len(got) == 0 || got[0].Side != side {
				t.Errorf("%s by %s: not seen beyond the error", p.Name, c.Measure)
				continue
			}
			mdc := 1.96 * math.Sqrt2
			for _, w := range []struct {
				beyond float64
				word   string
			}{{mdc - 1e-6, "slight"}, {mdc + 1e-6, "clear"}, {2*mdc - 1e-6, "clear"}, {2*mdc + 1e-6, "large"}} {
				if got := Size(reach(w.beyond)[0].Size); got != w.word {
					t.Errorf("%s by %s, %.2f beyond: %s, want %s", p.Name, c.Measure, w.beyond, got, w.word)
				}
			}
			// A known bias toward the poor side widens the error.
			o := observed(c.Measure, sideOf(c.Measure, side), limit+2.5, low, high)
			o.Bias = 1
			if !up {
				o.Value, o.Bias = limit-2.5, -1
			}
			b := &bench{rules: rules, in: &Input{Measures: []Observed{o}}, seen: map[string]map[body.Side]bool{}}
			if got := b.look(p); len(got) != 0 {
				t.Errorf("%s by %s: seen although the bias explains it", p.Name, c.Measure)
			}
		}
	}
	if tried < 18 {
		t.Errorf("only %d conditions were tried", tried)
	}
}

// testOf makes a report with one test done left and right.
func testOf(t *testing.T, name string, left, right float64, felt string) exam.Report {
	x, ok := exam.Lookup(name)
	if !ok {
		t.Fatal("no test ", name)
	}
	entry := func(side body.Side, v float64) exam.Entry {
		tr := exam.Trial{Value: v}
		if x.Kind == exam.Strength {
			tr = exam.Trial{ForceN: v, LeverM: 0.4}
		}
		return exam.Entry{Test: name, Side: side, Trials: []exam.Trial{tr}, Felt: felt}
	}
	s := exam.Sheet{Entries: []exam.Entry{entry(body.Left, left), entry(body.Right, right)}}
	if errs := s.Check(); len(errs) > 0 {
		t.Fatal(errs)
	}
	return exam.Score(s, exam.Body{MassKG: 70, Sex: "male"})
}

func join(reports ...exam.Report) exam.Report {
	var out exam.Report
	for _, r := range reports {
		out.Readings = append(out.Readings, r.Readings...)
		out.Pairs = append(out.Pairs, r.Pairs...)
		out.Pains = append(out.Pains, r.Pains...)
	}
	return out
}

// An inward knee with weak abductors on that side has that cause; with strong
// ones the cause is spoken against and gives no aim, and the rivals stay.
func TestExamSpeaksForAndAgainst(t *testing.T) {
	knee := observed("thigh_adduction", body.Left, 14, math.NaN(), math.NaN())
	weak := Reason(Default(), Input{Measures: []Observed{knee}, Exam: testOf(t, "hip_abduction_strength", 110, 260, "")})
	if len(weak.Findings) != 1 || weak.Findings[0].Name != "hip_lets_go" || !slices.Equal(weak.Findings[0].Sides, []body.Side{body.Left}) {
		t.Fatalf("findings %+v", weak.Findings)
	}
	f := weak.Findings[0]
	if f.Parts[0].Causes[0].State != CauseSupported || !hasAim(f, "strengthen", "glute_med", body.Left) || hasAim(f, "strengthen", "glute_med", body.Right) {
		t.Errorf("weak: causes %+v, aims %+v", f.Parts[0].Causes[0].State, f.Aims)
	}
	strong := Reason(Default(), Input{Measures: []Observed{knee}, Exam: testOf(t, "hip_abduction_strength", 260, 262, "")})
	f = strong.Findings[0]
	if f.Name != "inward_knee" || f.Parts[0].Causes[0].State != CauseAgainst || hasAim(f, "strengthen", "glute_med", body.Left) {
		t.Errorf("strong: %s %+v, aims %+v", f.Name, f.Parts[0].Causes[0].State, f.Aims)
	}
	if f.Confidence != Tentative || len(f.Parts[0].Pattern.Rivals) == 0 || len(f.TestNext) == 0 {
		t.Errorf("strong: confidence %s, next %v", f.Confidence, f.TestNext)
	}
	none := Reason(Default(), Input{Measures: []Observed{knee}}).Findings[0]
	if none.Parts[0].Causes[0].State != CauseOpen || !slices.Contains(none.TestNext, "hip_abduction_strength") {
		t.Errorf("untested: %+v, next %v", none.Parts[0].Causes[0].State, none.TestNext)
	}
}

func hasAim(f Finding, block, area string, side body.Side) bool {
	return slices.ContainsFunc(f.Aims, func(a SidedAim) bool {
		return a.Block == block && a.Area == area && (a.Side == side || a.Side == body.NoSide)
	})
}

// Weak abductors, tight adductors, an inward knee, a dropping pelvis and a leaning
// trunk are one finding, not five.
func TestOneExplanationForWhatBelongsTogether(t *testing.T) {
	in := Input{
		Measures: []Observed{
			observed("thigh_adduction", body.Right, 14, math.NaN(), math.NaN()),
			observed("pelvic_drop", body.Right, 11, 3, 6),
			observed("lateral_trunk_lean", body.Right, 11, math.NaN(), math.NaN()),
			observed("step_rate", body.NoSide, 155, 160, 185),
			observed("overstride", body.Left, 9, 1, 4), observed("overstride", body.Right, 9, 1, 4),
		},
		Exam:  join(testOf(t, "hip_abduction_strength", 260, 110, ""), testOf(t, "adductor_length", 50, 20, "")),
		Pains: []Pain{{Region: "knee_front", Side: body.Right, Score: 3}},
	}
	r := Reason(Default(), in)
	if len(r.Findings) != 2 || len(r.Others) != 0 {
		t.Fatalf("%d findings, %d others", len(r.Findings), len(r.Others))
	}
	names := []string{r.Findings[0].Name, r.Findings[1].Name}
	slices.Sort(names)
	if !slices.Equal(names, []string{"hip_lets_go", "slow_and_long"}) {
		t.Fatalf("findings %v", names)
	}
	for _, f := range r.Findings {
		if f.Rank.Complaint == 0 {
			t.Errorf("%s is not linked to the knee that hurts", f.Name)
		}
		if f.Name == "hip_lets_go" && (len(f.Parts) != 3 || f.Confidence != WellSupported || !hasAim(f, "release", "adductors", body.Right)) {
			t.Errorf("%s: %d parts, %s, aims %+v", f.Name, len(f.Parts), f.Confidence, f.Aims)
		}
	}
}

func TestBothSidesAreOneFinding(t *testing.T) {
	r := Reason(Default(), Input{Measures: []Observed{
		observed("ankle_dorsiflexion_peak", body.Left, 10, 20, 30), observed("ankle_dorsiflexion_peak", body.Right, 12, 20, 30)}})
	if len(r.Findings) != 1 || len(r.Findings[0].Sides) != 2 || !strings.Contains(r.Findings[0].Text, "left and right") {
		t.Errorf("findings %+v", r.Findings)
	}
}

func TestNoneWhereNoneIsWarranted(t *testing.T) {
	r := Reason(Default(), Input{Measures: []Observed{observed("step_rate", body.NoSide, 172, 155, 190), observed("trunk_lean", body.NoSide, 7, 0, 14)}})
	if len(r.Findings) != 0 || !strings.Contains(r.None, "no reason to change anything") || r.Looked == 0 || len(r.Blind) == 0 {
		t.Errorf("report %+v", r)
	}
	if r := Reason(Default(), Input{}); r.None != "nothing was measured that a finding could rest on" {
		t.Errorf("blind: %q", r.None)
	}
}

// However far the foot strike lies from anything, it is no finding.
func TestFootStrikeIsNoFault(t *testing.T) {
	for _, v := range []float64{-40, 60} {
		o := observed("foot_angle_at_contact", body.Left, v, 0, 10)
		if r := Reason(Default(), Input{Measures: []Observed{o}}); len(r.Findings)+len(r.Others) != 0 {
			t.Errorf("foot angle %.0f: %+v", v, r.Findings)
		}
	}
	bad := strings.Replace(string(rulesYAML), "measure: thigh_adduction", "measure: foot_angle_at_contact", 1)
	if _, err := Parse([]byte(bad)); err == nil || !strings.Contains(err.Error(), "no fault") {
		t.Errorf("a rule that makes the foot strike a fault was taken: %v", err)
	}
}

func TestWarningSignsRefer(t *testing.T) {
	e := exam.Entry{Test: "hop", Side: body.Right, Trials: []exam.Trial{{Value: 100, Pain: 7}}}
	r := Reason(Default(), Input{
		Exam:  exam.Score(exam.Sheet{Entries: []exam.Entry{e}}, exam.Body{}),
		Stops: []Stop{{Region: "shin", Side: body.Left, Why: "pin-point bone pain"}, {Region: "shin", Side: body.Left, Why: "pain at night"}, {Region: "calf", Why: "swelling", Cleared: true}},
	})
	want := []Referral{{"leg", body.Right, []string{"Single-leg hop for distance hurt, 7 of 10"}}, {"shin", body.Left, []string{"pain at night", "pin-point bone pain"}}}
	if !reflect.DeepEqual(r.Refer, want) {
		t.Errorf("referrals %+v", r.Refer)
	}
	mild := exam.Entry{Test: "hop", Side: body.Right, Trials: []exam.Trial{{Value: 100, Pain: 3}}}
	if r := Reason(Default(), Input{Exam: exam.Score(exam.Sheet{Entries: []exam.Entry{mild}}, exam.Body{})}); len(r.Refer) != 0 {
		t.Errorf("pain 3 refers: %+v", r.Refer)
	}
}

var required = []string{"inward_knee", "pelvic_drop", "narrow_step", "heel_whip", "lost_hip_extension", "arched_back", "overstride", "low_step_rate", "bounce",
	"stiff_ankle", "trunk_forward", "trunk_back", "trunk_side", "asymmetry", "rearfoot_eversion", "arm_cross"}

// Words that name a disease or promise a cure do not occur in the rules.
var forbidden = regexp.MustCompile(`(?i)\b(syndrome|tendinopathy|tendinitis|fasciitis|arthritis|osteo\w*|bursitis|sciatica|scoliosis|patellofemoral pain|cure[sd]?|heal[s]?|guarantee\w*|will prevent)\b`)

func TestRulesAreWhole(t *testing.T) {
	r := Default()
	for _, n := range required {
		if r.Pattern(n) == nil {
			t.Errorf("pattern %s is missing", n)
		}
	}
	if len(r.Contested) != 14 {
		t.Errorf("%d contested points, want 14", len(r.Contested))
	}
	if m := forbidden.FindString(string(rulesYAML)); m != "" {
		t.Errorf("the rules say %q", m)
	}
	for _, p := range r.Patterns {
		if p.Each != strings.Contains(p.Seen, "%s") {
			t.Errorf("%s: the side in what is seen", p.Name)
		}
	}
}

func TestWrongRulesAreNamed(t *testing.T) {
	text := string(rulesYAML)
	for _, c := range []struct{ from, to, want string }{
		{"measure: pelvic_drop", "measure: pelvic_dorp", "pelvic_dorp"},
		{"test: single_leg_squat", "test: squat", "squat"},
		{"is: above, limit: 8,", "is: above,", "limit"},
		{"contested: [3, 4, 14]", "contested: [3, 4, 99]", "99"},
		{"needs: [inward_knee]", "needs: [inward_elbow]", "inward_elbow"},
		{"name: pelvic_drop", "name: inward_knee", "twice"},
		{"block: integrate", "block: scold", "scold is none of release, lengthen"},
		{"version: 2", "version: 2\nsurprise: 2", "surprise: not a name"},
		{"with: overstride", "with: understride", "understride"},
		{"lunge_deg: lunge_cm", "lunge_deg: lunge_inch", "lunge_inch"},
	} {
		if !strings.Contains(text, c.from) {
			t.Fatalf("the rules have no %q", c.from)
		}
		if _, err := Parse([]byte(strings.Replace(text, c.from, c.to, 1))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v", c.to, err)
		}
	}
}

// often tries a property on a thousand runners.
func often(t *testing.T, property func(*rapid.T)) {
	for range 10 {
		rapid.Check(t, property)
	}
}

// draw makes a runner at random.
func draw(t *rapid.T) Input {
	var in Input
	for _, d := range measure.Catalogue() {
		if !rapid.Bool().Draw(t, d.Name) {
			continue
		}
		sides := []body.Side{body.NoSide}
		if d.Sided {
			sides = []body.Side{body.Left, body.Right}
		}
		for _, s := range sides {
			o := observed(d.Name, s, rapid.Float64Range(-60, 200).Draw(t, "value"), -10, 30)
			o.SEM = rapid.Float64Range(0.1, 6).Draw(t, "sem")
			o.MDC95 = 1.96 * math.Sqrt2 * o.SEM
			if rapid.IntRange(0, 5).Draw(t, "norange") == 0 {
				o.Low, o.High = math.NaN(), math.NaN()
			}
			in.Measures = append(in.Measures, o)
		}
	}
	var s exam.Sheet
	for _, x := range exam.Catalogue() {
		if !x.HasSides() || !rapid.Bool().Draw(t, x.Name) {
			continue
		}
		for _, side := range []body.Side{body.Left, body.Right} {
			tr := exam.Trial{Value: rapid.Float64Range(x.Low, max(x.Low, x.High)).Draw(t, "v"), Pain: rapid.SampledFrom([]int{0, 0, 0, 4, 8}).Draw(t, "pain")}
			if x.Kind == exam.Strength {
				tr.ForceN, tr.LeverM = rapid.Float64Range(40, 400).Draw(t, "f"), 0.4
			}
			e := exam.Entry{Test: x.Name, Side: side, Trials: []exam.Trial{tr}}
			if len(x.Felt) > 0 {
				e.Felt = rapid.SampledFrom(x.Felt).Draw(t, "felt")
			}
			s.Entries = append(s.Entries, e)
		}
	}
	in.Exam = exam.Score(s, exam.Body{MassKG: 70, Sex: "male"})
	for _, region := range []string{"knee_front", "shin", "hip_outer"} {
		if rapid.Bool().Draw(t, region) {
			in.Pains = append(in.Pains, Pain{region, rapid.SampledFrom([]body.Side{body.Left, body.Right}).Draw(t, "ps"), rapid.IntRange(1, 9).Draw(t, "score")})
		}
	}
	return in
}

func TestOrderNeverMatters(t *testing.T) {
	often(t, func(t *rapid.T) {
		in := draw(t)
		one := Reason(Default(), in)
		two := in
		two.Measures = slices.Clone(in.Measures)
		two.Pains = slices.Clone(in.Pains)
		two.Exam.Readings = slices.Clone(in.Exam.Readings)
		two.Exam.Pairs = slices.Clone(in.Exam.Pairs)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		r.Shuffle(len(two.Measures), func(i, k int) { two.Measures[i], two.Measures[k] = two.Measures[k], two.Measures[i] })
		r.Shuffle(len(two.Pains), func(i, k int) { two.Pains[i], two.Pains[k] = two.Pains[k], two.Pains[i] })
		r.Shuffle(len(two.Exam.Readings), func(i, k int) {
			two.Exam.Readings[i], two.Exam.Readings[k] = two.Exam.Readings[k], two.Exam.Readings[i]
		})
		r.Shuffle(len(two.Exam.Pairs), func(i, k int) { two.Exam.Pairs[i], two.Exam.Pairs[k] = two.Exam.Pairs[k], two.Exam.Pairs[i] })
		other := Reason(Default(), two)
		if a, b := outline(one), outline(other); !slices.Equal(a, b) {
			t.Fatalf("order matters:\n%v\n%v", a, b)
		}
	})
}

func outline(r Report) []string {
	var out []string
	for _, f := range append(slices.Clone(r.Findings), r.Others...) {
		s := f.Name + " " + string(f.Confidence) + " " + sidesInWords(f.Sides)
		for _, p := range f.Parts {
			s += " " + p.Pattern.Name + "/" + p.Side.String()
		}
		for _, a := range f.Aims {
			s += " " + a.Block + ":" + a.Area + "/" + a.Side.String()
		}
		out = append(out, s)
	}
	for _, x := range r.Refer {
		out = append(out, x.Region+strings.Join(x.Why, ","))
	}
	return out
}

// A worse number never makes a pattern smaller or lets it vanish, and never puts
// its finding lower by its own size.
func TestWorseIsNeverMilder(t *testing.T) {
	often(t, func(t *rapid.T) {
		in := draw(t)
		if len(in.Measures) == 0 {
			return
		}
		p := rapid.SampledFrom(Default().Patterns).Draw(t, "pattern")
		c := rapid.SampledFrom(p.Core).Draw(t, "core")
		i := slices.IndexFunc(in.Measures, func(o Observed) bool { return o.Name == c.Measure })
		if i < 0 {
			return
		}
		size := func(in Input) (size, rank float64) {
			r := Reason(Default(), in)
			for _, f := range append(r.Findings, r.Others...) {
				for _, x := range f.Parts {
					if x.Pattern == p && (x.Side == body.NoSide || in.Measures[i].Side == body.NoSide || x.Side == in.Measures[i].Side) {
						size, rank = max(size, x.Size), max(rank, f.Rank.Total())
					}
				}
			}
			return size, rank
		}
		before, rankBefore := size(in)
		worse := in
		worse.Measures = slices.Clone(in.Measures)
		d := rapid.Float64Range(0, 50).Draw(t, "worse")
		// Worse is farther from the range: of two ends from the nearer one.
		o := &worse.Measures[i]
		low, high := o.Low, o.High
		if c.Limit != nil {
			low, high = -*c.Limit, *c.Limit
		}
		if c.Is == "below" || c.Is == "outside" && o.Value < (low+high)/2 {
			d = -d
		}
		o.Value += d
		after, rankAfter := size(worse)
		if after < before-1e-9 {
			t.Fatalf("%s by %s: size %.3f, and worse by %.1f only %.3f", p.Name, c.Measure, before, d, after)
		}
		if rankAfter < rankBefore-1e-9 {
			t.Fatalf("%s by %s: rank %.3f, and worse by %.1f only %.3f", p.Name, c.Measure, rankBefore, d, rankAfter)
		}
	})
}

// Whatever the runner, at most three findings, ordered, and no finding without a
// measure beyond its error.
func TestEveryReportHolds(t *testing.T) {
	often(t, func(t *rapid.T) {
		r := Reason(Default(), draw(t))
		loud := slices.ContainsFunc(r.Others, func(f Finding) bool { return !f.quiet() })
		if len(r.Findings) > MaxFindings || len(r.Findings) < MaxFindings && loud || slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.quiet() }) {
			t.Fatalf("%d findings, %d others", len(r.Findings), len(r.Others))
		}
		all := append(slices.Clone(r.Findings), r.Others...)
		names := map[string]bool{}
		for i, f := range all {
			if i > 0 && i != len(r.Findings) && f.Rank.Total() > all[i-1].Rank.Total()+1e-9 {
				t.Fatal("not in order")
			}
			if names[f.Name] {
				t.Fatalf("%s is there twice", f.Name)
			}
			names[f.Name] = true
			for _, p := range f.Parts {
				if len(p.Seen) == 0 || p.Size <= 0 {
					t.Fatalf("%s without anything seen", f.Name)
				}
				if len(f.Sides) > 0 && p.Side != body.NoSide && !slices.Contains(f.Sides, p.Side) {
					t.Fatalf("%s on %v has a part on the %s", f.Name, f.Sides, p.Side)
				}
			}
			if len(f.Overturn) == 0 || len(f.Contested) == 0 || f.Confidence.Meaning() == "" || strings.Contains(f.Text, "%") {
				t.Fatalf("%s is not whole: %+v", f.Name, f)
			}
		}
		if (len(r.Findings) == 0) != (r.None != "") {
			t.Fatal("none without saying so")
		}
	})
}
