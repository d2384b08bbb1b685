package web

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gaitwright/internal/app"
)

// TestHandoutInBrowser drives step rate and homework in a real Chromium with the
// script ui/e2e/handout.e2e.mjs: from a count to a ramp, the click measured,
// footfalls heard, the homework on a phone and its log back.
func TestHandoutInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("drives a browser; left out with -short")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("needs Node 20 or later; install it to test the page in a browser")
	}
	chromium := os.Getenv("CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if chromium == "" {
			chromium, _ = exec.LookPath(name)
		}
	}
	if chromium == "" {
		t.Skip("needs Chromium; install it, or name it in the environment variable CHROMIUM")
	}
	dir := filepath.Join("..", "..", "ui")
	if _, err := os.Stat(filepath.Join(dir, "node_modules", "playwright-core")); errors.Is(err, os.ErrNotExist) {
		t.Skip("needs the page's test packages; run `npm ci --ignore-scripts` in ui")
	}
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	cmd := exec.CommandContext(t.Context(), node, filepath.Join("e2e", "handout.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+start(t, st), "CHROMIUM="+chromium, "OUT="+t.TempDir())
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+filepath.Join(abs, "handout"))
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the homework in the browser: %v", err)
	}
}
