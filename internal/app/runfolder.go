package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gaitwright/internal/runfile"
	"gaitwright/internal/store"
)

const settingRunFolder = "run folder"

// What is looked at in the watched folder at once, and how long a file must lie
// unchanged before it is read: one that is still being copied would be cut short.
// One that breaks off, or cannot be read at all, may be on a copy that stands still
// and is waited for longer.
const (
	mostFound  = 400
	mostLooked = 60
	restFor    = 3 * time.Second
	restIfCut  = time.Minute
)

// folderEvery is how often the folder is looked into while no page asks.
const folderEvery = 10 * time.Second

// runEndings are the endings of run files; .gz may follow.
var runEndings = []string{".fit", ".tcx", ".gpx"}

func namesRun(name string) bool {
	return slices.Contains(runEndings, filepath.Ext(strings.TrimSuffix(strings.ToLower(name), ".gz")))
}

// PageRunFolder is the folder that is watched for run files: GET and PUT
// /api/runfolder. Files in it are read and never altered or removed.
type PageRunFolder struct {
	Dir     string         `json:"dir"`     // empty where none is watched
	Problem string         `json:"problem"` // why it cannot be read
	Files   []PageRunFound `json:"files"`   // not taken in yet, newest first
	Taken   int            `json:"taken"`   // files that are taken in already
	More    int            `json:"more"`    // files not looked at yet
}

// PageRunFound is a file that was found.
type PageRunFound struct {
	Name string `json:"name"`
	Hash string `json:"hash"`
	// Wrong says why it cannot be taken in; empty where it can, and then Run is
	// what it holds.
	Wrong string   `json:"wrong"`
	Run   *PageRun `json:"run"`
	// The runner whose watch it is by the runs taken in before; empty where that
	// cannot be told.
	Runner     string `json:"runner"`
	RunnerName string `json:"runner_name"`
	Visit      string `json:"visit"` // that runner's last, where the file may be taken in
}

// foundRun is what is known of a file of the folder while it stays as it is.
type foundRun struct {
	size int64
	when time.Time
	hash string
	run  *PageRun // nil until it was read
	dev  string
	err  string
	cut  bool // it breaks off, or could not be read
}

// RunFolder looks into the watched folder.
func (st *Studio) RunFolder(ctx context.Context) (PageRunFolder, error) {
	st.foundMu.Lock()
	defer st.foundMu.Unlock()
	p, err := st.lookIntoFolder(ctx)
	if err != nil {
		return p, err
	}
	return p, st.offer(ctx, &p)
}

// watchFolder looks into the folder again and again until ctx ends, so that a file
// has been read when a page asks for it, and tells the pages where another waits.
// Nothing is taken in by it.
func (st *Studio) watchFolder(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	waiting := ""
	for {
		st.foundMu.Lock()
		p, err := st.lookIntoFolder(ctx)
		now := p.waiting()
		if err == nil && now != waiting {
			err = st.offer(ctx, &p) // so that no page waits for it
		}
		st.foundMu.Unlock()
		if err == nil && now != waiting {
			waiting = now
			st.tell("runs", struct{}{})
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// waiting are the files that wait, in one text, to tell them from those before.
func (p *PageRunFolder) waiting() string {
	var s strings.Builder
	for _, f := range p.Files {
		s.WriteString(f.Name + " " + f.Hash + "\n")
	}
	return s.String()
}

// lookIntoFolder reads what is new in the folder. The caller holds st.foundMu.
func (st *Studio) lookIntoFolder(ctx context.Context) (PageRunFolder, error) {
	p := PageRunFolder{Files: []PageRunFound{}}
	err := st.readRecords(ctx, func(r store.Reader) (err error) { p.Dir, err = r.Setting(settingRunFolder); return err })
	if err != nil || p.Dir == "" {
		return p, err
	}
	list, err := os.ReadDir(p.Dir)
	if err != nil {
		p.Problem = "The folder cannot be read: " + plainPathError(err)
		return p, nil
	}
	type entry struct {
		name string
		info fs.FileInfo
	}
	var files []entry
	for _, d := range list {
		info, err := d.Info()
		if err == nil && info.Mode().IsRegular() && namesRun(d.Name()) {
			files = append(files, entry{d.Name(), info})
		}
	}
	slices.SortFunc(files, func(a, b entry) int { return b.info.ModTime().Compare(a.info.ModTime()) })
	if st.found == nil {
		st.found = map[string]*foundRun{}
	}
	looked := 0
	seen := map[string]bool{}
	for _, f := range files {
		path := filepath.Join(p.Dir, f.name)
		seen[path] = true
		at := st.found[path]
		if at == nil || at.hash == "" || at.size != f.info.Size() || !at.when.Equal(f.info.ModTime()) {
			if looked >= mostLooked || time.Since(f.info.ModTime()).Abs() < restFor || ctx.Err() != nil {
				p.More++
				continue
			}
			looked++
			at = lookAtRun(path, f.name, f.info)
			st.found[path] = at
		}
		if at.cut && time.Since(at.when).Abs() < restIfCut {
			p.More++
			continue
		}
		one := PageRunFound{Name: f.name, Hash: at.hash, Wrong: at.err, Run: at.run}
		err := st.readRecords(ctx, func(r store.Reader) error {
			if _, err := r.RunOfFile(at.hash); err == nil || !errors.Is(err, store.ErrNotFound) {
				p.Taken++
				one.Name = ""
				return err
			}
			return nil
		})
		if err != nil {
			return p, err
		}
		if one.Name != "" && len(p.Files) < mostFound {
			p.Files = append(p.Files, one)
		}
	}
	for path := range st.found {
		if !seen[path] {
			delete(st.found, path)
		}
	}
	return p, nil
}

// plainPathError is what the system says, without the path.
func plainPathError(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

func lookAtRun(path, name string, info fs.FileInfo) *foundRun {
	at := &foundRun{size: info.Size(), when: info.ModTime()}
	f, err := os.Open(path)
	if err != nil {
		at.err, at.cut = plainPathError(err), true
		return at
	}
	defer f.Close()
	sum := sha256.New()
	in := io.TeeReader(f, sum)
	file, err := runfile.Read(in)
	if _, cerr := io.Copy(io.Discard, in); err == nil {
		err = cerr
	}
	at.hash = hex.EncodeToString(sum.Sum(nil))
	if err != nil {
		at.err, at.cut = upperFirst(err.Error())+".", true
		return at
	}
	rec := runRecord{Run: store.Run{Name: displayName(name), Start: file.Start}, facts: factsOf(file)}
	p := rec.page(time.Local)
	at.run, at.dev, at.cut = &p, file.Device, file.Cut
	return at
}

// offer names the runner whose watch a file is of. The caller holds st.foundMu.
func (st *Studio) offer(ctx context.Context, p *PageRunFolder) error {
	dev := func(f PageRunFound) string {
		if at := st.found[filepath.Join(p.Dir, f.Name)]; at != nil && at.run != nil {
			return at.dev
		}
		return ""
	}
	if !slices.ContainsFunc(p.Files, func(f PageRunFound) bool { return dev(f) != "" }) {
		return nil
	}
	return st.readRecords(ctx, func(r store.Reader) error {
		if err := st.watches.learn(r); err != nil {
			return err
		}
		for i := range p.Files {
			f := &p.Files[i]
			id := st.watches.owner(dev(*f))
			if id == "" {
				continue
			}
			v, err := r.Runner(id)
			if errors.Is(err, store.ErrNotFound) {
				continue
			}
			if err != nil {
				return err
			}
			visits, err := r.VisitsOf(id)
			if err != nil {
				return err
			}
			f.Runner, f.RunnerName = id, v.Name
			if len(visits) > 0 {
				f.Visit = visits[0].ID
			}
		}
		return nil
	})
}

// watches knows whose each watch is, by all the runs that are kept. The first time it
// goes through them all, and then it reads only those that were touched since.
type watches struct {
	at   store.Mark
	runs map[string]watchRun       // by ID
	of   map[string]map[string]int // runs of each runner, by watch
}

type watchRun struct{ device, runner string }

// learn reads what is new.
func (w *watches) learn(r store.Reader) error {
	touched, now, whole, err := r.Touched(w.at)
	if err != nil {
		return err
	}
	if !whole {
		*w = watches{runs: map[string]watchRun{}, of: map[string]map[string]int{}}
		if err := r.EachRun(func(v store.Run) error { w.put(v); return nil }); err != nil {
			*w = watches{}
			return err
		}
	}
	for _, x := range touched {
		if x.Kind != store.KindRun {
			continue
		}
		w.drop(x.ID)
		v, err := r.Run(x.ID)
		if errors.Is(err, store.ErrNotFound) { // out of sight
			continue
		}
		if err != nil {
			return err // w.at stays, and the same is read again
		}
		w.put(v)
	}
	w.at = now
	return nil
}

func (w *watches) put(v store.Run) {
	// One that cannot be read is no one's here, and is told of where runs are shown.
	var facts struct {
		Device string `json:"device"`
	}
	if json.Unmarshal(v.Facts, &facts) != nil || facts.Device == "" {
		return
	}
	w.runs[v.ID] = watchRun{facts.Device, v.RunnerID}
	if w.of[facts.Device] == nil {
		w.of[facts.Device] = map[string]int{}
	}
	w.of[facts.Device][v.RunnerID]++
}

func (w *watches) drop(id string) {
	was, ok := w.runs[id]
	if !ok {
		return
	}
	delete(w.runs, id)
	if w.of[was.device][was.runner]--; w.of[was.device][was.runner] == 0 {
		delete(w.of[was.device], was.runner)
	}
}

// owner is the one runner who has runs of a watch; empty for none, and where two
// have.
func (w *watches) owner(device string) string {
	if device == "" || len(w.of[device]) != 1 {
		return ""
	}
	for id := range w.of[device] {
		return id
	}
	return ""
}

// SetRunFolder says which folder is watched; empty for none.
func (st *Studio) SetRunFolder(ctx context.Context, who, dir string) (PageRunFolder, error) {
	dir = strings.TrimSpace(dir)
	if dir != "" {
		if !filepath.IsAbs(dir) {
			return PageRunFolder{}, &Problem{Kind: KindUsage, Field: "dir", What: "the folder must be named from its root", Mend: "Write it whole, such as /home/ida/runs or C:\\Runs."}
		}
		dir = filepath.Clean(dir)
		if i, err := os.Stat(dir); err != nil || !i.IsDir() {
			return PageRunFolder{}, &Problem{Kind: KindUsage, Field: "dir", What: "there is no such folder", Mend: "Make it first, or check how it is written."}
		}
	}
	if err := st.change(ctx, who, "Named the folder of run files", "", func(w store.Writer) error { return w.PutSetting(settingRunFolder, dir) }); err != nil {
		return PageRunFolder{}, err
	}
	return st.RunFolder(ctx)
}

// TakeFound takes a file of the watched folder into a runner's record. The file
// stays where it is. hash is that which was shown, so that no other file is taken
// under the name.
func (st *Studio) TakeFound(ctx context.Context, who, runnerID, visit, name, hash string) (PageRunTaken, error) {
	var dir string
	if err := st.readRecords(ctx, func(r store.Reader) (err error) { dir, err = r.Setting(settingRunFolder); return err }); err != nil {
		return PageRunTaken{}, err
	}
	if dir == "" || name == "" || name != filepath.Base(name) || !namesRun(name) {
		return PageRunTaken{}, problem(KindNotFound, "", "Look into the folder again.", "there is no such run file in the watched folder")
	}
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		return PageRunTaken{}, &Problem{Kind: KindNotFound, File: name, What: "it cannot be opened: " + plainPathError(err), Mend: "Look into the folder again.", Err: err}
	}
	defer f.Close()
	if i, err := f.Stat(); err != nil || !i.Mode().IsRegular() {
		return PageRunTaken{}, problem(KindNotFound, name, "", "it is no file")
	}
	sum := sha256.New()
	if _, err := io.Copy(sum, f); err != nil {
		return PageRunTaken{}, err
	}
	if hex.EncodeToString(sum.Sum(nil)) != hash {
		return PageRunTaken{}, &Problem{Kind: KindStale, File: name, What: "the file changed since it was looked at; nothing was taken in", Mend: "Look into the folder again."}
	}
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return PageRunTaken{}, err
	}
	return st.TakeInRun(ctx, who, runnerID, visit, name, f)
}
