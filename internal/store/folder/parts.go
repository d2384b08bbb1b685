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
	"sync"

	"gaitwright/internal/store"
)

// maxMeta bounds what is kept with a part.
const maxMeta = 64 << 10

// about is what is known of a file that arrives in parts.
type about struct {
	Size int64  `json:"size"`
	Meta []byte `json:"meta"`
}

func partName(id string) string  { return path.Join(partsDir, id) }
func aboutName(id string) string { return partName(id) + ".about" }

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

// Arriving lists the files that arrive in parts, oldest first.
func (f *Folder) Arriving() ([]string, error) {
	list, err := fs.ReadDir(f.root.FS(), partsDir)
	var ids []string
	for _, e := range list {
		if store.ValidID(e.Name()) {
			ids = append(ids, e.Name())
		}
	}
	return ids, err
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
	if err := json.Unmarshal(b, &a); err != nil || a.Size < 0 {
		return a, fmt.Errorf("%w: what was known of the upload is lost; begin it anew", store.ErrNotFound)
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
	if errors.Is(err, fs.ErrNotExist) {
		return 0, 0, nil, fmt.Errorf("%w: what had arrived of the upload is lost; begin it anew", store.ErrNotFound)
	}
	if err != nil {
		return 0, 0, nil, err
	}
	return i.Size(), a.Size, a.Meta, nil
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
		// There must be no more than was said.
		if k, _ := in.Read(make([]byte, 1)); k > 0 {
			err = fmt.Errorf("more arrives than the %d bytes that were said; begin the upload anew", size)
		}
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

// Finish keeps a file of which every byte has arrived.
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
		return "", fmt.Errorf("%d of %d bytes have arrived; send the rest first", at, size)
	}
	file, err := f.root.OpenFile(partName(id), os.O_RDWR, 0)
	if err != nil {
		return "", said("the upload cannot be kept", err)
	}
	name, err = sumOf(ctx, file)
	if err != nil {
		file.Close()
		return "", fmt.Errorf("the upload cannot be read back: %w", err)
	}
	if err := f.settle(file, partName(id), name); err != nil {
		return "", err
	}
	// Left behind it would only say that the part is lost.
	f.root.Remove(aboutName(id))
	return name, nil
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
