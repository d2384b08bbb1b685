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

var besideServe = flag.Bool("beside-serve", false, "with -run TestBesideInBrowser: serve two visits of one runner on port 8789 until interrupted")

// TestBesideInBrowser drives the page of two strides in a real Chromium with the
// script ui/e2e/beside.e2e.mjs: phases matched, lines and angles drawn by mouse and
// by keys, two people drawing, pictures and films taken away, accessibility.
func TestBesideInBrowser(t *testing.T) {
	if !*besideServe {
		browsertest.Need(t)
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
	browsertest.Script(t, "beside", 6*time.Minute, "PAGE="+server.URL(), "VISIT="+visit, "RESULT="+now.ID, "BEFORE="+before.ID)
}
