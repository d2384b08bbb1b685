package app

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/adrg/xdg"

	"gaitwright/internal/store"
)

// Studio is one studio's folder: its records, and beside them the films, tracks
// and measured sessions that they speak of. All of it stays on this machine. The
// records are opened when something is first asked of them.
type Studio struct {
	dir  string
	now  func() time.Time
	free func(dir string) (int64, error) // room on the disk

	opening   sync.Mutex
	beginning sync.Mutex  // of an upload
	trying    sync.Mutex  // the making of the invented runner
	drawing   filmOptions // of her films
	kept      *records    // nil until they are opened

	hub   hub
	queue queue

	mu           sync.Mutex
	cache        map[string]*Session // the last few opened, by id
	order        []string
	benches      []*bench
	film         map[string]*frameStore // pictures kept ready, by id and clip
	filmOrder    []string
	clipFilms    clipFilms
	reports      reportCache
	reportStills stillCache
	looks        looks
	together     together
	seen         map[string]seenResult // what results show, for comparing, by id
	lives        lives

	foundMu sync.Mutex
	found   map[string]*foundRun // of the watched folder, by path
	watches watches              // whose each watch is
}

// DefaultResultsDir is the studio's folder where none is named: in the user's
// data folder as the desktop standard of each system says.
func DefaultResultsDir() string { return filepath.Join(xdg.DataHome, "gaitwright", "results") }

// OpenStudio names the studio's folder, or the default one for an empty dir. The
// folder and the records in it are made when something is first kept or looked
// for.
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
	return &Studio{dir: dir, now: time.Now, free: freeBytes, cache: map[string]*Session{}, film: map[string]*frameStore{}, queue: newQueue(), drawing: demoFilm}, nil
}

// Dir returns the studio's folder.
func (st *Studio) Dir() string { return st.dir }

// SetClock replaces the clock, for tests.
func (st *Studio) SetClock(now func() time.Time) { st.now = now }

// SetDrawing replaces the size, the rate and the length of the invented runner's
// films, for tests.
func (st *Studio) SetDrawing(widthPX, heightPX int, rateHz, seconds float64) {
	st.drawing.WidthPX, st.drawing.HeightPX, st.drawing.RateHz, st.drawing.Seconds = widthPX, heightPX, rateHz, seconds
}

// Save keeps a session that was measured outside a visit and sets s.ID.
func (st *Studio) Save(s *Session) error {
	return st.saveResult(context.Background(), store.Deed{What: "Measured " + s.files()}, s, resultPlace{}, nil)
}

// files names the session's files for the list of deeds.
func (s *Session) files() string {
	names := make([]string, len(s.Clips))
	for i, c := range s.Clips {
		names[i] = c.name()
	}
	return strings.Join(names, ", ")
}

// resultPlace is where a result belongs; zero for one outside a visit.
type resultPlace struct {
	visit   string
	clipIDs []string
	rests   string
}

// saveResult keeps a session as one deed, with what more writes beside it.
func (st *Studio) saveResult(ctx context.Context, deed store.Deed, s *Session, at resultPlace, more func(w store.Writer, id string) error) error {
	r, err := st.records()
	if err != nil {
		return err
	}
	hash, err := putSession(ctx, r.files, s)
	if err != nil {
		return recordProblem(err, st.dir)
	}
	id, err := st.saveTold(ctx, r, deed, s.told(), hash, at, more)
	if err == nil {
		s.ID, s.VisitID = id, at.visit
	}
	return err
}

// saveTold is saveResult of a session whose file is kept already; it returns the
// result's ID.
func (st *Studio) saveTold(ctx context.Context, r *records, deed store.Deed, told *sessionTold, hash string, at resultPlace, more func(w store.Writer, id string) error) (string, error) {
	result, err := told.result(hash, at)
	if err != nil {
		return "", err
	}
	err = patiently(ctx, func() error {
		return r.Change(ctx, deed, func(w store.Writer) error {
			if err := w.PutResult(&result); err != nil {
				return err
			}
			if err := w.PutDigest(result.ID, told.Digest); err != nil || more == nil {
				return err
			}
			return more(w, result.ID)
		})
	})
	if err != nil {
		return "", recordProblem(err, filepath.Join(st.dir, recordsFile))
	}
	st.tell("result", PageTouched{ID: result.ID, VisitID: at.visit})
	return result.ID, nil
}

// newResult keeps the session's file and returns the record that names it.
func (st *Studio) newResult(ctx context.Context, r *records, s *Session, at resultPlace) (store.Result, error) {
	hash, err := putSession(ctx, r.files, s)
	if err != nil {
		return store.Result{}, recordProblem(err, st.dir)
	}
	return s.told().result(hash, at)
}

// sessionTold is what the records tell of a session beside its file.
type sessionTold struct {
	Runner string
	Files  string // their names in words
	Line   resultLine
	Digest json.RawMessage
	Clips  []clipTold
}

// clipTold is a measured clip: its ID, empty for none, and which of its file's frames
// were measured.
type clipTold struct {
	ID            string
	Film          bool
	First, Frames int
}

func (s *Session) told() *sessionTold {
	t := &sessionTold{Runner: s.Runner.Name, Files: s.files(), Line: resultLine{PageSummary: s.summary()}, Digest: digestOf(s)}
	t.Line.ID = ""
	for _, c := range s.Clips {
		t.Line.Model = cmp.Or(t.Line.Model, c.Model)
		one := clipTold{ID: c.ID, Film: c.IsVideo(), First: c.FirstFrame}
		if c.Mended != nil {
			one.Frames = c.Mended.Frames()
		}
		t.Clips = append(t.Clips, one)
	}
	return t
}

// clipIDs are the IDs of the visit's clips; empty outside a visit.
func (t *sessionTold) clipIDs() []string {
	ids := []string{}
	for _, c := range t.Clips {
		if c.ID != "" {
			ids = append(ids, c.ID)
		}
	}
	return ids
}

// result is the record of a session whose file has the hash.
func (t *sessionTold) result(hash string, at resultPlace) (store.Result, error) {
	line := t.Line
	line.Rests = at.rests
	summary, err := json.Marshal(line)
	if err != nil {
		return store.Result{}, err
	}
	return store.Result{VisitID: at.visit, ClipIDs: at.clipIDs, Runner: t.Runner, Hash: hash, Summary: summary}, nil
}

// maxCached is how many opened sessions are held in memory.
const maxCached = 4

// loadKept opens a result as it was measured.
func (st *Studio) loadKept(id string) (*Session, error) {
	if !store.ValidID(id) && !folderPattern.MatchString(id) {
		return nil, problem(KindUsage, "", "The list of results shows their names.", "%q is not the name of a result", clean(id, 60))
	}
	kept, err := st.records()
	if err != nil {
		return nil, err
	}
	var result store.Result
	err = kept.Read(context.Background(), func(r store.Reader) error {
		if folderPattern.MatchString(id) { // the name it had before it was taken in
			now, err := r.Setting(takenIn + id)
			if err != nil {
				return err
			}
			id = now
		}
		var err error
		result, err = r.Result(id)
		return err
	})
	if errors.Is(err, store.ErrNotFound) {
		return nil, &Problem{Kind: KindUsage, What: "there is no result " + id + " in " + st.dir, Mend: "The list of results shows what there is.", Err: err}
	}
	if err != nil {
		return nil, recordProblem(err, "")
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	if s, ok := st.cache[id]; ok {
		return s, nil
	}
	s, err := getSession(kept.files, result.Hash)
	if err != nil {
		return nil, err
	}
	s.ID, s.VisitID = id, result.VisitID
	for _, c := range s.Clips {
		if c.Hash != "" { // the studio's folder may have moved
			if path, err := kept.files.Path(c.Hash); err == nil {
				c.Path = path
			}
		}
	}
	st.cache[id] = s
	st.order = append(st.order, id)
	if len(st.order) > maxCached {
		delete(st.cache, st.order[0])
		st.order = slices.Delete(st.order, 0, 1)
	}
	return s, nil
}

// mostListed bounds the list of results.
const mostListed = 2000

// Rest gives up what is large and held ready to be worked on: opened results, what
// their corrections rest on, reports as drawn. All of it is made again from what is
// kept when it is next asked for. Pictures of films stay in their files.
func (st *Studio) Rest() {
	st.mu.Lock()
	st.cache, st.order, st.benches = map[string]*Session{}, nil, nil
	st.mu.Unlock()
	st.reports.drop()
	st.reportStills.drop()
}

// results reads the lines of the newest results, newest first.
func (st *Studio) results() ([]PageSummary, error) {
	out := []PageSummary{}
	err := st.readRecords(context.Background(), func(r store.Reader) error {
		list, err := r.Results(mostListed)
		if err != nil {
			return err
		}
		for _, one := range list {
			line, err := parseLine(one)
			if err != nil {
				return err
			}
			line.VisitID = one.VisitID
			out = append(out, line.PageSummary)
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b PageSummary) int { return cmp.Compare(b.Created, a.Created) })
	return out, err
}

// IDs lists the results, newest first.
func (st *Studio) IDs() ([]string, error) {
	list, err := st.results()
	ids := make([]string, len(list))
	for i, p := range list {
		ids[i] = p.ID
	}
	return ids, err
}

// Close ends the work in the background, drops the pictures kept ready and closes
// the records.
func (st *Studio) Close() {
	st.queue.stop()
	st.endLives()
	st.dropFilms()
	st.closeRecords()
}
