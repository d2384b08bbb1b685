package app_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"gaitwright/internal/app"
	"gaitwright/internal/backup"
)

// TestMain points the tests at the pose model that set-up installs in the
// project's own folder, and lets the test's binary go on errands as the program does.
func TestMain(m *testing.M) {
	app.Errands()
	backup.WorkFactor = 10 // the cost of guessing is not what is tested
	if os.Getenv("GAITWRIGHT_MODELS") == "" {
		dir, err := filepath.Abs(filepath.Join("..", "..", "setup", "node_modules"))
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Setenv("GAITWRIGHT_MODELS", dir)
	}
	if dir := os.Getenv(servingDir); dir != "" {
		os.Exit(serving(dir))
	}
	code := m.Run()
	app.RemoveNumberedFilms()
	if measuredOnce.dir != "" {
		os.RemoveAll(measuredOnce.dir)
	}
	os.Exit(code)
}

// sharedData returns the path of a file of the shared open data; the test is
// skipped where they are absent.
func sharedData(tb testing.TB, elem ...string) string {
	tb.Helper()
	dir := os.Getenv("GAITWRIGHT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(append([]string{dir, "data"}, elem...)...)
	if _, err := os.Stat(path); err != nil {
		tb.Skip("the shared data are absent: ", err)
	}
	return path
}
