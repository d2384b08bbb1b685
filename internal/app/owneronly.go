package app

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
)

// ownParts are the names under which a studio keeps people's data in its folder; what
// begins with one of ownBeginnings is the studio's too.
var (
	ownParts      = []string{filesFolder, stillsFolder, errandFolder, exportFolder, recordsFile, recordsFile + "-wal", recordsFile + "-shm", recordsFile + "-journal", ownErrorsFile, lockName}
	ownBeginnings = []string{restoring, backingUp}
)

// isOwn tells whether an entry of a studio's folder is the studio's.
func isOwn(name string) bool {
	for _, p := range ownParts {
		if p == name {
			return true
		}
	}
	for _, b := range ownBeginnings {
		if strings.HasPrefix(name, b) {
			return true
		}
	}
	return folderPattern.MatchString(name)
}

// forOwnerOnly takes from all others on the machine what they may do with a studio that
// an earlier version, or a copy, left open to them, and returns what is to be said of it,
// if anything. What is not the studio's is left as it is, the folder too where it holds
// such, and so is what a link points to. Where the folder hands its group on to what is
// made in it, somebody shares it on purpose, and the group keeps its rights. Windows
// keeps rights elsewhere.
func forOwnerOnly(dir string) (said string, err error) {
	if runtime.GOOS == "windows" {
		return "", nil
	}
	entries, err := os.ReadDir(dir)
	top, topErr := os.Stat(dir)
	if err := errors.Join(err, topErr); err != nil {
		return "", err
	}
	t := tightener{taken: 0o077}
	if top.Mode()&fs.ModeSetgid != 0 {
		t.taken = 0o007
	}
	alone := true
	for _, e := range entries {
		if !isOwn(e.Name()) {
			alone = false
			continue
		}
		t.part(filepath.Join(dir, e.Name()))
	}
	if alone {
		t.one(dir, top)
	}
	if t.changed > 0 {
		said = "the studio's folder was open to others on this computer; from now on it is open to its owner alone"
	}
	return said, t.failed
}

// tightener takes rights away.
type tightener struct {
	taken   fs.FileMode
	changed int
	failed  error
}

// part takes the rights to an entry of the studio's folder and, where it is a folder that
// others could enter, to all that is in it.
func (t *tightener) part(path string) {
	info, err := os.Lstat(path)
	switch {
	case err != nil || !info.IsDir() && !info.Mode().IsRegular():
		return
	case !info.IsDir():
		t.one(path, info)
		return
	case info.Mode()&t.taken == 0:
		return
	}
	// What is inside first: broken off, all is done again the next time.
	err = filepath.WalkDir(path, func(p string, e fs.DirEntry, err error) error {
		if err != nil || p == path || !e.IsDir() && !e.Type().IsRegular() {
			return nil // gone meanwhile, or not to be entered by us either
		}
		if i, err := e.Info(); err == nil {
			t.one(p, i)
		}
		return nil
	})
	t.failed = errors.Join(t.failed, err)
	t.one(path, info)
}

// one takes the rights to one file or folder.
func (t *tightener) one(path string, info fs.FileInfo) {
	if info.Mode()&t.taken == 0 {
		return
	}
	keep := fs.ModePerm | fs.ModeSetuid | fs.ModeSetgid | fs.ModeSticky
	if err := os.Chmod(path, info.Mode()&keep&^t.taken); err != nil {
		if t.failed == nil && !errors.Is(err, fs.ErrNotExist) {
			t.failed = err
		}
		return
	}
	// Some disks take the order and do nothing.
	if now, err := os.Lstat(path); err == nil && now.Mode()&t.taken == 0 {
		t.changed++
	} else if err == nil && t.failed == nil {
		t.failed = &fs.PathError{Op: "chmod", Path: path, Err: errors.New("the disk keeps no rights")}
	}
}
