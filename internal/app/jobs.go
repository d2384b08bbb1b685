package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"gaitwright/internal/store"
)

// Work in the background stands as jobs in the records. Two workers take them in
// their order: one what takes minutes, the other films to take away and to try the
// program on, which take seconds and for which someone waits. A program that is stopped puts its job back
// into the queue; one that broke down leaves it as running, and the next one begins it
// again, unless that has happened mostBroken times: the work itself may be what breaks
// the program, and nobody could use it any more.

const jobMeasure = "measure"

const mostBroken = 3

const brokenText = "The program broke down three times during this work, so it is not begun again by itself. The film may need more memory than there is: close other programs or cut the film shorter, and start it again."

// How often a running job is told to the pages, and written into the records.
const (
	tellEvery  = 250 * time.Millisecond
	writeEvery = 3 * time.Second
	lookEvery  = 5 * time.Second // for jobs that another program put in
)

// lockName is the file by which programs with the same folder agree who works.
const lockName = "work.lock"

// maxRecent is how many ended jobs are remembered for the list.
const maxRecent = 20

// queue is the workers' side of the jobs.
type queue struct {
	long, short lane

	mu      sync.Mutex
	now     map[string]*liveJob // running, by ID
	recent  []store.Job         // ended in this run of the program, oldest first
	cancel  context.CancelFunc  // of the workers; nil where there are none
	stopped chan struct{}       // closed when the workers have ended
}

// lane is what one worker takes.
type lane struct {
	wake  chan struct{}
	takes func(kind string) bool
}

// liveJob is a job while it runs.
type liveJob struct {
	cancel context.CancelCauseFunc
	job    store.Job // as it stands this moment
	leftS  float64   // 0 where not known
}

func newQueue() queue {
	short := func(kind string) bool { return kind == jobExport || kind == jobDraw }
	long := func(kind string) bool { return !short(kind) }
	return queue{long: lane{make(chan struct{}, 1), long}, short: lane{make(chan struct{}, 1), short}, now: map[string]*liveJob{}}
}

// errCancelled ends a job that a person cancelled.
var errCancelled = errors.New("the job was cancelled")

func (q *queue) nudge() {
	for _, l := range []lane{q.long, q.short} {
		select {
		case l.wake <- struct{}{}:
		default:
		}
	}
}

// wait returns when there may be something to do, or ctx has ended.
func (l lane) wait(ctx context.Context) {
	select {
	case <-ctx.Done():
	case <-l.wake:
	case <-time.After(lookEvery):
	}
}

// stop ends the workers and waits until they have ended.
func (q *queue) stop() {
	q.mu.Lock()
	cancel, stopped := q.cancel, q.stopped
	q.mu.Unlock()
	if cancel != nil {
		cancel()
		<-stopped
	}
}

func (q *queue) remember(j store.Job) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.recent = append(slices.DeleteFunc(q.recent, func(o store.Job) bool { return o.ID == j.ID }), j)
	if len(q.recent) > maxRecent {
		q.recent = slices.Delete(q.recent, 0, 1)
	}
}

// StartWork begins to take jobs from the queue in the background, and to
// look into the watched folder of run files, until ctx ends or the studio is closed.
// Of several programs with the same folder one takes jobs.
func (st *Studio) StartWork(ctx context.Context) {
	q := &st.queue
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.cancel != nil {
		return
	}
	ctx, q.cancel = context.WithCancel(ctx)
	q.stopped = make(chan struct{})
	go func(done chan struct{}) {
		defer close(done)
		var both sync.WaitGroup
		both.Go(func() { st.watchFolder(ctx, folderEvery) })
		both.Go(func() { st.work(ctx) })
		both.Wait()
	}(q.stopped)
}

func (st *Studio) work(ctx context.Context) {
	giveUp := st.claimQueue(ctx)
	for giveUp == nil {
		st.queue.long.wait(ctx)
		if ctx.Err() != nil {
			return
		}
		giveUp = st.claimQueue(ctx)
	}
	defer giveUp()
	st.tidy(ctx)
	var both sync.WaitGroup
	for _, l := range []lane{st.queue.long, st.queue.short} {
		both.Go(func() {
			for ctx.Err() == nil {
				if job, ok := st.nextJob(ctx, l.takes); ok {
					st.runJob(ctx, job)
				} else {
					l.wait(ctx)
				}
			}
		})
	}
	both.Wait()
}

// claimQueue makes this program the one that works. It puts the jobs that a
// program before left running into the queue again, and returns what gives the
// claim up; nil where another program works.
func (st *Studio) claimQueue(ctx context.Context) func() {
	kept, err := st.records()
	if err != nil {
		return nil
	}
	release, ok := lockFile(st.dir)
	if !ok {
		return nil
	}
	var ended []store.Job
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		left, err := w.Jobs(store.JobRunning)
		if err != nil {
			return err
		}
		for _, j := range left {
			j.Broken++
			if j.Broken >= mostBroken {
				j.State, j.Message, j.Ended = store.JobFailed, brokenText, st.now()
				ended = append(ended, j)
			} else {
				requeue(&j)
			}
			if err := w.PutJob(&j); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		release()
		return nil
	}
	for _, j := range ended {
		st.jobEnded(j)
	}
	return release
}

// someoneWorks tells whether a program takes jobs in this folder: this one or another.
func (st *Studio) someoneWorks() bool {
	release, ok := lockFile(st.dir)
	if ok {
		release()
	}
	return !ok
}

// requeue makes a job one that waits to be begun again.
func requeue(j *store.Job) {
	j.State, j.Share, j.Message = store.JobQueued, 0, "begun again after a stop"
}

// tidy removes the files that no record names any more, such as those of films
// that were given up halfway, the films made to be taken away, and what was to go with a
// consent that was withdrawn. What fails is tried again at the next start.
func (st *Studio) tidy(ctx context.Context) {
	os.RemoveAll(filepath.Join(st.dir, exportFolder))
	st.sweepErrands()
	st.dropUnfinished()
	st.finishWithdrawals(ctx)
	kept, err := st.records()
	if err != nil {
		return
	}
	var used map[string]bool
	if err := kept.Read(ctx, func(r store.Reader) (err error) { used, err = r.FilesInUse(); return err }); err == nil {
		kept.files.Sweep(used)
		st.sweepStills(used)
	}
}

// nextJob takes the oldest job of the queue whose kind is wanted.
func (st *Studio) nextJob(ctx context.Context, takes func(kind string) bool) (store.Job, bool) {
	kept, err := st.records()
	if err != nil {
		return store.Job{}, false
	}
	next := func(r store.Reader) (store.Job, error) {
		waiting, err := r.Jobs(store.JobQueued)
		i := slices.IndexFunc(waiting, func(j store.Job) bool { return takes(j.Kind) })
		if err != nil || i < 0 {
			return store.Job{}, errors.Join(err, store.ErrNothing)
		}
		return waiting[i], nil
	}
	// Whoever only looks keeps nobody from writing.
	if err := kept.Read(ctx, func(r store.Reader) error { _, err := next(r); return err }); err != nil {
		return store.Job{}, false
	}
	var job store.Job
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) (err error) {
		if job, err = next(w); err != nil {
			return err
		}
		job.State, job.Started, job.Message = store.JobRunning, st.now(), "beginning"
		return w.PutJob(&job)
	})
	return job, err == nil
}

// runJob carries a job out and writes how it ended. Where the program itself is
// being stopped the job goes back into the queue, for the next start.
func (st *Studio) runJob(ctx context.Context, job store.Job) {
	run, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	live := &liveJob{cancel: cancel, job: job}
	st.queue.mu.Lock()
	st.queue.now[job.ID] = live
	st.queue.mu.Unlock()
	st.tellJob(job)
	st.tellVisit(job.VisitID, "")
	err := st.carryOut(run, job)
	st.queue.mu.Lock()
	job = live.job
	delete(st.queue.now, job.ID)
	st.queue.mu.Unlock()
	if err == nil {
		return // the work wrote its own end, in one with its outcome
	}
	if ctx.Err() != nil {
		if kept, err := st.records(); err == nil {
			kept.Change(context.WithoutCancel(ctx), store.Deed{}, func(w store.Writer) error {
				now, err := w.Job(job.ID)
				if err != nil || now.State != store.JobRunning {
					return errors.Join(err, store.ErrNothing)
				}
				requeue(&now)
				return w.PutJob(&now)
			})
		}
		return
	}
	job.State, job.Message = store.JobFailed, InOneLine(err)
	if errors.Is(context.Cause(run), errCancelled) || errors.Is(err, errCancelled) {
		job.State, job.Message = store.JobCancelled, "cancelled"
	}
	st.endJob(ctx, job)
}

// carryOut does the work of a job. A panic in it fails the job, not the program.
func (st *Studio) carryOut(ctx context.Context, job store.Job) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the program failed in this work (%v); the films and all records are as they were", r)
		}
	}()
	switch job.Kind {
	case jobMeasure:
		return st.measureJob(ctx, job)
	case jobFollow:
		return st.followJob(ctx, job)
	case jobExport:
		return st.exportJob(ctx, job)
	case jobDraw:
		return st.drawJob(ctx, job)
	case jobExamFilm:
		return st.examFilmJob(ctx, job)
	}
	return problem(KindUnexpected, "", "Start it again.", "this version does not know work of the kind %q", job.Kind)
}

// endJob writes the end of a job.
func (st *Studio) endJob(ctx context.Context, job store.Job) {
	kept, err := st.records()
	if err == nil {
		err = patiently(ctx, func() error {
			return kept.Change(ctx, store.Deed{}, func(w store.Writer) error { return st.putEnd(w, &job) })
		})
	}
	switch {
	case errors.Is(err, errCancelled):
		job.State, job.Message = store.JobCancelled, "cancelled"
	case err != nil:
		job.State, job.Message = store.JobFailed, job.Message+"; and that could not be written down: "+err.Error()
	}
	st.jobEnded(job)
}

// patience is how long work in the background waits for records that another program
// keeps to itself: what took minutes is not given up for seconds.
const (
	patience    = 10 * time.Minute
	lookForTurn = time.Second
)

// patiently makes a change of the records again while another program keeps them to
// itself.
func patiently(ctx context.Context, change func() error) error {
	for begun := time.Now(); ; {
		err := change()
		if !errors.Is(err, store.ErrBusy) || time.Since(begun) >= patience {
			return err
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(lookForTurn):
		}
	}
}

// putEnd writes a job that has ended, within a change. One that was cancelled meanwhile
// over another program is not done any more: errCancelled.
func (st *Studio) putEnd(w store.Writer, job *store.Job) error {
	now, err := w.Job(job.ID)
	if err != nil {
		return err
	}
	if now.State == store.JobCancelled && job.State == store.JobDone {
		return errCancelled
	}
	job.Version, job.Ended = now.Version, st.now()
	return w.PutJob(job)
}

// jobEnded tells the pages of a job's end. It runs no more, so that what is told is
// the end and not the last that was known while it ran.
func (st *Studio) jobEnded(job store.Job) {
	st.queue.mu.Lock()
	delete(st.queue.now, job.ID)
	st.queue.mu.Unlock()
	st.queue.remember(job)
	st.tellJob(job)
	st.tellVisit(job.VisitID, "")
}

func (st *Studio) tellJob(j store.Job) { st.tell("job", st.pageJob(j)) }

// pageJob is a job as the browser gets it, as it stands this moment.
func (st *Studio) pageJob(j store.Job) PageJob {
	var left *float64
	st.queue.mu.Lock()
	if live := st.queue.now[j.ID]; live != nil {
		j = live.job
		if live.leftS > 0 {
			left = number(live.leftS, 0)
		}
	}
	st.queue.mu.Unlock()
	at := func(t time.Time) *string {
		if t.IsZero() {
			return nil
		}
		s := t.Format(time.RFC3339)
		return &s
	}
	test := examAsked(j)
	return PageJob{ID: j.ID, VisitID: j.VisitID, ClipID: j.ClipID, Kind: j.Kind, View: drawnView(j), Test: test.Test, Side: test.Side, State: string(j.State), Share: j.Share, Message: j.Message,
		LeftS: left, Started: at(j.Started), Ended: at(j.Ended), Outcome: j.Outcome}
}

// Jobs lists what waits and runs, and what ended lately, oldest first.
func (st *Studio) Jobs(ctx context.Context) ([]PageJob, error) {
	var jobs []store.Job
	err := st.readRecords(ctx, func(r store.Reader) (err error) {
		jobs, err = r.Jobs(store.JobQueued, store.JobRunning)
		return err
	})
	if err != nil {
		return nil, err
	}
	st.queue.mu.Lock()
	all := slices.Concat(st.queue.recent, jobs)
	st.queue.mu.Unlock()
	out := []PageJob{}
	for _, j := range all {
		out = append(out, st.pageJob(j))
	}
	return out, nil
}

// CancelJob ends a job that waits or runs; one that has ended is left as it is. One
// that another program with the same folder runs is written down as cancelled, which
// that program sees.
func (st *Studio) CancelJob(ctx context.Context, who, id string) (PageJob, error) {
	kept, err := st.records()
	if err != nil {
		return PageJob{}, err
	}
	var job store.Job
	over := false
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		var err error
		if job, err = w.Job(id); err != nil {
			return missingRecord(err, "job")
		}
		here := st.queue.cancelled(id)
		if over = !here && (job.State == store.JobQueued || job.State == store.JobRunning); !over {
			return nil
		}
		job.State, job.Message, job.Ended = store.JobCancelled, "cancelled", st.now()
		return w.PutJob(&job)
	})
	if err != nil {
		return PageJob{}, recordProblem(err, "")
	}
	if over {
		st.queue.remember(job)
		st.tellJob(job)
		st.tellVisit(job.VisitID, "")
	}
	return st.pageJob(job), nil
}

// cancelled ends a job that runs here; false where none of that ID does.
func (q *queue) cancelled(id string) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	live := q.now[id]
	if live != nil {
		live.cancel(errCancelled)
		live.job.Message = "being cancelled"
	}
	return live != nil
}

// optionWords are the names of the command line's options as the page calls them.
var optionWords = map[string]string{
	"--capture-rate": "the capture rate", "--start and --end": "the start and end", "--start": "the start", "--end": "the end", "--speed": "the belt speed",
	"--height": "the height", "--leg": "the leg length", "--scale": "the scale", "--view": "the view", "--yaw": "the camera's turn", "--roll": "the picture's turn",
	"--runner x,y@time": "a click on the runner", "--runner": "a click on the runner", "--overground": "over ground", "--belt-length and --seam": "the belt's length and seam",
	"--static FILE": "as a standing trial", "--static": "a standing trial", "--markers FILE": "a mapping of the marker names", "--markers": "a mapping of the marker names",
	"--contacts motion": "contacts from motion", "--camera-distance": "the camera's distance", "--model": "the model", "--results": "the folder of results",
	"--mass": "the mass", "--contacts": "the way contacts are found", "--sticker": "the sticker", "--belt-length": "the belt's length", "--seam": "the passes of the seam",
}

// optionsByLength has the longest first, so that none is found inside another.
var optionsByLength = slices.SortedFunc(maps.Keys(optionWords), func(a, b string) int { return len(b) - len(a) })

// InOneLine is an error in one line, as sentences, with the page's words for what
// the command line calls options.
func InOneLine(err error) string {
	var p *Problem
	s := capital(err.Error())
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	if errors.As(err, &p) {
		s = p.What
		if p.File != "" {
			s = p.File + ": " + s
		} else if s != "" {
			s = capital(s)
		}
		if s != "" && !strings.HasSuffix(s, ".") {
			s += "."
		}
		s += " " + p.Mend
	}
	return pageWords(strings.Join(strings.Fields(s), " "))
}

// rawJSON is what a job was asked, as it is kept.
func rawJSON(v any) json.RawMessage {
	b, err := json.Marshal(v)
	if err != nil {
		panic("app: " + err.Error())
	}
	return b
}
