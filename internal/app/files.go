package app

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// WriteFileWhole writes a file so that it is either there whole or not at all:
// into a temporary file beside it, synced, then renamed over the name.
func WriteFileWhole(path string, write func(io.Writer) error) (err error) {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, ".gaitwright-*")
	if err != nil {
		return &Problem{Kind: KindUnexpected, File: path, What: "cannot be written: " + err.Error(), Mend: "Check that the folder exists and may be written to.", Err: err}
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
			err = fmt.Errorf("writing %s: %w", path, err)
		}
	}()
	w := bufio.NewWriter(f)
	if err := write(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if err := f.Chmod(0o644); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
