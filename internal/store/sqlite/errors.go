package sqlite

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	engine "modernc.org/sqlite"
	code "modernc.org/sqlite/lib"

	"gaitwright/internal/store"
)

// said puts an error of the engine into the words of the store; others pass.
func (s *Store) said(err error) error {
	var fault *engine.Error
	if !errors.As(err, &fault) {
		return err
	}
	switch fault.Code() & 0xff {
	case code.SQLITE_BUSY, code.SQLITE_LOCKED, code.SQLITE_PROTOCOL:
		return fmt.Errorf("%w; close it, or try again in a moment (%s: %w)", store.ErrBusy, s.path, err)
	case code.SQLITE_FULL:
		return fmt.Errorf("%w; make room and do it again (%s: %w)", store.ErrFull, s.path, err)
	case code.SQLITE_CORRUPT, code.SQLITE_NOTADB:
		return fmt.Errorf("%w: %s; put back your last copy of that file, the films are not touched by this (%w)", store.ErrDamaged, s.path, err)
	case code.SQLITE_READONLY, code.SQLITE_PERM, code.SQLITE_AUTH:
		return fmt.Errorf("the records in %s may be read but not written; check whose the file and its folder are (%w)", s.path, err)
	case code.SQLITE_IOERR, code.SQLITE_CANTOPEN:
		// The engine does not say of every failed write that there was no room.
		if full(filepath.Dir(s.path)) {
			return fmt.Errorf("%w; make room and do it again (%s: %w)", store.ErrFull, s.path, err)
		}
		return fmt.Errorf("the records in %s cannot be reached; check that the disk is there and that the folder may be written to (%w)", s.path, err)
	case code.SQLITE_TOOBIG:
		return fmt.Errorf("what is to be kept is too large (%w)", err)
	}
	return fmt.Errorf("the records in %s: %w", s.path, err)
}

// full tries whether a folder has room for a little more.
func full(dir string) bool {
	f, err := os.CreateTemp(dir, ".room-*")
	if err != nil {
		return store.NoRoom(err)
	}
	defer os.Remove(f.Name())
	defer f.Close()
	// More than the engine writes at once when its shared index grows.
	if _, err = f.Write(make([]byte, 128<<10)); err == nil {
		err = f.Sync()
	}
	return store.NoRoom(err)
}
