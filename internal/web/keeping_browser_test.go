package web

import (
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestKeepingInBrowser drives the page of keeping data in a real Chromium with the
// script ui/e2e/keeping.e2e.mjs: backup, putting back, taking away, erasing.
func TestKeepingInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel()                  // a browser often waits
	today := func() *app.Studio { // the browser's own day
		st := emptyStudio(t)
		st.SetClock(time.Now)
		return st
	}
	browsertest.Script(t, "keeping", 5*time.Minute, "PAGE="+start(t, today()), "EMPTY="+start(t, today()))
}
