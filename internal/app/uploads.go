package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"gaitwright/internal/store"
	"gaitwright/internal/store/folder"
)

// Bounds of a file that is taken in.
const (
	MaxUploadBytes = 4 << 30
	MaxPartBytes   = 8 << 20
	// roomLeft is what must stay free on the disk beside the file.
	roomLeft = 256 << 20
)

// uploadMeta is what is kept with a file that arrives in parts.
type uploadMeta struct {
	Visit string `json:"visit"`
	Name  string `json:"name"`
	Who   string `json:"who"`
}

// mayFilm refuses what consent or a warning sign forbids.
func (f *visitRecords) mayFilm() error {
	refuse := func(mend, what string) error { return problem(KindNotAllowed, "", mend, "%s", what) }
	name := f.runner.Name
	switch {
	case f.intake.refer().stops():
		return refuse("It goes on when a clinician's clearance is noted at the station Intake.", "a warning sign stops this visit: nothing is filmed or measured")
	case f.runner.ConsentFilming.IsZero():
		return refuse("Note the day of the consent at the station Intake.", name+" has not agreed to be filmed, so no film is taken in")
	case f.runner.ConsentRecords.IsZero():
		return refuse("Note the day of the consent at the station Intake.", name+" has not agreed that records are kept, so no film is kept")
	}
	return nil
}

// BeginUpload begins a file that arrives in parts.
func (st *Studio) BeginUpload(ctx context.Context, who, visitID string, ask PageUploadAsk) (PageUpload, error) {
	name := displayName(ask.Name)
	switch {
	case ask.Size <= 0:
		return PageUpload{}, &Problem{Kind: KindUsage, Field: "size", File: name, What: "the file is empty", Mend: "Copy it again from the camera."}
	case ask.Size > MaxUploadBytes:
		return PageUpload{}, &Problem{Kind: KindTooLarge, Field: "size", File: name, What: fmt.Sprintf("the file has %.1f GB; up to %d GB are taken in", float64(ask.Size)/(1<<30), MaxUploadBytes>>30), Mend: "Cut the film to the part with the running; half a minute is plenty."}
	}
	kept, err := st.records()
	if err != nil {
		return PageUpload{}, err
	}
	err = kept.Read(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, visitID)
		if err == nil {
			err = f.mayFilm()
		}
		return err
	})
	if err != nil {
		return PageUpload{}, recordProblem(err, "")
	}
	// One at a time, so that two do not rely on the same room.
	st.beginning.Lock()
	defer st.beginning.Unlock()
	promised, err := kept.files.Promised()
	if err != nil {
		return PageUpload{}, recordProblem(err, st.dir)
	}
	if free, err := st.free(st.dir); err == nil && free-promised < ask.Size+roomLeft {
		if free >= ask.Size+roomLeft {
			return PageUpload{}, problem(KindFull, name, "Wait until they have arrived or give them up, make room on the disk, or begin the program with a folder on another disk (--results).", "%.1f GB are needed for this file and the work on it, and the disk has %.1f GB left, of which %.1f GB are for films that are arriving already", float64(ask.Size+roomLeft)/1e9, float64(free)/1e9, float64(promised)/1e9)
		}
		return PageUpload{}, problem(KindFull, name, "Make room on the disk, or begin the program with a folder on another disk (--results).", "%.1f GB are needed for this file and the work on it, and the disk has %.1f GB left", float64(ask.Size+roomLeft)/1e9, float64(free)/1e9)
	}
	meta, err := json.Marshal(uploadMeta{Visit: visitID, Name: name, Who: clean(who, maxWho)})
	if err != nil {
		return PageUpload{}, err
	}
	id, err := kept.files.Begin(meta, ask.Size)
	if err != nil {
		return PageUpload{}, recordProblem(err, st.dir)
	}
	return PageUpload{Upload: id, Name: name, Size: ask.Size}, nil
}

// Upload tells how much of a file has arrived.
func (st *Studio) Upload(id string) (PageUpload, error) {
	kept, err := st.records()
	if err != nil {
		return PageUpload{}, err
	}
	offset, size, meta, err := kept.files.Part(id)
	if err != nil {
		return PageUpload{}, uploadProblem(err)
	}
	var m uploadMeta
	if err := json.Unmarshal(meta, &m); err != nil {
		return PageUpload{}, fmt.Errorf("what is known of the file that arrives cannot be read: %w", err)
	}
	return PageUpload{Upload: id, Name: m.Name, Offset: offset, Size: size}, nil
}

func uploadProblem(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return &Problem{Kind: KindNotFound, What: "No file is arriving under this name; it was finished, given up or lay too long.", Mend: "Take the film in again from the start.", Err: err}
	}
	if errors.Is(err, folder.ErrInUse) {
		return &Problem{Kind: KindBusy, What: "this file is arriving already, as over a connection that broke and was not noticed yet", Mend: "Wait a moment, ask how much has arrived and go on from there.", Err: err}
	}
	return recordProblem(err, "")
}

// WrongOffset says that a part does not begin where the file ends.
type WrongOffset struct{ Want, Got int64 }

// Error says it in one sentence.
func (e *WrongOffset) Error() string {
	return fmt.Sprintf("the part begins at byte %d, and %d have arrived; go on from there", e.Got, e.Want)
}

// AddToUpload adds a part at offset and returns how much has arrived, also with
// an error. A part that is cut off counts as far as it came.
func (st *Studio) AddToUpload(ctx context.Context, id string, offset int64, part io.Reader) (end int64, err error) {
	kept, err := st.records()
	if err != nil {
		return 0, err
	}
	end, err = kept.files.Append(ctx, id, offset, part)
	var wrong *store.OffsetError
	if errors.As(err, &wrong) {
		w := &WrongOffset{Want: wrong.Want, Got: wrong.Got}
		return wrong.Want, &Problem{Kind: KindStale, What: w.Error(), Err: w}
	}
	if errors.Is(err, store.ErrTooMuch) {
		return end, &Problem{Kind: KindUsage, What: fmt.Sprintf("more arrives than the %d bytes that were said", end), Mend: "Take the film in again from the start.", Err: err}
	}
	return end, uploadProblem(err)
}

// AbandonUpload forgets a file that arrived in part.
func (st *Studio) AbandonUpload(id string) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	return uploadProblem(kept.files.Abandon(id))
}

// FinishUpload takes the file in as a clip of its visit. What kind it is is told
// from its content. A file that the visit has already is not taken in twice. Where it
// fails, or its answer is lost, what has arrived stays, and it can be asked for again.
func (st *Studio) FinishUpload(ctx context.Context, who, id string) (PageVisitClip, error) {
	kept, err := st.records()
	if err != nil {
		return PageVisitClip{}, err
	}
	up, err := st.Upload(id)
	if err != nil {
		return PageVisitClip{}, err
	}
	_, _, meta, err := kept.files.Part(id)
	if err != nil {
		return PageVisitClip{}, uploadProblem(err)
	}
	var m uploadMeta
	if err := json.Unmarshal(meta, &m); err != nil {
		return PageVisitClip{}, err
	}
	if up.Offset < up.Size {
		return PageVisitClip{}, problem(KindUsage, up.Name, "Send the rest.", "%d of %d bytes have arrived", up.Offset, up.Size)
	}
	// Consent may have been withdrawn while the film was arriving.
	err = kept.Read(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, m.Visit)
		if err == nil {
			err = f.mayFilm()
		}
		return err
	})
	if err != nil {
		return PageVisitClip{}, recordProblem(err, "")
	}
	path, err := kept.files.Arrived(id)
	if err != nil {
		return PageVisitClip{}, uploadProblem(err)
	}
	c, err := newClip(ctx, path, store.Clip{VisitID: m.Visit, Name: up.Name, Bytes: up.Size}, PageClipFacts{})
	if err != nil {
		return PageVisitClip{}, err
	}
	if c.Hash, err = kept.files.Finish(ctx, id); err != nil {
		return PageVisitClip{}, uploadProblem(err)
	}
	out, err := st.putIn(ctx, who, c)
	if KindOf(err) == KindNotAllowed {
		err = errors.Join(err, st.dropUnlessAgreed(ctx, kept, m.Visit, id, c.Hash))
	}
	return out, err
}

// dropUnlessAgreed removes a file that was kept in the very moment in which the consent
// to it was withdrawn, unless a record names it.
func (st *Studio) dropUnlessAgreed(ctx context.Context, kept *records, visit, id, hash string) error {
	agreed := false
	var used map[string]bool
	err := kept.Read(ctx, func(r store.Reader) error {
		f, _, err := openVisit(r, visit)
		if err == nil {
			agreed = !f.runner.ConsentFilming.IsZero() && !f.runner.ConsentRecords.IsZero()
			used, err = r.FilesInUse()
		}
		return err
	})
	if err != nil || agreed {
		return err
	}
	err = kept.files.Abandon(id)
	if err == nil && !used[hash] {
		err = kept.files.Remove(hash)
	}
	return err
}

// newClip tells from a file what clip it is.
func newClip(ctx context.Context, path string, clip store.Clip, facts PageClipFacts) (clipRecord, error) {
	kind, probe, view, err := tellFile(ctx, path)
	if err != nil {
		return clipRecord{}, nameIn(namedFilm(err, clip.Name, probe.Format), path, clip.Name)
	}
	c := clipRecord{Clip: clip, probe: probe, facts: clipFacts{PageClipFacts: facts}}
	c.Kind = kind
	if c.facts.View == "" {
		c.facts.View = view
	}
	return c, nil
}

// takeIn makes a clip of a kept file.
func (st *Studio) takeIn(ctx context.Context, who, visitID, name, hash string, bytes int64, facts PageClipFacts) (PageVisitClip, error) {
	kept, err := st.records()
	if err != nil {
		return PageVisitClip{}, err
	}
	path, err := kept.files.Path(hash)
	if err != nil {
		return PageVisitClip{}, recordProblem(err, "")
	}
	c, err := newClip(ctx, path, store.Clip{VisitID: visitID, Name: name, Hash: hash, Bytes: bytes}, facts)
	if err != nil {
		return PageVisitClip{}, err
	}
	return st.putIn(ctx, who, c)
}

// putIn writes a new clip into its visit, unless the visit has its file already.
func (st *Studio) putIn(ctx context.Context, who string, c clipRecord) (PageVisitClip, error) {
	err := st.change(ctx, who, "Took in "+c.Name, c.VisitID, func(w store.Writer) error {
		f, _, err := openVisit(w, c.VisitID)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(f.clips, func(o clipRecord) bool { return o.Hash == c.Hash }); i >= 0 {
			c = f.clips[i]
			return errAlreadyIn
		}
		if err := f.mayFilm(); err != nil {
			return err
		}
		static := f.belongs(&c)
		if err := c.put(w); err != nil || static == nil {
			return err
		}
		static.facts.StaticOf = c.ID
		return static.put(w)
	})
	if err != nil && !errors.Is(err, errAlreadyIn) {
		return PageVisitClip{}, err
	}
	return st.Clip(ctx, c.ID)
}

// belongs makes a standing trial, known by its name, one of the running it
// belongs to, whichever of the two came in first. A trial that was there before is
// returned, to be made one of c when c is written.
func (f *visitRecords) belongs(c *clipRecord) *clipRecord {
	if c.Kind != "markers" {
		return nil
	}
	best, common := -1, 0
	for i, o := range f.clips {
		if o.Kind != "markers" || o.facts.StaticOf != "" {
			continue
		}
		if k := max(standsFor(c.Name, o.Name), standsFor(o.Name, c.Name)); k > common {
			best, common = i, k
		}
	}
	if best < 0 {
		return nil
	}
	other := &f.clips[best]
	if standsFor(c.Name, other.Name) > 0 {
		c.facts.StaticOf = other.ID
		return nil
	}
	return other
}

// errAlreadyIn ends a change that would take in a clip the visit has.
var errAlreadyIn = errors.New("the visit has this file already")
