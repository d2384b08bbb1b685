package app

import (
	"compress/gzip"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"sync"
	"time"

	"github.com/adrg/xdg"
)

// Studio is where the results of one studio are kept: a folder with one folder
// a result. All of it stays on this machine.
type Studio struct {
	dir       string
	now       func() time.Time
	mu        sync.Mutex
	cache     map[string]*Session // the last few opened, by id
	order     []string
	film      map[string]*frameStore // pictures kept ready, by id and clip
	filmOrder []string
	reports   reportCache
}

// DefaultResultsDir is the folder for results where none is named: in the
// user's data folder as the desktop standard of each system says.
func DefaultResultsDir() string { return filepath.Join(xdg.DataHome, "gaitwright", "results") }

// OpenStudio opens the folder of results, or the default one for an empty dir.
// The folder is made on the first save.
func OpenStudio(dir string) (*Studio, error) {
	if dir == "" {
		dir = DefaultResultsDir()
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if i, err := os.Stat(dir); err == nil && !i.IsDir() {
		return nil, problem(KindUsage, dir, "Name a folder with --results.", "is a file, not a folder for results")
	}
	return &Studio{dir: dir, now: time.Now, cache: map[string]*Session{}, film: map[string]*frameStore{}}, nil
}

// Dir returns the folder of results.
func (st *Studio) Dir() string { return st.dir }

// SetClock replaces the clock, for tests.
func (st *Studio) SetClock(now func() time.Time) { st.now = now }

// summary reads a result's line in the list from its small summary file, which
// Save writes beside the session.
func (st *Studio) summary(id string) (PageSummary, error) {
	var p PageSummary
	b, err := os.ReadFile(filepath.Join(st.dir, id, summaryFile))
	if err != nil {
		return p, err
	}
	err = json.Unmarshal(b, &p)
	p.ID = id
	return p, err
}

// The files of a kept result. The session file is the record; the others are
// made from it.
const (
	sessionFile = "session.gob.gz"
	summaryFile = "summary.json"
)

// sessionFormat is the version of what is kept on disk. A folder of a later
// version is left alone and said to be so.
const sessionFormat = 1

type storedSession struct {
	Format  int
	Session *Session
}

var idPattern = regexp.MustCompile(`^[0-9]{8}-[0-9]{6}(-[0-9]+)?$`)

// Save keeps a session under a new id (its time of creation) and sets s.ID.
func (st *Studio) Save(s *Session) error {
	if err := os.MkdirAll(st.dir, 0o755); err != nil {
		return &Problem{Kind: KindUnexpected, File: st.dir, What: "the folder for results cannot be made: " + err.Error(), Mend: "Name another with --results, or go without with --no-keep.", Err: err}
	}
	base := s.Created.Format("20060102-150405")
	for n := 1; ; n++ {
		id := base
		if n > 1 {
			id = fmt.Sprintf("%s-%d", base, n)
		}
		err := os.Mkdir(filepath.Join(st.dir, id), 0o755)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return &Problem{Kind: KindUnexpected, File: st.dir, What: "the result cannot be kept: " + err.Error(), Mend: "Name another folder with --results, or go without with --no-keep.", Err: err}
		}
		s.ID = id
		break
	}
	dir := filepath.Join(st.dir, s.ID)
	err := WriteFileWhole(filepath.Join(dir, sessionFile), func(w io.Writer) error {
		z, _ := gzip.NewWriterLevel(w, gzip.BestSpeed)
		if err := gob.NewEncoder(z).Encode(storedSession{Format: sessionFormat, Session: s}); err != nil {
			return err
		}
		return z.Close()
	})
	if err == nil {
		err = WriteFileWhole(filepath.Join(dir, summaryFile), func(w io.Writer) error { return json.NewEncoder(w).Encode(s.summary()) })
	}
	if err != nil {
		os.RemoveAll(dir)
		s.ID = ""
		return err
	}
	return nil
}

// maxCached is how many opened sessions are held in memory.
const maxCached = 4

// Load opens a kept session.
func (st *Studio) Load(id string) (*Session, error) {
	if !idPattern.MatchString(id) {
		return nil, problem(KindUsage, "", "The list of results shows their names.", "%q is not the name of a result", id)
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	if s, ok := st.cache[id]; ok {
		return s, nil
	}
	s, err := st.read(id)
	if err != nil {
		return nil, err
	}
	st.cache[id] = s
	st.order = append(st.order, id)
	if len(st.order) > maxCached {
		delete(st.cache, st.order[0])
		st.order = st.order[1:]
	}
	return s, nil
}

func (st *Studio) read(id string) (*Session, error) {
	path := filepath.Join(st.dir, id, sessionFile)
	f, err := os.Open(path)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, problem(KindUsage, "", "The list of results shows what there is.", "there is no result %s in %s", id, st.dir)
		}
		return nil, err
	}
	defer f.Close()
	damaged := func(err error) error {
		return &Problem{Kind: KindUnexpected, File: path, What: "the kept result cannot be read: " + err.Error(), Mend: "Measure the clip again; the clip itself was never changed.", Err: err}
	}
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, damaged(err)
	}
	var stored storedSession
	if err := gob.NewDecoder(z).Decode(&stored); err != nil {
		return nil, damaged(err)
	}
	if stored.Format != sessionFormat || stored.Session == nil {
		return nil, problem(KindUnexpected, path, "Open it with the program that wrote it, or measure the clip again.", "was kept in format %d, and this program reads format %d", stored.Format, sessionFormat)
	}
	stored.Session.ID = id
	return stored.Session, nil
}

// IDs lists the kept results, newest first.
func (st *Studio) IDs() ([]string, error) {
	entries, err := os.ReadDir(st.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var ids []string
	for _, e := range entries {
		if e.IsDir() && idPattern.MatchString(e.Name()) {
			if _, err := os.Stat(filepath.Join(st.dir, e.Name(), sessionFile)); err == nil {
				ids = append(ids, e.Name())
			}
		}
	}
	slices.Sort(ids)
	slices.Reverse(ids)
	return ids, nil
}
