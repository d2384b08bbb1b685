package app

import (
	"context"
	"math"
	"sync"
	"time"

	"gaitwright/internal/store"
)

// jobProgress tells the pages, and now and then the records, how far a job is. It
// is a Progress.
type jobProgress struct {
	st    *Studio
	ctx   context.Context
	live  *liveJob
	names map[string]string // of files by path
	total int               // frames of all films together
	alone bool              // the first stage tells the total

	mu      sync.Mutex
	done    int // frames of the films before this stage
	units   int // of this stage
	at      int
	begun   time.Time
	told    time.Time
	written time.Time
}

// finishing is the share of a job that all but the finding of landmarks takes.
const finishing = 0.03

// Stage begins a part of the work.
func (p *jobProgress) Stage(what, file string, units int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done += p.at
	p.units, p.at, p.begun = units, 0, time.Now()
	if p.alone && p.total == 0 {
		p.total = units
	}
	if name := p.names[file]; name != "" {
		what += " in " + name
	}
	p.st.queue.mu.Lock()
	p.live.job.Message = what
	p.st.queue.mu.Unlock()
	p.step(true)
}

// Advance says that n more frames are done.
func (p *jobProgress) Advance(n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.at += n
	p.step(false)
}

// Done ends the present stage.
func (p *jobProgress) Done() {}

// step works out the share done and the time left, and tells them where they were
// not told just now.
func (p *jobProgress) step(must bool) {
	now := time.Now()
	if !must && now.Sub(p.told) < tellEvery {
		return
	}
	p.told = now
	share, left := 0.0, 0.0
	if p.total > 0 {
		share = (1 - finishing) * math.Min(1, float64(p.done+p.at)/float64(p.total))
		if spent := now.Sub(p.begun).Seconds(); spent > 1 && p.at > 0 {
			left = spent / float64(p.at) * math.Max(0, float64(p.total-p.done-p.at))
		}
	}
	p.st.queue.mu.Lock()
	p.live.job.Share, p.live.leftS = share, left
	job := p.live.job
	p.st.queue.mu.Unlock()
	p.st.tellJob(job)
	if now.Sub(p.written) < writeEvery {
		return
	}
	p.written = now
	kept, err := p.st.records()
	if err != nil {
		return
	}
	// How far a job is helps the eye alone; where it cannot be written, the work
	// goes on.
	_ = kept.Change(p.ctx, store.Deed{}, func(w store.Writer) error {
		stored, err := w.Job(job.ID)
		if err != nil {
			return err
		}
		if stored.State == store.JobCancelled { // over another program
			p.live.cancel(errCancelled)
			return store.ErrNothing
		}
		job.Version = stored.Version
		return w.PutJob(&job)
	})
}
