package app

import (
	"context"
	"errors"
	"time"

	"gaitwright/gait/clip"
	"gaitwright/gait/retest"
	"gaitwright/internal/store"
	"gaitwright/internal/synth"
)

// settingReturning is the returning runner of the demonstration, once there is one.
const settingReturning = "demo_returning"

// returningRunner is the invented runner of the demonstration who comes back.
const returningRunner = "Jule Anders"

// The days of her visits before the newest one, in weeks.
var returningWeeks = []int{11, 5, 0}

// returning is how she runs at her visits: her steps become quicker and land nearer
// below her, her hips hold no better. All of it is invented.
func returning(visit int, click bool) synth.Params {
	p := synth.NewParams(1.72, 2.8, []float64{157, 161, 165}[visit])
	if click {
		p.StepRateSPM = 167
	}
	p.Female, p.MassKG, p.Variation, p.Seed = true, 63, synth.Usual(), uint64(40+visit)
	p.OverstrideM = synth.Both(p.OverstrideM.Left + []float64{0.06, 0.035, 0.005}[visit])
	p.FootAngleAtContactDeg = synth.Sided{Left: 18, Right: 19}
	p.KneeFlexionAtContactDeg = synth.Both([]float64{10, 12, 16}[visit])
	p.PelvicDropDeg = synth.Sided{Left: 4, Right: 9}
	p.KneeValgusDeg = synth.Sided{Left: 2, Right: 12}
	p.StepWidthM = 0.03
	p.TrunkLeanDeg = 4
	return p
}

// returningExam is her exam at a visit: the right hip grew stronger, the bridge is
// as it was. Invented.
func returningExam(visit int) PageExam {
	e := demoExam()
	force := func(key string, leverM float64, forces ...float64) {
		var one PageExamEntry
		for _, f := range forces {
			one.Trials = append(one.Trials, PageExamTrial{ForceN: known(f), LeverM: known(leverM)})
		}
		e.Entries[key] = one
	}
	if visit > 0 {
		force("hip_abduction_strength/right", 0.78, 146, 150, 149)
		e.Entries["heel_raise/left"] = PageExamEntry{Trials: []PageExamTrial{{Value: known(25)}}}
	}
	return e
}

func returningIntake(visit int) PageIntake {
	p := demoIntake()
	p.Shoes, p.Goals = "Light trainer, 6 mm drop", "Ten kilometres without thinking of the knee."
	p.Complaint = []string{"An ache at the front of the right knee after half an hour.", "The knee still speaks up, later than before.", "The knee was quiet for three weeks."}[visit]
	p.Pain = []PagePain{{Region: "knee_front", Side: "right", Face: "front", Score: []int{4, 2, 0}[visit], Since: "spring", When: "after half an hour", Note: ""}}
	if visit == 2 {
		p.Pain, p.NoPain = nil, true
	}
	return p
}

// DemoReturn makes the invented runner who comes back: three visits over eleven
// weeks with exam, findings, plan, ramp and homework, measured from landmarks that
// are drawn without filming. It returns the newest visit; where she is there
// already, nothing is added.
func (st *Studio) DemoReturn(ctx context.Context) (visitID string, err error) {
	const who = "demonstration"
	kept, err := st.records()
	if err != nil {
		return "", err
	}
	p := returning(0, false)
	runner := store.Runner{Name: returningRunner + " (invented)", Sex: "female", BornYear: 1989, HeightM: p.HeightM, MassKG: p.MassKG,
		Note: "An invented runner whose landmarks were drawn, not filmed. How she changed from visit to visit is known exactly."}
	now := st.now()
	today := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)
	runner.ConsentFilming = today.AddDate(0, 0, -7*returningWeeks[0])
	runner.ConsentRecords = runner.ConsentFilming
	made := false
	err = kept.Change(ctx, store.Deed{Who: who, What: "Took in the runner of the demonstration who comes back"}, func(w store.Writer) error {
		id, err := w.Setting(settingReturning)
		if err != nil {
			return err
		}
		if id != "" {
			if r, err := w.Runner(id); err == nil {
				runner = r
				return nil
			} else if !errors.Is(err, store.ErrNotFound) {
				return err
			}
		}
		made = true
		if err := w.PutRunner(&runner); err != nil {
			return err
		}
		return w.PutSetting(settingReturning, runner.ID)
	})
	if err != nil {
		return "", recordProblem(err, "")
	}
	if !made {
		err = kept.Read(ctx, func(r store.Reader) error {
			visits, err := r.VisitsOf(runner.ID)
			if err == nil && len(visits) > 0 {
				visitID = visits[0].ID
			}
			return err
		})
		return visitID, recordProblem(err, "")
	}
	first := ""
	for n, weeks := range returningWeeks {
		day := today.AddDate(0, 0, -7*weeks)
		visit, err := st.NewVisit(ctx, who, runner.ID, day.Format(dayForm))
		if err != nil {
			return "", err
		}
		visitID = visit.ID
		if _, err := st.ChangeIntake(ctx, who, visitID, returningIntake(n)); err != nil {
			return "", err
		}
		if _, err := st.ChangeExam(ctx, who, visitID, returningExam(n)); err != nil {
			return "", err
		}
		if err := st.returningFilms(ctx, who, kept, visitID, n, day); err != nil {
			return "", err
		}
		if n == 0 {
			first = visitID
			if err := st.returningPlan(ctx, who, first, day); err != nil {
				return "", err
			}
		}
	}
	return visitID, st.returningLog(ctx, who, first, today)
}

// returningFilms takes the drawn landmarks of a visit in and measures them.
func (st *Studio) returningFilms(ctx context.Context, who string, kept *records, visitID string, n int, day time.Time) error {
	p := returning(n, false)
	films := []drawnFilm{{"side.json", "left", clip.LeftSide, retest.WithoutClick, p}, {"behind.json", "rear", clip.Rear, retest.WithoutClick, p}}
	if n == len(returningWeeks)-1 {
		films = append(films, drawnFilm{"side with the click.json", "left", clip.LeftSide, retest.WithClick, returning(n, true)})
	}
	return st.drawnFilms(ctx, who, kept, visitID, day, films, 120, 12, uint64(n))
}

// returningPlan accepts what was found at the first visit and makes plan and ramp.
func (st *Studio) returningPlan(ctx context.Context, who, visitID string, day time.Time) error {
	f, err := st.Findings(ctx, visitID)
	if err != nil {
		return err
	}
	k := f.PageFindingsKept
	for _, x := range f.Report.Findings {
		k.Decisions[x.Name] = PageDecision{State: "accepted"}
	}
	if _, err := st.ChangeFindings(ctx, who, visitID, k); err != nil {
		return err
	}
	ask := st.usualAsk()
	start := day
	for start.Weekday() != time.Monday {
		start = start.AddDate(0, 0, 1)
	}
	ask.Start = start.Format(dayForm)
	if _, err := st.ChangePlan(ctx, who, visitID, PagePlanChange{Ask: ask}); err != nil {
		return err
	}
	landing := PageStepRateAsk{How: "film", Landing: "yes", Target: known(165)}
	_, err = st.ChangeStepRate(ctx, who, visitID, PageStepRateChange{Ask: landing})
	return err
}

// returningLog is the homework as it came back: most of it done, a week away, pain
// that went.
func (st *Studio) returningLog(ctx context.Context, who, visitID string, today time.Time) error {
	notes := map[int]string{0: "Odd to run in such short steps.", 3: "Away for the week, no exercises.", 6: "The knee is quiet now."}
	lastWeek, runs := -1, 0
	return st.writeLog(ctx, who, visitID, "DE300001", today, func(week, day int, full, run bool) loggedDay {
		if week != lastWeek {
			lastWeek, runs = week, 0
		}
		if week == 3 {
			return loggedDay{}
		}
		d := loggedDay{full: full && (week+day)%5 != 4, run: run, pain: max(0, 3-week)}
		if run {
			runs++
			switch runs {
			case 1:
				d.note = notes[week]
			case 3:
				d.perMin = 158 + float64(week)
			}
		}
		return d
	})
}
