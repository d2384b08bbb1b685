package app_test

import (
	"flag"
	"os"
	"os/signal"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/web"
)

var benchServe = flag.Bool("bench-serve", false, "with -run TestBenchInBrowser: serve the numbered films on port 8788 until interrupted")

// TestBenchInBrowser drives the frame bench of the built page in a real Chromium
// against real films whose frames show their number, with the script
// ui/e2e/bench.e2e.mjs: exact frames, a landmark drawn elsewhere and back, contacts
// moved, sides exchanged, keys, accessibility.
func TestBenchInBrowser(t *testing.T) {
	if !*benchServe {
		browsertest.Need(t)
	}
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := app.NumberedResult(t, st, t.TempDir(), 3)
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
	browsertest.Script(t, "bench", 8*time.Minute, "PAGE="+server.URL(), "RESULT="+s.ID)
}
