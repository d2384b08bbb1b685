package app

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/internal/trialset"
)

// TrialsRequest asks for all trials of a research set to be measured.
type TrialsRequest struct {
	Dir    string // the set's folder
	Layout string // a built-in layout's name, or a file; empty to tell it from the files' names
	Out    string // folder of the results; made where it is not there
	Again  bool   // measure what is finished, too
	// Workers is how many trials are measured at a time; 0 is one a core.
	Workers int
	// Norms is a file for reference ranges computed over the participants; empty for none.
	Norms string
}

// TrialsProgress tells how far a batch is.
type TrialsProgress struct {
	Done, Total int
	Kept        int // of Done, finished before and taken as they were
	Broken      int // of Done, without a result
	Last        string
	Left        time.Duration // until all is done, by the pace so far; 0 where not known
}

// TrialsDone is what became of a batch.
type TrialsDone struct {
	Set      string
	Source   string
	Subjects int
	Trials   int
	Measured int // by this run
	Kept     int // finished before and taken as they were
	Broken   []TrialFault
	Notes    []string
	Rows     int
	Summary  []TrialSummary
	Files    []string // that were written, from Out
}

// TrialFault is a trial without a result.
type TrialFault struct {
	Files  []string
	Reason string
}

// trialRecord is one finished trial as it is kept in the folder of results.
type trialRecord struct {
	Format int `json:"format"`
	// Key is made of everything the result follows from: the content of the files,
	// what is known of the participant, the program. A record with another key is
	// not taken.
	Key     string     `json:"key"`
	Program string     `json:"program"`
	Files   []string   `json:"files"`
	Reason  string     `json:"reason,omitempty"` // why there is no result
	Notes   []string   `json:"notes,omitempty"`
	Rows    []TrialRow `json:"rows"`
}

// trialFormat is the version of trialRecord.
const trialFormat = 1

// trialsFolder is where in the results' folder the finished trials are kept.
const trialsFolder = "trials"

// plan is one trial ready to be measured.
type trialPlan struct {
	trialset.Trial
	request Request
	record  string // path of its record
	noun    string // what it is called for people
}

// TrialLayouts prints a built-in layout, checks a file, or lists the built-in ones.
func TrialLayouts(show, check string) (string, error) {
	switch {
	case show != "":
		b, err := trialset.Source(show)
		if err != nil {
			return "", &Problem{Kind: KindUsage, What: err.Error(), Err: err}
		}
		return string(b), nil
	case check != "":
		l, err := loadLayout(check)
		if err != nil {
			return "", err
		}
		return fmt.Sprintf("%s is sound: the layout %s, %s.\n", check, l.Name, plural(len(l.Trials), "pattern of names", "patterns of names")), nil
	}
	var b strings.Builder
	b.WriteString("Built-in layouts of research sets; print one with --show NAME, copy and edit it,\ncheck it with --check FILE and use it with --layout FILE.\n\n")
	for _, n := range trialset.Names() {
		l, err := trialset.BuiltIn(n)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "  %-10s %s\n             %s\n", n, strings.TrimSpace(l.About), l.Source)
	}
	return b.String(), nil
}

// loadLayout reads a layout by name or from a file.
func loadLayout(name string) (*trialset.Layout, error) {
	if slices.Contains(trialset.Names(), name) {
		return trialset.BuiltIn(name)
	}
	kind := ownKind{"layout of a research set", "`gaitwright trials --show rbds` prints a layout to copy; the built-in ones are " + strings.Join(trialset.Names(), ", ") + ".", trialset.MaxBytes}
	l, err := readOwn(name, kind, trialset.Parse)
	if err != nil {
		return nil, err
	}
	l.Dir = filepath.Dir(name)
	return l, nil
}

// FindTrials finds the trials of a set and says how they are laid out.
func FindTrials(r TrialsRequest) (*trialset.Layout, trialset.Set, error) {
	var none trialset.Set
	info, err := os.Stat(r.Dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, none, &Problem{Kind: KindUsage, File: r.Dir, What: "there is no such folder", Mend: "Check the name.", Err: err}
	case err != nil:
		return nil, none, &Problem{Kind: KindUsage, File: r.Dir, What: err.Error(), Err: err}
	case !info.IsDir():
		return nil, none, problem(KindUsage, r.Dir, "Name the folder that the set lies in; `gaitwright measure` measures single files.", "is no folder")
	}
	dir := os.DirFS(r.Dir)
	files, err := trialset.List(dir)
	if err != nil {
		return nil, none, &Problem{Kind: KindUsage, File: r.Dir, What: "cannot be looked through: " + err.Error(), Err: err}
	}
	var layout *trialset.Layout
	if r.Layout != "" {
		if layout, err = loadLayout(r.Layout); err != nil {
			return nil, none, err
		}
	} else {
		most := 0
		for _, n := range trialset.Names() {
			l, err := trialset.BuiltIn(n)
			if err != nil {
				return nil, none, err
			}
			if k := l.Count(files); k > most {
				layout, most = l, k
			}
		}
		if layout == nil {
			return nil, none, problem(KindUsage, r.Dir, "Describe how its files are named: `gaitwright trials --show rbds` prints a layout to copy, and --layout FILE uses yours.",
				"none of the %s in it is named as in a layout that is built in (%s)", plural(len(files), "file", "files"), strings.Join(trialset.Names(), ", "))
		}
	}
	set, err := layout.Find(dir, files)
	if err != nil {
		return nil, none, refusal(KindUsage, r.Dir, err)
	}
	if len(set.Trials) == 0 {
		return nil, none, problem(KindUsage, r.Dir, "Check the folder and the layout's patterns: "+strings.Join(layout.Trials, ", ")+".", "none of the %s in it is a trial of the layout %s", plural(len(files), "file", "files"), layout.Name)
	}
	return layout, set, nil
}

// MeasureTrials measures all trials of a research set through the same chain as
// Measure, on all cores, and writes one table of them. A trial is kept as soon as it
// is finished, so that a run that was stopped goes on where it was; one without a
// result does not take the others with it. Where some have none everything is written
// all the same, and the error says so. progress is called from one goroutine at a
// time.
func (st *Studio) MeasureTrials(ctx context.Context, r TrialsRequest, progress func(TrialsProgress)) (*TrialsDone, error) {
	layout, set, err := FindTrials(r)
	if err != nil {
		return nil, err
	}
	if r.Out == "" {
		return nil, problem(KindUsage, "", "Name a folder for the results with --out.", "it is not said where the results are to go")
	}
	if r.Norms != "" {
		if err := CheckOutput(r.Norms, ".yaml", ".yml"); err != nil {
			return nil, err
		}
	}
	records := filepath.Join(r.Out, trialsFolder)
	if err := os.MkdirAll(records, 0o755); err != nil {
		return nil, unwritable(records, err)
	}
	plans := make([]trialPlan, len(set.Trials))
	for i, t := range set.Trials {
		plans[i] = planTrial(r, layout, t, records)
	}
	done := &TrialsDone{Set: layout.Name, Source: layout.Source, Subjects: set.Subjects(), Trials: len(plans), Notes: set.Notes}
	base, err := st.trialBase(layout)
	if err != nil {
		return nil, err
	}
	workers := cmp.Or(max(r.Workers, 0), runtime.GOMAXPROCS(0))
	type outcome struct {
		i      int
		kept   bool
		broken bool
		took   time.Duration
		err    error
	}
	work, out := make(chan int), make(chan outcome)
	inner, stop := context.WithCancel(ctx)
	defer stop()
	var busy sync.WaitGroup
	for range min(workers, len(plans)) {
		busy.Go(func() {
			for i := range work {
				begun := time.Now()
				kept, broken, err := st.measureTrial(inner, &plans[i], base, r.Again)
				out <- outcome{i, kept, broken, time.Since(begun), err}
			}
		})
	}
	go func() {
		defer close(work)
		for i := range plans {
			select {
			case work <- i:
			case <-inner.Done():
				return
			}
		}
	}()
	go func() { busy.Wait(); close(out) }()
	var failed error
	var spent time.Duration // on those measured now
	p := TrialsProgress{Total: len(plans)}
	for o := range out {
		if o.err != nil {
			if failed == nil {
				failed = o.err
			}
			stop()
			continue
		}
		p.Done++
		p.Last = plans[o.i].noun
		if o.kept {
			p.Kept++
		} else {
			spent += o.took
		}
		if o.broken {
			p.Broken++
		}
		if measured := p.Done - p.Kept; measured > 0 {
			p.Left = spent / time.Duration(measured) * time.Duration(p.Total-p.Done) / time.Duration(workers)
		}
		if progress != nil {
			progress(p)
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if failed != nil {
		return nil, failed
	}
	done.Kept, done.Measured = p.Kept, p.Done-p.Kept
	if err := writeTrials(r, layout, plans, done); err != nil {
		return nil, err
	}
	if len(done.Broken) == 0 {
		return done, nil
	}
	return done, problem(KindNoResult, "", "The table of what was left out tells why; mend or take away those files and run it again: what is finished is not measured anew.",
		"%d of %s gave no result", len(done.Broken), plural(len(plans), "trial", "trials"))
}

// planTrial is what is asked of one trial.
func planTrial(r TrialsRequest, l *trialset.Layout, t trialset.Trial, records string) trialPlan {
	p := trialPlan{Trial: t, noun: t.Files[0].Path}
	q := Request{SpeedMPS: t.SpeedMPS, Overground: l.Overground, Contacts: event.Method(l.Contacts), Threads: 1,
		Runner: RunnerFacts{HeightM: t.Person.HeightM, LegLengthM: t.Person.LegLengthM, MassKG: t.Person.MassKG, Sex: t.Person.Sex}}
	for _, f := range t.Files {
		q.Files = append(q.Files, filepath.Join(r.Dir, filepath.FromSlash(f.Path)))
		view, _ := clip.ParseView(f.View) // what is no view is told from the picture
		q.Views = append(q.Views, view)
	}
	if t.Standing != "" {
		q.StaticFile = filepath.Join(r.Dir, filepath.FromSlash(t.Standing))
	}
	if l.Markers != "" {
		q.MarkerSetFile = filepath.Join(l.Dir, l.Markers)
	}
	name := url.PathEscape(t.Files[0].Path)
	if len(name) > 180 {
		sum := sha256.Sum256([]byte(name))
		name = name[:140] + hex.EncodeToString(sum[:16])
	}
	p.request, p.record = q, filepath.Join(records, name+".json")
	return p
}

// trialBase is what all trials of a run have in common and their results follow from:
// the program itself, the mapping of the markers and the studio's own errors.
func (st *Studio) trialBase(l *trialset.Layout) ([]byte, error) {
	h := sha256.New()
	fmt.Fprintf(h, "%d %s %s %s\n", trialFormat, Version, runtime.Version(), runtime.GOARCH)
	if self, err := os.Executable(); err == nil { // two builds may bear one version
		if err := hashFile(h, self); err != nil {
			return nil, err
		}
	}
	if l.Markers != "" {
		if err := hashFile(h, filepath.Join(l.Dir, l.Markers)); err != nil {
			return nil, &Problem{Kind: KindUsage, File: filepath.Join(l.Dir, l.Markers), What: "the layout's mapping of marker names cannot be read: " + err.Error(), Err: err}
		}
	}
	if err := hashFile(h, st.ownErrorsPath()); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	return h.Sum(nil), nil
}

func hashFile(h io.Writer, path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	n, err := io.Copy(h, f)
	fmt.Fprintf(h, "\n%d\n", n)
	return err
}

// key is made of everything a trial's result follows from.
func (p *trialPlan) key(base []byte) (string, error) {
	h := sha256.New()
	h.Write(base)
	facts, err := json.Marshal([]any{p.Subject, p.Trial.Trial, p.SpeedMPS, p.Files, p.Standing, p.Person, p.request.Overground, p.request.Contacts})
	if err != nil {
		return "", err
	}
	h.Write(facts)
	for _, f := range p.request.Files {
		if err := hashFile(h, f); err != nil {
			return "", err
		}
		static := staticFor(f, &p.request)
		fmt.Fprintln(h, static != "")
		if static == "" {
			continue
		}
		if err := hashFile(h, static); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// measureTrial measures one trial and keeps its record; kept tells that a finished one
// was there, broken that there is no result. An error is one that ends the batch.
func (st *Studio) measureTrial(ctx context.Context, p *trialPlan, base []byte, again bool) (kept, broken bool, err error) {
	record := trialRecord{Format: trialFormat, Program: programName(), Rows: []TrialRow{}}
	for _, f := range p.Files {
		record.Files = append(record.Files, f.Path)
	}
	key, err := p.key(base)
	switch {
	case err != nil: // it may be readable the next time: a record without a key is never taken
		record.Reason = "cannot be read: " + err.Error()
	case !again:
		if old, err := readTrial(p.record); err == nil && old.Key == key {
			return true, old.Reason != "", nil
		}
	}
	record.Key = key
	if record.Reason == "" {
		s, err := st.Measure(ctx, p.request, NoProgress{})
		switch {
		case ctx.Err() != nil:
			return false, false, ctx.Err()
		case err == nil:
			record.Rows, record.Notes = trialRows(p, s), s.Notes
			for _, c := range s.Clips {
				record.Notes = append(record.Notes, c.Warnings...)
			}
		case KindOf(err) == KindNotInstalled: // the next ones would fail alike
			return false, false, err
		default:
			if KindOf(err) == KindUnexpected {
				record.Key = ""
			}
			record.Reason = strings.ReplaceAll(strings.ReplaceAll(err.Error(), p.folder(), ""), "\n  ", " ")
		}
	}
	return false, record.Reason != "", WriteFileWhole(p.record, func(w io.Writer) error { return json.NewEncoder(w).Encode(record) })
}

// folder is the beginning of the paths of the trial's files, which is left out of what
// people are told.
func (p *trialPlan) folder() string {
	return strings.TrimSuffix(p.request.Files[0], filepath.FromSlash(p.Files[0].Path))
}

// readTrial reads a finished trial.
func readTrial(path string) (trialRecord, error) {
	var t trialRecord
	f, err := os.Open(path)
	if err != nil {
		return t, err
	}
	defer f.Close()
	if err := json.NewDecoder(f).Decode(&t); err != nil {
		return t, fmt.Errorf("%s: %w", path, err)
	}
	if t.Format != trialFormat {
		return t, fmt.Errorf("%s: is of format %d, and this program reads format %d", path, t.Format, trialFormat)
	}
	return t, nil
}
