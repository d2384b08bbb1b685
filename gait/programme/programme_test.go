package programme

import (
	"encoding/json"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"

	"pgregory.net/rapid"
)

var start = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

// everyAim lists the aims of all rules.
func everyAim() []finding.Aim {
	var out []finding.Aim
	add := func(aims []finding.Aim) {
		for _, a := range aims {
			if !slices.ContainsFunc(out, func(x finding.Aim) bool { return x.Block == a.Block && x.Area == a.Area }) {
				out = append(out, a)
			}
		}
	}
	for _, p := range finding.Default().Patterns {
		add(p.Aims)
		for _, c := range p.Causes {
			add(c.Aims)
		}
	}
	return out
}

func TestLibraryIsWhole(t *testing.T) {
	lib := Default()
	if n := len(lib.Exercises); n < 60 {
		t.Errorf("%d exercises, want 60 at least", n)
	}
	for _, a := range everyAim() {
		found := false
		for _, e := range lib.Exercises {
			found = found || e.Block == a.Block && e.Area == a.Area && serves(e, Input{}, nil) == ""
		}
		if !found {
			t.Errorf("%s %s: no exercise that needs no equipment", a.Block, a.Area)
		}
	}
	wrong := regexp.MustCompile(`(?i)\b(cure|heals?|syndrome|guarantee|prevents injur)`)
	for _, e := range lib.Exercises {
		for _, text := range append([]string{e.Title, e.Cue, e.Felt, e.Evidence}, e.How...) {
			if m := wrong.FindString(text); m != "" {
				t.Errorf("%s says %q", e.Name, m)
			}
		}
		if e.NotFelt == "" {
			t.Errorf("%s does not say where it should not be felt", e.Name)
		}
		if reflect.DeepEqual(e.Start, e.End) {
			t.Errorf("%s: start and end look the same", e.Name)
		}
	}
}

// A harder exercise is not of a lower level, and an easier one not of a higher.
func TestRegressionsAndProgressions(t *testing.T) {
	lib := Default()
	for _, e := range lib.Exercises {
		if e.Easier == "" && e.Harder == "" {
			t.Errorf("%s has neither an easier nor a harder one", e.Name)
		}
		if h := lib.Lookup(e.Harder); h != nil && h.Level < e.Level {
			t.Errorf("%s, level %d, is said to be easier than %s, level %d", e.Name, e.Level, h.Name, h.Level)
		}
		if x := lib.Lookup(e.Easier); x != nil && x.Level > e.Level {
			t.Errorf("%s, level %d, is said to be harder than %s, level %d", e.Name, e.Level, x.Name, x.Level)
		}
	}
}

func TestTimeOfADose(t *testing.T) {
	for _, c := range []struct {
		dose  Dose
		sides int
		want  int
	}{
		{Dose{Sets: 1, Seconds: 15}, 1, 35},
		{Dose{Sets: 2, Reps: 10, HoldS: 3, RestS: 15}, 1, 2*10*5 + 15 + 20},
		{Dose{Sets: 3, Reps: 8, Pace: "3-1-1", RestS: 60}, 2, 2*(3*8*5+2*60) + 20},
	} {
		if got := c.dose.TimeS(c.sides); got != c.want {
			t.Errorf("%+v on %d sides takes %d s, want %d", c.dose, c.sides, got, c.want)
		}
	}
}

func drawInput(t *rapid.T) Input {
	in := Input{Start: start, Weeks: rapid.IntRange(1, 12).Draw(t, "weeks"), FullMin: rapid.IntRange(5, 40).Draw(t, "full"), WarmMin: rapid.IntRange(3, 12).Draw(t, "warm"),
		FullDays: rapid.IntRange(1, 7).Draw(t, "days"), RunDays: rapid.SampledFrom([]int{-1, 1, 2, 3, 4, 7}).Draw(t, "runs")}
	for _, a := range everyAim() {
		if rapid.IntRange(0, 3).Draw(t, a.Area) == 0 {
			in.Aims = append(in.Aims, finding.SidedAim{Aim: a, Side: rapid.SampledFrom([]body.Side{body.NoSide, body.Left, body.Right}).Draw(t, "side"), Of: "x"})
		}
	}
	for _, a := range everyAim() {
		if rapid.IntRange(0, 9).Draw(t, "spared "+a.Area) == 0 && !slices.ContainsFunc(in.Aims, func(x finding.SidedAim) bool { return x.Area == a.Area }) {
			in.Spared = append(in.Spared, a)
		}
	}
	for _, e := range Equipment {
		if rapid.Bool().Draw(t, e) {
			in.Equipment = append(in.Equipment, e)
		}
	}
	regions := []string{"knee_front", "hip", "groin", "achilles", "calf", "low_back", "shin", "heel", "knee", "thigh_back", "shoulder", ""}
	for _, r := range regions {
		if r != "" && rapid.IntRange(0, 4).Draw(t, "pain "+r) == 0 {
			in.Pains = append(in.Pains, finding.Pain{Region: r, Score: rapid.IntRange(1, 10).Draw(t, "score")})
		}
		if rapid.IntRange(0, 14).Draw(t, "refer "+r) == 0 {
			in.Refer = append(in.Refer, finding.Referral{Region: r, Why: []string{"a sign"}})
		}
	}
	return in
}

func checkPlan(t *rapid.T, lib *Library, in Input, p Plan) {
	in = in.defaults()
	shut := closed(in)
	if _, all := shut[""]; all && (p.None == "" || len(p.Weeks) > 0) {
		t.Fatal("a programme although the runner was referred")
	}
	if p.None != "" {
		return
	}
	if len(p.Weeks) != in.Weeks || !p.Retest.Equal(start.AddDate(0, 0, 7*in.Weeks)) {
		t.Fatalf("%d weeks, re-test %s", len(p.Weeks), p.Retest)
	}
	for i := 1; i < len(p.FullDays); i++ {
		if p.FullDays[i]-p.FullDays[i-1] < 2 {
			t.Fatalf("full sessions on days %v", p.FullDays)
		}
	}
	for _, w := range p.Weeks {
		for _, s := range []struct {
			what  string
			items []Item
			limit int
		}{{"warm-up", w.Warm, in.WarmMin * 60}, {"full session", w.Full, in.FullMin * 60}, {"running", w.Running, 0}} {
			if s.limit > 0 && TimeS(lib, s.items) > s.limit {
				t.Fatalf("week %d: the %s takes %d s of %d", w.Number, s.what, TimeS(lib, s.items), s.limit)
			}
			seen := map[string]bool{}
			last := 0
			for _, i := range s.items {
				e := lib.Lookup(i.Exercise)
				if e == nil {
					t.Fatalf("no exercise %s", i.Exercise)
				}
				if seen[i.Exercise] {
					t.Fatalf("week %d: %s twice in the %s", w.Number, i.Exercise, s.what)
				}
				seen[i.Exercise] = true
				if why := serves(e, in, shut); why != "" {
					t.Fatalf("week %d: %s %s", w.Number, i.Exercise, why)
				}
				if b := slices.Index(Blocks, e.Block); s.what != "running" {
					if b < last {
						t.Fatalf("week %d: %s is out of order", w.Number, i.Exercise)
					}
					last = b
				}
				if err := i.Dose.Check(); err != nil {
					t.Fatalf("week %d: %s: %v", w.Number, i.Exercise, err)
				}
				aims := supported(in.Aims, in.Spared)
				a := slices.IndexFunc(aims, func(a weighed) bool { return a.Block == e.Block && a.Area == e.Area })
				if a < 0 { // neither found, nor supporting, nor foundation
					t.Fatalf("%s serves nothing that was found", i.Exercise)
				}
				if e.Each && i.Side != aims[a].Side || !e.Each && i.Side != body.NoSide {
					t.Fatalf("%s on %s, found on %s", i.Exercise, i.Side, in.Aims[a].Side)
				}
			}
		}
		for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
			e := lib.Lookup(i.Exercise)
			if slices.ContainsFunc(in.Spared, func(a finding.Aim) bool { return spares(a, finding.Aim{Block: e.Block, Area: e.Area}) }) {
				t.Fatalf("week %d: %s for what the exam speaks against", w.Number, i.Exercise)
			}
			if r, _ := grounded(shut); r != "" && (e.Run || e.Stands) {
				t.Fatalf("week %d: %s although the %s was referred", w.Number, i.Exercise, r)
			}
			// No dose falls.
			if w.Number > 1 {
				was := p.Weeks[w.Number-2].Full
				k := slices.IndexFunc(was, func(x Item) bool { return x.Exercise == i.Exercise })
				now := slices.IndexFunc(w.Full, func(x Item) bool { return x.Exercise == i.Exercise })
				if k >= 0 && now >= 0 && more(was[k].Dose, w.Full[now].Dose) {
					t.Fatalf("week %d: the dose of %s falls from %+v to %+v", w.Number, i.Exercise, was[k].Dose, w.Full[now].Dose)
				}
			}
		}
		if r, _ := grounded(shut); (r != "") != (p.NoRun != "") || p.NoRun != "" && (len(w.Warm)+len(w.Running)+len(p.RunDays) > 0) {
			t.Fatalf("week %d: %s is referred; %q, warm-up of %d, %d drills, runs on %v", w.Number, r, p.NoRun, len(w.Warm), len(w.Running), p.RunDays)
		}
		if s := TimeS(lib, w.Full); s < leastFull(in.FullMin) && p.Short == "" {
			t.Fatalf("week %d: a full session of %d s, and nothing is said", w.Number, s)
		}
		runs := 0
		for _, i := range w.Running {
			runs += i.Dose.PerWeek
		}
		if len(w.Running) > 2 || runs > len(p.RunDays) || w.Number == 1 && len(w.Running) > 1 && in.Weeks > 3 {
			t.Fatalf("week %d: %d drills on %d of %d runs", w.Number, len(w.Running), runs, len(p.RunDays))
		}
		for _, i := range w.Full {
			if i.Dose.PerWeek != len(p.FullDays) {
				t.Fatalf("week %d: %s on %d days, there are %d", w.Number, i.Exercise, i.Dose.PerWeek, len(p.FullDays))
			}
		}
		checkWarmUp(t, lib, w)
	}
	checkForward(t, lib, p)
	checkCalf(t, lib, in, p)
}

// checkWarmUp holds that a warm-up has no harder form of what the full session
// teaches.
func checkWarmUp(t *rapid.T, lib *Library, w Week) {
	for _, i := range w.Warm {
		e := lib.Lookup(i.Exercise)
		for _, k := range w.Full {
			f := lib.Lookup(k.Exercise)
			if f != e && lib.family(f) == lib.family(e) && e.Level > f.Level {
				t.Fatalf("week %d: %s in the warm-up, %s in the full session", w.Number, i.Exercise, k.Exercise)
			}
		}
	}
}

// checkForward holds that a programme goes forward: what was given up does not come
// back, nothing easier follows on something harder, and a first week has no more
// than the exercise's own dose.
func checkForward(t *rapid.T, lib *Library, p Plan) {
	for _, list := range []func(Week) []Item{func(w Week) []Item { return w.Full }, func(w Week) []Item { return w.Warm }} {
		gone := map[string]int{}
		for n, w := range p.Weeks {
			now := list(w)
			has := func(items []Item, name string) bool {
				return slices.ContainsFunc(items, func(i Item) bool { return i.Exercise == name })
			}
			var was []Item
			if n > 0 {
				was = list(p.Weeks[n-1])
			}
			for _, i := range was {
				if !has(now, i.Exercise) {
					gone[i.Exercise] = w.Number
				}
			}
			for _, i := range now {
				e := lib.Lookup(i.Exercise)
				if k, ok := gone[i.Exercise]; ok {
					t.Fatalf("week %d: %s is back, given up in week %d", w.Number, i.Exercise, k)
				}
				if has(was, i.Exercise) {
					continue
				}
				for _, before := range was {
					b := lib.Lookup(before.Exercise)
					if slices.Contains(lib.easierForms(b), e) || b.Block == e.Block && b.Area == e.Area && e.Level < b.Level {
						t.Fatalf("week %d: %s follows on %s", w.Number, i.Exercise, before.Exercise)
					}
				}
			}
		}
	}
	for _, i := range p.Weeks[0].Full {
		if more(i.Dose, dose(lib.Lookup(i.Exercise), 1, false)) {
			t.Fatalf("week 1: %+v of %s is more than its own dose", i.Dose, i.Exercise)
		}
	}
}

// checkCalf holds that a new landing never comes without work for the calf, where
// that may be done and the exam does not say that the calf is strong.
func checkCalf(t *rapid.T, lib *Library, in Input, p Plan) {
	may := slices.ContainsFunc(lib.Exercises, func(e *Exercise) bool {
		return e.Block == calfWork.Block && e.Area == calfWork.Area && serves(e, in, closed(in)) == ""
	})
	strong := slices.ContainsFunc(in.Spared, func(a finding.Aim) bool { return spares(a, calfWork) })
	if in.FullMin < 15 || !may || strong {
		return
	}
	for _, w := range p.Weeks {
		lands := slices.ContainsFunc(slices.Concat(w.Running, w.Full, w.Warm), func(i Item) bool {
			e := lib.Lookup(i.Exercise)
			return e.Block == "integrate" && slices.Contains(newLandings, e.Area)
		})
		calf := slices.ContainsFunc(w.Full, func(i Item) bool {
			e := lib.Lookup(i.Exercise)
			return e.Block == calfWork.Block && e.Area == calfWork.Area
		})
		if lands && !calf {
			t.Fatalf("week %d: a new landing and nothing for the calf", w.Number)
		}
	}
}

// No plan breaks its constraints, whatever the runner: two thousand at random.
func TestNoPlanBreaksItsConstraints(t *testing.T) {
	plans := 0
	for range 20 {
		rapid.Check(t, func(t *rapid.T) {
			in := drawInput(t)
			p := Make(Default(), in)
			checkPlan(t, Default(), in, p)
			if p.None == "" {
				plans++
			}
		})
	}
	if plans < 500 && !t.Failed() {
		t.Errorf("only %d runners got a plan", plans)
	}
}

func TestChoiceIsTheBest(t *testing.T) {
	// Against every subset, on small cases.
	rapid.Check(t, func(t *rapid.T) {
		var all []candidate
		for i, e := range Default().Exercises {
			if e.Run || rapid.IntRange(0, 11).Draw(t, e.Name) != 0 || len(all) > 9 {
				continue
			}
			all = append(all, candidate{e, finding.SidedAim{Aim: finding.Aim{Block: e.Block, Area: e.Area}}, body.NoSide, 1 / float64(1+i%7), false, Default().family(e)})
		}
		limit := rapid.IntRange(60, 1200).Draw(t, "limit")
		weigh := func(chosen []candidate) float64 {
			total := 0.0
			for _, c := range chosen {
				total += c.weight
			}
			return total
		}
		got := weigh(choose(all, limit, func(e *Exercise) Dose { return dose(e, 1, false) }))
		best := 0.0
		for mask := range 1 << len(all) {
			time, aims, ok := 0, map[string]bool{}, true
			var chosen []candidate
			for i, c := range all {
				if mask>>i&1 == 1 {
					k := c.aim.Block + "/" + c.aim.Area
					ok = ok && !aims[k] && !aims[c.family]
					aims[k], aims[c.family] = true, true
					time += dose(c.exercise, 1, false).TimeS(c.sides())
					chosen = append(chosen, c)
				}
			}
			if ok && time <= limit {
				best = max(best, weigh(chosen))
			}
		}
		if got < best-1e-9 {
			t.Fatalf("chosen weighs %.4f, the best %.4f", got, best)
		}
	})
}

// What the coach did is kept whatever the findings then say; what of it must not be
// done is left out of what is safe.
func TestEditsAreKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lib := Default()
		in := drawInput(t)
		in.Refer = nil
		old := Make(lib, in)
		if old.None != "" || len(old.Weeks) == 0 {
			return
		}
		w := rapid.IntRange(0, len(old.Weeks)-1).Draw(t, "week")
		mine := Item{Exercise: "roll_calf", Side: body.Right, Dose: Dose{Sets: 2, Seconds: 20, PerWeek: 6}, Of: "the coach", Hand: true}
		old.Weeks[w].Full = append(old.Weeks[w].Full, mine)
		if len(old.Weeks[0].Full) > 1 {
			old.Removed = append(old.Removed, old.Weeks[0].Full[0].Exercise)
		}
		next := drawInput(t)
		next.Refer, next.Weeks = nil, in.Weeks
		p := Revise(lib, old, next)
		if p.None != "" {
			return
		}
		_, calfHurts := closed(next)["calf"]
		_, tendonHurts := closed(next)["achilles"]
		has := func(p Plan) bool {
			return slices.ContainsFunc(p.Weeks[w].Full, func(i Item) bool { return reflect.DeepEqual(i, mine) })
		}
		safe, _ := p.Safe(lib, next)
		if !has(p) || has(safe) == (calfHurts || tendonHurts) {
			t.Fatalf("kept %v, shown %v, calf hurts: %v, tendon: %v", has(p), has(safe), calfHurts, tendonHurts)
		}
		for _, x := range p.Weeks {
			for _, i := range x.Full {
				if !i.Hand && slices.Contains(old.Removed, i.Exercise) {
					t.Fatalf("%s was taken out and is back", i.Exercise)
				}
			}
		}
	})
}

// A region is closed and opened again: meanwhile nothing of the plan loads it and the
// sessions can be filled with what may be done; all that the coach did is there again
// afterwards, and at each turn the plan says that it is behind until it is revised.
func TestClosedAndOpenedAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lib := Default()
		in := drawInput(t)
		in.Refer, in.Pains, in.Weeks, in.FullMin = nil, nil, 8, 20
		plan := Make(lib, in)
		if plan.None != "" || len(plan.Weeks[0].Full) == 0 {
			return
		}
		weeks := slices.Clone(plan.Weeks)
		weeks[1].Full = slices.Clone(weeks[1].Full)
		weeks[1].Full[0].Dose.Sets = 7
		mine := weeks[1].Full[0].Exercise
		weeks[2].Full = slices.Clone(weeks[2].Full)
		slices.Reverse(weeks[2].Full)
		arranged := weeks[2].Full
		plan = plan.ByHand(weeks)
		if plan.Behind(lib, in) != "" {
			t.Fatalf("behind at once: %s", plan.Behind(lib, in))
		}
		shut := in
		shut.Refer = []finding.Referral{{Region: rapid.SampledFrom([]string{"knee_front", "calf", "low_back", "hip", "shoulder"}).Draw(t, "region"), Why: []string{"a sign"}}}
		safe, left := plan.Safe(lib, shut)
		if (len(left) > 0) != (plan.Behind(lib, shut) == Shut) {
			t.Fatalf("%d left out, behind %q", len(left), plan.Behind(lib, shut))
		}
		revised := Revise(lib, plan, shut)
		fitted, _ := revised.Safe(lib, shut)
		if b := revised.Behind(lib, shut); b != "" {
			t.Fatalf("behind although revised: %s", b)
		}
		for n, w := range fitted.Weeks {
			for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
				if why := Refused(lib.Lookup(i.Exercise), shut); why != "" {
					t.Fatalf("week %d: %s %s", n+1, i.Exercise, why)
				}
			}
			if hand := n == 1 || n == 2; !hand && (TimeS(lib, w.Full) > 20*60 || TimeS(lib, w.Full) < TimeS(lib, safe.Weeks[n].Full) && TimeS(lib, w.Full) < leastFull(20)) {
				t.Fatalf("week %d: %d s, cut down %d s", n+1, TimeS(lib, w.Full), TimeS(lib, safe.Weeks[n].Full))
			}
		}
		if len(left) > 0 && revised.Behind(lib, in) != Opened {
			t.Fatalf("opened again, and not behind")
		}
		again := Revise(lib, revised, in)
		if again.Behind(lib, in) != "" {
			t.Fatal("behind although revised")
		}
		whole, left := again.Safe(lib, in)
		if len(left) > 0 || !slices.ContainsFunc(whole.Weeks[1].Full, func(i Item) bool { return i.Exercise == mine && i.Dose.Sets == 7 && i.Hand }) {
			t.Fatalf("the dose of %s is lost: %+v, left %+v", mine, whole.Weeks[1].Full, left)
		}
		if len(arranged) > 1 && !reflect.DeepEqual(whole.Weeks[2].Full, plan.Weeks[2].Full) {
			t.Fatalf("week 3 was arranged as %+v and is %+v", plan.Weeks[2].Full, whole.Weeks[2].Full)
		}
	})
}

// One thought a run, in turn; each on as many runs as its dose says.
func TestDrillsInTurn(t *testing.T) {
	drill := func(name string, perWeek int) Item { return Item{Exercise: name, Dose: Dose{PerWeek: perWeek}} }
	for _, c := range []struct {
		running []Item
		runs    int
		want    []string
	}{
		{[]Item{drill("a", 3)}, 3, []string{"a", "a", "a"}},
		{[]Item{drill("a", 2), drill("b", 1)}, 3, []string{"a", "b", "a"}},
		{[]Item{drill("a", 1), drill("b", 1)}, 2, []string{"a", "b"}},
		{[]Item{drill("a", 2), drill("b", 2)}, 4, []string{"a", "b", "b", "a"}},
		{[]Item{drill("a", 2)}, 3, []string{"a", "", "a"}},
		{[]Item{drill("a", 7), drill("b", 7)}, 2, []string{"ab", "ab"}}, // a coach's own
		{nil, 2, []string{"", ""}},
	} {
		for run, want := range c.want {
			got := ""
			for _, i := range DrillsOn(c.running, run, c.runs) {
				got += i.Exercise
			}
			if got != want {
				t.Errorf("%v on %d runs: %q on run %d, want %q", c.running, c.runs, got, run+1, want)
			}
		}
	}
}

func TestHandArrangedWeekStays(t *testing.T) {
	lib := Default()
	in := Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{{Aim: finding.Aim{Block: "activate", Area: "glute_med"}, Side: body.Left}}}
	p := Make(lib, in)
	p.Weeks[2].Hand = true
	p.Weeks[2].Full = []Item{{Exercise: "bridge", Dose: lib.Lookup("bridge").Dose, Hand: true}}
	again := Revise(lib, p, Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{{Aim: finding.Aim{Block: "strengthen", Area: "calf"}}}})
	if !reflect.DeepEqual(again.Weeks[2].Full, p.Weeks[2].Full) || !again.Weeks[2].Hand {
		t.Errorf("week 3 %+v", again.Weeks[2])
	}
	if reflect.DeepEqual(again.Weeks[3].Full, p.Weeks[3].Full) {
		t.Error("week 4 did not follow the new findings")
	}
}

// What is let go is not strengthened beside it unless that was found.
func TestNothingIsLetGoAndStrengthenedAtOnce(t *testing.T) {
	for _, a := range everyAim() {
		if a.Block != "release" {
			continue
		}
		p := Make(Default(), Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{{Aim: a, Side: body.Left}}})
		for _, w := range p.Weeks {
			for _, i := range w.Full {
				if e := Default().Lookup(i.Exercise); e.Block == "strengthen" && e.Area == a.Area {
					t.Errorf("%s: week %d has %s", a.Area, w.Number, e.Title)
				}
			}
		}
	}
}

// A runner who does not run gets sessions, and neither warm-ups nor drills.
func TestNoRunsAsked(t *testing.T) {
	p := Make(Default(), Input{Start: start, RunDays: -1, Aims: []finding.SidedAim{{Aim: finding.Aim{Block: "integrate", Area: "quicker_steps"}}, {Aim: finding.Aim{Block: "strengthen", Area: "calf"}}}})
	if len(p.RunDays) != 0 || len(p.Weeks[0].Warm) != 0 || len(p.Weeks[7].Running) != 0 || len(p.Weeks[0].Full) == 0 {
		t.Errorf("runs on %v, warm-up of %d, full session of %d", p.RunDays, len(p.Weeks[0].Warm), len(p.Weeks[0].Full))
	}
}

// The trade's usual work for an inward left knee, and for a hip that does not
// extend: same side, in the trade's order.
func TestUsualWork(t *testing.T) {
	lib := Default()
	p := Make(lib, Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{
		{Aim: finding.Aim{Block: "activate", Area: "glute_med"}, Side: body.Left},
		{Aim: finding.Aim{Block: "release", Area: "adductors"}, Side: body.Left},
	}})
	warm := p.Weeks[0].Warm
	at := func(items []Item, name string) int {
		return slices.IndexFunc(items, func(i Item) bool { return i.Exercise == name })
	}
	roll, lift := at(warm, "roll_inner_thigh"), at(warm, "side_abduction_toes_down")
	if roll != 0 || lift < roll || warm[roll].Side != body.Left || warm[lift].Side != body.Left {
		t.Fatalf("warm-up %+v", warm)
	}
	if d := warm[roll].Dose; d.Seconds < 10 || d.Seconds > 15 {
		t.Errorf("rolling for %d s", d.Seconds)
	}
	if d := warm[lift].Dose; d.Reps != 10 {
		t.Errorf("%d repetitions", d.Reps)
	}
	p = Make(lib, Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{
		{Aim: finding.Aim{Block: "lengthen", Area: "hip_flexors"}, Side: body.Right},
		{Aim: finding.Aim{Block: "activate", Area: "glute_max"}, Side: body.Right},
	}})
	full := p.Weeks[0].Full
	kneel, bridge := at(full, "half_kneeling_hip"), at(full, "single_bridge")
	if kneel < 0 || bridge < kneel || full[kneel].Side != body.Right || full[bridge].Side != body.Right {
		t.Fatalf("full session %+v", full)
	}
	if d := full[kneel].Dose; d.Reps != 10 || d.HoldS != 3 {
		t.Errorf("the front of the hip: %+v", d)
	}
	if d := full[bridge].Dose; d.Reps != 10 || !strings.Contains(strings.Join(lib.Lookup("single_bridge").How, " "), "Compare with the other side") {
		t.Errorf("the bridge: %+v", d)
	}
}

// Whatever one thing was found, whatever is at home and in every week, a runner
// with no pain gets a warm-up of 5 to 8 minutes and a full session of 15 to 25.
func TestSessionsAreWhole(t *testing.T) {
	for _, have := range [][]string{nil, {"band"}, {"roller", "step"}, Equipment} {
		for _, fullMin := range []int{0, 25} {
			for k, a := range everyAim() {
				side := []body.Side{body.Left, body.NoSide}[k%2]
				p := Make(Default(), Input{Start: start, Equipment: have, FullMin: fullMin, Aims: []finding.SidedAim{{Aim: a, Side: side}}})
				for _, w := range p.Weeks {
					if s := TimeS(Default(), w.Warm); s < 5*60 || s > 8*60 {
						t.Errorf("%s %s with %v, week %d: a warm-up of %d s", a.Block, a.Area, have, w.Number, s)
					}
					if s := TimeS(Default(), w.Full); s < 15*60 || s > 25*60 {
						t.Errorf("%s %s with %v and %d min, week %d: a full session of %d s", a.Block, a.Area, have, fullMin, w.Number, s)
					}
				}
				if p.Short != "" {
					t.Errorf("%s %s: %s", a.Block, a.Area, p.Short)
				}
			}
		}
	}
}

// The last week brings nothing new, and a week's note is true.
func TestNotesAreTrue(t *testing.T) {
	for _, weeks := range []int{1, 2, 3, 4, 8, 12} {
		for _, a := range everyAim() {
			p := Make(Default(), Input{Start: start, Weeks: weeks, Equipment: Equipment, Aims: []finding.SidedAim{{Aim: a, Side: body.Right}}})
			for n := 1; n < len(p.Weeks); n++ {
				was, w := p.Weeks[n-1], p.Weeks[n]
				same := reflect.DeepEqual(was.Full, w.Full)
				names := func(items []Item) (out []string) {
					for _, i := range items {
						out = append(out, i.Exercise)
					}
					return out
				}
				if strings.HasPrefix(w.Note, "The same once more") && !slices.Equal(names(was.Warm), names(w.Warm)) {
					t.Errorf("%s %s, week %d: %q, and the warm-up is another", a.Block, a.Area, w.Number, w.Note)
				}
				if len(was.Running) > 0 && more(w.Running[0].Dose, was.Running[0].Dose) && !strings.Contains(w.Note, "In the runs") {
					t.Errorf("%s %s, week %d: %q, and the drill is done more often", a.Block, a.Area, w.Number, w.Note)
				}
				switch {
				case w.Number == weeks && !same:
					t.Errorf("%s %s, %d weeks: the last differs from the one before", a.Block, a.Area, weeks)
				case strings.HasPrefix(w.Note, "A little more") && !(TimeS(Default(), w.Full) > TimeS(Default(), was.Full)), strings.HasPrefix(w.Note, "The same once more") && !same:
					t.Errorf("%s %s, week %d: %q", a.Block, a.Area, w.Number, w.Note)
				}
			}
		}
	}
}

// Quicker steps and a nearer landing load the calf more: it is strengthened with
// them, in every week.
func TestNewLandingComesWithCalfWork(t *testing.T) {
	for _, area := range []string{"quicker_steps", "land_under", "soft_landing"} {
		for _, have := range [][]string{nil, Equipment} {
			// An ankle that bends enough says nothing of the calf's strength.
			p := Make(Default(), Input{Start: start, Equipment: have, Aims: []finding.SidedAim{{Aim: finding.Aim{Block: "integrate", Area: area}}}, Spared: []finding.Aim{{Block: "lengthen", Area: "calf"}}})
			for _, w := range p.Weeks {
				if !slices.ContainsFunc(w.Full, func(i Item) bool {
					e := Default().Lookup(i.Exercise)
					return e.Block == "strengthen" && e.Area == "calf"
				}) {
					t.Errorf("%s with %v, week %d: nothing strengthens the calf", area, have, w.Number)
				}
			}
		}
	}
}

func TestReferralClosesTheRegion(t *testing.T) {
	aims := []finding.SidedAim{{Aim: finding.Aim{Block: "lengthen", Area: "calf"}, Side: body.Left}, {Aim: finding.Aim{Block: "strengthen", Area: "trunk"}}}
	p := Make(Default(), Input{Start: start, Aims: aims, Equipment: Equipment, Refer: []finding.Referral{{Region: "calf", Side: body.Left, Why: []string{"swelling"}}}})
	if len(p.Unmet) != 1 || !strings.Contains(p.Unmet[0].Why, "referred: swelling") {
		t.Errorf("unmet %+v", p.Unmet)
	}
	for _, i := range p.Weeks[0].Full {
		if Default().Lookup(i.Exercise).Area == "calf" {
			t.Errorf("%s although the calf is referred", i.Exercise)
		}
	}
	p = Make(Default(), Input{Start: start, Aims: aims, Refer: []finding.Referral{{Why: []string{"chest pain on effort"}}}})
	if p.None == "" || len(p.Weeks) != 0 {
		t.Errorf("plan %+v", p)
	}
}

func TestPlanReadsBack(t *testing.T) {
	p := Make(Default(), Input{Start: start, Equipment: Equipment, Aims: []finding.SidedAim{{Aim: finding.Aim{Block: "activate", Area: "glute_med"}, Side: body.Left}}})
	b, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	var q Plan
	if err := json.Unmarshal(b, &q); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(p.Weeks, q.Weeks) {
		t.Errorf("%+v\n%+v", p.Weeks[0], q.Weeks[0])
	}
}

func TestOwnLibrary(t *testing.T) {
	own := `version: 1
exercises:
  - {name: bridge, title: My bridge, block: activate, area: glute_max, level: 1, each: false, warm: true,
     dose: {sets: 1, reps: 5, rest_s: 0, per_week: 5}, equipment: [], how: ["Up."], cue: "Up.", felt: the buttocks, not_felt: the back,
     avoid: [], evidence: "Common practice.", tag: common practice,
     start: {view: side, trunk: 180, near: {thigh: 52, shank: -72, foot: 0, arm: 0, forearm: 0}, far: {thigh: 52, shank: -72, foot: 0, arm: 0, forearm: 0}},
     end: {view: side, trunk: 205, near: {thigh: 25, shank: -80, foot: 0, arm: -5, forearm: 0}, far: {thigh: 25, shank: -80, foot: 0, arm: -5, forearm: 0}}}
`
	l, err := ParseLibrary([]byte(own))
	if err != nil {
		t.Fatal(err)
	}
	both, err := Default().With(l)
	if err != nil {
		t.Fatal(err)
	}
	if e := both.Lookup("bridge"); e.Title != "My bridge" || !e.Own || len(both.Exercises) != len(Default().Exercises) {
		t.Errorf("%+v", e)
	}
	if Default().Lookup("bridge").Own {
		t.Error("the embedded library was changed")
	}
	for _, c := range []struct{ from, to, want string }{
		{"version: 1", "version: 9", "version 9"},
		{"block: activate", "block: punish", "punish"},
		{"reps: 5", "reps: 500", "60 repetitions"},
		{"reps: 5", "reps: 5, pace: slow", "slow"},
		{"equipment: []", "equipment: [sauna]", "sauna"},
		{"level: 1", "level: 7", "level 7"},
		{"view: side", "view: top", "top"},
		{"tag: common practice", "tag: sure", "sure"},
		{"cue: \"Up.\"", "cue: \"\"", "cue"},
		{"warm: true", "warm: true, colour: red", "colour"},
	} {
		if _, err := ParseLibrary([]byte(strings.Replace(own, c.from, c.to, 1))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.to, err)
		}
	}
}

func FuzzParseLibrary(f *testing.F) {
	f.Add("version: 1\nexercises: []\n")
	f.Add("version: 1\nexercises:\n - {name: a, title: b}\n")
	f.Fuzz(func(t *testing.T, text string) {
		if l, err := ParseLibrary([]byte(text)); err == nil {
			for _, e := range l.Exercises {
				if e.check() != nil {
					t.Fatal("an exercise was taken that does not check")
				}
			}
		}
	})
}

func aimed(a finding.Aim) finding.SidedAim { return finding.SidedAim{Aim: a} }
