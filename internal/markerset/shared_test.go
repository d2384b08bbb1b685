package markerset

import (
	"os"
	"path/filepath"
	"testing"

	"gaitwright/internal/c3d"
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

func load(tb testing.TB, elem ...string) (Points, *c3d.File) {
	tb.Helper()
	f, err := c3d.Open(shared(tb, elem...))
	if err != nil {
		tb.Fatal(err)
	}
	p := Points{TimeS: f.TimeS()}
	for _, m := range f.Points {
		p.Markers = append(p.Markers, Marker(m))
	}
	return p, f
}
