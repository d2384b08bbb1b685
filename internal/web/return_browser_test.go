package web

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gaitwright/internal/app"
)

// TestReturnInBrowser drives the station Return in a real Chromium with the script
// ui/e2e/return.e2e.mjs, on the invented runner who comes back.
func TestReturnInBrowser(t *testing.T) {
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
	visit, err := st.DemoReturn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), node, filepath.Join("e2e", "return.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+start(t, st), "CHROMIUM="+chromium, "VISIT="+visit)
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+filepath.Join(abs, "return"))
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the return in the browser: %v", err)
	}
}
