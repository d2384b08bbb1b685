package app_test

import (
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/web"
)

var (
	benchServe = flag.Bool("bench-serve", false, "with -run TestBenchInBrowser: serve the numbered films on port 8788 until interrupted")
	benchShots = flag.String("bench-shots", "", "with -run TestBenchInBrowser: keep screenshots in this folder")
)

// TestBenchInBrowser drives the frame bench of the built page in a real Chromium
// against real films whose frames show their number, with the script
// ui/e2e/bench.e2e.mjs: exact frames, a landmark drawn elsewhere and back, contacts
// moved, sides exchanged, keys, accessibility.
func TestBenchInBrowser(t *testing.T) {
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
	if chromium == "" && !*benchServe {
		t.Skip("needs Chromium; install it, or name it in the environment variable CHROMIUM")
	}
	dir := filepath.Join("..", "..", "ui")
	if _, err := os.Stat(filepath.Join(dir, "node_modules", "playwright-core")); errors.Is(err, os.ErrNotExist) {
		t.Skip("needs the page's test packages; run `npm ci --ignore-scripts` in ui")
	}
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := app.NumberedResult(t, st, t.TempDir(), 4)
	port := 0
	if *benchServe {
		port = 8788
	}
	server := web.New(st, web.Options{Port: port})
	if err := server.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := signal.NotifyContext(t.Context(), os.Interrupt)
	done := make(chan error, 1)
	go func() { done <- server.Run(ctx) }()
	defer func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	t.Logf("the bench is at %sresults/%s/bench/0", server.URL(), s.ID)
	if *benchServe {
		<-ctx.Done()
		return
	}
	run, cancel := context.WithTimeout(ctx, 8*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(run, node, filepath.Join("e2e", "bench.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+server.URL(), "RESULT="+s.ID, "CHROMIUM="+chromium)
	if *benchShots != "" {
		abs, err := filepath.Abs(*benchShots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+abs)
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the bench in the browser: %v", err)
	}
}
