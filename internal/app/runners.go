package app

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"time"

	"gaitwright/internal/store"
)

// RunnerQuery asks for a part of the list of runners.
type RunnerQuery struct {
	Text     string // words in the name, the note, a complaint or a finding
	Tag      string // a complaint or finding of any visit
	From, To string // days of a visit, 2026-03-14; empty for any
	After    string // Next of the part before
	Limit    int    // at most so many; 0 means 50
}

// maxRows bounds a part of the list.
const maxRows = 200

// tagInOtherWords is a finding or complaint as it stands on pages in other languages.
func tagInOtherWords(tag string) string {
	var all []string
	for _, l := range ReportLanguages {
		if said, ok := Told(l, tag); ok {
			all = append(all, said)
		}
	}
	return strings.Join(all, " ")
}

// Runners lists those that the query finds, last seen first.
func (st *Studio) Runners(ctx context.Context, q RunnerQuery) (PageRunners, error) {
	out := PageRunners{Rows: []PageRunnerRow{}, Tags: []string{}}
	var e entries
	e.prose("q", "what is searched for", &q.Text, maxLine)
	e.prose("tag", "the complaint or finding", &q.Tag, maxLine)
	ask := store.Query{Text: q.Text, Tag: q.Tag, Said: tagInOtherWords, From: e.day("from", "the first day", &q.From, st.now().AddDate(10, 0, 0)),
		To: e.day("to", "the last day", &q.To, st.now().AddDate(10, 0, 0)), After: q.After, Limit: q.Limit}
	if q.Limit < 0 || q.Limit > maxRows {
		e.fail("limit", "", "at most %d rows are given at once", maxRows)
	}
	if e.err != nil {
		return out, e.err
	}
	if ask.Limit == 0 {
		ask.Limit = 50
	}
	err := st.readRecords(ctx, func(r store.Reader) error {
		rows, err := r.Runners(ask)
		if err != nil {
			return err
		}
		for _, row := range rows {
			out.Rows = append(out.Rows, PageRunnerRow{ID: row.ID, Name: row.Name, Sex: row.Sex, BornYear: knownInt(row.BornYear),
				Visits: row.Visits, LastVisit: dayOrNil(row.LastVisit), LastVisitID: row.LastID, Tags: emptyNotNil(row.Tags)})
		}
		if len(rows) == ask.Limit {
			out.Next = rows[len(rows)-1].Cursor
		}
		tags, err := r.Tags()
		out.Tags = emptyNotNil(tags)
		return err
	})
	return out, err
}

// FindRunner gives the one runner of a name or ID.
func (st *Studio) FindRunner(ctx context.Context, name string) (PageRunner, error) {
	if store.ValidID(name) {
		return st.Runner(ctx, name)
	}
	list, err := st.Runners(ctx, RunnerQuery{Text: name, Limit: maxRows})
	if err != nil {
		return PageRunner{}, err
	}
	var found []string
	for _, row := range list.Rows {
		if sameName(row.Name, name) {
			found = append(found, row.ID)
		}
	}
	switch {
	case len(found) == 1:
		return st.Runner(ctx, found[0])
	case len(found) > 1:
		return PageRunner{}, problem(KindUsage, "", "Name one of them by the ID.", "%d runners are called %s: %s", len(found), clean(name, maxName), inWords(found))
	case len(list.Rows) > 0:
		names := []string{}
		for _, row := range list.Rows[:min(5, len(list.Rows))] {
			names = append(names, row.Name)
		}
		return PageRunner{}, problem(KindNotFound, "", "Write the whole name.", "no runner is called just %s; there is %s", clean(name, maxName), inWords(names))
	}
	return PageRunner{}, problem(KindNotFound, "", "Check how the name is written; the list of runners shows it.", "there is no runner called %s", clean(name, maxName))
}

// NewRunner takes a person in, by name alone.
func (st *Studio) NewRunner(ctx context.Context, who, name string) (PageRunner, error) {
	var e entries
	e.name(&name)
	if e.err != nil {
		return PageRunner{}, e.err
	}
	runner := store.Runner{Name: name}
	err := st.change(ctx, who, "Took in "+name, "", func(w store.Writer) error { return w.PutRunner(&runner) })
	if err != nil {
		return PageRunner{}, err
	}
	st.tell("runner", PageTouched{ID: runner.ID, Version: runner.Version, Who: who})
	return pageRunner(runner, nil, 0), nil
}

func (e *entries) name(name *string) {
	e.prose("name", "the name", name, maxName)
	if *name == "" {
		e.fail("name", "A first name or a number will do.", "a runner needs a name")
	}
	*name = clean(*name, maxName)
}

// Runner gives one person with the visits.
func (st *Studio) Runner(ctx context.Context, id string) (PageRunner, error) {
	var out PageRunner
	err := st.readRecords(ctx, func(r store.Reader) error {
		var err error
		out, err = readRunner(r, id)
		return err
	})
	return out, missingRecord(err, "runner")
}

func readRunner(r store.Reader, id string) (PageRunner, error) {
	runner, err := r.Runner(id)
	if err != nil {
		return PageRunner{}, err
	}
	visits, err := r.VisitsOf(id)
	if err != nil {
		return PageRunner{}, err
	}
	var rows []PageRunnerVisit
	films := 0
	for _, v := range visits {
		f, err := readVisit(r, v, runner)
		if err != nil {
			return PageRunner{}, err
		}
		films += len(f.clips)
		row := PageRunnerVisit{ID: v.ID, Date: v.Date.Format(dayForm), Tags: emptyNotNil(v.Tags)}
		for _, s := range f.stations() {
			if s.State == "done" {
				row.StationsDone++
			}
		}
		rows = append(rows, row)
	}
	return pageRunner(runner, rows, films), nil
}

func pageRunner(r store.Runner, visits []PageRunnerVisit, films int) PageRunner {
	if visits == nil {
		visits = []PageRunnerVisit{}
	}
	return PageRunner{ID: r.ID, Version: r.Version, Name: r.Name, Sex: r.Sex, BornYear: knownInt(r.BornYear), HeightM: known(r.HeightM), MassKG: known(r.MassKG),
		LegLengthM: known(r.LegLengthM), LegLengthHow: r.LegLengthHow, Note: r.Note, Visits: visits, ConsentText: consentText(r, films),
		Consent: PageConsent{Filming: dayOrNil(r.ConsentFilming), Records: dayOrNil(r.ConsentRecords), Research: dayOrNil(r.ConsentResearch), Positions: dayOrNil(r.ConsentPositions)}}
}

// consentText says what the consents, as they stand, mean.
func consentText(r store.Runner, films int) string {
	var s []string
	switch {
	case r.ConsentFilming.IsZero() && films > 0:
		s = append(s, "Without consent to filming no film is taken in, and "+plural(films, "film is", "films are")+" still here: note the consent, or remove what was filmed.")
	case r.ConsentFilming.IsZero():
		s = append(s, "Without consent to filming no film is taken in.")
	}
	if r.ConsentRecords.IsZero() {
		s = append(s, "Without consent to keeping records no film is kept; note the consent, or remove what was written.")
	}
	if len(s) == 0 {
		s = append(s, "Films and records may be kept.")
	}
	if r.ConsentResearch.IsZero() {
		s = append(s, "This runner is left out of summaries over several runners.")
	}
	return strings.Join(s, " ")
}

// ChangeRunner writes what is known of a person. visit, which may be empty, is
// the visit in whose undo list the change belongs.
func (st *Studio) ChangeRunner(ctx context.Context, who, id, visit string, p PageRunner) (PageRunner, error) {
	var e entries
	e.name(&p.Name)
	e.choice("sex", "the sex", p.Sex, "", "female", "male")
	now := st.now()
	if p.BornYear != nil && (*p.BornYear < now.Year()-110 || *p.BornYear > now.Year()-3) {
		e.fail("born_year", "Check the year.", "a year of birth of %d cannot be right (%d to %d)", *p.BornYear, now.Year()-110, now.Year()-3)
	}
	e.number("height_m", "a height", p.HeightM, 0.8, 2.5, " m")
	e.number("mass_kg", "a mass", p.MassKG, 15, 300, " kg")
	e.number("leg_length_m", "a leg length", p.LegLengthM, 0.4, 1.4, " m")
	e.choice("leg_length_how", "how the leg length was found", p.LegLengthHow, "", "measured", "estimated")
	if p.LegLengthM != nil && p.HeightM != nil && !(*p.LegLengthM > 0.38**p.HeightM && *p.LegLengthM < 0.65**p.HeightM) {
		e.fail("leg_length_m", "Measure from the greater trochanter to the floor, without shoes.", "a leg of %.2f m does not go with a height of %.2f m", *p.LegLengthM, *p.HeightM)
	}
	e.prose("note", "the note", &p.Note, maxProse)
	filming := e.day("consent.filming", "the consent to filming", p.Consent.Filming, now)
	kept := e.day("consent.records", "the consent to keeping records", p.Consent.Records, now)
	research := e.day("consent.research", "the consent to research", p.Consent.Research, now)
	positions := e.day("consent.positions", "the consent to keeping where runs were", p.Consent.Positions, now)
	if e.err != nil {
		return PageRunner{}, e.err
	}
	var out PageRunner
	err := st.changeRunner(ctx, who, id, visit, p.Version, func(r *store.Runner) {
		r.Name, r.Sex, r.Note, r.LegLengthHow = p.Name, p.Sex, p.Note, p.LegLengthHow
		r.HeightM, r.MassKG, r.LegLengthM, r.BornYear = orZero(p.HeightM), orZero(p.MassKG), orZero(p.LegLengthM), 0
		if p.BornYear != nil {
			r.BornYear = *p.BornYear
		}
		r.ConsentFilming, r.ConsentRecords, r.ConsentResearch = filming, kept, research
		r.ConsentPositions = positions
	}, &out)
	if err != nil {
		return out, err
	}
	done, err := st.finishWithdrawal(ctx, who, id)
	if err != nil {
		return out, &Problem{Kind: KindOf(err), What: "The consent is noted as withdrawn, and what was kept under it could not be erased yet. " + InOneLine(err),
			Mend: "It is tried again when this runner is saved next and when the program starts.", Err: err}
	}
	if !done {
		return out, nil
	}
	for _, v := range out.Visits {
		st.tellVisit(v.ID, who)
	}
	return st.Runner(ctx, id)
}

// Withdrawn means gone. What is to go is written down with the withdrawal in one, so
// that whatever is in the way, or a stop, does not leave it where it is.
const (
	settingWithdrawn = "withdrawn/" // with a runner's ID: which of these are still to go
	withdrawnFilms   = "films"
	withdrawnPlaces  = "places"
)

// noteWithdrawal writes down what goes with the consents that are withdrawn.
func noteWithdrawal(w store.Writer, before, after store.Runner) error {
	noted, err := w.Setting(settingWithdrawn + before.ID)
	if err != nil {
		return err
	}
	var left []string
	for _, c := range []struct {
		what     string
		was, now time.Time
	}{{withdrawnFilms, before.ConsentFilming, after.ConsentFilming}, {withdrawnPlaces, before.ConsentPositions, after.ConsentPositions}} {
		if c.now.IsZero() && (!c.was.IsZero() || slices.Contains(strings.Fields(noted), c.what)) {
			left = append(left, c.what)
		}
	}
	if now := strings.Join(left, " "); now != noted {
		return w.PutSetting(settingWithdrawn+before.ID, now)
	}
	return nil
}

// finishWithdrawal erases what a runner's withdrawn consents are still to take with
// them; done where there was something.
func (st *Studio) finishWithdrawal(ctx context.Context, who, id string) (done bool, err error) {
	var runner store.Runner
	var noted string
	err = st.readRecords(ctx, func(r store.Reader) (err error) {
		if runner, err = r.Runner(id); err == nil {
			noted, err = r.Setting(settingWithdrawn + id)
		}
		return err
	})
	if err != nil || noted == "" {
		return false, err
	}
	// A consent may have been given again, or its withdrawal undone.
	for _, what := range strings.Fields(noted) {
		switch {
		case what == withdrawnFilms && runner.ConsentFilming.IsZero():
			err = st.eraseFilms(ctx, who, id)
		case what == withdrawnPlaces && runner.ConsentPositions.IsZero():
			err = st.dropPlaces(ctx, who, id)
		}
		if err != nil {
			return false, err
		}
	}
	kept, err := st.records()
	if err != nil {
		return false, err
	}
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		now, err := w.Setting(settingWithdrawn + id)
		if err != nil || now != noted {
			return errors.Join(err, store.ErrNothing) // more was withdrawn meanwhile
		}
		return w.PutSetting(settingWithdrawn+id, "")
	})
	if errors.Is(err, store.ErrNothing) {
		err = nil
	}
	return true, recordProblem(err, "")
}

// finishWithdrawals does so for all runners; what fails is left to the next start.
func (st *Studio) finishWithdrawals(ctx context.Context) {
	var left []string
	err := st.readRecords(ctx, func(r store.Reader) error {
		q := store.Query{Limit: 1000}
		for {
			rows, err := r.Runners(q)
			if err != nil {
				return err
			}
			for _, row := range rows {
				if !row.ConsentFilming.IsZero() && !row.ConsentPositions.IsZero() {
					continue
				}
				if noted, err := r.Setting(settingWithdrawn + row.ID); err != nil {
					return err
				} else if noted != "" {
					left = append(left, row.ID)
				}
			}
			if len(rows) < q.Limit {
				return nil
			}
			q.After = rows[len(rows)-1].Cursor
		}
	})
	for _, id := range left {
		if _, ferr := st.finishWithdrawal(ctx, "", id); ferr != nil {
			err = errors.Join(err, ferr)
		}
	}
	if err != nil {
		slog.Warn("what was kept under withdrawn consents could not be erased yet", "error", err)
	}
}

func (st *Studio) changeRunner(ctx context.Context, who, id, visit string, version int64, edit func(*store.Runner), out *PageRunner) error {
	var before store.Runner
	err := st.readRecords(ctx, func(r store.Reader) (err error) { before, err = r.Runner(id); return err })
	if err != nil {
		return missingRecord(err, "runner")
	}
	after := before
	edit(&after)
	deed := runnerDeed(before, after)
	if deed == "" {
		*out, err = st.Runner(ctx, id)
		return err
	}
	err = st.change(ctx, who, deed, visit, func(w store.Writer) error {
		if visit != "" {
			if v, err := w.Visit(visit); err != nil || v.RunnerID != id {
				return problem(KindUsage, "", "", "the visit that was named is not one of this runner")
			}
		}
		if !before.ConsentRecords.IsZero() && after.ConsentRecords.IsZero() {
			return &Problem{Kind: KindNotAllowed, Field: "consent.records", What: "without this consent nothing of " + before.Name + " may stay here, so withdrawing it means erasing all of it",
				Mend: "On the runner's own page choose Erase: it says what goes, and asks before."}
		}
		runner := after
		runner.Version = version
		if err := w.PutRunner(&runner); err != nil {
			return err
		}
		if err := noteWithdrawal(w, before, after); err != nil {
			return err
		}
		var err error
		*out, err = readRunner(w, id)
		return err
	})
	if err == nil {
		st.tell("runner", PageTouched{ID: id, Version: out.Version, Who: who})
	}
	return missingRecord(err, "runner")
}

// runnerDeed names what was changed of a person; empty where nothing was.
func runnerDeed(a, b store.Runner) string {
	withdrawn := func(a, b time.Time) bool { return !a.IsZero() && b.IsZero() }
	var what []string
	add := func(changed bool, name string) {
		if changed {
			what = append(what, name)
		}
	}
	if withdrawn(a.ConsentFilming, b.ConsentFilming) || withdrawn(a.ConsentRecords, b.ConsentRecords) || withdrawn(a.ConsentResearch, b.ConsentResearch) || withdrawn(a.ConsentPositions, b.ConsentPositions) {
		return "Noted that " + b.Name + " withdrew a consent"
	}
	add(a.Name != b.Name, "name")
	add(a.Sex != b.Sex, "sex")
	add(a.BornYear != b.BornYear, "year of birth")
	add(a.HeightM != b.HeightM, "height")
	add(a.MassKG != b.MassKG, "mass")
	add(a.LegLengthM != b.LegLengthM || a.LegLengthHow != b.LegLengthHow, "leg length")
	add(!a.ConsentFilming.Equal(b.ConsentFilming) || !a.ConsentRecords.Equal(b.ConsentRecords) || !a.ConsentResearch.Equal(b.ConsentResearch) || !a.ConsentPositions.Equal(b.ConsentPositions), "consent")
	add(a.Note != b.Note, "note")
	if len(what) == 0 {
		return ""
	}
	return "Changed " + inWords(what) + " of " + b.Name
}

// inWords lists things as a sentence does.
func inWords(things []string) string {
	if len(things) < 2 {
		return strings.Join(things, "")
	}
	return strings.Join(things[:len(things)-1], ", ") + " and " + things[len(things)-1]
}
