package programme

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"
)

// Input is what a plan is made of.
type Input struct {
	// Aims in the order of the findings, the most important first.
	Aims []finding.SidedAim
	// Spared are aims whose cause the exam speaks against: nothing is done for them
	// merely because it goes with something else.
	Spared []finding.Aim
	// Refer and Pains close exercises.
	Refer []finding.Referral
	Pains []finding.Pain
	// Equipment beside what everybody has.
	Equipment []string
	// FullMin and WarmMin are the minutes of a full session and of a warm-up; 0
	// means 20 and 7. FullDays and RunDays are days a week; 0 means 3 and 3, and
	// RunDays below 0 means none.
	FullMin, WarmMin  int
	FullDays, RunDays int
	Weeks             int // 0 means 8
	Start             time.Time
}

// Item is an exercise in a session.
type Item struct {
	Exercise string    `json:"exercise"`
	Side     body.Side `json:"side"` // NoSide is both, or a whole-body exercise
	Dose     Dose      `json:"dose"`
	// Of says what it is for.
	Of string `json:"of"`
	// Why says why both sides where one was found.
	Why string `json:"why,omitempty"`
	// Hand is true where the coach set or changed it: it is never regenerated.
	Hand bool `json:"hand,omitempty"`
}

// Week is what is done in one week.
type Week struct {
	Number int    `json:"number"`
	Warm   []Item `json:"warm"` // before each run
	Full   []Item `json:"full"`
	// Running are the drills done in a run.
	Running []Item `json:"running"`
	Note    string `json:"note"`
	// Hand is true where the coach changed which exercises there are.
	Hand bool `json:"hand,omitempty"`
}

// Unmet is an aim for which no exercise fits.
type Unmet struct {
	Aim finding.SidedAim `json:"-"`
	// What and Why say it.
	What string `json:"what"`
	Why  string `json:"why"`
}

// Plan is a programme.
type Plan struct {
	Weeks    []Week    `json:"weeks"`
	Start    time.Time `json:"start"`
	Retest   time.Time `json:"retest"`
	FullDays []int     `json:"full_days"` // days of the week, 0 Monday
	RunDays  []int     `json:"run_days"`
	Unmet    []Unmet   `json:"unmet"`
	// Removed are exercises that the coach took out.
	Removed []string `json:"removed,omitempty"`
	// Closed are the regions for which there is no exercise before clearance.
	Closed []string `json:"closed"`
	// Barred are the exercises of the library that must not be done as things stood
	// when the plan was made or revised.
	Barred []string `json:"barred,omitempty"`
	// None says why there is no programme at all; empty where there is one.
	None string `json:"none,omitempty"`
	// NoRun says why no run, no drill and no warm-up before a run is planned; empty
	// where they are.
	NoRun string `json:"no_run,omitempty"`
	// Short says why the full sessions are shorter than usual; empty where they are
	// not.
	Short string `json:"short,omitempty"`
}

// Rule says when to go on, hold or step back.
type Rule struct {
	If     string `json:"if"`
	Then   string `json:"then"`
	Source string `json:"source"`
}

const painModel = "pain-monitoring model: Thomeé 1997, Phys Ther 77:1690; Silbernagel 2007, Am J Sports Med 35:897; cut-offs from memory. Not for suspected bone pain."

// ProgressRules say when to go on, hold or step back.
func ProgressRules() []Rule {
	return []Rule{
		{"Pain 0 to 2 of 10 during and the morning after", "Go on as planned.", painModel},
		{"Pain 3 to 5, gone by the next morning and not rising over the week", "Stay at this week's dose; do not go on.", painModel},
		{"Pain above 5, or not gone by the next morning, or rising from week to week", "Go back a week, leave out what hurt, and tell your coach; see a clinician if it stays.", painModel},
		{"Pin-point pain on a bone, pain at night or at rest", "Stop running and see a clinician. These rules do not apply.", "general caution (from memory)"},
		{"Up to half of a week's days missed", "Go on; do not make up for them.", "common practice"},
		{"More than half of a week's days missed", "Do the same week again.", "common practice"},
		{"Two weeks or more missed", "Go back two weeks.", "common practice"},
		{"A run that would be much longer than any of the last month", "Lengthen it in smaller steps; count the longest run, not the week.", "5,205 runners, 588,071 sessions, 2025 (journal and author from memory: Br J Sports Med, Frandsen)"},
	}
}

// closing is the pain from which a region closes exercises that load it.
const closing = 3

// regionGroups are the regions that a referral or pain of a wider one closes.
var regionGroups = map[string][]string{
	"hip":       {"hip_outer", "groin", "buttock", "pelvis_front"},
	"knee":      {"knee_front", "knee_inner", "knee_outer", "knee_back"},
	"ankle":     {"ankle_inner", "ankle_outer", "achilles"},
	"foot":      {"heel", "arch", "forefoot", "toes"},
	"lower_leg": {"shin", "calf", "achilles", "ankle_inner", "ankle_outer", "heel", "arch", "forefoot", "toes"},
	"leg": {"hip_outer", "groin", "buttock", "pelvis_front", "thigh_front", "thigh_inner", "thigh_outer", "thigh_back", "knee_front", "knee_inner", "knee_outer", "knee_back",
		"shin", "calf", "achilles", "ankle_inner", "ankle_outer", "heel", "arch", "forefoot", "toes"},
}

// closure is why a region must not be loaded. Where it was referred nothing at
// all is done for it, and nothing that the body's weight puts on it.
type closure struct {
	why      string
	referred bool
}

// closed lists the regions that must not be loaded, with why.
func closed(in Input) map[string]closure {
	out := map[string]closure{}
	add := func(region string, c closure) {
		for _, r := range append([]string{region}, regionGroups[region]...) {
			if have, ok := out[r]; !ok || c.referred && !have.referred {
				out[r] = c
			}
		}
	}
	for _, r := range in.Refer {
		add(r.Region, closure{"referred: " + strings.Join(r.Why, "; "), true})
	}
	for _, p := range in.Pains {
		if p.Score >= closing {
			add(p.Region, closure{fmt.Sprintf("it hurts, %d of 10", p.Score), false})
		}
	}
	return out
}

// hanging are the regions that carry no weight of a body on its feet.
var hanging = []string{"shoulder", "arm"}

// grounded names a referred region that carries the body's weight, and why; no
// run is planned then.
func grounded(shut map[string]closure) (region, why string) {
	for _, r := range slices.Sorted(maps.Keys(shut)) {
		if c := shut[r]; r != "" && c.referred && !slices.Contains(hanging, r) {
			return r, c.why
		}
	}
	return "", ""
}

// NoRun says why no run may be planned for the runner; empty where one may.
func NoRun(in Input) string { return noRun(in, closed(in)) }

func noRun(in Input, shut map[string]closure) string {
	if r, _ := grounded(shut); r == "" {
		return ""
	}
	var what []string
	for _, r := range in.Refer {
		if !slices.Contains(hanging, r.Region) {
			what = append(what, fmt.Sprintf("%s (%s)", placeName(r.Region), strings.Join(r.Why, "; ")))
		}
	}
	slices.Sort(what)
	return "No run, no running drill, nothing on the feet and no warm-up before a run is planned: referred to a clinician were " + strings.Join(slices.Compact(what), ", ") + ". Whether running goes on is for the clinician to say."
}

// serves tells why an exercise cannot be given; empty where it can.
func serves(e *Exercise, in Input, shut map[string]closure) string {
	if why := loads(e, shut); why != "" {
		return why
	}
	for _, n := range e.Needs {
		if !slices.Contains(always, n) && !slices.Contains(in.Equipment, n) {
			return "needs a " + n
		}
	}
	return ""
}

// loads tells which closed region an exercise loads, and why that is closed.
func loads(e *Exercise, shut map[string]closure) string {
	if len(shut) == 0 {
		return ""
	}
	say := func(r string, c closure) string {
		return fmt.Sprintf("loads the %s (%s)", placeName(r), c.why)
	}
	for _, r := range slices.Concat(e.Avoid, areaRegions[e.Area]) {
		if c, ok := shut[r]; ok {
			return say(r, c)
		}
	}
	for _, r := range nearRegions[e.Area] {
		if c, ok := shut[r]; ok && c.referred {
			return say(r, c)
		}
	}
	if e.Run || e.Stands {
		if r, why := grounded(shut); r != "" {
			return say(r, closure{why, true})
		}
	}
	return ""
}

// placeNames are the regions whose plain name is not their own.
var placeNames = map[string]string{
	"achilles": "Achilles tendon", "arch": "arch of the foot", "hip_outer": "outer hip", "pelvis_front": "front of the pelvis",
	"knee_front": "front of the knee", "knee_inner": "inner knee", "knee_outer": "outer knee", "knee_back": "back of the knee",
	"thigh_front": "front of the thigh", "thigh_inner": "inner thigh", "thigh_outer": "outer thigh", "thigh_back": "back of the thigh",
	"ankle_inner": "inner ankle", "ankle_outer": "outer ankle",
}

func placeName(region string) string {
	return cmp.Or(placeNames[region], strings.ReplaceAll(region, "_", " "))
}

// areaRegions are the regions that work for an area loads.
var areaRegions = map[string][]string{
	"adductors": {"thigh_inner"}, "calf": {"calf"}, "hip_flexors": {"pelvis_front"}, "quadriceps": {"thigh_front"},
	"hamstrings": {"thigh_back"}, "glutes": {"buttock"}, "glute_med": {"hip_outer"}, "glute_max": {"buttock"},
	"iliotibial": {"thigh_outer"}, "foot": {"arch"}, "low_back": {"low_back"},
}

// nearRegions are those that it loads a little, and so not where they were
// referred.
var nearRegions = map[string][]string{
	"adductors": {"groin", "knee_inner"}, "calf": {"achilles", "heel", "shin", "ankle_inner", "ankle_outer", "forefoot"}, "hip_flexors": {"groin", "low_back", "thigh_front"},
	"quadriceps": {"knee_front"}, "hamstrings": {"buttock", "low_back", "knee_back"}, "glutes": {"hip_outer", "groin", "low_back"}, "glute_med": {"groin", "buttock", "low_back"},
	"glute_max": {"low_back", "sacrum", "groin", "hip_outer", "thigh_back"}, "hip_rotators": {"hip_outer", "groin", "buttock"}, "iliotibial": {"hip_outer", "knee_outer"},
	"foot": {"heel", "forefoot", "toes", "ankle_inner", "ankle_outer", "calf", "achilles", "shin"}, "trunk": {"low_back", "sacrum", "belly", "upper_back"}, "low_back": {"sacrum"},
}

type candidate struct {
	exercise *Exercise
	aim      finding.SidedAim
	side     body.Side
	weight   float64
	second   bool
	family   string // forms of one exercise share it
}

// key names what it is for.
func (c candidate) key() string { return c.aim.Block + "/" + c.aim.Area }

func (c candidate) sides() int {
	if c.exercise.Each && c.side == body.NoSide {
		return 2
	}
	return 1
}

// Make makes a plan.
func Make(lib *Library, in Input) Plan {
	in = in.defaults()
	p := Plan{Start: in.Start, Retest: in.Start.AddDate(0, 0, 7*in.Weeks)}
	p.RunDays, p.FullDays = Spread(in.RunDays), Spread(in.FullDays)
	shut := closed(in)
	for r := range shut {
		if r != "" {
			p.Closed = append(p.Closed, r)
		}
	}
	slices.Sort(p.Closed)
	p.Barred = barred(lib, in, shut)
	if c, all := shut[""]; all {
		p.None = "There is no programme until a clinician has cleared it: " + c.why + "."
		return p
	}
	if len(in.Aims) == 0 {
		p.None = "Nothing was found that a programme would change."
		return p
	}
	p.weeks(lib, in, shut)
	return p
}

// weeks fills in the weeks, without what the coach took out.
func (p *Plan) weeks(lib *Library, in Input, shut map[string]closure) {
	p.Weeks, p.Unmet = makeWeeks(lib, in, shut, p.Removed)
	if p.NoRun = noRun(in, shut); p.NoRun != "" {
		p.RunDays = nil
		for i := range p.Weeks {
			p.Weeks[i].Warm, p.Weeks[i].Running = nil, nil
		}
	}
	p.Short = short(lib, p.Weeks, in.FullMin)
}

// short says that full sessions are shorter than usual; empty where none is.
func short(lib *Library, weeks []Week, fullMin int) string {
	least := leastFull(fullMin)
	for _, w := range weeks {
		least = min(least, TimeS(lib, w.Full))
	}
	if least >= leastFull(fullMin) {
		return ""
	}
	usual := (leastFull(fullMin) + 59) / 60
	return fmt.Sprintf("A full session is usually %d minutes at least; what this runner may do with what is at hand fills %d.", usual, min((least+30)/60, usual-1))
}

// leastFull is how long a full session is at least, in seconds, where there is
// enough to do: 15 minutes, or nine tenths of what the runner has where that is
// less than 17.
func leastFull(fullMin int) int { return min(15*60, fullMin*54) }

func (in Input) defaults() Input {
	in.FullMin = cmp.Or(in.FullMin, 20)
	in.WarmMin = cmp.Or(in.WarmMin, 7)
	// Strengthening needs a day between: three days a week at most.
	in.FullDays = min(3, cmp.Or(in.FullDays, 3))
	in.RunDays = max(-1, min(7, cmp.Or(in.RunDays, 3)))
	in.Weeks = cmp.Or(in.Weeks, 8)
	return in
}

// Spread places n days in a week as far apart as they go, 0 Monday.
func Spread(n int) []int {
	n = max(0, min(n, 7))
	var out []int
	for i := range n {
		out = append(out, i*7/n)
	}
	return out
}

// Phases splits the weeks into learning, building and loading; each is its first
// and last week. Within one the exercises stay the same and the dose rises; the
// next brings in harder forms. Common practice.
func Phases(weeks int) [][2]int {
	switch {
	case weeks <= 3: // nothing new in a last week
		return [][2]int{{1, weeks}}
	case weeks <= 5:
		return [][2]int{{1, 2}, {3, weeks}}
	}
	learn := max(2, weeks/4)
	build := learn + (weeks-learn)/2
	return [][2]int{{1, learn}, {learn + 1, build}, {build + 1, weeks}}
}

// makeWeeks chooses the exercises of all weeks, phase by phase. without are
// exercises left out.
func makeWeeks(lib *Library, in Input, shut map[string]closure, without []string) (weeks []Week, unmet []Unmet) {
	since := map[string]int{} // the week in which an exercise came into the full session
	last := map[string]Dose{} // its newest dose there
	all := Phases(in.Weeks)
	var full, warm course
	var running []candidate
	// Room is needed for what is in the session already at its dose of now, and for
	// what comes in at that of its second week.
	room := func(e *Exercise) Dose {
		if d, ok := last[e.Name]; ok {
			return d
		}
		return dose(e, 1, false)
	}
	warmDose := func(e *Exercise) Dose { return dose(e, 0, true) }
	for n, phase := range all {
		want := 1.0
		if len(all) > 1 {
			want += 1.6 * float64(n) / float64(len(all)-1)
		}
		c, left := candidates(lib, in, shut, want, without)
		if n == 0 {
			unmet = left
		}
		floor := full.onward(lib, c.floor)
		// Some is left over for the dose to rise.
		chosen := choose(floor, in.FullMin*60*9/10, room)
		if len(chosen) == 0 {
			chosen = choose(floor, in.FullMin*60, room)
		}
		chosen = filledUp(chosen, floor, in.FullMin, room)
		var chosenWarm []candidate
		if in.RunDays > 0 {
			chosenWarm = choose(warm.onward(lib, warming(c.floor, chosen)), in.WarmMin*60, warmDose)
		}
		full.took(chosen)
		warm.took(chosenWarm)
		// The thought that was first stays the first.
		place := func(c candidate) int {
			i := slices.IndexFunc(running, func(x candidate) bool { return x.key() == c.key() })
			if i < 0 {
				return len(running)
			}
			return i
		}
		slices.SortStableFunc(c.running, func(a, b candidate) int { return place(a) - place(b) })
		changed := len(weeks) > 0 && len(chosen) != len(weeks[len(weeks)-1].Full)
		for _, x := range chosenWarm {
			changed = changed || len(weeks) > 0 && !slices.ContainsFunc(weeks[len(weeks)-1].Warm, func(i Item) bool { return i.Exercise == x.exercise.Name })
		}
		for _, x := range chosen {
			changed = changed || len(weeks) > 0 && !slices.ContainsFunc(weeks[len(weeks)-1].Full, func(i Item) bool { return i.Exercise == x.exercise.Name })
			if _, ok := since[x.exercise.Name]; !ok {
				since[x.exercise.Name] = phase[0]
			}
		}
		for number := phase[0]; number <= phase[1]; number++ {
			w := Week{Number: number}
			for _, x := range chosenWarm {
				w.Warm = append(w.Warm, item(x, 0, true))
			}
			w.Warm = filled(lib, w.Warm, in.WarmMin*60)
			w.Full = raised(lib, chosen, since, last, number, in)
			w.Running = drills(c.running, n, len(all), in.RunDays)
			running = c.running[:len(w.Running)]
			for i := range w.Warm {
				w.Warm[i].Dose.PerWeek = in.RunDays
			}
			for i := range w.Full {
				w.Full[i].Dose.PerWeek = in.FullDays
			}
			fuller := number > phase[0] && len(weeks) > 0 && TimeS(lib, w.Full) > TimeS(lib, weeks[len(weeks)-1].Full)
			w.Note = note(number, in.Weeks, phase[0], changed, fuller)
			if n > 0 && number == phase[0] {
				switch before := weeks[len(weeks)-1].Running; {
				case len(w.Running) > len(before):
					w.Note += secondThought
				case len(w.Running) > 0 && more(w.Running[0].Dose, before[0].Dose):
					w.Note += longerDrill
				}
			}
			for _, i := range w.Full {
				last[i.Exercise] = i.Dose
			}
			weeks = append(weeks, w)
		}
	}
	return weeks, unmet
}

// What is said in the week in which a second drill comes in, or the drill is done more
// often.
const (
	secondThought = " In the runs a second thought comes in: one thought a run, in turn."
	longerDrill   = " In the runs the drill is done more often."
)

// course is what one kind of session has had so far.
type course struct {
	now  []candidate     // of the phase before
	gone map[string]bool // was there and was given up
}

// onward keeps the choice going forward: what was given up does not come back,
// nothing easier follows on something harder for the same, and what was begun goes
// on before something new is begun.
func (k *course) onward(lib *Library, all []candidate) []candidate {
	hardest, here, behind := map[string]int{}, map[string]bool{}, map[string]bool{}
	for _, c := range k.now {
		hardest[c.key()] = max(hardest[c.key()], c.exercise.Level)
		here[c.exercise.Name] = true
		for _, e := range lib.easierForms(c.exercise) {
			behind[e.Name] = true
		}
	}
	var out []candidate
	for _, c := range all {
		level, begun := hardest[c.key()]
		switch {
		case here[c.exercise.Name]:
			c.weight *= 1.4 * 1.05 // of two that are as good the one that is known
		case k.gone[c.exercise.Name], behind[c.exercise.Name], begun && c.exercise.Level < level:
			continue
		case begun:
			c.weight *= 1.4
		}
		out = append(out, c)
	}
	return out
}

// took notes what was chosen for a phase.
func (k *course) took(chosen []candidate) {
	if k.gone == nil {
		k.gone = map[string]bool{}
	}
	for _, c := range k.now {
		k.gone[c.exercise.Name] = true
	}
	for _, c := range chosen {
		delete(k.gone, c.exercise.Name)
	}
	k.now = chosen
}

// filledUp puts more exercises into a full session that would be short, for what
// it does not serve yet.
func filledUp(chosen, all []candidate, fullMin int, room func(*Exercise) Dose) []candidate {
	used := 0
	for _, c := range chosen {
		used += room(c.exercise).TimeS(c.sides())
	}
	if used >= leastFull(fullMin) {
		return chosen
	}
	rest := slices.DeleteFunc(slices.Clone(all), func(c candidate) bool {
		return slices.ContainsFunc(chosen, func(x candidate) bool { return x.key() == c.key() && x.second == c.second || x.family == c.family })
	})
	out := append(slices.Clone(chosen), choose(rest, fullMin*60-used, room)...)
	slices.SortStableFunc(out, func(a, b candidate) int {
		return slices.Index(Blocks, a.exercise.Block) - slices.Index(Blocks, b.exercise.Block)
	})
	return out
}

// warming are the candidates for a warm-up beside a full session: what the session
// has taught before anything else, no other form of it, and no strengthening.
func warming(all, full []candidate) []candidate {
	var out []candidate
	for _, c := range all {
		if !c.exercise.Warm || c.exercise.Block == "strengthen" {
			continue
		}
		i := slices.IndexFunc(full, func(x candidate) bool { return x.family == c.family })
		switch {
		case i < 0:
		case full[i].exercise == c.exercise:
			c.weight *= 1.5
		case full[i].exercise.Warm || c.exercise.Level > full[i].exercise.Level:
			continue
		}
		out = append(out, c)
	}
	return out
}

// drills are the thoughts of a phase's runs: one at first, from the second phase on
// two where there are two and runs enough, one a run in turn. Their sets rise from
// phase to phase by a third. Common practice.
func drills(running []candidate, phase, phases, runDays int) []Item {
	if runDays < 1 {
		return nil
	}
	n := len(running)
	if phase == 0 && phases > 1 || runDays < 2 {
		n = min(n, 1)
	}
	var out []Item
	for k, c := range running[:n] {
		i := item(c, 0, false)
		third := i.Dose.Sets / 3
		switch {
		case phases == 1:
		case phase == 0:
			i.Dose.Sets -= third
		case phase == 2:
			i.Dose.Sets += third
		}
		i.Dose.PerWeek = min(i.Dose.PerWeek, (runDays+n-1-k)/n)
		out = append(out, i)
	}
	return out
}

// raised gives each chosen exercise the dose of its week as far as the time
// allows, the weightiest first. A dose never falls while the exercise stays, and
// in the last week none rises.
func raised(lib *Library, chosen []candidate, since map[string]int, last map[string]Dose, week int, in Input) []Item {
	items := make([]Item, len(chosen))
	order := make([]int, len(chosen))
	fresh := func(i int) bool { return since[chosen[i].exercise.Name] == week }
	for i, c := range chosen {
		items[i], order[i] = item(c, 1, false), i
		if d, ok := last[c.exercise.Name]; ok && (!more(dose(c.exercise, 1, false), d) || week == in.Weeks) {
			items[i].Dose = d
		}
	}
	if week == in.Weeks && week > 1 {
		return items
	}
	// What has risen already goes before what is new.
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(since[chosen[a].exercise.Name], since[chosen[b].exercise.Name]), cmp.Compare(chosen[b].weight, chosen[a].weight))
	})
	raise := func(i int, d Dose, limitS int) {
		before := items[i].Dose
		if !more(d, before) {
			return
		}
		if items[i].Dose = d; TimeS(lib, items) > limitS {
			items[i].Dose = before
		}
	}
	for _, i := range order {
		for step := week - since[chosen[i].exercise.Name]; step > 1; step-- {
			raise(i, dose(chosen[i].exercise, step, false), in.FullMin*60)
		}
	}
	for _, i := range order {
		if fresh(i) {
			items[i].Dose = dose(chosen[i].exercise, 0, false)
		}
	}
	// A session is not short for its first week's sake; yet no dose runs further ahead
	// than a week.
	for step := 1; step <= 4; step++ {
		for _, i := range order {
			if step <= 1+week-since[chosen[i].exercise.Name] && TimeS(lib, items) < leastFull(in.FullMin) {
				raise(i, dose(chosen[i].exercise, step, false), in.FullMin*60)
			}
		}
	}
	return items
}

// more tells whether a dose is more work than another.
func more(a, b Dose) bool {
	work := func(d Dose) int { return d.Sets * (d.Reps + d.Seconds) }
	return work(a) > work(b)
}

// pool is what there is to choose from: on the floor, and while running.
type pool struct{ floor, running []candidate }

// candidates gathers the exercises that serve an aim and may be done, weighed for
// a level, and the aims for which there is none.
func candidates(lib *Library, in Input, shut map[string]closure, level float64, without []string) (pool, []Unmet) {
	var out pool
	var unmet []Unmet
	for _, a := range supported(in.Aims, in.Spared) {
		aim := a.SidedAim
		found, why := false, "the library has nothing for it"
		for _, e := range lib.Exercises {
			if e.Block != aim.Block || e.Area != aim.Area || slices.Contains(without, e.Name) {
				continue
			}
			if no := serves(e, in, shut); no != "" {
				if !found {
					why = lowerFirst(e.Title) + ": " + no
				}
				continue
			}
			found = true
			side := aim.Side
			if !e.Each {
				side = body.NoSide
			}
			c := candidate{e, aim, side, a.weight * fit(e.Level, level), a.second, lib.family(e)}
			if !e.Each && aim.Side != body.NoSide {
				c.weight *= 0.8 // for one side, what works on one side
			}
			switch {
			case e.Run && !a.support:
				out.running = append(out.running, c)
			case e.Run:
			case a.second && (e.Block == "release" || e.Block == "lengthen"):
				// Twice the same is no more of it.
			default:
				out.floor = append(out.floor, c)
			}
		}
		if !found && !a.support {
			unmet = append(unmet, Unmet{aim, aim.Block + " " + strings.ReplaceAll(aim.Area, "_", " "), why})
		}
	}
	// Two thoughts in a run are enough, one for each skill.
	used := map[string]bool{}
	slices.SortStableFunc(out.running, func(a, b candidate) int { return cmp.Compare(b.weight, a.weight) })
	out.running = slices.DeleteFunc(out.running, func(c candidate) bool {
		skip := len(used) >= 2 || used[c.aim.Area]
		used[c.aim.Area] = true
		return skip
	})
	return out, unmet
}

// supports are what goes with work for an area, so that a session is whole: the
// other blocks of the same area, and its neighbours. What changes the landing
// loads calf and Achilles tendon more (Chan 2018, Am J Sports Med 46:388, journal
// from memory), so that the calf is strengthened with it. Common practice.
var supports = map[string][]finding.Aim{
	"adductors":        {{Block: "lengthen", Area: "adductors"}, {Block: "activate", Area: "glute_med"}, {Block: "strengthen", Area: "single_leg"}},
	"calf":             {{Block: "release", Area: "calf"}, {Block: "strengthen", Area: "calf"}, {Block: "strengthen", Area: "foot"}},
	"foot":             {{Block: "release", Area: "foot"}, {Block: "activate", Area: "foot"}, {Block: "strengthen", Area: "calf"}},
	"hip_flexors":      {{Block: "release", Area: "hip_flexors"}, {Block: "lengthen", Area: "quadriceps"}, {Block: "activate", Area: "glute_max"}, {Block: "strengthen", Area: "glute_max"}},
	"glute_max":        {{Block: "lengthen", Area: "hip_flexors"}, {Block: "strengthen", Area: "glute_max"}, {Block: "activate", Area: "trunk"}, {Block: "strengthen", Area: "hamstrings"}},
	"glute_med":        {{Block: "strengthen", Area: "glute_med"}, {Block: "strengthen", Area: "single_leg"}, {Block: "strengthen", Area: "trunk"}, {Block: "activate", Area: "hip_rotators"}},
	"hip_rotators":     {{Block: "release", Area: "glutes"}, {Block: "strengthen", Area: "glute_med"}, {Block: "strengthen", Area: "single_leg"}},
	"trunk":            {{Block: "release", Area: "low_back"}, {Block: "activate", Area: "trunk"}, {Block: "strengthen", Area: "trunk"}},
	"single_leg":       {{Block: "activate", Area: "glute_med"}, {Block: "strengthen", Area: "calf"}, {Block: "strengthen", Area: "trunk"}},
	"knee_over_foot":   {{Block: "activate", Area: "glute_med"}, {Block: "strengthen", Area: "single_leg"}, {Block: "strengthen", Area: "trunk"}},
	"level_pelvis":     {{Block: "activate", Area: "glute_med"}, {Block: "strengthen", Area: "glute_med"}, {Block: "strengthen", Area: "trunk"}},
	"wide_track":       {{Block: "release", Area: "adductors"}, {Block: "activate", Area: "glute_med"}, {Block: "strengthen", Area: "single_leg"}},
	"push_behind":      {{Block: "lengthen", Area: "hip_flexors"}, {Block: "activate", Area: "glute_max"}, {Block: "strengthen", Area: "glute_max"}},
	"tall_trunk":       {{Block: "release", Area: "low_back"}, {Block: "activate", Area: "trunk"}, {Block: "strengthen", Area: "trunk"}},
	"lean_from_ankles": {{Block: "activate", Area: "trunk"}, {Block: "strengthen", Area: "trunk"}, {Block: "strengthen", Area: "calf"}},
	"land_under":       {{Block: "strengthen", Area: "calf"}, {Block: "release", Area: "calf"}, {Block: "strengthen", Area: "quadriceps"}, {Block: "strengthen", Area: "single_leg"}},
	"quicker_steps":    {{Block: "strengthen", Area: "calf"}, {Block: "strengthen", Area: "single_leg"}, {Block: "release", Area: "calf"}},
	"soft_landing":     {{Block: "strengthen", Area: "calf"}, {Block: "release", Area: "calf"}, {Block: "strengthen", Area: "quadriceps"}},
	"even_steps":       {{Block: "strengthen", Area: "single_leg"}, {Block: "strengthen", Area: "calf"}, {Block: "strengthen", Area: "trunk"}},
	"arm_swing":        {{Block: "activate", Area: "trunk"}, {Block: "strengthen", Area: "trunk"}},
}

// weighed is an aim with how much it counts.
type weighed struct {
	finding.SidedAim
	weight  float64
	support bool // goes with an aim, and was not found itself
	second  bool // a further exercise for the same
}

// foundation prepares any runner for a run; it fills a session that what was
// found leaves short. Common practice.
var foundation = []finding.Aim{
	{Block: "activate", Area: "glute_max"}, {Block: "activate", Area: "glute_med"}, {Block: "activate", Area: "trunk"},
	{Block: "lengthen", Area: "calf"}, {Block: "activate", Area: "foot"}, {Block: "lengthen", Area: "hip_flexors"},
	{Block: "strengthen", Area: "single_leg"}, {Block: "strengthen", Area: "calf"}, {Block: "strengthen", Area: "trunk"}, {Block: "strengthen", Area: "glute_max"},
	{Block: "strengthen", Area: "glute_med"}, {Block: "lengthen", Area: "glutes"}, {Block: "strengthen", Area: "quadriceps"},
}

// General says what the foundation is for, goesWith what supports an aim.
const (
	General    = "general preparation for running"
	generalWhy = "what prepares for running is done on both sides"
	goesWith   = "goes with the work for: "
	atOnce     = "it works both sides at once"
)

// newLandings are the areas of work that change the landing and so load the calf
// more, and calfWork what must go with it.
var newLandings = []string{"quicker_steps", "land_under", "soft_landing"}

var calfWork = finding.Aim{Block: "strengthen", Area: "calf"}

// must is a weight above all that may stand beside it.
const must = 8

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// spares tells whether an exam that speaks against one aim speaks against another
// too: long enough is one thing, strong enough another.
func spares(against, a finding.Aim) bool {
	length := func(block string) bool { return block == "release" || block == "lengthen" }
	return against.Area == a.Area && length(against.Block) == length(a.Block)
}

// supported returns the aims, the first weightiest, and behind them what goes
// with them, on the same side.
func supported(aims []finding.SidedAim, spared []finding.Aim) []weighed {
	var out []weighed
	spare := func(a finding.Aim) bool {
		return slices.ContainsFunc(spared, func(x finding.Aim) bool { return spares(x, a) })
	}
	has := func(a finding.Aim) bool {
		return slices.ContainsFunc(out, func(x weighed) bool { return x.Block == a.Block && x.Area == a.Area })
	}
	for i, a := range aims {
		out = append(out, weighed{SidedAim: a, weight: 1 / (1 + 0.35*float64(i))})
	}
	for i, a := range aims {
		for k, s := range supports[a.Area] {
			weight := 0.45
			if s == calfWork && slices.Contains(newLandings, a.Area) {
				weight = must
				if i := slices.IndexFunc(out, func(x weighed) bool { return x.Block == s.Block && x.Area == s.Area }); i >= 0 {
					out[i].weight = must
				}
			}
			if !has(s) && !spare(s) {
				s.Why = a.Why
				out = append(out, weighed{SidedAim: finding.SidedAim{Aim: s, Side: a.Side, Of: goesWith + lowerFirst(a.Of)}, weight: weight / (1 + 0.35*float64(i)) / (1 + 0.1*float64(k)), support: true})
			}
		}
	}
	for _, x := range slices.Clone(out) {
		x.weight, x.support, x.second = 0.4*x.weight, true, true
		out = append(out, x)
	}
	for k, a := range foundation {
		if !has(a) && !spare(a) {
			a.Why = generalWhy
			out = append(out, weighed{SidedAim: finding.SidedAim{Aim: a, Of: General}, weight: 0.12 / (1 + 0.1*float64(k)), support: true})
		}
	}
	return out
}

// filled gives a second set to the exercises of a warm-up while there is time,
// the first ones first.
func filled(lib *Library, items []Item, timeS int) []Item {
	for i := range items {
		if e := lib.Lookup(items[i].Exercise); e.Dose.Sets > 1 {
			items[i].Dose.Sets = 2
			if TimeS(lib, items) > timeS {
				items[i].Dose.Sets = 1
			}
		}
	}
	return items
}

// fit says how well an exercise's level suits the one that is wanted.
func fit(level int, want float64) float64 {
	d := float64(level) - want
	if d > 0 {
		d *= 1.5 // too hard is worse than too easy
	}
	return 1 / (1 + d*d)
}

// note says what is new in a week: harder forms at the beginning of a phase, or
// more of the same.
func note(week, weeks, first int, changed, more bool) string {
	half := ""
	if week == (weeks+1)/2 && weeks > 3 {
		half = " Half-way: send a note on pain and what was done."
	}
	switch {
	case week == 1:
		return "Learn the movements; it must be felt where it should be before anything gets harder." + half
	case week == weeks:
		return "Last week: keep the dose, add nothing, then re-test."
	case week == first && changed:
		return "New or harder forms come in. Stay with the easier one where the movement is not clean or pain is above 2 of 10." + half
	case week == first+1 && more:
		return "Full sets of what was learnt." + half
	case more:
		return "A little more of the same: repetitions first, then a set." + half
	}
	return "The same once more, and cleaner; the time is full." + half
}

// choose takes, within the time, at most one exercise for each aim (and a second
// of little weight), none twice and no two forms of one exercise, so that the
// weights are greatest. The search is whole: there are few aims and few exercises
// each.
func choose(all []candidate, timeS int, now func(*Exercise) Dose) []candidate {
	byAim := map[string][]candidate{}
	var keys []string
	for _, c := range all {
		k := c.key()
		if c.second {
			k += "/2"
		}
		if _, ok := byAim[k]; !ok {
			keys = append(keys, k)
		}
		byAim[k] = append(byAim[k], c)
	}
	// The weightiest aims first makes the bound below sharp.
	top := func(k string) float64 {
		best := 0.0
		for _, c := range byAim[k] {
			best = max(best, c.weight)
		}
		return best
	}
	slices.SortStableFunc(keys, func(a, b string) int { return cmp.Compare(top(b), top(a)) })
	const most = 14
	keys = keys[:min(len(keys), most)]
	rest := make([]float64, len(keys)+1)
	for i := len(keys) - 1; i >= 0; i-- {
		rest[i] = rest[i+1] + top(keys[i])
	}
	var best, taken []candidate
	bestWeight := 0.0
	var search func(i, left int, weight float64)
	search = func(i, left int, weight float64) {
		if weight > bestWeight+1e-12 {
			bestWeight, best = weight, slices.Clone(taken)
		}
		if i == len(keys) || weight+rest[i] <= bestWeight+1e-12 {
			return
		}
		for _, c := range byAim[keys[i]] {
			t := now(c.exercise).TimeS(c.sides())
			if t > left || slices.ContainsFunc(taken, func(x candidate) bool { return x.family == c.family }) {
				continue
			}
			taken = append(taken, c)
			search(i+1, left-t, weight+c.weight)
			taken = taken[:len(taken)-1]
		}
		search(i+1, left, weight)
	}
	search(0, timeS, 0)
	slices.SortStableFunc(best, func(a, b candidate) int {
		return slices.Index(Blocks, a.exercise.Block) - slices.Index(Blocks, b.exercise.Block)
	})
	return best
}

func item(c candidate, step int, warm bool) Item {
	i := Item{Exercise: c.exercise.Name, Side: c.side, Dose: dose(c.exercise, step, warm), Of: c.aim.Of, Why: c.aim.Why}
	if !c.exercise.Each && c.aim.Side != body.NoSide {
		i.Why = atOnce
	}
	return i
}

// dose is the exercise's dose so many weeks after it came in: where it strengthens
// a set fewer at first, then its own, then more repetitions, then a set more, then both; in a
// warm-up one short set. What is released, lengthened or run is the same every
// week. Common practice.
func dose(e *Exercise, step int, warm bool) Dose {
	d := e.Dose
	if warm {
		d.Sets = 1
		return d
	}
	if e.Block == "release" || e.Block == "lengthen" || e.Run {
		return d
	}
	if step == 0 && e.Block == "strengthen" {
		d.Sets = max(1, d.Sets-1)
	}
	if step >= 3 {
		d.Sets = min(d.Sets+1, 4)
	}
	if step == 2 || step >= 4 {
		if d.Reps > 0 {
			d.Reps += max(1, d.Reps/5)
		} else {
			d.Seconds += max(5, d.Seconds/25*5)
		}
	}
	return d
}

// TimeS is how long the items take.
func TimeS(lib *Library, items []Item) int {
	total := 0
	for _, i := range items {
		sides := 1
		if e := lib.Lookup(i.Exercise); e != nil && e.Each && i.Side == body.NoSide {
			sides = 2
		}
		total += i.Dose.TimeS(sides)
	}
	return total
}

// Revise makes the plan anew for new findings, or for what the runner may do now,
// and keeps all that the coach did: items set by hand stay in their weeks with their
// dose, exercises taken out stay out, weeks changed by hand stay as they are. What of
// it must not be done now stays in the plan too, for the time when it may be done
// again; Safe leaves it out.
func Revise(lib *Library, old Plan, in Input) Plan {
	in = in.defaults()
	p := Make(lib, in)
	if p.None != "" {
		return p
	}
	p.Removed = slices.Clone(old.Removed)
	shut := closed(in)
	if len(p.Removed) > 0 {
		p.weeks(lib, in, shut)
	}
	for i := range p.Weeks {
		var before Week
		if i < len(old.Weeks) {
			before = old.Weeks[i]
		}
		if before.Hand {
			p.Weeks[i] = Week{Number: i + 1, Note: before.Note, Hand: true, Warm: slices.Clone(before.Warm), Full: slices.Clone(before.Full), Running: slices.Clone(before.Running)}
			continue
		}
		w := &p.Weeks[i]
		w.Warm = keep(lib, shut, w.Warm, before.Warm, in.WarmMin*60)
		w.Full = keep(lib, shut, w.Full, before.Full, in.FullMin*60)
		w.Running = keep(lib, shut, w.Running, before.Running, 0)
	}
	return p
}

// barred lists the exercises that the runner has the things for and must not do, in
// the order of the library.
func barred(lib *Library, in Input, shut map[string]closure) []string {
	var out []string
	bare := map[string]closure{}
	for _, e := range lib.Exercises {
		if loads(e, shut) != "" && serves(e, in, bare) == "" {
			out = append(out, e.Name)
		}
	}
	return out
}

// Why a plan is behind what the runner may do.
const (
	// Shut: an exercise of it must not be done any more.
	Shut = "shut"
	// Opened: more may be done than when it was made.
	Opened = "opened"
)

// Behind tells whether the plan is behind what the runner may do now: Shut, Opened
// or empty.
func (p Plan) Behind(lib *Library, in Input) string {
	in = in.defaults()
	now := barred(lib, in, closed(in))
	for _, w := range p.Weeks {
		for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
			if slices.Contains(now, i.Exercise) && !slices.Contains(p.Barred, i.Exercise) {
				return Shut
			}
		}
	}
	bare := map[string]closure{}
	for _, name := range p.Barred {
		if e := lib.Lookup(name); e != nil && serves(e, in, bare) == "" && !slices.Contains(now, name) {
			return Opened
		}
	}
	if p.NoRun != "" && NoRun(in) == "" {
		return Opened
	}
	return ""
}

// allowed leaves out what the runner must not do.
func allowed(lib *Library, shut map[string]closure, items []Item) []Item {
	var out []Item
	for _, i := range items {
		e := lib.Lookup(i.Exercise)
		if e == nil {
			continue
		}
		if loads(e, shut) != "" {
			continue
		}
		out = append(out, i)
	}
	return out
}

// keep puts the items set by hand into fresh ones: in place of the same exercise,
// else in addition; where the time (0: none) is then over, the last ones not set
// by hand give way.
// What must not be done now is kept and takes no time.
func keep(lib *Library, shut map[string]closure, fresh, before []Item, timeS int) []Item {
	for _, h := range before {
		if !h.Hand {
			continue
		}
		if i := slices.IndexFunc(fresh, func(x Item) bool { return x.Exercise == h.Exercise }); i >= 0 {
			fresh[i] = h
		} else {
			fresh = append(fresh, h)
		}
	}
	block := func(i Item) int {
		if e := lib.Lookup(i.Exercise); e != nil {
			return slices.Index(Blocks, e.Block)
		}
		return len(Blocks)
	}
	slices.SortStableFunc(fresh, func(a, b Item) int { return block(a) - block(b) })
	for timeS > 0 && TimeS(lib, allowed(lib, shut, fresh)) > timeS {
		i := len(fresh) - 1
		for i >= 0 && fresh[i].Hand {
			i--
		}
		if i < 0 {
			break // all of it is the coach's own
		}
		fresh = slices.Delete(fresh, i, i+1)
	}
	return fresh
}

var progression = []int{9, 14}

// blockDisputes are the disputed points that a block of a plan touches.
var blockDisputes = map[string][]int{"activate": {14}, "strengthen": {4, 14}, "integrate": {2, 5}}

// Disputed lists the disputed points (finding.Rules.Contested) that the plan
// touches, in order.
func (p Plan) Disputed(lib *Library) []int {
	out := slices.Clone(progression)
	for _, w := range p.Weeks {
		for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
			if e := lib.Lookup(i.Exercise); e != nil {
				out = append(out, DisputedOf(e)...)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// DisputedOf lists the disputed points that an exercise touches, in order.
func DisputedOf(e *Exercise) []int {
	out := slices.Clone(blockDisputes[e.Block])
	switch {
	case e.Area == "quicker_steps":
		out = append(out, 1)
	case e.Area == "lean_from_ankles" || e.Area == "tall_trunk":
		out = append(out, 6)
	case e.Area == "even_steps":
		out = append(out, 7)
	}
	slices.Sort(out)
	return out
}

// Progression are the disputed points that the rules of going on touch.
func Progression() []int { return slices.Clone(progression) }

// Refused tells why an exercise must not be done by the runner, whoever puts it
// into a plan; empty where it may.
func Refused(e *Exercise, in Input) string { return loads(e, closed(in)) }

// Left is an item that was taken out of a plan because it must not be done.
type Left struct {
	Exercise string `json:"exercise"`
	Why      string `json:"why"`
}

// Safe returns the plan without what the runner must not do as things stand now,
// and what that was. Where all is referred nothing is left.
func (p Plan) Safe(lib *Library, in Input) (Plan, []Left) {
	shut := closed(in)
	if c, all := shut[""]; all {
		return Plan{Start: p.Start, Retest: p.Retest, None: "There is no programme until a clinician has cleared it: " + c.why + "."}, nil
	}
	p.NoRun = noRun(in, shut)
	var left []Left
	for _, w := range p.Weeks {
		for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
			e := lib.Lookup(i.Exercise)
			why := "is in no library any more"
			if e != nil {
				why = loads(e, shut)
			}
			if why != "" && !slices.ContainsFunc(left, func(l Left) bool { return l.Exercise == i.Exercise }) {
				left = append(left, Left{i.Exercise, why})
			}
		}
	}
	p.Weeks = slices.Clone(p.Weeks)
	for n := range p.Weeks {
		w := &p.Weeks[n]
		w.Warm, w.Full, w.Running = allowed(lib, shut, w.Warm), allowed(lib, shut, w.Full), allowed(lib, shut, w.Running)
		if p.NoRun != "" {
			w.Warm, w.Running = nil, nil
		}
	}
	if p.NoRun != "" {
		p.RunDays = nil
	}
	if len(left) > 0 {
		p.Short = short(lib, p.Weeks, in.defaults().FullMin)
	}
	return p, left
}

// DrillsOn are the drills of a week's run, the first run being 0: each on as many
// runs as its dose says, in turn where there is more than one.
func DrillsOn(running []Item, run, runs int) []Item {
	load := make([]int, runs)
	var out []Item
	for _, i := range running {
		n := min(i.Dose.PerWeek, runs)
		// Evenly over the week, and on the runs that have the fewest.
		order := make([]int, 0, runs)
		for k := range n {
			order = append(order, k*max(1, runs-1)/max(1, n-1)%runs)
		}
		for k := range runs {
			order = append(order, k)
		}
		slices.SortStableFunc(order, func(a, b int) int { return load[a] - load[b] })
		taken := map[int]bool{}
		for _, k := range order {
			if len(taken) < n && !taken[k] {
				taken[k] = true
				load[k]++
			}
		}
		if taken[run] {
			out = append(out, i)
		}
	}
	return out
}

// WithLeft returns the plan with what Safe left out of the whole one put back to
// its place, so that it is there again when the runner may do it.
func (p Plan) WithLeft(whole, safe Plan) Plan {
	p.RunDays, p.NoRun = whole.RunDays, whole.NoRun
	p.Weeks = slices.Clone(p.Weeks)
	back := func(now, was, shown []Item) []Item {
		now = slices.Clone(now)
		for k, i := range was {
			same := func(x Item) bool { return x.Exercise == i.Exercise }
			if !slices.ContainsFunc(shown, same) && !slices.ContainsFunc(now, same) {
				now = slices.Insert(now, min(k, len(now)), i)
			}
		}
		return now
	}
	for n := range p.Weeks {
		if n >= len(whole.Weeks) || n >= len(safe.Weeks) {
			break
		}
		w, was, shown := &p.Weeks[n], whole.Weeks[n], safe.Weeks[n]
		w.Warm, w.Full, w.Running = back(w.Warm, was.Warm, shown.Warm), back(w.Full, was.Full, shown.Full), back(w.Running, was.Running, shown.Running)
	}
	return p
}

// Closed lists the regions that nothing may load, in order.
func Closed(in Input) []string {
	out := slices.DeleteFunc(slices.Collect(maps.Keys(closed(in))), func(r string) bool { return r == "" })
	slices.Sort(out)
	return out
}

// ByHand returns the plan with the coach's weeks in place of its own and marks
// what the coach did: an item that is new or has another dose or side, a week in
// which something was taken out or put in another order, and exercises taken out
// of every week. Revise keeps all of that.
func (p Plan) ByHand(weeks []Week) Plan {
	all := func(weeks []Week) map[string]bool {
		out := map[string]bool{}
		for _, w := range weeks {
			for _, i := range slices.Concat(w.Warm, w.Full, w.Running) {
				out[i.Exercise] = true
			}
		}
		return out
	}
	before, after := all(p.Weeks), all(weeks)
	p.Removed = slices.DeleteFunc(slices.Clone(p.Removed), func(name string) bool { return after[name] })
	for name := range before {
		if !after[name] {
			p.Removed = append(p.Removed, name)
		}
	}
	slices.Sort(p.Removed)
	p.Removed = slices.Compact(p.Removed)
	kept := p.Weeks
	p.Weeks = slices.Clone(weeks)
	for n := range p.Weeks {
		w := &p.Weeks[n]
		var old Week
		if n < len(kept) {
			old = kept[n]
		}
		w.Hand = old.Hand || w.Note != old.Note
		for _, x := range []struct {
			list *[]Item
			old  []Item
		}{{&w.Warm, old.Warm}, {&w.Full, old.Full}, {&w.Running, old.Running}} {
			*x.list = slices.Clone(*x.list)
			var was, is []string // what was there before, less what was taken out of all weeks
			for _, i := range x.old {
				if !slices.Contains(p.Removed, i.Exercise) {
					was = append(was, i.Exercise)
				}
			}
			for k := range *x.list {
				i := &(*x.list)[k]
				j := slices.IndexFunc(x.old, func(o Item) bool { return o.Exercise == i.Exercise })
				if j < 0 {
					i.Hand = true
					continue
				}
				is = append(is, i.Exercise)
				i.Hand = x.old[j].Hand || i.Dose != x.old[j].Dose || i.Side != x.old[j].Side
				i.Of, i.Why = x.old[j].Of, x.old[j].Why
			}
			w.Hand = w.Hand || !slices.Equal(was, is)
		}
	}
	return p
}
