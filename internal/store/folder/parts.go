package folder

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"gaitwright/internal/store"
)

// maxMeta bounds what is kept with a part.
const maxMeta = 64 << 10

// about is what is known of a file that arrives in parts.
type about struct {
	Size int64  `json:"size"`
	Meta []byte `json:"meta"`
	// Kept is the hash of the content, from just before the part becomes the file of
	// that name; empty until then.
	Kept string `json:"kept,omitempty"`
}

func partName(id string) string  { return path.Join(partsDir, id) }
func aboutName(id string) string { return partName(id) + aboutEnding }

const aboutEnding = ".about"

// keyed lets one at a time work on a part.
type keyed struct {
	mu   sync.Mutex
	busy map[string]bool
}

func (k *keyed) take(id string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.busy[id] {
		return false
	}
	if k.busy == nil {
		k.busy = map[string]bool{}
	}
	k.busy[id] = true
	return true
}

func (k *keyed) give(id string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	delete(k.busy, id)
}

// ErrInUse means that a part is being written at this moment, as by a
// connection that broke and has not been noticed yet.
var ErrInUse = errors.New("this file is arriving already; wait a moment and ask how much has arrived")

// Begin starts a file that arrives in parts.
func (f *Folder) Begin(meta []byte, size int64) (_ string, err error) {
	switch {
	case size < 0:
		return "", fmt.Errorf("a file of %d bytes cannot be", size)
	case len(meta) > maxMeta:
		return "", fmt.Errorf("what is said about the file is longer than %d kB", maxMeta>>10)
	}
	id := f.ids.Next()
	defer func() {
		if err != nil {
			f.root.Remove(partName(id))
			f.root.Remove(aboutName(id))
		}
	}()
	b, err := json.Marshal(about{Size: size, Meta: meta})
	if err != nil {
		return "", err
	}
	for _, w := range []struct {
		name string
		body []byte
	}{{aboutName(id), b}, {partName(id), nil}} {
		file, err := f.root.OpenFile(w.name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return "", said("the upload cannot begin", err)
		}
		_, err = f.wrap(file).Write(w.body)
		if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
			return "", said("the upload cannot begin", err)
		}
	}
	return id, f.syncDir(partsDir)
}

// Arriving lists the files that arrive in parts, oldest first, and those that have
// arrived and are still known under the name of their upload.
func (f *Folder) Arriving() ([]string, error) {
	list, err := fs.ReadDir(f.root.FS(), partsDir)
	var ids []string
	for _, e := range list {
		if id := strings.TrimSuffix(e.Name(), aboutEnding); store.ValidID(id) {
			ids = append(ids, id)
		}
	}
	return slices.Compact(ids), err
}

// find reads what is known of a part.
func (f *Folder) find(id string) (about, error) {
	var a about
	gone := fmt.Errorf("%w: no upload %.80q is under way; begin it anew", store.ErrNotFound, id)
	if !store.ValidID(id) {
		return a, gone
	}
	b, err := f.root.ReadFile(aboutName(id))
	if errors.Is(err, fs.ErrNotExist) {
		return a, gone
	}
	if err != nil {
		return a, err
	}
	if err := json.Unmarshal(b, &a); err != nil || a.Size < 0 || a.Kept != "" && checkHash(a.Kept) != nil {
		return about{}, fmt.Errorf("%w: what was known of the upload is lost; begin it anew", store.ErrNotFound)
	}
	return a, nil
}

// Promised is how many bytes are still to arrive of all files that were begun.
func (f *Folder) Promised() (int64, error) {
	list, err := fs.ReadDir(f.root.FS(), partsDir)
	if err != nil {
		return 0, ignoreGone(err)
	}
	var sum int64
	for _, e := range list {
		offset, size, _, err := f.Part(e.Name())
		if errors.Is(err, store.ErrNotFound) {
			continue // what is known of a part, or one that just ended
		}
		if err != nil {
			return 0, err
		}
		sum += max(0, size-offset)
	}
	return sum, nil
}

// Part tells how much of a file has arrived.
func (f *Folder) Part(id string) (offset, size int64, meta []byte, err error) {
	a, err := f.find(id)
	if err != nil {
		return 0, 0, nil, err
	}
	i, err := f.root.Stat(partName(id))
	if errors.Is(err, fs.ErrNotExist) && a.Kept != "" {
		i, err = f.root.Stat(place(a.Kept))
	}
	if errors.Is(err, fs.ErrNotExist) {
		return 0, a.Size, a.Meta, fmt.Errorf("%w: what had arrived of the upload is lost; begin it anew", store.ErrNotFound)
	}
	if err != nil {
		return 0, a.Size, a.Meta, err
	}
	return i.Size(), a.Size, a.Meta, nil
}

// Arrived is where a file lies of which every byte has arrived, for programs that
// need a name.
func (f *Folder) Arrived(id string) (string, error) {
	at, size, _, err := f.Part(id)
	if err != nil {
		return "", err
	}
	if at != size {
		return "", notWhole(at, size)
	}
	lies := partName(id)
	if _, err := f.root.Stat(lies); errors.Is(err, fs.ErrNotExist) {
		a, err := f.find(id)
		if err != nil {
			return "", err
		}
		return f.Path(a.Kept)
	}
	return filepath.Join(f.dir, filepath.FromSlash(lies)), nil
}

func notWhole(at, size int64) error {
	return fmt.Errorf("%d of %d bytes have arrived; send the rest first", at, size)
}

// Append adds what r gives at offset.
func (f *Folder) Append(ctx context.Context, id string, offset int64, r io.Reader) (end int64, err error) {
	if !f.parts.take(id) {
		return 0, ErrInUse
	}
	defer f.parts.give(id)
	at, size, _, err := f.Part(id)
	if err != nil {
		return 0, err
	}
	if offset != at {
		return at, &store.OffsetError{Want: at, Got: offset}
	}
	tooMuch := func(r io.Reader) error { // there must be no more than was said
		if k, _ := r.Read(make([]byte, 1)); k > 0 {
			return fmt.Errorf("%w: the upload is of %d bytes; begin it anew", store.ErrTooMuch, size)
		}
		return nil
	}
	if at == size { // it may be a part no more
		return at, tooMuch(r)
	}
	file, err := f.root.OpenFile(partName(id), os.O_WRONLY, 0)
	if err != nil {
		return at, said("the upload cannot go on", err)
	}
	defer file.Close()
	if _, err := file.Seek(at, io.SeekStart); err != nil {
		return at, said("the upload cannot go on", err)
	}
	in := source{ctx: ctx, r: r}
	n, err := io.Copy(f.wrap(file), io.LimitReader(&in, size-at))
	end = at + n
	switch {
	case in.err != nil:
		err = fmt.Errorf("the upload broke off: %w", in.err)
	case err != nil:
		err = said("the upload cannot go on", err)
	case end == size:
		err = tooMuch(&in)
	}
	// What arrived counts, also before a break; a byte half written does not.
	if serr := file.Truncate(end); serr != nil && err == nil {
		err = said("the upload cannot go on", serr)
	}
	if serr := file.Sync(); serr != nil && err == nil {
		err = said("the upload cannot go on", serr)
	}
	return end, err
}

// Finish keeps a file of which every byte has arrived. What is known of it stays, so
// that finishing it again, after an answer that was lost or a stop, gives the same.
func (f *Folder) Finish(ctx context.Context, id string) (name string, err error) {
	if !f.parts.take(id) {
		return "", ErrInUse
	}
	defer f.parts.give(id)
	at, size, _, err := f.Part(id)
	if err != nil {
		return "", err
	}
	if at != size {
		return "", notWhole(at, size)
	}
	a, err := f.find(id)
	if err != nil {
		return "", err
	}
	file, err := f.root.OpenFile(partName(id), os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) && a.Kept != "" {
		f.wantedAgain(a.Kept)
		return a.Kept, nil
	}
	if err != nil {
		return "", said("the upload cannot be kept", err)
	}
	name, err = sumOf(ctx, file)
	if err != nil {
		file.Close()
		return "", fmt.Errorf("the upload cannot be read back: %w", err)
	}
	a.Kept = name
	if err := f.rewrite(id, a); err != nil {
		file.Close()
		return "", err
	}
	return name, f.settle(file, partName(id), name)
}

// rewrite puts what is known of a part in the place of what was.
func (f *Folder) rewrite(id string, a about) error {
	b, err := json.Marshal(a)
	if err != nil {
		return err
	}
	fresh := aboutName(id) + ".new"
	file, err := f.root.OpenFile(fresh, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return said("the upload cannot be kept", err)
	}
	_, err = f.wrap(file).Write(b)
	if err = errors.Join(err, file.Sync(), file.Close()); err == nil {
		err = f.root.Rename(fresh, aboutName(id))
	}
	if err != nil {
		f.root.Remove(fresh)
		return said("the upload cannot be kept", err)
	}
	return f.syncDir(partsDir)
}

// Abandon forgets a file that arrived in part.
func (f *Folder) Abandon(id string) error {
	if !f.parts.take(id) {
		return ErrInUse
	}
	defer f.parts.give(id)
	if _, err := f.find(id); err != nil {
		return err
	}
	return errors.Join(ignoreGone(f.root.Remove(partName(id))), ignoreGone(f.root.Remove(aboutName(id))))
}
