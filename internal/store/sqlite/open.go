package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	engine "modernc.org/sqlite"
	code "modernc.org/sqlite/lib"

	"gaitwright/internal/store"
)

// Store keeps records in one file. Open makes one; it is a store.Store.
type Store struct {
	path  string
	file  os.FileInfo // that was opened
	now   func() time.Time
	ids   *store.IDs
	wait  time.Duration
	write *sql.DB // one connection
	read  *sql.DB // several, which cannot write
	turn  chan struct{}
}

var _ store.Store = (*Store)(nil)

// Option changes how a store is opened.
type Option func(*Store)

// How long the store waits for another program, and how many read at once.
const (
	busyWait   = 5 * time.Second
	maxReaders = 4
)

// Open opens the records in a file, which is made, with its folder, where it is
// not there. Records of an earlier version are brought up to this one. Errors:
// store.ErrNewer, store.ErrBusy where another program keeps the file to itself,
// store.ErrFull, store.ErrDamaged, or what the system says.
func Open(path string, options ...Option) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: abs, now: time.Now, wait: busyWait, turn: make(chan struct{}, 1)}
	for _, o := range options {
		o(s)
	}
	s.ids = store.NewIDs(s.now)
	if i, err := os.Stat(abs); err == nil && i.IsDir() {
		return nil, fmt.Errorf("%s is a folder; name a file for the records", abs)
	}
	if err := os.MkdirAll(filepath.Dir(abs), 0o700); err != nil {
		if store.NoRoom(err) {
			return nil, fmt.Errorf("%w (%w)", store.ErrFull, err)
		}
		return nil, fmt.Errorf("the folder for the records cannot be made: %w", err)
	}
	// A new file is for its owner alone, and with it the engine's files beside it, which
	// take its permissions. Why it cannot be made the engine says better.
	if f, err := os.OpenFile(abs, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600); err == nil {
		f.Close()
	}
	if err := s.open(); err != nil {
		s.Close()
		return nil, s.said(err)
	}
	return s, nil
}

func (s *Store) open() error {
	ctx := context.Background()
	var err error
	if s.write, err = s.pool(1, "&_txlock=immediate"); err != nil {
		return err
	}
	p, err := migrator(s.write)
	if err != nil {
		return err
	}
	sources := p.ListSources()
	latest := sources[len(sources)-1].Version
	// Two programs that start at once may both want to migrate. Each step is a
	// transaction, so that the slower one fails and then sees the work done.
	for try := 0; ; try++ {
		version, err := examine(ctx, s.write, latest)
		if err != nil {
			return err
		}
		if version == latest {
			break
		}
		if err = s.prepare(ctx); err == nil {
			_, err = p.Up(ctx)
		}
		if err != nil && (try == 3 || !isRace(err) && !isBusy(err)) {
			return err
		}
	}
	if err := s.prepare(ctx); err != nil {
		return err
	}
	if s.file, err = os.Stat(s.path); err != nil {
		return err
	}
	s.read, err = s.pool(maxReaders, "&_pragma=query_only(1)")
	return err
}

// prepare sets the way of writing, which the file remembers. Of two programs that ask
// for it in the same moment the engine refuses one at once, lest each wait for the
// other; that one asks again.
func (s *Store) prepare(ctx context.Context) error {
	for begun := time.Now(); ; {
		err := s.setLog(ctx)
		if !isBusy(err) || time.Since(begun) >= s.wait {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
}

func (s *Store) setLog(ctx context.Context) error {
	var mode string
	if err := s.write.QueryRowContext(ctx, `PRAGMA journal_mode = WAL`).Scan(&mode); err != nil {
		return err
	}
	if mode != "wal" {
		return fmt.Errorf("the disk of %s cannot keep records safely (%s); keep them on a disk of this machine", s.path, mode)
	}
	return nil
}

// isBusy tells whether another program has the file to itself just now.
func isBusy(err error) bool {
	var fault *engine.Error
	return errors.As(err, &fault) && fault.Code()&0xff == code.SQLITE_BUSY
}

// isRace tells whether a migration may have failed because another program made
// the same step.
func isRace(err error) bool {
	var fault *engine.Error
	return errors.As(err, &fault) && (strings.Contains(err.Error(), "already exists") || strings.Contains(err.Error(), "UNIQUE") || strings.Contains(err.Error(), "duplicate column"))
}

// pool opens up to n connections.
func (s *Store) pool(n int, more string) (*sql.DB, error) {
	p := filepath.ToSlash(s.path)
	if !strings.HasPrefix(p, "/") {
		p = "/" + p // C:/…
	}
	dsn := (&url.URL{Scheme: "file", Path: p}).String() + fmt.Sprintf("?_defensive=1&_dqs=0&_error_rc=1&_busy_timeout=%d", s.wait.Milliseconds()) +
		"&_pragma=foreign_keys(1)&_pragma=synchronous(FULL)&_pragma=cache_size(-2000)&_pragma=temp_store(MEMORY)" +
		"&_pragma=journal_size_limit(16777216)&_pragma=trusted_schema(0)" + more
	c, err := engine.NewConnector(dsn)
	if err != nil {
		return nil, err
	}
	db := sql.OpenDB(c)
	db.SetMaxOpenConns(n)
	if n > 1 {
		db.SetMaxIdleConns(2)
		db.SetConnMaxIdleTime(time.Minute)
	}
	return db, nil
}

// Close ends the use of the file. The log is folded into it.
func (s *Store) Close() error {
	var errs []error
	for _, db := range []*sql.DB{s.read, s.write} {
		if db != nil {
			errs = append(errs, db.Close())
		}
	}
	return s.said(errors.Join(errs...))
}

// Read gives fn one moment's records.
func (s *Store) Read(ctx context.Context, fn func(store.Reader) error) error {
	return s.said(s.see(ctx, func(r *reader) error { return fn(r) }))
}

func (s *Store) see(ctx context.Context, fn func(*reader) error) error {
	tx, err := s.read.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return fn(&reader{ctx: ctx, tx: tx})
}

// alter runs fn in the one transaction that writes.
func (s *Store) alter(ctx context.Context, fn func(*writer) error) (err error) {
	select {
	case s.turn <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.turn }()
	if err := s.inPlace(); err != nil {
		return err
	}
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	w := &writer{reader: reader{ctx: ctx, tx: tx}, s: s, now: s.now().UTC().Truncate(time.Microsecond), runners: map[string]bool{}, texts: map[string]bool{}, written: map[string]bool{}}
	done := false
	defer func() {
		if !done { // also where fn panics
			tx.Rollback()
			// A commit that failed may leave the transaction open.
			s.write.ExecContext(context.WithoutCancel(ctx), `ROLLBACK`)
			w.restore()
		}
	}()
	if err := fn(w); err != nil {
		return err
	}
	if err := w.derive(); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	done = true
	return nil
}

// inPlace tells whether the file that is open is still the one at its path. Where it was
// removed, or another put there as by a program that keeps folders alike, the engine
// would go on writing into what nobody finds again.
func (s *Store) inPlace() error {
	now, err := os.Stat(s.path)
	if err == nil && os.SameFile(s.file, now) {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil // the engine says better why it cannot be reached
	}
	return fmt.Errorf("%w: %s; nothing was changed", store.ErrGone, s.path)
}
