package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"gaitwright/internal/store"
)

// PageErase is what would be erased with a runner, to be looked at before.
type PageErase struct {
	Name    string `json:"name"`
	Visits  int    `json:"visits"`
	Films   int    `json:"films"`
	Results int    `json:"results"`
	Bytes   int64  `json:"bytes"` // of films and other files
	// Loose are results measured outside a visit under this very name; they go too,
	// unless another runner has that name.
	Loose  int    `json:"loose"`
	Shared bool   `json:"shared"` // another runner has that name
	Text   string `json:"text"`   // what will happen, in words
}

// PageErased is what was erased, and the search for what might be left.
type PageErased struct {
	Records       int      `json:"records"`
	Files         int      `json:"files"`
	Bytes         int64    `json:"bytes"`
	SearchedFiles int      `json:"searched_files"`
	SearchedBytes int64    `json:"searched_bytes"`
	Left          []string `json:"left"` // files in which something was still found
	Text          string   `json:"text"`
}

// eraseable is what belongs to a runner.
type eraseable struct {
	runner store.Runner
	visits []store.Visit
	clips  []store.Clip
	// loose are results outside a visit under the runner's name.
	loose   []string
	results int
	shared  bool
	bytes   int64
}

func (st *Studio) eraseable(ctx context.Context, id string) (eraseable, error) {
	var e eraseable
	kept, err := st.records()
	if err != nil {
		return e, err
	}
	err = kept.Read(ctx, func(r store.Reader) error {
		var err error
		if e.runner, err = r.Runner(id); err != nil {
			return missingRecord(err, "runner")
		}
		if e.visits, err = r.VisitsOf(id); err != nil {
			return err
		}
		for _, v := range e.visits {
			clips, err := r.ClipsOf(v.ID)
			if err != nil {
				return err
			}
			e.clips = append(e.clips, clips...)
			results, err := r.ResultsOf(v.ID)
			if err != nil {
				return err
			}
			e.results += len(results)
		}
		rows, err := r.Runners(store.Query{Text: e.runner.Name, Limit: 1000})
		if err != nil {
			return err
		}
		e.shared = slices.ContainsFunc(rows, func(o store.RunnerRow) bool { return o.ID != id && sameName(o.Name, e.runner.Name) })
		results, err := r.Results(0)
		if err != nil {
			return err
		}
		for _, one := range results {
			if one.VisitID == "" && sameName(one.Runner, e.runner.Name) {
				e.loose = append(e.loose, one.ID)
			}
		}
		return nil
	})
	if err != nil {
		return e, recordProblem(err, "")
	}
	for _, c := range e.clips {
		e.bytes += c.Bytes
	}
	return e, nil
}

func sameName(a, b string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(a), " "), strings.Join(strings.Fields(b), " "))
}

// BackupsStay says what erasing cannot reach.
const BackupsStay = "Backups made before, films still on a camera or a phone, and handouts given away are not reached: delete those yourself, then make a new backup."

// ErasePreview tells what would be erased with a runner.
func (st *Studio) ErasePreview(ctx context.Context, id string) (PageErase, error) {
	e, err := st.eraseable(ctx, id)
	if err != nil {
		return PageErase{}, err
	}
	p := PageErase{Name: e.runner.Name, Visits: len(e.visits), Results: e.results, Bytes: e.bytes, Loose: len(e.loose), Shared: e.shared}
	for _, c := range e.clips {
		if c.Kind == "film" {
			p.Films++
		}
	}
	p.Text = fmt.Sprintf("%s goes for good with %s, %s and %s: films, landmarks, pictures, exam, findings, plans, and every line of the list of deeds. It cannot be undone.",
		e.runner.Name, plural(p.Visits, "visit", "visits"), plural(p.Films, "film", "films"), plural(p.Results, "result", "results"))
	switch {
	case p.Loose > 0 && p.Shared:
		p.Text += fmt.Sprintf(" %s measured outside a visit under this name stay, because another runner has the same name; remove them by hand.", capital(plural(p.Loose, "result", "results")))
	case p.Loose > 0:
		p.Text += fmt.Sprintf(" %s measured outside a visit under this name go too.", capital(plural(p.Loose, "result", "results")))
	}
	p.Text += " " + BackupsStay
	return p, nil
}

// eraseWait is how long work on a runner's films may take to end once it was told.
const eraseWait = 20 * time.Second

// EraseRunner removes a runner for good: records, films, tracks, measured sessions,
// films made to be taken away, what is arriving, and what the journal says. name
// must be the runner's, against a slip. Then the studio's folder is searched for
// what might be left.
func (st *Studio) EraseRunner(ctx context.Context, who, id, name string) (PageErased, error) {
	out := PageErased{Left: []string{}}
	e, err := st.eraseable(ctx, id)
	if err != nil {
		return out, err
	}
	if !sameName(name, e.runner.Name) {
		return out, &Problem{Kind: KindUsage, Field: "name", What: "the name does not match, so nothing was erased", Mend: "Type the name as it stands above."}
	}
	kept, err := st.records()
	if err != nil {
		return out, err
	}
	if err := st.endWorkOn(ctx, who, e.visits); err != nil {
		return out, err
	}
	loose := e.loose
	if e.shared {
		loose = nil
	}
	// Else the next start would take them in again.
	if err := st.dropFoldersOf(ctx, kept, loose); err != nil {
		return out, recordProblem(err, st.dir)
	}
	gone, err := kept.Erase(ctx, id, clean(who, maxWho), loose)
	if err != nil {
		return out, recordProblem(err, "")
	}
	out.Records = gone.Records
	traces := tracesOf(gone, e)
	// From here on nothing is told before all was tried: what fails is said at the end.
	faults := []error{st.dropErased(ctx, kept, gone, e.visits, traces, &out)}
	out.SearchedFiles, out.SearchedBytes, out.Left, err = traces.search(ctx, st.dir)
	st.tell("runner", PageTouched{ID: id, Who: who})
	if err := errors.Join(append(faults, err)...); err != nil {
		return out, &Problem{Kind: KindUnexpected, File: st.dir, What: "the records of this runner are erased, but not everything in the folder could be: " + err.Error(),
			Mend: "Close other programs that have it open and start this program again: what no record names any more is removed at the start.", Err: err}
	}
	out.Text = fmt.Sprintf("Erased: %s and %s (%s). Searched afterwards: %s, %s; ", plural(out.Records, "record", "records"), plural(out.Files, "file", "files"), megabytes(out.Bytes),
		plural(out.SearchedFiles, "file", "files"), megabytes(out.SearchedBytes))
	if len(out.Left) == 0 {
		out.Text += "nothing of this runner was found. " + BackupsStay
	} else {
		out.Text += "something of this runner is still in " + inWords(out.Left) + ". " + BackupsStay
	}
	return out, nil
}

// dropErased removes what lay beside the erased records.
func (st *Studio) dropErased(ctx context.Context, kept *records, gone store.Erased, visits []store.Visit, t *traces, out *PageErased) error {
	var faults []error
	for _, hash := range gone.Files {
		path, err := kept.files.Path(hash)
		if err != nil {
			continue // it was gone before
		}
		if i, err := os.Stat(path); err == nil {
			out.Files++
			out.Bytes += i.Size()
			t.sample(path, i.Size())
		}
		faults = append(faults, kept.files.Remove(hash))
	}
	faults = append(faults, st.dropStills(gone.Files), st.abandonUploads(kept, visits, gone), st.dropExportsOf(gone.IDs))
	st.dropKept()
	st.queue.forget(gone.IDs)
	return errors.Join(append(faults, kept.Purge(ctx))...)
}

// eraseFilms removes a runner's films for good, in sight or not, and all pictures
// made of them. Measured results stay: they hold numbers.
func (st *Studio) eraseFilms(ctx context.Context, who, id string) error {
	e, err := st.eraseable(ctx, id)
	if err != nil {
		return err
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	if err := st.endWorkOn(ctx, who, e.visits); err != nil {
		return err
	}
	gone, err := kept.EraseFilms(ctx, id, clean(who, maxWho))
	if err != nil {
		return recordProblem(err, "")
	}
	var out PageErased
	return st.dropErased(ctx, kept, gone, e.visits, &traces{}, &out)
}

func megabytes(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }

// endWorkOn cancels what waits and runs on visits and waits for its end.
func (st *Studio) endWorkOn(ctx context.Context, who string, visits []store.Visit) error {
	mine := func(j PageJob) bool {
		return slices.ContainsFunc(visits, func(v store.Visit) bool { return v.ID == j.VisitID })
	}
	until := time.Now().Add(eraseWait)
	for {
		jobs, err := st.Jobs(ctx)
		if err != nil {
			return err
		}
		busy := false
		for _, j := range jobs {
			if !mine(j) || j.State != string(store.JobQueued) && j.State != string(store.JobRunning) {
				continue
			}
			st.queue.mu.Lock()
			here := st.queue.now[j.ID] != nil
			st.queue.mu.Unlock()
			busy = busy || here
			if _, err := st.CancelJob(ctx, who, j.ID); err != nil {
				return err
			}
			// Of a program that broke down nothing is under way any more.
			if j.State == string(store.JobRunning) && !here && st.someoneWorks() {
				return problem(KindBusy, "", "Try again in a moment.", "work on this runner's films was under way in another program and was told to stop; nothing was erased yet")
			}
		}
		if !busy {
			return nil
		}
		if time.Now().After(until) {
			return problem(KindBusy, "", "Wait until it has ended, and try again.", "work on this runner's films is still under way; nothing was erased")
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// forget drops ended jobs from the list.
func (q *queue) forget(ids []string) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.recent = slices.DeleteFunc(q.recent, func(j store.Job) bool { return slices.Contains(ids, j.ID) })
}

// abandonUploads forgets what arrived and is arriving for visits, among them those
// that were erased out of sight.
func (st *Studio) abandonUploads(kept *records, visits []store.Visit, gone store.Erased) error {
	of := slices.Clone(gone.IDs)
	for _, v := range visits {
		of = append(of, v.ID)
	}
	ids, err := kept.files.Arriving()
	for _, id := range ids {
		// Known also of one whose bytes are gone, as they are by now.
		_, _, meta, _ := kept.files.Part(id)
		var m uploadMeta
		if json.Unmarshal(meta, &m) == nil && slices.Contains(of, m.Visit) {
			err = errors.Join(err, kept.files.Abandon(id))
		}
	}
	return err
}

// dropExportsOf removes the films that jobs made to be taken away.
func (st *Studio) dropExportsOf(ids []string) error {
	list, err := os.ReadDir(filepath.Join(st.dir, exportFolder))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	for _, f := range list {
		if slices.Contains(ids, strings.TrimSuffix(f.Name(), filepath.Ext(f.Name()))) {
			err = errors.Join(err, os.Remove(filepath.Join(st.dir, exportFolder, f.Name())))
		}
	}
	return err
}

// dropFoldersOf removes the folders of an earlier version from which results were
// taken in.
func (st *Studio) dropFoldersOf(ctx context.Context, kept *records, results []string) error {
	list, err := os.ReadDir(st.dir)
	for _, f := range list {
		if !f.IsDir() || !folderPattern.MatchString(f.Name()) {
			continue
		}
		var id string
		rerr := kept.Read(ctx, func(r store.Reader) (err error) { id, err = r.Setting(takenIn + f.Name()); return err })
		if rerr == nil && slices.Contains(results, id) {
			rerr = os.RemoveAll(filepath.Join(st.dir, f.Name()))
		}
		err = errors.Join(err, rerr)
	}
	return err
}

// traces is what might be found of an erased runner.
type traces struct {
	words   map[string]bool // IDs and hashes
	phrases [][]byte        // the name, and pieces of the files
}

// sampleBytes is the length of the piece of a file that is searched for.
const sampleBytes = 64

func tracesOf(gone store.Erased, e eraseable) *traces {
	t := &traces{words: map[string]bool{}}
	for _, w := range append(slices.Clone(gone.IDs), gone.Files...) {
		t.words[w] = true
	}
	// A short name is found in anything, and one that another runner has is no trace.
	if len(e.runner.Name) >= 6 && !e.shared {
		t.phrases = append(t.phrases, []byte(e.runner.Name))
	}
	return t
}

// sample takes a piece out of the middle of a file before it is removed.
func (t *traces) sample(path string, size int64) {
	f, err := os.Open(path)
	if err != nil || size < 4*sampleBytes {
		return
	}
	defer f.Close()
	b := make([]byte, sampleBytes)
	if _, err := f.ReadAt(b, size/2); err == nil && len(bytes.Trim(b, string(b[:1]))) > sampleBytes/2 {
		t.phrases = append(t.phrases, b)
	}
}

// search reads every file of a folder through, however large, on all cores, and
// names those with a trace in them.
func (t *traces) search(ctx context.Context, dir string) (files int, read int64, left []string, err error) {
	left = []string{}
	var mu sync.Mutex
	readers, ctx := errgroup.WithContext(ctx)
	readers.SetLimit(runtime.GOMAXPROCS(0))
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		readers.Go(func() error {
			f, err := os.Open(path)
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err != nil {
				return err
			}
			defer f.Close()
			found, n, err := t.in(ctx, f)
			mu.Lock()
			defer mu.Unlock()
			files++
			read += n
			if found {
				rel, _ := filepath.Rel(dir, path)
				left = append(left, filepath.ToSlash(rel))
			}
			return err
		})
		return nil
	})
	if e := readers.Wait(); e != nil {
		err = e // a walk that was given up for it says less
	}
	slices.Sort(left)
	return files, read, left, err
}

// longestTrace bounds what may lie across the border of two pieces that are read.
const longestTrace = 1 << 10

// in tells whether a trace is in what r gives.
func (t *traces) in(ctx context.Context, r io.Reader) (found bool, n int64, err error) {
	buf := make([]byte, 0, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			return found, n, err
		}
		k, err := io.ReadFull(r, buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+k]
		n += int64(k)
		found = found || t.inPiece(buf)
		switch {
		case err == io.EOF || err == io.ErrUnexpectedEOF:
			return found, n, nil
		case err != nil:
			return found, n, err
		}
		buf = append(buf[:0], buf[len(buf)-longestTrace:]...)
	}
}

func (t *traces) inPiece(b []byte) bool {
	for _, p := range t.phrases {
		if bytes.Contains(b, p) {
			return true
		}
	}
	// IDs are words of 26 characters, hashes of 64.
	return t.wordIn(b, 26, 'A', 'Z') || t.wordIn(b, 64, 'a', 'f')
}

// wordIn tells whether a word of so many digits and letters from first to last is in
// b. A run of n such characters covers every n-th place, so that no other place needs
// to be looked at where it has none.
func (t *traces) wordIn(b []byte, n int, first, last byte) bool {
	of := func(c byte) bool { return '0' <= c && c <= '9' || first <= c && c <= last }
	for i := n - 1; i < len(b); i += n {
		if !of(b[i]) {
			continue
		}
		from, to := i, i+1
		for from > 0 && i-from < n-1 && of(b[from-1]) {
			from--
		}
		for to < len(b) && to-i < n && of(b[to]) {
			to++
		}
		for ; from+n <= to; from++ {
			if t.words[string(b[from:from+n])] {
				return true
			}
		}
	}
	return false
}
