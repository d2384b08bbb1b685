package sqlite

import (
	"path/filepath"
	"testing"

	"gaitwright/internal/store"
	"gaitwright/internal/store/storetest"
)

func openTemp(t testing.TB, options ...Option) *Store {
	t.Helper()
	s, err := Open(filepath.Join(t.TempDir(), "records ü?#%41", "records.db"), options...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func TestSuite(t *testing.T) {
	storetest.Suite(t, func(t *testing.T) store.Store { return openTemp(t) })
}
