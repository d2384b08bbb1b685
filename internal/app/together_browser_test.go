package app_test

import (
	"context"
	"testing"
	"time"

	"gaitwright/internal/browsertest"
	"gaitwright/internal/web"
)

// TestTogetherInBrowser opens the page of all runners in a real Chromium with the
// script ui/e2e/together.e2e.mjs.
func TestTogetherInBrowser(t *testing.T) {
	browsertest.Need(t)
	server := web.New(manyTogether(t, 120), web.Options{})
	if err := server.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- server.Run(ctx) }()
	defer func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	browsertest.Script(t, "together", 5*time.Minute, "PAGE="+server.URL())
}
