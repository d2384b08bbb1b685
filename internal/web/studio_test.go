package web

import (
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/app"
)

// emptyStudio opens a studio in a folder of the test.
func emptyStudio(t testing.TB) *app.Studio {
	t.Helper()
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	st.SetClock(func() time.Time { return time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC) })
	t.Cleanup(st.Close)
	return st
}

// withVisits gives invented results the visits of an empty studio.
func withVisits(t testing.TB, src *invented) *invented {
	src.Visits = emptyStudio(t)
	return src
}
