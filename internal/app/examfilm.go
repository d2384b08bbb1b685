package app

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
	"gaitwright/num/agree"
)

// What was read from a film is a record of its clip until a person keeps it in the exam
// or puts it aside, so that it is there when the page is opened again.
const (
	docExamFilm = "exam_film"
	jobExamFilm = "exam"
)

// examRequest is what a job was asked that reads the trials of a test from a clip.
type examRequest struct {
	Test string `json:"test"`
	Side string `json:"side"`
	Who  string `json:"who,omitempty"`
}

// examAsked is what a job of reading was asked; its test is empty for other work.
func examAsked(j store.Job) examRequest {
	var ask examRequest
	if j.Kind != jobExamFilm || json.Unmarshal(j.Request, &ask) != nil {
		return examRequest{}
	}
	return ask
}

// reads tells whether a job waits or is at work that reads a test from a clip.
func (f *visitRecords) reads(clipID string) bool {
	return slices.ContainsFunc(f.jobs, func(j store.Job) bool {
		return j.Kind == jobExamFilm && j.ClipID == clipID && j.State != store.JobFailed
	})
}

// examTest is the test and the standing leg of which a reading is asked.
func (ask PageExamFilm) examTest() (*exam.Test, body.Side, error) {
	t, ok := exam.Lookup(ask.Test)
	if !ok || t.Film == "" {
		return nil, body.NoSide, &Problem{Kind: KindUsage, Field: "test", What: fmt.Sprintf("the test %q is not read from a film", clean(ask.Test, 40)), Mend: "Choose the single-leg squat or the step-down."}
	}
	side, err := body.ParseSide(ask.Side)
	if err != nil || side != body.Left && side != body.Right {
		return nil, body.NoSide, &Problem{Kind: KindUsage, Field: "side", What: "the standing leg is left or right", Mend: "Choose one."}
	}
	return t, side, nil
}

// examFilm is the clip of the visit from which a test can be read now.
func (f *visitRecords) examFilm(clipID string) (*clipRecord, error) {
	if f.intake.refer().stops() {
		return nil, f.mayFilm()
	}
	i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.ID == clipID })
	if i < 0 {
		return nil, &Problem{Kind: KindNotFound, Field: "clip", What: "The clip is not in this visit; it may have been removed on another screen."}
	}
	c := &f.clips[i]
	switch {
	case !c.isFilm():
		return nil, problem(KindUsage, c.Name, "Film the test from the front.", "this is no film")
	case c.facts.View != "" && c.facts.View != "front":
		return nil, problem(KindUsage, c.Name, "Film the test from the front, at knee height.", "this clip is filmed from another side (%s)", c.facts.View)
	case f.runner.ConsentFilming.IsZero():
		return nil, problem(KindNotAllowed, c.Name, "Note the day of the consent at the station Intake.", "%s has not agreed to be filmed, so no film is read", f.runner.Name)
	}
	return c, nil
}

// ReadExamFilm puts the reading of a test's trials from a clip of the visit, filmed
// from the front, into the queue. Where it waits or runs there already, that job is
// returned.
func (st *Studio) ReadExamFilm(ctx context.Context, who, visitID string, ask PageExamFilm) (PageJob, error) {
	t, side, err := ask.examTest()
	if err != nil {
		return PageJob{}, err
	}
	kept, err := st.records()
	if err != nil {
		return PageJob{}, err
	}
	var job store.Job
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		f, _, err := openVisit(w, visitID)
		if err != nil {
			return err
		}
		c, err := f.examFilm(ask.Clip)
		if err != nil {
			return err
		}
		if _, err := c.path(kept.files); err != nil {
			return err
		}
		for _, j := range f.jobs {
			if a := examAsked(j); j.ClipID != c.ID || a.Test != t.Name || a.Side != side.String() {
				continue
			}
			if j.State != store.JobFailed {
				job = j
				return nil
			}
			j.State = store.JobCancelled // that it failed is told no more: it is tried again
			if err := w.PutJob(&j); err != nil {
				return err
			}
		}
		job = store.Job{VisitID: visitID, ClipID: c.ID, Kind: jobExamFilm, State: store.JobQueued, Message: "waiting",
			Request: rawJSON(examRequest{Test: t.Name, Side: side.String(), Who: clean(who, maxWho)})}
		return w.PutJob(&job)
	})
	if err != nil {
		return PageJob{}, recordProblem(err, "")
	}
	st.tellJob(job)
	st.tellVisit(visitID, who)
	st.queue.nudge()
	return st.pageJob(job), nil
}

// examFilmJob reads the trials of a test from a clip: the frontal-plane angle at the
// lowest point of each repetition. The landmarks are found by the same chain as those of
// running, and kept with the clip. Nothing is written into the exam.
func (st *Studio) examFilmJob(ctx context.Context, job store.Job) error {
	asked := examAsked(job)
	ask := PageExamFilm{Clip: job.ClipID, Test: asked.Test, Side: asked.Side}
	t, side, err := ask.examTest()
	if err != nil {
		return err
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	var c *clipRecord
	err = kept.Read(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, job.VisitID)
		if err == nil {
			c, err = f.examFilm(job.ClipID)
		}
		return err
	})
	if err != nil {
		return recordProblem(err, "")
	}
	path, err := c.path(kept.files)
	if err != nil {
		return err
	}
	memory := &trackMemory{kept: kept, clip: c.Clip}
	order := &examOrder{Asked: &Request{Files: []string{path}, Views: []clip.View{clip.Front}, Model: c.facts.Model,
		CaptureRateHz: orZero(c.facts.CaptureRateHz), StartS: orZero(c.facts.StartS), EndS: orZero(c.facts.EndS), Threads: workThreads()},
		Clip: c.ID, Name: c.Name, Test: t.Name, Side: side, Known: memory.known(ctx)}
	if p := c.facts.Point; p != nil {
		order.Asked.Point = &Point{X: p.X, Y: p.Y, TimeS: p.TimeS}
	}
	st.queue.mu.Lock()
	live := st.queue.now[job.ID]
	st.queue.mu.Unlock()
	e, err := st.sendOut(ctx, errandOrder{Exam: order})
	if err != nil {
		return err
	}
	defer e.close()
	progress := &jobProgress{st: st, ctx: ctx, live: live, names: map[string]string{path: c.Name}, alone: true}
	answer, err := e.finish(progress, func(found errandTrack) error { return memory.takeOver(ctx, e, found) })
	if err != nil {
		return nameIn(err, path, c.Name)
	}
	e.close()
	var filmed PageExamFilmed
	if err := json.Unmarshal(answer, &filmed); err != nil {
		return fmt.Errorf("what was read cannot be understood: %w", err)
	}
	filmed.Clip, filmed.Test, filmed.Side = c.ID, t.Name, side.String()
	err = patiently(ctx, func() error {
		return kept.Change(ctx, store.Deed{Who: asked.Who, What: "Read a test from " + c.Name}, func(w store.Writer) error {
			f, _, err := openVisit(w, job.VisitID)
			if err != nil {
				return err
			}
			// It may have been removed, and a consent withdrawn, meanwhile.
			if _, err := f.examFilm(c.ID); err != nil {
				return err
			}
			for _, old := range f.filmed {
				if old.Clip == filmed.Clip && old.Test == filmed.Test && old.Side == filmed.Side {
					if err := w.Remove(store.KindDocument, old.ID, old.version); err != nil {
						return err
					}
				}
			}
			doc := store.Document{VisitID: job.VisitID, Kind: docExamFilm, Owner: c.ID + "/" + job.ID, Body: rawJSON(filmed)}
			if err := w.PutDocument(&doc); err != nil {
				return err
			}
			job.State, job.Share, job.Message, job.Outcome = store.JobDone, 1, "read", doc.ID
			return st.putEnd(w, &job)
		})
	})
	if err != nil {
		return recordProblem(err, "")
	}
	st.jobEnded(job)
	return nil
}

// filmedRecord is what was read from a film and neither kept nor put aside yet.
type filmedRecord struct {
	PageExamFilmed
	version int64
}

func parseFilmed(d store.Document) (filmedRecord, error) {
	one := filmedRecord{version: d.Version}
	if err := json.Unmarshal(d.Body, &one.PageExamFilmed); err != nil {
		return one, fmt.Errorf("what was read from the film of document %s cannot be read: %w", d.ID, err)
	}
	one.ID = d.ID
	return one, nil
}

// ofClips leaves out what was read from clips that are out of sight.
func (f *visitRecords) ofClips(all []filmedRecord) []filmedRecord {
	return slices.DeleteFunc(all, func(one filmedRecord) bool {
		return !f.hasClip(one.Clip)
	})
}

// filmedBy is what was read, by its ID.
func (f *visitRecords) filmedBy(id string) (*filmedRecord, error) {
	i := slices.IndexFunc(f.filmed, func(one filmedRecord) bool { return one.ID == id })
	if i < 0 {
		return nil, &Problem{Kind: KindNotFound, What: "What was read from this film is no longer here; it was kept or put aside on another screen, or read anew."}
	}
	return &f.filmed[i], nil
}

// waitsToBeKept names the first film from which something was read that is neither
// kept nor put aside; empty where there is none.
func (f *visitRecords) waitsToBeKept() string {
	for _, one := range f.filmed {
		for _, c := range f.clips {
			if c.ID == one.Clip {
				return c.Name
			}
		}
	}
	return ""
}

// KeepExamFilmed adds the trials that were read from a film to the exam. Undo takes them
// out of it and offers them again.
func (st *Studio) KeepExamFilmed(ctx context.Context, who, visitID, id string) (PageExam, error) {
	var deed string
	err := st.readRecords(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, visitID)
		if err != nil {
			return err
		}
		one, err := f.filmedBy(id)
		if err == nil {
			_, deed, err = f.withFilmed(one)
		}
		return err
	})
	if err != nil {
		return PageExam{}, err
	}
	return st.settleFilmed(ctx, who, visitID, id, deed, func(w store.Writer, f *visitRecords, one *filmedRecord) error {
		after, _, err := f.withFilmed(one)
		if err != nil {
			return err
		}
		_, doc, err := examOf(w, visitID)
		if err != nil {
			return err
		}
		doc.Body = rawJSON(keptExam{Entries: after})
		return w.PutDocument(&doc)
	})
}

// withFilmed are the entries of the exam with the trials that were read, and the deed of
// adding them.
func (f *visitRecords) withFilmed(one *filmedRecord) (map[string]PageExamEntry, string, error) {
	before := map[string]PageExamEntry{}
	if f.exam != nil {
		before = f.exam.Entries
	}
	p := PageExam{Entries: map[string]PageExamEntry{}}
	maps.Copy(p.Entries, before)
	key := one.Test + "/" + one.Side
	entry := p.Entries[key]
	entry.Trials = slices.Concat(entry.Trials, one.Trials)
	p.Entries[key] = entry
	p.tidy()
	var e entries
	p.sheet(&e)
	if e.err != nil {
		return nil, "", e.err
	}
	if err := f.mayTest(before, p.Entries); err != nil {
		return nil, "", err
	}
	return p.Entries, examDeed(before, p.Entries), nil
}

// PutExamFilmedAside drops what was read from a film; undo offers it again.
func (st *Studio) PutExamFilmedAside(ctx context.Context, who, visitID, id string) (PageExam, error) {
	var name string
	err := st.readRecords(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, visitID)
		if err != nil {
			return err
		}
		one, err := f.filmedBy(id)
		if err != nil {
			return err
		}
		c, err := r.Clip(one.Clip)
		name = c.Name
		return err
	})
	if err != nil {
		return PageExam{}, err
	}
	return st.settleFilmed(ctx, who, visitID, id, "Put aside what was read from "+name, func(store.Writer, *visitRecords, *filmedRecord) error { return nil })
}

// settleFilmed takes what was read from a film out of sight, in one with what becomes
// of it.
func (st *Studio) settleFilmed(ctx context.Context, who, visitID, id, deed string, become func(store.Writer, *visitRecords, *filmedRecord) error) (PageExam, error) {
	err := st.change(ctx, who, deed, visitID, func(w store.Writer) error {
		f, _, err := openVisit(w, visitID)
		if err != nil {
			return err
		}
		one, err := f.filmedBy(id)
		if err != nil {
			return err
		}
		if err := become(w, &f, one); err != nil {
			return err
		}
		return w.Remove(store.KindDocument, one.ID, one.version)
	})
	if err != nil {
		return PageExam{}, err
	}
	return st.Exam(ctx, visitID)
}

// examOrder is the reading of a test's trials from a film as an errand.
type examOrder struct {
	Asked      *Request
	Clip, Name string // the clip's ID and name
	Test       string
	Side       body.Side
	Known      knownTrack
}

// carryOut reads the trials, on the errand.
func (o *examOrder) carryOut(ctx context.Context, order *errandOrder, say *errandTongue) (PageExamFilmed, error) {
	t, ok := exam.Lookup(o.Test)
	if !ok {
		return PageExamFilmed{}, fmt.Errorf("there is no test %q", o.Test)
	}
	o.Asked.remembered = &errandMemory{clip: o.Clip, known: o.Known, dir: order.Dir, say: say}
	raw, warnings, err := o.landmarks(ctx, say)
	if err != nil {
		return PageExamFilmed{}, err
	}
	return filmedTrials(raw, t, o.Side, o.Clip, o.Name, warnings)
}

// landmarks finds the landmarks of the clip, which need not show running, on its true
// clock.
func (o *examOrder) landmarks(ctx context.Context, progress Progress) (*track.Track, []string, error) {
	r := o.Asked
	facts, err := video.Probe(ctx, r.Files[0])
	if err != nil {
		return nil, nil, videoProblem(o.Name, err)
	}
	slowdown, _ := slowdownOf(facts, r.CaptureRateHz)
	if slowdown < 1 {
		return nil, nil, problem(KindUsage, o.Name, "Check its capture rate at the station Film.", "the film runs faster than the capture rate that was given")
	}
	from, to := 0, facts.Frames()
	if r.StartS > 0 || r.EndS > 0 {
		from, to = facts.Range(r.StartS*slowdown, r.EndS*slowdown)
	}
	if to-from < leastFrames {
		return nil, nil, problem(KindUsage, o.Name, "Choose a longer part at the station Film.", "the chosen part has %d frames", max(0, to-from))
	}
	// No early look: it is for running.
	raw, notes, err := r.landmarks(ctx, facts, from, to, slowdown, progress, nil)
	if err != nil {
		return nil, nil, err
	}
	raw = raw.Clone() // what is remembered is on the file's clock
	for i := range raw.TimeS {
		raw.TimeS[i] /= slowdown
	}
	return raw, notes, nil
}

// filmedTrials turns landmarks of a clip with an ID and a name into trials.
func filmedTrials(raw *track.Track, t *exam.Test, side body.Side, id, name string, warnings []string) (PageExamFilmed, error) {
	o := track.DefaultClean(track.PoseModel)
	o.Reject = false // that looks for the rhythm of running
	mended, _ := track.Mend(raw, o)
	smooth, err := track.Smooth(mended, o, nil)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, name, err)
	}
	found, err := exam.FromFront(mended, smooth, side)
	if err != nil {
		return PageExamFilmed{}, refusal(KindNoResult, name, err)
	}
	out := PageExamFilmed{Trials: []PageExamTrial{}, TimesS: []float64{}, NoiseDeg: number(found.NoiseDeg, 2), Warnings: emptyNotNil(warnings)}
	var angles []float64
	for _, l := range found.Lows {
		if !(l.AngleDeg >= t.Low && l.AngleDeg <= t.High) {
			out.Warnings = append(out.Warnings, fmt.Sprintf("the repetition at %.1f s gave %.0f degrees, which cannot be; it is left out", l.TimeS, l.AngleDeg))
			continue
		}
		angles = append(angles, l.AngleDeg)
		out.Trials = append(out.Trials, PageExamTrial{Value: number(l.AngleDeg, 1), Clip: id})
		out.TimesS = append(out.TimesS, math.Round(l.TimeS*1000)/1000)
	}
	if len(angles) == 0 {
		return PageExamFilmed{}, problem(KindNoResult, name, "Film the test again from the front, whole runner in the picture.", "no repetition gave an angle that can be meant")
	}
	if found.Cut > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("%d repetition(s) cut off by the film's ends are left out", found.Cut))
	}
	if found.Lifted > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("the standing foot was lifted %d time(s); that is left out", found.Lifted))
	}
	e := t.Errors[0]
	all := agree.MeanOf(angles)
	out.SpreadDeg = number(all.SD, 1)
	out.Text = fmt.Sprintf("%d repetitions, on average %.1f degrees at the lowest point (knee inward positive).", len(angles), all.Value)
	if !math.IsNaN(found.NoiseDeg) {
		out.Text += fmt.Sprintf(" Trembling of the landmarks: %.1f degrees.", found.NoiseDeg)
	}
	out.Text += fmt.Sprintf(" A change counts from %.1f degrees (%s).", e.Value, e.Source)
	return out, nil
}
