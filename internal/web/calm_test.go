package web

import (
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// Memory is given back in every calm of some minutes; never while an answer is under
// way, however long it takes. Listening for events is no work.
func TestCalm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var c calm
		var rested atomic.Int64
		release := make(chan struct{})
		pages := c.watch(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path != "/" {
				<-release
			}
		}))
		ask := func(path string) { pages.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest("GET", path, nil)) }
		done := make(chan struct{})
		go c.keep(done, func() { rested.Add(1) })
		go ask(eventsPath)
		pass := func(what string, d time.Duration, want int) {
			t.Helper()
			rested.Store(0)
			time.Sleep(d)
			synctest.Wait()
			if got := rested.Load(); got != int64(want) {
				t.Errorf("%s: rested %d times, want %d", what, got, want)
			}
		}
		pass("a calm of five minutes", 5*time.Minute, 2)
		pass("an hour on", time.Hour, 30)
		ask("/")
		pass("just asked", 90*time.Second, 0)
		for range 60 {
			ask("/")
			pass("asked every minute", time.Minute, 0)
		}
		go ask("/long")
		pass("an answer under way", 2*time.Hour, 0)
		close(release)
		synctest.Wait()
		pass("after it", 14*time.Minute, 6)
		pass("and on", 4*time.Minute, 2)
		close(done)
	})
}
