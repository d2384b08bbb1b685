package app_test

import (
	"testing"
	"time"
)

// TestTogetherInBrowser opens the page of all runners in a real Chromium with the
// script ui/e2e/together.e2e.mjs.
func TestTogetherInBrowser(t *testing.T) {
	needsBrowser(t)
	t.Parallel() // a browser often waits
	inBrowser(t, manyTogether(t, 120), "together", 5*time.Minute)
}
