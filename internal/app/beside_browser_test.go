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
	besideServe = flag.Bool("beside-serve", false, "with -run TestBesideInBrowser: serve two visits of one runner on port 8789 until interrupted")
	besideShots = flag.String("beside-shots", "", "with -run TestBesideInBrowser: keep screenshots in this folder")
)

// TestBesideInBrowser drives the page of two strides in a real Chromium with the
// script ui/e2e/beside.e2e.mjs: phases matched, lines and angles drawn by mouse and
// by keys, two people drawing, pictures and films taken away, accessibility.
func TestBesideInBrowser(t *testing.T) {
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
	if chromium == "" && !*besideServe {
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
	visit, now, before := app.NumberedVisits(t, st, t.TempDir())
	st.StartWork(t.Context())
	port := 0
	if *besideServe {
		port = 8789
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
	t.Logf("PAGE=%s VISIT=%s RESULT=%s BEFORE=%s", server.URL(), visit, now.ID, before.ID)
	if *besideServe {
		<-ctx.Done()
		return
	}
	run, cancel := context.WithTimeout(ctx, 6*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(run, node, filepath.Join("e2e", "beside.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+server.URL(), "VISIT="+visit, "RESULT="+now.ID, "BEFORE="+before.ID, "CHROMIUM="+chromium)
	if *besideShots != "" {
		abs, err := filepath.Abs(*besideShots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+abs)
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("two strides in the browser: %v", err)
	}
}
