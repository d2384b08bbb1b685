package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"gaitwright/internal/store"
	"gaitwright/internal/store/folder"
	"gaitwright/internal/store/sqlite"
)

// The records of a studio: what they are in its folder.
const (
	recordsFile = "studio.db"
	filesFolder = "files"
)

// records is the store of a studio and the files it speaks of.
type records struct {
	store.Store
	files *folder.Folder
}

// Close closes both.
func (r *records) Close() error { return errors.Join(r.Store.Close(), r.files.Close()) }

// records opens the records on first use, making them where there are none, and
// takes in the results that an earlier version kept as folders. A failure is not
// remembered: what was busy may be free the next time.
func (st *Studio) records() (*records, error) {
	st.opening.Lock()
	defer st.opening.Unlock()
	if st.kept != nil {
		return st.kept, nil
	}
	if err := os.MkdirAll(st.dir, 0o700); err != nil { // of people: for the analyst alone
		return nil, &Problem{Kind: KindUnexpected, File: st.dir, What: "the folder for results cannot be made: " + err.Error(), Mend: "Name another with --results, or go without with --no-keep.", Err: err}
	}
	_, none := os.Stat(filepath.Join(st.dir, recordsFile))
	r, err := openRecords(st.dir)
	if err != nil {
		return nil, recordProblem(err, filepath.Join(st.dir, recordsFile))
	}
	if err := st.takeInFolders(r); err != nil {
		r.Close()
		return nil, recordProblem(err, filepath.Join(st.dir, recordsFile))
	}
	switch said, err := forOwnerOnly(st.dir); {
	case err != nil:
		slog.Warn("others on this computer may read the studio's records, and that could not be changed; keep them on a disk that knows whose a file is", "folder", st.dir, "error", err)
	case said != "" && none == nil: // in a new one there was nothing to read
		slog.Info(said, "folder", st.dir)
	}
	st.kept = r
	return r, nil
}

// openRecords opens the records of a folder and the files beside them.
func openRecords(dir string) (*records, error) {
	s, err := sqlite.Open(filepath.Join(dir, recordsFile))
	if err != nil {
		return nil, err
	}
	files, err := folder.Open(filepath.Join(dir, filesFolder))
	if err != nil {
		s.Close()
		return nil, err
	}
	return &records{Store: s, files: files}, nil
}

// keeper keeps the corrections of results.
func (st *Studio) keeper() (recordedEdits, error) {
	r, err := st.records()
	if err != nil {
		return recordedEdits{}, err
	}
	return recordedEdits{r.Store}, nil
}

// closeRecords closes the records where they were opened.
func (st *Studio) closeRecords() {
	st.opening.Lock()
	defer st.opening.Unlock()
	if st.kept != nil {
		st.kept.Close()
		st.kept = nil
	}
}

// Stale says that a record was changed elsewhere since it was read, so that the
// write was refused and nothing was changed.
type Stale struct {
	Kept int64 // the version that is kept
	What string
}

// Error says it in one sentence.
func (e *Stale) Error() string {
	return e.What + " was changed on another screen since it was opened here: nothing was overwritten; look at what is there now and enter yours again"
}

// AsStale returns the Stale in err's chain.
func AsStale(err error) (*Stale, bool) {
	var s *Stale
	ok := errors.As(err, &s)
	return s, ok
}

func stale(what string, kept int64) error {
	e := &Stale{Kept: kept, What: what}
	return &Problem{Kind: KindStale, What: e.Error(), Err: e}
}

// kindInWords names sorts of record as a sentence begins.
var kindInWords = map[store.Kind]string{
	store.KindRunner: "This runner", store.KindVisit: "This visit", store.KindClip: "This clip",
	store.KindDocument: "This part of the visit", store.KindResult: "This result", store.KindRun: "This run",
}

// recordProblem turns an error of the records into words; file names what was
// looked for and may be empty.
func recordProblem(err error, file string) error {
	var conflict *store.Conflict
	var said *Problem
	switch {
	case err == nil:
		return nil
	case errors.As(err, &said):
		return err
	case errors.As(err, &conflict):
		return stale(kindInWords[conflict.Kind], conflict.Kept)
	case errors.Is(err, store.ErrNotFound):
		return &Problem{Kind: KindNotFound, What: "There is no such record; it may have been removed on another screen.", Err: err}
	case errors.Is(err, store.ErrBusy):
		return &Problem{Kind: KindBusy, File: file, What: "the records are in use by another program; nothing was changed", Mend: "Close the other program, or try again in a moment.", Err: err}
	case errors.Is(err, store.ErrFull):
		return &Problem{Kind: KindFull, File: file, What: "the disk is full; nothing was changed", Mend: "Make room on the disk and try again.", Err: err}
	case errors.Is(err, store.ErrGone):
		return &Problem{Kind: KindUnexpected, File: file, What: "the file of the records was removed, or another was put in its place, while the program ran; nothing was changed", Mend: "Put it back where it was, or stop the program and start it again to go on with what is there now.", Err: err}
	case errors.Is(err, store.ErrCursor):
		return &Problem{Kind: KindUsage, Field: "after", What: "the address does not say where the list goes on", Mend: "Begin the list anew.", Err: err}
	case errors.Is(err, store.ErrForeign):
		return &Problem{Kind: KindUnexpected, File: file, What: "belongs to another program, and nothing in it was changed", Mend: "Name another folder with --results.", Err: err}
	case errors.Is(err, store.ErrNewer):
		return &Problem{Kind: KindUnexpected, File: file, What: "the records were made by a later version of the program", Mend: "Open them with that version; nothing was changed.", Err: err}
	}
	return err
}

// change carries out one deed of a person and tells the open pages. A visit may
// be empty.
func (st *Studio) change(ctx context.Context, who, what, visit string, fn func(store.Writer) error) error {
	r, err := st.records()
	if err != nil {
		return err
	}
	if err := r.Change(ctx, store.Deed{Who: clean(who, maxWho), What: what, VisitID: visit}, fn); err != nil {
		return recordProblem(err, "")
	}
	st.dropExports(ctx)
	if visit != "" {
		st.tellVisit(visit, who)
	}
	return nil
}

// read gives fn one moment's records.
func (st *Studio) readRecords(ctx context.Context, fn func(store.Reader) error) error {
	r, err := st.records()
	if err != nil {
		return err
	}
	return recordProblem(r.Read(ctx, fn), "")
}

// missingRecord says that there is no such thing, naming it.
func missingRecord(err error, what string) error {
	if errors.Is(err, store.ErrNotFound) {
		return &Problem{Kind: KindNotFound, What: fmt.Sprintf("There is no such %s; it may have been removed on another screen.", what), Mend: "Start again from the list of runners.", Err: err}
	}
	return err
}
