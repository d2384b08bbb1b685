package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"gaitwright/gait/finding"
	"gaitwright/internal/store"
)

const docIntake = "intake"

// maxPains bounds the places that hurt.
const maxPains = 40

// check refuses what cannot be meant and brings the rest into order.
func (p *PageIntake) check(e *entries, st *Studio) {
	f := theForm()
	t := &p.Training
	e.number("training.km_per_week", "a distance", t.KMPerWeek, 0, 400, " km a week")
	e.number("training.runs_per_week", "a number of runs", t.RunsPerWeek, 0, 21, " a week")
	e.number("training.years", "a time", t.Years, 0, 90, " years")
	e.number("training.longest_km", "a longest run", t.LongestKM, 0, 300, " km")
	e.number("training.easy_pace_s_per_km", "an easy pace", t.EasyPaceSPKM, 120, 1200, " s a km")
	e.prose("training.recent_change", "the recent change", &t.RecentChange, maxProse)
	e.prose("shoes", "what is said of the shoes", &p.Shoes, maxProse)
	e.prose("goals", "what is said of the goals", &p.Goals, maxProse)
	e.prose("history", "the history", &p.History, maxProse)
	e.prose("complaint", "the complaint", &p.Complaint, maxProse)
	if len(p.Pain) > maxPains {
		e.fail("pain", "Mark the worst ones.", "%d places hurt; at most %d are kept", len(p.Pain), maxPains)
	}
	for i := range p.Pain {
		a := &p.Pain[i]
		at := fmt.Sprintf("pain.%d.", i)
		r, ok := f.region(a.Region)
		if !ok {
			e.fail(at+"region", "", "the body map has no place %q", clean(a.Region, 40))
			continue
		}
		if r.Sided {
			e.choice(at+"side", "the side of the pain", a.Side, "left", "right")
		} else {
			e.choice(at+"side", "the side of the pain", a.Side, "left", "right", "middle")
		}
		e.choice(at+"face", "the face of the pain", a.Face, "front", "back")
		if a.Score < 0 || a.Score > 10 {
			e.fail(at+"score", "", "a pain of %d is not on the scale from 0 to 10", a.Score)
		}
		e.prose(at+"since", "since when it hurts", &a.Since, maxLine)
		e.prose(at+"when", "when it hurts", &a.When, maxLine)
		e.prose(at+"note", "the note", &a.Note, maxProse)
	}
	for _, id := range slices.Sorted(maps.Keys(p.Signs)) {
		if _, ok := f.sign(id); !ok {
			e.fail("signs", "", "there is no warning sign %q", clean(id, 40))
			continue
		}
		e.choice("signs."+id, "the answer", p.Signs[id], "yes", "no")
	}
	for _, id := range slices.Sorted(maps.Keys(p.Places)) {
		at := p.Places[id]
		s, _ := f.sign(id)
		r, ok := f.region(at.Region)
		switch {
		case at.Region == "" || p.Signs[id] != "yes":
			delete(p.Places, id)
		case !s.Ask:
			e.fail("places", "", "the warning sign %q asks for no place", clean(id, 40))
		case !ok:
			e.fail("places."+id, "", "the body map has no place %q", clean(at.Region, 40))
		case r.Sided:
			e.choice("places."+id, "the side of the sign", at.Side, "left", "right")
		default:
			p.Places[id] = PageSignPlace{at.Region, "middle"}
		}
	}
	if p.Places == nil {
		p.Places = map[string]PageSignPlace{}
	}
	if c := p.Cleared; c != nil {
		e.prose("cleared.by", "the clinician", &c.By, maxLine)
		if c.By == "" {
			e.fail("cleared.by", "Write the name of the doctor or physiotherapist.", "a clearance needs the clinician's name")
		}
		if c.Date == "" {
			e.fail("cleared.date", "Write the day as 2026-03-14.", "a clearance needs its day")
		}
		e.day("cleared.date", "the clearance", &c.Date, st.now())
		e.prose("cleared.note", "the note", &c.Note, maxProse)
	}
	if p.Pain == nil {
		p.Pain = []PagePain{}
	}
	p.NoPain = p.NoPain && len(p.Pain) == 0
	if p.Signs == nil {
		p.Signs = map[string]string{}
	}
}

// settleClearance says what a clearance speaks of: the signs answered with yes, the
// tests that hurt too much and the pains that are too much, when it was noted. What comes later is
// not covered by it.
func (p *PageIntake) settleClearance(before *PageIntake, hurt []string) {
	if p.Cleared == nil {
		return
	}
	if before != nil && before.Cleared != nil {
		old := *before.Cleared
		if old.By == p.Cleared.By && old.Date == p.Cleared.Date {
			p.Cleared.Signs, p.Cleared.Tests, p.Cleared.Pains = emptyNotNil(old.Signs), emptyNotNil(old.Tests), emptyNotNil(old.Pains)
			return
		}
	}
	p.Cleared.Signs, p.Cleared.Tests, p.Cleared.Pains = []string{}, emptyNotNil(hurt), []PageClearedPain{}
	for _, a := range p.Pain {
		if a.Score > finding.TooMuchPain {
			p.Cleared.Pains = append(p.Cleared.Pains, PageClearedPain{a.Region, a.Side, a.Score})
		}
	}
	for _, s := range theForm().Signs {
		if p.Signs[s.ID] == "yes" {
			p.Cleared.Signs = append(p.Cleared.Signs, s.ID)
		}
	}
}

// tags are what the visit can be found by: the places that hurt.
func (p *PageIntake) tags() []string {
	if p == nil {
		return nil
	}
	var out []string
	for _, a := range p.Pain {
		if r, ok := theForm().region(a.Region); ok && a.Score > 0 && !slices.Contains(out, r.Title) {
			out = append(out, r.Title)
		}
	}
	return out
}

// readIntake returns the intake of a visit; nil where there is none.
func readIntake(r store.Reader, visitID string) (*PageIntake, store.Document, error) {
	doc, err := r.Document(docIntake, visitID)
	if errors.Is(err, store.ErrNotFound) {
		return nil, store.Document{VisitID: visitID, Kind: docIntake, Owner: visitID}, nil
	}
	if err != nil {
		return nil, doc, err
	}
	p, err := parseIntake(doc)
	return p, doc, err
}

func parseIntake(doc store.Document) (*PageIntake, error) {
	var p PageIntake
	if err := json.Unmarshal(doc.Body, &p); err != nil {
		return nil, fmt.Errorf("the intake of visit %s cannot be read: %w", doc.VisitID, err)
	}
	p.Version = doc.Version
	return &p, nil
}

// ChangeIntake writes the intake of a visit.
func (st *Studio) ChangeIntake(ctx context.Context, who, visitID string, p PageIntake) (PageIntake, error) {
	var e entries
	p.check(&e, st)
	if e.err != nil {
		return PageIntake{}, e.err
	}
	var before *PageIntake
	var tested *PageExam
	err := st.readRecords(ctx, func(r store.Reader) (err error) {
		if before, _, err = readIntake(r, visitID); err == nil {
			tested, _, err = examOf(r, visitID)
		}
		return err
	})
	if err != nil {
		return PageIntake{}, err
	}
	if before != nil && before.Version != p.Version {
		return PageIntake{}, stale("The intake", before.Version)
	}
	p.settleClearance(before, tested.tooPainful())
	deed := intakeDeed(before, &p)
	if deed == "" && before != nil {
		return *before, nil
	}
	err = st.change(ctx, who, deed, visitID, func(w store.Writer) error {
		visit, err := w.Visit(visitID)
		if err != nil {
			return err
		}
		_, doc, err := readIntake(w, visitID)
		if err != nil {
			return err
		}
		if doc.Version != p.Version {
			return stale("The intake", doc.Version)
		}
		if doc.Body, err = json.Marshal(p); err != nil {
			return err
		}
		if err := w.PutDocument(&doc); err != nil {
			return err
		}
		p.Version = doc.Version
		rules, _ := rulesInUse()
		found, _, err := readFindings(w, visitID)
		if err != nil {
			return err
		}
		if tags := append(p.tags(), acceptedTags(found, rules)...); !slices.Equal(tags, visit.Tags) {
			visit.Tags = tags
			return w.PutVisit(&visit)
		}
		return nil
	})
	return p, missingRecord(err, "visit")
}

// intakeDeed names what was changed; empty where nothing was.
func intakeDeed(a, b *PageIntake) string {
	if a == nil {
		a = &PageIntake{Pain: []PagePain{}, Signs: map[string]string{}, Places: map[string]PageSignPlace{}}
	}
	var what []string
	for _, part := range []struct {
		name string
		a, b any
	}{
		{"training", a.Training, b.Training}, {"shoes", a.Shoes, b.Shoes}, {"goals", a.Goals, b.Goals}, {"history", a.History, b.History},
		{"complaint", a.Complaint, b.Complaint}, {"pain", a.Pain, b.Pain}, {"that nothing hurts", a.NoPain, b.NoPain}, {"warning signs", a.Signs, b.Signs}, {"where a warning sign is", a.Places, b.Places}, {"clearance", a.Cleared, b.Cleared},
	} {
		if !reflect.DeepEqual(part.a, part.b) {
			what = append(what, part.name)
		}
	}
	if len(what) == 0 {
		return ""
	}
	if r := b.refer(); r.stops() && !a.refer().stops() {
		var names []string
		for _, s := range r.Signs {
			names = append(names, s.Group)
		}
		return "Noted a warning sign (" + small(strings.Join(slices.Compact(names), ", ")) + ")"
	}
	return "Wrote " + inWords(what) + " into the intake"
}
