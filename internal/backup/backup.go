package backup

import (
	"archive/tar"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"path"
	"time"

	"filippo.io/age"
)

// Form is the version of the archive within the file.
const Form = 1

// About says what a file is. Entries and Bytes are what was meant to go in.
type About struct {
	Form    int       `json:"form"`
	Program string    `json:"program"`
	Studio  string    `json:"studio,omitempty"`
	Made    time.Time `json:"made"`
	Entries int       `json:"entries"`
	Bytes   int64     `json:"bytes"`
}

// Entry is one file to go in. Bytes is its length, which Open's reader must have.
type Entry struct {
	Name  string // with slashes, no "..", as fs.ValidPath
	Bytes int64
	Open  func() (io.ReadCloser, error)
}

// Sum is what was written of one entry.
type Sum struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Names of the two entries that are this package's own.
const (
	aboutName = "about.json"
	sumsName  = "sums.json"
)

// Bounds of what is read whole.
const (
	maxAbout = 1 << 20
	maxSums  = 256 << 20
)

// WorkFactor is the scrypt cost, 2^18 (N = 262144, r = 8): what age writes by
// itself for a passphrase. Tests lower it, and they alone.
var WorkFactor = 18

// maxWorkFactor is the highest cost accepted in a file, against one made to keep
// the machine busy: 2^20 takes 1 GB of memory (128 · r · N bytes, RFC 7914).
const maxWorkFactor = 20

// Errors, to be tested with errors.Is.
var (
	// ErrPassphrase means that the passphrase is not the one it was made with.
	ErrPassphrase = errors.New("the passphrase is not the one this backup was made with")
	// ErrNotBackup means that the file is none of this program's.
	ErrNotBackup = errors.New("this is no backup of this program")
	// ErrDamaged means that the file was cut short or altered.
	ErrDamaged = errors.New("the backup is damaged or was cut short")
	// ErrNewer means that a later version of the program made it.
	ErrNewer = errors.New("the backup was made by a later version of the program")
)

// Write writes a backup. The entries' names must differ. After an error what was
// written is of no use. moved, which may be nil, hears of the bytes read so far.
func Write(ctx context.Context, w io.Writer, passphrase string, about About, entries []Entry, moved func(int64)) error {
	to, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return err
	}
	to.SetWorkFactor(WorkFactor)
	sealed, err := age.Encrypt(w, to)
	if err != nil {
		return err
	}
	a := tar.NewWriter(sealed)
	about.Form, about.Entries, about.Bytes = Form, len(entries), 0
	seen := map[string]bool{aboutName: true, sumsName: true}
	for _, e := range entries {
		if !fs.ValidPath(e.Name) || e.Name == "." || seen[e.Name] {
			return fmt.Errorf("backup: %q cannot be the name of an entry", e.Name)
		}
		seen[e.Name] = true
		about.Bytes += e.Bytes
	}
	put := func(name string, v any) error {
		b, err := json.MarshalIndent(v, "", "\t")
		if err != nil {
			return err
		}
		if err := a.WriteHeader(header(name, int64(len(b)), about.Made)); err != nil {
			return err
		}
		_, err = a.Write(b)
		return err
	}
	if err := put(aboutName, about); err != nil {
		return err
	}
	sums := []Sum{}
	var done int64
	for _, e := range entries {
		s, err := writeEntry(ctx, a, e, about.Made, func(n int64) {
			if moved != nil {
				moved(done + n)
			}
		})
		if err != nil {
			return fmt.Errorf("%s: %w", e.Name, err)
		}
		done += e.Bytes
		sums = append(sums, s)
	}
	if err := put(sumsName, sums); err != nil {
		return err
	}
	return errors.Join(a.Close(), sealed.Close())
}

func header(name string, bytes int64, at time.Time) *tar.Header {
	return &tar.Header{Typeflag: tar.TypeReg, Name: name, Size: bytes, Mode: 0o600, ModTime: at.Truncate(time.Second), Format: tar.FormatPAX}
}

func writeEntry(ctx context.Context, a *tar.Writer, e Entry, at time.Time, moved func(int64)) (Sum, error) {
	r, err := e.Open()
	if err != nil {
		return Sum{}, err
	}
	defer r.Close()
	if err := a.WriteHeader(header(e.Name, e.Bytes, at)); err != nil {
		return Sum{}, err
	}
	sum := sha256.New()
	n, err := io.Copy(io.MultiWriter(a, sum), &counted{ctx: ctx, r: io.LimitReader(r, e.Bytes), moved: moved})
	if err == nil && n != e.Bytes {
		err = fmt.Errorf("had %d bytes, %d were said; it changed while it was read", n, e.Bytes)
	}
	return Sum{Name: e.Name, Bytes: n, SHA256: hex.EncodeToString(sum.Sum(nil))}, err
}

// counted reads until the context ends and tells how far it is.
type counted struct {
	ctx   context.Context
	r     io.Reader
	n     int64
	moved func(int64)
}

func (c *counted) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := c.r.Read(p)
	c.n += int64(n)
	if c.moved != nil && n > 0 {
		c.moved(c.n)
	}
	return n, err
}

// Read reads a backup to its end and gives take each entry; what take leaves of an
// entry is read over, and its name is as fs.ValidPath. Only after a nil error may
// what was taken be trusted: it is all there, and what was written. open, which may
// be nil, hears what the file says of itself before the first entry and may refuse
// it.
func Read(ctx context.Context, r io.Reader, passphrase string, open func(About) error, take func(name string, bytes int64, r io.Reader) error) (About, error) {
	var about About
	id, err := age.NewScryptIdentity(passphrase)
	if err != nil {
		return about, fmt.Errorf("%w: it is empty", ErrPassphrase)
	}
	id.SetMaxWorkFactor(maxWorkFactor)
	plain, err := age.Decrypt(&counted{ctx: ctx, r: r}, id)
	var noMatch *age.NoIdentityMatchError
	switch {
	case ctx.Err() != nil:
		return about, ctx.Err()
	case errors.As(err, &noMatch):
		return about, ErrPassphrase
	case err != nil:
		return about, fmt.Errorf("%w (%w)", ErrNotBackup, err)
	}
	t := tar.NewReader(plain)
	next := func() (*tar.Header, error) {
		h, err := t.Next()
		switch {
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case err != nil:
			return nil, fmt.Errorf("%w (%w)", ErrDamaged, noEnd(err))
		case h.Typeflag != tar.TypeReg || !fs.ValidPath(h.Name) || path.Clean(h.Name) == "." || h.Size < 0:
			return nil, fmt.Errorf("%w: an entry that is no file, %.80q", ErrDamaged, h.Name)
		}
		return h, nil
	}
	h, err := next()
	if err != nil {
		return about, err
	}
	if h.Name != aboutName {
		return about, fmt.Errorf("%w: it begins with %.80q", ErrNotBackup, h.Name)
	}
	if err := whole(t, h, maxAbout, &about); err != nil {
		return about, err
	}
	switch {
	case about.Form > Form:
		return about, ErrNewer
	case about.Form < 1 || about.Entries < 0:
		return about, ErrNotBackup
	}
	if open != nil {
		if err := open(about); err != nil {
			return about, err
		}
	}
	var got []Sum
	for {
		h, err := next()
		if err != nil {
			return about, err
		}
		if h.Name == sumsName {
			break
		}
		sum := &summed{r: t, sum: sha256.New()}
		if err := take(h.Name, h.Size, sum); err != nil {
			if ctx.Err() == nil && sum.err != nil {
				err = fmt.Errorf("%w (%w)", ErrDamaged, sum.err)
			}
			return about, err
		}
		if _, err := io.Copy(io.Discard, sum); err != nil {
			return about, errors.Join(ctx.Err(), fmt.Errorf("%w (%w)", ErrDamaged, err))
		}
		got = append(got, Sum{Name: h.Name, Bytes: sum.n, SHA256: hex.EncodeToString(sum.sum.Sum(nil))})
	}
	var said []Sum
	if err := whole(t, &tar.Header{Size: maxSums}, maxSums, &said); err != nil {
		return about, err
	}
	if len(said) != len(got) || len(got) != about.Entries {
		return about, fmt.Errorf("%w: %d entries, %d were written", ErrDamaged, len(got), about.Entries)
	}
	for i := range said {
		if said[i] != got[i] {
			return about, fmt.Errorf("%w: %s is not as it was written", ErrDamaged, got[i].Name)
		}
	}
	// The end of the archive and of the encryption must be there.
	if _, err := t.Next(); err != io.EOF {
		return about, fmt.Errorf("%w: there is more after its end", ErrDamaged)
	}
	if _, err := io.Copy(io.Discard, plain); err != nil {
		return about, errors.Join(ctx.Err(), fmt.Errorf("%w (%w)", ErrDamaged, err))
	}
	return about, nil
}

// noEnd says of an end that comes too early that it does.
func noEnd(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

func whole(r io.Reader, h *tar.Header, most int64, v any) error {
	if h.Size > most {
		return fmt.Errorf("%w: %d bytes where at most %d belong", ErrDamaged, h.Size, most)
	}
	b, err := io.ReadAll(io.LimitReader(r, most))
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrDamaged, err)
	}
	if err := json.Unmarshal(b, v); err != nil {
		return fmt.Errorf("%w (%w)", ErrDamaged, err)
	}
	return nil
}

// summed sums what is read, and remembers whether it was the reading that failed.
type summed struct {
	r   io.Reader
	sum hash.Hash
	n   int64
	err error
}

func (s *summed) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	s.sum.Write(p[:n])
	s.n += int64(n)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}
