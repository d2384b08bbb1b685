package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Meta is what every record carries. A record with an empty ID is new: writing
// it gives it an ID (26 characters, sorted by time), Version 1 and its times.
type Meta struct {
	ID      string
	Version int64
	Created time.Time
	Changed time.Time
}

// Runner is a person. Zero values mean "not told".
type Runner struct {
	Meta
	Name         string
	Sex          string // "female", "male" or empty
	BornYear     int
	HeightM      float64
	MassKG       float64
	LegLengthM   float64
	LegLengthHow string // "measured", "estimated" or empty
	// Consent is the day on which the runner agreed; zero where not, or withdrawn.
	ConsentFilming  time.Time
	ConsentRecords  time.Time
	ConsentResearch time.Time
	// ConsentPositions is that to keeping where runs were, with the files of the
	// watch.
	ConsentPositions time.Time
	Note             string
}

// Visit is one appointment of a runner.
type Visit struct {
	Meta
	RunnerID string
	Date     time.Time
	// Tags are what the visit can be found by: the names of its findings and
	// complaints.
	Tags []string
	Note string
}

// Clip is one film, marker file or keypoint file of a visit. The file itself is
// kept under Hash and never altered.
type Clip struct {
	Meta
	VisitID string
	Name    string // the file's own name when it was taken in
	Kind    string // "film", "markers" or "keypoints"
	Hash    string // of its content; see Files
	Bytes   int64
	Facts   json.RawMessage // what the analyst says of it
	Probe   json.RawMessage // what the file says of itself
	// Track is the hash of the landmarks as first seen, empty while there are
	// none; TrackedWith says by which model and settings.
	Track       string
	TrackedWith string
}

// Document is what one station of a visit holds, or corrections and drawings
// that belong to a clip or a result. There is one of each kind for each owner.
type Document struct {
	Meta
	VisitID string
	Kind    string // "intake", "exam", "findings", "plan", "handout", "return", "edits", "drawings", …
	Owner   string // ID of the visit, clip or result, with a suffix where that has several
	Body    json.RawMessage
}

// Result is one measurement. Later ones never replace it.
type Result struct {
	Meta
	VisitID string // empty for one measured outside a visit
	ClipIDs []string
	Runner  string          // name, as at the time
	Hash    string          // of the measured session; see Files
	Summary json.RawMessage // its line in lists
}

// Run is one run of a runner as a watch recorded it. No two runs, of whichever
// runners, are of the same file.
type Run struct {
	Meta
	RunnerID string
	Start    time.Time
	Name     string // the file's own name when it was taken in
	Hash     string // of that file's content
	Bytes    int64
	// Samples is the hash of the records without places; see Files. Original is
	// that of the file as it came, empty where the runner did not agree to it.
	Samples  string
	Original string
	// Use is "yes" or "no" where a person said whether it counts, else empty.
	Use   string
	Facts json.RawMessage // what was read from it
}

// Job is work in the background. Jobs are not journalled and not undone.
type Job struct {
	Meta
	VisitID string
	ClipID  string
	Kind    string
	State   JobState
	Request json.RawMessage
	// Share is how much is done, 0 to 1; Message what is being done, or why it
	// failed.
	Share   float64
	Message string
	Started time.Time
	Ended   time.Time
	Outcome string // what it made, such as the ID of a result
	// Broken is how many times the program broke down while it ran.
	Broken int
}

// JobState is how far a job is.
type JobState string

// The states of a job.
const (
	JobQueued    JobState = "queued"
	JobRunning   JobState = "running"
	JobDone      JobState = "done"
	JobFailed    JobState = "failed"
	JobCancelled JobState = "cancelled"
)

// Kind names a sort of record.
type Kind string

// The sorts of record.
const (
	KindRunner   Kind = "runner"
	KindVisit    Kind = "visit"
	KindClip     Kind = "clip"
	KindDocument Kind = "document"
	KindResult   Kind = "result"
	KindRun      Kind = "run"
	// KindJob is named by conflicts alone: jobs are not removed.
	KindJob Kind = "job"
)

// Query finds runners. Zero fields do not limit.
type Query struct {
	Text string // words in the name, the note, what was said under "complaint" at an intake, or a finding or complaint, any order, beginnings of words; see QueryWords
	Tag  string // a finding or complaint of any visit
	// Said tells by what other words a finding or complaint is known, in another
	// language for one; Text finds it by those too. Nil for none.
	Said     func(tag string) string
	From, To time.Time // a visit on these days, both inclusive, each day as in its own zone
	Limit    int       // at most so many; 0 means 50
	After    string    // the Cursor of the last row of the page before
	// SeenBefore asks for runners last seen, or taken in where never seen, before a
	// moment; then those longest ago come first.
	SeenBefore time.Time
}

// RunnerRow is a line in the list of runners, those last seen first; one without
// a visit was seen when taken in.
type RunnerRow struct {
	Runner
	Visits    int
	LastVisit time.Time // zero where there was none
	LastID    string    // of that visit
	Tags      []string  // of all visits, most frequent first
	Cursor    string
}

// Deed says what a person does, for the journal and for undo.
type Deed struct {
	Who     string // name of the analyst or device
	What    string // "Moved the left knee in frame 212"
	VisitID string // whose undo list it belongs to; empty for none
}

// Entry is a line of the journal.
type Entry struct {
	Deed
	ID     int64
	At     time.Time
	Undone bool
}

// Look says that someone opened records of a runner.
type Look struct {
	RunnerID string
	Who      string // name of the analyst or device
	What     string // "Opened the exam of 14 March 2026"
}

// LookAgain is the time within which the same look of the same person is not
// noted anew.
const LookAgain = time.Hour

// TrailLine is a line of the trail: something seen, done or undone.
type TrailLine struct {
	At       time.Time
	Who      string
	What     string
	Saw      bool   // something seen; otherwise something done
	RunnerID string // whose; empty where it was nobody's or several people's
	UndoneAt time.Time
	UndoneBy string
}

// Erased says what was erased.
type Erased struct {
	Records int      // with those that were out of sight
	IDs     []string // of all of them and of their jobs
	Files   []string // hashes that no record names any more
}

// Mark is a moment of the records. The zero value is none.
type Mark struct{ Changed, Deed, Digest, Erasures int64 }

// Touched is a record that was written or removed.
type Touched struct {
	Kind   Kind
	ID     string
	Parent string // runner of a visit, visit of the others, or empty
}

// Reader reads records, all of one moment.
type Reader interface {
	Runner(id string) (Runner, error)
	Runners(q Query) ([]RunnerRow, error)
	Tags() ([]string, error)
	Visit(id string) (Visit, error)
	VisitsOf(runnerID string) ([]Visit, error) // newest first
	Clip(id string) (Clip, error)
	ClipsOf(visitID string) ([]Clip, error) // in the order taken in
	Document(kind, owner string) (Document, error)
	DocumentsOf(visitID string) ([]Document, error)
	Result(id string) (Result, error)
	ResultsOf(visitID string) ([]Result, error) // newest first
	Results(limit int) ([]Result, error)        // of all visits and none, newest first; 0 is all
	Run(id string) (Run, error)
	RunsOf(runnerID string) ([]Run, error) // in the order run
	RunOfFile(hash string) (Run, error)    // of whichever runner
	Job(id string) (Job, error)
	Jobs(states ...JobState) ([]Job, error) // oldest first; no states means all
	Setting(name string) (string, error)    // "" where it was never set
	// Stamp is a word that differs whenever a record or a digest was written, removed
	// or erased since.
	Stamp() (string, error)
	// Touched lists what was written, removed, put back or given a digest since a
	// moment, and the present moment for the next time; what was touched just then may
	// be listed again. whole is false where records were erased since or the moment is
	// none: then everything is to be read anew. A clock that was put back may hide what
	// was undone meanwhile; Stamp differs even so.
	Touched(since Mark) (list []Touched, now Mark, whole bool, err error)
	// EachRunner, EachVisit, EachRun and EachDocument go through all that are in sight, in the
	// order of their IDs, until fn returns an error. Of documents the body of those
	// that known knows is not read: their Body is nil.
	EachRunner(fn func(Runner) error) error
	EachVisit(fn func(Visit) error) error
	EachRun(fn func(Run) error) error
	EachDocument(kind string, known func(id string, version int64) bool, fn func(Document) error) error
	// EachDigest goes through the digests of results, as far as there are any; the
	// body is valid within fn alone. Undigested lists the results in sight that have
	// none.
	EachDigest(results []string, fn func(result string, body []byte) error) error
	Undigested() ([]string, error)
	// FilesInUse tells every hash that a record or the journal still names.
	FilesInUse() (map[string]bool, error)
}

// Writer reads and writes records in one transaction. The Put methods write the
// record whole, set its ID, Version and times, and refuse a stale Version with a
// *Conflict. A record put with an ID that is not kept is ErrNotFound, and so is
// one whose runner or visit is not.
type Writer interface {
	Reader
	PutRunner(*Runner) error
	PutVisit(*Visit) error
	PutClip(*Clip) error
	PutDocument(*Document) error
	PutResult(*Result) error
	// PutRun refuses the file of another run with a *Conflict that names that run.
	PutRun(*Run) error
	PutJob(*Job) error
	PutSetting(name, value string) error
	// PutDigest keeps a result's numbers in short, outside the journal. It is replaced
	// without a word, and goes with an erased result.
	PutDigest(result string, body []byte) error
	// Remove takes a record and what belongs to it out of sight; undo brings it
	// back.
	Remove(kind Kind, id string, version int64) error
}

// Store keeps records. Its methods may be called from several goroutines.
type Store interface {
	// Read gives fn one moment's records.
	Read(ctx context.Context, fn func(Reader) error) error
	// Change gives fn a transaction that is kept, with the deed in the journal,
	// if fn returns nil, and leaves no trace otherwise. A change of jobs and
	// settings alone is kept without a line in the journal. fn must not start
	// another Change: it would wait for itself.
	Change(ctx context.Context, deed Deed, fn func(Writer) error) error
	// Undo takes back the last deed of a visit that is not undone, and Redo does
	// the last undone one again. They return the deed. ErrNothing where there is
	// none; a *Conflict where its records were changed since by something that
	// is not in the visit's list.
	Undo(ctx context.Context, visitID, who string) (Deed, error)
	Redo(ctx context.Context, visitID, who string) (Deed, error)
	// Undoable tells the deeds that Undo and Redo would take, empty for none.
	Undoable(ctx context.Context, visitID string) (undo, redo string, err error)
	// Journal lists what was done, newest first; visitID "" means everything.
	Journal(ctx context.Context, visitID string, limit int) ([]Entry, error)
	// Look notes that someone opened records of a runner, once an hour. A look at
	// a runner who is not kept is ErrNotFound.
	Look(ctx context.Context, look Look) error
	// Trail lists who saw and changed what, newest first: of one runner, or of all
	// for "". 0 is no limit.
	Trail(ctx context.Context, runnerID string, limit int) ([]TrailLine, error)
	// Erase removes a runner for good: with all visits and what belongs to them,
	// with jobs, looks and settings that name them, in sight or not, from the records and from the journal,
	// and with the results named beside, which belong to no visit. It cannot be
	// undone. The journal keeps a line by who that names nobody. What the erased
	// bytes were may be read in the store's files until Purge.
	Erase(ctx context.Context, runnerID, who string, results []string) (Erased, error)
	// EraseFilms erases so the clips of a runner that are films, in sight or not,
	// with what was drawn on them; results stay.
	EraseFilms(ctx context.Context, runnerID, who string) (Erased, error)
	// Purge writes the store's files anew, so that nothing of what was erased or
	// replaced is left in them.
	Purge(ctx context.Context) error
	// Check reads everything and tells what is not whole; nil where all is.
	Check(ctx context.Context) error
	// Snapshot writes the records of one moment into a new file at path, while the
	// store is in use.
	Snapshot(ctx context.Context, path string) error
	Close() error
}

// Errors of every engine, to be tested with errors.Is.
var (
	ErrNotFound = errors.New("there is no such record")
	ErrNothing  = errors.New("there is nothing to undo")
	// ErrCursor means that Query.After is none of a row's.
	ErrCursor = errors.New("this does not say where a list goes on")
	// ErrForeign means that the file is another program's.
	ErrForeign = errors.New("the file belongs to another program")
	// ErrBusy means that another program holds the records; trying again helps.
	ErrBusy = errors.New("the records are in use by another program")
	// ErrFull means that the disk is full; nothing was changed.
	ErrFull = errors.New("the disk is full, nothing was changed")
	// ErrNewer means that a later version of the program made the records.
	ErrNewer = errors.New("the records were made by a later version of the program")
	// ErrGone means that the records were removed or replaced under the program; nothing
	// was changed, for it would be lost with them.
	ErrGone = errors.New("the records were removed or replaced while the program ran")
	// ErrDamaged means that what was read cannot be records of this program.
	ErrDamaged = errors.New("the records are damaged")
)

// Conflict is the refusal of a write by someone who read an older version.
type Conflict struct {
	Kind       Kind
	ID         string
	Have, Kept int64 // version that was read, and that is kept
}

// Error says it in one sentence.
func (c *Conflict) Error() string {
	return fmt.Sprintf("this %s was changed elsewhere since it was opened here (version %d, and now %d)", c.Kind, c.Have, c.Kept)
}
