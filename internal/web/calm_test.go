package web

import (
	"net/http"
	"net/http/httptest"
	"testing"
	"testing/synctest"
	"time"
)

// Memory is given back in every calm of some minutes, and what is held ready once in
// each; never while an answer is under way, however long it takes. Listening
// for events is no work.
func TestCalm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var c calm
		var tidied, rested int
		release := make(chan struct{})
		pages := c.watch(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path != "/" {
				<-release
			}
		}))
		ask := func(path string) { pages.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest("GET", path, nil)) }
		done := make(chan struct{})
		go c.keep(done, func() { tidied++ }, func() { rested++ })
		go ask(eventsPath)
		pass := func(what string, d time.Duration, wantTidied, wantRested int) {
			t.Helper()
			tidied, rested = 0, 0
			time.Sleep(d)
			synctest.Wait()
			if tidied != wantTidied || rested != wantRested {
				t.Errorf("%s: tidied %d times and rested %d, want %d and %d", what, tidied, rested, wantTidied, wantRested)
			}
		}
		pass("a calm of five minutes", 5*time.Minute, 2, 1)
		pass("an hour on", time.Hour, 30, 0)
		ask("/")
		pass("just asked", 90*time.Second, 0, 0)
		for range 60 {
			ask("/")
			pass("asked every minute", time.Minute, 0, 0)
		}
		go ask("/long")
		pass("an answer under way", 2*time.Hour, 0, 0)
		close(release)
		synctest.Wait()
		pass("after it", 14*time.Minute, 6, 1)
		pass("and on", 4*time.Minute, 2, 0)
		close(done)
	})
}
