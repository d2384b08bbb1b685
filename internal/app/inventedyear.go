package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/adrg/xdg"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/programme"
	"gaitwright/gait/retest"
	"gaitwright/internal/handout"
	"gaitwright/internal/keypoint"
	"gaitwright/internal/runfile/runtest"
	"gaitwright/internal/store"
	"gaitwright/internal/synth"
)

// settingInvented marks a studio in which nobody is real.
const settingInvented = "invented"

// inventedNote is the file in its folder that says so to whoever finds it.
const inventedNote = "INVENTED.txt"

// InventedDir is the folder of the invented studio: beside the user's own, never in
// it.
func InventedDir() string { return filepath.Join(xdg.DataHome, "gaitwright", "invented-studio") }

// InventedStudio is what the invented studio holds, and what is true of it.
type InventedStudio struct {
	Runners []InventedRunner
	Visits  int
	Filmed  string // a visit with real pictures; empty where none was asked for
}

// InventedRunner is one runner of the invented studio with what was put in at each
// visit, so that what the program finds can be held against it.
type InventedRunner struct {
	ID, Name string
	Story    string // hip, steps or fine
	Helped   bool   // the programme moved what it was for
	Research bool   // agrees to be looked at together
	Side     body.Side
	Visits   []string
	Days     []time.Time
	DropDeg  []float64 // pelvic drop on Side
	StepRate []float64 // steps a minute
}

// The stories of the invented year: how many runners, how many of them the programme
// helps, and how many stay away after the first visit.
const (
	hipRunners, hipHelped, hipAway       = 17, 9, 3
	stepRunners, stepsHelped, stepsAway  = 13, 9, 2
	fineRunners                          = 10
	inventedFilmSeconds, inventedFilmsHz = 8, 100
)

var (
	inventedWomen = []string{"Ada Lindqvist", "Berta Kohlmeier", "Clio Marchetti", "Dana Olufsen", "Elif Sandoz", "Fenja Brook", "Gesa Ritterhoff", "Hanne Verbeek", "Ilka Moravec", "Juno Castell",
		"Kaja Petrossian", "Lene Aubry", "Marit Solberg", "Nele Quandt", "Oona Fairweather", "Pia Dragomir", "Runa Whitlock", "Sanna Ibsen", "Thea Marlow", "Ulla Renner"}
	inventedMen = []string{"Anton Feist", "Bela Norden", "Caspar Thiele", "Dario Lund", "Emil Hartog", "Falk Osterholt", "Gero Pastor", "Henk Dorsey", "Ivo Calder", "Jannis Roth",
		"Kolja Bergstrom", "Levi Arnaud", "Mats Ullmann", "Niklas Weir", "Ole Tamborini", "Piet Sommer", "Ravi Lenz", "Silas Monk", "Till Abernathy", "Urs Bellini"}
)

// inventedPlan is one runner before anything is kept.
type inventedPlan struct {
	InventedRunner
	record store.Runner
	seed   uint64
	speed  float64
	rate   float64 // at the first visit
	weeks  []int   // before today, of each visit
	effect []float64
	pains  []string
	log    float64 // share of the homework that is done
	runs   bool
}

// inventYear thinks up the runners of a year that ends today.
func inventYear(today time.Time) []inventedPlan {
	rng := rand.New(rand.NewPCG(2026, 40))
	about := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	var out []inventedPlan
	women, men := 0, 0
	add := func(story string, n, helped, away int) {
		for i := range n {
			p := inventedPlan{seed: uint64(1000 + 10*len(out)), speed: []float64{2.8, 3.0}[rng.IntN(2)], log: about(0.5, 0.95)}
			p.Story, p.Helped, p.Research = story, i < helped, true
			p.Side = []body.Side{body.Left, body.Right}[rng.IntN(2)]
			female := (story == "hip") == (rng.IntN(3) > 0) // the hip's story is told more of women here
			if female && women == len(inventedWomen) || !female && men == len(inventedMen) {
				female = !female
			}
			h := about(1.70, 1.88)
			p.record = store.Runner{Sex: "male", BornYear: today.Year() - 22 - rng.IntN(38)}
			if female {
				h = about(1.58, 1.76)
				p.record.Sex = "female"
				p.Name = inventedWomen[women]
				women++
			} else {
				p.Name = inventedMen[men]
				men++
			}
			p.record.HeightM = float64(int(100*h)) / 100
			p.record.MassKG = float64(int(about(20.5, 23.5) * p.record.HeightM * p.record.HeightM))
			p.record.Name = p.Name + " (invented)"
			p.record.Note = "An invented runner of an invented year. Nothing here is of a real person."
			p.rate = synth.UsualStepRateSPM(p.record.HeightM, p.speed)
			first := 14 + rng.IntN(33)
			switch {
			case story == "fine":
				p.weeks, p.effect = []int{first}, []float64{0}
				if i%3 == 0 {
					p.weeks, p.effect = []int{first, max(first-10-rng.IntN(4), 0)}, []float64{0, 0}
				}
			case i >= n-away: // long due, and did not come back
				p.weeks, p.effect = []int{max(first, 22)}, []float64{0}
			case i == helped: // the re-test is not due yet
				p.weeks, p.effect = []int{2 + rng.IntN(3)}, []float64{0}
			default:
				p.weeks, p.effect = []int{first, first - 9 - rng.IntN(3)}, []float64{0, 0}
				if p.Helped {
					p.effect[1] = about(0.8, 1.2)
				}
				if i%2 == 0 {
					p.weeks, p.effect = append(p.weeks, max(p.weeks[1]-6-rng.IntN(8), 0)), append(p.effect, p.effect[1])
					if i == 4 { // one whom it left again
						p.effect[2] = 0
					}
				}
				if i == 0 {
					p.weeks, p.effect = []int{40, 30, 16, 2}, append(p.effect, p.effect[1])
				}
			}
			if story == "steps" {
				p.rate -= about(14, 18)
				p.runs = i < 3
			}
			if story != "fine" || i%2 == 0 {
				p.pains = [][]string{{"knee_front", "knee_outer"}, {"shin", "knee_front"}, {"achilles", "calf"}}[map[string]int{"hip": 0, "steps": 1, "fine": 2}[story]]
				p.pains = p.pains[rng.IntN(2):][:1]
			}
			out = append(out, p)
		}
	}
	add("hip", hipRunners, hipHelped, hipAway)
	add("steps", stepRunners, stepsHelped, stepsAway)
	add("fine", fineRunners, 0, 0)
	for _, i := range []int{5, 20, 33} { // who never agreed to research
		out[i].Research = false
	}
	return out
}

// params is how the runner runs at a visit.
func (p *inventedPlan) params(visit int) synth.Params {
	e := p.effect[visit]
	rate := p.rate
	if p.Story == "steps" {
		rate += 12 * e
	}
	q := synth.NewParams(p.record.HeightM, p.speed, rate)
	q.Female, q.MassKG, q.Variation, q.Seed, q.DurationS = p.record.Sex == "female", p.record.MassKG, synth.Usual(), p.seed+uint64(visit), inventedFilmSeconds+1
	q.PelvicDropDeg, q.KneeValgusDeg = synth.Both(4), synth.Both(1)
	on := func(s *synth.Sided, v float64) {
		if p.Side == body.Left {
			s.Left = v
		} else {
			s.Right = v
		}
	}
	switch p.Story {
	case "hip":
		more := float64(p.seed%7) / 3.5 // from person to person
		on(&q.PelvicDropDeg, 10+more-4.5*e)
		on(&q.KneeValgusDeg, 10+more-4*e)
		q.StepWidthM = 0.03
	case "steps":
		q.OverstrideM = synth.Both(q.OverstrideM.Left + 0.07 - 0.06*e)
		q.FootAngleAtContactDeg = synth.Both(18)
		q.KneeFlexionAtContactDeg = synth.Both(10 + 5*e)
	}
	return q
}

// exam is what the hands find: on the side of the hip's story it holds less.
func (p *inventedPlan) exam(visit int) PageExam {
	e := demoExam()
	if p.Side == body.Left { // as the right side of the demonstration, mirrored
		for _, test := range []string{"hip_abduction_strength", "hip_adduction_strength", "hip_external_rotation_strength", "thomas_hip", "lunge_cm", "adductor_length", "single_leg_squat", "single_leg_bridge", "heel_raise"} {
			e.Entries[test+"/left"], e.Entries[test+"/right"] = e.Entries[test+"/right"], e.Entries[test+"/left"]
		}
	}
	if p.Story != "hip" || p.effect[visit] > 0.5 {
		side := p.Side.String()
		for _, test := range []string{"hip_abduction_strength", "hip_external_rotation_strength", "single_leg_squat"} {
			other := body.Left.String()
			if p.Side == body.Left {
				other = body.Right.String()
			}
			e.Entries[test+"/"+side] = e.Entries[test+"/"+other]
		}
	}
	return e
}

func (p *inventedPlan) intake(visit int) PageIntake {
	in := demoIntake()
	in.Shoes, in.History = "Neutral trainer, 8 mm drop", ""
	in.Goals = map[string]string{"hip": "Run without the knee speaking up.", "steps": "Ten kilometres with an easier step.", "fine": "To see how I run."}[p.Story]
	in.Complaint = ""
	in.Pain, in.NoPain = nil, true
	if len(p.pains) > 0 {
		score := 4 - 2*visit
		if !p.Helped {
			score = 4 - visit
		}
		if score > 0 {
			in.NoPain = false
			in.Complaint = "It speaks up after about half an hour."
			face := "front"
			if slices.Contains([]string{"achilles", "calf"}, p.pains[0]) {
				face = "back"
			}
			in.Pain = []PagePain{{Region: p.pains[0], Side: p.Side.String(), Face: face, Score: score, Since: "some months", When: "after half an hour"}}
		}
	}
	return in
}

// Invent fills an empty studio with an invented year: some forty runners who came, came
// back or stayed away, with intake, exam, findings, plans and logs, measured through
// the program's own chain from landmarks that are drawn. It refuses a studio that
// holds anything. With films one runner's visits are filmed and measured from the
// pictures.
func (st *Studio) Invent(ctx context.Context, films bool, progress Progress) (*InventedStudio, error) {
	return st.invent(ctx, films, nil, progress)
}

// invent is Invent of some of the runners; of them all where of is nil.
func (st *Studio) invent(ctx context.Context, films bool, of func(i int, story string) bool, progress Progress) (*InventedStudio, error) {
	const who = "Ines (invented)"
	if films {
		if err := modelReady("full"); err != nil {
			return nil, err
		}
	}
	kept, err := st.records()
	if err != nil {
		return nil, err
	}
	empty := true
	err = kept.Read(ctx, func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 1})
		if err != nil {
			return err
		}
		results, err := r.Results(1)
		empty = len(rows)+len(results) == 0
		return err
	})
	if err != nil {
		return nil, recordProblem(err, st.dir)
	}
	if !empty {
		return nil, problem(KindUsage, st.dir, "Name a folder that does not hold a studio yet.", "holds a studio already; invented runners are never put among others")
	}
	note := fmt.Sprintf("Everybody in this folder is invented: an invented studio, written by %s to look around in. Delete it whenever you like.\n", programName())
	if err := os.WriteFile(filepath.Join(st.dir, inventedNote), []byte(note), 0o644); err != nil {
		return nil, unwritable(filepath.Join(st.dir, inventedNote), err)
	}
	err = kept.Change(ctx, store.Deed{Who: who, What: "Made the invented studio"}, func(w store.Writer) error {
		return errors.Join(w.PutSetting(settingInvented, "begun"), w.PutSetting(settingStudio, synth.DemoStudio+" (invented)"))
	})
	if err != nil {
		return nil, recordProblem(err, st.dir)
	}
	now := st.now()
	today := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)
	var plans []inventedPlan
	for i, p := range inventYear(today) {
		if of == nil || of(i, p.Story) {
			plans = append(plans, p)
		}
	}
	progress.Stage("inventing a year", "studio", len(plans))
	work, done := make(chan int), make(chan error)
	inner, stop := context.WithCancel(ctx)
	defer stop()
	var busy sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), 4) {
		busy.Go(func() {
			for i := range work {
				done <- st.inventRunner(inner, who, kept, &plans[i], today)
			}
		})
	}
	go func() {
		defer close(work)
		for i := range plans {
			select {
			case work <- i:
			case <-inner.Done():
				return
			}
		}
	}()
	go func() { busy.Wait(); close(done) }()
	for e := range done {
		if e != nil {
			if err == nil {
				err = e
			}
			stop()
			continue
		}
		progress.Advance(1)
	}
	progress.Done()
	if err = cmpErr(ctx.Err(), err); err != nil {
		return nil, err
	}
	out := &InventedStudio{}
	for _, p := range plans {
		out.Runners = append(out.Runners, p.InventedRunner)
		out.Visits += len(p.Visits)
	}
	if films {
		if out.Filmed, err = st.inventFilmed(ctx, who, kept, today, progress); err != nil {
			return nil, err
		}
	}
	// One who agreed to research thought better of it.
	last := &out.Runners[len(out.Runners)-1]
	if err := st.withdrawResearch(ctx, who, last.ID); err != nil {
		return nil, err
	}
	last.Research = false
	err = kept.Change(ctx, store.Deed{Who: who, What: "The invented studio is complete"}, func(w store.Writer) error { return w.PutSetting(settingInvented, "whole") })
	return out, recordProblem(err, st.dir)
}

func cmpErr(first, second error) error {
	if first != nil {
		return first
	}
	return second
}

func (st *Studio) withdrawResearch(ctx context.Context, who, id string) error {
	r, err := st.Runner(ctx, id)
	if err != nil {
		return err
	}
	r.Consent.Research = nil
	_, err = st.ChangeRunner(ctx, who, id, "", r)
	return err
}

// inventRunner keeps one runner with all visits.
func (st *Studio) inventRunner(ctx context.Context, who string, kept *records, p *inventedPlan, today time.Time) error {
	first := today.AddDate(0, 0, -7*p.weeks[0])
	p.record.ConsentFilming, p.record.ConsentRecords = first, first
	if p.Research {
		p.record.ConsentResearch = first
	}
	err := kept.Change(ctx, store.Deed{Who: who, What: "Took in " + p.record.Name}, func(w store.Writer) error { return w.PutRunner(&p.record) })
	if err != nil {
		return recordProblem(err, st.dir)
	}
	p.ID = p.record.ID
	for n, weeks := range p.weeks {
		if err := ctx.Err(); err != nil {
			return err
		}
		day := today.AddDate(0, 0, -7*weeks)
		visit, err := st.NewVisit(ctx, who, p.ID, day.Format(dayForm))
		if err != nil {
			return err
		}
		q := p.params(n)
		p.Visits, p.Days = append(p.Visits, visit.ID), append(p.Days, day)
		p.DropDeg, p.StepRate = append(p.DropDeg, q.PelvicDropDeg.On(p.Side)), append(p.StepRate, q.StepRateSPM)
		if _, err := st.ChangeIntake(ctx, who, visit.ID, p.intake(n)); err != nil {
			return err
		}
		if _, err := st.ChangeExam(ctx, who, visit.ID, p.exam(n)); err != nil {
			return err
		}
		films := []drawnFilm{{"side.json", "left", clip.LeftSide, retest.WithoutClick, q}, {"behind.json", "rear", clip.Rear, retest.WithoutClick, q}}
		if err := st.drawnFilms(ctx, who, kept, visit.ID, day, films, inventedFilmsHz, inventedFilmSeconds, p.seed+uint64(n)); err != nil {
			return err
		}
		if err := st.inventDecisions(ctx, who, visit.ID, p, n, day); err != nil {
			return err
		}
	}
	if p.Story == "fine" || len(p.weeks) < 2 && p.weeks[0] > 10 {
		return nil // nothing was planned, or nothing ever came back
	}
	if err := st.inventLog(ctx, who, p.Visits[0], p, today); err != nil {
		return err
	}
	if p.runs {
		return st.inventRuns(ctx, who, p)
	}
	return nil
}

// inventDecisions is what the coach made of a visit: findings accepted, now and then
// one rejected; at the first visit a plan.
func (st *Studio) inventDecisions(ctx context.Context, who, visitID string, p *inventedPlan, n int, day time.Time) error {
	f, err := st.Findings(ctx, visitID)
	if err != nil {
		return err
	}
	if len(f.Report.Findings) == 0 {
		return nil
	}
	k := f.PageFindingsKept
	for i, x := range f.Report.Findings {
		k.Decisions[x.Name] = PageDecision{State: "accepted"}
		if i > 0 && (p.seed/10+uint64(i))%4 == 0 {
			k.Decisions[x.Name] = PageDecision{State: "rejected", Reason: "Seen, but not what brought the runner here."}
		}
	}
	if _, err := st.ChangeFindings(ctx, who, visitID, k); err != nil {
		return err
	}
	if n > 0 || p.Story == "fine" {
		return nil
	}
	ask := st.usualAsk()
	for day.Weekday() != time.Monday {
		day = day.AddDate(0, 0, 1)
	}
	ask.Start = day.Format(dayForm)
	if _, err := st.ChangePlan(ctx, who, visitID, PagePlanChange{Ask: ask}); err != nil {
		return err
	}
	if p.Story != "steps" {
		return nil
	}
	ramp := PageStepRateAsk{How: "film", Landing: "yes", Target: number(p.rate+12, 0)}
	_, err = st.ChangeStepRate(ctx, who, visitID, PageStepRateChange{Ask: ramp})
	return err
}

// inventLog is the homework as it came back.
func (st *Studio) inventLog(ctx context.Context, who, visitID string, p *inventedPlan, today time.Time) error {
	rng := rand.New(rand.NewPCG(p.seed, 9))
	return st.writeLog(ctx, who, visitID, fmt.Sprintf("DE%06d", p.seed), today, func(week, day int, full, run bool) loggedDay {
		d := loggedDay{full: full && rng.Float64() < p.log, run: run && rng.Float64() < p.log}
		if p.Helped {
			d.pain = max(0, 3-week)
		} else {
			d.pain = 3 - week/4
		}
		if p.Story == "steps" && run {
			d.perMin = p.rate + float64(week)
		}
		return d
	})
}

// inventRuns are runs of the watch before the ramp and under it.
func (st *Studio) inventRuns(ctx context.Context, who string, p *inventedPlan) error {
	for i := range 9 {
		week := 2*i - 4
		day := p.Days[0].AddDate(0, 0, 7*week+2).Add(17 * time.Hour)
		if day.After(st.now()) {
			break
		}
		rate := p.rate + 12*p.effect[min(1, len(p.effect)-1)]*max(0, min(1, float64(week)/8))
		run := runtest.Easy(day, p.seed+uint64(i), 30, p.speed-0.1+0.02*float64(i), rate)
		run.Serial = uint32(p.seed)
		if _, err := st.TakeInRun(ctx, who, p.ID, p.Visits[0], fmt.Sprintf("run-%02d.fit", i+1), bytes.NewReader(run.FIT())); err != nil {
			return err
		}
	}
	return nil
}

// inventFilmed films the demonstration's runner at two visits and measures the
// pictures.
func (st *Studio) inventFilmed(ctx context.Context, who string, kept *records, today time.Time, progress Progress) (string, error) {
	dir, err := os.MkdirTemp("", "gaitwright-demo-*")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	o := demoFilm
	o.Seconds, o.RateHz = 5, 60
	p := demonstration()
	p.DurationS = o.Seconds + 1
	last := ""
	for n, weeks := range []int{11, 1} {
		day := today.AddDate(0, 0, -7*weeks)
		if n == 1 {
			p.PelvicDropDeg.Right, p.KneeValgusDeg.Right = p.PelvicDropDeg.Right-4, p.KneeValgusDeg.Right-5
			p.Seed++
		}
		runner, err := synth.New(p)
		if err != nil {
			return "", err
		}
		side, rear := filepath.Join(dir, fmt.Sprintf("side %d.mp4", n+1)), filepath.Join(dir, fmt.Sprintf("behind %d.mp4", n+1))
		if _, err := shootFilm(ctx, runner, clip.LeftSide, side, o, progress); err != nil {
			return "", err
		}
		if _, err := shootFilm(ctx, runner, clip.Rear, rear, o, progress); err != nil {
			return "", err
		}
		s, err := st.demoVisitOn(ctx, p, "full", side, rear, day, progress)
		if err != nil {
			return "", err
		}
		last = s.VisitID
		one := inventedPlan{seed: 1, InventedRunner: InventedRunner{Story: "hip", Helped: true, Side: body.Right}, log: 0.8}
		if err := st.inventDecisions(ctx, who, s.VisitID, &one, n, day); err != nil {
			return "", err
		}
		if n == 0 {
			if err := st.inventLog(ctx, who, s.VisitID, &one, today); err != nil {
				return "", err
			}
		}
	}
	return last, nil
}

// OpenInvented opens the invented studio in a folder of its own, and fills it where it
// is not there yet; anew throws away what was there. A folder that holds anything else
// is refused.
func OpenInvented(ctx context.Context, dir string, films, anew bool, progress Progress) (*Studio, *InventedStudio, error) {
	if dir == "" {
		dir = InventedDir()
	}
	st, err := OpenStudio(dir)
	if err != nil {
		return nil, nil, err
	}
	entries, err := os.ReadDir(st.dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, &Problem{Kind: KindUsage, File: dir, What: err.Error(), Err: err}
	}
	if len(entries) > 0 {
		if _, err := os.Stat(filepath.Join(st.dir, inventedNote)); err != nil {
			return nil, nil, problem(KindUsage, dir, "Name an empty folder with --results; what is invented is never put among anything else.", "is no invented studio, and not empty")
		}
		var word string
		err := st.readRecords(ctx, func(r store.Reader) (err error) { word, err = r.Setting(settingInvented); return err })
		if err == nil && word == "whole" && !anew {
			return st, nil, nil
		}
		if err == nil && word == "" {
			st.Close()
			return nil, nil, problem(KindUsage, dir, "Name another folder with --results.", "holds a studio that is not marked as invented")
		}
		// Half made, or to be made anew.
		st.Close()
		for _, e := range entries {
			if err := os.RemoveAll(filepath.Join(st.dir, e.Name())); err != nil {
				return nil, nil, &Problem{Kind: KindUnexpected, File: dir, What: err.Error(), Err: err}
			}
		}
		if st, err = OpenStudio(dir); err != nil {
			return nil, nil, err
		}
	}
	made, err := st.Invent(ctx, films, progress)
	if err != nil {
		st.Close()
		return nil, nil, err
	}
	return st, made, nil
}

// OpenInventedAside is OpenInvented without films, where the studio is filled by a
// process of its own.
func OpenInventedAside(ctx context.Context, dir string, progress Progress) (*Studio, error) {
	if dir == "" {
		dir = InventedDir()
	}
	e, err := sendOut(ctx, errandOrder{Invent: &inventOrder{Dir: dir}})
	if err != nil {
		return nil, err
	}
	defer e.close()
	if _, err := e.finish(progress, nil); err != nil {
		return nil, err
	}
	st, _, err := OpenInvented(ctx, dir, false, false, progress)
	return st, err
}

// inventOrder is the filling of the invented studio as an errand: the one that opens
// records, for nobody else has them yet.
type inventOrder struct{ Dir string }

func (o *inventOrder) carryOut(ctx context.Context, say *errandTongue) (filled bool, err error) {
	st, made, err := OpenInvented(ctx, o.Dir, false, false, say)
	if err != nil {
		return false, err
	}
	st.Close()
	return made != nil, nil
}

// drawnFilm is a film of landmarks that are drawn without pictures.
type drawnFilm struct {
	name, view string
	from       clip.View
	click      string
	params     synth.Params
}

// drawnFilms takes drawn landmarks into a visit and measures them.
func (st *Studio) drawnFilms(ctx context.Context, who string, kept *records, visitID string, day time.Time, films []drawnFilm, rateHz, seconds float64, seed uint64) error {
	dir, err := os.MkdirTemp("", "gaitwright-demo-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	var clips []string
	var runner *synth.Runner
	for i, f := range films {
		p := f.params
		p.DurationS = seconds + 1
		if i == 0 || p != films[i-1].params {
			if runner, err = synth.New(p); err != nil {
				return err
			}
		}
		cam := synth.NewCamera(f.from, 720, 1280, 4)
		drawn := synth.Noisy(synth.WithoutStickers(runner.Track(synth.Clock(rateHz, seconds), cam)), synth.Noise{SD: 1.2, HiddenFactor: 2, Autocorrelation: 0.5, Seed: 100*seed + uint64(i)})
		path := filepath.Join(dir, f.name)
		if err := keypoint.Save(path, &keypoint.File{Track: drawn, View: f.from, WidthPX: 720, HeightPX: 1280}); err != nil {
			return err
		}
		in, err := os.Open(path)
		if err != nil {
			return err
		}
		hash, bytes, err := kept.files.Put(ctx, in, 0)
		in.Close()
		if err != nil {
			return recordProblem(err, st.dir)
		}
		c, err := st.takeIn(ctx, who, visitID, f.name, hash, bytes, PageClipFacts{View: f.view, SpeedMPS: known(p.SpeedMPS), Shoes: "light trainer", Click: f.click})
		if err != nil {
			return err
		}
		clips = append(clips, c.ID)
	}
	f, s, takes, err := st.prepare(ctx, kept, visitID, clips, "")
	if err != nil {
		return err
	}
	s.Studio, s.Created = synth.DemoStudio, day
	if err := st.measure(ctx, s, takes, NoProgress{}); err != nil {
		return err
	}
	at := resultPlace{visit: visitID, clipIDs: s.clipIDs()}
	at.rests = f.rests(at.clipIDs)
	return st.saveResult(ctx, store.Deed{Who: who, VisitID: visitID, What: "Measured " + s.files()}, s, at, nil)
}

// loggedDay is what came back of one day of homework.
type loggedDay struct {
	full, run bool    // done
	pain      int     // of a run
	perMin    float64 // steps counted; 0 where not
	note      string
}

// writeLog takes in the homework of a plan as it came back: of tells of each day on
// which something was to be done.
func (st *Studio) writeLog(ctx context.Context, who, visitID, sheet string, today time.Time, of func(week, day int, full, run bool) loggedDay) error {
	f, err := st.reason(ctx, visitID)
	if err != nil || f.plan == nil {
		return err
	}
	plan := f.plan.Plan
	log := handout.Log{Format: 1, Visit: visitID, Sheet: sheet}
	for n, w := range plan.Weeks {
		for d := range 7 {
			day := plan.Start.AddDate(0, 0, 7*n+d)
			full, run := slices.Contains(plan.FullDays, d), slices.Contains(plan.RunDays, d)
			if !day.Before(today) || !full && !run {
				continue
			}
			was := of(n, d, full, run)
			one := handout.Day{Date: day.Format(dayForm), Done: []string{}, Note: was.note}
			var items []programme.Item
			if was.full {
				items = append(items, w.Full...)
			}
			if was.run {
				items = append(append(items, w.Warm...), w.Running...)
				pain, effort, minutes := was.pain, 4, 30.0
				one.Ran, one.RunMin, one.Pain, one.Effort = true, &minutes, &pain, &effort
				if was.perMin > 0 {
					one.PerMin = &was.perMin
				}
			}
			if len(items) == 0 && one.Note == "" {
				continue
			}
			for _, i := range items {
				if id := i.Exercise + "/" + sideName(i.Side); !slices.Contains(one.Done, id) {
					one.Done = append(one.Done, id)
				}
			}
			log.Days = append(log.Days, one)
		}
	}
	if len(log.Days) == 0 {
		return nil
	}
	text, err := json.Marshal(log)
	if err != nil {
		return err
	}
	if _, err := st.AddLog(ctx, who, visitID, PageLogAsk{Text: string(text)}); err != nil {
		return fmt.Errorf("the homework of the demonstration: %w", err)
	}
	return nil
}
