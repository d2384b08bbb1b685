package web

import (
	"fmt"
	"net/http"
	"sync/atomic"
	"time"
)

// The page learns by server-sent events what happens elsewhere: one line for the
// name, one for the data, which is JSON without line breaks.

const (
	keepAlive   = 20 * time.Second // a comment line that tells proxies and browsers that the server lives
	eventWithin = 10 * time.Second // in which an open page must take what is sent
	againMS     = 2000             // after which a page that was cut off asks again
	maxPages    = 100              // open at once
)

// eventsPath is where a page listens.
const eventsPath = "/api/events"

var openPages atomic.Int64

func (a api) events(w http.ResponseWriter, r *http.Request) {
	if openPages.Add(1) > maxPages {
		openPages.Add(-1)
		fail(w, http.StatusServiceUnavailable, "Too many pages are open; close some.")
		return
	}
	defer openPages.Add(-1)
	control := http.NewResponseController(w)
	control.SetReadDeadline(time.Time{}) // nothing more is read; the request stays open
	events, leave := a.src.Events()
	defer leave()
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no")
	say := func(text string) bool {
		control.SetWriteDeadline(time.Now().Add(eventWithin))
		if _, err := w.Write([]byte(text)); err != nil {
			return false
		}
		return control.Flush() == nil
	}
	if !say(fmt.Sprintf("retry: %d\n\n", againMS)) {
		return
	}
	alive := time.NewTicker(keepAlive)
	defer alive.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case <-a.closing:
			return
		case <-alive.C:
			if !say(": here\n\n") {
				return
			}
		case e, ok := <-events:
			// A page that fell too far behind is cut off, asks again and reads
			// everything anew; one whose session has ended hears nothing more.
			if !ok || r.Context().Err() != nil || !say("event: "+e.Name+"\ndata: "+string(e.Data)+"\n\n") {
				return
			}
		}
	}
}
