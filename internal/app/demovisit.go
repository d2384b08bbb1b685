package app

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"time"

	"gaitwright/internal/store"
	"gaitwright/internal/synth"
)

// settingDemo is the runner of the demonstration, once there is one.
const settingDemo = "demo_runner"

// demoIntake is what the invented runner says at the beginning. All of it is
// invented.
func demoIntake() PageIntake {
	p := PageIntake{
		Training: PageTraining{KMPerWeek: known(32), RunsPerWeek: known(4), Years: known(6), LongestKM: known(16), EasyPaceSPKM: known(345),
			RecentChange: "Two hill sessions a week since last month."},
		Shoes:     "Neutral trainer, 8 mm drop, about 400 km old",
		Goals:     "Half marathon in spring without the knee speaking up.",
		History:   "Sprained the left ankle two years ago; healed.",
		Complaint: "A dull ache at the front of the right knee from about the eighth kilometre, gone the next morning.",
		Pain:      []PagePain{{Region: "knee_front", Side: "right", Face: "front", Score: 2, Since: "six weeks", When: "downhill and after the eighth kilometre", Note: ""}},
		Signs:     map[string]string{},
	}
	for _, s := range theForm().Signs {
		p.Signs[s.ID] = "no"
	}
	return p
}

// demoVisit takes two films into a new visit of the invented runner and measures
// them. Each run of the demonstration adds a visit.
func (st *Studio) demoVisit(ctx context.Context, p synth.Params, model, side, rear string, progress Progress) (*Session, error) {
	return st.demoVisitOn(ctx, p, model, side, rear, st.now(), progress)
}

// demoVisitOn is demoVisit on a day.
func (st *Studio) demoVisitOn(ctx context.Context, p synth.Params, model, side, rear string, day time.Time, progress Progress) (*Session, error) {
	const who = "demonstration"
	kept, err := st.records()
	if err != nil {
		return nil, err
	}
	runnerID, err := st.demoRunner(ctx, kept, p, tryWords["en"].name)
	if err != nil {
		return nil, err
	}
	visit, err := st.NewVisit(ctx, who, runnerID, day.Format(dayForm))
	if err != nil {
		return nil, err
	}
	if _, err := st.ChangeIntake(ctx, who, visit.ID, demoIntake()); err != nil {
		return nil, err
	}
	if _, err := st.ChangeExam(ctx, who, visit.ID, demoExam()); err != nil {
		return nil, err
	}
	var clips []string
	for _, film := range []struct{ path, view string }{{side, "left"}, {rear, "rear"}} {
		f, err := os.Open(film.path)
		if err != nil {
			return nil, err
		}
		hash, bytes, err := kept.files.Put(ctx, f, 0)
		f.Close()
		if err != nil {
			return nil, recordProblem(err, st.dir)
		}
		c, err := st.takeIn(ctx, who, visit.ID, filepath.Base(film.path), hash, bytes,
			PageClipFacts{View: film.view, SpeedMPS: known(p.SpeedMPS), Shoes: "neutral trainer"})
		if err != nil {
			return nil, err
		}
		clips = append(clips, c.ID)
	}
	f, s, takes, err := st.prepare(ctx, kept, visit.ID, clips, model)
	if err != nil {
		return nil, err
	}
	s.Studio = synth.DemoStudio
	if err := st.measure(ctx, s, takes, progress); err != nil {
		return nil, err
	}
	progress.Done()
	at := resultPlace{visit: visit.ID, clipIDs: s.clipIDs()}
	at.rests = f.rests(at.clipIDs)
	err = st.saveResult(ctx, store.Deed{Who: who, VisitID: visit.ID, What: "Measured " + s.files()}, s, at, nil)
	return s, err
}

// demoExam is the exam of the demonstration, invented to go with the film: the
// right hip does what its knee and pelvis show, and both hips are short in front.
func demoExam() PageExam {
	e := map[string]PageExamEntry{}
	force := func(key string, leverM float64, forces ...float64) {
		var one PageExamEntry
		for _, f := range forces {
			one.Trials = append(one.Trials, PageExamTrial{ForceN: known(f), LeverM: known(leverM)})
		}
		e[key] = one
	}
	values := func(key, felt string, vs ...float64) {
		one := PageExamEntry{Felt: felt}
		for _, v := range vs {
			one.Trials = append(one.Trials, PageExamTrial{Value: number(v, 1)})
		}
		e[key] = one
	}
	force("hip_abduction_strength/left", 0.78, 146, 151, 149)
	force("hip_abduction_strength/right", 0.78, 108, 114, 112)
	force("hip_adduction_strength/left", 0.78, 128, 133, 131)
	force("hip_adduction_strength/right", 0.78, 131, 130, 136)
	force("hip_external_rotation_strength/left", 0.36, 92, 95, 94)
	force("hip_external_rotation_strength/right", 0.36, 74, 78, 77)
	values("thomas_hip/left", "", -7, -6)
	values("thomas_hip/right", "", -10, -9)
	values("lunge_cm/left", "", 11.5, 12, 12)
	values("lunge_cm/right", "", 11, 11.5, 11.5)
	values("adductor_length/left", "", 42, 44)
	values("adductor_length/right", "", 36, 37)
	values("single_leg_squat/left", "", 4, 6, 5)
	values("single_leg_squat/right", "", 21, 24, 23)
	values("single_leg_bridge/left", "buttock", 27)
	values("single_leg_bridge/right", "hamstring", 18)
	values("heel_raise/left", "", 24)
	values("heel_raise/right", "", 23)
	return PageExam{Entries: e}
}

// demoRunner returns the runner of the demonstration, who is made under that name on
// first use.
func (st *Studio) demoRunner(ctx context.Context, kept *records, p synth.Params, name string) (string, error) {
	var id string
	now := st.now()
	day := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)
	err := kept.Change(ctx, store.Deed{Who: "demonstration", What: "Took in the runner of the demonstration"}, func(w store.Writer) error {
		known, err := w.Setting(settingDemo)
		if err != nil {
			return err
		}
		if known != "" {
			if _, err := w.Runner(known); err == nil {
				id = known
				return nil
			} else if !errors.Is(err, store.ErrNotFound) {
				return err
			}
		}
		r := store.Runner{Name: name, HeightM: p.HeightM, MassKG: p.MassKG, Sex: "male", BornYear: 1991,
			ConsentFilming: day, ConsentRecords: day, Note: "An invented runner, drawn by the program. All numbers of her are known exactly."}
		if p.Female {
			r.Sex = "female"
		}
		if err := w.PutRunner(&r); err != nil {
			return err
		}
		id = r.ID
		return w.PutSetting(settingDemo, id)
	})
	return id, recordProblem(err, "")
}
