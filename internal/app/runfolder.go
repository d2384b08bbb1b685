package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
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
		st.foundMu.Unlock()
		if now := p.waiting(); err == nil && now != waiting {
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

// offer names the runner whose watch a file is of.
func (st *Studio) offer(ctx context.Context, p *PageRunFolder) error {
	if !slices.ContainsFunc(p.Files, func(f PageRunFound) bool { return f.Run != nil }) {
		return nil
	}
	owner := map[string]string{} // of a watch; "?" where two have runs of it
	names, visits := map[string]string{}, map[string]string{}
	err := st.readRecords(ctx, func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Limit: 200})
		for _, row := range rows {
			list, lerr := r.RunsOf(row.ID)
			err = errors.Join(err, lerr)
			for _, v := range list[max(0, len(list)-40):] {
				one, perr := parseRun(v)
				if perr != nil || one.facts.Device == "" {
					continue
				}
				names[row.ID], visits[row.ID] = row.Name, row.LastID
				if was := owner[one.facts.Device]; was == "" || was == row.ID {
					owner[one.facts.Device] = row.ID
				} else {
					owner[one.facts.Device] = "?"
				}
			}
		}
		return err
	})
	for i := range p.Files {
		if at := st.found[filepath.Join(p.Dir, p.Files[i].Name)]; at != nil && at.dev != "" {
			if id := owner[at.dev]; id != "" && id != "?" {
				p.Files[i].Runner, p.Files[i].RunnerName, p.Files[i].Visit = id, names[id], visits[id]
			}
		}
	}
	return err
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
