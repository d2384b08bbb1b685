package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/runfile"
	"gaitwright/internal/store"
)

// MaxRunBytes bounds a run file.
const MaxRunBytes = runfile.MaxBytes

// runFacts is what was read from a run file, as it is kept with the run.
type runFacts struct {
	Format       string         `json:"format"`
	Device       string         `json:"device,omitempty"`
	ZoneS        *int           `json:"zone_s"` // the watch's own zone, seconds east; null where the file does not say
	Seconds      float64        `json:"seconds"`
	DistanceM    float64        `json:"distance_m"`
	Parts        steprate.Parts `json:"parts"`
	Segments     []runSegment   `json:"segments"`
	ContactS     *float64       `json:"contact_s"`
	OscillationM *float64       `json:"oscillation_m"`
	Places       bool           `json:"places"` // the file says where the run was
	Notes        []string       `json:"notes"`
}

// runSegment is a steady part of a run.
type runSegment struct {
	AtS      float64  `json:"at_s"`
	Seconds  float64  `json:"s"`
	SpeedMPS float64  `json:"mps"`
	PerMin   float64  `json:"spm"`
	Grade    *float64 `json:"grade"`
}

// runRecord is a kept run with what was read from it.
type runRecord struct {
	store.Run
	facts runFacts
}

func parseRun(v store.Run) (runRecord, error) {
	r := runRecord{Run: v}
	if err := json.Unmarshal(v.Facts, &r.facts); err != nil {
		return r, fmt.Errorf("run %s: what was read from it cannot be read: %w", v.ID, err)
	}
	return r, nil
}

func readRuns(r store.Reader, runnerID string) ([]runRecord, error) {
	list, err := r.RunsOf(runnerID)
	if err != nil {
		return nil, err
	}
	out := make([]runRecord, 0, len(list))
	for _, v := range list {
		one, err := parseRun(v)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	return out, nil
}

// local is the start in the watch's zone, or where the file does not say in the
// studio's.
func (r runRecord) local(studio *time.Location) time.Time {
	if r.facts.ZoneS != nil {
		return r.Start.In(time.FixedZone("", *r.facts.ZoneS))
	}
	return r.Start.In(studio)
}

// segments are the steady parts, as of run number n.
func (r runRecord) segments(n int) []steprate.Segment {
	out := make([]steprate.Segment, len(r.facts.Segments))
	for i, s := range r.facts.Segments {
		grade := math.NaN()
		if s.Grade != nil {
			grade = *s.Grade
		}
		out[i] = steprate.Segment{At: r.Start.Add(time.Duration(s.AtS * float64(time.Second))), Run: n, Seconds: s.Seconds, SpeedMPS: s.SpeedMPS, PerMin: s.PerMin, GradePercent: grade}
	}
	return out
}

// factsOf reads what is kept of a run.
func factsOf(f *runfile.File) runFacts {
	segments, parts := f.Split(0)
	p := runFacts{Format: f.Format, Device: f.Device, Parts: parts, Segments: []runSegment{}, Places: f.Places, Notes: emptyNotNil(f.Notes)}
	p.DistanceM, p.Seconds = f.Distance()
	p.DistanceM = math.Round(p.DistanceM)
	if f.Zone != nil {
		_, s := f.Start.In(f.Zone).Zone()
		p.ZoneS = &s
	}
	for _, s := range segments {
		p.Segments = append(p.Segments, runSegment{AtS: s.At.Sub(f.Start).Seconds(), Seconds: s.Seconds, SpeedMPS: math.Round(s.SpeedMPS*1000) / 1000, PerMin: round2(s.PerMin), Grade: number(s.GradePercent, 2)})
	}
	contact, bounce := f.Means()
	p.ContactS, p.OscillationM = number(contact, 4), number(bounce, 4)
	running := parts.Total() - parts.Stopped
	switch {
	case p.Seconds > 12*3600 && running < p.Seconds/2:
		p.Notes = append(p.Notes, fmt.Sprintf("the recording is %.1f hours long and %.1f of them are running: was the watch left on?", p.Seconds/3600, running/3600))
	case p.Seconds > 30*3600-60:
		p.Notes = append(p.Notes, fmt.Sprintf("the recording is %.1f hours long, all in one: is it one run?", p.Seconds/3600))
	}
	return p
}

func runProblem(name string, err error) error {
	return &Problem{Kind: KindUsage, File: displayName(name), Field: "file", What: err.Error(), Mend: "Nothing was taken in.", Err: err}
}

// mayKeepRuns refuses what consent forbids.
func mayKeepRuns(r store.Runner) error {
	if r.ConsentRecords.IsZero() {
		return problem(KindNotAllowed, "", "Note the day of the consent at the station Intake.", "%s has not agreed that records are kept, so no run is kept", r.Name)
	}
	return nil
}

// TakeInRun takes a run file into a runner's record. Where the run was is dropped,
// unless the runner agreed to that; then the file is kept as it came. A file that
// is there already is not taken in twice. visit, which may be empty, is the visit in
// whose undo list it belongs, as with ChangeRun and RemoveRun.
func (st *Studio) TakeInRun(ctx context.Context, who, runnerID, visit, name string, file io.Reader) (PageRunTaken, error) {
	kept, err := st.records()
	if err != nil {
		return PageRunTaken{}, err
	}
	var runner store.Runner
	err = st.readRecords(ctx, func(r store.Reader) (err error) { runner, err = r.Runner(runnerID); return err })
	if err == nil {
		err = mayKeepRuns(runner)
	}
	if err != nil {
		return PageRunTaken{}, missingRecord(err, "runner")
	}
	name = displayName(name)
	sum, count := sha256.New(), &counter{}
	arriving := &arrival{from: io.LimitReader(file, MaxRunBytes+1)}
	in := io.TeeReader(arriving, io.MultiWriter(sum, count))
	var original func() (string, error)
	if !runner.ConsentPositions.IsZero() {
		in, original = alsoKept(ctx, kept, in)
	}
	f, readErr := runfile.Read(in)
	if readErr == nil {
		_, readErr = io.Copy(io.Discard, in)
	}
	whole := ""
	if original != nil {
		if readErr != nil {
			in.(*keptReader).stop(readErr)
		}
		whole, err = original()
	}
	switch {
	case count.n > MaxRunBytes:
		return PageRunTaken{}, problem(KindTooLarge, name, "Is it the right file?", "the file has more than %d MB", MaxRunBytes>>20)
	case ctx.Err() != nil:
		return PageRunTaken{}, ctx.Err()
	case arriving.err != nil:
		return PageRunTaken{}, &Problem{Kind: KindUsage, File: name, What: "the file did not arrive whole; nothing was taken in", Mend: "Take it in again.", Err: arriving.err}
	case readErr != nil:
		return PageRunTaken{}, runProblem(name, readErr)
	case err != nil:
		return PageRunTaken{}, recordProblem(err, st.dir)
	}
	rec := runRecord{Run: store.Run{RunnerID: runnerID, Start: f.Start, Name: name, Hash: hex.EncodeToString(sum.Sum(nil)), Bytes: count.n, Original: whole}, facts: factsOf(f)}
	if rec.Samples, err = keepSamples(ctx, kept, f.Samples); err != nil {
		return PageRunTaken{}, recordProblem(err, st.dir)
	}
	rec.Facts = rawJSON(rec.facts)
	already := false
	err = kept.Change(ctx, store.Deed{Who: clean(who, maxWho), What: "Took in the run " + name + " of " + rec.local(st.now().Location()).Format(dayForm), VisitID: visit}, func(w store.Writer) error {
		there, err := w.RunOfFile(rec.Hash)
		switch {
		case err == nil && there.RunnerID == runnerID:
			already = true
			rec, err = parseRun(there)
			return errors.Join(err, errAlreadyIn)
		case err == nil:
			other, err := w.Runner(there.RunnerID)
			if err != nil {
				return err
			}
			return problem(KindNotAllowed, name, "Remove it there first if it was taken in for the wrong runner.", "this very file is among the runs of %s", other.Name)
		case !errors.Is(err, store.ErrNotFound):
			return err
		}
		r, err := w.Runner(runnerID)
		if err == nil {
			err = mayKeepRuns(r)
		}
		if err != nil {
			return err
		}
		if r.ConsentPositions.IsZero() {
			rec.Original = ""
		}
		return w.PutRun(&rec.Run)
	})
	if err != nil && !errors.Is(err, errAlreadyIn) {
		return PageRunTaken{}, missingRecord(recordProblem(err, ""), "runner")
	}
	if !already {
		st.tell("runner", PageTouched{ID: runnerID, Who: who})
		if visit != "" {
			st.tellVisit(visit, who)
		}
	}
	p := PageRunTaken{Run: rec.page(st.now().Location()), Already: already}
	switch {
	case already:
		p.Said = "It is there already and was not taken in twice."
	case rec.facts.Places && rec.Original != "":
		p.Said = "Taken in, with where it was, as the runner agreed."
	case rec.facts.Places:
		p.Said = "Taken in; where it was is dropped."
	default:
		p.Said = "Taken in."
	}
	return p, nil
}

// arrival remembers what broke the file off on its way here: a file that breaks off
// by itself is another matter.
type arrival struct {
	from io.Reader
	err  error
}

func (a *arrival) Read(b []byte) (int, error) {
	n, err := a.from.Read(b)
	if err != nil && !errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		a.err = err
	}
	return n, err
}

// counter counts the bytes that go through it.
type counter struct{ n int64 }

func (c *counter) Write(b []byte) (int, error) {
	c.n += int64(len(b))
	return len(b), nil
}

// keptReader passes on what it reads, and to the kept files beside.
type keptReader struct {
	io.Reader
	to *io.PipeWriter
}

func (k *keptReader) Read(b []byte) (int, error) {
	n, err := k.Reader.Read(b)
	if n > 0 {
		if _, werr := k.to.Write(b[:n]); werr != nil && err == nil {
			err = werr
		}
	}
	if errors.Is(err, io.EOF) {
		k.to.Close()
	}
	return n, err
}

func (k *keptReader) stop(err error) { k.to.CloseWithError(err) }

// alsoKept keeps what is read through it as a file; done gives its hash once all
// was read.
func alsoKept(ctx context.Context, kept *records, in io.Reader) (through io.Reader, done func() (string, error)) {
	r, w := io.Pipe()
	type end struct {
		hash string
		err  error
	}
	ended := make(chan end, 1)
	go func() {
		hash, _, err := kept.files.Put(ctx, r, 0)
		r.CloseWithError(err)
		ended <- end{hash, err}
	}()
	return &keptReader{in, w}, func() (string, error) {
		w.Close()
		e := <-ended
		return e.hash, e.err
	}
}

func keepSamples(ctx context.Context, kept *records, samples []steprate.Sample) (string, error) {
	r, w := io.Pipe()
	go func() { w.CloseWithError(runfile.WriteSamples(w, samples)) }()
	hash, _, err := kept.files.Put(ctx, r, 0)
	r.CloseWithError(errors.Join(err, io.ErrClosedPipe))
	return hash, err
}

// ChangeRun says whether a run counts, or gives it to another runner.
func (st *Studio) ChangeRun(ctx context.Context, who, id string, c PageRunChange) error {
	var e entries
	e.choice("use", "whether the run counts", c.Use, "", "yes", "no")
	if e.err != nil {
		return e.err
	}
	var touched []string
	deed := map[string]string{"": "Left it to the program whether a run counts", "yes": "Said that a run counts", "no": "Said that a run does not count"}[c.Use]
	if c.Runner != "" {
		var v store.Run
		if err := st.readRecords(ctx, func(r store.Reader) (err error) { v, err = r.Run(id); return err }); err != nil {
			return missingRecord(err, "run")
		}
		deed = "Gave the run " + v.Name + " to another runner"
	}
	err := st.change(ctx, who, deed, c.Visit, func(w store.Writer) error {
		v, err := w.Run(id)
		if err != nil {
			return err
		}
		touched = append(touched, v.RunnerID)
		v.Version, v.Use = c.Version, c.Use
		if c.Runner != "" && c.Runner != v.RunnerID {
			r, err := w.Runner(c.Runner)
			if err == nil {
				err = mayKeepRuns(r)
			}
			if err != nil {
				return err
			}
			if r.ConsentPositions.IsZero() {
				v.Original = ""
			}
			v.RunnerID, v.Use = c.Runner, ""
			touched = append(touched, c.Runner)
		}
		return w.PutRun(&v)
	})
	for _, r := range touched {
		st.tell("runner", PageTouched{ID: r, Who: who})
	}
	return missingRecord(err, "run")
}

// RemoveRun takes a run out of a runner's record.
func (st *Studio) RemoveRun(ctx context.Context, who, id, visit string, version int64) error {
	var runner string
	err := st.change(ctx, who, "Removed a run", visit, func(w store.Writer) error {
		v, err := w.Run(id)
		if err != nil {
			return err
		}
		runner = v.RunnerID
		return w.Remove(store.KindRun, id, version)
	})
	if err == nil {
		st.tell("runner", PageTouched{ID: runner, Who: who})
	}
	return missingRecord(err, "run")
}

// dropPlaces removes the files of a runner's runs that were kept as they came, so
// that nothing says any more where the runner was. The runs stay.
func (st *Studio) dropPlaces(ctx context.Context, who, runnerID string) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	var drop []string
	err = st.change(ctx, who, "Dropped where the runs were", "", func(w store.Writer) error {
		runs, err := w.RunsOf(runnerID)
		for _, v := range runs {
			if v.Original == "" {
				continue
			}
			drop = append(drop, v.Original)
			v.Original = ""
			err = errors.Join(err, w.PutRun(&v))
		}
		return err
	})
	if err != nil {
		return err
	}
	for _, hash := range drop {
		err = errors.Join(err, kept.files.Remove(hash))
	}
	return err
}
