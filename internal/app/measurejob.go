package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"

	"gaitwright/gait/clip"
	"gaitwright/internal/pose"
	"gaitwright/internal/store"
)

// measureRequest is what a job of measuring was asked.
type measureRequest struct {
	Clips []string `json:"clips"`
	Model string   `json:"model,omitempty"`
	Who   string   `json:"who,omitempty"`
}

func parseMeasureJob(j store.Job) (measureRequest, error) {
	var r measureRequest
	if j.Kind != jobMeasure {
		return r, fmt.Errorf("job %s is of kind %s", j.ID, j.Kind)
	}
	err := json.Unmarshal(j.Request, &r)
	return r, err
}

// MeasureVisit puts the measuring of a visit's clips into the queue. Where it
// waits there already, that job is returned.
func (st *Studio) MeasureVisit(ctx context.Context, who, visitID string, ask PageMeasureAsk) (PageJob, error) {
	if ask.Model != "" {
		if _, err := pose.ParseModel(ask.Model); err != nil {
			return PageJob{}, &Problem{Kind: KindUsage, Field: "model", What: fmt.Sprintf("the model is %q; it must be lite, full or heavy", clean(ask.Model, 40))}
		}
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
		if f.intake.refer().stops() {
			return f.mayFilm()
		}
		r := measureRequest{Model: ask.Model, Who: clean(who, maxWho)}
		if r.Clips, err = f.measurable(kept.files, ask.Clips); err != nil {
			return err
		}
		for _, j := range f.jobs {
			if q, err := parseMeasureJob(j); err == nil && j.State == store.JobQueued && slices.Equal(q.Clips, r.Clips) && q.Model == r.Model {
				job = j
				return nil
			}
		}
		job = store.Job{VisitID: visitID, Kind: jobMeasure, State: store.JobQueued, Message: "waiting", Request: rawJSON(r)}
		if len(r.Clips) == 1 {
			job.ClipID = r.Clips[0]
		}
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

// measurable returns the clips to measure: those named, or all whose file is
// there. Standing trials go with their clips.
func (f *visitRecords) measurable(files store.FileKeeper, named []string) ([]string, error) {
	var out []string
	for _, id := range named {
		i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.ID == id })
		switch {
		case i < 0:
			return nil, problem(KindUsage, "", "Open the visit again.", "a clip that was named is not in this visit; it may have been removed on another screen")
		case f.clips[i].facts.StaticOf != "":
			return nil, problem(KindUsage, f.clips[i].Name, "Measure the clip that it belongs to.", "is a standing trial and is not measured by itself")
		case f.clips[i].facts.Test != "":
			return nil, problem(KindUsage, f.clips[i].Name, "Read it at the station Exam.", "shows a test of the exam and no running")
		}
		if _, err := f.clips[i].path(files); err != nil {
			return nil, err
		}
	}
	var gone error
	for _, c := range f.clips { // in the visit's order, each once
		if c.aside() || len(named) > 0 && !slices.Contains(named, c.ID) {
			continue
		}
		if _, err := c.path(files); err != nil {
			gone = err
			continue
		}
		out = append(out, c.ID)
	}
	if len(out) == 0 {
		if gone != nil {
			return nil, gone
		}
		return nil, problem(KindUsage, "", "Take a film in first.", "there is nothing to measure in this visit")
	}
	return out, nil
}

// measureJob measures the clips of a visit and keeps the result.
func (st *Studio) measureJob(ctx context.Context, job store.Job) error {
	ask, err := parseMeasureJob(job)
	if err != nil {
		return err
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	f, s, takes, err := st.prepare(ctx, kept, job.VisitID, ask.Clips, ask.Model)
	if err != nil {
		return err
	}
	st.queue.mu.Lock()
	live := st.queue.now[job.ID]
	st.queue.mu.Unlock()
	progress := &jobProgress{st: st, ctx: ctx, live: live, names: map[string]string{}}
	for _, t := range takes {
		progress.names[t.file] = t.name
		progress.total += f.frames(t.id)
	}
	e, err := st.sendOut(ctx, errandOrder{Measure: measureOrderOf(ctx, s, takes)})
	if err != nil {
		return err
	}
	defer e.close()
	told, err := e.measured(progress, func(t errandTrack) error {
		i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.ID == t.Clip })
		return (&trackMemory{kept: kept, clip: f.clips[i].Clip}).takeOver(ctx, e, t)
	})
	if err != nil {
		return err
	}
	hash, _, err := e.keep(ctx, kept.files, measuredFile)
	if err != nil {
		return err
	}
	e.close()
	if err := st.keepMeasured(ctx, kept, job, f, told, hash, ask); err != nil {
		return err
	}
	st.readyStills(ctx, job.VisitID)
	return nil
}

// measuredFile is the file in which an errand leaves what it measured.
const measuredFile = "measured"

// measureOrder is a measurement of a visit's clips as an errand.
type measureOrder struct {
	Session *Session // without clips
	Takes   []takeOrder
}

// takeOrder is a take, with the landmarks that were found before.
type takeOrder struct {
	File           string
	View           clip.View
	Asked          *Request
	PixelsPerM     float64
	Edits          Edits
	Name, Hash, ID string
	Followed       keptStickers
	Known          knownTrack
}

func measureOrderOf(ctx context.Context, s *Session, takes []take) *measureOrder {
	o := &measureOrder{Session: s}
	for _, t := range takes {
		one := takeOrder{File: t.file, View: t.view, Asked: t.asked, PixelsPerM: t.pixelsPerM, Edits: t.edits, Name: t.name, Hash: t.hash, ID: t.id, Followed: t.followed}
		if m, ok := t.asked.remembered.(*trackMemory); ok {
			one.Known = m.known(ctx)
		}
		o.Takes = append(o.Takes, one)
	}
	return o
}

// carryOut measures, on the errand, and leaves the session as a file.
func (o *measureOrder) carryOut(ctx context.Context, order *errandOrder, say *errandTongue) (*sessionTold, error) {
	st, err := OpenStudio(order.Studio)
	if err != nil {
		return nil, err
	}
	var takes []take
	for _, t := range o.Takes {
		if _, err := t.Asked.settleBelt(); err != nil {
			return nil, nameIn(err, t.File, t.Name)
		}
		t.Asked.remembered = &errandMemory{clip: t.ID, known: t.Known, dir: order.Dir, say: say}
		takes = append(takes, take{file: t.File, view: t.View, asked: t.Asked, pixelsPerM: t.PixelsPerM, edits: t.Edits, name: t.Name, hash: t.Hash, id: t.ID, followed: t.Followed})
	}
	if err := st.measure(ctx, o.Session, takes, say); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return o.Session.told(), writeGob(filepath.Join(order.Dir, measuredFile), storedSession{Format: sessionFormat, Session: o.Session})
}

// measured waits for the end of a measurement.
func (e *errand) measured(progress Progress, found func(errandTrack) error) (*sessionTold, error) {
	answer, err := e.finish(progress, found)
	if err != nil {
		return nil, err
	}
	var told sessionTold
	if err := json.Unmarshal(answer, &told); err != nil {
		return nil, fmt.Errorf("what was measured cannot be read: %w", err)
	}
	return &told, nil
}

// prepare reads what a measurement of a visit's clips needs: the visit, a session
// without clips, and the files with what is known of each. Corrections of earlier
// results are carried over.
func (st *Studio) prepare(ctx context.Context, kept *records, visit string, clips []string, model string) (*visitRecords, *Session, []take, error) {
	var f visitRecords
	var studio string
	err := kept.Read(ctx, func(r store.Reader) (err error) {
		if f, _, err = openVisit(r, visit); err != nil {
			return err
		}
		studio, err = r.Setting(settingStudio)
		return err
	})
	if err != nil {
		return nil, nil, nil, recordProblem(err, "")
	}
	if f.intake.refer().stops() {
		return nil, nil, nil, f.mayFilm()
	}
	edits := st.carried(f.results, clips)
	s := &Session{Created: st.now(), Studio: studio, Runner: f.facts(), Version: Version}
	var takes []take
	for _, id := range clips {
		i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.ID == id })
		if i < 0 {
			return nil, nil, nil, problem(KindNoResult, "", "Measure again with the clips that are left.", "a clip was removed from the visit before it was measured")
		}
		t, note, err := f.take(kept, &f.clips[i], model)
		if err != nil {
			return nil, nil, nil, err
		}
		if note != "" {
			s.Notes = append(s.Notes, f.clips[i].Name+": "+note)
		}
		t.edits = edits[id]
		t.followed, note = kept.followedOf(ctx, id)
		if note != "" {
			s.Notes = append(s.Notes, f.clips[i].Name+": "+note)
		}
		takes = append(takes, t)
	}
	return &f, s, takes, nil
}

// carried returns the corrections of clips, by ID: those of the newest result that
// has the clip. Corrections of a result that cannot be read are not carried over;
// the result itself stays.
func (st *Studio) carried(results []resultRecord, clips []string) map[string]Edits {
	out := map[string]Edits{}
	for _, r := range results {
		fresh := func(id string) bool { _, have := out[id]; return !have && slices.Contains(clips, id) }
		if !slices.ContainsFunc(r.ClipIDs, fresh) {
			continue
		}
		s, err := st.Load(r.ID)
		if err != nil {
			continue
		}
		for _, c := range s.Clips {
			if fresh(c.ID) {
				out[c.ID] = c.Edits
			}
		}
	}
	return out
}

// frames is how many frames of a clip have to be looked at; 0 for other files than
// films.
func (f *visitRecords) frames(clipID string) int {
	for _, c := range f.clips {
		if c.ID == clipID && c.isFilm() {
			return c.probe.Frames
		}
	}
	return 0
}

// keepMeasured writes the result, whose file has the hash, and the end of its job in
// one.
func (st *Studio) keepMeasured(ctx context.Context, kept *records, job store.Job, f *visitRecords, told *sessionTold, hash string, ask measureRequest) error {
	at := resultPlace{visit: job.VisitID, clipIDs: told.clipIDs()}
	at.rests = f.rests(at.clipIDs)
	deed := store.Deed{Who: ask.Who, VisitID: job.VisitID, What: "Measured " + told.Files}
	_, err := st.saveTold(ctx, kept, deed, told, hash, at, func(w store.Writer, id string) error {
		job.State, job.Share, job.Message, job.Outcome = store.JobDone, 1, "measured", id
		return errors.Join(carryDrawings(w, told.Clips, job.VisitID, id), st.putEnd(w, &job))
	})
	if err != nil {
		return err
	}
	st.jobEnded(job)
	return nil
}

// workThreads is how many threads work in the background takes: one is left to whoever
// looks at the pages meanwhile.
func workThreads() int { return max(1, runtime.NumCPU()-1) }

// facts are the runner's as the chain takes them.
func (f *visitRecords) facts() RunnerFacts {
	r := f.runner
	return RunnerFacts{Name: r.Name, HeightM: r.HeightM, LegLengthM: r.LegLengthM, MassKG: r.MassKG, Sex: r.Sex}
}

// take turns a clip and what is said of it into a file to be measured. The note
// is on the belt speed, empty for none.
func (f *visitRecords) take(kept *records, c *clipRecord, model string) (t take, note string, err error) {
	path, err := c.path(kept.files)
	if err != nil {
		return t, "", err
	}
	view := clip.UnknownView
	if c.facts.View != "" {
		if view, err = clip.ParseView(c.facts.View); err != nil {
			return t, "", err
		}
	}
	facts := c.facts.PageClipFacts
	if facts.Model != "" {
		model = facts.Model
	}
	r := &Request{Files: []string{path}, Views: []clip.View{view}, Runner: f.facts(), SpeedMPS: orZero(facts.SpeedMPS), Overground: facts.Overground,
		InclinePct: orZero(facts.InclinePercent), CaptureRateHz: orZero(facts.CaptureRateHz), StartS: orZero(facts.StartS), EndS: orZero(facts.EndS), Model: model,
		RollDeg: orZero(facts.RollDeg), YawDeg: orZero(facts.YawDeg), CameraDistanceM: orZero(facts.CameraDistanceM),
		Threads:    workThreads(),
		remembered: &trackMemory{kept: kept, clip: c.Clip}}
	if p := facts.Point; p != nil {
		r.Point = &Point{X: p.X, Y: p.Y, TimeS: p.TimeS}
	}
	if facts.Belt.ready() {
		r.BeltLengthM, r.SeamTimesS = facts.Belt.LengthM, facts.Belt.SeamTimesS
	}
	t = take{file: path, view: view, asked: r, name: c.Name, hash: c.Hash, id: c.ID}
	if facts.Scale != nil {
		t.pixelsPerM = facts.Scale.pixels() / facts.Scale.LengthM
		r.PixelsPerM = []float64{t.pixelsPerM}
	}
	for i := range f.clips {
		if f.clips[i].facts.StaticOf == c.ID {
			r.StaticName = f.clips[i].Name
			if r.StaticFile, err = f.clips[i].path(kept.files); err != nil {
				return t, "", err
			}
		}
	}
	if err := r.check(); err != nil {
		return t, "", nameIn(err, path, c.Name)
	}
	note, err = r.settleBelt()
	return t, note, nameIn(err, path, c.Name)
}
