package web

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"testing"
	"time"
)

var (
	serve = flag.String("serve", "", "with -run TestServeInvented: serve the invented results at this host:port until interrupted")
	shots = flag.String("shots", "", "with -run TestPageInBrowser: keep screenshots in this folder")
)

// TestServeInvented serves the invented results for looking at and working on
// the page:
//
//	go test ./internal/web -run TestServeInvented -timeout 0 -serve 127.0.0.1:8787
func TestServeInvented(t *testing.T) {
	if *serve == "" {
		t.Skip("needs -serve host:port")
	}
	host, port, err := net.SplitHostPort(*serve)
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.Atoi(port)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := signal.NotifyContext(t.Context(), os.Interrupt)
	defer stop()
	s := New(withVisits(t, someResults()), Options{Host: host, Port: n})
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	fmt.Println("invented results at", s.URL())
	if err := s.Run(ctx); err != nil {
		t.Fatal(err)
	}
}

// TestPageInBrowser drives the built page in a real Chromium with the script
// ui/e2e/page.e2e.mjs: exact frames, curves that follow, keys, accessibility in
// light and dark, no request to anywhere else.
func TestPageInBrowser(t *testing.T) {
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
	full := start(t, withVisits(t, someResults()))
	empty := start(t, withVisits(t, &invented{}))
	repeated := start(t, inventedRepeats(t))
	ctx, cancel := context.WithTimeout(t.Context(), 8*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, node, filepath.Join("e2e", "page.e2e.mjs"))
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "PAGE="+full, "EMPTY_PAGE="+empty, "REPEATED_PAGE="+repeated, "CHROMIUM="+chromium)
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+abs)
	}
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("the page in the browser: %v", err)
	}
}

// start serves src for the length of the test and returns its address.
func start(t *testing.T, src Source) string {
	t.Helper()
	s := New(src, Options{Log: quiet()})
	if err := s.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
	return s.URL()
}
