package folder

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"time"

	"gaitwright/internal/store"
)

// Folder keeps files; Open makes one. Its methods may be called from several
// goroutines, except that one part file has one writer at a time.
type Folder struct {
	dir  string
	root *os.Root
	ids  *store.IDs
	now  func() time.Time
	// wrap stands between a file and what is written to it, for tests of a full
	// disk.
	wrap  func(io.Writer) io.Writer
	parts keyed
}

var _ store.FileKeeper = (*Folder)(nil)

// Option changes how a folder is opened.
type Option func(*Folder)

// WithClock replaces the clock, for tests.
func WithClock(now func() time.Time) Option { return func(f *Folder) { f.now = now } }

// The folders within.
const (
	filesDir = "files"
	partsDir = "parts"
)

// age is how old an unnamed file is before Sweep removes it: by then whoever
// put it has long written the record that names it.
const age = 24 * time.Hour

// Open opens the folder, which is made where it is not there.
func Open(dir string, options ...Option) (*Folder, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(abs, 0o700); err != nil {
		return nil, said("the folder for films cannot be made", err)
	}
	root, err := os.OpenRoot(abs)
	if err != nil {
		return nil, said("the folder for films cannot be opened", err)
	}
	f := &Folder{dir: abs, root: root, now: time.Now, wrap: func(w io.Writer) io.Writer { return w }}
	for _, o := range options {
		o(f)
	}
	f.ids = store.NewIDs(f.now)
	for _, d := range []string{filesDir, partsDir} {
		if err := root.Mkdir(d, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
			root.Close()
			return nil, said("the folder for films cannot be made ready", err)
		}
	}
	return f, nil
}

// Close ends the use of the folder.
func (f *Folder) Close() error { return f.root.Close() }

// said tells what could not be done and why; a full disk is store.ErrFull.
func said(what string, err error) error {
	if store.NoRoom(err) {
		return fmt.Errorf("%w; make room and do it again (%s: %w)", store.ErrFull, what, err)
	}
	return fmt.Errorf("%s: %w", what, err)
}

func place(hash string) string { return path.Join(filesDir, hash[:2], hash[2:]) }

// checkHash refuses what is no name of a file.
func checkHash(hash string) error {
	if len(hash) != 2*sha256.Size {
		return fmt.Errorf("%w: %.80q is not the name of a file", store.ErrNotFound, hash)
	}
	for _, c := range []byte(hash) {
		if !('0' <= c && c <= '9' || 'a' <= c && c <= 'f') {
			return fmt.Errorf("%w: %.80q is not the name of a file", store.ErrNotFound, hash)
		}
	}
	return nil
}

// Put keeps what r gives.
func (f *Folder) Put(ctx context.Context, r io.Reader, limit int64) (name string, n int64, err error) {
	temp := path.Join(partsDir, "put-"+f.ids.Next())
	file, err := f.root.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return "", 0, said("the file cannot be kept", err)
	}
	defer func() {
		if err != nil {
			file.Close()
			f.root.Remove(temp)
		}
	}()
	sum := sha256.New()
	in := source{ctx: ctx, r: r}
	var from io.Reader = &in
	if limit > 0 {
		from = io.LimitReader(&in, limit+1)
	}
	n, err = io.Copy(io.MultiWriter(f.wrap(file), sum), from)
	switch {
	case in.err != nil:
		return "", 0, fmt.Errorf("the file did not arrive whole: %w", in.err)
	case err != nil:
		return "", 0, said("the file cannot be kept", err)
	case limit > 0 && n > limit:
		return "", 0, &TooLargeError{Limit: limit}
	}
	name = hex.EncodeToString(sum.Sum(nil))
	if err = f.settle(file, temp, name); err != nil {
		return "", 0, err
	}
	return name, n, nil
}

// TooLargeError says that a file is larger than it may be.
type TooLargeError struct{ Limit int64 }

// Error says it in one sentence.
func (e *TooLargeError) Error() string {
	return fmt.Sprintf("the file is larger than the %d MB that one may have; cut it shorter", e.Limit>>20)
}

// source reads until the context ends, and remembers whether it was the reading
// that failed.
type source struct {
	ctx context.Context
	r   io.Reader
	err error
}

func (s *source) Read(p []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		s.err = err
		return 0, err
	}
	n, err := s.r.Read(p)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}

// settle syncs a written file, closes it and gives it its name, unless that is
// kept already.
func (f *Folder) settle(file *os.File, temp, name string) error {
	made, err := file.Stat()
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return said("the file cannot be kept", err)
	}
	if i, err := f.root.Stat(place(name)); err == nil && i.Mode().IsRegular() && i.Size() == made.Size() {
		f.wantedAgain(name)
		return f.root.Remove(temp)
	}
	// The folder itself may have been taken away meanwhile.
	if err := f.root.Mkdir(filesDir, 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return said("the file cannot be kept", err)
	}
	shard := path.Dir(place(name))
	if err := f.root.Mkdir(shard, 0o700); err == nil {
		if err := f.syncDir(filesDir); err != nil {
			return err
		}
	} else if !errors.Is(err, fs.ErrExist) {
		return said("the file cannot be kept", err)
	}
	if err := f.root.Rename(temp, place(name)); err != nil {
		return said("the file cannot be kept", err)
	}
	return f.syncDir(shard)
}

// wantedAgain lets whoever sweeps see that a kept file was wanted just now.
func (f *Folder) wantedAgain(name string) {
	now := f.now()
	f.root.Chtimes(place(name), now, now)
}

// Open opens a kept file.
func (f *Folder) Open(name string) (*os.File, error) {
	if err := checkHash(name); err != nil {
		return nil, err
	}
	file, err := f.root.Open(place(name))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%w: the file %s… is not in %s; put it back from a copy of that folder", store.ErrNotFound, name[:12], f.dir)
	}
	return file, err
}

// Path is where a kept file lies.
func (f *Folder) Path(name string) (string, error) {
	file, err := f.Open(name)
	if err != nil {
		return "", err
	}
	file.Close()
	return filepath.Join(f.dir, filepath.FromSlash(place(name))), nil
}

// Remove removes a kept file at once.
func (f *Folder) Remove(name string) error {
	if err := checkHash(name); err != nil {
		return err
	}
	switch err := f.root.Remove(place(name)); {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return said("the file cannot be removed", err)
	}
	return f.syncDir(path.Dir(place(name)))
}

// Sweep removes the files that keep does not name, and parts that nobody went
// on with for a week.
func (f *Folder) Sweep(keep map[string]bool) (int64, error) {
	var freed int64
	var errs []error
	drop := func(name string, i fs.FileInfo) {
		if err := f.root.Remove(name); err != nil {
			errs = append(errs, err)
			return
		}
		freed += i.Size()
	}
	err := fs.WalkDir(f.root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		i, err := d.Info()
		if err != nil || !i.Mode().IsRegular() {
			return ignoreGone(err)
		}
		old := f.now().Sub(i.ModTime())
		dir, base := path.Split(name)
		switch top, shard := path.Split(path.Clean(dir)); {
		case path.Clean(dir) == partsDir:
			if old > 7*age {
				drop(name, i)
			}
		case path.Clean(top) == filesDir && checkHash(shard+base) == nil:
			if !keep[shard+base] && old > age {
				drop(name, i)
			}
		}
		return nil
	})
	return freed, errors.Join(append(errs, err)...)
}

func ignoreGone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// sumOf reads a file and gives its hash.
func sumOf(ctx context.Context, r io.Reader) (string, error) {
	sum := sha256.New()
	if _, err := io.Copy(sum, bufio.NewReaderSize(&source{ctx: ctx, r: r}, 1<<20)); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
