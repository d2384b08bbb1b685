package web

import (
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestHandoutInBrowser drives step rate and homework in a real Chromium with the
// script ui/e2e/handout.e2e.mjs: from a count to a ramp, the click measured,
// footfalls heard, the homework on a phone and its log back.
func TestHandoutInBrowser(t *testing.T) {
	browsertest.Need(t)
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	browsertest.Script(t, "handout", 5*time.Minute, "PAGE="+start(t, st))
}
