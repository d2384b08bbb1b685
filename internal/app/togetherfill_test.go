package app

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"

	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/internal/store"
)

// FillTogether fills a studio with invented runners, each with so many visits, for
// looking at them together. From the third visit on a result has few values, or the
// filling of many would take minutes.
func FillTogether(st *Studio, runners, visits int, rng *rand.Rand) error {
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
					HeightM: 1.6 + 0.3*rng.Float64(), Note: "Sore " + theForm().Regions[rng.IntN(len(theForm().Regions))].ID + " after long runs", ConsentFilming: day, ConsentRecords: day, ConsentResearch: day}
				if err := w.PutRunner(&one); err != nil {
					return err
				}
				for k := range visits {
					v := store.Visit{RunnerID: one.ID, Date: day.AddDate(0, 0, rng.IntN(300)+60*k)}
					kept := PageFindingsKept{Decisions: map[string]PageDecision{}, Own: []PageOwnFinding{}, Order: []string{}}
					for _, n := range names {
						if rng.IntN(6) == 0 {
							kept.Decisions[n] = PageDecision{State: "accepted"}
							v.Tags = append(v.Tags, n)
						}
					}
					if err := w.PutVisit(&v); err != nil {
						return err
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
					measures := measure.Catalogue()
					if k >= 2 {
						measures = measures[:5]
					}
					for _, m := range measures {
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

// AllRunners lists the runners of a studio.
func AllRunners(st *Studio) ([]PageRunner, error) {
	var out []PageRunner
	err := st.readRecords(context.Background(), func(r store.Reader) error {
		return r.EachRunner(func(v store.Runner) error { out = append(out, PageRunner{ID: v.ID}); return nil })
	})
	return out, err
}

// ChangeForTogether changes something that matters when runners are looked at
// together; it tells what.
func ChangeForTogether(st *Studio, runnerID string, kind int, rng *rand.Rand) (what string, err error) {
	kept, err := st.records()
	if err != nil {
		return "", err
	}
	ctx := context.Background()
	var v store.Runner
	var visits []store.Visit
	err = kept.Read(ctx, func(r store.Reader) (err error) {
		if v, err = r.Runner(runnerID); err == nil {
			visits, err = r.VisitsOf(runnerID)
		}
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return "nothing: the runner is gone", nil
	}
	if err != nil {
		return "", err
	}
	change := func(said string, do func(w store.Writer) error) (string, error) {
		return said, kept.Change(ctx, store.Deed{What: said, VisitID: ""}, do)
	}
	if len(visits) == 0 || kind == 3 {
		return change("a new visit", func(w store.Writer) error {
			n := store.Visit{RunnerID: runnerID, Date: time.Date(2026, 1, 1+rng.IntN(20), 0, 0, 0, 0, time.UTC)}
			if err := w.PutVisit(&n); err != nil {
				return err
			}
			res := store.Result{VisitID: n.ID, Summary: rawJSON(resultLine{})}
			return w.PutResult(&res)
		})
	}
	visit := visits[rng.IntN(len(visits))]
	switch kind {
	case 0, 1:
		return change("other findings", func(w store.Writer) error {
			d, err := w.Document(docFindings, visit.ID)
			if errors.Is(err, store.ErrNotFound) {
				d = store.Document{VisitID: visit.ID, Kind: docFindings, Owner: visit.ID}
			} else if err != nil {
				return err
			}
			name := finding.Default().Patterns[rng.IntN(5)].Name
			d.Body = rawJSON(PageFindingsKept{Decisions: map[string]PageDecision{name: {State: "accepted"}}, Own: []PageOwnFinding{}, Order: []string{}})
			return w.PutDocument(&d)
		})
	case 2:
		return "numbers for what has none", func() error { _, err := st.DigestMissing(ctx); return err }()
	case 4:
		return change("a visit removed", func(w store.Writer) error { return w.Remove(store.KindVisit, visit.ID, visit.Version) })
	case 5:
		return change("a consent withdrawn", func(w store.Writer) error { v.ConsentResearch = time.Time{}; return w.PutRunner(&v) })
	case 6:
		return change("a consent given and a height", func(w store.Writer) error {
			v.ConsentResearch, v.HeightM = time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC), 1.5+0.4*rng.Float64()
			return w.PutRunner(&v)
		})
	case 7:
		err := kept.Change(ctx, store.Deed{What: "an intake", VisitID: visit.ID}, func(w store.Writer) error {
			d, err := w.Document(docIntake, visit.ID)
			if errors.Is(err, store.ErrNotFound) {
				d = store.Document{VisitID: visit.ID, Kind: docIntake, Owner: visit.ID}
			} else if err != nil {
				return err
			}
			d.Body = rawJSON(PageIntake{Pain: []PagePain{{Region: theForm().Regions[rng.IntN(3)].ID, Score: 3}}})
			return w.PutDocument(&d)
		})
		if err == nil && rng.IntN(2) == 0 {
			_, err = kept.Undo(ctx, visit.ID, "")
		}
		return "an intake, or one taken back", err
	case 8:
		return change("a runner removed", func(w store.Writer) error { return w.Remove(store.KindRunner, v.ID, v.Version) })
	}
	_, err = kept.Erase(ctx, runnerID, "", nil)
	return "a runner erased", err
}
