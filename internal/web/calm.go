package web

import (
	"net/http"
	"sync/atomic"
	"time"
)

// A server that is asked nothing for a while gives memory back to the machine: what is
// held ready to be worked on, and what is left over from its work. A result of half a
// minute of film that was corrected takes tens of megabytes to hold ready, and a second
// or so to be made ready again.
const restEvery = 2 * time.Minute

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

// keep calls rest every few minutes of a calm, until done: work in the background may
// have left something over since the last time.
func (c *calm) keep(done <-chan struct{}, rest func()) {
	c.last.CompareAndSwap(0, time.Now().UnixNano())
	tick := time.NewTicker(restEvery)
	defer tick.Stop()
	for {
		select {
		case <-done:
			return
		case <-tick.C:
		}
		if c.busy.Load() == 0 && time.Since(time.Unix(0, c.last.Load())) >= restEvery {
			rest()
		}
	}
}
