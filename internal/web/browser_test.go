package web

import (
	"context"
	"flag"
	"fmt"
	"net"
	"os"
	"os/signal"
	"strconv"
	"testing"
	"time"

	"gaitwright/internal/browsertest"
)

var serve = flag.String("serve", "", "with -run TestServeInvented: serve the invented results at this host:port until interrupted")

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
	browsertest.Need(t)
	t.Parallel() // a browser often waits
	full := start(t, withVisits(t, someResults()))
	empty := start(t, withVisits(t, &invented{}))
	repeated := start(t, inventedRepeats(t))
	browsertest.Script(t, "page", 8*time.Minute, "PAGE="+full, "EMPTY_PAGE="+empty, "REPEATED_PAGE="+repeated)
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
