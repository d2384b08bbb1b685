package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gaitwright/internal/store"
)

// visitRecords is all that is kept of one visit, of one moment.
type visitRecords struct {
	runner   store.Runner
	visit    store.Visit
	intake   *PageIntake
	exam     *PageExam // without its report
	findings *PageFindingsKept
	plan     *keptPlan
	steprate *keptStepRate
	log      *keptLog
	returned *keptReturn
	clips    []clipRecord
	filmed   []filmedRecord // of tests, from clips
	results  []resultRecord // newest first
	runs     []runRecord    // of the runner, in the order run; read by openVisit alone
	jobs     []store.Job    // queued, running, or failed and not done since
	// corrections by hand, of each result, as they are kept of each clip
	corrections map[string]map[string]json.RawMessage
}

// resultRecord is a result with its line in lists.
type resultRecord struct {
	store.Result
	line resultLine
}

// resultLine is what is kept of a result for lists.
type resultLine struct {
	PageSummary
	Model string `json:"model,omitempty"`
	// Rests is what the result rests on, to tell whether that was changed since.
	Rests string `json:"rests,omitempty"`
}

func parseLine(r store.Result) (resultLine, error) {
	var l resultLine
	if err := json.Unmarshal(r.Summary, &l); err != nil {
		return l, fmt.Errorf("result %s: its line in lists cannot be read: %w", r.ID, err)
	}
	l.ID = r.ID
	return l, nil
}

func readVisit(r store.Reader, v store.Visit, runner store.Runner) (visitRecords, error) {
	f := visitRecords{visit: v, runner: runner}
	docs, err := r.DocumentsOf(v.ID)
	if err != nil {
		return f, err
	}
	tracked := map[string]bool{} // by the clip's ID
	f.corrections = map[string]map[string]json.RawMessage{}
	asked, paths := map[string]askedStickers{}, map[string]stickerRecord{}
	for _, d := range docs {
		switch d.Kind {
		case docIntake:
			if f.intake, err = parseIntake(d); err != nil {
				return f, err
			}
		case docExam:
			if f.exam, err = parseExam(d); err != nil {
				return f, err
			}
		case docFindings:
			if f.findings, err = parseFindings(d); err != nil {
				return f, err
			}
		case docPlan:
			if f.plan, err = parsePlan(d); err != nil {
				return f, err
			}
		case docStepRate:
			if f.steprate, err = parseStepRate(d); err != nil {
				return f, err
			}
		case docLog:
			if f.log, err = parseKeptLog(d); err != nil {
				return f, err
			}
		case docReturn:
			if f.returned, err = parseReturn(d); err != nil {
				return f, err
			}
		case editsKind:
			result, clip, _ := strings.Cut(d.Owner, "/")
			if f.corrections[result] == nil {
				f.corrections[result] = map[string]json.RawMessage{}
			}
			f.corrections[result][clip] = d.Body
		case docExamFilm:
			one, err := parseFilmed(d)
			if err != nil {
				return f, err
			}
			f.filmed = append(f.filmed, one)
		case docTrack:
			tracked[d.Owner] = true
		case docStickers:
			var a askedStickers
			if err := json.Unmarshal(d.Body, &a); err != nil {
				return f, fmt.Errorf("the stickers of clip %s cannot be read: %w", d.Owner, err)
			}
			asked[d.Owner] = a
		case docStickerPaths:
			var p stickerRecord
			if err := json.Unmarshal(d.Body, &p); err != nil {
				return f, fmt.Errorf("the paths of the stickers of clip %s cannot be read: %w", d.Owner, err)
			}
			paths[d.Owner] = p
		}
	}
	clips, err := r.ClipsOf(v.ID)
	if err != nil {
		return f, err
	}
	for _, c := range clips {
		one, err := parseClip(c)
		if err != nil {
			return f, err
		}
		one.tracked = tracked[c.ID]
		one.stickers = paths[c.ID].used(asked[c.ID])
		f.clips = append(f.clips, one)
	}
	f.filmed = f.ofClips(f.filmed)
	results, err := r.ResultsOf(v.ID)
	if err != nil {
		return f, err
	}
	for _, one := range results {
		line, err := parseLine(one)
		if err != nil {
			return f, err
		}
		f.results = append(f.results, resultRecord{one, line})
	}
	return f, nil
}

func (f *visitRecords) hasClip(id string) bool {
	return slices.ContainsFunc(f.clips, func(c clipRecord) bool { return c.ID == id })
}

// readJobs adds the jobs that a person should see. That a measurement failed is old news
// once there is a later one; that a test could not be read stays with its film until
// that is read anew.
func (f *visitRecords) readJobs(r store.Reader) error {
	jobs, err := r.Jobs(store.JobQueued, store.JobRunning, store.JobFailed)
	if err != nil {
		return err
	}
	var newest time.Time
	if len(f.results) > 0 {
		newest = f.results[0].Created
	}
	for _, j := range jobs {
		switch {
		case j.VisitID != f.visit.ID:
		case j.State != store.JobFailed, j.Kind == jobExamFilm && f.hasClip(j.ClipID), j.Kind != jobExamFilm && j.Ended.After(newest):
			f.jobs = append(f.jobs, j)
		}
	}
	return nil
}

// openVisit reads a visit whole, and the page's form of its runner.
func openVisit(r store.Reader, id string) (visitRecords, PageRunner, error) {
	v, err := r.Visit(id)
	if err != nil {
		return visitRecords{}, PageRunner{}, missingRecord(err, "visit")
	}
	runner, err := r.Runner(v.RunnerID)
	if err != nil {
		return visitRecords{}, PageRunner{}, err
	}
	f, err := readVisit(r, v, runner)
	if err != nil {
		return f, PageRunner{}, err
	}
	if err := errors.Join(f.readJobs(r), f.readRunsOf(r)); err != nil {
		return f, PageRunner{}, err
	}
	p, err := readRunner(r, v.RunnerID)
	return f, p, err
}

// lookForFiles notes which clips have lost their file.
func (f *visitRecords) lookForFiles(files store.FileKeeper) {
	for i := range f.clips {
		_, err := f.clips[i].path(files)
		f.clips[i].gone = err != nil
	}
}

// Visit gives one visit whole.
func (st *Studio) Visit(ctx context.Context, id string) (PageVisit, error) {
	kept, err := st.records()
	if err != nil {
		return PageVisit{}, err
	}
	var f visitRecords
	var runner PageRunner
	err = kept.Read(ctx, func(r store.Reader) (err error) { f, runner, err = openVisit(r, id); return err })
	if err != nil {
		return PageVisit{}, recordProblem(err, "")
	}
	if f.findings != nil && len(f.results) > 0 {
		if now, err := st.proposedNow(ctx, kept, &f); err == nil {
			f.findings.Proposed = now
		}
	}
	p := PageVisit{ID: id, Version: f.visit.Version, Date: f.visit.Date.Format(dayForm), Note: f.visit.Note, Runner: runner,
		Intake: f.intake, Refer: f.intake.refer(), Cautions: f.intake.cautions(), Clips: []PageVisitClip{}, Results: []PageVisitResult{}, Jobs: []PageJob{}}
	f.lookForFiles(kept.files)
	p.Stations, p.Next = f.stations(), f.next()
	for _, c := range f.clips {
		p.Clips = append(p.Clips, c.page(&f))
	}
	for i, r := range f.results {
		p.Results = append(p.Results, PageVisitResult{ID: r.ID, Created: r.line.Created, Current: i == 0, Stale: f.stale(r), Model: r.line.Model,
			StepRate: r.line.StepRate, ClipIDs: emptyNotNil(r.ClipIDs)})
	}
	for _, j := range f.jobs {
		p.Jobs = append(p.Jobs, st.pageJob(j))
	}
	p.Undo, p.Redo, err = kept.Undoable(ctx, id)
	return p, recordProblem(err, "")
}

// NewVisit begins a visit of a runner; an empty day is today.
func (st *Studio) NewVisit(ctx context.Context, who, runnerID, day string) (PageVisit, error) {
	now := st.now()
	var e entries
	date := e.day("date", "the visit", &day, now)
	if e.err != nil {
		return PageVisit{}, e.err
	}
	if day == "" {
		date = time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)
	}
	visit := store.Visit{RunnerID: runnerID, Date: date}
	err := st.change(ctx, who, "Began the visit of "+date.Format(dayForm), "", func(w store.Writer) error {
		if _, err := w.Runner(runnerID); err != nil {
			return missingRecord(err, "runner")
		}
		return w.PutVisit(&visit)
	})
	if err != nil {
		return PageVisit{}, err
	}
	st.tell("runner", PageTouched{ID: runnerID, Who: who})
	return st.Visit(ctx, visit.ID)
}

// ChangeVisit writes the day and the note of a visit.
func (st *Studio) ChangeVisit(ctx context.Context, who, id string, p PageVisitFacts) (PageVisit, error) {
	var e entries
	if p.Date == "" {
		e.fail("date", "Write the day as 2026-03-14.", "a visit needs its day")
	}
	date := e.day("date", "the visit", &p.Date, st.now())
	e.prose("note", "the note", &p.Note, maxProse)
	if e.err != nil {
		return PageVisit{}, e.err
	}
	err := st.change(ctx, who, "Changed the day or the note of the visit", id, func(w store.Writer) error {
		v, err := w.Visit(id)
		if err != nil {
			return missingRecord(err, "visit")
		}
		v.Version, v.Date, v.Note = p.Version, date, p.Note
		return w.PutVisit(&v)
	})
	if err != nil {
		return PageVisit{}, err
	}
	return st.Visit(ctx, id)
}

// RemoveVisit takes a visit out of sight, its films and results with it; undo of
// that visit brings it back.
func (st *Studio) RemoveVisit(ctx context.Context, who, id string, version int64) (PageRunner, error) {
	var runner string
	err := st.change(ctx, who, "Removed the visit", id, func(w store.Writer) error {
		v, err := w.Visit(id)
		if err != nil {
			return missingRecord(err, "visit")
		}
		runner = v.RunnerID
		return w.Remove(store.KindVisit, id, version)
	})
	if err != nil {
		return PageRunner{}, err
	}
	st.tell("runner", PageTouched{ID: runner, Who: who})
	return st.Runner(ctx, runner)
}

// Undo takes back the last deed of a visit, and Redo does it again.
func (st *Studio) Undo(ctx context.Context, who, id string) (PageVisit, error) {
	return st.walk(ctx, who, id, (*records).undo)
}

// Redo does the deed again that Undo took back last.
func (st *Studio) Redo(ctx context.Context, who, id string) (PageVisit, error) {
	return st.walk(ctx, who, id, (*records).redo)
}

func (r *records) undo(ctx context.Context, id, who string) (store.Deed, error) {
	return r.Store.Undo(ctx, id, who)
}

func (r *records) redo(ctx context.Context, id, who string) (store.Deed, error) {
	return r.Store.Redo(ctx, id, who)
}

func (st *Studio) walk(ctx context.Context, who, id string, step func(*records, context.Context, string, string) (store.Deed, error)) (PageVisit, error) {
	kept, err := st.records()
	if err != nil {
		return PageVisit{}, err
	}
	deed, err := step(kept, ctx, id, clean(who, maxWho))
	switch {
	case errors.Is(err, store.ErrNothing):
		if err := kept.Read(ctx, func(r store.Reader) error { _, err := r.Visit(id); return err }); err != nil {
			return PageVisit{}, missingRecord(recordProblem(err, ""), "visit")
		}
		return PageVisit{}, &Problem{Kind: KindUsage, What: "There is nothing to take back or do again in this visit.", Err: err}
	case err != nil:
		return PageVisit{}, missingRecord(recordProblem(err, ""), "visit")
	}
	st.dropExports(ctx)
	st.tellVisit(id, who)
	p, err := st.Visit(ctx, id)
	p.Deed = deed.What
	return p, err
}
