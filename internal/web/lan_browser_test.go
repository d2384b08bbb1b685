package web

import (
	"context"
	"testing"
	"time"

	"gaitwright/internal/browsertest"
)

// TestLANInBrowser drives the door for other devices in a real Chromium with the script
// ui/e2e/lan.e2e.mjs: signing in, signing out under a page that is open, and going on.
func TestLANInBrowser(t *testing.T) {
	browsertest.Need(t)
	ownAddr(t)
	t.Parallel() // a browser often waits
	st := emptyStudio(t)
	st.SetClock(time.Now) // the browser's own day
	s := New(st, Options{Log: quiet(), LAN: &LAN{Dir: t.TempDir(), Check: checkPhrase}})
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
	browsertest.Script(t, "lan", 3*time.Minute, "PAGE="+s.LAN().URLs[0], "OWN="+s.URL(), "PASSPHRASE="+rightPhrase)
}
