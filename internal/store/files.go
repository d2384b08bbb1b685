package store

import (
	"context"
	"errors"
	"io"
	"os"
)

// FileKeeper keeps files by the SHA-256 of their content (64 hexadecimal
// digits). Folder is the one that lives beside the records.
type FileKeeper interface {
	// Put keeps what r gives, at most limit bytes (0: no limit), and returns its
	// hash. A file that is already kept is not written again. After a nil error
	// the content is on the disk; otherwise nothing is left.
	Put(ctx context.Context, r io.Reader, limit int64) (hash string, bytes int64, err error)
	// Open opens a kept file; ErrNotFound where there is none.
	Open(hash string) (*os.File, error)
	// Path is where the file lies, for programs that need a name.
	Path(hash string) (string, error)
	// Sweep removes the files that keep does not name and that are older than a
	// day, and returns how many bytes that freed.
	Sweep(keep map[string]bool) (int64, error)

	// Remove removes a kept file at once; one that is not kept is no error.
	Remove(hash string) error

	// Arriving lists the files that arrive in parts, and those that have arrived and
	// were not forgotten yet.
	Arriving() ([]string, error)
	// Begin starts a file that arrives in parts; it survives a restart. Meta is
	// kept with it.
	Begin(meta []byte, size int64) (id string, err error)
	// Promised is how many bytes are still to arrive of all files that were begun.
	Promised() (int64, error)
	// Part tells how many bytes have arrived, of how many, and the meta, which is given
	// also where what had arrived is lost.
	Part(id string) (offset, size int64, meta []byte, err error)
	// Append adds what r gives at offset, which must be where the file ends;
	// *OffsetError otherwise, and ErrTooMuch where more comes than was said. It returns
	// the new end, also with an error.
	Append(ctx context.Context, id string, offset int64, r io.Reader) (end int64, err error)
	// Arrived is where a file lies of which every byte has arrived, finished or not.
	Arrived(id string) (path string, err error)
	// Finish keeps a file of which every byte has arrived under its hash. Finishing it
	// again gives the same hash, until it is forgotten.
	Finish(ctx context.Context, id string) (hash string, err error)
	// Abandon forgets a file that arrived, whole or in part; what was kept of it stays.
	Abandon(id string) error
}

// ErrTooMuch means that more of a file arrives than was said.
var ErrTooMuch = errors.New("more arrives than was said")

// OffsetError says that a part does not begin where the file ends.
type OffsetError struct{ Want, Got int64 }

// Error says it in one sentence.
func (e *OffsetError) Error() string {
	return "the part does not begin where the file ends; ask how much has arrived and go on from there"
}
