package app_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/web"
)

var stay = flag.Bool("stay", false, "with -run TestNAMEInBrowser: serve what the test prepares on port 8788 until interrupted, and run no script")

// needsBrowser skips the test where no browser can be driven.
func needsBrowser(t *testing.T) {
	t.Helper()
	if !*stay {
		browsertest.Need(t)
	}
}

// inBrowser serves a studio and drives its page in a real Chromium with a script of
// ui/e2e. With -stay it says what the script would be given, and serves on.
func inBrowser(t *testing.T, st *app.Studio, script string, limit time.Duration, env ...string) {
	t.Helper()
	env = append(env, "PAGE="+served(t, st))
	t.Log(env)
	if *stay {
		interrupted, stop := signal.NotifyContext(t.Context(), os.Interrupt)
		defer stop()
		<-interrupted.Done()
		return
	}
	browsertest.Script(t, script, limit, env...)
}

// served serves a studio until the test ends, and gives the page's address.
func served(tb testing.TB, st *app.Studio) string {
	tb.Helper()
	port := 0 // a free one
	if *stay {
		port = 8788
	}
	server := web.New(st, web.Options{Port: port})
	if err := server.Listen(); err != nil {
		tb.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(tb.Context()))
	done := make(chan error, 1)
	go func() { done <- server.Run(ctx) }()
	tb.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			tb.Error(fmt.Errorf("the server: %w", err))
		}
	})
	return server.URL()
}

func emptyStudio(tb testing.TB) *app.Studio {
	tb.Helper()
	st, err := app.OpenStudio(tb.TempDir())
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(st.Close)
	return st
}
