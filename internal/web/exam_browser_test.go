package web

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
)

// TestExamInBrowser drives the station Exam in a real Chromium with the script
// ui/e2e/exam.e2e.mjs: both sides of a strength test, pain, counter and clock,
// tables, two screens, accessibility.
func TestExamInBrowser(t *testing.T) {
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
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, node, filepath.Join("e2e", "exam.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+start(t, st), "CHROMIUM="+chromium)
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+filepath.Join(abs, "exam"))
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the exam in the browser: %v", err)
	}
}
