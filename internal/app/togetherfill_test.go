package app

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/internal/store"
)

// FillTogether fills a studio with invented runners for looking at them together.
func FillTogether(st *Studio, runners int, rng *rand.Rand) error {
	r, err := st.records()
	if err != nil {
		return err
	}
	day := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	names := []string{}
	for _, p := range finding.Default().Patterns {
		names = append(names, p.Name)
	}
	for from := 0; from < runners; from += 500 {
		err := r.Change(context.Background(), store.Deed{What: "Filled"}, func(w store.Writer) error {
			for i := from; i < min(runners, from+500); i++ {
				one := store.Runner{Name: fmt.Sprintf("Runner %d (invented)", i), Sex: []string{"female", "male"}[rng.IntN(2)], BornYear: 1960 + rng.IntN(45),
					HeightM: 1.6 + 0.3*rng.Float64(), ConsentFilming: day, ConsentRecords: day, ConsentResearch: day}
				if err := w.PutRunner(&one); err != nil {
					return err
				}
				for k := range 2 {
					v := store.Visit{RunnerID: one.ID, Date: day.AddDate(0, 0, rng.IntN(300)+60*k)}
					if err := w.PutVisit(&v); err != nil {
						return err
					}
					kept := PageFindingsKept{Decisions: map[string]PageDecision{}, Own: []PageOwnFinding{}, Order: []string{}}
					for _, n := range names {
						if rng.IntN(6) == 0 {
							kept.Decisions[n] = PageDecision{State: "accepted"}
						}
					}
					intake := PageIntake{Pain: []PagePain{{Region: theForm().Regions[rng.IntN(len(theForm().Regions))].ID, Score: 3}}}
					for kind, body := range map[string]any{docFindings: kept, docIntake: intake,
						docPlan: keptPlan{Plan: programme.Plan{Weeks: make([]programme.Week, 8), Retest: v.Date.AddDate(0, 0, 56)}}} {
						d := store.Document{VisitID: v.ID, Kind: kind, Owner: v.ID, Body: rawJSON(body)}
						if err := w.PutDocument(&d); err != nil {
							return err
						}
					}
					res := store.Result{VisitID: v.ID, Runner: one.Name, Summary: rawJSON(resultLine{})}
					if err := w.PutResult(&res); err != nil {
						return err
					}
					d := digest{Version: digestVersion}
					for _, m := range measure.Catalogue() {
						for _, side := range []string{"left", "right"} {
							d.Values = append(d.Values, digestValue{Name: m.Name, Side: side, View: "left", Speed: 2.8 + 0.4*rng.Float64(), Value: 10 + rng.NormFloat64(), SEM: 0.3, Origin: "pose model"})
						}
					}
					if err := w.PutDigest(res.ID, rawJSON(d)); err != nil {
						return err
					}
				}
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}
