package app

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// WriteFileWhole writes a file so that it is either there whole or not at all:
// into a temporary file beside it, synced, then renamed over the name.
func WriteFileWhole(path string, write func(io.Writer) error) (err error) {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, ".gaitwright-*")
	if err != nil {
		return unwritable(path, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
			var fault *fs.PathError
			if errors.As(err, &fault) {
				err = unwritable(path, err)
			} else {
				err = fmt.Errorf("writing %s: %w", path, err)
			}
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

// unwritable says that a file cannot be written and why.
func unwritable(path string, err error) *Problem {
	p := &Problem{Kind: KindUnexpected, File: path, What: "cannot be written: " + err.Error(), Mend: "Check that the folder exists, may be written to and has room.", Err: err}
	var fault *fs.PathError
	if errors.As(err, &fault) {
		p.What = "cannot be written: " + fault.Err.Error()
	}
	return p
}

// CheckOutput tells before the work begins whether a file can be written: its
// folder is there, it is no folder itself and, where endings are given, its name
// has one of them.
func CheckOutput(path string, endings ...string) error {
	if len(endings) > 0 && !slices.Contains(endings, strings.ToLower(filepath.Ext(path))) {
		return problem(KindUsage, path, "Let its name end in "+strings.Join(endings, ", ")+".", "the ending does not say what to write")
	}
	if i, err := os.Stat(path); err == nil && i.IsDir() {
		return problem(KindUsage, path, "Name a file in it.", "is a folder")
	}
	if i, err := os.Stat(filepath.Dir(path)); err != nil || !i.IsDir() {
		return problem(KindUsage, path, "Make it first, or name another.", "there is no folder %s to write to", filepath.Dir(path))
	}
	return nil
}
