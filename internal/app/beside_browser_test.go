package app_test

import (
	"testing"
	"time"

	"gaitwright/internal/app"
)

// TestBesideInBrowser drives the page of two strides in a real Chromium with the
// script ui/e2e/beside.e2e.mjs: phases matched, lines and angles drawn by mouse and
// by keys, two people drawing, pictures and films taken away, accessibility.
func TestBesideInBrowser(t *testing.T) {
	needsBrowser(t)
	t.Parallel() // a browser often waits
	st := emptyStudio(t)
	visit, now, before := app.NumberedVisits(t, st, t.TempDir())
	st.StartWork(t.Context())
	inBrowser(t, st, "beside", 6*time.Minute, "VISIT="+visit, "RESULT="+now.ID, "BEFORE="+before.ID)
}
