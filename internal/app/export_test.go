package app

import (
	"compress/gzip"
	"encoding/gob"
	"os"
	"path/filepath"

	"gaitwright/internal/store"
)

// SetFree replaces what is said of the room on the disk.
func (st *Studio) SetFree(free func(dir string) (int64, error)) { st.free = free }

// Records opens the records as the studio does.
func (st *Studio) Records() (store.Store, store.FileKeeper, error) {
	r, err := st.records()
	if err != nil {
		return nil, nil, err
	}
	return r.Store, r.files, nil
}

// WriteFolder keeps a result as versions before the records did.
func WriteFolder(dir, name string, s *Session) error {
	if err := os.MkdirAll(filepath.Join(dir, name), 0o755); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, name, folderSession))
	if err != nil {
		return err
	}
	defer f.Close()
	z := gzip.NewWriter(f)
	if err := gob.NewEncoder(z).Encode(storedSession{Format: sessionFormat, Session: s}); err != nil {
		return err
	}
	return z.Close()
}
