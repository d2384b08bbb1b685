package web

import (
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestReturnInBrowser drives the station Return in a real Chromium with the script
// ui/e2e/return.e2e.mjs, on the invented runner who comes back.
func TestReturnInBrowser(t *testing.T) {
	browsertest.Need(t)
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	visit, err := st.DemoReturn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	browsertest.Script(t, "return", 5*time.Minute, "PAGE="+start(t, st), "VISIT="+visit)
}
