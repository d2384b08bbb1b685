package web

import (
	"net/http"
	"runtime/debug"
	"sync/atomic"
	"time"
)

// A server that is asked nothing for a while gives memory back to the machine: what is
// held ready to be worked on, and what is left over from its work. A result of half a
// minute of film that was corrected takes tens of megabytes to hold ready, and a second
// or so to be made ready again.
const tidyEvery = 2 * time.Minute

// calm knows how long nothing was asked. A page that is open and listens to the
// events asks nothing.
type calm struct {
	busy atomic.Int64 // answers under way
	last atomic.Int64 // when the last one ended, in nanoseconds since 1970
}

func (c *calm) watch(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != eventsPath {
			c.busy.Add(1)
			defer func() {
				c.last.Store(time.Now().UnixNano())
				c.busy.Add(-1)
			}()
		}
		next.ServeHTTP(w, r)
	})
}

// keep tidies in each calm and, once in it, lets rest, until done.
func (c *calm) keep(done <-chan struct{}, tidy, rest func()) {
	c.last.CompareAndSwap(0, time.Now().UnixNano())
	var rested int64
	tick := time.NewTicker(tidyEvery)
	defer tick.Stop()
	for {
		select {
		case <-done:
			return
		case <-tick.C:
		}
		last := c.last.Load()
		quiet := time.Since(time.Unix(0, last))
		if c.busy.Load() > 0 || quiet < tidyEvery {
			continue
		}
		if rested != last {
			rested = last
			rest()
		}
		tidy()
	}
}

// tidy collects what is left over and gives it back.
func tidy() { debug.FreeOSMemory() }
