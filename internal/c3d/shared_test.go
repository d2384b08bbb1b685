package c3d

import (
	"os"
	"path/filepath"
	"testing"
)

// shared returns the path of an open data file kept beside the repository and
// skips the test where it is absent.
func shared(tb testing.TB, elem ...string) string {
	tb.Helper()
	root := os.Getenv("GAITWRIGHT_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(append([]string{root, "data"}, elem...)...)
	if _, err := os.Stat(path); err != nil {
		tb.Skipf("open data file %s is not here", filepath.Join(elem...))
	}
	return path
}
